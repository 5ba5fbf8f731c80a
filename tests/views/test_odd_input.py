"""Whatever a request carries, the answer is a page or a refusal: never a fault of ours."""

from urllib.parse import quote
from uuid import uuid4

import pytest

from inventory.models import Source
from tests import builders

ODD = ("\0", "abc", "9" * 40, "-1", "१२", "😀")

ADDRESSES = (
    "/L/%s", "/L/%s/move", "/P/%s", "/tag/%s/bind", "/count/%s", "/count/%s/right",
    "/count/crate/%s", "/settings/crops/%s", "/settings/places/%s", "/settings/people/%s",
    "/week/%s", "/rooms/1/checks/%s", "/who/%s", "/intake/%s", "/done/%s", "/rooms/%s",
    "/file/%s", "/in/harvest/%s", "/pull/take/%s", "/scan/%s",
)  # fmt: skip

QUERIES = {
    "/find": ("code",), "/put-away": ("crop", "intake"), "/market": ("market",),
    "/labels": ("codes",), "/ledger": ("crop", "code", "person", "from_day", "page"),
    "/in/delivery": ("gtin", "quantity", "source"), "/who": ("next",), "/scan/count": ("here",),
}  # fmt: skip

SCANS = ("look", "put-away", "order", "market", "back", "discard", "count", "tag")

DOINGS = {
    "move": ("position",),
    "take-out": ("outlet", "purpose", "to", "share", "quantity"),
    "bring-back": ("quantity", "warm_hours", "position", "outing"),
    "count": ("quantity", "reason"),
    "split": ("quantity",),
    "combine": ("others", "position"),
    "sort": ("others", "firsts"),
    "discard": ("reason", "destination", "note", "judgement"),
    "look": ("days", "seen"),
    "hold": ("reason",),
    "release": ("reason",),
}


@pytest.fixture
def post(signed_in):
    def post(path, **fields):
        signed_in.raise_request_exception = False
        return signed_in.post(path, {"entry": str(uuid4()), **fields}).status_code

    return post


@pytest.mark.parametrize("odd", ODD)
def test_odd_addresses(signed_in, post, odd):
    signed_in.raise_request_exception = False
    for address in ADDRESSES:
        path = address % quote(odd)
        assert signed_in.get(path).status_code < 500, path
        assert post(path) < 500, path
    for path, names in QUERIES.items():
        for name in names:
            assert signed_in.get(path, {name: odd}).status_code < 500, (path, name)


@pytest.mark.parametrize("odd", ODD)
def test_odd_scans(post, odd):
    sound = {"text": builders.make_lot().pk, "reason": "spoiled", "destination": "compost"}
    for mode in SCANS:
        for name in ("here", "pull", "market", "reason", "destination", "text", "overrule"):
            assert post(f"/scan/{mode}", **sound | {name: odd}) < 500, (mode, name)


@pytest.mark.parametrize("odd", ODD)
def test_odd_fields(post, odd):
    lot = builders.make_lot()
    for doing, names in DOINGS.items():
        for name in names:
            assert post(f"/L/{lot.pk}/{doing}", **{name: odd}) < 500, (doing, name)
    kale = builders.crop().pk
    block = Source.objects.get(name="Bed 3").pk
    sound = {"crates": 1, "quantity": 1, "unit": "bunch", "source": block}
    for name in (*sound, "cut_ago", "cut_at", "container", "position", "pulp_c", "odd_crates_1"):
        assert post(f"/in/harvest/{kale}", **sound | {name: odd}) < 500, name
    want = f"want_{kale}_bunch"
    for name in ("outlet", "new_outlet", "other_crop", "other_unit", want, f"want_{odd}_bunch"):
        assert post("/pull", **{"new_outlet": "Inn", want: 1} | {name: odd}) < 500, name
    assert post("/put-away", lots=odd, position=odd, crop=odd, intake=odd) < 500
    assert post("/market", market=odd, shown=f"{odd}={odd}", position=odd) < 500
    assert post("/labels/print", codes=lot.pk, start=odd, form=odd) < 500
    assert post(f"/tag/{lot.pk}/bind", lot=odd) < 500
    assert post("/scan/count/found", missing=odd, misplaced=odd) < 500
    assert post("/rooms/1/check", temperature=odd, door_shut=odd, odd=odd) < 500
    assert post("/settings/labels", label_address=odd, label_stock=odd, nudge_x_mm=odd) < 500

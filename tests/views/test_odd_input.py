"""Whatever a request carries, the answer is a page or a refusal: never a fault of ours."""

from urllib.parse import quote
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.models import Room, Source, TemperatureFile
from tests import builders

ODD = ("\0", "abc", "9" * 40, "9" * 5000, "-1", "१२", "²", "😀")

ADDRESSES = (
    "/L/%s", "/L/%s/move", "/P/%s", "/tag/%s/bind", "/count/%s", "/count/%s/right",
    "/count/crate/%s", "/settings/crops/%s", "/settings/places/%s", "/settings/people/%s",
    "/week/%s", "/rooms/{room}/checks/%s", "/who/%s", "/intake/%s", "/done/%s", "/rooms/%s",
    "/file/%s", "/in/harvest/%s", "/pull/take/%s", "/scan/%s", "/tag/%s/free", "/file/%s/wrong",
    "/intake/%s/correct", "/rooms/%s/alarm/1/warm", "/several/%s",
)  # fmt: skip

QUERIES = {
    "/find": ("code",), "/put-away": ("crop", "intake"), "/market": ("market",),
    "/labels": ("codes",), "/ledger": ("crop", "code", "person", "from_day", "page"),
    "/in/delivery": ("gtin", "quantity", "source", "crop"), "/in/harvest": ("crop",),
    "/who": ("next",), "/scan/count": ("here",), "/several/move": ("lots",),
}  # fmt: skip

SCANS = ("look", "put-away", "order", "market", "back", "discard", "count", "tag")

# What is done to a crate, in a form that would be taken but for one odd field.
DOINGS = {
    "move": {"position": ""},
    "take-out": {"share": "half", "purpose": "own use", "outlet": "", "to": "", "quantity": ""},
    "bring-back": {"quantity": "1", "warm_hours": "1", "position": "", "outing": ""},
    "count": {"quantity": "3", "reason": "miscounted"},
    "split": {"quantity": "3"},
    "combine": {"others": "", "position": ""},
    "sort": {"others": "", "firsts": "12", "seconds": "", "culls": "", "lost": ""},
    "discard": {
        "share": "half", "reason": "wilted", "destination": "compost", "note": "", "judgement": "",
    },
    "look": {"days": "2", "seen": "firm", "judgement": ""},
    "good": {"answer": "just"},
    "hold": {"reason": "a doubt"},
    "release": {"reason": "looked at"},
}  # fmt: skip


@pytest.fixture
def post(signed_in):
    def post(path, **fields):
        signed_in.raise_request_exception = False
        return signed_in.post(path, {"entry": str(uuid4()), **fields}).status_code

    return post


@pytest.mark.parametrize("odd", ODD)
def test_odd_addresses(signed_in, post, odd):
    signed_in.raise_request_exception = False
    room = Room.objects.get().pk
    for address in ADDRESSES:
        path = address.format(room=room) % quote(odd)
        assert signed_in.get(path).status_code < 500, path
        assert post(path) < 500, path
    for path, names in QUERIES.items():
        for name in names:
            assert signed_in.get(path, {name: odd}).status_code < 500, (path, name)


@pytest.mark.parametrize("odd", ODD)
def test_odd_scans(post, odd):
    sound = {"text": builders.make_lot().pk, "reason": "spoiled", "destination": "compost"}
    for mode in SCANS:
        for name in (
            "here", "pull", "market", "reason", "destination", "text", "overrule", "person"
        ):  # fmt: skip
            assert post(f"/scan/{mode}", **sound | {name: odd}) < 500, (mode, name)


@pytest.mark.parametrize("odd", ODD)
def test_odd_fields(post, odd):
    for doing, sound in DOINGS.items():
        for name in sound:
            lot = builders.make_lot()
            assert post(f"/L/{lot.pk}/{doing}", **sound | {name: odd}) < 500, (doing, name)
    kale = builders.crop().pk
    block = Source.objects.get(name="Bed 3").pk
    sound = {"crates": 1, "quantity": 1, "unit": "bunch", "source": block}
    for name in (
        *sound,
        "cut_ago",
        "cut_at",
        "container",
        "position",
        "pulp_c",
        "others",
        "new_source",
        "variety",
        "with_crate",
    ):
        assert post(f"/in/harvest/{kale}", **sound | {name: odd}) < 500, name
    want = f"want_{kale}_bunch"
    for name in ("outlet", "new_outlet", "other_crop", "other_unit", want, f"want_{odd}_bunch"):
        assert post("/pull", **{"new_outlet": "Inn", want: 1} | {name: odd}) < 500, name
    assert post("/put-away", lots=odd, position=odd, crop=odd, intake=odd) < 500
    waiting = builders.make_lot(position=None).pk
    assert post("/put-away", lots=waiting, over=odd) < 500
    assert post("/put-away", lots=waiting, over=f"{odd}={odd}") < 500
    for doing in ("move", "take-out", "hold", "discard"):
        for name in ("lots", "position", "purpose", "reason", "destination", "sure"):
            sound = {"lots": lot.pk, "purpose": "own use", "reason": "wilted"}
            assert post(f"/several/{doing}", **sound | {name: odd}) < 500, (doing, name)
    assert post("/market", market=odd, shown=f"{odd}={odd}", position=odd) < 500
    assert post("/labels/print", codes=lot.pk, start=odd, form=odd) < 500
    assert post(f"/tag/{lot.pk}/bind", lot=odd) < 500
    assert post("/scan/count/found", missing=odd, misplaced=odd, back=odd) < 500
    room = f"/rooms/{Room.objects.get().pk}"
    assert post(f"{room}/check", temperature=odd, door_shut=odd, odd=odd) < 500
    assert post(room, temperature="3", moment=odd) < 500
    assert post(f"{room}/paper", lines=f"2026-06-01 06:30 3\n{odd} {odd} {odd}") < 500
    table = SimpleUploadedFile("log.csv", f"n,time,temp\n{odd},2026-06-01 06:30,{odd}\n".encode())
    assert post(f"{room}/file", file=table, sensor=odd) < 500
    table = SimpleUploadedFile("log.csv", b"time,temp\n03/04/2026 06:30,3\n")
    assert post(f"{room}/file", file=table, sensor="L") < 500
    path = f"/file/{TemperatureFile.objects.latest('uploaded_at').pk}"
    sound = {"time": "0+0", "figure": "1", "unit": "C", "first": "day"}
    for name in (*sound, "look"):
        assert post(path, **sound | {name: odd}) < 500, name
    assert post("/settings/labels", label_address=odd, label_stock=odd, nudge_x_mm=odd) < 500


def test_what_can_not_be_read_is_refused_in_our_own_words(signed_in, post):
    """A number Python will not read, a form in a code it does not take, a form without an id."""
    signed_in.raise_request_exception = False
    for address in ("/in/harvest", "/put-away"):
        assert signed_in.get(address, {"crop": "9" * 5000}).status_code in (200, 400, 404)
    utf_16 = "application/x-www-form-urlencoded; charset=utf-16"
    lot = builders.make_lot().pk
    rot_13 = "multipart/form-data; boundary=x; charset=rot13"
    of_part = b'--x\r\nContent-Disposition: form-data; name="entry"\r\n\r\nx\r\n--x--\r\n'
    for content_type, body in (
        (utf_16, b"x=1"),
        (rot_13, of_part),
        ("application/x-www-form-urlencoded", b"quantity=3"),
    ):
        builders.sign_in(signed_in, as_owner=False)
        answer = signed_in.generic("POST", f"/L/{lot}/split", body, content_type)
        assert answer.status_code == 400
        assert "This could not be read. Nothing was written." in answer.content.decode()

"""The page of a week: its first screen, the way to its entries and crates, its table and paper."""

import re
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse

from inventory.actions.movements import take_out
from inventory.actions.quality import discard
from inventory.actions.reshape import count_lots
from inventory.models import Crop, Farm
from tests.builders import act, make_crew, make_lot, sign_in, timezone_now


@pytest.fixture
def lot(signed_in):
    """Of 40 kg of kale that came in, 10 sold, 4 discarded and 1 missing."""
    at = timezone_now()
    lot = make_lot(40, unit="kg", at=at)
    take_out(act(at), lot=lot.pk, portion=Decimal(10), purpose="order")
    facts = {"reason": "wilted", "destination": "compost"}
    discard(act(at), lot=lot.pk, portion=Decimal(4), **facts)
    count_lots(act(at), figures={lot.pk: Decimal(25)}, reason="not there")
    return lot


def page(client, path="/week"):
    answer = client.get(path)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def this_week(client):
    return client.get("/week").context["week"].first.isoformat()


def throw(lot, quantity):
    facts = {"reason": "wilted", "destination": "compost"}
    discard(act(timezone_now()), lot=lot.pk, portion=Decimal(quantity), **facts)


def test_the_first_screen_says_what_was_wasted_of_what_left(signed_in, lot):
    shown = page(signed_in)
    for said in (
        '<b class="much">5 kg</b> <b>33.3 %</b> of what left was wasted, 1 kg of it missing',
        "Thrown away: 4 kg, 26.7 %.", "It adds up.", "Still running, until",
        "Wasted: 33.3 % of what left, 12.5 % of what came in",
    ):  # fmt: skip
        assert said in shown
    assert ">about<" not in shown
    assert "our aim" not in shown
    assert shown.count('class="column') == 8
    assert 'class="column running"' in shown


def test_a_week_that_is_over_is_not_said_to_run(signed_in, lot):
    last = page(signed_in, f"/week/{act(timezone_now()).today - timedelta(days=7)}")
    assert "Still running" not in last
    assert "Nothing was here or moved in this week." in last


def test_every_figure_leads_to_its_crates(signed_in, lot):
    paths = re.findall(r'href="(/ledger[^"]+|/week/[^"]+/here/[^"]+)"', page(signed_in))
    assert len(paths) == 6  # opening, brought in, counted, kitchens, discarded, closing
    for path in paths[1:]:
        shown = page(signed_in, path.replace("&amp;", "&"))
        assert f'href="/L/{lot.pk}"' in shown, path
        assert shown.count(f'href="/L/{lot.pk}"') == 1, path
    assert "Nothing." in page(signed_in, paths[0])  # nothing was here when the week began


def test_a_week_that_begins_on_no_day_and_crates_of_nothing_are_not_found(signed_in, lot):
    for path in (
        "/week/2026-13-01.csv", "/week/x/here/1/kg", "/week/0001-01-01/here/1/kg",
        "/week/2026-06-08/here/999999/kg", f"/week/2026-06-08/here/{10**30}/kg",
        f"/week/2026-06-08/here/{lot.crop_id}/stone",
    ):  # fmt: skip
        assert signed_in.get(path).status_code == 404, path


def test_what_nobody_weighed_is_asked_for_by_the_owner(signed_in):
    lot = make_lot(12, at=timezone_now())
    throw(lot, 3)
    shown = page(signed_in)
    asked = reverse("list-change", args=["crops", lot.crop_id])
    assert "1 crop is in no weight" in shown
    assert f'href="{asked}"' in shown
    Crop.objects.filter(pk=lot.crop_id).update(piece_weight_kg=1)
    assert "in no weight:" not in page(signed_in)
    assert ">about<" in page(signed_in)
    Crop.objects.filter(pk=lot.crop_id).update(piece_weight_kg=None)
    sign_in(signed_in, make_crew())
    assert asked not in page(signed_in)


def test_prices_are_the_owners(signed_in, lot):
    Crop.objects.filter(pk=lot.crop_id).update(price=3, unit="kg")
    assert "<b> 15.00 </b>" in page(signed_in)
    sign_in(signed_in, make_crew())
    assert "15.00" not in page(signed_in)


def test_a_printed_week_says_whether_it_changed_since(signed_in, lot):
    printed = signed_in.get("/week").context["printed"]
    path = f"/week/{this_week(signed_in)}?paper="
    assert f"{path}{printed}" in page(signed_in)  # at the foot of the paper
    assert "Nothing changed since" in page(signed_in, path + printed.lower())
    throw(lot, 1)
    assert "This week changed since" in page(signed_in, path + printed)
    before = (date.fromisoformat(this_week(signed_in)) - timedelta(days=7)).isoformat()
    assert "of another week's paper" in page(signed_in, f"/week/{before}?paper={printed}")
    assert "No printed week has such a code" in page(signed_in, f"{path}{printed[:-1]}")
    assert "changed since this" not in page(signed_in).lower()


def test_the_week_as_a_table(signed_in, lot):
    answer = signed_in.get(f"/week/{this_week(signed_in)}.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert f"week-{this_week(signed_in)}.csv" in answer["Content-Disposition"]
    assert "crop,Kale,kg,closing,,,25,25,," in answer.content.decode()


def test_the_owner_sets_an_aim_and_the_drawing_shows_it(signed_in, lot):
    form = signed_in.get("/settings/farm").context["form"]
    data = {name: form[name].value() for name in form.fields}
    data = {name: str(value) for name, value in data.items() if value or value == 0}
    del data["pin_required"]
    for typed, status in (("101", 422), ("7,5", 302)):
        sent = data | {"waste_aim_percent": typed, "entry": str(uuid4())}
        assert signed_in.post("/settings/farm", sent).status_code == status
    assert Farm.objects.get().waste_aim_percent == Decimal("7.5")
    assert "dashed: our aim, 7.5 %" in page(signed_in)
    assert 'class="limit"' in page(signed_in)

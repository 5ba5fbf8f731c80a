"""The cut list on its page, on the orders, and first where a harvest is brought in."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.actions.field import say_walk
from inventory.actions.orders import say_order
from inventory.models import Farm, Lot, Outlet, Source
from inventory.queries.book import Wanted
from inventory.queries.field import Seen
from tests.builders import act, crop, make_cases, make_crew, make_lot, sign_in, timezone_now

DAY = timedelta(days=1)


def today():
    return timezone_now().astimezone(Farm.objects.get().zone).date()


def order(quantity, due, key="kale", unit="bunch"):
    outlet, _made = Outlet.objects.get_or_create(name="The Heron", defaults={"minimum_days": 1})
    wanted = Wanted(crop(key), unit, Decimal(quantity))
    made = say_order(act(timezone_now()), outlet=outlet, lines=[wanted], due=due)
    return made.order_entry.order_id


@pytest.fixture
def walked(signed_in):
    """A client at a farm whose kale in crates of 24 was cut long ago, and stands on Bed 3."""
    make_lot(24, at=timezone_now() - 30 * DAY)
    bed = Source.objects.get(name="Bed 3")
    say_walk(act(timezone_now()), rows=[Seen(crop(), bed, "bunch", Decimal(100), today())])
    return signed_in


def page(client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_the_list_says_what_where_how_much_and_for_whom(walked):
    order(60, today() + 2 * DAY)
    sign_in(walked, make_crew())
    said = page(walked, "/cut")
    assert "<b>Kale</b>, Bed 3" in said
    assert "The Heron" in said
    assert "<b>60 bunches</b>" in said
    assert "3 crates" in said


def test_nothing_to_cut_is_said_with_its_reason(walked):
    assert "no order lacks what the field has" in page(walked, "/cut")


def test_a_field_nobody_walked_is_said(signed_in):
    assert "Nobody walked the field" in page(signed_in, "/cut")


def test_too_much_for_a_day_is_said(walked):
    order(60, today() + 2 * DAY)
    Farm.objects.update(most_crates_a_day=2)
    assert "More than can be cut on a day: you set 2 crates." in page(walked, "/cut")
    Farm.objects.update(most_crates_a_day=3)
    assert "More than can be cut" not in page(walked, "/cut")


@pytest.mark.parametrize(("lead", "words"), [(1, "order by"), (3, "too late since")])
def test_what_is_to_be_bought_is_said_with_its_last_day(signed_in, lead, words):
    make_cases(18, at=timezone_now() - 60 * DAY)
    Lot.objects.update(quantity=0, state="empty", position=None)
    Source.objects.filter(name="Orchard").update(lead_days=lead)
    order(20, today() + 2 * DAY, "apple", "kg")
    said = page(signed_in, "/cut")
    assert "<b>Apples</b>, Orchard" in said
    assert words in said


def test_an_order_says_when_what_it_lacks_will_be_cut(walked):
    due = today() + 2 * DAY
    key = order(60, due)
    words = f"60 bunches to be cut {due - DAY:%A}"
    assert words in page(walked, "/orders")
    assert words in page(walked, f"/pull/{key}")
    walked.post(f"/pull/{key}/cancel", {"entry": str(uuid4())})
    assert "to be cut" not in page(walked, f"/pull/{key}")


def test_the_orders_show_the_next_day_to_be_cut_for(walked):
    assert "To cut for them" not in page(walked, "/orders")
    order(60, today() + 2 * DAY)
    order(30, today() + 6 * DAY)
    said = page(walked, "/orders")
    assert said.index("To cut for them") < said.index("<b>60 bunches</b>")
    assert "<b>30 bunches</b>" not in said


def test_bring_in_offers_todays_cuts_first_and_fills_the_form(walked):
    order(60, today())
    said = page(walked, "/in/harvest")
    assert said.index("To cut today") < said.index("As last time")
    assert "60 bunches, 3 crates" in said
    bed = Source.objects.get(name="Bed 3")
    address = f"/in/harvest/{crop().pk}?source={bed.pk}&amp;unit=bunch&amp;crates=3&amp;quantity=24"
    assert f'href="{address}"' in said
    form = page(walked, address.replace("&amp;", "&"))
    assert 'name="crates" value="3"' in form
    assert 'name="quantity" value="24"' in form
    assert "To cut today" not in page(walked, "/in/delivery")


def test_the_list_beside_bring_in_counts_down(walked):
    order(60, today())
    make_lot(24, at=timezone_now(), position=None)
    assert "36 bunches, 2 crates" in page(walked, "/in/harvest")


def test_the_owner_sets_harvest_days_and_the_most_crates(signed_in):
    form = signed_in.get("/settings/farm").context["form"]
    data = {name: form[name].value() for name in form.fields}
    data = {name: str(value) for name, value in data.items() if value or value == 0}
    del data["pin_required"]
    answer = signed_in.post(
        "/settings/farm",
        data | {"harvest_days": ["4", "0"], "most_crates_a_day": "20", "entry": str(uuid4())},
    )
    assert answer.status_code == 302, answer.context["form"].errors
    farm = Farm.objects.get()
    assert (farm.harvest_days, farm.most_crates_a_day) == ("04", 20)

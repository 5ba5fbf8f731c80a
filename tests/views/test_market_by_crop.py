"""The market day's page by crop: nothing is sold that nobody said, and what sold is told."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions.movements import Settling, close_market
from inventory.ledger.outings import read_at_market
from inventory.models import (
    Change,
    Lot,
    MarketDay,
    MarketHabit,
    MarketSale,
    Movement,
    Outlet,
    Position,
)
from tests import builders
from tests.builders import act, crop, make_lots, place, take


def out(*quantities: int, key: str = "kale") -> list[Lot]:
    now = timezone.now()
    lots = sorted(make_lots(*quantities, key=key, at=now), key=lambda lot: lot.pk)
    for lot in lots:
        take(lot, "all", at=now)
    return lots


def name(field: str, key: str = "kale") -> str:
    return f"{field}-{crop(key).pk}-bunch"


@pytest.fixture
def close(signed_in):
    """Send the page's form with what a person typed beside what it carries itself."""

    def send(**typed):
        shown = [f"{row.lot.pk}={row.amount}" for row in read_at_market()]
        carried = {
            "entry": uuid4(), "market": builders.market().pk, "by": "crop", "shown": shown,
            "weather": "usual",
        }  # fmt: skip
        return signed_in.post("/market", carried | typed)

    return send


def errors(answer) -> dict[str, str]:
    assert answer.status_code == 422
    assert not Movement.objects.filter(kind__in=("settled", "back")).exists()
    return {field: str(told[0]) for field, told in answer.context["form"].errors.items()}


def test_ten_crates_of_three_crops_are_closed_in_four_taps(signed_in, close):
    out(*[12] * 4)
    out(*[10] * 3, key="apple")
    out(*[5] * 3, key="basil")
    page = signed_in.get("/market").content.decode()
    assert "Kale: 48 bunches out in 4 crates" in page
    # Typed: 6 back. Tapped: the box, two "sold out", the button. The day is as usual already.
    answer = close(**{
        name("back"): "6", name("sold_out", "apple"): "early", name("sold_out", "basil"): "end",
    })  # fmt: skip
    assert answer.status_code == 302
    assert read_at_market() == []
    sales = MarketSale.objects.values_list("crop__reference_key", "sold", "sold_out")
    assert set(sales) == {("kale", 42, "no"), ("apple", 30, "early"), ("basil", 15, "end")}


def test_a_crop_nobody_spoke_of_is_asked_about_and_nothing_is_written(close):
    out(12)
    out(10, key="apple")
    told = errors(close(**{name("back"): "3", name("lost", "apple"): "1"}))
    asked = "Apples: type how many came back, or tap whether it sold out."
    assert told == {name("sold_out", "apple"): asked}


@pytest.mark.parametrize(
    ("typed", "field", "told"),
    [
        ({"sold_out": "no"}, "back", "Kale: how many came back?"),
        (
            {"sold_out": "end", "back": "2"}, "sold_out",
            "Kale: it did not sell out if some came back.",
        ),
        ({"back": "x"}, "back", "“x” is not a number. Type it like 12 or 12.5."),
        ({"back": "2", "goes": "discarded"}, "reason", "This is still missing."),
        ({"back": "2", "goes": "given"}, "to", "Say to whom it was given."),
        ({"back": "2", "crates": "2"}, "crates", None),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_said_beside_its_field(close, typed, field, told):
    out(12)
    found = errors(close(**{name(field): value for field, value in typed.items()}))
    assert name(field) in found
    assert told is None or found[name(field)] == told


def test_more_than_is_out_is_said_beside_the_crop(close):
    out(12)
    answer = close(**{name("back"): "13"})
    assert answer.status_code == 409
    assert answer.context["form"].errors == {name("back"): ["Only 12 bunches are out."]}


def test_what_came_back_goes_where_it_is_said_and_the_page_says_how_long_it_keeps(signed_in, close):
    first, second = out(12, 12)
    answer = close(**{
        name("back"): "12", name("goes"): place("B1").pk, name("given"): "2",
        name("to"): "Food pantry", "weather": "poor",
    })  # fmt: skip
    told = signed_in.get(answer["Location"]).content.decode()
    assert "42 %" in told
    assert "Kale: 10 sold of 24 bunches" in told
    assert "“Food pantry”" in told
    assert "What is back, and how long it keeps" in told
    assert "was out" in told
    assert (Lot.objects.get(pk=second.pk).position, Lot.objects.get(pk=first.pk).state) == (
        place("B1"), "empty",
    )  # fmt: skip
    assert MarketDay.objects.get().weather == "poor"


def test_each_place_is_offered_for_what_came_back_and_what_was_chosen_stays_so(close):
    out(12)
    chosen = place("B1").pk
    page = close(**{name("back"): "many", name("goes"): chosen}).content.decode()
    offered = page.split(f'name="{name("goes")}"')[1].split("</select>")[0]
    found = re.findall(r'<option\s+value="(\w*)"\s*(selected)?', offered)
    assert {value for value, _ in found} >= set(Position.objects.values_list("pk", flat=True))
    assert [value for value, selected in found if selected] == [chosen]


def test_more_crops_take_no_more_queries_and_no_template_a_field(
    signed_in, django_assert_num_queries
):
    out(12)
    signed_in.get("/market")
    with CaptureQueriesContext(connection) as one:
        signed_in.get("/market")
    out(10, key="apple")
    out(5, key="basil")
    with django_assert_num_queries(len(one)):
        page = signed_in.get("/market")
    filled = [used.name for used in page.templates if used.name.startswith("django/forms/")]
    assert set(filled) <= {
        "django/forms/widgets/datetime.html", "django/forms/widgets/input.html",
        "django/forms/widgets/attrs.html",
    }  # fmt: skip
    assert len(filled) == 3  # of the one field that says when


def test_how_it_sold_stands_beside_the_last_four_markets(signed_in, close):
    now = timezone.now()
    for weeks, sold in ((5, 1), (4, 12), (3, 6), (2, 9), (1, None)):
        day = now - timedelta(weeks=weeks)
        key = "apple" if sold is None else "kale"
        (lot,) = make_lots(12, key=key, at=day)
        take(lot, "all", at=day)
        row = Settling(lot.pk, Decimal(12), back=Decimal(12 - (sold or 12)))
        close_market(act(day), market=builders.at_market(), rows=[row])
    out(12)
    answer = close(**{name("sold_out"): "end"})
    sold = signed_in.get(answer["Location"]).context["sold"]
    assert [(row.sale.sell_through, row.before) for row in sold] == [(1, [None, 0.75, 0.5, 1])]
    assert "The markets before: – · 75 % · 50 % · 100 %" in " ".join(
        signed_in.get(answer["Location"]).content.decode().split()
    )


def test_a_form_sent_again_is_answered_as_the_first_time(signed_in, close):
    out(12)
    typed = {"entry": str(uuid4()), name("back"): "3"}
    shown = [f"{row.lot.pk}={row.amount}" for row in read_at_market()]
    once, again = close(**typed, shown=shown), close(**typed, shown=shown)
    assert (once.status_code, once["Location"]) == (302, again["Location"])
    assert MarketDay.objects.count() == 1


def test_what_was_loaded_after_the_page_was_shown_stays_out(close):
    (first,) = out(12)
    shown = [f"{first.pk}=12"]
    (later,) = out(12)
    assert close(**{name("sold_out"): "end"}, shown=shown).status_code == 302
    assert [row.lot.pk for row in read_at_market()] == [later.pk]


def test_each_crop_is_offered_places_that_do_not_hurt_it(signed_in):
    out(12)
    out(5, key="basil")
    choices = signed_in.get("/market").context["choices"]
    good = {
        key: [one for one in choices[str(crop(key).pk)] if one.suggested]
        for key in ("kale", "basil")
    }
    assert good["kale"]
    assert not good["basil"]  # hurt by the cold room, the only one


def test_undone_it_is_out_again_and_its_page_tells_of_no_sale(signed_in, close):
    out(12)
    done = close(**{name("sold_out"): "end"})["Location"]
    key = MarketDay.objects.get().action_id
    signed_in.post(f"/undo/{key}", {"entry": uuid4()})
    assert "sold" not in signed_in.get(done).context
    assert [row.amount for row in read_at_market()] == [12]


def habits_page() -> str:
    return f"/settings/outlets/{builders.market().pk}/habits"


def test_the_owner_says_what_a_market_usually_sells(signed_in):
    kale, basil = f"{crop().pk}-bunch", f"{crop('basil').pk}-{crop('basil').unit}"
    typed = {"entry": uuid4(), f"usually-{kale}": "40", f"least-{kale}": "6"}
    told = signed_in.post(habits_page(), typed)
    page = signed_in.get(told["Location"]).content.decode()
    assert "Market, Kale: usually sells, – → 40; Market, Kale: least on the table, – → 6" in page
    habit = MarketHabit.objects.get()
    assert (habit.crop, habit.usually_sells, habit.least_on_table) == (crop(), 40, 6)
    typed = {"entry": uuid4(), f"usually-{kale}": "", f"usually-{basil}": "2"}
    signed_in.post(habits_page(), typed)
    assert MarketHabit.objects.get().crop == crop("basil")
    changes = Change.objects.filter(field="usually_sells").values_list("before", "after")
    assert set(changes) == {("", "40"), ("40", ""), ("", "2")}


@pytest.mark.parametrize("odd", ["0", "-1", "1.5", "x"])
def test_a_habit_is_a_whole_number_of_bunches(signed_in, odd):
    typed = {"entry": uuid4(), f"usually-{crop().pk}-bunch": odd}
    answer = signed_in.post(habits_page(), typed)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [f"usually-{crop().pk}-bunch"]
    assert not MarketHabit.objects.exists()


def test_only_a_market_has_habits_and_its_page_says_whose_rules_count(signed_in):
    kitchen = Outlet.objects.create(name="Inn")
    assert signed_in.get(f"/settings/outlets/{kitchen.pk}/habits").status_code == 404
    note = "Some states let greens be sold by weight only."
    assert note not in signed_in.get(f"/settings/outlets/{kitchen.pk}").content.decode()
    assert note in signed_in.get(f"/settings/outlets/{builders.market().pk}").content.decode()

"""Crates are counted, split, combined and sorted; what does not add up is refused."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import take_out
from inventory.actions.reshape import combine_lots, count_lots, resort_lots, split_lot
from inventory.errors import Conflict, Refused
from inventory.models import Lot, Movement, Source
from tests.builders import NOW, act, fresh, make_cases, make_lot, make_lots, place
from tests.refusing import refusal, refused

pytestmark = pytest.mark.usefixtures("farm")


def test_sorting_needs_a_crate():
    nothing = dict.fromkeys(("firsts", "seconds", "culls", "lost"), Decimal(0))
    with refused(Refused("no-crates", field="lots")):
        resort_lots(act(), lots=[], **nothing)


def test_a_crate_that_is_out_is_not_counted_and_neither_are_those_with_it():
    here, gone = make_lot(12), make_lot(12)
    take_out(act(), lot=gone.pk, portion="all", purpose="own use")
    figures = {here.pk: Decimal(10), gone.pk: Decimal(3)}
    with refused(Conflict("not-here", code=gone.pk, state="out")):
        count_lots(act(), figures=figures, reason="counted")


def test_culls_go_somewhere():
    lot = make_lot(12)
    amounts = {"firsts": 9, "seconds": 0, "culls": 3, "lost": 0}
    sorting = {name: Decimal(amount) for name, amount in amounts.items()}
    with refused(Refused("destination", field="destination")):
        resort_lots(act(), lots=[lot.pk], **sorting)
    resort_lots(act(), lots=[lot.pk], **sorting, destination="compost")


def test_a_count_keeps_the_difference_and_finds_an_empty_crate_again():
    lot = make_lot(12)
    count_lots(act(), figures={lot.pk: Decimal(0)}, reason="missing")
    assert fresh(lot).state == "empty"
    count_lots(act(), figures={lot.pk: Decimal(7)}, reason="found", position=place("B2"))
    assert (fresh(lot).state, fresh(lot).quantity) == ("in place", 7)
    counted = Movement.objects.filter(kind="counted").values_list("figure", "change")
    assert list(counted) == [(0, -12), (7, 7)]


def test_splitting_leaves_some_in_each():
    lot = make_lot(12)
    split_lot(act(), lot=lot.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=lot)
    assert (fresh(lot).quantity, child.quantity) == (7, 5)
    assert child.position == lot.position
    with refusal("leave-some"):
        split_lot(act(), lot=lot.pk, quantity=Decimal(7))


def test_combining_takes_one_crop_and_one_unit():
    kale = make_lots(5, 7)
    combine_lots(act(), lots=[lot.pk for lot in kale])
    child = Lot.objects.get(parents=kale[0])
    assert child.quantity == 12
    assert {fresh(lot).state for lot in kale} == {"empty"}
    with refusal("not-alike"):
        combine_lots(act(), lots=[child.pk, make_cases(5)[0].pk])
    with refusal("two-crates"):
        combine_lots(act(), lots=[child.pk])


def test_a_mixed_crate_takes_the_more_restricted_source():
    Source.objects.filter(name="Bed 3").update(organic=True)
    organic = make_lot(5)
    assert organic.tags == frozenset()
    other = make_lot(5, source=Source.objects.create(kind="block", name="Bed 4"))
    combine_lots(act(), lots=[organic.pk, other.pk])
    child = Lot.objects.get(parents=organic)
    assert child.intake is None
    assert child.tags == {"not-organic"}


def test_sixty_kilos_of_beets_are_sorted():
    """The trade's own story: 48 kg firsts, 7 seconds, 4 culls, 1 lost of 60 in 4 crates."""
    beets = make_lots(15, 15, 15, 15, key="beet-topped", unit="kg")
    resort_lots(
        act(), lots=[lot.pk for lot in beets], firsts=Decimal(48), seconds=Decimal(7),
        culls=Decimal(4), lost=Decimal(1), destination="animal feed",
    )  # fmt: skip
    made = Lot.objects.filter(parents=beets[0]).values_list("grade", "quantity")
    assert set(made) == {("firsts", 48), ("seconds", 7)}
    assert {fresh(lot).state for lot in beets} == {"empty"}
    assert -sum(entry.change for entry in Movement.objects.filter(kind="discarded")) == 4
    assert -sum(entry.change for entry in Movement.objects.filter(kind="weight lost")) == 1
    assert Lot.objects.filter(parents__in=beets, grade="firsts").count() == 4


def test_sorting_must_add_up():
    lot = make_lot(10)
    with refusal("sort-sum"):
        resort_lots(
            act(), lots=[lot.pk], firsts=Decimal(5), seconds=Decimal(0), culls=Decimal(0),
            lost=Decimal(0),
        )  # fmt: skip


def test_what_is_past_its_use_by_date_is_not_hidden_in_another_crate():
    past = make_cases(18, best_before=NOW.date() - timedelta(days=1), best_before_kind="use by")[0]
    sound = make_cases(18)[0]
    nothing = dict.fromkeys(("firsts", "seconds", "culls", "lost"), Decimal(0))
    with refused(Conflict("past-use-by", code=past.pk)):
        combine_lots(act(), lots=[sound.pk, past.pk])
    with refused(Conflict("past-use-by", code=past.pk)):
        split_lot(act(), lot=past.pk, quantity=Decimal(5))
    with refused(Conflict("past-use-by", code=past.pk)):
        resort_lots(act(), lots=[past.pk], **nothing)
    count_lots(act(), figures={past.pk: Decimal(17)}, reason="miscounted")
    assert fresh(past).quantity == 17

"""What could be promised for a day, to anybody or to one buyer."""

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.actions.field import say_walk
from inventory.actions.quality import hold
from inventory.models import Outlet, Source
from inventory.queries.availability import Availability, csv_rows, read_availability, usual_day
from inventory.queries.crates import crates_here
from tests.actions.test_field import seen
from tests.builders import NOW, act, crop, make_cases, make_lot, make_lots, take
from tests.queries.test_cutting import lose_six, order

DAY = timedelta(days=1)
TODAY = NOW.date()
FRIDAY = TODAY + 2 * DAY


def told(found: Availability) -> dict[str, tuple]:
    """Return by crop what is here and what is to be cut."""
    return {
        row.crop.reference_key: (
            row.here.quantity if row.here else None,
            row.to_cut.quantity if row.to_cut else None,
        )
        for row in found.rows
    }


def read(farm, day=FRIDAY, outlet=None, at=NOW) -> dict[str, tuple]:
    return told(read_availability(farm, at, day, outlet))


def buyer(**changes) -> Outlet:
    return Outlet.objects.create(**{"name": "The Heron", "minimum_days": 1} | changes)


def test_what_is_here_and_promised_to_nobody_and_what_the_field_should_give(farm):
    make_lots(12, 12)
    order(10)
    say_walk(act(), rows=[seen("60")])
    assert read(farm) == {"kale": (14, 60)}


def test_what_is_to_be_cut_for_an_order_is_promised(farm):
    make_lot(12)
    order(30, due=FRIDAY)
    say_walk(act(), rows=[seen("60")])
    assert read(farm) == {"kale": (None, 42)}


def test_what_is_out_held_or_past_is_not_available(farm):
    held, taken, _old = make_lot(12), make_lot(12), make_lot(12, at=NOW - 30 * DAY)
    hold(act(), lot=held.pk, reason="a doubt")
    take(taken, "all")
    assert read(farm) == {}


@pytest.mark.parametrize(("from_day", "available"), [(1, 60), (2, 60), (3, None)])
def test_the_field_gives_by_then_what_is_ready_by_then(farm, from_day, available):
    say_walk(act(), rows=[seen("60", from_day=TODAY + from_day * DAY)])
    assert read(farm).get("kale") == (None if available is None else (None, available))


def test_it_is_cut_the_day_before_on_a_harvest_day(farm):
    say_walk(act(), rows=[seen("60")])

    def cut_on():
        rows = read_availability(farm, NOW, FRIDAY).rows
        return [row.to_cut.cut_on for row in rows]

    assert cut_on() == [TODAY + DAY]
    farm.harvest_days = "24"  # Wednesday and Friday
    assert cut_on() == [TODAY]
    farm.harvest_days = "5"
    assert cut_on() == []


def test_a_walk_does_not_speak_of_what_is_cut_after_eight_days(farm):
    say_walk(act(), rows=[seen("60")])
    assert read(farm, day=TODAY + 8 * DAY) == {"kale": (None, 60)}
    (row,) = read_availability(farm, NOW, TODAY + 10 * DAY).rows
    assert row.to_cut.cut_on == TODAY + 7 * DAY


def test_a_block_that_may_not_be_harvested_by_then_gives_nothing(farm):
    say_walk(act(), rows=[seen("60")])
    Source.objects.filter(name="Bed 3").update(not_before=FRIDAY)
    assert read(farm) == {"kale": (None, 60)}
    Source.objects.filter(name="Bed 3").update(not_before=FRIDAY + DAY)
    assert read(farm) == {}


def test_a_buyer_is_told_of_what_that_buyer_may_have(farm):
    make_lot(12)
    make_cases(18)
    bed = Source.objects.create(kind="block", name="Bed 4", organic=True)
    say_walk(act(), rows=[seen("60"), seen("20", block=bed)])
    assert read(farm) == {"kale": (12, 80), "apple": (18, None)}
    assert read(farm, outlet=buyer(own_grown_only=True)) == {"kale": (12, 80)}
    assert read(farm, outlet=buyer(name="Inn", organic_only=True)) == {"kale": (None, 20)}


def test_whole_crates_only_are_offered_to_who_takes_nothing_else(farm):
    """Of 12 and 12 with 10 promised one is whole: what can be promised is never rounded up."""
    make_lots(12, 12)
    order(10)
    assert read(farm, outlet=buyer(whole_crates=True)) == {"kale": (12, None)}


def test_only_what_keeps_as_long_as_they_need_there(farm):
    """The days are those of the crate when it gets there, in their fridge."""
    lot = make_lot(12)
    (crate,) = crates_here(farm, NOW)
    days = crate.days_on_arrival(FRIDAY, 5.0).days
    found = read_availability(farm, NOW, FRIDAY, buyer(minimum_days=days))
    (row,) = found.rows
    assert (row.crop, row.here.keeps.days) == (lot.crop, days)
    assert read(farm, outlet=buyer(name="Inn", minimum_days=days + 1)) == {}
    assert read(farm, outlet=buyer(name="Bar", minimum_days=days, fridge_c=Decimal(9))) == {}


def test_what_would_not_keep_a_day_is_offered_to_nobody(farm):
    make_lot(12, at=NOW)
    (crate,) = crates_here(farm, NOW)
    last = next(n for n in range(60) if crate.days_on_arrival(TODAY + n * DAY, 5.0).days == 1)
    assert read(farm, day=TODAY + last * DAY) == {"kale": (12, None)}
    gone = next(n for n in range(60) if crate.days_on_arrival(TODAY + n * DAY, 5.0).days == 0)
    assert read(farm, day=TODAY + gone * DAY) == {}


def test_of_crates_that_differ_the_fewest_days_are_said(farm):
    make_lot(12, at=NOW - 3 * DAY)
    make_lot(12)
    (row,) = read_availability(farm, NOW, FRIDAY).rows
    days = [crate.days_on_arrival(FRIDAY, 5.0).days for crate in crates_here(farm, NOW)]
    assert row.here.quantity == 24
    assert row.here.keeps.days == min(days) < max(days)


def test_what_the_field_gives_is_told_less_the_crops_loss_and_never_rounded_up(farm):
    lot = make_lot(66, at=NOW - 30 * DAY)
    lose_six(lot, firsts=60, at=NOW - 30 * DAY)
    rows = [seen("70"), seen("10.25", crop=crop("salad-mix"), unit="kg")]
    say_walk(act(), rows=rows)
    assert Fraction(70) * (1 - Fraction(6, 66)) == Fraction(700, 11)  # 63.6
    assert read(farm, day=TODAY + DAY) == {
        "kale": (None, 63), "salad-mix": (None, Decimal("10.2")),
    }  # fmt: skip


def test_the_list_is_for_their_next_delivery_where_no_day_is_said():
    tomorrow = TODAY + DAY  # a Thursday
    assert usual_day(None, tomorrow) == tomorrow
    assert usual_day(Outlet(delivery_days="5"), tomorrow) == tomorrow + 2 * DAY
    assert usual_day(Outlet(delivery_days="3"), tomorrow) == tomorrow
    assert usual_day(Outlet(), tomorrow) == tomorrow


def test_the_table_has_a_row_a_crop(farm):
    make_lot(12)
    make_cases(18)
    say_walk(act(), rows=[seen("60")])
    head, apple, kale = csv_rows(read_availability(farm, NOW, FRIDAY))
    assert head[:2] == ["crop", "unit"]
    assert [apple[0], apple[2], *apple[4:]] == ["Apples", "18", "0", "", ""]
    assert [kale[0], kale[2], *kale[4:6]] == ["Kale", "12", "60", (TODAY + DAY).isoformat()]
    assert int(kale[6]) >= int(kale[3]) > 0

"""What is to be cut and bought for the orders: of which block, when, how much, for whom."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.actions.field import say_walk
from inventory.actions.intakes import put_away_lots
from inventory.actions.orders import say_order, take_for_order
from inventory.actions.quality import discard, hold
from inventory.actions.reshape import resort_lots
from inventory.models import Lot, Order, Outlet, Source
from inventory.queries.book import Wanted, plan_book
from inventory.queries.cutting import cuts_today, harvest_days, read_cutting, read_habits
from tests.actions.test_field import seen
from tests.builders import NOW, act, crop, make_cases, make_lot, make_lots, place

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
TODAY = NOW.date()  # a Wednesday


def kitchen(**changes) -> Outlet:
    number = Outlet.objects.count()
    return Outlet.objects.create(**{"name": f"Kitchen {number}", "minimum_days": 2} | changes)


def order(quantity=60, due=TODAY + 2 * DAY, key="kale", unit="bunch", at=NOW, **changes) -> Order:
    wanted = Wanted(crop(key), unit, Decimal(quantity))
    outlet = changes.pop("outlet", None) or kitchen(**changes)
    return say_order(act(at), outlet=outlet, lines=[wanted], due=due).order_entry.order


def cuts(farm, at=NOW) -> list[tuple[date, str, Decimal]]:
    days = read_cutting(farm, at).days
    return [(day.day, cut.block.name, cut.quantity) for day in days for cut in day.cuts]


def test_what_the_plan_lacks_is_cut_the_day_before(farm):
    """Common practice, no source: cut on Tuesday and cooled for Wednesday's kitchen."""
    make_lot(20)
    wants = order(60)
    say_walk(act(), rows=[seen("100")])
    assert cuts(farm) == [(TODAY + DAY, "Bed 3", 40)]
    (cut,) = read_cutting(farm, NOW).days[0].cuts
    assert [outlet.name for outlet in cut.outlets] == [wants.outlet.name]
    line = f"{wants.pk}:{crop().pk}:bunch"
    assert read_cutting(farm, NOW).of_line == {line: [(TODAY + DAY, 40)]}


def test_a_line_waiting_for_a_cut_stays_a_short_until_it_has_come_in(farm):
    order(60)
    say_walk(act(), rows=[seen("100")])
    assert [short.quantity for short in plan_book(farm, NOW).shorts.values()] == [60]


def test_nothing_is_cut_of_a_field_nobody_walked(farm):
    order(60)
    assert (cuts(farm), cuts_today(farm, NOW)) == ([], ())


@pytest.mark.parametrize(
    ("days", "cut_on"), [("", 1), ("0123456", 1), ("24", 0), ("25", 0), ("4", 2), ("5", None)]
)
def test_only_on_the_farms_harvest_days(farm, days, cut_on):
    """Wednesday is 2: due on Friday, cut on Thursday where that is a harvest day."""
    farm.harvest_days = days
    order(60)
    say_walk(act(), rows=[seen("100")])
    expected = [] if cut_on is None else [(TODAY + cut_on * DAY, "Bed 3", 60)]
    assert cuts(farm) == expected


def test_harvest_days_reach_as_far_as_a_walk_speaks(farm):
    assert harvest_days(farm, TODAY) == list(range(8))
    farm.harvest_days = "26"
    assert harvest_days(farm, TODAY) == [0, 4, 7]


def test_a_block_with_a_not_before_is_left_alone_until_then(farm):
    order(60)
    say_walk(act(), rows=[seen("100")])
    block = Source.objects.get(name="Bed 3")
    block.not_before = TODAY + 2 * DAY
    block.save()
    assert cuts(farm) == [(TODAY + 2 * DAY, "Bed 3", 60)]
    block.not_before = TODAY + 3 * DAY
    block.save()
    assert cuts(farm) == []


def test_only_organic_is_cut_for_who_takes_nothing_else(farm):
    bed = Source.objects.create(kind="block", name="Bed 4", organic=True)
    order(60, organic_only=True)
    say_walk(act(), rows=[seen("100"), seen("50", block=bed)])
    assert cuts(farm) == [(TODAY + DAY, "Bed 4", 50)]


def test_what_would_not_keep_there_long_enough_is_not_cut(farm):
    order(60, minimum_days=60)
    say_walk(act(), rows=[seen("100")])
    assert cuts(farm) == []


def test_the_list_counts_down_as_crates_come_in(farm):
    order(60, due=TODAY)
    say_walk(act(), rows=[seen("100")])
    assert cuts(farm) == [(TODAY, "Bed 3", 60)]
    first = make_lots(12, 12, at=NOW + HOUR, position=None)
    assert cuts(farm, NOW + HOUR) == [(TODAY, "Bed 3", 36)]
    put_away_lots(act(NOW + HOUR), lots=[lot.pk for lot in first], position=place("A1"))
    assert cuts(farm, NOW + HOUR) == [(TODAY, "Bed 3", 36)]
    make_lots(12, 12, 12, at=NOW + 2 * HOUR)
    assert cuts(farm, NOW + 2 * HOUR) == []


def test_crates_held_or_bought_that_wait_do_not_count_it_down(farm):
    order(60, due=TODAY)
    say_walk(act(), rows=[seen("100")])
    make_cases(12, crop=crop(), unit="bunch", position=None)
    held = make_lot(12, position=None)
    hold(act(), lot=held.pk, reason="a doubt")
    assert [quantity for _day, _block, quantity in cuts(farm)] == [60]


def test_a_day_of_less_than_a_crate_goes_with_the_day_before(farm):
    make_lot(24, at=NOW - 30 * DAY)
    order(24, due=TODAY + 2 * DAY)
    order(10, due=TODAY + 4 * DAY)
    say_walk(act(), rows=[seen("100")])
    (day,) = read_cutting(farm, NOW).days
    assert (day.day, day.crates) == (TODAY + DAY, 2)
    assert [(cut.quantity, cut.each, cut.in_each) for cut in day.cuts] == [(34, 24, 24)]


def test_more_crates_than_can_be_cut_on_a_day_are_said(farm):
    make_lot(12, at=NOW - 30 * DAY)
    order(60)
    say_walk(act(), rows=[seen("100")])
    for most, too_much in ((None, False), (5, False), (4, True)):
        farm.most_crates_a_day = most
        assert [day.too_much for day in read_cutting(farm, NOW).days] == [too_much]


def lose_six(lot: Lot, firsts: int, at) -> None:
    """Of the crate 4 are culled, and the weight of 2 is lost."""
    resort_lots(
        act(at), lots=[lot.pk], firsts=Decimal(firsts), seconds=Decimal(0), culls=Decimal(4),
        lost=Decimal(2), destination="compost",
    )  # fmt: skip


def habit(farm, at=NOW):
    return read_habits({(crop().pk, "bunch"): crop()}, farm, at)[crop().pk, "bunch"]


def test_the_loss_is_read_of_the_last_five_harvests_before_today(farm):
    """Culls and weight lost ÷ what they brought in; what was thrown out later is another matter."""
    old = make_lot(100, at=NOW - 9 * DAY)
    discard(act(NOW - 9 * DAY), lot=old.pk, portion="all", reason="culled", destination="compost")
    for day in range(8, 4, -1):
        make_lot(10, at=NOW - day * DAY)
    assert habit(farm).loss == Fraction(1, 2)  # 100 of 140, and no more than half
    sorted_out = make_lot(26, at=NOW - 4 * DAY)
    assert habit(farm).loss == 0
    lose_six(sorted_out, firsts=20, at=NOW - 4 * DAY)
    assert habit(farm).loss == Fraction(6, 66)
    gone = Lot.objects.filter(intake=sorted_out.intake, quantity=20).get()
    discard(act(NOW - DAY), lot=gone.pk, portion="all", reason="wilted", destination="compost")
    assert habit(farm).loss == Fraction(6, 66)
    today = make_lot(50, at=NOW)
    discard(act(NOW), lot=today.pk, portion="all", reason="culled", destination="compost")
    assert habit(farm).loss == Fraction(6, 66)


def test_cut_66_for_60(farm):
    lot = make_lot(66, at=NOW - 30 * DAY)
    lose_six(lot, firsts=60, at=NOW - 30 * DAY)
    order(60)
    say_walk(act(), rows=[seen("100")])
    assert cuts(farm) == [(TODAY + DAY, "Bed 3", 66)]
    (cut,) = read_cutting(farm, NOW).days[0].cuts
    assert cut.sound == 60


def test_a_crate_holds_what_it_usually_does_in_that_unit(farm):
    assert habit(farm).crate is None
    make_lots(12, 12, 9, at=NOW - DAY)
    assert habit(farm).crate == 12
    make_lot(5, at=NOW - HOUR, unit="kg")
    assert habit(farm).crate is None


def test_what_the_farm_never_cut_is_to_be_bought_in_time(farm):
    make_cases(18, at=NOW - 40 * DAY)
    Lot.objects.update(quantity=0, state="empty", position=None)
    supplier = Source.objects.get(name="Orchard")
    order(20, due=TODAY + 5 * DAY, key="apple", unit="kg")
    later = order(30, due=TODAY + 3 * DAY, key="apple", unit="kg")
    order(7, key="apple", unit="kg", own_grown_only=True)
    order(4, key="basil")
    apple, basil = sorted(read_cutting(farm, NOW).to_buy, key=lambda one: one.due, reverse=True)
    assert (apple.quantity, apple.due, apple.supplier) == (50, TODAY + 3 * DAY, supplier)
    assert apple.outlets[0] == later.outlet
    assert (apple.order_by, basil.supplier, basil.order_by) == (None, None, None)
    supplier.lead_days = 2
    supplier.save()
    apple = max(read_cutting(farm, NOW).to_buy, key=lambda one: one.due)
    assert apple.order_by == TODAY + DAY


def test_what_somebody_saw_in_the_field_is_not_bought(farm):
    order(60)
    assert [one.crop for one in read_cutting(farm, NOW).to_buy] == [crop()]
    say_walk(act(), rows=[seen("5")])
    assert read_cutting(farm, NOW).to_buy == ()


def test_what_was_taken_for_an_order_is_cut_no_more(farm):
    wants = order(24, due=TODAY + DAY)
    say_walk(act(), rows=[seen("100")])
    lot = make_lot(12)
    take_for_order(act(), order=wants.pk, lot=lot.pk)
    assert [quantity for _day, _block, quantity in cuts(farm)] == [12]


def test_of_some_crops_it_says_what_it_says_of_the_whole_book(farm):
    order(60)
    order(7, key="salad-mix", unit="kg")
    rows = [seen("100"), seen("50", crop=crop("salad-mix"), unit="kg")]
    say_walk(act(), rows=rows)
    whole = read_cutting(farm, NOW).of_line
    kale, salad = crop().pk, crop("salad-mix").pk
    assert len(whole) == 2
    found = (
        read_cutting(farm, NOW, crops={kale}).of_line
        | read_cutting(farm, NOW, crops={salad}).of_line
    )
    assert found == whole


def test_todays_cuts_are_those_of_today(farm):
    order(60, due=TODAY)
    order(9, due=TODAY + 3 * DAY)
    say_walk(act(), rows=[seen("100")])
    assert [cut.quantity for cut in cuts_today(farm, NOW)] == [60]

"""What the home page, the rooms, the pull and the ledger read."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import move_lots, take_out
from inventory.actions.orders import (
    Wanted,
    close_order,
    mark_missing,
    promise,
    say_order,
    take_for_order,
)
from inventory.actions.quality import hold, inspect
from inventory.actions.reshape import count_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict
from inventory.models import Order, Outlet, Position, Take
from inventory.queries.days import day_bounds, week_start
from inventory.queries.home import read_rotation
from inventory.queries.intakes import crops_first, last_time
from inventory.queries.ledger import LedgerSearch, csv_rows, find_movements, safe_cell
from inventory.queries.orders import plan_for, read_offers
from inventory.queries.rooms import crops_that_fit, not_seen_since, places_for
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place

DAY = timedelta(days=1)


def codes(crates) -> list[str]:
    return [crate.code for crate in crates]


def test_the_lists_of_the_home_page(farm):
    past = make_lot(at=NOW - 20 * DAY)
    kept = make_lot(at=NOW - 20 * DAY)
    soon = make_lot(at=NOW - 8 * DAY)
    held = make_lot(at=NOW - 8 * DAY)
    new = make_lot(at=NOW, position=None)
    inspect(act(), lot=kept.pk, days=2, seen="firm")
    hold(act(), lot=held.pk, reason="a doubt")
    rotation = read_rotation(farm, NOW)
    assert codes(rotation.discard) == [past.pk]
    assert codes(rotation.kept) == [kept.pk]
    assert codes(rotation.sell_first) == [soon.pk]
    assert codes(rotation.held) == [held.pk]
    assert codes(rotation.to_put_away) == [new.pk]
    assert [row.intake.pk for row in rotation.came_in] == [new.intake_id]
    (kale,) = rotation.crops
    assert (kale.totals, kale.crates) == ([("bunch", 48)], 4)
    assert kale.oldest.code == min(past.pk, kept.pk)


def test_weights_are_added_up_in_the_farms_unit_and_counts_apart(farm):
    make_lot(10, unit="kg")
    make_lot(10, unit="lb")
    make_lot(12)
    (kale,) = read_rotation(farm, NOW).crops
    assert dict(kale.totals) == {"kg": Decimal("14.536"), "bunch": 12}


def test_across_crops_the_soonest_to_spoil_comes_first(farm):
    kale = make_lot(at=NOW - 10 * DAY)
    salad = make_lot(at=NOW - 5 * DAY, key="salad-mix", unit="kg")
    assert codes(read_rotation(farm, NOW).sell_first) == [kale.pk, salad.pk]


def test_what_is_out_at_market_is_listed_until_it_is_undone(farm):
    lot = make_lot()
    action = take_out(act(), lot=lot.pk, portion="half", purpose="market", outlet=builders.market())
    (out,) = read_rotation(farm, NOW).at_market
    assert (out.lot, out.market, out.amount) == (lot, "Market", 6)
    undo(act(), action=action)
    assert read_rotation(farm, NOW).at_market == []


def suggested(crop) -> list[str]:
    return [choice.position.name for choice in places_for(crop) if choice.suggested]


def test_a_place_that_would_hurt_is_never_suggested(farm):
    """The trade's own story: a cold spot for greens, any cold shelf for basil."""
    Position.objects.filter(rack="A", shelf=1).update(cold_spot=True)
    assert "A1" not in suggested(builders.crop("kale"))
    assert suggested(builders.crop("kale"))
    assert suggested(builders.crop("basil")) == []
    _, harmed = crops_that_fit(place("A2"))
    assert {(crop.reference_key, verdict.harm) for crop, verdict in harmed} == {("basil", "chills")}


def test_its_own_kind_first_then_the_walk_and_never_a_full_place(farm):
    make_lots(*[12] * 2, position=place("B2"))
    assert suggested(builders.crop("kale")) == ["A1", "A2", "B2"]
    assert suggested(builders.crop("apple")) == ["A1", "A2", "A3"]
    make_lots(*[12] * 5, position=place("A1"))
    assert "A1" not in suggested(builders.crop("apple"))


def test_places_are_offered_in_walking_order(farm):
    assert [choice.position.name for choice in places_for(None)] == [
        "A1", "A2", "A3", "B1", "B2", "B3",
    ]  # fmt: skip


def test_crates_nobody_touched(farm):
    old = make_lot(at=NOW - 9 * DAY)
    touched = make_lot(at=NOW - 9 * DAY)
    move_lots(act(NOW - DAY), lots=[touched.pk], position=place("B2"))
    assert codes(not_seen_since(farm, NOW, NOW - 5 * DAY)) == [old.pk]


def open_for(outlet: Outlet, quantity=18, at=NOW) -> Order:
    wanted = Wanted(builders.crop("kale"), "bunch", Decimal(quantity))
    pull = say_order(act(at), outlet=outlet, lines=[wanted])
    plan_and_promise(pull, at)
    return pull


def plan_and_promise(pull, at=NOW):
    line = pull.lines.get()
    plan = plan_for(pull, builders.Farm.objects.get(), at)
    promise(pull, [(line, take.lot, take.quantity) for take in plan.takes])
    return plan


@pytest.fixture
def inn(farm):
    return Outlet.objects.create(name="Inn", minimum_days=3)


def test_a_pull_takes_the_oldest_fit_crates_and_none_twice(inn):
    make_lot(12, at=NOW - 20 * DAY)
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12)
    first = open_for(inn)
    takes = Take.objects.filter(line__order=first).values_list("lot_id", "quantity")
    assert set(takes) == {(old.pk, 12), (new.pk, 6)}
    second = open_for(inn, 10)
    assert list(Take.objects.filter(line__order=second).values_list("lot_id", "quantity")) == [
        (new.pk, 6)
    ]
    (short,) = plan_for(second, builders.Farm.objects.get(), NOW).shorts
    assert (short.quantity, short.reason) == (4, "not-enough")


def test_a_crop_that_is_all_promised_is_told_from_one_that_is_not_there(inn):
    make_lot(12)
    open_for(inn, 12)
    assert [short.reason for short in plan_for(open_for(inn, 5), inn_farm(), NOW).shorts] == [
        "not-enough"
    ]
    salad = Wanted(builders.crop("salad-mix"), "kg", Decimal(1))
    pull = say_order(act(), outlet=inn, lines=[salad])
    assert [short.reason for short in plan_for(pull, inn_farm(), NOW).shorts] == ["none"]


def inn_farm():
    return builders.Farm.objects.get()


def test_a_taken_crate_leaves_and_an_undo_promises_it_again(inn):
    lot = make_lot(12)
    pull = open_for(inn, 12)
    take = Take.objects.get()
    action = take_for_order(act(), take=take)
    lot.refresh_from_db()
    assert (lot.state, Take.objects.open().count()) == ("out", 0)
    with pytest.raises(Conflict, match="taken-already"):
        take_for_order(act(), take=take)
    undo(act(), action=action)
    assert Take.objects.open().get() == take
    close_order(act(), pull=pull)
    assert not Take.objects.open().exists()


def test_a_crate_that_is_not_there_is_replaced(inn):
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12)
    pull = open_for(inn, 12)
    take = Take.objects.get()
    assert take.lot == old
    mark_missing(act(), take=take)
    plan_and_promise(pull)
    assert Take.objects.open().get().lot == new
    # Nobody else is sent to it either, until somebody has seen it.
    assert open_for(inn, 12).lines.get().takes.count() == 0
    assert codes(read_rotation(inn_farm(), NOW).not_found) == [old.pk]
    count_lots(act(NOW + DAY), figures={old.pk: Decimal(12)}, reason="found")
    assert open_for(inn, 12, NOW + DAY).lines.get().takes.get().lot == old


def test_a_promise_made_meanwhile_is_refused(inn):
    lot = make_lot(12)
    open_for(inn, 12)
    second = open_for(inn, 5)
    with pytest.raises(Conflict, match="promised-meanwhile"):
        promise(second, [(second.lines.get(), lot.pk, Decimal(1))])


def test_a_line_is_never_promised_more_than_it_lacks(inn):
    """Two taps at once on "look for more" plan the same crates."""
    lots = make_lots(12, 12)
    pull = open_for(inn, 6)
    promise(pull, [(pull.lines.get(), lots[1].pk, Decimal(6))])
    assert sum(take.quantity for take in Take.objects.open()) == 6
    close_order(act(), pull=pull)
    with pytest.raises(Conflict, match="no-longer-open"):
        promise(pull, [(pull.lines.get(), lots[1].pk, Decimal(6))])


def test_what_was_promised_and_is_gone_is_not_planned_with(inn):
    gone, here = make_lot(12, at=NOW - 3 * DAY), make_lot(20)
    open_for(inn, 12)
    count_lots(act(), figures={gone.pk: Decimal(5)}, reason="missing")
    plan = plan_for(open_for(inn, 10), inn_farm(), NOW)
    assert plan.shorts == ()
    assert {(take.lot_id, take.quantity) for take in Take.objects.open()} == {
        (gone.pk, 12), (here.pk, 10),
    }  # fmt: skip
    (offer,) = read_offers(inn_farm(), NOW)
    assert offer.free == 10


def test_held_and_kept_crates_are_never_planned(inn):
    held, kept = make_lot(12), make_lot(12, at=NOW - 20 * DAY)
    hold(act(), lot=held.pk, reason="a doubt")
    inspect(act(), lot=kept.pk, days=2, seen="firm")
    open_for(inn)
    assert not Take.objects.exists()


def test_the_same_again_is_offered_from_last_time(farm):
    make_lots(12, 12, 12, 7)
    make_cases(18)
    assert [crop.reference_key for crop in crops_first("block")] == ["kale"]
    last = last_time(builders.crop("kale"), "block")
    assert (last.crates, last.quantity, last.unit) == (4, 12, "bunch")
    assert last_time(builders.crop("kale"), "supplier") is None


def test_at_most_eight_crops_are_offered_first(farm):
    keys = ["kale", "apple", "basil", "salad-mix", "spinach", "dill", "mint", "leek", "beet-topped"]
    for number, key in enumerate(keys):
        make_lot(key=key, at=NOW + number * timedelta(minutes=1))
    assert [crop.reference_key for crop in crops_first("block")] == keys[:0:-1]


def test_the_ledger_is_searched_and_exported(farm):
    lot, other = make_lots(12, 12)
    crew = builders.make_crew("=HYPERLINK()")
    move_lots(act(NOW + DAY, person=crew), lots=[lot.pk], position=place("B2"))

    def found(**search):
        return list(find_movements(LedgerSearch(**search), farm).values_list("lot_id", "kind"))

    assert found(code=lot.pk[-4:].lower()) == [(lot.pk, "moved"), (lot.pk, "brought in")]
    assert found(person=crew) == [(lot.pk, "moved")]
    assert found(from_day=date(2026, 6, 11), to_day=date(2026, 6, 11)) == [(lot.pk, "moved")]
    assert len(found(crop=builders.crop())) == 3
    assert found(crop=builders.crop("apple")) == []
    head, *rows = csv_rows(find_movements(LedgerSearch(), farm), farm)
    moved = dict(zip(head, rows[0], strict=True))
    assert moved["who"] == "'=HYPERLINK()"
    assert moved["when"] == "2026-06-11T10:00:00-04:00"
    assert (moved["crate"], moved["place"]) == (lot.pk, "Cold room B2")
    assert other.pk in {row[head.index("crate")] for row in rows}


@pytest.mark.parametrize("start", list("=+-@\t"))
def test_no_cell_is_run_as_a_formula(start):
    """OWASP ASVS 5.0, 1.2.10."""
    assert safe_cell(f"{start}1+1").startswith("'")
    assert safe_cell("kale") == "kale"


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 6, 10), 24)]
)
def test_farm_days_are_as_long_as_the_clock_says(farm, day, hours):
    """United States daylight saving in 2026: 8 March to 1 November (IANA time zone database)."""
    from inventory.queries.days import day_start

    start, end = day_bounds(farm, day_start(farm, day) + timedelta(hours=12))
    assert end.timestamp() - start.timestamp() == hours * 3600


def test_the_week_begins_on_the_farms_day(farm):
    assert week_start(farm, date(2026, 6, 10)) == date(2026, 6, 8)
    farm.week_start = 6
    assert week_start(farm, date(2026, 6, 10)) == date(2026, 6, 7)
    assert week_start(farm, date(2026, 6, 7)) == date(2026, 6, 7)


def test_a_load_that_is_all_back_is_not_at_market(farm):
    """0.1 and 0.2 out and 0.3 back are nothing, to the thousandth."""
    from inventory.actions.movements import bring_back
    from inventory.ledger.outings import read_at_market

    lot = make_lot(5, unit="kg")
    for number, amount in enumerate(("0.1", "0.2")):
        take_out(
            act(NOW + number * DAY), lot=lot.pk, portion=Decimal(amount), purpose="market",
            outlet=builders.market(),
        )  # fmt: skip
    bring_back(act(NOW + 2 * DAY), lot=lot.pk, quantity=Decimal("0.3"), position=place())
    assert read_at_market() == []

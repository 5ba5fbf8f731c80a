"""The week's figures against worked balances."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions.intakes import bring_in_cases
from inventory.actions.movements import bring_back, send_back, take_out
from inventory.actions.owner import save_row
from inventory.actions.quality import discard
from inventory.actions.reshape import count_lots
from inventory.actions.undo import undo
from inventory.models import Crop, Farm, Lot, Movement, Source
from inventory.queries.week import ledger_differs, read_week, read_weeks
from inventory.upkeep.chores import do_chore
from tests.builders import (
    NOW,
    act,
    crop,
    make_cases,
    make_lot,
    make_lots,
)

MONDAY = date(2026, 6, 8)
WEEK = timedelta(days=7)


def set_farm(at, **values):
    farm = Farm.objects.get()
    for name, value in values.items():
        setattr(farm, name, value)
    save_row(act(at), row=farm, values=values)


def only_row(farm, day=MONDAY):
    (row,) = read_week(farm, day)
    return row


def give(lot, quantity, **where):
    take_out(act(), lot=lot.pk, portion=Decimal(quantity), **where)


def throw(lot, quantity, destination="compost"):
    discard(act(), lot=lot.pk, portion=Decimal(quantity), reason="wilted", destination=destination)


def test_a_worked_balance(farm):
    """A mass balance worked by hand, no source: waste is 15 of the 195 kg that left, 7.69 %."""
    make_lot(40, unit="kg", at=NOW - WEEK)
    lot = make_lot(200, unit="kg")
    give(lot, 170, purpose="order")
    give(lot, 10, purpose="given", to="pantry")
    throw(lot, 15)
    row = only_row(farm)
    figures = (row.opening, row.harvested, row.sold, row.given, row.discarded, row.closing)
    assert figures == (40, 200, 170, 10, 15, 45)
    assert row.difference == 0
    assert round(row.waste_percent, 2) == Decimal("7.69")


def test_thousandths_add_up_exactly(farm):
    """SQLite adds decimals as floating point: 1.813 less 0.907 less 0.906 left 1e-16 there."""
    lot = make_lot("1.813", unit="kg")
    throw(lot, "0.907")
    throw(lot, "0.906")
    assert only_row(farm).difference == 0


def test_a_worked_waste_rate(farm):
    """Worked by hand, no source: sold 187.5 kg and discarded 12.5 kg are 6.25 %."""
    lot = make_lot(200, unit="kg")
    give(lot, "187.5", purpose="order")
    throw(lot, "12.5")
    row = only_row(farm)
    assert (row.wasted, row.sold) == (Decimal("12.5"), Decimal("187.5"))
    assert row.waste_percent == Decimal("6.25")


def test_what_went_back_to_its_supplier_is_neither_sold_nor_waste(farm):
    """Worked by hand, no source: of 20 kg 8 went back, 9 were sold, 1 discarded: 1 of 10 kg."""
    lot = make_cases(20, at=NOW)[0]
    send_back(act(), lot=lot.pk, portion=Decimal(8), note="slimy")
    give(lot, 9, purpose="order")
    throw(lot, 1)
    row = only_row(farm)
    assert (row.bought, row.sent_back, row.sold, row.wasted, row.closing) == (20, 8, 9, 1, 2)
    assert row.difference == 0
    assert row.waste_percent == 10


def test_what_a_supplier_did_not_take_back_is_here_again(farm):
    lot = make_cases(20, at=NOW)[0]
    send_back(act(), lot=lot.pk, portion="all")
    bring_back(act(), lot=lot.pk, quantity=Decimal(20))
    row = only_row(farm)
    assert (row.sent_back, row.returned, row.closing, row.difference) == (0, 20, 20, 0)


def test_nothing_left_the_room_gives_no_rate(farm):
    """Nothing by nothing is undefined, and shown as a dash."""
    make_lot(5)
    assert only_row(farm).waste_percent is None


def test_discards_are_told_apart_by_reason_and_destination(farm):
    """Destinations 4 and 7 of the Food Loss and Waste Standard 1.0 (2016)."""
    lot = make_lot(20)
    throw(lot, 5)
    throw(lot, 2, "landfill")
    assert [(one.reason, one.destination, one.amount) for one in only_row(farm).lines[1:]] == [
        ("wilted", "compost", -5), ("wilted", "landfill", -2),
    ]  # fmt: skip


def test_bought_and_grown_are_told_apart_and_units_are_never_added(farm):
    make_lots(12, 12)
    make_lot(3, unit="kg")
    bring_in_cases(
        act(), crop=crop("kale"), unit="bunch", quantities=[Decimal(6)],
        source=Source.objects.get(name="Orchard"),
    )  # fmt: skip
    rows = {row.unit: (row.harvested, row.bought) for row in read_week(farm, MONDAY)}
    assert rows == {"bunch": (24, 6), "kg": (3, 0)}


def test_what_was_undone_never_happened(farm):
    lot = make_lot(12)
    action = take_out(act(), lot=lot.pk, portion="half", purpose="order")
    undo(act(NOW + WEEK), action=action)
    assert only_row(farm).sold == 0
    assert only_row(farm, MONDAY + WEEK).closing == 12


def test_what_the_nightly_check_found_shows(signed_in):
    """Added up from the columns of one crate, which somebody changed behind the ledger's back."""
    lot = make_lot(12)
    do_chore("ledger", NOW)
    assert not ledger_differs()
    Lot.objects.filter(pk=lot.pk).update(quantity=11)
    do_chore("ledger", NOW + timedelta(days=1))
    assert ledger_differs()
    assert "the stored amounts differ" in signed_in.get("/week").content.decode()


def in_kg(unit, weighs=None, priced=None, key="kale"):
    """A crop of which one weighs so much and costs so much."""
    Crop.objects.filter(reference_key=key).update(unit=unit, piece_weight_kg=weighs, price=priced)


def test_what_was_counted_is_weighed_by_what_one_weighs_and_said_to_be_about(farm):
    """Worked by hand, no source: 12 bunches of 0.25 kg and 2 lb sold, 4 bunches missing."""
    in_kg("bunch", "0.25")
    kale, apples = make_lot(20), make_lot(5, unit="lb", key="apple")
    give(kale, 12, purpose="order")
    give(apples, 2, purpose="order")
    week = read_weeks(farm, MONDAY)
    assert (week.flow.wasted, week.is_about) == (0, True)
    count_lots(act(), figures={kale.pk: Decimal(4)}, reason="not there")
    week = read_weeks(farm, MONDAY)
    assert (week.flow.missing, week.flow.thrown) == (1, 0)
    assert week.flow.sold == 3 + 2 * Decimal("0.45359237")
    assert [row.crop for row in week.rows] == [kale.crop, apples.crop]
    assert week.thrown_of_left == 0 < week.flow.waste_of_left


def test_what_nobody_weighed_is_in_no_weight_and_asked_for(farm):
    lot = make_lot(20)
    assert read_weeks(farm, MONDAY).unweighed == []
    throw(lot, 5)
    week = read_weeks(farm, MONDAY)
    assert ([row.crop for row in week.unweighed], week.flow.left) == ([lot.crop], 0)
    assert (week.flow.waste_of_left, week.worst(by_money=False)) == (None, [])


def test_the_worst_are_told_by_weight_or_by_money(farm):
    """Worked by hand, no source: 8 kg at 1 and 2 kg at 5, and of a crop in two units the sum."""
    in_kg("kg", "0.5", 1)
    in_kg("kg", None, 5, key="apple")
    throw(make_lot(10, unit="kg"), 6)
    throw(make_lot(10), 4)
    throw(make_lot(10, unit="kg", key="apple"), 2)
    week = read_weeks(farm, MONDAY)
    worst = week.worst(by_money=False)
    assert [(one.crop.reference_key, one.kg, one.part) for one in worst] == [
        ("kale", 8, 1), ("apple", 2, 0.25),
    ]  # fmt: skip
    assert not week.is_priced  # the bunches have no price
    in_kg("kg", None, 5)
    discards = Movement.objects.filter(kind="discarded", lot__unit="bunch")
    undo(act(), action=discards.get().action)
    week = read_weeks(farm, MONDAY)
    assert week.is_priced
    assert [(one.money, one.part) for one in week.worst(by_money=True)] == [
        (30, 1), (10, pytest.approx(1 / 3)),
    ]  # fmt: skip


def test_where_it_went_is_told_best_use_first(farm):
    """US EPA, Wasted Food Scale, October 2023: feed, then compost, then landfill."""
    lot = make_lot(20, unit="kg")
    for kg, destination in ((1, "landfill"), (2, "compost"), (1, "animal feed")):
        throw(lot, kg, destination)
    found = read_weeks(farm, MONDAY).discarded
    assert [(one.destination, one.kg) for one in found] == [
        ("animal feed", 1), ("compost", 2), ("landfill", 1),
    ]  # fmt: skip


def test_eight_weeks_stand_side_by_side(farm):
    lot = make_lot(40, unit="kg", at=NOW - WEEK * 9)
    for back, kg in ((8, 7), (7, 1), (1, 2), (0, 3)):
        at = NOW - WEEK * back
        facts = {"reason": "wilted", "destination": "compost"}
        discard(act(at), lot=lot.pk, portion=Decimal(kg), **facts)
    trend = read_weeks(farm, MONDAY).trend
    assert list(trend) == [MONDAY - WEEK * back for back in range(7, -1, -1)]
    assert [flow.wasted for flow in trend.values()] == [1, 0, 0, 0, 0, 0, 2, 3]
    assert trend[MONDAY - WEEK * 3].waste_of_left is None


def test_more_weeks_more_crops_and_more_past_take_no_more_queries(farm, django_assert_num_queries):
    make_lot(12)
    read_weeks(farm, MONDAY)
    with CaptureQueriesContext(connection) as few:
        read_weeks(farm, MONDAY)
    for back in range(10):
        for key in ("kale", "apple", "basil"):
            make_lot(12, at=NOW - WEEK * back, key=key)
    read_weeks(farm, MONDAY)
    with django_assert_num_queries(len(few)):
        read_weeks(farm, MONDAY)


MIDNIGHT = datetime(2026, 11, 2, 5, tzinfo=UTC)  # in New York, where the day before had 25 hours
THEN = MIDNIGHT + timedelta(days=14)


def throw_at(lot, at, quantity=1, destination="compost"):
    facts = {"reason": "wilted", "destination": destination}
    discard(act(THEN, told_at=at), lot=lot.pk, portion=Decimal(quantity), **facts)


def test_a_week_ends_at_midnight_of_its_last_day_when_clocks_change(farm):
    lot = make_lot(12, at=MIDNIGHT - WEEK)
    throw_at(lot, MIDNIGHT - timedelta(minutes=1))
    throw_at(lot, MIDNIGHT, 2)
    found = [only_row(farm, day).discarded for day in (date(2026, 10, 26), date(2026, 11, 2))]
    assert found == [1, 2]
    set_farm(THEN, week_start=6)
    farm = Farm.objects.get()
    found = [only_row(farm, day).discarded for day in (date(2026, 10, 25), date(2026, 11, 1))]
    assert found == [0, 3]

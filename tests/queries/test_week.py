"""The week's figures against worked balances."""

from datetime import date, timedelta
from decimal import Decimal

from inventory.actions.intakes import bring_in_cases
from inventory.actions.movements import bring_back, send_back, take_out
from inventory.actions.quality import discard
from inventory.actions.undo import undo
from inventory.models import Lot, Source
from inventory.queries.week import ledger_differs, read_week
from inventory.upkeep.chores import do_chore
from tests.builders import NOW, act, crop, make_cases, make_lot, make_lots

MONDAY = date(2026, 6, 8)
WEEK = timedelta(days=7)


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
    assert row.waste_percent == Decimal("7.7")


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
    assert row.waste_percent == Decimal("6.2")  # 6.25 to one decimal, the even one


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
    assert [(to, amount) for _, to, amount in only_row(farm).discard_list] == [
        ("compost", 5), ("landfill", 2),
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

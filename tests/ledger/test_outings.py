"""A buyer is known by key, and printed as it was called then."""

from decimal import Decimal

import pytest

from inventory.actions.movements import Settling, bring_back, close_market, take_out
from inventory.ledger.fold import Outing
from inventory.ledger.outings import count_at_market, out_of, out_of_each, read_at_market
from inventory.models import Lot, Movement, Outlet
from tests import builders
from tests.builders import act, make_lot, make_lots

pytestmark = pytest.mark.usefixtures("farm")


def to_market(lot: Lot, portion="all", outlet=None):
    outlet = outlet or builders.market()
    return take_out(act(), lot=lot.pk, portion=portion, purpose="market", outlet=outlet)


def rename(name="Saturday market"):
    Outlet.objects.filter(kind="market", name="Market").update(name=name)
    return Outlet.objects.get(name=name)


def test_two_names_of_one_buyer_are_one_outing_and_two_buyers_of_one_name_are_two():
    assert Outing("market", 1, "Market") == Outing("market", 1, "Saturday market")
    assert Outing("market", 1, "Market") != Outing("market", 2, "Market")
    assert Outing("market", 1) != Outing("order", 1)
    assert Outing("given", "Ann") != Outing("given", "Bob")


def test_an_outing_is_kept_by_key_or_where_there_is_none_by_name():
    lot = make_lot(12)
    to_market(lot, Decimal(4))
    take_out(act(), lot=lot.pk, portion=Decimal(2), purpose="given", to="Ann")
    out, given = lot.movements.filter(kind="out")
    assert (out.outlet, out.other_party) == (builders.market(), "Market")
    assert (given.outlet, given.other_party) == (None, "Ann")
    assert out_of(lot) == {builders.at_market(): 4, Outing("given", "Ann"): 2}
    assert [outing.outlet_id for outing in out_of(lot)] == [builders.market().pk, None]
    assert count_at_market() == 1  # what is given away is at none


def test_what_went_to_a_market_under_two_names_is_out_at_one():
    first, second = make_lots(12, 12)
    to_market(first, Decimal(4))
    to_market(second)
    renamed = rename()
    to_market(first, Decimal(3), renamed)
    assert out_of(first) == {Outing("market", renamed.pk): 7}
    rows = read_at_market()
    assert {(row.lot.pk, row.amount, row.market) for row in rows} == {
        (first.pk, 7, "Saturday market"), (second.pk, 12, "Saturday market"),
    }  # fmt: skip
    assert len({row.outing for row in rows}) == 1
    assert count_at_market() == 2


def test_what_comes_back_of_a_renamed_market_is_no_longer_out():
    """Whichever entry names it how: four went as one name, three as another, all seven back."""
    lot = make_lot(12)
    to_market(lot, Decimal(4))
    to_market(lot, Decimal(3), rename())
    bring_back(act(), lot=lot.pk, quantity=Decimal(7))
    assert out_of(lot) == {}
    assert read_at_market() == []


def test_a_renamed_market_is_closed_at_once_and_old_entries_stay_as_printed():
    first, second = make_lots(12, 12)
    to_market(first)
    renamed = rename()
    to_market(second, outlet=renamed)
    rows = [Settling(first.pk, Decimal(12)), Settling(second.pk, Decimal(12), back=Decimal(2))]
    close_market(act(), market=Outing("market", renamed.pk, renamed.name), rows=rows)
    assert read_at_market() == []
    assert Lot.objects.get(pk=first.pk).state == "empty"
    assert first.movements.get(kind="out").other_party == "Market"
    assert second.movements.get(kind="out").other_party == "Saturday market"
    settled = Movement.objects.filter(kind="settled")
    assert set(settled.values_list("outlet", flat=True)) == {renamed.pk}


def test_an_entry_of_before_without_a_key_is_told_by_the_name_it_was_printed_with():
    lot, other = make_lots(12, 12)
    for each in (lot, other):
        to_market(each)
    Movement.objects.filter(kind="out").update(outlet=None, other_party="Gone market")
    assert [(row.outing.buyer, row.market) for row in read_at_market()] == [
        ("Gone market", "Gone market")
    ] * 2


def test_what_is_out_of_several_crates_is_what_is_out_of_each():
    one, two, here, apart = make_lots(12, 12, 12, 12)
    for lot in (one, apart):
        to_market(lot)
    to_market(two, Decimal(4))
    take_out(act(), lot=two.pk, portion=Decimal(2), purpose="given", to="Ann")
    found = out_of_each([one.pk, two.pk, here.pk])
    assert found == {lot.pk: out_of(lot) for lot in (one, two, here)}
    assert [len(found[lot.pk]) for lot in (one, two, here)] == [1, 2, 0]

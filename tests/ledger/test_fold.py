"""What a crate's entries add up to, whatever order they come in."""

from datetime import date
from decimal import Decimal
from itertools import permutations

from inventory.ledger.fold import Folded, Outing, fold, standing, still_out, up_to
from tests.ledger.entries import hour, ledger

CAME = (6, "brought in", {"change": 12, "state": "in place", "position_id": "A1"})


def folded(*told) -> Folded:
    return fold(ledger(*told))


def where(crate: Folded) -> tuple:
    return crate.quantity, crate.state, crate.position_id


def test_a_crate_without_entries_never_was():
    assert fold([]) == Folded(Decimal(0), "void", None, False, None, None)


def test_a_crate_is_what_came_of_it():
    crate = folded(
        CAME,
        (7, "moved", {"state": "in place", "position_id": "B2"}),
        (8, "out", {"change": -2, "amount": 2}),
        (9, "inspected", {"kept_until": date(2026, 6, 12)}),
        (10, "held"),
    )
    assert crate == Folded(Decimal(10), "in place", "B2", True, date(2026, 6, 12), hour(10))


def test_the_order_of_happening_decides_not_the_order_of_writing():
    told = [
        CAME,
        (7, "held"),
        (8, "released"),
        (9, "moved", {"state": "in place", "position_id": "B2"}),
        (10, "inspected", {"kept_until": date(2026, 6, 12)}),
    ]
    assert {folded(*order) for order in permutations(told)} == {folded(*told)}


def test_a_late_move_sets_the_place_only_if_nothing_later_did():
    late = (7, "moved", {"state": "in place", "position_id": "B2"})
    assert where(folded(CAME, late)) == (12, "in place", "B2")
    later = (8, "moved", {"state": "in place", "position_id": "B1"})
    assert where(folded(CAME, later, late)) == (12, "in place", "B1")


def test_at_one_moment_the_order_of_writing_decides():
    first = (7, "moved", {"state": "in place", "position_id": "B1"})
    then = (7, "moved", {"state": "in place", "position_id": "B2"})
    assert where(folded(CAME, first, then)) == (12, "in place", "B2")
    assert where(fold(reversed(ledger(CAME, first, then)))) == (12, "in place", "B2")


def test_what_was_undone_says_nothing_and_neither_does_its_undoing():
    told = [CAME, (7, "out", {"change": -12, "amount": 12, "state": "out"})]
    undone = (9, "undone", {"change": 12, "undoes_id": 2})
    assert folded(*told, undone) == folded(CAME)
    assert [entry.pk for entry in standing(ledger(*told, undone))] == [1]


def test_a_crate_whose_coming_in_was_undone_never_was():
    crate = folded(CAME, (7, "undone", {"change": -12, "undoes_id": 1}))
    assert where(crate) == (0, "void", None)


def test_a_crate_in_the_house_that_holds_nothing_is_empty():
    assert where(folded(CAME, (7, "discarded", {"change": -12}))) == (0, "empty", None)


def test_one_that_left_is_out_though_it_holds_nothing():
    gone = (7, "out", {"change": -12, "amount": 12, "state": "out"})
    assert where(folded(CAME, gone)) == (0, "out", None)


def test_a_crate_found_again_stands_where_it_was_found():
    gone = (7, "discarded", {"change": -12})
    found = (8, "counted", {"change": 5, "figure": 5, "state": "in place", "position_id": "B1"})
    assert where(folded(CAME, gone, found)) == (5, "in place", "B1")


def test_only_a_crate_in_place_has_a_place():
    waiting = (7, "back", {"state": "to put away", "position_id": "A1"})
    assert where(folded(CAME, waiting)) == (12, "to put away", None)


def test_up_to_a_moment_counts_what_had_happened_and_that_moment_too():
    entries = ledger(CAME, (9, "held"), (8, "inspected"), (8.5, "undone", {"undoes_id": 3}))
    assert [entry.pk for entry in up_to(entries, hour(8))] == [1]
    assert [entry.pk for entry in up_to(entries, hour(9))] == [1, 2]
    assert up_to(entries, hour(5)) == []


def out_to(amount, purpose="market", **facts) -> dict:
    return {"amount": amount, "purpose": purpose} | facts


def test_what_is_out_is_what_is_neither_back_nor_settled():
    entries = ledger(
        CAME,
        (7, "out", out_to(6)),
        (8, "back", out_to(1)),
        (9, "settled", out_to(2)),
        (10, "out", out_to(2, "own use")),
    )
    assert still_out(entries) == {Outing("market", ""): 3, Outing("own use", ""): 2}


def test_where_something_went_again_is_the_latest():
    entries = ledger((9, "out", out_to(1, "order")), (7, "out", out_to(1)), (10, "out", out_to(1)))
    assert [outing.purpose for outing in still_out(entries)] == ["order", "market"]


def test_what_came_back_whole_is_no_longer_out():
    assert still_out(ledger((7, "out", out_to(2)), (8, "back", out_to(2)))) == {}


def test_a_buyer_that_was_renamed_is_one_buyer():
    entries = ledger(
        (7, "out", out_to(3, outlet_id=4, other_party="Market")),
        (8, "settled", out_to(1, outlet_id=4, other_party="Saturday market")),
    )
    (outing,) = still_out(entries)
    assert (outing.buyer, outing.outlet_id) == (4, 4)
    assert list(still_out(entries).values()) == [2]


def test_a_person_it_was_given_to_is_known_by_name():
    entries = ledger(
        (7, "out", out_to(3, "given", other_party="Ann")),
        (8, "back", out_to(1, "given", other_party="Bob")),
    )
    assert still_out(entries) == {Outing("given", "Ann"): 3}
    assert Outing("given", "Ann").outlet_id is None

"""The market day is closed by crop, and every crate's ledger still adds up."""

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.actions.market import CropClosing, close_market_by_crop
from inventory.actions.quality import hold
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.ledger.fold import fold
from inventory.ledger.outings import out_of, read_at_market
from inventory.models import Lot, MarketDay, Movement
from inventory.queries.was_out import tags_of
from inventory.rotation.fit import WAS_OUT
from tests import builders
from tests.builders import NOW, act, crop, fresh, make_lot, make_lots, place, take
from tests.refusing import refused

HOUR = timedelta(hours=1)
CLOSED = NOW + 6 * HOUR


def out_at_market(key: str = "kale") -> dict[str, Decimal]:
    return {row.lot.pk: row.amount for row in read_at_market() if row.lot.crop == crop(key)}


def close(*crops: CropClosing, at=CLOSED, **changes):
    values = {"market": builders.at_market(), "crops": list(crops)}
    return close_market_by_crop(act(at), **values | changes)


def said(key: str = "kale", **changes) -> CropClosing:
    numbers = {name: Decimal(n) for name, n in changes.items() if name in ("back", "given", "lost")}
    return CropClosing(out_at_market(key), **changes | numbers)


def loaded(*quantities: int, **changes) -> list[Lot]:
    """Crates taken to market, in the order in which they should go."""
    lots = sorted(make_lots(*quantities, **changes), key=lambda lot: lot.pk)
    for lot in lots:
        take(lot, "all")
    return lots


def outcomes(lot: Lot) -> dict[str, int]:
    """What became of one crate's load."""
    rows = lot.movements.filter(kind__in=("back", "settled"), undone_by=None)
    return {
        outcome or "back": int(amount) for outcome, amount in rows.values_list("outcome", "amount")
    }


pytestmark = pytest.mark.usefixtures("farm")


def test_the_crates_that_go_first_are_sold_and_one_nobody_touched_comes_back_itself():
    first, second, third = loaded(18, 18, 18)
    close(said(back=27, lost=2, given=1, to="Food pantry", position=place("B1")))
    assert outcomes(first) == {"sold": 18}
    assert outcomes(second) == {"sold": 6, "given": 1, "lost": 2, "back": 9}
    assert outcomes(third) == {"back": 18}
    assert [(fresh(lot).state, int(fresh(lot).quantity)) for lot in (first, second, third)] == [
        ("empty", 0), ("in place", 9), ("in place", 18),
    ]  # fmt: skip
    assert Movement.objects.get(outcome="given").note == "Food pantry"
    assert Lot.objects.count() == 3


def test_what_went_out_in_part_comes_back_as_a_crate_of_its_own_that_was_out():
    lot = make_lot(18)
    take(lot, Decimal(10))
    close(said(back=4), warm_hours=Decimal(5))
    child = Lot.objects.get(parents=lot)
    assert (int(child.quantity), WAS_OUT in tags_of(child)) == (4, True)
    assert child.movements.get().warm_hours == 5


def test_the_day_is_kept_with_how_it_was_and_what_sold_out():
    loaded(12, 12)
    loaded(8, key="apple")
    close(said(sold_out="early"), said("apple", back=2, sold_out="no"), weather="poor")
    day = MarketDay.objects.get()
    sales = day.sales.order_by("-loaded").values_list("loaded", "back", "sold", "sold_out")
    assert (day.weather, list(sales)) == ("poor", [(24, 0, 24, "early"), (8, 2, 6, "no")])


def test_in_fewer_crates_than_it_came_from_it_is_a_new_one():
    first, second = loaded(12, 12)
    close(said(back=15, crates=1, position=place("B1")))
    together = Lot.objects.exclude(pk__in=(first.pk, second.pk)).get()
    assert set(together.parents.all()) == {first, second}
    assert (int(together.quantity), together.position) == (15, place("B1"))
    assert {fresh(lot).state for lot in (first, second)} == {"empty"}


def test_in_more_crates_it_is_dealt_out_over_them():
    first, second, third = loaded(12, 12, 12)
    close(said(back=6, crates=2))
    assert [int(fresh(lot).quantity) for lot in (first, second, third)] == [0, 3, 3]


def test_what_came_back_becomes_seconds():
    (lot,) = loaded(12)
    close(said(back=5, goes="seconds"))
    child = Lot.objects.get(parents=lot)
    assert (child.grade, int(child.quantity), fresh(lot).state) == ("seconds", 5, "empty")


def test_what_came_back_is_given_away_and_counts_as_given():
    (lot,) = loaded(12)
    close(said(back=5, given=1, goes="given", to="Food pantry"))
    assert outcomes(lot) == {"sold": 6, "given": 6}
    sale = MarketDay.objects.get().sales.get()
    assert (sale.back, sale.given, sale.sold) == (0, 6, 6)


def test_what_came_back_is_thrown_out_with_its_reason():
    (lot,) = loaded(12)
    close(said(back=5, goes="discarded", reason="wilted", destination="compost"))
    entry = lot.movements.get(kind="discarded")
    assert (entry.change, entry.reason, entry.destination) == (-5, "wilted", "compost")
    assert (fresh(lot).state, MarketDay.objects.get().sales.get().back) == ("empty", 5)


def test_a_market_day_with_nothing_out_is_not_closed():
    with refused(Conflict("nothing-out", code="Market")):
        close()


def test_more_than_is_out_of_a_crop_is_not_closed():
    loaded(12, 12)
    field = f"back-{crop().pk}-bunch"
    left = {"left": Decimal(24), "unit": "bunch"}
    with refused(Conflict("more-than-market", field=field, **left)):
        close(said(back=20, given=3, lost=2))


def test_what_was_settled_meanwhile_is_named_and_nothing_else_is_closed():
    (kale,) = loaded(12)
    loaded(8, key="apple")
    both = [said("apple"), said()]
    close(said())
    with refused(Conflict("nothing-out", code=kale.pk)):
        close(*both)


@pytest.mark.parametrize(("crates", "most"), [(0, 2), (3, 2)])
def test_it_comes_back_in_no_more_crates_than_went(crates, most):
    loaded(12, 12)
    with refused(Refused("crates-back", field=f"crates-{crop().pk}-bunch", most=most)):
        close(said(back=6, crates=crates))


def test_one_bunch_is_not_in_two_crates():
    loaded(12, 12)
    with refused(Refused("crates-back", field=f"crates-{crop().pk}-bunch", most=1)):
        close(said(back=1, crates=2))


def test_what_came_back_is_given_to_somebody():
    loaded(12)
    with refused(Refused("to-whom", field=f"to-{crop().pk}-bunch")):
        close(said(back=1, goes="given"))


@pytest.mark.parametrize("name", ["back", "given", "lost"])
def test_bunches_are_whole(name):
    loaded(12)
    said_so = said(**{name: Decimal("1.5")})
    with refused(Refused("not-whole", field=f"{name}-{crop().pk}-bunch", unit="bunch")):
        close(said_so)


def test_what_is_on_hold_comes_back_held_and_is_put_together_with_nothing():
    first, second = loaded(12, 12)
    hold(act(NOW + HOUR), lot=second.pk, reason="glass or metal")
    with refused(Conflict("held", code=second.pk)):
        close(said(back=15, crates=1))
    close(said(back=15))
    assert fresh(second).held
    assert not fresh(first).held


CRATES = st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=1, max_size=3)
SAID = st.fixed_dictionaries(
    {
        "parts": st.tuples(*[st.integers(0, 12)] * 3),
        "crates": st.one_of(st.none(), st.integers(1, 3)),
        "goes": st.sampled_from(["", "", "seconds", "given", "discarded"]),
    }
)


class RandomMarkets(TestCase):
    """Of random loads and closings every crop adds up, every crate folds, and undo restores."""

    @settings(max_examples=10)
    @given(loads=st.tuples(CRATES, CRATES), sayings=st.tuples(SAID, SAID))
    def test_whatever_is_said_adds_up_and_can_be_taken_back(self, loads, sayings):
        for key, crates in zip(("kale", "apple"), loads, strict=True):
            lots = make_lots(*[12] * len(crates), key=key)
            for lot, (quantity, part) in zip(lots, crates, strict=True):
                take(lot, Decimal(quantity) if part else "all")
        outs = {key: out_at_market(key) for key in ("kale", "apple")}
        before = _crates()
        crops = [_closing(outs[key], of) for key, of in zip(outs, sayings, strict=True)]
        action = close(*crops)
        for key, crop_said in zip(outs, crops, strict=True):
            total = sum(outs[key].values())
            sale = MarketDay.objects.standing().get().sales.get(crop=crop(key))
            assert sale.loaded == total
            assert sale.back + sale.given + sale.lost + sale.sold == total
            assert sale.back + sale.given == crop_said.back + crop_said.given
            assert _settled(action, key) == total
        assert read_at_market() == []
        assert all(not out_of(lot) for lot in Lot.objects.all())
        _folds()
        undo(act(CLOSED), action=action)
        assert {key: out_at_market(key) for key in outs} == outs
        assert [row for row in _crates() if row in before] == before
        assert not MarketDay.objects.standing().exists()
        _folds()


def _crates() -> list[dict]:
    """All crates, but for what they are drawn anew with each entry."""
    return [row | {"stamp": None} for row in Lot.objects.order_by("pk").values()]


def _closing(out: dict[str, Decimal], of: dict) -> CropClosing:
    left = int(sum(out.values()))
    parts = []
    for part in of["parts"]:
        parts.append(min(part, left))
        left -= parts[-1]
    back, given_away, lost = map(Decimal, parts)
    crates = min(of["crates"], len(out), int(back)) or None if of["crates"] else None
    return CropClosing(
        out, back, given_away, lost, to="Food pantry", crates=crates, goes=of["goes"],
        reason="wilted", destination="compost",
    )  # fmt: skip


def _settled(action, key: str) -> Decimal:
    """What the entries of a closing tell of what was out of a crop."""
    told = action.movements.filter(lot__crop=crop(key), purpose="market")
    return sum(told.values_list("amount", flat=True))


def _folds() -> None:
    for lot in Lot.objects.all():
        folded = fold(lot.movements.all())
        assert (lot.quantity, lot.state, lot.at_market) == (
            folded.quantity, folded.state, folded.at_market,
        )  # fmt: skip

"""Where life was lost, by hand: no database.

AH-66: USDA Agriculture Handbook 66 (2016); its Q10 (pages 68-69, Table 2) is 3 to 10 °C, 2.5 to
20 and 2 to 30. UCD: the produce facts of UC Davis. Both are in crops.csv.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.keeping import load_reference
from inventory.keeping.cooling import extra_aging_days
from inventory.ledger.fold import State
from inventory.lives.losses import STEPS, Loss, Went, add_up, leavings, lost_days
from inventory.lives.stays import PARTS, Link
from tests.ledger.entries import hour, ledger
from tests.lives.hand import CORNER, at, came, clocks, logged, record, seconds, step

KALE = load_reference()["kale"]
DAY = 24


def went(**changes) -> Went:
    """A whole crate of 14 days that stood two days where a day costs one."""
    values = {
        "crop_id": 1,
        "aged": dict.fromkeys(PARTS, 0.0) | {"room": 2.0},
        "passed": dict.fromkeys(PARTS, 0.0) | {"room": 2.0},
        "forgotten_days": 0.0,
        "keeping_days": 14.0,
        "share": 1.0,
        "value": None,
    }
    return Went(**values | changes)


def lost(lot, hours: float, *rooms, **changes) -> dict[str, float]:
    aged, passed = clocks(lot, rooms=rooms).spent(lot.code, at(hours))
    found = lost_days(
        went(aged=aged, passed=passed, keeping_days=lot.reference.base_days, **changes)
    )
    return {step: days for step, days in found.items() if abs(days) > 1e-9}


def grown(**changes):
    """Cut two hours before it came, nobody measured how warm: 20 °C are assumed."""
    return came(bought=False, packed_at=None, cut_at=seconds(-2), **changes)


def test_what_each_step_costs_by_hand():
    """Of published lives, each less the days that passed: life at the best ÷ life there."""
    slow = extra_aging_days(KALE, 20.0, 8.0, 6.67, 24.0)
    out_and_back = [step(0), step(10, State.OUT, room=None), step(13, warm_hours=3)]
    cases = [
        # AH-66: 3 · 2.5 = 7.5 at 20 °C, 3^0.8 = 2.4082 at 8; slow cooling has its own tests.
        (record(came=grown()), 8, DAY,
         {"field": 6.5 * 2 / 24, "room": 1.4082, "cooling": slow}),
        # The same, cold when it came: a case is as cold as its room, and at 0 °C loses nothing.
        (record(), 0, 5 * DAY, {}),
        (record(), 8, DAY, {"room": 1.4082}),
        # UCD, romaine: 21 days at 0 °C, 14 at 5: in four days six days' worth.
        (record("lettuce-romaine"), 5, 4 * DAY, {"room": 2.0}),
        # AH-66, broccoli: 14 to 21 days at 0 °C, 5 at 10: 17.5 / 5 = 3.5 a day.
        (record("broccoli"), 10, 2 * DAY, {"room": 5.0}),
        # Three hours at the 25 °C of a stall: 3 · 2.5 · 2^0.5 = 10.6066 a day.
        (record(steps=out_and_back), 0, DAY, {"out": 9.6066 * 3 / 24}),
    ]  # fmt: skip
    for lot, celsius, hours, expected in cases:
        assert lost(lot, hours, logged(celsius)) == pytest.approx(expected, abs=1e-3), expected


def test_days_it_stayed_though_a_younger_went_are_lost_as_well():
    """Two of four days at 5 °C after a younger romaine went: two, beside those of the room."""
    lot = record("lettuce-romaine")
    expected = {"room": 2.0, "forgotten": 2.0}
    assert lost(lot, 4 * DAY, logged(5.0), forgotten_days=2.0) == pytest.approx(expected)
    assert lost(lot, 4 * DAY, logged(0.0), forgotten_days=9.0) == pytest.approx({"forgotten": 4})


def test_a_crate_past_its_life_can_lose_no_more_than_its_life():
    """Romaine, 21 days, 28 at 5 °C: aged 42, of which it had half, half of 14 and of 28."""
    found = lost(record("lettuce-romaine"), 28 * DAY, logged(5.0), forgotten_days=28.0)
    assert found == pytest.approx({"room": 7, "forgotten": 14})
    assert sum(found.values()) == pytest.approx(21)


def test_a_crate_filled_from_others_lost_what_the_oldest_of_them_lost():
    """Romaine, four days in a corner at 5 °C; with one that stood cold it fills a third."""
    warm = record("lettuce-romaine", "A", steps=[step(0, room=CORNER)])
    cold = record("lettuce-romaine", "B")
    links = [Link(code, seconds(4 * DAY)) for code in "AB"]
    child = record("lettuce-romaine", "C", came=None, links=links, steps=[step(4 * DAY)])
    rooms = logged(0.0), logged(5.0, room=CORNER)
    aged, passed = clocks(warm, cold, child, rooms=rooms).spent("C", at(5 * DAY))
    assert (sum(aged.values()), sum(passed.values())) == (pytest.approx(7), pytest.approx(5))


@given(
    hours=st.lists(st.floats(0.5, 60), min_size=1, max_size=6),
    states=st.lists(st.sampled_from([State.IN_PLACE, State.OUT]), min_size=6, max_size=6),
    rooms=st.lists(st.sampled_from([1, CORNER]), min_size=6, max_size=6),
    degrees=st.lists(st.floats(-1, 25), min_size=2, max_size=2),
    warm_hours=st.sampled_from([None, 1.0]),
)
def test_what_was_lost_and_the_days_that_passed_are_all_the_life_it_used(
    hours, states, rooms, degrees, warm_hours
):
    moments = [sum(hours[:number]) for number in range(len(hours) + 1)]
    steps = [step(0)] + [
        step(moment, state, room if state == State.IN_PLACE else None, warm_hours=warm_hours)
        for moment, state, room in zip(moments[1:-1], states, rooms, strict=False)
    ]
    lot = record(came=grown(), steps=steps)
    end = at(moments[-1])
    known = clocks(lot, rooms=[logged(degrees[0]), logged(degrees[1], room=CORNER)])
    aged, passed = known.spent("A", end)
    found = lost_days(went(aged=aged, passed=passed, keeping_days=1e9))
    assert sum(found.values()) + sum(passed.values()) == pytest.approx(known.aged_days("A", end))
    assert sum(passed.values()) == pytest.approx((moments[-1] + 2) / DAY)
    assert min(found.values()) > -1e-9


def test_crate_days_are_of_the_share_that_left_and_money_of_its_worth():
    """By hand: a quarter of a crate that lost 7 of 14 days: 1.75 crate-days, half of its 8."""
    warm = {"aged": dict.fromkeys(PARTS, 0.0) | {"room": 9.0}}
    quarter = went(**warm, share=0.25, value=8.0)
    assert add_up([quarter])[1, "room"] == Loss(1.75, 4.0)
    assert add_up([quarter, went(**warm, value=2.0)])[1, "room"] == Loss(8.75, 5.0)
    assert add_up([quarter, went(**warm)])[1, "room"] == Loss(8.75, None)
    assert add_up([quarter, went(crop_id=2)])[1, "room"] == Loss(1.75, 4.0)
    assert {step for _crop, step in add_up([quarter])} == set(STEPS)


MARKET = {"purpose": "market", "outlet_id": 1}
KITCHEN = {"purpose": "order", "outlet_id": 2}


def left(*told) -> list[tuple]:
    return [(part.at, part.lived_to, part.amount) for part in leavings(ledger(*told))]


def test_what_left_for_good_and_when():
    cases = [
        ("sold to a kitchen", [(8, "out", KITCHEN | {"amount": 5})], [(8, 8, 5)]),
        ("discarded", [(9, "discarded", {"change": -3})], [(9, 9, 3)]),
        ("still at the market", [(8, "out", MARKET | {"amount": 5})], []),
        ("sent back", [(8, "out", {"purpose": "sent back", "amount": 5})], []),
        ("of what came back only the rest left",
         [(8, "out", KITCHEN | {"amount": 5}), (9, "back", KITCHEN | {"amount": 2})], [(8, 8, 3)]),
        ("what came back from elsewhere is no matter",
         [(8, "out", KITCHEN | {"amount": 5}), (9, "back", MARKET | {"amount": 2})], [(8, 8, 5)]),
        ("the latest came back",
         [(7, "out", KITCHEN | {"amount": 1}), (8, "out", KITCHEN | {"amount": 4}),
          (9, "back", KITCHEN | {"amount": 4})], [(7, 7, 1)]),
        ("a market is settled: its life counts until it went there",
         [(7, "out", MARKET | {"amount": 6}), (12, "settled", MARKET | {"amount": 4}),
          (12, "back", MARKET | {"amount": 2})], [(12, 7, 4)]),
        ("it went there twice",
         [(7, "out", MARKET | {"amount": 2}), (8, "out", MARKET | {"amount": 2}),
          (12, "settled", MARKET | {"amount": 3})], [(12, 8, 2), (12, 7, 1)]),
        ("undone", [(8, "discarded", {"change": -3}), (9, "undone", {"undoes_id": 1})], []),
    ]  # fmt: skip
    for name, told, expected in cases:
        assert left(*told) == [(hour(at), hour(to), some) for at, to, some in expected], name

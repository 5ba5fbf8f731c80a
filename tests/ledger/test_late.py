"""What happened earlier than something already recorded, and is sent only now."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions.intakes import correct_intake, put_away_lots
from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.actions.quality import discard, hold, inspect, release
from inventory.actions.reshape import combine_lots, count_lots, resort_lots, split_lot
from inventory.actions.tags import bind_tag, take_tag_off
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.ledger.book import CLOCKS_DIFFER, OLDEST_LATE, Act
from inventory.ledger.outings import out_of
from inventory.models import Action, Lot, Movement, TagBinding
from inventory.queries.week import read_week
from inventory.upkeep.refold import differences, refold_ledger
from tests import builders
from tests.builders import NOW, act, make_lot, make_lots, make_tag, place
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")

HOUR = timedelta(hours=1)
CAME_IN = NOW - 8 * HOUR


def clock(hour: float) -> datetime:
    """A time on this morning: the crates came in at six, and it is two in the afternoon."""
    return CAME_IN + (hour - 6) * HOUR


def at(hour: float) -> Act:
    """Somebody who did it then and whose phone sent it then."""
    return act(clock(hour))


def late(hour: float) -> Act:
    """Somebody who did it then; it is sent only now."""
    return act(NOW, told_at=clock(hour))


def crate(quantity=12) -> Lot:
    return make_lot(quantity, at=CAME_IN)


def fresh(lot: Lot) -> Lot:
    """The crate as it stands, once its ledger was found to agree with it."""
    found = Lot.objects.get(pk=lot.pk)
    assert list(differences(found, found.movements.order_by("pk"))) == []
    assert refold_ledger().differences == []
    return found


def now(lot: Lot) -> tuple:
    found = fresh(lot)
    return found.quantity, found.state, found.position


def move(by: Act, lot: Lot, name: str = "B2") -> Action:
    return move_lots(by, lots=[lot.pk], position=place(name))


def take(by: Act, lot: Lot, portion: int | str = "all", **where) -> Action:
    portion = portion if isinstance(portion, str) else Decimal(portion)
    return take_out(by, lot=lot.pk, portion=portion, **({"purpose": "own use"} | where))


def to_market(by: Act, lot: Lot, portion: int | str = "all") -> Action:
    return take(by, lot, portion, purpose="market", outlet=builders.market())


def throw_out(by: Act, lot: Lot, portion: int | str = "all") -> Action:
    portion = portion if isinstance(portion, str) else Decimal(portion)
    facts = {"reason": "wilted", "destination": "compost"}
    return discard(by, lot=lot.pk, portion=portion, **facts)


def count(by: Act, lot: Lot, figure: int, **facts) -> Action:
    return count_lots(by, figures={lot.pk: Decimal(figure)}, reason="miscounted", **facts)


def only_entry(action: Action) -> Movement:
    return action.movements.get()


def contradicts(lot: Lot, action: Action) -> Conflict:
    return Conflict("contradicts-later", code=lot.pk, later=only_entry(action))


def test_a_crate_taken_whole_before_somebody_moved_it_comes_back_with_the_move():
    lot = crate()
    moved = move(at(10), lot)
    with refused(contradicts(lot, moved)):
        take(late(9), lot)
    assert now(lot) == (12, "in place", place("B2"))


def test_a_crate_taken_whole_before_anything_else_is_out_whenever_it_is_sent():
    lot = crate()
    take(late(9), lot)
    assert now(lot) == (0, "out", None)
    (entry,) = out_entries(lot)
    assert (entry.occurred_at, entry.action.recorded_at) == (clock(9), NOW)


def out_entries(lot: Lot) -> list[Movement]:
    return list(lot.movements.filter(kind="out"))


def test_a_crate_moved_before_it_was_taken_whole_is_still_out():
    lot = crate()
    take(at(11), lot)
    move(late(10), lot)
    assert now(lot) == (0, "out", None)


def test_a_count_is_taken_up_against_what_was_there_then():
    """Ten were seen at nine and two taken at ten: eight are left, though ten was sent last."""
    lot = crate()
    take(at(10), lot, 2)
    counted = only_entry(count(late(9), lot, 10))
    assert (counted.change, counted.figure) == (-2, 10)
    assert now(lot) == (8, "in place", place())


@pytest.mark.parametrize(
    ("lose", "kind"), [(lambda by, lot: take(by, lot, 3), "out"),
                       (lambda by, lot: throw_out(by, lot, 3), "discarded")]
)  # fmt: skip
def test_what_went_before_a_count_leaves_its_figure_true(lose, kind):
    lot = crate()
    count(at(10), lot, 10)
    action = lose(late(9), lot)
    kept, lost = action.movements.order_by("number")
    assert [kept.kind, lost.kind] == ["counted", kind]
    assert (kept.change, kept.figure, kept.occurred_at) == (3, 10, clock(10))
    assert (lost.change, lost.occurred_at) == (-3, clock(9))
    assert kept.pk < lost.pk
    assert now(lot) == (10, "in place", place())


def test_more_may_have_gone_before_a_count_than_is_left_now():
    """The gain is written first, or the sum would fall below zero on the way."""
    lot = crate()
    count(at(10), lot, 10)
    take(at(11), lot, 9)
    take(late(9), lot, 5)
    assert now(lot) == (1, "in place", place())


def test_what_went_between_two_counts_leaves_both_true():
    lot = crate()
    for hour, figure in ((8, 11), (10, 10), (12, 7)):
        count(at(hour), lot, figure)
    take(late(9), lot, 4)
    assert now(lot) == (7, "in place", place())
    changes = lot.movements.filter(kind="counted").order_by("occurred_at", "pk")
    assert [entry.change for entry in changes] == [-1, -1, 4, -3]


def test_a_count_before_a_count_leaves_the_later_one_true():
    lot = crate()
    count(at(10), lot, 10)
    seen, kept = count(late(9), lot, 14).movements.order_by("number")
    assert (seen.change, kept.change) == (2, -2)
    assert now(lot) == (10, "in place", place())


def test_a_count_that_agreed_then_writes_nothing_beside_the_later_one():
    lot = crate()
    count(at(10), lot, 10)
    assert only_entry(count(late(9), lot, 12)).change == 0
    assert now(lot) == (10, "in place", place())


def test_a_crate_that_came_back_before_it_was_counted_leaves_the_figure_true():
    lot = crate()
    to_market(at(7), lot)
    bring_back(at(8), lot=lot.pk, quantity=Decimal(4), position=place("B1"))
    count(at(10), lot, 9)
    with refused(Conflict("more-than-out", field="quantity", code=lot.pk, left=8, unit="bunch")):
        bring_back(late(9), lot=lot.pk, quantity=Decimal(9))
    action = bring_back(late(9), lot=lot.pk, quantity=Decimal(3))
    back, child = action.movements.order_by("number")
    assert (back.change, back.amount, child.change) == (0, 3, 3)
    assert now(lot) == (9, "in place", place("B1"))
    assert out_of(fresh(lot)) == {builders.at_market(): 5}


def test_what_came_back_can_not_go_to_the_crate_itself_once_it_was_found_here():
    """Counted as it stands in the room, it had come back by then."""
    lot = crate()
    to_market(at(7), lot)
    settled = [Settling(lot.pk, Decimal(12))]
    closed = close_market(at(10), market=builders.at_market(), rows=settled)
    with refused(contradicts(lot, closed)):
        bring_back(late(9), lot=lot.pk, quantity=Decimal(2))


def test_a_late_move_sets_the_place_only_if_nothing_later_did():
    lot = crate()
    move(at(10), lot, "B1")
    move(late(9), lot, "B2")
    assert now(lot) == (12, "in place", place("B1"))
    move(late(11), lot, "A2")
    assert now(lot) == (12, "in place", place("A2"))


@pytest.mark.parametrize("reshape", ["split", "combine", "sort", "correct"])
def test_what_makes_crates_or_changes_them_comes_back(reshape):
    lot, other = make_lots(12, 6, at=CAME_IN)
    looked = only_entry(inspect(at(10), lot=lot.pk, days=2, seen="firm"))
    by, lots = late(9), [lot.pk, other.pk]
    amounts = {"firsts": Decimal(18), "seconds": Decimal(0), "culls": Decimal(0)}
    intake = lot.intake
    facts = {"crop": builders.crop("basil"), "source": intake.source, "cut_at": intake.cut_at}
    with refused(Conflict("happened-before", code=lot.pk, later=looked)):
        match reshape:
            case "split":
                split_lot(by, lot=lot.pk, quantity=Decimal(2))
            case "combine":
                combine_lots(by, lots=lots)
            case "sort":
                resort_lots(by, lots=lots, lost=Decimal(0), **amounts)
            case "correct":
                correct_intake(by, intake=intake, reason="misread", **facts)


def test_a_split_that_nothing_came_after_is_taken_up_late():
    lot = crate()
    split_lot(late(9), lot=lot.pk, quantity=Decimal(2))
    child = lot.children.get()
    assert now(lot) == (10, "in place", place())
    assert (child.quantity, child.seen_at) == (2, clock(9))


def test_a_hold_is_taken_up_as_of_when_it_happened():
    lot = crate()
    move(at(10), lot)
    held = only_entry(hold(late(9), lot=lot.pk, reason="a doubt"))
    assert held.occurred_at == clock(9)
    assert fresh(lot).held


def test_a_hold_that_does_not_fit_what_came_after_counts_from_now():
    lot = crate()
    take(at(10), lot, 2)
    held = only_entry(hold(late(9), lot=lot.pk, reason="a doubt"))
    assert held.occurred_at == NOW
    assert fresh(lot).held
    assert now(lot) == (10, "in place", place())


def test_a_take_after_a_hold_that_was_sent_late_comes_back():
    lot = crate()
    hold(late(9), lot=lot.pk, reason="a doubt")
    with refused(Conflict("held", code=lot.pk)):
        take(late(10), lot, 2)
    take(late(8), lot, 2)
    assert now(lot) == (10, "in place", place())


def test_a_release_before_another_comes_back():
    lot = crate()
    hold(at(8), lot=lot.pk, reason="a doubt")
    released = release(at(10), lot=lot.pk, reason="sound")
    with refused(contradicts(lot, released)):
        release(late(9), lot=lot.pk, reason="sound")


def test_nothing_was_done_to_a_crate_before_it_came_in():
    lot = crate()
    for do in (
        lambda: move(late(5), lot),
        lambda: hold(late(5), lot=lot.pk, reason="a doubt"),
        lambda: hold(late(5), intake=lot.intake, reason="a doubt"),
    ):
        with refused(Conflict("not-yet-here", code=lot.pk)):
            do()


def test_nothing_was_done_that_is_still_to_come():
    lot = crate()
    ahead = act(NOW, told_at=NOW + CLOCKS_DIFFER + timedelta(seconds=1))
    with refused(Refused("future", field="happened_at")):
        move(ahead, lot)
    move(act(NOW, told_at=NOW + CLOCKS_DIFFER), lot)
    assert fresh(lot).seen_at == NOW + CLOCKS_DIFFER


def test_what_was_done_long_ago_is_not_taken_up():
    lot = make_lot(12, at=NOW - OLDEST_LATE)
    long_ago = act(NOW, told_at=NOW - OLDEST_LATE - timedelta(seconds=1))
    with refused(Refused("too-long-ago", field="happened_at", days=60)):
        move(long_ago, lot)


def test_a_part_taken_before_another_leaves_what_both_left():
    lot = crate()
    take(at(10), lot, 5)
    take(late(9), lot, 4)
    assert now(lot) == (3, "in place", place())


def test_a_part_taken_before_the_rest_was_comes_back():
    lot = crate()
    rest = take(at(10), lot)
    with refused(contradicts(lot, rest)):
        take(late(9), lot, 4)


def test_what_would_leave_a_later_part_as_the_whole_comes_back():
    """At ten a part was taken and the crate stayed; after this there was nothing to stay."""
    lot = crate()
    part = take(at(10), lot, 5)
    with refused(contradicts(lot, part)):
        take(late(9), lot, 7)


def test_more_than_was_there_then_is_refused_whatever_is_there_now():
    lot = crate()
    count(at(10), lot, 20)
    left = {"field": "quantity", "code": lot.pk, "left": 12, "unit": "bunch"}
    with refused(Conflict("more-than-there", **left)):
        take(late(9), lot, 13)


def test_a_share_is_of_what_was_there_then():
    lot = crate()
    take(at(10), lot, 2)
    assert out_entries(lot)[0].amount == 2
    take(late(9), lot, "half")
    assert now(lot) == (4, "in place", place())


def test_a_market_day_closed_before_a_hold_adds_up():
    lot = crate()
    to_market(at(7), lot)
    settled = [Settling(lot.pk, Decimal(12), back=Decimal(3), given=Decimal(2))]
    hold(at(10), lot=lot.pk, reason="a doubt")
    close_market(late(9), market=builders.at_market(), rows=settled, position=place("B1"))
    assert now(lot) == (3, "in place", place("B1"))
    assert fresh(lot).held


def test_a_hold_sent_late_is_on_what_came_back_of_the_crate_too():
    lot = crate()
    to_market(at(7), lot, 4)
    bring_back(at(10), lot=lot.pk, quantity=Decimal(3))
    hold(late(9), lot=lot.pk, reason="a doubt")
    assert fresh(lot).held
    assert fresh(lot.children.get()).held


def test_an_intake_is_held_late_with_what_was_split_off_it_since():
    lot = crate()
    split_lot(at(10), lot=lot.pk, quantity=Decimal(2))
    hold(late(9), intake=lot.intake, reason="a doubt")
    assert fresh(lot).held
    assert fresh(lot.children.get()).held


def test_a_late_action_is_undone_with_what_kept_the_count_true():
    lot = crate()
    count(at(10), lot, 10)
    action = take(late(9), lot, 3)
    undone = undo(act(NOW), action=action)
    assert undone.movements.count() == 2
    assert now(lot) == (10, "in place", place())
    assert out_of(fresh(lot)) == {}
    undo(act(NOW), action=Action.objects.get(kind="count"))
    assert now(lot) == (12, "in place", place())


def test_an_undo_is_of_now_whatever_time_is_told():
    lot = crate()
    action = take(at(9), lot, 3)
    move(at(8.5), make_lot(5, at=CAME_IN))
    undo(late(8), action=action)
    assert now(lot) == (12, "in place", place())
    with refused(Conflict("undone-already")):
        undo(late(8), action=action)


def test_the_week_adds_up_by_when_it_happened():
    """Taken on Sunday and counted on Monday, but written on Wednesday."""
    sunday, monday = NOW - timedelta(days=3), NOW - timedelta(days=2)
    lot = make_lot(12, at=NOW - timedelta(days=5))
    count(act(monday), lot, 10)
    take(act(NOW, told_at=sunday), lot, 3)
    farm, this_week = act().farm, monday.date()
    (before,) = read_week(farm, this_week - timedelta(days=7))
    (after,) = read_week(farm, this_week)
    assert (before.own_use, before.counted, before.closing) == (3, 0, 9)
    assert (after.opening, after.own_use, after.counted, after.closing) == (9, 0, 1, 10)
    assert (before.difference, after.difference) == (0, 0)


def test_an_action_keeps_both_times():
    action = move(late(9), crate())
    assert (action.occurred_at, action.recorded_at) == (clock(9), NOW)
    assert only_entry(action).occurred_at == clock(9)


def test_what_happened_at_the_minute_of_a_count_came_after_it():
    """Minutes are all a form tells. What went before both can't be told apart from it then."""
    lot = crate()
    count(at(10), lot, 10)
    take(late(10), lot, 3)
    assert now(lot) == (7, "in place", place())
    with refused(contradicts(lot, Action.objects.get(kind="count"))):
        take(late(9), lot, 2)


def test_an_undo_of_a_late_action_is_of_now_too():
    lot = crate()
    count(at(10), lot, 10)
    action = take(late(9), lot, 3)
    undone = undo(late(8), action=action)
    assert undone.movements.count() == 2
    assert now(lot) == (10, "in place", place())


def test_a_hold_of_a_crate_that_is_held_by_now_is_no_second_hold():
    lot = crate()
    hold(at(10), lot=lot.pk, reason="a doubt")
    with refused(Conflict("held-already")):
        hold(late(9), lot=lot.pk, reason="a doubt")


def test_a_hold_of_an_intake_passes_over_what_is_gone_since():
    lot, other = make_lots(12, 6, at=CAME_IN)
    hold(at(10), lot=other.pk, reason="a doubt")
    hold(late(9), intake=lot.intake, reason="a doubt")
    assert fresh(lot).held
    assert fresh(other).movements.filter(kind="held").count() == 1


def test_a_market_day_closed_in_two_ways_before_a_correction_adds_up():
    lot = crate()
    to_market(at(7), lot)
    intake = lot.intake
    facts = {"crop": builders.crop("basil"), "source": intake.source, "cut_at": intake.cut_at}
    correct_intake(at(10), intake=intake, reason="misread", **facts)
    settled = [Settling(lot.pk, Decimal(12), given=Decimal(2))]
    close_market(late(9), market=builders.at_market(), rows=settled)
    assert now(lot) == (0, "empty", None)
    assert out_of(fresh(lot)) == {}


def test_a_cut_time_is_told_late_for_crates_made_since_too():
    lot, other = make_lots(12, 6, at=CAME_IN, cut_ago=None, position=None)
    split_lot(at(10), lot=other.pk, quantity=Decimal(2))
    put_away_lots(late(9), lots=[lot.pk], position=place("B1"), cut_ago=4 * HOUR)
    assert now(lot) == (12, "in place", place("B1"))
    assert fresh(other.children.get()).intake.cut_at == clock(5)


def test_a_tag_put_on_since_comes_off_as_of_now():
    lot = crate()
    tag = make_tag(clock(7))
    bind_tag(at(10), tag=tag.pk, lot=lot.pk)
    take_tag_off(late(9), tag=tag.pk)
    binding = TagBinding.objects.get()
    assert (binding.at, binding.taken_off_at) == (clock(10), NOW)

"""Orders said, changed, got together and closed: entries that can be taken back."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.actions.movements import take_out
from inventory.actions.orders import (
    cancel_order,
    change_order,
    close_order,
    end_repeating,
    go_for,
    mark_found,
    mark_missing,
    reopen_order,
    repeat_order,
    take_for_order,
    tell_short,
)
from inventory.actions.quality import discard, hold
from inventory.actions.reshape import count_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Lease, NotThere, Order, OrderEntry, Outlet, StandingOrder, Take
from inventory.queries.book import Wanted, day_of, read_book
from tests import builders
from tests.builders import (
    NOW,
    act,
    fresh,
    keep_for,
    make_cases,
    make_crew,
    make_lot,
    make_lots,
    planned,
    say_order,
)
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")

DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
TODAY = date(2026, 6, 10)


def kale(quantity=5, asked="") -> Wanted:
    return Wanted(builders.crop(), "bunch", Decimal(quantity), asked)


def order(made=None, quantity=5, **changes) -> Order:
    """Said after every other so far."""
    values = {"lines": [kale(quantity)], "outlet": builders.market()}
    at = NOW - timedelta(hours=1) + Order.objects.count() * MINUTE
    return say_order(made or act(at), **values | changes)


def lines(of: Order) -> dict[str, Decimal]:
    rows = of.lines.order_by("pk").values_list("crop__reference_key", "quantity")
    return dict(rows)


def again(of: Order) -> Order:
    return Order.objects.get(pk=of.pk)


def state(of: Order) -> tuple:
    now = again(of)
    return now.due, bool(now.closed_at), bool(now.cancelled_at), lines(now)


def test_an_order_is_for_something():
    with refused(Refused("no-lines", field="lines")):
        say_order(act(), lines=[], new_outlet="The Heron")


@pytest.mark.parametrize(
    ("quantity", "code", "facts"),
    [(0, "not-positive", {}), ("1.5", "not-whole", {"unit": "bunch"})],
)
def test_an_order_that_can_not_be_leaves_no_new_buyer_behind(quantity, code, facts):
    with refused(Refused(code, field="quantity", **facts)):
        say_order(act(), lines=[kale(quantity)], new_outlet="The Heron")
    assert not Outlet.objects.filter(name="The Heron").exists()


def test_an_order_of_more_decimals_than_there_are_is_refused():
    salad = Wanted(builders.crop("salad-mix"), "kg", Decimal("1.0001"))
    with refused(Refused("too-fine", field="quantity")):
        say_order(act(), lines=[salad], new_outlet="The Heron")


def test_an_order_is_due_today_or_within_a_year_or_so():
    assert order(due=TODAY).due == TODAY
    with refused(Refused("due-past", field="due")):
        order(due=TODAY - DAY)
    with refused(Refused("due-far", field="due")):
        order(due=TODAY + 401 * DAY)


def test_nobody_orders_for_a_buyer_who_is_not_in_use():
    outlet = Outlet.objects.create(name="The Heron", in_use=False)
    with refused(Refused("buyer-off", field="outlet", outlet="The Heron")):
        order(outlet=outlet)


def test_an_order_is_not_somebody_elses():
    made, crew = act(), make_crew()
    order(made)
    with refused(Conflict("sent-before")):
        order(act(id=made.id, person=crew))


def test_the_same_order_again_is_one_order():
    made = act()
    order(made)
    order(made)
    assert (Order.objects.count(), OrderEntry.objects.count()) == (1, 1)


def test_a_name_known_in_other_capitals_is_no_new_buyer():
    say_order(act(), lines=[kale()], new_outlet="mARKET")
    assert Outlet.objects.count() == 1


def test_a_changed_order_keeps_the_line_nobody_wants_any_more_and_an_undo_wants_it_again():
    said = order()
    apples = Wanted(builders.crop("apple"), "kg", Decimal(3))
    done = change_order(act(), order=said.pk, lines=[apples], due=TODAY + DAY)
    assert state(said) == (TODAY + DAY, False, False, {"kale": 0, "apple": 3})
    undo(act(), action=done)
    assert state(said) == (TODAY, False, False, {"kale": 5, "apple": 0})


def test_how_it_was_said_stands_beside_the_crates_own_unit():
    said = order(lines=[kale(24, "6 kg")])
    change_order(act(), order=said.pk, lines=[kale(20)], due=TODAY)
    assert said.lines.get().asked == ""
    undo(act(), action=OrderEntry.objects.latest("pk").action)
    assert said.lines.get().asked == "6 kg"


@pytest.mark.parametrize(
    ("do", "undone"), [(close_order, (False, False)), (cancel_order, (False, False))]
)
def test_what_ends_an_order_is_taken_back_by_its_undo(do, undone):
    said = order()
    done = do(act(), order=said.pk)
    assert not again(said).is_open
    with refused(Conflict("no-longer-open")):
        change_order(act(), order=said.pk, lines=[kale()], due=TODAY)
    undo(act(), action=done)
    assert state(said)[1:3] == undone


def test_an_order_is_closed_once_and_opened_once():
    said = order()
    with refused(Conflict("open-already")):
        reopen_order(act(), order=said.pk)
    close_order(act(), order=said.pk)
    with refused(Conflict("no-longer-open")):
        close_order(act(), order=said.pk)
    done = reopen_order(act(), order=said.pk)
    assert again(said).is_open
    undo(act(), action=done)
    assert not again(said).is_open


def test_an_order_said_by_mistake_is_gone_after_its_undo():
    made = act()
    said = order(made, repeats=True)
    undo(act(), action=OrderEntry.objects.get().action)
    assert again(said).cancelled_at == NOW
    assert read_book(made.farm, NOW) == []


def test_the_undo_of_an_order_waits_for_what_came_after():
    lot, said = make_lot(12), order()
    first = OrderEntry.objects.get().action
    take = take_for_order(act(), order=said.pk, lot=lot.pk, quantity=Decimal(5))
    with refused(Conflict("undo-blocked", blocker=take)):
        undo(act(), action=first)
    undo(act(), action=take)
    changed = change_order(act(), order=said.pk, lines=[kale(6)], due=TODAY)
    with refused(Conflict("undo-blocked", blocker=changed)):
        undo(act(), action=first)
    undo(act(), action=changed)
    undo(act(), action=first)
    assert again(said).cancelled_at


def test_nobody_knows_an_order_that_never_was():
    for do in (close_order, cancel_order, reopen_order, repeat_order, end_repeating):
        with refused(Conflict("unknown-order")):
            do(act(), order=uuid4())


def weekly(**changes) -> Order:
    return order(repeats=True, **changes)


def days_in_book() -> list[date]:
    return [each.due for each in read_book(act().farm, NOW)]


def test_an_order_that_repeats_stands_in_the_book_for_fourteen_days():
    weekly(due=TODAY + DAY)
    assert days_in_book() == [TODAY + DAY, TODAY + 8 * DAY]


def test_one_week_of_it_is_skipped_and_another_changed_and_the_rest_stays():
    said = weekly()
    next_week = day_of(said.standing, TODAY + 7 * DAY)
    change_order(act(), order=next_week, lines=[kale(9)], due=TODAY + 6 * DAY)
    assert days_in_book() == [TODAY, TODAY + 6 * DAY, TODAY + 14 * DAY]
    assert lines(Order.objects.get(pk=next_week)) == {"kale": 9}
    skipped = cancel_order(act(), order=day_of(said.standing, TODAY + 14 * DAY))
    assert days_in_book() == [TODAY, TODAY + 6 * DAY]
    undo(act(), action=skipped)
    assert days_in_book() == [TODAY, TODAY + 6 * DAY, TODAY + 14 * DAY]


def test_an_order_begins_to_repeat_and_ends():
    said = order()
    with refused(Conflict("repeats-not")):
        end_repeating(act(), order=said.pk)
    begun = repeat_order(act(), order=said.pk)
    assert len(days_in_book()) == 3
    with refused(Conflict("repeats-already")):
        repeat_order(act(), order=said.pk)
    ended = end_repeating(act(), order=said.pk)
    assert days_in_book() == [TODAY]
    with refused(Conflict("repeats-not")):
        end_repeating(act(), order=said.pk)
    undo(act(), action=ended)
    assert len(days_in_book()) == 3
    undo(act(), action=begun)
    assert days_in_book() == [TODAY]


def test_ending_it_in_a_week_keeps_the_weeks_before():
    said = weekly()
    end_repeating(act(), order=day_of(said.standing, TODAY + 7 * DAY))
    assert days_in_book() == [TODAY, TODAY + 7 * DAY]
    assert StandingOrder.objects.get().ends == TODAY + 8 * DAY


def test_a_week_moved_to_the_day_of_another_leaves_that_one_in_the_book():
    said = weekly()
    moved = day_of(said.standing, TODAY + 7 * DAY)
    change_order(act(), order=moved, lines=[kale(9)], due=TODAY + 14 * DAY)
    assert days_in_book() == [TODAY, TODAY + 14 * DAY, TODAY + 14 * DAY]


def test_a_buyer_who_is_told_what_lacks_knows_it_until_that_is_taken_back():
    said = order()
    lacks = {f"{builders.crop().pk}:bunch": Decimal(5)}
    told = tell_short(act(), order=said.pk, lacks=lacks)
    assert said.lines.get().told == 5
    undo(act(), action=told)
    assert said.lines.get().told == 0


def test_what_is_taken_for_an_order_goes_out_to_its_buyer():
    lot, said = make_lot(12), order()
    take_for_order(act(), order=said.pk, lot=lot.pk, quantity=Decimal(5))
    assert fresh(lot).quantity == 7
    take = Take.objects.get()
    assert (take.lot_id, take.quantity, take.stood) == (lot.pk, 5, lot.position)
    assert fresh(lot).movements.latest("pk").outlet == builders.market()


def test_another_amount_than_planned_is_taken_as_it_is_said():
    lot, said = make_lot(12), order()
    take_for_order(act(), order=said.pk, lot=lot.pk, quantity=Decimal(6), beyond=True)
    assert Take.objects.get().quantity == 6
    with refused(Refused("not-positive", field="quantity")):
        take_for_order(act(), order=said.pk, lot=lot.pk, quantity=Decimal(0), beyond=True)
    with refused(Refused("not-whole", field="quantity", unit="bunch")):
        take_for_order(act(), order=said.pk, lot=lot.pk, quantity=Decimal("0.5"), beyond=True)


def test_a_weight_is_taken_to_three_decimals():
    apples = make_cases(18)[0]
    said = order(lines=[Wanted(apples.crop, "kg", Decimal(5))])
    with refused(Refused("too-fine", field="quantity")):
        take_for_order(act(), order=said.pk, lot=apples.pk, quantity=Decimal("1.0001"))


def test_a_crate_is_taken_once_for_an_order():
    lot, said = make_lot(5), order()
    take_for_order(act(), order=said.pk, lot=lot.pk)
    with refused(Conflict("taken-already", code=lot.pk)):
        take_for_order(act(), order=said.pk, lot=lot.pk)


def test_a_page_left_open_takes_no_more_than_is_lacking_by_now():
    first, second = make_lots(12, 12)
    said = order(quantity=14)
    take_for_order(act(), order=said.pk, lot=first.pk)
    take_for_order(act(), order=said.pk, lot=second.pk, quantity=Decimal(12))
    assert Take.objects.latest("pk").quantity == 2
    with refused(Conflict("taken-already", code=second.pk)):
        take_for_order(act(), order=said.pk, lot=second.pk, quantity=Decimal(12))
    other = make_lot(12)
    with refused(Conflict("line-full", code=other.pk)):
        take_for_order(act(), order=said.pk, lot=other.pk)
    take_for_order(act(), order=said.pk, lot=other.pk, quantity=Decimal(3), beyond=True)


def test_an_order_takes_only_what_it_wants():
    apples, said = make_cases(18)[0], order()
    with refused(Refused("not-wanted", code=apples.pk)):
        take_for_order(act(), order=said.pk, lot=apples.pk)


def test_a_buyer_takes_only_what_they_take():
    Outlet.objects.update(own_grown_only=True)
    apples = make_cases(18)[0]
    said = order(lines=[Wanted(apples.crop, "kg", Decimal(5))])
    market = builders.market()
    with refused(Refused("outlet-refuses", field="outlet", outlet=market.name, tag="bought-in")):
        take_for_order(act(), order=said.pk, lot=apples.pk)


def test_nothing_is_taken_for_an_order_that_is_finished():
    lot, said = make_lot(12), order()
    close_order(act(), order=said.pk)
    with refused(Conflict("no-longer-open")):
        take_for_order(act(), order=said.pk, lot=lot.pk)


def test_a_case_is_planned_up_to_its_use_by_date_and_not_taken_after_it():
    """Regulation (EU) No 1169/2011, Article 24(1)."""
    case = make_cases(18, best_before=NOW.date(), best_before_kind="use by")[0]
    said = order(lines=[Wanted(case.crop, "kg", Decimal(5))])
    tomorrow = NOW + DAY
    assert planned(said) == [(case.pk, 5)]
    assert planned(said, tomorrow) == []
    with refused(Conflict("past-use-by", code=case.pk)):
        take_for_order(act(tomorrow), order=said.pk, lot=case.pk)


def test_a_held_crate_is_not_taken():
    lot, said = make_lot(12), order()
    hold(act(), lot=lot.pk, reason="a doubt")
    with refused(Conflict("held", code=lot.pk)):
        take_for_order(act(), order=said.pk, lot=lot.pk)


def test_a_crate_that_holds_less_by_now_goes_out_whole_and_its_line_lacks_the_rest():
    lot, said = make_lot(12), order(quantity=12)
    count_lots(act(), figures={lot.pk: Decimal(7)}, reason="miscounted")
    take_for_order(act(), order=said.pk, lot=lot.pk, quantity=Decimal(12))
    assert (fresh(lot).state, fresh(lot).quantity) == ("out", 0)
    (line,) = read_book(act().farm, NOW)[0].lines
    assert (line.taken, line.lacking) == (7, 5)


def test_an_empty_crate_is_not_taken_for_nothing():
    lot, said = make_lot(12), order()
    discard(act(), lot=lot.pk, portion="all", reason="wilted", destination="compost")
    with refused(Conflict("not-here", code=lot.pk, state="empty")):
        take_for_order(act(), order=said.pk, lot=lot.pk)


def test_a_crate_looked_for_in_vain_goes_to_nobody_until_it_is_found():
    old, other = make_lot(10, at=NOW - DAY), make_lot(4)
    said = order(quantity=10)
    mark_missing(act(), order=said.pk, lot=old.pk, quantity=Decimal(10))
    mark_missing(act(), order=said.pk, lot=old.pk, quantity=Decimal(10))
    assert NotThere.objects.count() == 1
    assert planned(said) == [(other.pk, 4)]
    mark_found(order=said.pk, lot=old.pk)
    assert planned(said) == [(old.pk, 10)]


def test_a_crate_looked_for_in_vain_goes_again_once_it_was_counted():
    lot, said = make_lot(10), order(quantity=10)
    mark_missing(act(), order=said.pk, lot=lot.pk, quantity=Decimal(10))
    count_lots(act(NOW + DAY), figures={lot.pk: Decimal(10)}, reason="found")
    assert planned(said, NOW + DAY) == [(lot.pk, 10)]


def test_a_crate_that_was_taken_can_not_be_called_missing():
    """Though the page was drawn before another phone took it."""
    lot, said = make_lot(5), order()
    take_for_order(act(), order=said.pk, lot=lot.pk)
    with refused(Conflict("taken-already", code=lot.pk)):
        mark_missing(act(), order=said.pk, lot=lot.pk, quantity=Decimal(5))
    with refused(Refused("not-wanted", code="0000000")):
        mark_missing(act(), order=said.pk, lot="0000000", quantity=Decimal(5))
    assert not NotThere.objects.exists()


def test_nothing_is_looked_for_in_an_order_that_is_finished():
    lot, said = make_lot(12), order()
    close_order(act(), order=said.pk)
    with refused(Conflict("no-longer-open")):
        mark_missing(act(), order=said.pk, lot=lot.pk, quantity=Decimal(5))
    with refused(Conflict("no-longer-open")):
        go_for(act(), order=said.pk)
    with refused(Conflict("unknown-order")):
        go_for(act(), order=uuid4())


def whose(of: Order) -> dict[str, str]:
    return dict(Lease.objects.filter(line__order=of).values_list("lot_id", "person__name"))


def test_the_crates_shown_are_theirs_who_gets_the_order_for_half_an_hour():
    old, new = make_lots(12, at=NOW - 3 * DAY)[0], make_lot(12)
    first, second = order(quantity=12), order(quantity=12, due=TODAY)
    go_for(act(), order=second.pk)
    # Without it the order said first would get the older crate.
    kept = dict(planned(second))
    assert set(whose(second)) == set(kept)
    assert planned(first) == [(code, 12) for code in (old.pk, new.pk) if code not in kept]
    later = NOW + 31 * MINUTE
    assert planned(first, later) == [(old.pk, 12)]


def test_a_second_person_on_the_same_order_gets_the_rest():
    make_lots(12, 12)
    said = order(quantity=12)
    go_for(act(), order=said.pk)
    mine = whose(said)
    change_order(act(), order=said.pk, lines=[kale(24)], due=TODAY)
    go_for(act(person=make_crew()), order=said.pk)
    both = whose(said)
    assert sorted(both.values()) == ["Ada", "Ben"]
    assert mine.items() <= both.items()


def test_two_people_may_be_on_the_way_to_parts_of_one_crate():
    lot, said = make_lot(12), order(quantity=5)
    go_for(act(), order=said.pk)
    change_order(act(), order=said.pk, lines=[kale(12)], due=TODAY)
    go_for(act(person=make_crew()), order=said.pk)
    kept = Lease.objects.values_list("lot_id", "person__name", "quantity")
    assert set(kept) == {(lot.pk, "Ada", 5), (lot.pk, "Ben", 7)}


def test_each_tap_keeps_the_crates_for_half_an_hour_more():
    lots = make_lots(6, 6)
    said = order(quantity=12)
    go_for(act(), order=said.pk)
    take_for_order(act(NOW + 20 * MINUTE), order=said.pk, lot=lots[0].pk)
    (left,) = Lease.objects.all()
    assert (left.lot, left.until) == (lots[1], NOW + 50 * MINUTE)


def test_a_kept_crate_that_went_meanwhile_is_kept_for_nobody():
    lots = make_lots(12, 12)
    said = order(quantity=12)
    keep_for(said, (lots[0], 12))
    take_out(act(), lot=lots[0].pk, portion="all", purpose="own use")
    assert planned(said) == [(lots[1].pk, 12)]


def test_what_a_line_lacks_no_more_is_kept_for_it_no_more():
    lots = make_lots(12, 12)
    said = order(quantity=12)
    keep_for(said, (lots[0], 12))
    take_for_order(act(), order=said.pk, lot=lots[1].pk)
    assert planned(said) == []


def test_each_doing_writes_its_own_kind_of_entry():
    """All there are but for handing over: see test_handing.py."""
    said = order()
    change_order(act(), order=said.pk, lines=[kale(6)], due=TODAY)
    tell_short(act(), order=said.pk, lacks={})
    repeat_order(act(), order=said.pk)
    end_repeating(act(), order=said.pk)
    close_order(act(), order=said.pk)
    reopen_order(act(), order=said.pk)
    cancel_order(act(), order=said.pk)
    kinds = [entry.kind for entry in said.entries.order_by("pk")]
    assert kinds == [
        "said", "changed", "told", "repeats", "ends", "closed", "reopened", "cancelled",
    ]  # fmt: skip
    assert set(OrderEntry.Kind) - set(kinds) == {OrderEntry.Kind.HANDED}

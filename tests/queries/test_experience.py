"""What the farm's crates tell of how long they keep, read from the ledger."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import bring_back, send_back, take_out
from inventory.actions.quality import discard, hold, inspect, judge_crate
from inventory.actions.reshape import combine_lots, split_lot
from inventory.actions.undo import undo
from inventory.models import Lot, Outlet, Room
from inventory.queries.crates import one_crate
from inventory.queries.experience import ask_about, estimate_of, read_harvests, sent_back
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots

# Kale ages 3 times as fast per 10 °C between 0 and 10 °C (reference table), and stands at 2 °C.
A_DAY = 3**0.2
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
pytestmark = pytest.mark.django_db


def thrown(lot, days, reason, portion="all", judgement=""):
    discard(
        act(NOW + days * DAY), lot=lot.pk, portion=portion, reason=reason,
        destination="compost", judgement=judgement,
    )  # fmt: skip


def sold(lot, days, portion="all"):
    take_out(act(NOW + days * DAY), lot=lot.pk, portion=portion, purpose="own use")


def asked(lot, days, answer):
    return judge_crate(act(NOW + days * DAY), lot=lot.pk, answer=answer)


def told(farm, days=40):
    """Return what is known of each crate, in days since it came, by harvest."""
    found = read_harvests(builders.crop(), farm, NOW + days * DAY)
    return [
        sorted((in_days(crate.fine_days), in_days(crate.gone_days)) for crate in harvest.crates)
        for harvest in found
    ]


def in_days(age):
    return age and round(age / A_DAY, 1)


def test_decay_ends_a_life_between_the_last_time_it_was_good_and_then(farm):
    lot = make_lot(12)
    asked(lot, 3, "fine")
    asked(lot, 7, "just")
    thrown(lot, 11, "wilted")
    assert told(farm) == [[(7, 11)]]


def test_a_no_ends_it_too_and_what_comes_after_tells_nothing(farm):
    lot = make_lot(12)
    asked(lot, 9, "early")
    sold(lot, 12)
    assert told(farm) == [[(0, 9)]]


def test_trimming_is_no_end_but_a_quarter_is(farm):
    trimmed, rotten = make_lots(12, 12)
    thrown(trimmed, 8, "spoiled", Decimal(2))
    thrown(rotten, 8, "spoiled", Decimal(3))
    assert told(farm) == [[(0, 8), (8, None)]]


@pytest.mark.parametrize("reason", ["froze", "chilled", "damaged", "pests", "unsafe", "unsold"])
def test_what_went_for_another_reason_kept_until_then(farm, reason):
    thrown(make_lot(12), 8, reason)
    assert told(farm) == [[(8, None)]]


@pytest.mark.parametrize("reason", ["list said", "past date"])
def test_what_only_the_list_or_its_date_had_thrown_out_kept_until_it_was_last_good(farm, reason):
    lot, unseen = make_lots(12, 12)
    asked(lot, 5, "fine")
    thrown(lot, 9, reason)
    thrown(unseen, 9, reason)
    assert told(farm) == [[(5, None)]]


def test_what_was_thrown_out_still_good_was_good_then(farm):
    thrown(make_lot(12), 9, "wilted", judgement="fine")
    assert told(farm) == [[(9, None)]]


def test_what_left_was_good_when_it_left(farm):
    lot = make_lot(12)
    sold(lot, 2, Decimal(5))
    sold(lot, 6)
    assert told(farm) == [[(6, None)]]


def test_a_look_that_keeps_a_crate_saw_it_good(farm):
    lot = make_lot(12)
    inspect(act(NOW + 6 * DAY), lot=lot.pk, days=2, seen="firm, smells fresh")
    assert told(farm) == [[(6, None)]]


def test_a_crate_and_what_was_filled_from_it_are_one_piece(farm):
    lot = make_lot(12)
    split_lot(act(NOW + DAY), lot=lot.pk, quantity=Decimal(4))
    child = Lot.objects.exclude(pk=lot.pk).get()
    sold(lot, 4)
    thrown(child, 10, "yellowed")
    assert told(farm) == [[(4, 10)]]


@pytest.mark.parametrize(("apart", "life"), [(4, (9, None)), (5, (0, 8))])
def test_a_small_part_split_off_and_thrown_out_ends_the_whole_from_a_quarter_on(farm, apart, life):
    lot = make_lot(20)
    split_lot(act(NOW + DAY), lot=lot.pk, quantity=Decimal(apart))
    thrown(Lot.objects.exclude(pk=lot.pk).get(), 8, "spoiled")
    sold(lot, 9)
    assert told(farm) == [[life]]


@pytest.mark.parametrize(("rotten", "life"), [(4, (9, None)), (5, (0.5, 8))])
def test_what_was_put_together_is_shared_by_what_it_held_then(farm, rotten, life):
    lots = [lot.pk for lot in make_lots(12, 12)]
    sold(Lot.objects.get(pk=lots[0]), 0.5, Decimal(4))
    combine_lots(act(NOW + DAY), lots=lots)
    both = Lot.objects.exclude(pk__in=lots).get()
    thrown(both, 8, "spoiled", Decimal(rotten))
    sold(both, 9)
    assert told(farm) == [[life]]


def test_a_little_called_no_longer_good_tells_nothing_of_the_rest(farm):
    seen, unseen, whole = make_lots(12, 12, 12)
    asked(seen, 5, "fine")
    for lot in (seen, unseen):
        thrown(lot, 9, "wilted", Decimal(2), judgement="early")
    thrown(whole, 9, "wilted", Decimal(3), judgement="early")
    assert told(farm) == [[(0, 9), (5, None)]]


def test_crates_are_told_by_harvest(farm):
    for hours in (0, 1):
        for lot in make_lots(12, 12, at=NOW + hours * HOUR):
            sold(lot, 5)
    assert [len(crates) for crates in told(farm)] == [2, 2]


def test_crates_without_a_time_and_undone_ones_are_left_out(farm):
    sold(make_lot(12, cut_ago=None), 5)
    lot = make_lot(12)
    undo(act(NOW + 5 * DAY + HOUR), action=asked(lot, 5, "early"))
    assert read_harvests(builders.crop(), farm, NOW + 40 * DAY) == []


def test_what_was_undone_counts_neither_as_gone_nor_as_come(farm):
    lot = make_lot(10)
    taken = take_out(act(NOW + 5 * DAY), lot=lot.pk, portion=Decimal(8), purpose="own use")
    undo(act(NOW + 5 * DAY + HOUR), action=taken)
    thrown(lot, 8, "spoiled", Decimal(4))
    assert told(farm) == [[(0, 8)]]


def test_only_the_last_two_years_count(farm):
    sold(make_lot(12), 5)
    assert len(read_harvests(builders.crop(), farm, NOW + 700 * DAY)) == 1
    assert read_harvests(builders.crop(), farm, NOW + 740 * DAY) == []


def test_nothing_is_offered_until_something_of_the_farms_own_went(farm):
    """The landed rule offered 3.7 days for kale after five looks at day 3 that found it fine."""
    lots = make_lots(*[12] * 5)
    for lot in lots:
        asked(lot, 3, "fine")
    crop = builders.crop()
    found = estimate_of(crop, read_harvests(crop, farm, NOW + 4 * DAY))
    assert (found.offer, found.harvests, found.crates) == (None, 1, 5)
    assert found.at_least > 3
    thrown(lots[0], 9, "yellowed")
    assert estimate_of(crop, read_harvests(crop, farm, NOW + 9 * DAY)).offer > 0


def test_one_crate_a_day_is_asked_about_between_half_and_three_quarters_of_its_life(farm):
    lots = make_lots(*[12] * 6, position=builders.place("A1"))
    room, kept = Room.objects.get(), builders.crop().reference.base_days / A_DAY

    def picked(share, more=timedelta(0)):
        crate = ask_about(room, farm, NOW + share * kept * DAY + more)
        return crate and crate.code

    assert picked(0.49) is picked(0.76) is None
    assert picked(0.51) in {lot.pk for lot in lots}
    assert picked(0.6) == picked(0.6, HOUR / 2)


def test_a_crate_answered_no_is_to_be_looked_at_and_in_no_plan(farm):
    lot = make_lot(12, position=builders.place("A1"))
    asked(lot, 1, "early")
    found = one_crate(lot.pk, farm, NOW + DAY)
    assert (found.verdict.why, found.is_fit) == ("said-gone", False)
    asked(lot, 1.1, "just")
    assert one_crate(lot.pk, farm, NOW + 1.2 * DAY).is_fit


def test_a_crate_on_hold_is_not_asked_about(farm):
    held, free = make_lots(12, 12, position=builders.place("A1"))
    room, kept = Room.objects.get(), builders.crop().reference.base_days / A_DAY
    hold(act(NOW + DAY), lot=held.pk, reason="spray drift")
    days = [NOW + (0.5 + share / 100) * kept * DAY for share in range(1, 25)]
    assert {ask_about(room, farm, day).code for day in days} == {free.pk}
    hold(act(NOW + DAY), lot=free.pk, reason="spray drift")
    assert ask_about(room, farm, days[0]) is None


def test_what_a_kitchen_sent_back_stands_beside_and_not_in_the_record(farm):
    lot = make_lot(12)
    inn = Outlet.objects.create(name="The Heron", kind="kitchen")
    take_out(act(NOW + 3 * DAY), lot=lot.pk, portion="all", purpose="order", outlet=inn)
    bring_back(act(NOW + 5 * DAY), lot=lot.pk, quantity=Decimal(4), position=builders.place("A1"))
    ((entry, age),) = sent_back(builders.crop(), farm, NOW + 6 * DAY)
    assert (entry.other_party, entry.amount) == ("The Heron", 4)
    assert age > 3 * A_DAY
    assert told(farm) == [[(3, None)]]
    assert sent_back(builders.crop("basil"), farm, NOW + 6 * DAY) == []


def test_what_went_back_to_its_supplier_tells_nothing_of_how_long_it_keeps(farm):
    case = make_cases(18, packed_on=NOW.date(), crop=builders.crop("kale"))[0]
    judged = make_cases(18, packed_on=NOW.date(), crop=builders.crop("kale"))[0]
    asked(judged, 3, "fine")
    before = told(farm)
    send_back(act(NOW + 5 * DAY), lot=case.pk, portion="all")
    assert told(farm) == before
    sold(judged, 5)
    assert told(farm) != before


def test_the_check_asks_about_no_case_past_its_use_by_date(farm):
    """Nobody may call it good any more."""
    kept = builders.crop("kale").reference.base_days
    facts = {"crop": builders.crop("kale"), "packed_on": NOW.date(), "best_before_kind": "use by"}
    at, room = NOW + 0.6 * kept / A_DAY * DAY, Room.objects.get()
    make_cases(18, **facts, best_before=at.date() - DAY)
    assert ask_about(room, farm, at) is None
    case = make_cases(18, **facts, best_before=at.date())[0]
    assert ask_about(room, farm, at).code == case.pk

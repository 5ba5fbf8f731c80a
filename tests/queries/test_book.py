"""The whole book planned: the right crate to the right buyer, and what will lack."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import take_out
from inventory.actions.orders import cancel_order, close_order, mark_missing, take_for_order
from inventory.actions.quality import hold, inspect
from inventory.actions.reshape import combine_lots, count_lots
from inventory.actions.undo import undo
from inventory.models import Farm, Lot, Order, Outlet, StandingLine, StandingOrder
from inventory.queries.book import (
    Wanted,
    crate_and_planned,
    find_order,
    plan_book,
    planned_of,
    read_book,
)
from inventory.queries.crates import one_crate
from inventory.queries.home import read_rotation
from inventory.queries.orders import read_offers
from tests import builders
from tests.builders import (
    NOW,
    act,
    keep_for,
    make_lot,
    make_lots,
    planned,
    say_order,
    set_target,
)

DAY = timedelta(days=1)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
TODAY = date(2026, 6, 10)


@pytest.fixture
def inn(farm):
    return Outlet.objects.create(name="Inn", minimum_days=3)


def order(outlet, quantity=18, at=NOW, days=0, **changes):
    wanted = [Wanted(builders.crop("kale"), "bunch", Decimal(quantity))]
    said = act(at - HOUR + Order.objects.count() * MINUTE)  # after every other so far
    return say_order(said, outlet=outlet, lines=wanted, due=TODAY + days * DAY, **changes)


def shorts(said, at=NOW) -> list[tuple[Decimal, str]]:
    plan = plan_book(Farm.objects.get(), at)
    return [
        (short.quantity, short.reason)
        for line, short in plan.shorts.items()
        if line.startswith(str(said.pk))
    ]


def test_the_oldest_fit_crates_go_and_none_twice(inn):
    make_lot(12, at=NOW - 20 * DAY)
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12)
    first, second = order(inn), order(inn, 10)
    assert set(planned(first)) == {(old.pk, 12), (new.pk, 6)}
    assert planned(second) == [(new.pk, 6)]
    assert shorts(second) == [(4, "not-enough")]


def test_a_crop_that_all_goes_elsewhere_is_told_from_one_that_is_not_there(inn):
    make_lot(12)
    order(inn, 12)
    assert [reason for _, reason in shorts(order(inn, 5))] == ["not-enough"]
    salad = [Wanted(builders.crop("salad-mix"), "kg", Decimal(1))]
    assert shorts(say_order(act(), outlet=inn, lines=salad)) == [(1, "none")]


def test_what_is_due_first_is_served_first_whatever_was_said_first(inn):
    lot = make_lot(12)
    later, sooner = order(inn, 12, days=2), order(inn, 12, days=1)
    assert planned(sooner) == [(lot.pk, 12)]
    assert shorts(later) == [(12, "not-enough")]


def test_what_a_market_would_like_waits_for_what_a_kitchen_was_promised(inn):
    lot = make_lot(12)
    wish, firm = order(builders.market(), 12), order(inn, 12, days=2)
    assert planned(firm) == [(lot.pk, 12)]
    assert planned(wish) == []


def test_the_line_due_first_gets_the_crate_that_goes_first(farm):
    """Today the 10-day crate must not be sent on Wednesday and the 6-day one kept for Friday."""
    kitchen = Outlet.objects.create(name="Inn", minimum_days=1)
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12)
    friday, wednesday = order(kitchen, 12, days=2), order(kitchen, 12)
    assert planned(wednesday) == [(old.pk, 12)]
    assert planned(friday) == [(new.pk, 12)]


def test_what_is_taken_is_wanted_no_more_until_it_is_undone(inn):
    lot, said = make_lot(12), order(inn, 12)
    done = take_for_order(act(), order=said.pk, lot=lot.pk)
    assert (planned(said), shorts(said)) == ([], [])
    undo(act(), action=done)
    assert planned(said) == [(lot.pk, 12)]


def test_an_order_that_is_done_or_cancelled_wants_nothing(inn):
    lot = make_lot(12)
    done, cancelled, left = order(inn, 12), order(inn, 12), order(inn, 12)
    close_order(act(), order=done.pk)
    cancel_order(act(), order=cancelled.pk)
    assert planned(left) == [(lot.pk, 12)]


def test_a_crate_that_is_not_there_is_replaced_and_nobody_is_sent_to_it(inn):
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12)
    said = order(inn, 12)
    mark_missing(act(), order=said.pk, lot=old.pk, quantity=Decimal(12))
    assert planned(said) == [(new.pk, 12)]
    assert planned(order(inn, 12)) == []
    lost = read_rotation(Farm.objects.get(), NOW).not_found
    assert [crate.code for crate in lost] == [old.pk]
    assert [crate.code for crate in plan_book(Farm.objects.get(), NOW).lost] == [old.pk]
    count_lots(act(NOW + DAY), figures={old.pk: Decimal(12)}, reason="found")
    assert planned(said, NOW + DAY) == [(old.pk, 12)]


def test_held_and_kept_crates_are_never_planned(inn):
    held, kept = make_lot(12), make_lot(12, at=NOW - 20 * DAY)
    hold(act(), lot=held.pk, reason="a doubt")
    inspect(act(), lot=kept.pk, days=2, seen="firm")
    assert planned(order(inn)) == []


def test_what_can_still_be_promised_is_what_no_order_gets(inn):
    make_lots(12, 12)
    order(inn, 14)
    (offer,) = read_offers(Farm.objects.get(), NOW)
    assert (offer.unit, offer.free) == ("bunch", 10)
    order(inn, 10)
    assert read_offers(Farm.objects.get(), NOW) == []


def test_a_plan_of_one_crop_is_that_part_of_the_whole(inn):
    make_lots(12, 12)
    make_lots(5, key="salad-mix")
    lines = [
        Wanted(builders.crop(), "bunch", Decimal(18)),
        Wanted(builders.crop("salad-mix"), "kg", Decimal(3)),
    ]
    said = say_order(act(), outlet=inn, lines=lines)
    farm, kale = Farm.objects.get(), builders.crop().pk
    whole = [take for take in plan_book(farm, NOW).of(said.pk) if take.crate.lot.crop_id == kale]
    part = plan_book(farm, NOW, {kale}).of(said.pk)
    assert [(take.crate.code, take.quantity) for take in part] == [
        (take.crate.code, take.quantity) for take in whole
    ]


def test_a_crate_says_which_orders_get_of_it(inn):
    lot = make_lot(12)
    first, second = order(inn, 5), order(inn, 4, days=1)
    crate = one_crate(lot.pk, Farm.objects.get(), NOW)
    takes = planned_of([crate], Farm.objects.get(), NOW)[lot.pk]
    assert [(take.order.id, take.quantity) for take in takes] == [(first.pk, 5), (second.pk, 4)]


def test_a_crate_alone_is_told_what_the_plan_of_all_says_of_it(inn):
    """Whether somebody is on the way to it, a buyer takes none like it, or nothing lacks."""
    fetched, too_old = make_lots(6, 6, at=NOW - 6 * DAY)
    other, _fresh = make_lot(12, at=NOW - 2 * DAY), make_lot(12)
    held, salad = make_lot(12), make_lot(3, key="salad-mix")
    hold(act(), lot=held.pk, reason="a doubt")
    first, _second = order(inn, 10), order(inn, 5, days=1)
    inn.minimum_days = 9
    inn.save()
    keep_for(first, (fetched, 6))
    farm = Farm.objects.get()
    plan, alone = plan_book(farm, NOW), {}
    for lot in (fetched, too_old, other, held, salad):
        alone |= planned_of([one_crate(lot.pk, farm, NOW)], farm, NOW)
        crate, takes = crate_and_planned(lot.pk, farm, NOW)
        assert (crate.code, told(takes)) == (lot.pk, told(alone[lot.pk]))
    assert {code: told(takes) for code, takes in alone.items()} == {
        code: told(plan.of_crate(code)) for code in alone
    }
    assert told(alone[fetched.pk])
    assert not told(alone[too_old.pk])


@pytest.mark.parametrize("of", ["good", "held", "of two", "out"])
def test_with_those_beside_it_a_crate_is_what_it_is_alone(inn, of):
    """Whatever its state, with all its parts; where nothing lacks it stands there alone."""
    good, held, out = make_lots(6, 6, 6)
    combine_lots(act(), lots=[make_lot(6).pk, make_lot(6, at=NOW - 2 * DAY).pk])
    hold(act(), lot=held.pk, reason="a doubt")
    take_out(act(), lot=out.pk, portion="all", purpose="own use")
    mixed = Lot.objects.get(intake=None)
    code = {"good": good, "held": held, "out": out, "of two": mixed}[of].pk
    farm = Farm.objects.get()
    for lacking in (0, 10):
        if lacking:
            order(inn, lacking)
        alone, (beside, takes) = one_crate(code, farm, NOW), crate_and_planned(code, farm, NOW)
        assert parts(beside) == parts(alone)
    assert told(takes) == told(plan_book(farm, NOW).of_crate(code))
    assert bool(takes) == (of == "of two")


def parts(crate) -> tuple:
    lot = crate.lot
    own = lot, lot.crop, lot.intake, lot.container, lot.position, lot.position and lot.position.room
    return own, lot.origins, crate.life, crate.verdict, crate.standing, crate.was_out, crate.tags


def test_no_crate_has_a_code_nobody_gave(farm):
    assert crate_and_planned("ZZZZZZZ", farm, NOW) is None


def told(takes) -> list[tuple]:
    return [(take.order.id, take.crate.code, take.quantity) for take in takes]


def test_of_a_crate_no_buyer_would_take_those_beside_it_are_not_read(
    inn, django_assert_num_queries
):
    old, _fresh = make_lot(12, at=NOW - 6 * DAY), make_lot(12)
    inn.minimum_days = 9
    inn.save()
    order(inn, 12)
    farm = Farm.objects.get()
    crate = one_crate(old.pk, farm, NOW)
    with django_assert_num_queries(4):  # lines, what was taken, what repeats, who is on the way
        assert planned_of([crate], farm, NOW) == {old.pk: []}


def test_what_somebody_is_on_the_way_to_stays_theirs_in_every_plan(inn):
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12)
    first, second = order(inn, 12), order(inn, 12)
    keep_for(second, (old, 12))
    assert planned(second) == [(old.pk, 12)]
    assert planned(first) == [(new.pk, 12)]


def test_an_order_that_repeats_is_found_by_the_id_of_its_day(inn):
    said = order(inn, 5, repeats=True)
    farm = Farm.objects.get()
    for each in read_book(farm, NOW):
        assert find_order(each.id, farm, NOW) == each
    dues = [each.due for each in read_book(farm, NOW)]
    assert dues == [TODAY, TODAY + 7 * DAY, TODAY + 14 * DAY]
    assert said.pk in {each.id for each in read_book(farm, NOW)}


def test_a_day_of_an_order_that_repeats_nobody_touched_stands_three_days_longer(inn):
    said = order(inn, 5, repeats=True)
    farm = Farm.objects.get()
    close_order(act(), order=said.pk)
    due = TODAY + 7 * DAY
    key = next(each.id for each in read_book(farm, NOW) if each.due == due)
    for later in range(11):
        first = read_book(farm, NOW + later * DAY)[0]
        assert (first.id, first.due) == (key, due), later
    assert read_book(farm, NOW + 11 * DAY)[0].due == due + 7 * DAY
    assert find_order(key, farm, NOW + 10 * DAY).due == due
    assert find_order(key, farm, NOW + 11 * DAY) is None
    cancel_order(act(NOW + 10 * DAY), order=key)
    assert read_book(farm, NOW + 10 * DAY)[0].due == due + 7 * DAY


def test_the_last_day_of_an_order_that_repeats_no_more_is_asked_about_too(inn):
    order(inn, 5, repeats=True)
    farm = Farm.objects.get()
    due = TODAY + 7 * DAY
    StandingOrder.objects.update(ends=due + DAY)
    last = [each.due for each in read_book(farm, NOW + 9 * DAY)]
    assert last == [TODAY, due]


def test_an_order_that_repeats_with_nothing_in_it_stands_in_the_book_too(inn):
    order(inn, 5, repeats=True)
    StandingLine.objects.all().delete()
    book = read_book(Farm.objects.get(), NOW)
    assert [(each.due, len(each.lines)) for each in book][1:] == [
        (TODAY + 7 * DAY, 0),
        (TODAY + 14 * DAY, 0),
    ]


def test_a_buyer_switched_off_repeats_no_more(inn):
    order(inn, 5, repeats=True)
    Outlet.objects.filter(pk=inn.pk).update(in_use=False)
    assert [each.due for each in read_book(Farm.objects.get(), NOW)] == [TODAY]


# days on arrival


def test_a_crate_is_promised_for_the_day_it_arrives_not_for_today(farm):
    """Kale kept at the room's 2 °C until then, and in a fridge at 5 °C after that."""
    lot = make_lot(12)
    crate = one_crate(lot.pk, farm, NOW)
    days = [crate.days_on_arrival(TODAY + n * DAY, 5.0).days for n in range(0, 20, 4)]
    assert days == sorted(days, reverse=True)
    assert days[0] == crate.fridge_days(5.0).days
    assert days[-1] == -1
    outlet = Outlet.objects.create(name="Inn", minimum_days=days[1], fridge_c=5)
    assert planned(order(outlet, 5, days=4)) == [(lot.pk, 5)]
    assert planned(order(outlet, 5, days=8)) == []


def test_hours_without_cold_on_the_way_cost_what_a_stall_costs(farm):
    crate = one_crate(make_lot(12).pk, farm, NOW)
    near, far = (crate.days_on_arrival(TODAY, 5.0, hours).days for hours in (0, 12))
    assert far < near


def test_a_fridge_nobody_knows_is_reckoned_at_the_food_codes_limit(farm):
    """FDA Food Code 3-501.16(A)(2): cold food is held at 5 °C (41 °F) or less."""
    unknown, known = Outlet(name="Inn"), Outlet(name="Bistro", fridge_c=Decimal(2))
    assert (unknown.fridge, known.fridge) == (5.0, 2.0)


def test_it_must_keep_until_that_buyers_next_delivery_unless_days_are_set():
    """A Wednesday's kitchen with deliveries on Monday and Wednesday: five days."""
    wednesday = date(2026, 6, 10)
    kitchen = Outlet(name="Inn", delivery_days="02")
    assert kitchen.days_wanted(wednesday) == 5
    assert kitchen.days_wanted(wednesday - 2 * DAY) == 2
    assert Outlet(name="Inn", delivery_days="2").days_wanted(wednesday) == 7
    assert Outlet(name="Inn").days_wanted(wednesday) == 0
    assert Outlet(name="Inn", delivery_days="02", minimum_days=1).days_wanted(wednesday) == 1


def test_an_order_is_for_their_first_delivery_whose_cut_off_is_not_over():
    """Deliveries on Monday and Wednesday, to be ordered two days before."""
    wednesday, monday = date(2026, 6, 10), date(2026, 6, 15)
    kitchen = Outlet(name="Inn", delivery_days="02")
    assert kitchen.first_delivery(wednesday) == wednesday
    assert kitchen.first_delivery(wednesday + DAY) == monday
    assert kitchen.cut_off(monday) is None
    kitchen.cut_off_days = 2
    assert kitchen.first_delivery(wednesday - DAY) == monday
    assert kitchen.first_delivery(wednesday - 2 * DAY) == wednesday
    assert kitchen.cut_off(monday) == date(2026, 6, 13)
    assert Outlet(name="Inn", cut_off_days=2).first_delivery(wednesday) == wednesday


def test_greens_of_tuesday_go_to_wednesdays_kitchen_or_to_that_weeks_market(farm):
    """Common practice, no source: cut on Tuesday and cooled they go to Wednesday's kitchen when
    its own days are met; what misses them goes to that week's market."""
    tuesday = NOW - DAY
    fresh, tired = make_lot(12, at=tuesday), make_lot(12, at=NOW - 5 * DAY)
    kitchen = Outlet.objects.create(name="Inn", minimum_days=6)
    wednesday, saturday = order(kitchen, 24), order(builders.market(), 24, days=3)
    assert planned(wednesday) == [(fresh.pk, 12)]
    assert shorts(wednesday) == [(12, "too-old")]
    assert planned(saturday) == [(tired.pk, 12)]


# one buyer's own fridge


def plan(farm, lot: Lot, wanted=5, at=NOW, **buyer):
    outlet = Outlet.objects.create(name=f"Kitchen {Outlet.objects.count()}", **buyer)
    line = Wanted(lot.crop, lot.unit, Decimal(wanted))
    said = say_order(act(at), outlet=outlet, lines=[line])
    found = planned(said, at), [reason for _, reason in shorts(said, at)]
    cancel_order(act(at), order=said.pk)
    return found


@pytest.mark.parametrize(
    ("fridge_c", "minimum", "goes"),
    [
        (4, 5, True),  # 5.6 days until the cold hurts it, AH-66 page 323, Table 1
        (4, 6, False),  # decay alone would promise 7
        (12, 7, True),
        ("2.5", 4, True),  # 4.5 days there
        ("2.5", 5, False),
    ],
)
def test_eggplant_is_promised_for_as_long_as_the_buyers_fridge_does_not_hurt_it(
    farm, fridge_c, minimum, goes
):
    lot = make_lot(key="eggplant", unit="kg")
    takes, why = plan(farm, lot, fridge_c=Decimal(fridge_c), minimum_days=minimum)
    assert takes == ([(lot.pk, 5)] if goes else [])
    assert why == ([] if goes else ["too-old"])


def test_what_is_not_for_the_fridge_is_promised_by_its_lowest_safe_temperature(farm):
    """Mango, 14 days at 10 °C (AH-66 page 63): no days in the cold are published."""
    lot = make_lot(key="mango", unit="kg")
    assert plan(farm, lot, minimum_days=14)[0] == [(lot.pk, 5)]
    assert plan(farm, lot, minimum_days=15)[0] == []


def test_after_a_good_look_what_the_cold_may_have_hurt_is_planned_again(farm):
    set_target(3, NOW - HOUR)
    lot = make_lot(key="mango", unit="kg")
    assert plan(farm, lot, at=NOW + DAY)[0] == []
    assert read_offers(farm, NOW + DAY) == []
    inspect(act(NOW + DAY), lot=lot.pk, days=1, seen="firm")
    assert plan(farm, lot, at=NOW + 25 * HOUR)[0] == [(lot.pk, 5)]


def test_of_crates_that_do_the_one_with_fewer_days_shown_goes(farm):
    new, old = make_lot(at=NOW), make_lot(at=NOW - 3 * DAY)
    assert plan(farm, new, minimum_days=3)[0] == [(old.pk, 5)]
    assert dict(plan(farm, new, wanted=20)[0]) == {old.pk: 12, new.pk: 8}


def test_of_crates_with_the_same_days_the_earlier_cut_goes(farm):
    """An hour apart, the same whole days everywhere."""
    new, old = make_lot(at=NOW), make_lot(at=NOW - HOUR)
    assert plan(farm, new)[0] == [(old.pk, 5)]


def test_what_went_out_by_hand_is_planned_for_nobody(inn):
    lots = make_lots(12, 12)
    said = order(inn, 12)
    take_out(act(), lot=lots[0].pk, portion="all", purpose="own use")
    assert planned(said) == [(lots[1].pk, 12)]

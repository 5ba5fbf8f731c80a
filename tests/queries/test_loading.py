"""What to load for a market day, from the crates that are here and the days that were closed."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.learning.demand import AllSoldOut, Demand, TooFew, Weather
from inventory.models import Crop, Lot, MarketDay, MarketHabit, MarketSale, Outlet
from inventory.queries.book import Wanted
from inventory.queries.loading import Own, Question, markets, next_market, read_loading
from inventory.rotation.loading import Rather, Ratio, Why
from tests.builders import NOW, act, crop, make_cases, make_lot, make_lots, market, say_order, take
from tests.models.test_ledger import make_action

DAY = timedelta(days=1)
TODAY = NOW.date()
TOMORROW = TODAY + DAY


def close_days(*sold, back=12, said="no", weather="usual", outlet=None, first=TODAY - 70 * DAY):
    """Market days a week apart, closed with so many bunches of kale sold and brought back."""
    for number, bunches in enumerate(sold):
        closed = MarketDay.objects.create(
            outlet=outlet or market(), day=first + 7 * number * DAY, weather=weather,
            action=make_action(kind="settle"),
        )  # fmt: skip
        MarketSale.objects.create(
            market_day=closed, crop=crop(), unit="bunch", loaded=bunches + back, sold=bunches,
            back=back, sold_out=said,
        )  # fmt: skip


def usually(sells, least=None, key="kale", unit="bunch"):
    MarketHabit.objects.create(
        outlet=market(), crop=crop(key), unit=unit, usually_sells=sells, least_on_table=least
    )


def price(euros, key="kale"):
    Crop.objects.filter(reference_key=key).update(price=euros)


def kitchen(**changes) -> Outlet:
    return Outlet.objects.create(**{"name": "The Heron", "minimum_days": 1} | changes)


def read(farm, at=NOW, **changes):
    return read_loading(farm, at, Question(market(), **{"day": TOMORROW} | changes)).rows


def only(farm, **changes):
    (row,) = read(farm, **changes)
    return row


def test_the_load_is_whole_crates_oldest_first_by_the_days_that_were_closed(farm):
    old = make_lots(12, 12, at=NOW - DAY)
    make_lots(12, 12)
    close_days(20, 30, 22, 26)
    row = only(farm)
    assert isinstance(row.load.known, Demand)
    assert (row.load.known.mean, row.load.known.markets) == (24.5, 4)
    assert (row.load.crates, row.load.why, row.load.ratio) == (
        2,
        Why.RULE,
        Ratio(0.5, rather="even"),
    )
    assert {crate.code for crate in row.crates} == {lot.pk for lot in old}
    assert (row.quantity, row.number) == (24, 2)


def test_what_the_farm_usually_sells_and_the_least_on_the_table_count(farm):
    make_lots(*[12] * 6)
    usually(30, least=12)
    row = only(farm)
    assert (row.load.known.usually, row.load.least) == (30, 12)
    assert (row.load.crates, row.load.why) == (4, Why.USUALLY)


def test_sold_out_days_are_known_as_at_least(farm):
    make_lots(*[12] * 6)
    close_days(24, 36, back=0, said="early")
    assert only(farm).load.known == AllSoldOut(36, 2)
    assert only(farm).load.crates == 4
    close_days(30, back=0, said="end", first=TODAY - 7 * DAY)
    assert only(farm).load.known.sold_out == 2


def test_days_that_say_nothing_of_this_market_stay_out(farm):
    """Taken back, of another market, of a year and more ago, and of other weather."""
    make_lots(12)
    close_days(500)
    MarketDay.objects.update(stands=False)
    close_days(500, outlet=Outlet.objects.create(name="Sunday market", kind="market"))
    close_days(500, first=TODAY - 401 * DAY)
    close_days(10, 12, 14, weather="poor")
    assert only(farm).load.known == TooFew(0)
    assert only(farm, weather=Weather.POOR).load.known.mean == 12


def test_what_is_promised_to_others_is_not_there_to_load(farm):
    make_lots(12, 12, 12)
    heron = kitchen()
    say_order(act(), outlet=heron, lines=[Wanted(crop(), "bunch", Decimal(14))], due=TOMORROW)
    usually(36)
    row = only(farm)
    assert (row.stock.crates, row.load.crates, row.load.figured) == (1, 1, 3)
    assert row.load.why == Why.NO_MORE_THERE
    assert row.promised == 0


def test_what_this_market_ordered_is_apart_and_the_rest_by_rule(farm):
    make_lots(12, 12, 12)
    say_order(act(), outlet=market(), lines=[Wanted(crop(), "bunch", Decimal(12))], due=TOMORROW)
    usually(12)
    row = only(farm)
    assert (row.promised, len(row.for_orders), row.load.crates, row.number) == (12, 1, 1, 2)
    assert len(row.codes) == 2
    assert only(farm, day=TODAY).promised == 0


def test_what_is_ordered_and_not_here_stands_in_the_list(farm):
    say_order(act(), outlet=market(), lines=[Wanted(crop(), "bunch", Decimal(12))], due=TOMORROW)
    row = only(farm)
    assert (row.promised, row.load, row.codes) == (12, None, [])


def test_what_must_move_goes_first_and_all_of_it(farm):
    """Kale of 8 days is on the list to sell first; what is fresh stays when little is wanted."""
    fresh = make_lot(12, at=NOW)
    old = make_lots(12, 12, at=NOW - 8 * DAY)
    usually(6)
    row = only(farm)
    assert (row.stock.must_move, row.load.figured, row.load.crates) == (2, 1, 2)
    assert {crate.code for crate in row.crates} == {lot.pk for lot in old}
    assert fresh.pk not in {crate.code for crate in row.codes}


def test_what_the_market_refuses_or_is_not_in_place_is_not_counted(farm):
    Outlet.objects.filter(pk=market().pk).update(own_grown_only=True)
    make_cases(18)
    gone, _here = make_lots(12, 12)
    take(gone, "all", purpose="own use")
    assert only(farm).stock.crates == 1


def test_what_is_on_the_van_already_is_not_to_be_loaded_again(farm):
    lots = make_lots(12, 12, 12, 12)
    close_days(32, 34, 36, 38)
    before = only(farm)
    assert (before.load.crates, before.loaded, before.still_to_go) == (3, 0, 3)
    for number, lot in enumerate(before.crates[:2], start=1):
        take(lot.lot, "all")
        row = only(farm)
        assert (row.load.crates, row.loaded, row.number) == (3, number, 3 - number)
    assert len(row.crates) == 1
    assert row.crates[0].code in {lot.pk for lot in lots}
    for lot in lots[:4]:
        if Lot.objects.get(pk=lot.pk).quantity:
            take(lot, "all")
    assert only(farm).number == 0


def test_of_an_odd_day_with_too_few_like_it_a_usual_one_is_asked_and_said(farm):
    make_lots(12, 12, 12, 12)
    close_days(20, 30, 22, 26)
    close_days(9, weather="strong", first=TODAY - 7 * DAY)
    row = only(farm, weather=Weather.STRONG)
    assert (row.as_usual, row.load.known.mean, row.load.crates) == (True, 24.5, 2)
    close_days(44, 46, 48, weather="strong", first=TODAY - 300 * DAY)
    row = only(farm, weather=Weather.STRONG)
    assert (row.as_usual, row.load.crates) == (False, 3)


def test_a_crop_that_is_usually_sold_and_is_not_here_says_how_many(farm):
    lot = make_lot(12, at=NOW - DAY)
    take(lot, "all", purpose="own use")
    usually(30)
    row = only(farm)
    assert (row.load.crates, row.load.figured, row.load.why) == (0, 3, Why.NO_MORE_THERE)
    usually(30, key="basil")
    assert len(read(farm)) == 1  # of basil nobody knows what a crate holds


def test_without_a_price_or_a_worth_it_is_the_plain_choice(farm):
    make_lot(12)
    heron = kitchen(delivery_days=str((TODAY + 3 * DAY).weekday()))
    say_order(act(), outlet=heron, lines=[Wanted(crop(), "bunch", Decimal(1))], due=TODAY + 3 * DAY)
    make_lot(12)
    for euros in (None, 3):
        price(euros)
        assert only(farm, rather=Rather.RUN_OUT).load.ratio == Ratio(0.35, rather=Rather.RUN_OUT)


def test_the_worth_at_home_a_person_says_makes_the_ratio(farm):
    """Kitchens take nothing that was out, so what comes back is worth nothing: 2 / 3."""
    make_lots(12, 12)
    price(3)
    heron = kitchen(delivery_days=str((TODAY + 3 * DAY).weekday()))
    say_order(act(), outlet=heron, lines=[Wanted(crop(), "bunch", Decimal(1))], due=TODAY + 3 * DAY)
    said = {(crop().pk, "bunch"): Own(at_home=Decimal(1))}
    assert only(farm, own=said).load.ratio == Ratio(pytest.approx(2 / 3), 2, 1)
    # A market that comes again while it keeps takes it back: nothing is lost.
    sunday = Outlet.objects.create(
        name="Sunday", kind="market", minimum_days=1, delivery_days=str((TODAY + 3 * DAY).weekday())
    )
    close_days(20, outlet=sunday, first=TODAY - 7 * DAY)
    assert only(farm, own=said).load.ratio.over == 0


def test_what_nobody_comes_for_before_it_is_past_is_worth_nothing_at_home(farm):
    make_lot(12)
    price(3)
    assert only(farm).load.ratio == Ratio(0.98, 3, 0)
    close_days(20, first=TODAY - 7 * DAY)  # the market itself is back in a week, and kale keeps
    assert only(farm).load.ratio == Ratio(0.5, rather=Rather.EVEN)


def test_a_persons_number_of_crates_wins(farm):
    make_lots(12, 12)
    usually(24)
    row = only(farm, own={(crop().pk, "bunch"): Own(crates=1)})
    assert (row.load.crates, row.load.why, len(row.crates)) == (1, Why.OWN, 1)


def test_the_next_market_is_today_while_it_is_one(farm):
    outlet = market()
    assert next_market(outlet, TODAY) == TOMORROW  # none is set
    for days in range(7):
        outlet.delivery_days = str((TODAY + days * DAY).weekday())
        assert next_market(outlet, TODAY) == TODAY + days * DAY
    assert markets() == [outlet]


def test_it_asks_the_database_as_often_whatever_is_here(farm):
    counts = []
    for lots in (2, 5):
        make_lots(*[12] * lots)
        close_days(20, 30, first=TODAY - 70 * lots * DAY)
        read(farm)
        with CaptureQueriesContext(connection) as asked:
            read(farm)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_crops_with_a_habit_of_which_none_is_here_are_asked_about_together(farm):
    counts = []
    for key in ("kale", "apple", "basil"):
        usually(10, key=key)
        take(make_lot(12, key=key, at=NOW - DAY), "all", at=NOW - DAY, purpose="own use")
        with CaptureQueriesContext(connection) as asked:
            found = read(farm)
        counts.append(len(asked))
    assert {row.crop.reference_key: row.stock.crate for row in found} == dict.fromkeys(
        ("kale", "apple", "basil"), Decimal(12)
    )
    assert counts == [counts[0]] * 3

"""The load against published exercises, scipy, and markets whose demand is known.

Exercises: m2 the NewsvendorModel.jl documentation, docs/src/index.md; m4 an exercise of a
University of Florida programme (solvely.ai copy); m6 the lemonade problem (brainmass.com, question
only); m8 essayzeus.com/?p=36994 (question only); m10, m12 "Solving the Newsboy Problem" (scribd
252918670, question and method). Figures not printed there were computed by closed form and by
numerical integral. m14, the two kinds of service of itpub.net thread 976340, is left out: no page
shows either figure. m16: see tests/learning/test_demand.py.
"""

from dataclasses import replace
from decimal import Decimal
from math import sqrt
from statistics import fmean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inventory.learning.demand import AllSoldOut, Demand, TooFew, fit_normal
from inventory.rotation.loading import (
    MOST_SURE,
    Buyer,
    Rather,
    Ratio,
    Stock,
    Why,
    Worth,
    expected_left,
    expected_loss,
    expected_short,
    plan_load,
    quantile,
    ratio_of,
    worth_with,
)
from tests.rotation.markets import (
    MOST_LOST,
    as_last_week,
    by_the_rule,
    cells,
    losses,
    mean_and_worst_tenth,
)

EVEN = Ratio(0.5, rather=Rather.EVEN)
KALE = Stock(Decimal(12), crates=10)
DAYS = Demand(mean=26, deviation=6, markets=8, sold_out=3)


# Spread so little that the rule's normal distribution has nothing below 0 to speak of.
def normal(mean: float, deviation: float) -> Demand:
    return Demand(mean, deviation, 8, 0)


def money(price, at_home, after) -> Ratio:
    return ratio_of(Worth(Decimal(str(price)), Decimal(str(at_home)), Decimal(str(after))))


DEMANDS = st.tuples(st.floats(1, 300), st.floats(0.01, 0.48)).map(
    lambda figures: normal(figures[0], figures[0] * figures[1])
)
RATIOS = st.floats(0.02, MOST_SURE)


def test_published_exercises():
    """(price, cost, salvage, mean, deviation) → ratio and load; what it costs is its worth."""
    table = [
        (7, 5, 0, 50, 20, 0.2857, 38.68),  # m2
        (4, 1, 0.2, 50_000, 10_000, 0.7895, 58_046),  # m4, exact
        (15, 4, 0, 800, sqrt(250), 0.7333, 809.85),  # m6
        (20, 14, 5, 115, 15, 0.40, 111.20),  # m8
        (20, 14, 5, 115, 5, 0.40, 113.73),  # m8: less spread, nearer the mean
        (130, 100, 80, 1000, 200, 0.60, 1050.67),  # m10
        (0.3, 0.1, 0, 500, 100, 0.6667, 543.07),  # m12
    ]
    for price, cost, salvage, mean, deviation, ratio, load in table:
        found = money(price, cost, salvage)
        assert found.value == pytest.approx(ratio, abs=5e-5)
        assert quantile(normal(mean, deviation), found.value) == pytest.approx(
            load, rel=2e-5, abs=6e-3
        )


def test_published_sales_and_profits():
    """m2: at 39 sold 35.34, short 14.66, left 3.66, profit 52.41."""
    demand = normal(50, 20)
    short, left = expected_short(demand, 39), expected_left(demand, 39)
    assert (50 - short, short, left) == pytest.approx((35.34, 14.66, 3.66), abs=0.005)
    assert 2 * (50 - short) - 5 * left == pytest.approx(52.41, abs=0.01)


def test_published_share_of_demand_served():
    """m10: at 1050.67 short 57.0, 94.30 % served, profit 26,136.6."""
    demand = normal(1000, 200)
    short, left = expected_short(demand, 1050.67), expected_left(demand, 1050.67)
    assert short == pytest.approx(57.0, abs=0.05)
    assert 1 - short / 1000 == pytest.approx(0.9430, abs=5e-5)
    assert 30 * (1000 - short) - 20 * left == pytest.approx(26_136.6, rel=1e-5)


def test_published_risk_of_selling_out():
    """m4: the table's z 0.81 gives 58,100, and the risk at the exact load is 21.05 %."""
    ratio = money(4, 1, 0.2).value
    assert 50_000 + round(stats.norm.ppf(ratio) + 0.005, 2) * 10_000 == pytest.approx(58_100)
    load = quantile(normal(50_000, 10_000), ratio)
    assert stats.norm.sf(load, 50_000, 10_000) == pytest.approx(0.2105, abs=5e-5)


def test_published_demand_in_steps():
    """m6: 10 to 14 with .3 .2 .2 .1 .2: the smallest that is enough often enough is 13, and the
    ratio's own loss finds it too, for the profit of each is what none would lose less it."""
    shares = dict(zip(range(10, 15), (0.3, 0.2, 0.2, 0.1, 0.2), strict=True))
    ratio = money(15, 4, 0)
    enough = {cups: sum(shares[n] for n in shares if n <= cups) for cups in shares}
    assert min(cups for cups in shares if enough[cups] >= ratio.value) == 13
    mean = sum(cups * share for cups, share in shares.items())
    assert mean == pytest.approx(11.7)
    both = float(ratio.under + ratio.over)
    profits = []
    for load in shares:
        short = sum(share * max(cups - load, 0) for cups, share in shares.items())
        loss = ratio.value * short + (1 - ratio.value) * (load - mean + short)
        profits.append(float(ratio.under) * mean - both * loss)
    assert profits == pytest.approx([110.0, 116.5, 120.0, 120.5, 119.5])


def test_published_even_spread():
    """m8: anything from 80 to 150 alike: 108."""
    assert 80 + 70 * money(20, 14, 5).value == pytest.approx(108)


def test_published_sold_out_days():
    """m16: at 2/3 the censored fit loads 28.72, sales taken for demand 26.47."""
    sold, sold_out = (18, 22, 25, 21, 27), (25, 30, 30)
    right, wrong = fit_normal(sold, sold_out), fit_normal(sold + sold_out)
    assert quantile(normal(*right), 2 / 3) == pytest.approx(28.72, rel=1e-3)
    assert quantile(normal(*wrong), 2 / 3) == pytest.approx(26.47, rel=1e-3)


def test_published_sales_by_deviations_loaded():
    """m18: the mean of what is sold with the mean and k deviations loaded."""
    for k, lost in ((-1, 1.0833), (0, 0.3989), (1, 0.0833), (2, 0.0085)):
        assert expected_short(normal(0, 1), k) == pytest.approx(lost, abs=5e-5)
        assert expected_short(normal(60, 7), 60 + 7 * k) == pytest.approx(7 * lost, abs=5e-4)


def test_less_than_even_loads_less_than_the_mean():
    assert quantile(DAYS, 0.35) < 26 == quantile(DAYS, 0.5) < quantile(DAYS, 0.7)


@settings(max_examples=50)
@given(DEMANDS, RATIOS)
def test_the_quantile_is_scipys(demand, ratio):
    expected = stats.norm.ppf(ratio, demand.mean, demand.deviation)
    assert quantile(demand, ratio) == pytest.approx(max(expected, 0), rel=1e-9, abs=1e-6)


def test_what_is_short_is_scipys_integral():
    for mean, deviation, load in ((50, 20, 39), (40, 12, 40), (300, 9, 325), (12, 5, 2)):
        days = {"loc": mean - load, "scale": deviation}  # what is asked for beyond the load
        short, less = (stats.norm.expect(**days, **end) for end in ({"lb": 0}, {"ub": 0}))
        demand = normal(mean, deviation)
        assert expected_short(demand, load) == pytest.approx(short, abs=1e-6)
        assert expected_left(demand, load) == pytest.approx(-less, abs=1e-6)


def test_days_all_alike_are_short_or_left_by_the_difference():
    demand = normal(30, 0)
    assert (expected_short(demand, 24), expected_left(demand, 24)) == (6, 0)
    assert (expected_short(demand, 36), expected_left(demand, 36)) == (0, 6)


@settings(max_examples=40)
@given(DEMANDS, RATIOS, st.sampled_from(["12", "24.5", "40"]), st.integers(0, 20))
def test_no_other_number_of_crates_is_expected_to_lose_less(demand, ratio, crate, least):
    """The crates next to the quantile are enough to look at: tried against sixty."""
    crate = Decimal(crate)
    load = plan_load(demand, Ratio(ratio), Stock(crate, 10_000), least)
    costs = [expected_loss(demand, crates * float(crate) - least, ratio) for crates in range(60)]
    assert costs[load.crates] == pytest.approx(min(costs), abs=1e-9)
    assert load.wanted == quantile(demand, ratio) + least
    assert load.why == Why.RULE


def test_the_two_lines_can_be_worked_out_by_hand():
    """Price 3, at home 1, after 0: 2 / 3. 26 + 0.43 · 6 = 28.6; two crates of 12 or three."""
    load = plan_load(DAYS, money(3, 1, 0), KALE)
    assert (load.ratio.under, load.ratio.over) == (2, 1)
    assert load.ratio.value == pytest.approx(2 / 3)
    assert load.sure == pytest.approx(0.4307, abs=1e-4)
    assert load.wanted == pytest.approx(26 + 0.4307 * 6, abs=1e-3)
    assert (load.below, load.crates, load.quantity, load.why) == (2, 2, 24, Why.RULE)
    assert (load.fewer_costs, load.more_costs) == pytest.approx(
        (2 / 3 * 3.528 + 1 / 3 * 1.528, 2 / 3 * 0.123 + 1 / 3 * 10.123), abs=1e-2
    )


def test_the_crates_above_are_chosen_where_they_lose_less():
    """The same days and 3.1 asked for: 35 of 36 is nearer than 24."""
    load = plan_load(replace(DAYS, mean=33), money(3, 1, 0), KALE)
    assert (load.below, load.crates) == (2, 3)
    assert load.more_costs < load.fewer_costs


def test_a_missing_figure_leaves_one_plain_choice():
    for rather, value in ((Rather.RUN_OUT, 0.35), (Rather.EVEN, 0.5), (Rather.BRING_HOME, 0.7)):
        for missing in (
            Worth(None, Decimal(1), Decimal(0)),
            Worth(Decimal(3), None, Decimal(0)),
            Worth(Decimal(3), Decimal(1), None),
        ):
            assert ratio_of(missing, rather) == Ratio(value, rather=rather)
    assert money(3, 1, 0).rather is None


def test_what_is_worth_more_at_home_stays_there():
    ratio = money(2, 2, 0)
    assert ratio.value == 0
    load = plan_load(DAYS, ratio, KALE)
    assert (load.crates, load.sure, load.why) == (0, None, Why.RULE)
    for known in (Demand(26, 6, 0, 0, 26), AllSoldOut(24, 2), Demand(26, 6, 2, 2, 26, gone_at=24)):
        assert plan_load(known, ratio, KALE, least=12).crates == 0


def test_where_nothing_is_lost_by_bringing_it_back_it_is_still_not_the_whole_room():
    for after in (1, 2):
        assert money(3, 1, after).value == MOST_SURE
    assert money(1000, 0.01, 0).value == MOST_SURE
    assert plan_load(DAYS, money(3, 1, 1), KALE).crates == 3


def test_what_a_unit_is_worth_by_who_comes_before_it_is_past():
    inn, cafe = Decimal("2.50"), Decimal("1.80")
    table = [
        ([Buyer(4, 4, inn), Buyer(3, 2, cafe)], inn),
        ([Buyer(3.9, 4, inn), Buyer(3, 2, cafe)], cafe),
        ([Buyer(3.9, 4, inn), Buyer(1.9, 2, cafe)], 0),
        ([Buyer(0, 0, inn)], inn),
        ([Buyer(-1, 0, inn), Buyer(-1, -2, inn)], 0),
        ([], 0),
        ([Buyer(4, 4, inn), Buyer(9, 1, None)], inn),
        ([Buyer(3, 4, inn), Buyer(9, 1, None)], None),
    ]
    for buyers, worth in table:
        assert worth_with(buyers) == worth


def test_the_least_on_the_table_is_loaded_on_top():
    """26 wanted evenly; with 10 that lie there to the end 36."""
    assert plan_load(DAYS, EVEN, KALE).crates == 2
    load = plan_load(DAYS, EVEN, KALE, least=10)
    assert (load.wanted, load.crates, load.least) == (36, 3, 10)


def test_what_must_move_is_the_floor_and_what_there_is_the_ceiling():
    table = [
        (KALE, 2, Why.RULE),
        (replace(KALE, must_move=2), 2, Why.RULE),
        (replace(KALE, must_move=5), 5, Why.MUST_MOVE),
        (replace(KALE, crates=1), 1, Why.NO_MORE_THERE),
        (replace(KALE, crates=0), 0, Why.NO_MORE_THERE),
    ]
    for stock, crates, why in table:
        load = plan_load(DAYS, EVEN, stock)
        assert (load.crates, load.why, load.figured) == (crates, why, 2)


def test_a_persons_figure_wins_over_everything():
    for own in (0, 1, 25):
        load = plan_load(DAYS, EVEN, replace(KALE, must_move=3), own=own)
        assert (load.crates, load.why) == (own, Why.OWN)
        assert load.below == 2  # what the rule says stands beside it
    assert plan_load(TooFew(0), EVEN, KALE, own=4).crates == 4


def test_before_the_first_market_it_is_what_is_usually_sold():
    """Nearest whole crates, and no shading: 20 is two crates of 12, 60 five, 17 one."""
    for usually, crates in ((20, 2), (60, 5), (17, 1), (18, 2), (40, 3)):
        guess = Demand(usually, 0.35 * usually, 0, 0, usually)
        load = plan_load(guess, Ratio(0.35), KALE)
        assert (load.crates, load.why) == (crates, Why.USUALLY)
    assert plan_load(guess, Ratio(0.35), KALE, least=5).crates == 4


def test_all_sold_out_is_one_crate_more_than_the_largest_load():
    for most, crates in ((24, 3), (25, 4), (36, 4)):
        load = plan_load(AllSoldOut(most, 2), EVEN, KALE)
        assert (load.crates, load.why, load.wanted) == (crates, Why.MORE, None)
    leaning = Demand(20, 6, 2, 2, usually=18, gone_at=24)
    for crates in (10, 1):
        load = plan_load(leaning, EVEN, replace(KALE, crates=crates))
        assert (load.figured, load.figured_by, load.crates) == (3, Why.MORE, min(3, crates))
    assert plan_load(replace(leaning, mean=36), EVEN, KALE).why == Why.RULE  # three as well
    assert plan_load(replace(leaning, mean=70), EVEN, KALE).why == Why.RULE
    assert plan_load(AllSoldOut(24, 2), EVEN, replace(KALE, crates=2)).why == Why.NO_MORE_THERE


def test_too_few_markets_load_what_must_move_and_nothing_invented():
    assert plan_load(TooFew(1), EVEN, KALE).why == Why.TOO_FEW
    assert plan_load(TooFew(1), EVEN, KALE).crates == 0
    must = plan_load(TooFew(1), EVEN, replace(KALE, must_move=2))
    assert (must.crates, must.why) == (2, Why.MUST_MOVE)


@pytest.mark.simulated
def test_simulated_markets_lose_little_however_wrong_the_guess():
    """60 farms a setting, always the same; the full run is tests/bench/bench_market.py."""
    for market, guess in cells():
        mean, worst_tenth = mean_and_worst_tenth(losses(market, guess, 60, by_the_rule))
        last_week = fmean(losses(market, guess, 60, as_last_week))
        cell = (market.spread, market.ratio, guess, mean, worst_tenth)
        assert mean <= MOST_LOST[guess], cell
        assert mean < last_week, cell
        assert worst_tenth < 0.2, cell

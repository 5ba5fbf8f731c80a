"""What is asked for at a market against scipy, a published set of sales, and what must hold.

m16: sales of eight days, three of them sold out, computed by three codes (direct likelihood, scipy
1.17 CensoredData, expectation and maximisation); that sales are a censored record of demand and
bias it downward is Mersereau, "Demand estimation from censored observations with inventory record
inaccuracy", 2012 (abstract).
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inventory.learning.demand import (
    AllSoldOut,
    Asked,
    Demand,
    SoldOut,
    TooFew,
    Weather,
    asked_for,
    demand,
    fit_normal,
)

EXACT, AT_LEAST = (18, 22, 25, 21, 27), (25, 30, 30)
SALES = st.floats(1, 200)


def just(*figures, weather=Weather.USUAL):
    return [Asked(figure, weather=weather) for figure in figures]


def more_than(*figures, weather=Weather.USUAL):
    return [Asked(figure, at_least=True, weather=weather) for figure in figures]


def log_likelihood(mean, deviation, exact, at_least) -> float:
    """The likelihood written out by scipy's own normal, as a second opinion."""
    normal = stats.norm(mean, deviation)
    return normal.logpdf(exact).sum() + normal.logsf(at_least).sum()


def test_eight_days_three_of_them_sold_out():
    """m16: right, and the two wrong ways, which show what ignoring a sell-out does."""
    assert fit_normal(EXACT, AT_LEAST) == pytest.approx((26.248, 5.746), rel=1e-3)
    assert fit_normal(EXACT + AT_LEAST) == pytest.approx((24.75, 3.99), rel=1e-3)
    assert fit_normal(EXACT) == pytest.approx((22.60, 3.14), rel=1e-3)


def test_it_is_scipys_fit_of_the_same_censored_days():
    """scipy.stats.norm.fit on CensoredData; few exact days, many sold out, far and near."""
    for exact, at_least in (
        (EXACT, AT_LEAST),
        ((10,), (24, 24)),
        ((14, 20, 26), (24,) * 12),
        ((30, 31, 29, 30), (5, 6)),
        ((28, 40, 52, 33, 41, 22), (36, 36, 48, 24, 48, 36)),
        ((0.4, 0.5, 0.7), (0.6,)),
        ((4000, 5100, 3600), (5200, 3000)),
    ):
        both = stats.CensoredData(uncensored=exact, right=at_least)
        # scipy stops at a ten-thousandth by itself, which its own likelihood then settles below.
        assert fit_normal(exact, at_least) == pytest.approx(stats.norm.fit(both), rel=2e-4)


@settings(max_examples=40)
@given(st.lists(SALES, min_size=1, max_size=8), st.lists(SALES, min_size=1, max_size=12))
def test_nothing_near_it_is_more_likely(exact, at_least):
    mean, deviation = fit_normal(exact, at_least)
    if deviation < 1e-3 * max(*exact, *at_least):
        assert max(at_least) <= max(exact) * 1.01  # all alike, and nothing reached further
        return
    best = log_likelihood(mean, deviation, exact, at_least)
    for other_mean, other_deviation in (
        (mean + deviation / 50, deviation),
        (mean - deviation / 50, deviation),
        (mean, deviation * 1.02),
        (mean, deviation / 1.02),
    ):
        assert log_likelihood(other_mean, other_deviation, exact, at_least) < best


@settings(max_examples=40)
@given(
    st.lists(SALES, min_size=2, max_size=6, unique=True),
    st.lists(SALES, max_size=6),
    st.sampled_from([0.001, 12.0, 1000.0]),
)
def test_the_unit_does_not_matter(exact, at_least, times):
    once = fit_normal(exact, at_least)
    scaled = fit_normal([times * x for x in exact], [times * x for x in at_least])
    size = max(*exact, *at_least)
    assert scaled == pytest.approx([times * figure for figure in once], abs=1e-6 * times * size)


def test_a_day_known_only_from_below_never_lowers_the_mean():
    mean, _ = fit_normal(EXACT)
    for reached in (1, 15, 22, 40, 400, 40_000):
        assert fit_normal(EXACT, [reached])[0] >= mean
    assert fit_normal(EXACT, [1])[0] == pytest.approx(mean)


def test_days_all_alike_have_no_spread():
    assert fit_normal([12, 12, 12]) == (12, 0)
    assert fit_normal([12], [12, 6]) == (12, 0)
    assert fit_normal([12, 12], [24])[1] > 1
    assert fit_normal([12], [12.5])[1] > 0.1


def test_without_one_exact_day_there_is_no_fit():
    with pytest.raises(ValueError, match="nothing is known exactly"):
        fit_normal([], [24, 36])


def test_what_a_closed_day_tells():
    table = [
        (40, 0, SoldOut.EARLY, Asked(40, at_least=True)),
        (40, 0, SoldOut.END, Asked(40)),
        (40, 0, SoldOut.NO, Asked(40)),
        (40, 0, SoldOut.UNSAID, Asked(40, at_least=True)),
        (34, 6, SoldOut.UNSAID, Asked(34)),
        (3.5, 0.5, SoldOut.UNSAID, Asked(3.5)),
        (34, 6, SoldOut.NO, Asked(34)),
        # The bunches that came back were no good any more: it was sold out all the same.
        (34, 6, SoldOut.EARLY, Asked(34, at_least=True)),
    ]
    for sold, back, said, expected in table:
        assert asked_for(sold, back, said) == expected
    assert asked_for(9, 1, SoldOut.NO, Weather.POOR).weather == Weather.POOR


def test_nobody_asks_for_less_than_nothing():
    for quantity in (-1, math.inf, math.nan):
        with pytest.raises(ValueError, match="nobody asks for"):
            Asked(quantity)


def test_demand_leans_on_what_is_usually_sold_as_on_three_days():
    """The deviation is that of a day to come: 11 days, so the root of 12 over 10 wider."""
    found = demand(just(*EXACT) + more_than(*AT_LEAST), usually=25)
    mean, deviation = fit_normal((*EXACT, 17.5, 25, 32.5), AT_LEAST)
    assert found == Demand(mean, pytest.approx(deviation * math.sqrt(1.2)), 8, 3, 25)


def test_before_the_first_market_the_farms_own_figure_is_all_there_is():
    """Mean 40; 0.3 · 40 · √(2/3) = 9.798 about it, and the root of 4 over 2 wider: 13.856."""
    assert demand([], usually=40) == Demand(40, pytest.approx(13.856, abs=1e-3), 0, 0, 40)


def test_a_farm_that_says_nothing_is_told_nothing_until_three_markets():
    assert demand([]) == TooFew(0)
    assert demand(just(20, 30)) == TooFew(2)
    assert demand(just(20) + more_than(30)) == TooFew(2)
    assert demand(just(20, 30, 40)) == Demand(30, pytest.approx(math.sqrt(200 / 3 * 2)), 3, 0)


def test_all_sold_out_says_only_more_than_the_largest():
    assert demand(more_than(24)) == AllSoldOut(24, 1)
    assert demand(more_than(24, 36, 12, 24)) == AllSoldOut(36, 4)
    leaning = demand(more_than(24, 36, 12), usually=20)
    assert (leaning.gone_at, leaning.sold_out) == (36, 3)
    assert demand(more_than(24, 36) + just(30), usually=20).gone_at is None


def test_odd_days_stay_out_unless_the_day_ahead_is_called_the_same():
    usual, rain = just(30, 40, 50), just(10, 12, 14, weather=Weather.POOR)
    holiday = more_than(90, weather=Weather.STRONG)
    days = [*rain, *usual, *holiday]
    assert demand(days).mean == pytest.approx(40)
    assert demand(days, ahead=Weather.POOR).mean == pytest.approx(12)
    assert demand(days, ahead=Weather.STRONG) == AllSoldOut(90, 1)


def test_what_is_usually_sold_says_nothing_of_an_odd_day():
    assert demand([], usually=40, ahead=Weather.POOR) == TooFew(0)
    rain = just(10, 12, 14, weather=Weather.POOR)
    assert demand(rain, 40, Weather.POOR) == demand(rain, None, Weather.POOR)


def test_only_the_last_twelve_of_its_kind_count():
    """The oldest usual day falls out; an odd one in between pushes none out."""
    days = just(500, *[40] * 6) + just(5, weather=Weather.POOR) + just(*[40] * 6)
    assert demand(days) == Demand(40, 0, 12, 0)

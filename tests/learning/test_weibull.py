"""Weibull fits against published examples, scipy, and what must hold of any fit.

NIST: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 "Reliability analysis using Weibull
data" (itl.nist.gov/div898/handbook/apr/section4/apr413.htm), its data from 8.2.2.1.
Nelson: Nelson, Applied Life Data Analysis, Wiley 1982, page 415, cracked parts; data as quoted in
the SAS/QC manual, the estimates from memory and computed twice.
"""

import math

import numpy
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from inventory.learning import NoFit, Weibull, fit_weibull, handbook_weibull, pseudo_ages
from inventory.learning.weibull import Piece, fit_pieces

FAILED_H = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
NIST = (FAILED_H, [500] * 10, ())
LOOKS = (
    (0, 6.12, 5), (6.12, 19.92, 16), (19.92, 29.64, 12), (29.64, 35.40, 18),
    (35.40, 39.72, 18), (39.72, 45.24, 2), (45.24, 52.32, 6), (52.32, 63.48, 17),
)  # fmt: skip
NELSON = (
    (), [63.48] * 73, [(low, high) for low, high, cracked in LOOKS for _ in range(cracked)],
)  # fmt: skip
HALF_CHI_SQUARE = 1.9207  # half of chi-square's 95 % point for one degree of freedom

DAYS = st.floats(0.5, 60)
SETS = st.tuples(
    st.lists(DAYS, min_size=3, max_size=12, unique=True),
    st.lists(DAYS, max_size=12),
    st.lists(st.tuples(st.floats(0, 30), st.floats(1, 20)), max_size=8).map(
        lambda spans: [(low, low + wide) for low, wide in spans]
    ),
)


def log_likelihood(weibull, exact, right, intervals) -> float:
    """The likelihood of section "Formulas" written out plainly, as a second opinion."""
    shape, scale = weibull.shape, weibull.scale
    good = weibull.share_good
    density = (
        math.log(shape / scale) + (shape - 1) * math.log(age / scale) + math.log(good(age))
        for age in exact
    )
    return (
        sum(density)
        + sum(math.log(good(age)) for age in right)
        + sum(math.log(good(low) - good(high)) for low, high in intervals)
    )


def best_with_one_in_ten_gone_at(age: float, ages) -> float:
    """The profile log-likelihood: the most over all shapes with this age for one in ten."""

    def lost(log_shape: float) -> float:
        shape = math.exp(log_shape)
        return -log_likelihood(Weibull(shape, age / (-math.log(0.9)) ** (1 / shape)), *ages)

    return -optimize.minimize_scalar(lost, bounds=(-1, 2), method="bounded").fun


def fitted(ages):
    """A fit, or a set of ages of no interest here: NoFit has tests of its own."""
    try:
        return fit_weibull(*ages)
    except NoFit:
        assume(False)


def test_nists_example_with_ten_units_still_good():
    fit = fit_weibull(*NIST)
    assert fit.shape == pytest.approx(1.7208, abs=5e-5)
    assert fit.scale == pytest.approx(606.5280, abs=5e-4)
    assert fit.log_likelihood == pytest.approx(-75.135, abs=5e-4)


def test_nists_example_mean_and_deviation():
    fit = fit_weibull(*NIST)
    first, second = (math.gamma(1 + power / fit.shape) for power in (1, 2))
    assert fit.scale * first == pytest.approx(540.737, rel=1e-5)
    assert fit.scale * math.sqrt(second - first**2) == pytest.approx(323.806, rel=1e-5)


def test_nists_example_early_and_middle_ages():
    """Computed twice from NIST's data."""
    fit = fit_weibull(*NIST)
    assert (fit.age_at(0.1), fit.age_at(0.5)) == pytest.approx((164.02, 490.17), rel=1e-4)


def test_nelsons_cracks_found_between_looks():
    fit = fit_weibull(*NELSON)
    assert fit.shape == pytest.approx(1.4854, abs=5e-5)
    assert fit.scale == pytest.approx(71.690, abs=5e-4)
    assert fit.log_likelihood == pytest.approx(-309.668, abs=5e-4)
    ages = [fit.age_at(share) for share in (0.1, 0.25, 0.5)]
    assert ages == pytest.approx([15.758, 30.987, 56.014], abs=5e-4)


def test_nelsons_cracks_follow_the_shares_found_without_a_model():
    """Share cracked at each look and its binomial error, computed from the data."""
    fit = fit_weibull(*NELSON)
    shares = (0.0299, 0.1257, 0.1976, 0.3054, 0.4132, 0.4251, 0.4611, 0.5629)
    errors = (0.0132, 0.0257, 0.0308, 0.0356, 0.0381, 0.0383, 0.0386, 0.0384)
    apart = [
        abs(1 - fit.share_good(high) - share) / error
        for (_, high, _), share, error in zip(LOOKS, shares, errors, strict=True)
    ]
    # Eight shares of one sample: two errors and a half is what chance may do.
    assert max(apart) < 2.5
    assert sum(apart) / len(apart) < 1


@pytest.mark.parametrize(
    ("ages", "ends"), [(NIST, (59.85, 271.95)), (NELSON, (11.523, 20.186))], ids=["NIST", "Nelson"]
)
def test_likelihood_falls_by_chi_square_to_the_ends_of_the_interval(ages, ends):
    """95 % likelihood-ratio intervals of the early age, computed twice from the data."""
    most = fit_weibull(*ages).log_likelihood
    for end in ends:
        fall = most - best_with_one_in_ten_gone_at(end, ages)
        assert fall == pytest.approx(HALF_CHI_SQUARE, abs=0.005)


def standard_errors(fit, ages, move=1e-4):
    """Of shape, scale and the logarithm of the early age, by the bend of the likelihood."""

    def value(log_shape, log_scale):
        return log_likelihood(Weibull(math.exp(log_shape), math.exp(log_scale)), *ages)

    at = numpy.log([fit.shape, fit.scale])
    steps = numpy.eye(2) * move
    bend = numpy.array(
        [
            [
                value(*(at + a + b)) - value(*(at + a - b)) - value(*(at - a + b))
                + value(*(at - a - b))
                for b in steps
            ]
            for a in steps
        ]
    )  # fmt: skip
    spread = numpy.linalg.inv(-bend / (4 * move**2))
    # ln t = ln scale + ln(-ln 0.9) / shape, and how it moves with either logarithm.
    slope = numpy.array([-math.log(-math.log(0.9)) / fit.shape, 1.0])
    logs = numpy.sqrt(spread.diagonal())
    return logs[0] * fit.shape, logs[1] * fit.scale, math.sqrt(slope @ spread @ slope)


def test_nelsons_cracks_have_their_standard_errors_and_intervals():
    """Standard errors, and 95 % intervals on the scale of logarithms, computed twice."""
    fit = fit_weibull(*NELSON)
    of_shape, of_scale, of_early = standard_errors(fit, NELSON)
    assert (of_shape, of_scale) == pytest.approx((0.1465, 5.3335), rel=2e-3)
    for found, error, ends in (
        (fit.shape, of_shape / fit.shape, (1.2242, 1.8022)),
        (fit.scale, of_scale / fit.scale, (61.963, 82.944)),
        (fit.age_at(0.1), of_early, (11.949, 20.780)),
    ):
        reach = math.exp(1.95996 * error)
        assert (found / reach, found * reach) == pytest.approx(ends, rel=1e-3)


def test_nists_example_by_akaikes_criterion():
    """NIST prints 154.27 for the Weibull and 154.39 for the lognormal: there is little in it."""
    assert 2 * 2 - 2 * fit_weibull(*NIST).log_likelihood == pytest.approx(154.27, abs=5e-3)
    lognormal = stats.lognorm(s=0.9089, scale=math.exp(6.2260))
    likelihood = lognormal.logpdf(FAILED_H).sum() + 10 * lognormal.logsf(500)
    assert 4 - 2 * likelihood == pytest.approx(154.39, abs=5e-3)


def test_what_ignoring_the_still_good_would_cost():
    """Computed from NIST's data: dropped 3.060 / 308.5, counted as failed 3.423 / 430.6."""
    right = fit_weibull(*NIST)
    dropped = fit_weibull(FAILED_H)
    as_failed = fit_weibull([*FAILED_H, *[500] * 10])
    assert (dropped.shape, dropped.scale) == pytest.approx((3.060, 308.5), rel=2e-4)
    assert (as_failed.shape, as_failed.scale) == pytest.approx((3.423, 430.6), rel=2e-4)
    middles = [fit.age_at(0.5) for fit in (dropped, as_failed, right)]
    assert middles == pytest.approx([273.7, 386.9, 490.2], rel=3e-4)


def test_sliced_bread():
    """Elías et al., Anales Científicos 72(1):27-33, 2011: scale 12.256 d, shape 10.870."""
    bread = Weibull(10.870, 12.256)
    assert bread.scale * math.gamma(1 + 1 / bread.shape) == pytest.approx(11.70, abs=0.005)
    assert bread.age_at(0.5) == pytest.approx(11.85, abs=0.005)
    assert bread.age_at(0.1) == pytest.approx(9.96, abs=0.005)


@pytest.mark.parametrize(
    ("age", "share", "days"), [(5, 0.5, 4.712), (5, 0.9, 0.961), (0, 0.5, 8.326), (0, 0.9, 3.246)]
)
def test_days_that_those_left_still_last(age, share, days):
    """Computed from S(age + t) / S(age): shape 2, scale 10 days."""
    weibull = Weibull(2, 10)
    ratio = weibull.share_good(age + days) / weibull.share_good(age)
    assert ratio == pytest.approx(share, abs=1e-4)
    gone = 1 - share * weibull.share_good(age)
    assert weibull.age_at(gone) - age == pytest.approx(days, abs=5e-4)


@given(st.floats(0.3, 25), st.floats(0.1, 500), st.floats(0.001, 0.999))
def test_share_and_age_undo_each_other(shape, scale, share):
    weibull = Weibull(shape, scale)
    assert 1 - weibull.share_good(weibull.age_at(share)) == pytest.approx(share)


def test_shape_one_is_the_exponential_and_age_nought_is_all_good():
    assert Weibull(1, 8).share_good(4) == pytest.approx(math.exp(-0.5))
    assert Weibull(3, 8).share_good(0) == 1
    assert Weibull(3, 8).share_good(8) == pytest.approx(math.exp(-1))
    assert Weibull(3, 8).age_at(0) == 0


def random_ages(seed: int):
    """Lives of a known Weibull, some exact, some seen at looks only, some never ended."""
    chance = numpy.random.default_rng(seed)
    shape, scale = chance.uniform(0.8, 12), chance.uniform(3, 100)
    lives = scale * chance.weibull(shape, size=int(chance.integers(15, 60)))
    exact, right, intervals = [], [], []
    for life in lives:
        kind, looks = chance.random(), scale * chance.uniform(0.1, 0.4)
        if kind < 0.3:
            exact.append(life)
        elif kind < 0.6:
            low = looks * math.floor(life / looks)
            intervals.append((low, low + looks))
        else:
            end = scale * chance.uniform(0.3, 1.3)
            (right if life > end else exact).append(min(life, end))
    return exact, right, intervals


@pytest.mark.parametrize("seed", range(40))
def test_scipy_comes_to_the_same(seed):
    ages = random_ages(seed)
    exact, right, intervals = ages
    fit = fit_weibull(*ages)
    data = stats.CensoredData(
        uncensored=exact, right=right,
        left=[high for low, high in intervals if low == 0],
        interval=[span for span in intervals if span[0] > 0] or None,
    )  # fmt: skip
    start = sum(exact) / len(exact)
    shape, _, scale = stats.weibull_min.fit(data, 2.0, scale=start, floc=0)
    assert (fit.shape, fit.scale) == pytest.approx((shape, scale), rel=2e-3)
    assert fit.log_likelihood >= log_likelihood(Weibull(shape, scale), *ages) - 1e-9
    assert fit.log_likelihood == pytest.approx(log_likelihood(fit, *ages))


@pytest.mark.parametrize("seed", range(30))
def test_where_every_unit_was_looked_at_once_it_finds_the_top_or_says_so(seed):
    """Left- and right-censored ages only: scipy 1.17 may stop near shape 0 without a word."""
    chance = numpy.random.default_rng(seed)
    lives = 12.8 * chance.weibull(9.2, size=24)
    looks = chance.uniform(7, 17, size=24)
    ages = (
        (),
        [look for look, life in zip(looks, lives, strict=True) if life > look],
        [(0, look) for look, life in zip(looks, lives, strict=True) if life <= look],
    )
    parted = max(ages[1]) <= min(high for _, high in ages[2])
    if parted:
        with pytest.raises(NoFit):
            fit_weibull(*ages)
        return
    fit = fit_weibull(*ages)
    best = optimize.minimize(
        lambda at: -log_likelihood(Weibull(math.exp(at[0]), math.exp(at[1])), *ages),
        x0=(math.log(9.2), math.log(12.8)), method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-12, "maxiter": 2000},
    )  # fmt: skip
    assert fit.log_likelihood == pytest.approx(-best.fun, abs=1e-6)
    assert (fit.shape, fit.scale) == pytest.approx(numpy.exp(best.x), rel=1e-4)


@pytest.mark.parametrize(
    "ages",
    [
        ((), (), ()),  # nothing at all
        ((), (5, 9), ()),  # nothing ended
        ((), (0,), ()),
        ((7,), (), ()),  # one end, alone or after all that was good
        ((7,), (3, 5, 7), ()),
        ((7, 7, 7), (), ()),  # everything ended at once
        ((), (), [(0, 4), (0, 6)]),  # everything gone at its first look
        ((), (3, 4), [(0, 5), (0, 9)]),  # one age parts good from gone
        ((), (), [(2, 4), (3, 5)]),
        ((), (), [(2, 4), (4, 6)]),
    ],
)
def test_ages_that_one_age_parts_settle_nothing(ages):
    with pytest.raises(NoFit, match="one age parts"):
        fit_weibull(*ages)


@pytest.mark.parametrize(
    "ages",
    [
        ((), (5, 6), [(0, 3), (0, 4)]),  # the longer, the better: no lives do that
        ((0.001, 100_000), (), ()),
        ((10, 10.01), (), ()),
    ],
)
def test_a_shape_that_no_produce_has_is_no_fit(ages):
    with pytest.raises(NoFit):
        fit_weibull(*ages)


def test_the_ends_of_what_counts_as_a_shape():
    """Lives whose logarithms are twice as far apart have half the shape."""
    ages = [handbook_weibull(10, 14).age_at(share / 10) for share in range(1, 10)]
    shape = fit_weibull(ages).shape
    for wanted in (0.21, 29.9):
        drawn = [(age / 10) ** (shape / wanted) for age in ages]
        assert fit_weibull(drawn).shape == pytest.approx(wanted)
    for wanted in (0.19, 30.1):
        drawn = [(age / 10) ** (shape / wanted) for age in ages]
        with pytest.raises(NoFit, match="a shape of"):
            fit_weibull(drawn)


@pytest.mark.parametrize(
    "ages",
    [
        ((0,), (), ()), ((-1,), (), ()), ((math.inf,), (), ()), ((math.nan,), (), ()),
        ((5, 6), (-1,), ()), ((5, 6), (math.nan,), ()),
        ((5, 6), (), [(4, 4)]), ((5, 6), (), [(4, 3)]), ((5, 6), (), [(-1, 3)]),
        ((5, 6), (), [(1, math.inf)]), ((5, 6), (), [(math.nan, 3)]),
    ],
)  # fmt: skip
def test_ages_that_cannot_be_are_refused(ages):
    with pytest.raises(ValueError, match="days") as refused:
        fit_weibull(*ages)
    assert not isinstance(refused.value, NoFit)


def test_what_was_good_at_age_nought_tells_nothing():
    assert fit_weibull((5, 6, 8), (0, 7), ()) == fit_weibull((5, 6, 8), (7,), ())


def test_exact_ages_are_the_limit_of_ever_closer_looks():
    exact = (5, 7, 8, 12)
    near = fit_weibull((), (9,), [(age, age * (1 + 1e-6)) for age in exact])
    fit = fit_weibull(exact, (9,), ())
    assert (near.shape, near.scale) == pytest.approx((fit.shape, fit.scale), rel=1e-5)


def test_ages_far_apart_still_come_home():
    ages = ((0.1, 1, 10, 100), (1000,), ())
    fit = fit_weibull(*ages)
    shape, _, scale = stats.weibull_min.fit(
        stats.CensoredData(ages[0], right=ages[1]), 0.5, scale=30, floc=0
    )
    assert (fit.shape, fit.scale) == pytest.approx((shape, scale), rel=1e-3)


@pytest.mark.parametrize("shape", [0.3, 3, 30])
@pytest.mark.parametrize("scale", [1e-3, 1, 70, 1e5])
def test_wherever_it_sets_out_from_it_comes_to_the_same(shape, scale):
    exact, right, intervals = (math.log(age) for age in FAILED_H), NIST[1], NELSON[2]
    pieces = [Piece(age, age) for age in exact]
    pieces += [Piece(math.log(age), None) for age in right]
    pieces += [Piece(low and math.log(low), math.log(high)) for low, high in intervals if low]
    weights = [1.0] * len(pieces)
    fit = fit_pieces(pieces, weights)
    other = fit_pieces(pieces, weights, Weibull(shape, scale))
    assert (other.shape, other.scale) == pytest.approx((fit.shape, fit.scale), rel=1e-5)


def test_a_weight_is_how_often_a_piece_counts():
    pieces = [Piece(1.0, 1.0), Piece(1.5, 1.5), Piece(1.7, None), Piece(1.2, 1.9), Piece(9, 9)]
    often = [
        piece for piece, times in zip(pieces, (3, 1, 2, 4, 0), strict=True) for _ in range(times)
    ]
    fit, other = fit_pieces(pieces, (3, 1, 2, 4, 0)), fit_pieces(often, [1] * len(often))
    assert (fit.shape, fit.scale) == pytest.approx((other.shape, other.scale), rel=1e-6)
    with pytest.raises(NoFit):
        fit_pieces(pieces, (0, 0, 2, 0, 0))


@given(SETS, st.floats(0.1, 10))
def test_all_ages_times_a_number_give_the_scale_times_it(ages, times):
    fit = fitted(ages)
    exact, right, intervals = ages
    longer = [(low * times, high * times) for low, high in intervals]
    other = fitted(([age * times for age in exact], [age * times for age in right], longer))
    assert other.shape == pytest.approx(fit.shape, rel=1e-4)
    assert other.scale == pytest.approx(fit.scale * times, rel=1e-4)


@given(SETS, st.randoms(use_true_random=False))
def test_the_order_of_the_ages_does_not_matter(ages, chance):
    fit = fitted(ages)
    mixed = [list(kind) for kind in ages]
    for kind in mixed:
        chance.shuffle(kind)
    other = fit_weibull(*mixed)
    assert (other.shape, other.scale) == pytest.approx((fit.shape, fit.scale), rel=1e-4)


@given(SETS)
def test_everything_twice_gives_the_same_and_twice_the_likelihood(ages):
    fit = fitted(ages)
    twice = fit_weibull(*([*kind, *kind] for kind in ages))
    assert (twice.shape, twice.scale) == pytest.approx((fit.shape, fit.scale), rel=1e-4)
    assert twice.log_likelihood == pytest.approx(2 * fit.log_likelihood, rel=1e-6, abs=1e-6)


@given(SETS)
def test_no_neighbour_is_likelier(ages):
    fit = fitted(ages)
    for wider in (0.99, 1, 1.01):
        for longer in (0.99, 1, 1.01):
            other = Weibull(fit.shape * wider, fit.scale * longer)
            try:
                there = log_likelihood(other, *ages)
            except ValueError:  # a share too small to write down is no likelier either
                continue
            assert there <= fit.log_likelihood + 1e-7 * (1 + abs(fit.log_likelihood))


@given(st.lists(DAYS, min_size=3, max_size=12, unique=True), st.lists(DAYS, max_size=8))
def test_ends_that_had_been_later_never_lower_the_middle_age(exact, right):
    """The same crates, but the ends only known to come after: nothing says they kept less."""
    fit = fitted((exact, right, ()))
    last = max(exact)
    other = fitted(([age for age in exact if age < last], [*right, last], ()))
    assert other.age_at(0.5) >= fit.age_at(0.5) * (1 - 1e-6)


def test_the_handbooks_fortnight():
    handbook = handbook_weibull(10, 14)
    assert (handbook.shape, handbook.scale) == pytest.approx((9.2, 12.8), abs=0.05)


@given(st.floats(0.5, 200), st.floats(1.2, 20))
def test_the_handbooks_ends_are_one_and_nine_in_ten(low, ratio):
    handbook = handbook_weibull(low, low * ratio)
    assert handbook.age_at(0.1) == pytest.approx(low)
    assert handbook.age_at(0.9) == pytest.approx(low * ratio)


def test_a_range_too_narrow_to_be_one_keeps_its_low_end():
    for high in (21, 21.5, 24):
        handbook = handbook_weibull(21, high)
        assert handbook.shape == 20
        assert handbook.age_at(0.1) == pytest.approx(21)
        assert handbook.age_at(0.9) == pytest.approx(21 * 1.1668, rel=1e-4)
    assert handbook_weibull(21, 24.6).shape < 20


@pytest.mark.parametrize("ends", [(0, 5), (5, 4), (-1, 5), (math.nan, 5)])
def test_a_range_that_cannot_be_is_refused(ends):
    with pytest.raises(ValueError, match="no range of lives"):
        handbook_weibull(*ends)


def test_ten_pseudo_ages_stand_for_the_handbook():
    handbook = handbook_weibull(10, 14)
    ages = pseudo_ages(handbook)
    shares = [1 - handbook.share_good(age) for age in ages]
    assert shares == pytest.approx([0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95])
    fit = fit_weibull(ages)
    assert fit.age_at(0.1) == pytest.approx(10, rel=0.02)
    assert fit.age_at(0.9) == pytest.approx(14, rel=0.02)


def test_each_piece_has_its_weight():
    with pytest.raises(ValueError, match="shorter"):
        fit_pieces([Piece(1.0, 1.0), Piece(2.0, 2.0)], [1.0])

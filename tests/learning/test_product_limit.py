"""The product limit and Greenwood's errors against published tables.

Freireich: Freireich et al., Blood 21:699-716, 1963, weeks to relapse. The treated arm's table as
printed by R's survfit in two course notes; of the control arm S(10) and its error are Table 1.1
of Cox and Oakes, Analysis of Survival Data, 1984, the rest was computed twice from the formula.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.learning import product_limit, standard_errors

RELAPSED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
STILL_WELL = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
TREATED = [(weeks, True) for weeks in RELAPSED] + [(weeks, False) for weeks in STILL_WELL]
CONTROL = [
    (weeks, True)
    for weeks in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
]  # fmt: skip
AGES = st.lists(st.tuples(st.integers(1, 30), st.booleans()), max_size=25)


def test_freireichs_treated_arm():
    weeks, shares = zip(*product_limit(TREATED), strict=True)
    assert weeks == (6, 7, 10, 13, 16, 22, 23)
    expected = (0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482)
    assert shares == pytest.approx(expected, abs=5e-5)


def test_greenwoods_errors_of_freireichs_treated_arm():
    weeks, errors = zip(*standard_errors(TREATED), strict=True)
    assert weeks == (6, 7, 10, 13, 16, 22, 23)
    expected = (0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346)
    assert errors == pytest.approx(expected, abs=5e-5)


def test_half_of_freireichs_treated_arm_is_reached_at_23_weeks():
    assert next(weeks for weeks, share in product_limit(TREATED) if share <= 0.5) == 23


def test_freireichs_control_arm():
    shares, errors = dict(product_limit(CONTROL)), dict(standard_errors(CONTROL))
    assert shares[8] == pytest.approx(0.381, abs=5e-4)  # Cox and Oakes: at 10 weeks
    assert errors[8] == pytest.approx(0.106, abs=5e-4)
    assert (shares[1], errors[1]) == pytest.approx((0.9048, 0.0641), abs=5e-5)
    assert (shares[12], errors[12]) == pytest.approx((0.1905, 0.0857), abs=5e-5)


def test_where_nothing_is_left_there_is_no_error_to_give():
    assert product_limit(CONTROL)[-1] == (23, 0.0)
    assert standard_errors(CONTROL)[-1] == (23, None)


def test_what_left_sound_at_the_age_of_an_end_was_still_there_to_end():
    assert product_limit([(6, True), (6, False)]) == [(6, 0.5)]


def test_without_an_end_there_is_nothing_to_draw():
    assert product_limit([(3, False), (9, False)]) == []
    assert standard_errors([(3, False)]) == []
    assert product_limit([]) == []


@given(AGES)
def test_where_all_ended_it_is_the_share_that_lasts_longer(ages):
    days = [age for age, _ in ages]
    for age, share in product_limit((age, True) for age in days):
        assert share == pytest.approx(sum(other > age for other in days) / len(days))


@given(AGES)
def test_where_all_ended_the_error_is_the_binomial_one(ages):
    """Greenwood's sum then telescopes to sqrt(S (1 - S) / n)."""
    ended = [(age, True) for age, _ in ages]
    for (_, share), (_, error) in zip(product_limit(ended), standard_errors(ended), strict=True):
        if error is not None:
            assert error == pytest.approx((share * (1 - share) / len(ended)) ** 0.5)


@given(AGES, st.randoms(use_true_random=False))
def test_the_order_of_the_ages_does_not_matter(ages, chance):
    shuffled = list(ages)
    chance.shuffle(shuffled)
    assert product_limit(shuffled) == product_limit(ages)


@given(AGES)
def test_the_share_falls_from_end_to_end_and_stays_one(ages):
    shares = [1.0, *(share for _, share in product_limit(ages))]
    assert shares == sorted(shares, reverse=True)
    assert len(set(shares)) == len(shares)
    assert shares[-1] >= 0


@given(AGES, st.integers(1, 30))
def test_one_more_crate_that_left_sound_never_lowers_a_share(ages, age):
    more = dict(product_limit([*ages, (age, False)]))
    assert all(more[days] >= share - 1e-12 for days, share in product_limit(ages))

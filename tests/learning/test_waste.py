"""Food loss and waste by the standard: published destinations, and balances worked by hand."""

from dataclasses import fields
from decimal import Decimal
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from inventory.learning.waste import DESTINATIONS, SCALE, Flow, share, standing


def flow(**figures):
    return Flow(**{name: Decimal(str(figure)) for name, figure in figures.items()})


def test_a_worked_rate():
    """Worked by hand, no source: sold 187.5 kg and discarded 12.5 kg are 6.25 %."""
    assert flow(sold="187.5", thrown="12.5").waste_of_left == Decimal("6.25")


def test_a_rate_is_of_what_left_or_of_what_came_in():
    """Worked by hand, no source: opening 40, in 200, sold 170, donated 10, discarded 15, closing
    45 kg: nothing amiss, 15/195 = 7.69 % of what left, 7.5 % of what came in."""
    found = flow(opening=40, came_in=200, sold=170, given=10, thrown=15, closing=45)
    assert found.error == 0
    assert round(found.waste_of_left, 2) == Decimal("7.69")
    assert found.waste_of_came_in == Decimal("7.5")


def test_the_weeks_end_of_an_invented_farm():
    """Common practice, no source: opening 140 kg, in 612, closing 130; sold 520, donated 34, crew
    8, compost 41, animals 12, unexplained 7: 622 left, 60 wasted, 9.6 %; sold 83.6 %."""
    found = flow(
        opening=140, came_in=612, sold=520, given=34, own_use=8, thrown=53, missing=7, closing=130
    )
    assert (found.left, found.wasted, found.error) == (622, 60, 0)
    assert round(found.waste_of_left, 1) == Decimal("9.6")
    assert round(share(found.sold, found.left), 1) == Decimal("83.6")


def test_where_nothing_left_there_is_no_rate():
    """Nothing by nothing is undefined, never 0; nor is there one where more came back."""
    assert flow(opening=5, closing=5).waste_of_left is None
    assert flow().waste_of_came_in is None
    assert flow(sold=-3).waste_of_left is None


def test_the_ten_destinations_have_the_standards_numbers():
    """FLW Protocol, scope template of May 2017 to the Food Loss and Waste Standard 1.0 (2016)."""
    assert sorted(DESTINATIONS.values()) == list(range(1, 11))
    assert (DESTINATIONS["compost"], DESTINATIONS["landfill"]) == (4, 7)


def test_the_scale_ranks_feed_before_compost_before_landfill():
    """US EPA, Wasted Food Scale, October 2023; landfill, burning and the drain are its last."""
    order = sorted(DESTINATIONS, key=standing)
    ranked = ["animal feed", "compost", "digestion", "landfill"]
    assert all(order.index(one) < order.index(other) for one, other in pairwise(ranked))
    assert {SCALE[one] for one in ("landfill", "burnt", "sewer")} == {max(SCALE.values())}
    assert standing("") > max(standing(one) for one in DESTINATIONS)  # nobody said where


AMOUNTS = st.decimals(0, 999, places=3)


@given(
    st.lists(st.builds(Flow, *[AMOUNTS] * 9), min_size=1, max_size=3),
    st.sampled_from(["2", "0.25"]),
)
def test_what_is_amiss_adds_up_and_is_told_in_another_unit(flows, factor):
    whole = sum(flows, Flow())
    assert whole.error == sum(one.error for one in flows)
    assert whole.times(Decimal(factor)).error == whole.error * Decimal(factor)
    assert whole.times(Decimal(factor)).waste_of_left == whole.waste_of_left


def test_a_figure_that_is_off_shows_as_what_is_amiss():
    for field in fields(Flow):
        assert abs(flow(**{field.name: 3}).error) == 3, field.name

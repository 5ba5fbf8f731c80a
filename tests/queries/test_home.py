"""The home page."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions.temperatures import probe
from inventory.keeping.cooling import cooling_by
from inventory.lives.reader import cooling_of
from inventory.models import Intake
from inventory.queries.home import CameIn, read_rotation
from tests.builders import NOW, act, make_lot

HOUR_S = 3600


def test_the_home_page_asks_no_more_for_each_harvest_of_the_day(farm):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert all(row.cooling for row in read_rotation(farm, NOW).came_in)
        return len(captured)

    make_lot(pulp_c=Decimal(20))
    queries()
    one = queries()
    for _ in range(4):
        make_lot(pulp_c=Decimal(20))
    queries()
    assert queries() == one


def asked(hours: float, *probes) -> bool:
    """Whether a probe is due by then, after (hours, °C) probes in air of 2 °C.

    Usual half-cooling time 4 h: seven-eighths cold after 12, AH-66 (2016) pages 11-12.
    """
    taken = [(probed * HOUR_S, celsius) for probed, celsius in probes]
    cooling = cooling_by(0.0, 2.0, taken, pulp_c=None, assumed_c=20.0, usual_h=4.0)
    return CameIn(Intake(), cooling, datetime.fromtimestamp(hours * HOUR_S, UTC), 1).probe_is_due


def test_a_probe_is_due_once_it_should_be_cold():
    assert not asked(11.9)
    assert asked(12)


@pytest.mark.parametrize("celsius", [4.0, 2.0, 1.5])
def test_one_probe_when_it_should_be_cold_is_enough(celsius):
    """Neither a first probe alone nor one as cold as the air gives a half-cooling time."""
    assert asked(12.5)
    assert not asked(14, (13, celsius))


def test_a_probe_before_it_should_be_cold_is_not_the_one_asked_for():
    """20 above the air after one hour, 10 after four: a half of 3 h, cold after nine."""
    assert asked(12, (4, 12))
    assert not asked(8.9, (1, 22), (4, 12))
    assert asked(9, (1, 22), (4, 12))
    assert not asked(11, (1, 22), (4, 12), (10, 2))


def test_one_still_warm_when_it_should_be_cold_is_asked_for_again_later():
    """20 above the air after one hour, 5 after thirteen: a half of 6 h, cold after eighteen."""
    assert not asked(17.9, (1, 22), (13, 7))
    assert asked(18, (1, 22), (13, 7))


def test_a_probe_written_down_when_it_should_be_cold_is_seen(farm):
    intake = make_lot(pulp_c=Decimal(26)).intake
    assumed = cooling_of(intake, farm)
    later = datetime.fromtimestamp(assumed.seven_eighths_at, UTC) + timedelta(hours=1)
    assert CameIn(intake, assumed, later, 1).probe_is_due
    probe(act(later), intake=intake, celsius=Decimal(2))
    assert not CameIn(intake, cooling_of(intake, farm), later, 1).probe_is_due

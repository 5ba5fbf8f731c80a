"""The home page."""

from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.queries.home import read_rotation
from tests.builders import NOW, make_lot


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
    assert queries() == one

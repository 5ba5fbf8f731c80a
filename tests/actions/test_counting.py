"""A round of counting ends with something to settle or with nothing at all."""

import pytest

from inventory.actions.counting import open_round, settle_round
from inventory.errors import Refused
from tests.builders import act
from tests.refusing import refused


@pytest.mark.usefixtures("farm")
def test_settling_nothing_is_no_entry():
    going_on = open_round(act())
    with refused(Refused("nothing-to-settle")):
        settle_round(act(), count_round=going_on, missing=[], misplaced=[], back=[])

"""A round of counting ends with something to settle or with nothing at all."""

import pytest

from inventory.actions.counting import settle_round
from inventory.errors import Refused
from tests.builders import act
from tests.refusing import refused


@pytest.mark.usefixtures("farm")
def test_settling_nothing_is_no_entry():
    with refused(Refused("nothing-to-settle")):
        settle_round(act(), missing=[], misplaced=[], back=[])

"""The farm is set up once, with rooms that can be walked."""

import secrets
from decimal import Decimal

import pytest

from inventory.actions.setup import MOST_RACKS, MOST_SHELVES, Shelving, add_room
from inventory.errors import Conflict, Refused
from inventory.models import Position
from tests import builders
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def test_a_farm_is_not_set_up_over_another():
    with refused(Conflict("farm-exists")):
        builders.make_farm(name="Other Farm", owner_name="Eve")


@pytest.mark.parametrize(
    ("racks", "shelves"), [(0, 1), (1, 0), (MOST_RACKS + 1, 1), (1, MOST_SHELVES + 1)]
)
def test_a_room_has_shelves_and_not_too_many(racks, shelves):
    barn = Shelving("Barn", Decimal(12), racks, shelves)
    with refused(Refused("shelves", field="racks", racks=MOST_RACKS, shelves=MOST_SHELVES)):
        add_room(barn, 1, secrets.choice)


def test_a_room_may_be_as_big_as_is_said():
    barn = add_room(Shelving("Barn", Decimal(12), MOST_RACKS, MOST_SHELVES), 1, secrets.choice)
    assert Position.objects.filter(room=barn).count() == MOST_RACKS * MOST_SHELVES

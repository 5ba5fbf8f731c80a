"""Photos are gone after 400 days, and what was never finished after one."""

import os
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.actions.handing import give_credit
from inventory.actions.photos import keep_photo, photo_file, photo_folder
from inventory.models import Credit
from inventory.upkeep.photos import KEPT, drop_old
from tests.builders import NOW, act, make_lot
from tests.deliveries import got, handed, kitchen

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


def written(key, at) -> None:
    os.utime(photo_file(key), (at.timestamp(), at.timestamp()))


@pytest.mark.usefixtures("farm")
def test_a_photo_is_gone_after_400_days_and_the_credit_stays():
    lot = make_lot(12)
    handed(got(kitchen(), (lot, 12)))
    said = {"slip": 1, "lot": lot.pk, "what": "soft", "quantity": Decimal(1), "photo": b"photo"}
    old, new = (give_credit(act(at), **said).pk for at in (NOW, NOW + DAY))
    for key in (old, new):
        written(key, NOW)
    assert drop_old(NOW + KEPT) == 0
    assert drop_old(NOW + KEPT + DAY) == 1
    assert list(photo_folder().iterdir()) == [photo_file(new)]
    assert list(Credit.objects.values_list("action", "has_photo")) == [(old, False), (new, True)]
    assert drop_old(NOW + KEPT + DAY) == 0


@pytest.mark.django_db
def test_a_file_that_no_row_names_has_a_day_to_be_named():
    key = uuid4()
    keep_photo(key, b"photo")
    written(key, NOW)
    assert drop_old(NOW + DAY) == 0
    assert drop_old(NOW + 2 * DAY) == 1
    assert list(photo_folder().iterdir()) == []

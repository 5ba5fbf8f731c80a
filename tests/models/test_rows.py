"""Rows read or written by the hundred are as Django makes them: it is the reference here."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import models

from inventory.actions.temperatures import record_readings
from inventory.models import Lot, Reading
from inventory.models.rows import ReadByTheHundred
from inventory.queries.book import Wanted
from tests.builders import NOW, act, crop, make_lot, market, place, say_order
from tests.readings import room

HOUR = timedelta(hours=1)
MADE_QUICKLY = ReadByTheHundred.__subclasses__()


def by_django(model: type[models.Model], row: models.Model) -> models.Model:
    fields = model._meta.concrete_fields
    names = [field.attname for field in fields]
    return models.Model.from_db.__func__(model, "default", names, [vars(row)[n] for n in names])


def state_of(row: models.Model) -> tuple:
    columns = {name: value for name, value in vars(row).items() if name != "_state"}
    return row._state.adding, row._state.db, columns


@pytest.mark.parametrize("model", MADE_QUICKLY)
def test_a_row_is_as_django_makes_it(farm, model):
    make_lot(12)
    say_order(act(), outlet=market(), lines=[Wanted(crop(), "bunch", Decimal(6))])
    record_readings(room(), [(NOW, 3.0)], kind="file", at=NOW)
    row = model.objects.all()[0]
    assert state_of(row) == state_of(by_django(model, row))
    assert row == by_django(model, row)


def test_another_row_alike_is_as_django_makes_it(farm, django_assert_num_queries):
    like = Reading(room=room(), kind="file", sensor="fan", at=NOW, temperature_c=3.0)
    made = like.alike(at=NOW + HOUR, temperature_c=4.0)
    by_django = Reading(
        room_id=room().pk, kind="file", sensor="fan", at=NOW + HOUR, temperature_c=4.0
    )
    assert state_of(made) == state_of(by_django)
    assert (like.at, like.temperature_c) == (NOW, 3.0)
    with django_assert_num_queries(1):
        assert made.room == like.room


def test_what_is_read_in_part_is_read_whole_when_it_is_asked(farm, django_assert_num_queries):
    lot = make_lot(12)
    row = Lot.objects.only("quantity").get(pk=lot.pk)
    assert row.get_deferred_fields() > {"unit"}
    with django_assert_num_queries(1):
        assert row.unit == "bunch"


def test_its_parts_are_read_along_and_change_with_their_key(farm, django_assert_num_queries):
    lot = make_lot(12)
    row = Lot.objects.select_related("position").get(pk=lot.pk)
    with django_assert_num_queries(0):
        assert row.position.code_id == lot.position_id
    row.position_id = place("B1").pk
    assert row.position == place("B1")

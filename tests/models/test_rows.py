"""Rows read or written by the hundred are as Django makes them: it is the reference here."""

from datetime import timedelta, timezone
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import IntegrityError, models

from inventory.actions.imports import keep_file
from inventory.actions.temperatures import record_readings, type_paper_log
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


def stored() -> list[tuple]:
    names = [field.attname for field in Reading._meta.concrete_fields if not field.primary_key]
    return sorted(Reading.objects.values_list(*names), key=str)


def some_readings(*, count: int) -> list[Reading]:
    """Rows of which each column holds what no other row does, now and then, or nothing."""
    kept = keep_file(act(), room=room(), sensor="fan", data=b"time,temp C\n2026-06-05 06:00,3.5")
    paper = type_paper_log(act(), room=room(), rows=[])
    known = Reading(room=room(), kind="typed", sensor="", at=NOW, temperature_c=3.0)
    other_zone = timezone(2 * HOUR)
    return [
        known.alike(at=NOW + timedelta(microseconds=1), person_id=act().person.pk, temperature_c=4),
        known.alike(at=(NOW + HOUR).astimezone(other_zone), file_id=kept.pk, temperature_c=-0.5),
        known.alike(at=NOW + 2 * HOUR, set_aside=Reading.Aside.IMPLAUSIBLE, temperature_c=70.25),
        known.alike(at=NOW + 3 * HOUR, entry_id=uuid4(), paper_id=paper.pk, sensor="sør; \"'%s"),
        known.alike(at=NOW, set_aside="wrong", taken_back_at=NOW, taken_back_by_id=act().person.pk),
        *(known.alike(at=NOW - n * HOUR, temperature_c=n / 7) for n in range(count)),
    ]


def test_rows_written_anew_stand_as_django_writes_them(farm):
    rows = some_readings(count=300)
    Reading.objects.bulk_create(rows, ignore_conflicts=True)
    by_django = stored()
    Reading.objects.all().delete()
    Reading.write_new([row.alike() for row in rows])
    assert stored() == by_django
    assert len(by_django) == 305


def test_a_row_that_is_known_is_not_written_again(farm):
    record_readings(room(), [(NOW, 3.0)], kind="file", at=NOW)
    like = Reading(room=room(), kind="file", sensor="", at=NOW, temperature_c=9.0)
    Reading.write_new([like, like.alike(at=NOW + HOUR)])
    assert list(Reading.objects.values_list("temperature_c", flat=True)) == [3.0, 9.0]


@pytest.mark.django_db(transaction=True)
def test_of_rows_that_can_not_all_be_written_none_is(farm):
    like = Reading(room=room(), kind="file", sensor="fan", at=NOW, temperature_c=3.0)
    good = [like.alike(at=NOW + n * HOUR) for n in range(300)]
    with pytest.raises(IntegrityError):
        Reading.write_new([*good, like.alike(at=NOW - HOUR, kind=None)])
    assert not Reading.objects.exists()


def test_no_rows_are_written_without_a_word_to_the_database(farm, django_assert_num_queries):
    with django_assert_num_queries(0):
        Reading.write_new([])


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

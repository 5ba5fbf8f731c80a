"""How old what is in the house is, counted in days of the farm."""

from datetime import date, timedelta

import pytest

from inventory.actions.reshape import combine_lots
from inventory.models import Farm, Intake
from inventory.queries.ages import Ages, read_ages
from tests.builders import NOW, act, make_lot, make_lots, take

pytestmark = pytest.mark.usefixtures("farm")
DAY = timedelta(days=1)


def counted() -> dict[int, int]:
    return {one.since: one.crates for one in read_ages(Farm.objects.get(), NOW)}


def test_each_crate_is_in_the_span_of_its_days():
    for days in (0, 1, 2, 3, 6, 7, 13, 14, 30, 90):
        make_lot(at=NOW - days * DAY)
    gone = make_lot(at=NOW - 5 * DAY)
    take(gone, "all", purpose="own use")
    assert counted() == {0: 2, 2: 2, 4: 1, 7: 2, 14: 1, 30: 2}


def test_the_longest_bar_is_of_the_most_and_the_last_goes_on():
    make_lots(1, 1)
    make_lot(at=NOW - 40 * DAY)
    ages = read_ages(Farm.objects.get(), NOW)
    assert ages[0] == Ages(0, 1, 2, 1.0)
    assert ages[-1] == Ages(30, None, 1, 0.5)


def test_a_case_counts_from_its_packing_and_a_mixed_crate_from_its_oldest():
    old, new = make_lot(6, at=NOW - 8 * DAY), make_lot(6)
    combine_lots(act(NOW), lots=[old.pk, new.pk])
    assert counted() == {0: 0, 2: 0, 4: 0, 7: 1, 14: 0, 30: 0}
    Intake.objects.filter(pk=old.intake_id).update(cut_at=None, packed_on=date(2026, 5, 20))
    assert counted()[14] == 1


def test_an_empty_house_has_no_bars():
    assert read_ages(Farm.objects.get(), NOW) == []

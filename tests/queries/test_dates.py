"""A crate is bound by the dates on all the cases it was filled from."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import bring_back
from inventory.actions.reshape import combine_lots, split_lot
from inventory.models import Intake, Lot
from inventory.queries.crates import with_parts
from inventory.queries.dates import dates_of, is_past_use_by, parents_of
from inventory.rotation.dates import NO_DATES, USE_BY, CaseDates
from tests.builders import NOW, act, make_cases, make_lot, take

pytestmark = pytest.mark.usefixtures("farm")

JUNE = [date(2026, 6, day) for day in range(1, 31)]


def case(day: int, kind: str = "use by") -> Lot:
    return make_cases(18, best_before=JUNE[day - 1], best_before_kind=kind)[0]


def filled_from(*lots: Lot) -> Lot:
    combine_lots(act(), lots=[lot.pk for lot in lots])
    return Lot.objects.get(parents=lots[0])


def all_told(lots: list[Lot]) -> list[CaseDates]:
    parents = parents_of(lots)
    return [dates_of(lot, parents) for lot in lots]


def told(lot: Lot) -> CaseDates:
    return all_told([lot])[0]


def test_a_case_has_the_date_it_came_with_and_a_harvest_none():
    assert told(case(20)) == CaseDates(JUNE[19])
    assert told(make_lot()) == NO_DATES


def test_a_part_that_became_a_crate_of_its_own_keeps_the_date():
    lot = case(20)
    split_lot(act(), lot=lot.pk, quantity=Decimal(5))
    assert told(Lot.objects.get(parents=lot)) == CaseDates(JUNE[19])
    take(lot, Decimal(3))
    bring_back(act(), lot=lot.pk, quantity=Decimal(2))
    assert {told(child) for child in Lot.objects.filter(parents=lot)} == {CaseDates(JUNE[19])}


def test_a_mixed_crate_has_the_first_of_each_kind_however_deep():
    mixed = filled_from(case(20), case(22, "sell by"))
    assert told(mixed) == CaseDates(JUNE[19], JUNE[21], "sell by")
    deeper = filled_from(mixed, case(18, "best before"))
    assert told(deeper) == CaseDates(JUNE[19], JUNE[17], "best before")


def test_a_corrected_date_reaches_what_was_filled_since():
    first = case(20)
    mixed = filled_from(first, case(25))
    Intake.objects.filter(pk=first.intake_id).update(best_before=JUNE[27])
    assert told(mixed) == CaseDates(JUNE[24])


def test_the_day_itself_still_counts():
    lot = case(20)
    assert not is_past_use_by(lot, JUNE[19])
    assert is_past_use_by(lot, JUNE[20])
    assert not is_past_use_by(make_lot(), NOW.date() + timedelta(days=999))


def test_crates_of_one_intake_cost_no_query_and_mixed_ones_few(django_assert_num_queries):
    cases = [case(20), case(21), case(22), case(23)]
    plain = with_parts(Lot.objects.filter(pk__in=[lot.pk for lot in cases]))
    with django_assert_num_queries(0):
        all_told(plain)
    one, other = filled_from(*cases[:2]), filled_from(*cases[2:])
    both = with_parts(Lot.objects.filter(pk__in=[one.pk, other.pk]))
    with django_assert_num_queries(1):
        all_told(both)


def test_the_rule_calls_the_kinds_as_the_table_does():
    assert USE_BY == Intake.DateKind.USE_BY
    for kind in Intake.DateKind:
        assert told(case(20, kind) if kind else untold(20)).told == [(kind, JUNE[19])]


def untold(day: int) -> Lot:
    """A case with a date of before its kind was asked for."""
    lot = case(day)
    Intake.objects.filter(pk=lot.intake_id).update(best_before_kind="")
    return Lot.objects.get(pk=lot.pk)

"""Entries that tell how long a crop kept keep the age their crate had then."""

from datetime import timedelta

import pytest

from inventory.actions.intakes import correct_intake
from inventory.actions.quality import discard, judge_crate
from inventory.models import Movement
from inventory.queries.crates import age_of
from inventory.queries.experience import read_harvests
from inventory.upkeep.ages import fill_ages
from tests.builders import NOW, act, crop, make_lots, take

DAY = timedelta(days=1)


@pytest.fixture
def told(farm):
    """Three crates of one harvest: one looked at, one thrown out, one gone to market."""
    looked, thrown, sold = make_lots(12, 12, 12)
    judge_crate(act(NOW + 4 * DAY), lot=looked.pk, answer="fine")
    discard(
        act(NOW + 5 * DAY), lot=thrown.pk, portion="all", reason="spoiled", destination="compost"
    )
    take(sold, "all", at=NOW + 6 * DAY)
    return looked, thrown, sold


def ages():
    found = Movement.objects.filter(kind__in=("inspected", "discarded", "out")).order_by("pk")
    return list(found.values_list("aged_days", flat=True))


def test_what_tells_how_long_a_crop_kept_keeps_its_age(told, farm):
    days = [age_of(lot.pk, farm, NOW + n * DAY) for n, lot in zip((4, 5, 6), told, strict=True)]
    assert ages() == pytest.approx(days, rel=1e-6)
    before = read_harvests(crop(), farm, NOW + 9 * DAY)
    Movement.objects.update(aged_days=None)
    assert read_harvests(crop(), farm, NOW + 9 * DAY) == before


def test_ages_an_earlier_program_did_not_keep_are_filled_in_once(told, farm):
    kept = ages()
    Movement.objects.update(aged_days=None)
    assert fill_ages(NOW + 9 * DAY) == 3
    assert ages() == pytest.approx(kept, rel=1e-6)
    assert fill_ages(NOW + 9 * DAY) == 0


def test_a_harvest_put_right_lets_its_entries_forget_their_ages(told):
    intake = told[0].intake
    correct_intake(
        act(NOW + 7 * DAY), intake=intake, crop=intake.crop, source=intake.source,
        cut_at=NOW - DAY, reason="cut the day before",
    )  # fmt: skip
    assert ages() == [None, None, None]

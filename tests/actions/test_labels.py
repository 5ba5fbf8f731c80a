"""What labels said is remembered, so that those gone wrong are found."""

from datetime import timedelta

import pytest

from inventory.actions.labels import record_prints
from inventory.models import LabelPrint
from inventory.queries.crates import crates_here
from inventory.queries.labels import gone_wrong, under_old_address
from tests.builders import NOW, make_lot, make_lots

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


def wrong(farm) -> list[str]:
    return [crate.code for crate in gone_wrong(crates_here(farm, NOW))]


def test_each_label_is_remembered_with_what_it_said_and_when(farm):
    one, other = make_lots(12, 12)
    day = NOW.date()
    record_prints([(one, day), (other, day + DAY)], NOW)
    said = LabelPrint.objects.values_list("lot_id", "at", "until")
    assert set(said) == {(one.pk, NOW, day), (other.pk, NOW, day + DAY)}


@pytest.mark.parametrize(("days", "is_wrong"), [(1, True), (0, False), (-1, False)])
def test_a_label_that_says_a_day_too_late_has_gone_wrong(farm, days, is_wrong):
    lot = make_lot()
    (crate,) = crates_here(farm, NOW)
    record_prints([(lot, crate.lasts_until + days * DAY)], NOW)
    assert wrong(farm) == ([lot.pk] if is_wrong else [])


def test_the_last_label_printed_counts(farm):
    lot = make_lot()
    (crate,) = crates_here(farm, NOW)
    record_prints([(lot, crate.lasts_until + 3 * DAY)], NOW)
    record_prints([(lot, crate.lasts_until)], NOW + HOUR)
    assert wrong(farm) == []


def old(farm, address: str) -> list[str]:
    farm.label_address = address
    return [crate.code for crate in under_old_address(crates_here(farm, NOW), farm)]


def test_labels_of_another_address_than_is_set_now_are_listed(farm):
    one, bare, never = make_lots(12, 12, 12)
    record_prints([(one, NOW.date())], NOW, "http://old.local")
    record_prints([(bare, NOW.date())], NOW)
    assert old(farm, "https://new.local:8443") == [one.pk]
    assert old(farm, "http://old.local") == []
    assert old(farm, "") == []
    assert LabelPrint.objects.get(lot=one).address == "http://old.local"
    assert not LabelPrint.objects.filter(lot=never).exists()


def test_a_label_printed_again_under_the_new_address_is_listed_no_more(farm):
    lot = make_lot()
    record_prints([(lot, NOW.date())], NOW, "http://old.local")
    record_prints([(lot, NOW.date())], NOW + HOUR, "https://new.local:8443")
    assert old(farm, "https://new.local:8443") == []
    assert old(farm, "http://old.local") == [lot.pk]

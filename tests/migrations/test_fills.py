"""What a migration fills in of a farm stored before it, state by state."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from tests.migrations.test_stored_databases import FILES, drop_tables, its_own_tables, load

HOUR, SECOND = timedelta(hours=1), timedelta(seconds=1)
FIRST = next(file for file in FILES if file.stem == "0001_first_tables")


pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(scope="module")
def _its_own_tables(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), its_own_tables():
        yield


@pytest.fixture
def to(_its_own_tables):
    """Bring the farm stored as 0001 to a later state; returns its models as they are then."""

    def migrated(name: str):
        call_command("migrate", "inventory", name, verbosity=0)
        return MigrationLoader(connection).project_state(("inventory", name)).apps.get_model

    drop_tables()
    migrated(FIRST.stem)
    load(FIRST)
    yield lambda name: lambda model: migrated(name)("inventory", model)
    # Tables of an older state are none that a flush between tests knows.
    drop_tables()


def test_entries_get_the_key_of_the_buyer_they_name_whatever_the_capitals(to):
    before = to("0002_buyers_by_key")
    buyer = before("Outlet").objects.get(name="Saturday market")
    before("Outlet").objects.filter(pk=buyer.pk).update(name="SATURDAY Market")
    gone = before("Movement").objects.filter(other_party=buyer.name, kind="out").first()
    before("Movement").objects.filter(pk=gone.pk).update(other_party="Gone market")
    names = {name.lower(): key for key, name in before("Outlet").objects.values_list("pk", "name")}
    entries = before("Movement").objects.exclude(other_party="")
    told = dict(entries.values_list("pk", "other_party"))
    assert set(entries.values_list("outlet", flat=True)) == {None}
    after = to("0003_fill_buyers")("Movement").objects
    keys = dict(after.exclude(other_party="").values_list("pk", "outlet"))
    assert keys == {entry: names.get(name.lower()) for entry, name in told.items()}
    assert keys[gone.pk] is None
    assert buyer.pk in keys.values()
    assert not after.filter(other_party="").exclude(outlet=None).exists()
    printed = dict(after.exclude(other_party="").values_list("pk", "other_party"))
    assert printed == told


def test_the_key_goes_to_what_left_and_came_back_and_to_no_other_entry(to):
    before = to("0002_buyers_by_key")("Movement").objects
    other = before.filter(kind="moved").first()
    before.filter(pk=other.pk).update(other_party="Saturday market")
    after = to("0003_fill_buyers")("Movement").objects
    assert after.get(pk=other.pk).outlet_id is None
    filled = set(after.exclude(outlet=None).values_list("kind", flat=True))
    assert filled == {"out", "back", "settled"}


def test_each_rooms_target_is_written_down_as_its_first(to):
    rooms = to("0005_targets_with_their_times")("Room").objects
    rooms.filter(pk=rooms.first().pk).update(target_c=Decimal("3.5"))
    targets = dict(rooms.values_list("pk", "target_c"))
    assert Decimal("3.5") in targets.values()
    written = to("0006_fill_targets")("RoomTarget").objects.values_list("room", "target_c", "since")
    assert len(written) == len(targets)
    assert {room: celsius for room, celsius, _since in written} == targets
    assert {since for _room, _celsius, since in written} == {datetime(2000, 1, 1, tzinfo=UTC)}


def test_a_date_written_before_its_kind_was_asked_is_of_no_known_kind(to):
    before = to("0006_fill_targets")("Intake").objects
    dated = list(before.exclude(best_before=None).values_list("pk", "best_before"))
    assert dated
    after = to("0007_kinds_of_case_dates")("Intake").objects
    assert list(after.exclude(best_before=None).values_list("pk", "best_before")) == dated
    assert set(after.values_list("best_before_kind", flat=True)) == {""}


def test_a_farm_that_runs_prints_and_says_its_days_as_before(to):
    before = to("0009_still_good")("Farm").objects.values().get()
    after = to("0010_where_the_farm_is")("Farm").objects.values().get()
    assert after == before | {"region": "elsewhere"}


def test_a_label_keeps_the_address_that_was_set_when_it_was_printed(to):
    """By what the owner set, and on farms older than that by when an address was first known."""
    before = to("0012_plainer_labels")
    first, second = before("LabelAddress").objects.order_by("since")
    lot = before("Lot").objects.first().pk
    prints = before("LabelPrint").objects
    old = before("Action").objects.order_by("pk").first()
    later = max(prints.values_list("at", flat=True)) + HOUR
    before("Action").objects.filter(pk=old.pk).update(recorded_at=later)
    before("Change").objects.create(
        action_id=old.pk, subject="farm", key="1", name="Farm", field="label_address",
        before=second.address, after=first.address,
    )  # fmt: skip
    moments = {
        first.since - HOUR: "", first.since: first.address, second.since - SECOND: first.address,
        second.since: second.address, later - SECOND: second.address, later: first.address,
    }  # fmt: skip
    made = {
        prints.create(lot_id=lot, at=at, until=at.date()).pk: address
        for at, address in moments.items()
    }
    after = to("0013_farm_on_labels")("LabelPrint").objects
    assert dict(after.filter(pk__in=made).values_list("pk", "address")) == made
    stored = set(after.exclude(pk__in=made).values_list("address", flat=True))
    assert stored == {second.address}


def test_a_farm_that_runs_has_no_address_on_its_labels_till_it_gives_one(to):
    before = to("0012_plainer_labels")("Farm").objects.values().get()
    after = to("0013_farm_on_labels")("Farm").objects.values().get()
    assert after == before | {"postal_address": "", "telephone": ""}


def test_what_was_measured_and_checked_before_it_could_be_taken_back_stands(to):
    names = ("Reading", "ProbeReading", "RoomCheck")
    before = to("0013_farm_on_labels")
    counted = {name: before(name).objects.count() for name in names}
    assert all(counted.values())
    after = to("0014_taken_back")
    standing = {name: after(name).objects.filter(taken_back_at=None).count() for name in names}
    assert standing == counted
    checks = after("RoomCheck").objects
    assert checks.filter(replaced_by=None, judged=None, entry_id=None).count() == checks.count()


def test_an_order_is_due_on_the_farms_day_it_was_planned(to):
    """The stored farm stands at New York: 02:30 UTC is still the day before."""
    before = to("0013_farm_on_labels")("Pull").objects
    late = before.order_by("pk").first()
    before.filter(pk=late.pk).update(planned_at=datetime(2026, 6, 13, 2, 30, tzinfo=UTC))
    said = dict(before.values_list("pk", "planned_at"))
    after = dict(to("0017_fill_order_book")("Order").objects.values_list("pk", "due"))
    assert set(after) == set(said)
    assert after.pop(late.pk).isoformat() == "2026-06-12"
    assert after == {key: said[key].date() for key in after}


def test_takes_done_are_kept_and_open_promises_go(to):
    before = to("0013_farm_on_labels")("PullTake").objects
    done = set(before.exclude(taken=None).values_list("pk", "line", "lot", "quantity", "taken"))
    assert done
    assert before.filter(taken=None, missing=False).exists()
    lost = before.filter(missing=True).get()
    of = lost.line.pull
    after = to("0018_only_takes")
    kept = after("Take").objects.values_list("pk", "line", "lot", "quantity", "taken")
    assert set(kept) == done
    (not_there,) = after("NotThere").objects.all()
    assert (not_there.lot_id, not_there.line_id, not_there.quantity) == (
        lost.lot_id, lost.line_id, lost.quantity,
    )  # fmt: skip
    assert (not_there.at, not_there.person_id) == (lost.missing_at, of.planned_by_id)


def test_what_a_finished_order_lacked_before_the_book_is_asked_about_by_nobody(to):
    to("0013_farm_on_labels")
    lines = to("0017_fill_order_book")("OrderLine").objects.select_related("order")
    assert {line.told == line.quantity for line in lines if line.order.closed_at} == {True}
    assert {line.told for line in lines if not line.order.closed_at} == {0}


def test_what_the_program_filled_in_for_a_buyer_is_open_again_and_what_was_set_stays(to):
    before = to("0013_farm_on_labels")
    buyers = before("Outlet").objects.order_by("pk")
    buyers.update(fridge_c=4, minimum_days=0)
    first, second, third = buyers[:3]
    buyers.filter(pk=third.pk).update(fridge_c=6, minimum_days=2)
    before("Change").objects.create(
        action_id=before("Action").objects.first().pk, subject="outlet", key=str(second.pk),
        name="Inn", field="fridge_c", before="5", after="4",
    )  # fmt: skip
    after = to("0017_fill_order_book")("Outlet").objects
    found = {row[0]: row[1:] for row in after.values_list("pk", "fridge_c", "minimum_days")}
    assert found[first.pk] == (None, None)
    assert found[second.pk] == (4, None)
    assert found[third.pk] == (6, 2)

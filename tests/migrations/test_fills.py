"""What a migration fills in of a farm stored before it, state by state.

One farm goes through all of them: each check says from which state to which, looks at or changes
the rows of the first, and goes on where it yields with those of the second.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from tests.migrations.test_stored_databases import FILES, its_own_tables, load

HOUR, SECOND = timedelta(hours=1), timedelta(seconds=1)
FIRST = next(file for file in FILES if file.stem == "0001_first_tables")


CHECKS: list[tuple[str, str, Callable]] = []


def from_to(before: str, after: str):
    """Register a generator: called with the models of one state, it is sent those of another."""

    def register(check):
        CHECKS.append((before, after, check))
        return check

    return register


@pytest.mark.django_db(transaction=True)
def test_what_migrations_fill_in():
    begun = []
    with its_own_tables():
        call_command("migrate", "inventory", FIRST.stem, verbosity=0)
        load(FIRST)
        for name in sorted({name for before, after, _ in CHECKS for name in (before, after)}):
            models = models_of(name)
            for after, check in begun:
                if after == name:
                    with pytest.raises(StopIteration):
                        check.send(models)
            for before, after, check in CHECKS:
                if before == name:
                    begun.append((after, check(models)))
                    next(begun[-1][1])


def models_of(name: str):
    """Bring the farm to a state; return what finds a model as it was then."""
    call_command("migrate", "inventory", name, verbosity=0)
    get_model = MigrationLoader(connection).project_state(("inventory", name)).apps.get_model
    return lambda model: get_model("inventory", model)


@from_to("0002_buyers_by_key", "0003_fill_buyers")
def entries_get_the_key_of_the_buyer_they_name_whatever_the_capitals(before):
    buyer = before("Outlet").objects.get(name="Saturday market")
    before("Outlet").objects.filter(pk=buyer.pk).update(name="SATURDAY Market")
    gone = before("Movement").objects.filter(other_party=buyer.name, kind="out").first()
    before("Movement").objects.filter(pk=gone.pk).update(other_party="Gone market")
    names = {name.lower(): key for key, name in before("Outlet").objects.values_list("pk", "name")}
    entries = before("Movement").objects.exclude(other_party="")
    told = dict(entries.values_list("pk", "other_party"))
    assert set(entries.values_list("outlet", flat=True)) == {None}
    after = (yield)("Movement").objects
    keys = dict(after.filter(pk__in=told).values_list("pk", "outlet"))
    assert keys == {entry: names.get(name.lower()) for entry, name in told.items()}
    assert keys[gone.pk] is None
    assert buyer.pk in keys.values()
    assert not after.filter(other_party="").exclude(outlet=None).exists()
    printed = dict(after.filter(pk__in=told).values_list("pk", "other_party"))
    assert printed == told


@from_to("0002_buyers_by_key", "0003_fill_buyers")
def the_key_goes_to_what_left_and_came_back_and_to_no_other_entry(before):
    before = before("Movement").objects
    other = before.filter(kind="moved").first()
    before.filter(pk=other.pk).update(other_party="Saturday market")
    after = (yield)("Movement").objects
    assert after.get(pk=other.pk).outlet_id is None
    filled = set(after.exclude(outlet=None).values_list("kind", flat=True))
    assert filled == {"out", "back", "settled"}


@from_to("0005_targets_with_their_times", "0006_fill_targets")
def each_rooms_target_is_written_down_as_its_first(before):
    rooms = before("Room").objects
    rooms.filter(pk=rooms.first().pk).update(target_c=Decimal("3.5"))
    targets = dict(rooms.values_list("pk", "target_c"))
    assert Decimal("3.5") in targets.values()
    written = (yield)("RoomTarget").objects.values_list("room", "target_c", "since")
    assert len(written) == len(targets)
    assert {room: celsius for room, celsius, _since in written} == targets
    assert {since for _room, _celsius, since in written} == {datetime(2000, 1, 1, tzinfo=UTC)}


@from_to("0006_fill_targets", "0007_kinds_of_case_dates")
def a_date_written_before_its_kind_was_asked_is_of_no_known_kind(before):
    before = before("Intake").objects
    dated = list(before.exclude(best_before=None).values_list("pk", "best_before"))
    assert dated
    after = (yield)("Intake").objects
    assert list(after.exclude(best_before=None).values_list("pk", "best_before")) == dated
    assert set(after.values_list("best_before_kind", flat=True)) == {""}


@from_to("0009_still_good", "0010_where_the_farm_is")
def a_farm_that_runs_prints_and_says_its_days_as_before(before):
    before = before("Farm").objects.values().get()
    after = (yield)("Farm").objects.values().get()
    assert after == before | {"region": "elsewhere"}


@from_to("0012_plainer_labels", "0013_farm_on_labels")
def a_label_keeps_the_address_that_was_set_when_it_was_printed(before):
    """By what the owner set, and on farms older than that by when an address was first known."""
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
    after = (yield)("LabelPrint").objects
    assert dict(after.filter(pk__in=made).values_list("pk", "address")) == made
    stored = set(after.exclude(pk__in=made).values_list("address", flat=True))
    assert stored == {second.address}


@from_to("0012_plainer_labels", "0013_farm_on_labels")
def a_farm_that_runs_has_no_address_on_its_labels_till_it_gives_one(before):
    before = before("Farm").objects.values().get()
    after = (yield)("Farm").objects.values().get()
    assert after == before | {"postal_address": "", "telephone": ""}


@from_to("0013_farm_on_labels", "0014_taken_back")
def what_was_measured_and_checked_before_it_could_be_taken_back_stands(before):
    names = ("Reading", "ProbeReading", "RoomCheck")
    counted = {name: before(name).objects.count() for name in names}
    assert all(counted.values())
    after = yield
    standing = {name: after(name).objects.filter(taken_back_at=None).count() for name in names}
    assert standing == counted
    checks = after("RoomCheck").objects
    assert checks.filter(replaced_by=None, judged=None, entry_id=None).count() == checks.count()


@from_to("0013_farm_on_labels", "0017_fill_order_book")
def an_order_is_due_on_the_farms_day_it_was_planned(before):
    """The stored farm stands at New York: 02:30 UTC is still the day before."""
    before = before("Pull").objects
    late = before.order_by("pk").first()
    before.filter(pk=late.pk).update(planned_at=datetime(2026, 6, 13, 2, 30, tzinfo=UTC))
    said = dict(before.values_list("pk", "planned_at"))
    after = dict((yield)("Order").objects.values_list("pk", "due"))
    assert set(after) == set(said)
    assert after.pop(late.pk).isoformat() == "2026-06-12"
    assert after == {key: said[key].date() for key in after}


@from_to("0013_farm_on_labels", "0018_only_takes")
def takes_done_are_kept_and_open_promises_go(before):
    before = before("PullTake").objects
    done = set(before.exclude(taken=None).values_list("pk", "line", "lot", "quantity", "taken"))
    assert done
    assert before.filter(taken=None, missing=False).exists()
    lost = before.filter(missing=True).get()
    of = lost.line.pull
    after = yield
    kept = after("Take").objects.values_list("pk", "line", "lot", "quantity", "taken")
    assert set(kept) == done
    (not_there,) = after("NotThere").objects.all()
    assert (not_there.lot_id, not_there.line_id, not_there.quantity) == (
        lost.lot_id, lost.line_id, lost.quantity,
    )  # fmt: skip
    assert (not_there.at, not_there.person_id) == (lost.missing_at, of.planned_by_id)


@from_to("0013_farm_on_labels", "0017_fill_order_book")
def what_a_finished_order_lacked_before_the_book_is_asked_about_by_nobody(before):
    lines = (yield)("OrderLine").objects.select_related("order")
    assert {line.told == line.quantity for line in lines if line.order.closed_at} == {True}
    assert {line.told for line in lines if not line.order.closed_at} == {0}


@from_to("0013_farm_on_labels", "0017_fill_order_book")
def what_the_program_filled_in_for_a_buyer_is_open_again_and_what_was_set_stays(before):
    buyers = before("Outlet").objects.order_by("pk")
    buyers.update(fridge_c=4, minimum_days=0)
    first, second, third = buyers[:3]
    buyers.filter(pk=third.pk).update(fridge_c=6, minimum_days=2)
    before("Change").objects.create(
        action_id=before("Action").objects.first().pk, subject="outlet", key=str(second.pk),
        name="Inn", field="fridge_c", before="5", after="4",
    )  # fmt: skip
    after = (yield)("Outlet").objects
    found = {row[0]: row[1:] for row in after.values_list("pk", "fridge_c", "minimum_days")}
    assert found[first.pk] == (None, None)
    assert found[second.pk] == (4, None)
    assert found[third.pk] == (6, 2)


@from_to("0029_suggestions", "0030_crates_left")
def crates_that_stand_with_buyers_are_counted_once(before):
    actions, orders = before("Action").objects, before("Order").objects.order_by("pk")
    order, person = orders.first(), before("Person").objects.first()
    start = datetime(2026, 7, 1, tzinfo=UTC)

    def done(kind: str, hours: int, undoes=None):
        at = start + hours * HOUR
        return actions.create(
            id=uuid4(), kind=kind, person=person, occurred_at=at, recorded_at=at, undoes=undoes
        )

    def handed(number: int, hours: int, out: int, back: int):
        action = done("hand over", hours)
        before("Handover").objects.create(
            action=action, order=order, number=number, to_whom="Ana", at=start,
            crates_out=out, crates_back=back,
        )  # fmt: skip
        return action

    empties = before("Empties").objects
    handed(1, 1, 5, 0)
    handed(2, 3, 2, 1)
    empties.create(action=done("empties", 2), kind="back", outlet=order.outlet, number=3)
    empties.create(action=done("empties", 4), kind="washed", number=1)
    done("undo", 6, undoes=handed(3, 5, 9, 0))
    left = (yield)("CratesLeft").objects.values_list("outlet", "crates")
    # 5 out, 3 back, 1 back and 2 out; of the 4 that came back 1 is washed.
    assert dict(left) == {order.outlet_id: 3, None: 3}


@from_to("0032_week_losses", "0033_lot_stamps")
def crates_in_the_house_get_a_stamp_each(before):
    here = before("Lot").objects.filter(state__in=("in place", "to put away"))
    codes = set(here.values_list("pk", flat=True))
    assert codes
    after = (yield)("Lot").objects
    stamps = list(after.filter(pk__in=codes).values_list("stamp", flat=True))
    assert len(set(stamps) - {0}) == len(codes)
    assert not after.exclude(pk__in=codes).exclude(stamp=0).exists()


@from_to("0034_week_records", "0035_late_log_changes")
def changes_of_a_log_that_reached_far_back_are_marked(before):
    changes, room = before("LogChange").objects, before("Room").objects.first()
    at = datetime(2026, 7, 2, tzinfo=UTC)
    late, soon = (
        changes.create(room=room, since=at - back, recorded_at=at).pk
        for back in (6 * HOUR + SECOND, 6 * HOUR)
    )
    marked = (yield)("LogChange").objects.filter(late=True).values_list("pk", flat=True)
    assert late in marked
    assert soon not in marked

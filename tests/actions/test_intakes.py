"""What can't be brought in, and what can't be put right."""

from datetime import timedelta

import pytest

from inventory.actions.intakes import bring_in_harvest, correct_intake
from inventory.actions.reshape import combine_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Lot, Source
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def correct(intake, **changes):
    """Put an intake right as it was, but for the changes."""
    same = {"crop": intake.crop, "source": intake.source, "cut_at": intake.cut_at}
    return correct_intake(act(), intake=intake, reason="wrong", **same | changes)


def test_a_harvest_comes_from_a_block():
    with refused(Refused("not-a-block", field="source")):
        make_lots(12, source=Source.objects.get(name="Orchard"))


def test_a_delivery_comes_from_a_supplier():
    with refused(Refused("not-a-supplier", field="source")):
        make_cases(18, source=Source.objects.get(name="Bed 3"))


def test_a_refused_harvest_leaves_no_new_block_behind():
    new = Source(kind="block", name="Tunnel 2")
    with refused(Refused("crate-count", field="crates", most=200)):
        bring_in_harvest(
            act(), crop=builders.crop("collards"), source=new, quantities=[], unit="bunch"
        )


def test_a_harvest_can_not_be_corrected_into_a_delivery():
    intake = make_lot(12).intake
    with refused(Refused("other-kind-of-source", field="source")):
        correct(intake, source=Source.objects.get(name="Orchard"))


def test_the_crop_of_crates_mixed_with_others_can_not_be_changed():
    one, other = make_lot(5), make_lot(7)
    combine_lots(act(), lots=[one.pk, other.pk])
    with refused(Conflict("already-mixed", field="crop")):
        correct(one.intake, crop=builders.crop("collards"))
    correct(one.intake, cut_at=NOW - timedelta(hours=3))


def test_an_intake_that_was_undone_has_nothing_to_correct():
    intake = make_lot(12).intake
    undo(act(), action=intake.action)
    with refused(Conflict("intake-undone")):
        correct(intake, crop=builders.crop("collards"))


def test_a_correction_changes_something():
    lot = make_lot(12)
    with refused(Refused("nothing-changed")):
        correct(lot.intake)
    correct(lot.intake, crop=builders.crop("collards"))
    assert Lot.objects.get(pk=lot.pk).crop.reference_key == "collards"

"""What an owner set has words, whichever field it was."""

import pytest
from django.forms import ModelForm
from django.utils import translation

from inventory.forms.labels import LabelFarmForm
from inventory.forms.owner import FarmForm
from inventory.models import Change, Farm
from inventory.views.owner import LISTS
from inventory.words import owner
from inventory.words.owner import change_words

FORMS: list[type[ModelForm]] = [*(kind.form for kind in LISTS.values()), FarmForm, LabelFarmForm]
# What no form of a row names so: added rows, secrets, and what one tap sets.
OTHERS = {
    "added", "removed", "pin", "password", "grown", "keeping_days", "best_before_kind",
    "alarm_done", "page_open", "revoked_at", "unpaired_at", "signed_in", "tags_made",
    "usually_sells", "least_on_table",
}  # fmt: skip


def fields() -> set[str]:
    """Every field that can be written down as set."""
    return OTHERS | {name for form in FORMS for name in form._meta.fields}


def said(field: str, before: str, after: str, unit="C", subject="room") -> str:
    change = Change(subject=subject, name="Cold room", field=field, before=before, after=after)
    return change_words(change, Farm(temperature_unit=unit))


def test_each_field_an_owner_can_set_has_words():
    assert fields() <= set(owner._FIELDS)


def test_no_words_are_kept_for_a_field_nobody_can_set():
    assert set(owner._FIELDS) - fields() == set()


@pytest.mark.parametrize(
    ("set_", "words"),
    [
        (("target_c", "2", "5"), "Cold room: kept at, 2 °C → 5 °C"),
        (("damp", "yes", "no"), "Cold room: damp air, yes → no"),
        (("keeping_days", "", "9"), "Cold room: the farm's own keeping days, – → 9"),
        (("keeping_days", "9", ""), "Cold room: the farm's own keeping days, 9 → –"),
        (("added", "", "Cold room"), "Cold room: added"),
        (("password", "", "set"), "Cold room: password set"),
        (("pin", "", "set"), "Cold room: PIN set"),
        (
            ("unplaced_room", "", "Cool corner"),
            "Cold room: where crates not put away count, – → Cool corner",
        ),
        (
            ("alarm_done", "iced up (Ada)", ""),
            "Cold room: alarm open again; closed before with “iced up (Ada)”",
        ),
    ],
)
def test_what_was_set_is_said_from_what_to_what(set_, words):
    with translation.override("en"):
        assert said(*set_) == words


def test_what_is_chosen_is_said_by_its_words():
    with translation.override("en"):
        assert said("role", "crew", "owner", subject="person") == "Cold room: role, crew → owner"
        day = said("week_start", "0", "6", subject="farm")
    assert day == "Cold room: first day of the week, Monday → Sunday"
    with translation.override("es"):
        assert said("week_start", "0", "6", subject="farm").lower().endswith("lunes → domingo")


def test_temperatures_are_said_in_the_farms_unit():
    """0 °C are 32 °F, 5 °C 41: NIST SP 811, appendix B."""
    with translation.override("en"):
        assert said("fridge_c", "0", "5", "F") == "Cold room: their fridge, 32 °F → 41 °F"

"""Every value that is put into words late has words, in both languages."""

from datetime import UTC, date, datetime
from functools import partial
from itertools import product
from types import SimpleNamespace

import pytest
from django.utils import translation

from inventory.codes import InvalidCode
from inventory.forms.fields import NumberField
from inventory.keeping import Harm, load_reference
from inventory.keeping.log import Side
from inventory.keeping.neighbours import neighbour_warnings, room_warnings
from inventory.labels.read import NoPicture
from inventory.lives.stays import PARTS
from inventory.models import Crop, Farm, Outlet
from inventory.queries.shelves import Mark
from inventory.rotation.order import Why
from inventory.rotation.pulls import WhyShort
from inventory.words import crates as crate_words
from inventory.words import orders, rooms
from inventory.words.refusals import code_sentence, picture_sentence
from tests.our_code import reasons

TODAY = date(2026, 6, 10)
NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)
REFERENCES = list(load_reference().values())
WARNINGS = [
    warning for one, other in product(REFERENCES, repeat=2)
    for warning in neighbour_warnings(one, other)
] + [
    warning for crop, room_c in product(REFERENCES, (-2.0, 5.0, 15.0))
    for warning in room_warnings(crop, room_c)
]  # fmt: skip


def why(reason: str) -> str:
    crate = SimpleNamespace(
        verdict=SimpleNamespace(why=reason),
        lot=SimpleNamespace(kept_until=TODAY),
        life=SimpleNamespace(chill_used=None, chill_days=3.2, chill_c=5.0),
    )
    return crate_words.why_words(crate, "C")


def advice(kind: str) -> str:
    kale, apple = Crop(reference_key="kale"), Crop(reference_key="apple")
    return rooms.advice_words(SimpleNamespace(kind=kind, giver=apple, takers=[kale]))


def spell(side: str) -> str:
    found = SimpleNamespace(side=side, limit_c=4.0, hours=3.0, start=NOON, cost=[])
    return rooms.spell_words(found, Farm(temperature_unit="C"))


def alarm(side_and_going_on: tuple[str, bool]) -> str:
    side, going_on = side_and_going_on
    excursion = SimpleNamespace(side=side)
    return rooms.alarm_words(
        SimpleNamespace(
            room="Cold room", hours=3, started_at=NOON, excursion=excursion, going_on=going_on
        )
    )


def number_wrong(reason: str) -> str:
    return str(NumberField().error_messages[reason])


SIDES = set(Side)
# How each is said, and every value it may be asked for, or what tells them from our source.
SAID = {
    "a line not filled": (orders.reason_words, set(WhyShort)),
    "harm at a place": (crate_words.harm_words, set(Harm) - {Harm.NONE}),
    "a row that can't be read": (rooms.bad_row_words, partial(reasons, "BadRow")),
    "part of a life": (crate_words.part_words, {*PARTS, "left"}),
    "evidence": (crate_words.evidence_words, {row.evidence for row in REFERENCES}),
    "advice": (advice, {warning.kind for warning in WARNINGS}),
    "source of advice": (crate_words.source_words, {warning.source for warning in WARNINGS}),
    "why on a list": (why, set(Why) - {Why.NONE}),
    "a mark on a box": (crate_words.mark_words, set(Mark) - {Mark.NONE}),
    "spell": (spell, SIDES),
    "alarm": (alarm, set(product(SIDES, (True, False)))),
    "a code": (
        lambda reason: code_sentence(InvalidCode("", reason)),
        partial(reasons, "InvalidCode"),
    ),
    "a picture": (
        lambda reason: picture_sentence(NoPicture(reason)),
        partial(reasons, "NoPicture"),
    ),
    "a number": (number_wrong, partial(reasons, "NotANumber")),
    "what a buyer refuses": (
        lambda tag: str(orders.restriction_words(tag)),
        Outlet(own_grown_only=True, organic_only=True).refused_tags,
    ),
}
# Titles of books stay as they were printed.
SAME_IN_BOTH = {"hb66", "ncsu", "ah668"}


@pytest.mark.parametrize("name", SAID)
def test_every_value_has_words_in_both_languages(name):
    say, values = SAID[name]
    values = values() if callable(values) else values
    assert len(values) > 1
    for value in values:
        said = {}
        for language in ("en", "es"):
            with translation.override(language):
                said[language] = say(value)
        assert said["en"].strip()
        assert (said["en"] == said["es"]) == (value in SAME_IN_BOTH), value

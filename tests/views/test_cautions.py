"""The cautions stand where the work can hurt someone, short and in both languages."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.actions.temperatures import check_room, record_readings
from inventory.keeping import load_reference
from inventory.models import Farm, Person, Room
from tests import builders

# Page, and a few words of what must stand there in English and in Spanish.
CAUTIONS = [
    ("/", "an estimate of quality, not of food safety", "no de si se puede comer sin riesgo"),
    ("/", "ready-to-eat produce follows the food code", "sigue el reglamento de alimentos"),
    ("/L/{lot}", "Look and smell, then decide", "Mira y huele, luego decide"),
    ("/L/{lot}", "at or below its freezing point", "en su punto de congelación"),
    ("/L/{lot}/look", "safe to eat no figure here can say", "Ninguna cifra"),
    ("/L/{lot}/move", "Heavy crates low", "Cajas pesadas abajo"),
    ("/L/{lot}/move", "Meat, eggs and dairy always below", "Carne, huevo y lácteos siempre debajo"),
    ("/L/{lot}/take-out", "local law decides what must be", "la ley local decide qué"),
    ("/market", "local law decides what must be", "la ley local decide qué"),
    ("/intake/{intake}", "do not sell the one you pierced", "no vendas la pieza"),
    ("/in/harvest/{crop}", "do not sell the one you pierced", "no vendas la pieza"),
    ("/rooms/{room}/check", "door must open from inside", "puerta debe abrir desde adentro"),
    ("/settings/rooms/new", "nobody works shut in", "nadie trabaja encerrado"),
    ("/scan", "Scan at the doorway", "Escanea en la puerta"),
]


@pytest.fixture
def frozen(signed_in) -> dict:
    now = timezone.now()
    lot = builders.make_lot(at=now - timedelta(days=1))
    cold = [(now - timedelta(hours=hours), -4.0) for hours in range(6)]
    record_readings(Room.objects.get(), cold, kind="sensor", at=now, sensor="fan")
    builders.take(lot, Decimal(2), at=now)
    fresh = builders.make_lot(at=now, cut_ago=timedelta(hours=1), pulp_c=None)
    return {
        "lot": lot.pk, "room": Room.objects.get().pk, "crop": lot.crop_id,
        "intake": fresh.intake_id,
    }  # fmt: skip


@pytest.mark.parametrize("language", ["en", "es"])
def test_cautions_stand_where_they_belong(signed_in, frozen, language):
    Person.objects.update(language=language)
    for path, english, spanish in CAUTIONS:
        page = signed_in.get(path.format(**frozen)).content.decode()
        assert re.search({"en": english, "es": spanish}[language], page), (path, language)


@pytest.mark.parametrize(
    ("language", "words"), [("en", "nobody works shut in"), ("es", "nadie trabaja encerrado")]
)
def test_the_first_page_says_that_the_door_must_open_from_inside(db, language, words):
    page = Client(headers={"accept-language": language}).get("/set-up").content.decode()
    assert words in page


def test_the_caution_of_the_probe_stands_under_its_box_when_it_is_asked_again(signed_in, frozen):
    path = f"/intake/{frozen['intake']}/probe"
    answer = signed_in.post(path, {"entry": uuid4(), "pulp_c": "warm"})
    assert answer.status_code == 422
    box, _, under = words_of(answer).partition('name="pulp_c"')
    assert box
    assert "Clean the probe before and after; do not sell the one you pierced." in under


SPROUTS = "days left say nothing about safety"


@pytest.mark.parametrize(
    "key", [key for key, row in load_reference().items() if row.group == "sprout"]
)
def test_sprouts_and_microgreens_say_that_days_left_say_nothing_of_safety(signed_in, key):
    """Common practice, no source."""
    crop = builders.crop(key)
    lot = builders.make_lot(crop=crop)
    for path in (f"/L/{lot.pk}", f"/in/harvest/{crop.pk}"):
        assert SPROUTS in words_of(signed_in.get(path)), path


def test_of_other_crops_nothing_is_said_of_sprouts(signed_in):
    lot = builders.make_lot()
    for path in (f"/L/{lot.pk}", f"/in/harvest/{lot.crop_id}"):
        assert SPROUTS not in words_of(signed_in.get(path)), path


def test_sprouts_are_the_group_of_sprouts_and_microgreens():
    group = {key for key, row in load_reference().items() if row.group == "sprout"}
    assert group == {"sprouts-mung", "sprouts-seed", "pea-shoots", "microgreens"}


def test_who_owns_the_farm_sees_since_when_the_door_shuts_in(signed_in):
    day = timezone.now() - timedelta(days=3)
    check_room(
        builders.act(day), room=Room.objects.get(), celsius=None, door_shut=True, odd="",
        opens_from_inside=False,
    )  # fmt: skip
    line = "Cold room: the door does not open from inside."
    since = f"Found so on {day.astimezone(Farm.objects.get().zone):%a %-d %b}."
    page = words_of(signed_in.get("/"))
    assert line in page
    assert since in page
    builders.sign_in(signed_in, builders.make_crew())
    page = words_of(signed_in.get("/"))
    assert line in page
    assert since not in page


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())

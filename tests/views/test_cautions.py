"""The cautions stand where the work can hurt someone, short and in both languages."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from inventory.actions.temperatures import record_readings
from inventory.models import Person, Room
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
    return {"lot": lot.pk, "room": Room.objects.get().pk}


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

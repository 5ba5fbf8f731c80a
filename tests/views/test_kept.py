"""What was typed outlives the sign-in: it comes again after it, and a fresh tap sends it."""

import html
import re
from importlib import import_module
from pkgutil import iter_modules
from uuid import uuid4

import pytest
from django import forms

from inventory.forms import __path__ as folder
from inventory.models import Lot, Room
from inventory.views.kept import may_keep
from tests import builders
from tests.builders import PASSWORD, make_lot, place

NEW_ROOM = {"name": "Shed", "target_c": "9", "racks": "1", "shelves": "2", "capacity": "5"}


def hidden(response) -> dict[str, str]:
    """The hidden fields of the last form of a page."""
    page = response.content.decode().rpartition("<form")[2]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page)
    return {name: html.unescape(value) for name, value in found}


def action(response) -> str:
    return re.findall(r'<form method="post" action="([^"]+)"', response.content.decode())[-1]


@pytest.fixture
def counted(signed_in):
    """A count typed when nobody is signed in any more; what the page then says."""
    lot = make_lot(12)
    signed_in.post("/sign-out")
    sent = {"entry": str(uuid4()), "quantity": "7", "reason": "missing", "note": "by the door"}
    return lot, sent, signed_in.post(f"/count/crate/{lot.pk}", sent)


def quantity(lot) -> int:
    return Lot.objects.get(pk=lot.pk).quantity


def test_a_form_comes_again_after_the_password_and_is_sent_by_a_tap(signed_in, counted):
    lot, sent, asked = counted
    assert asked.status_code == 403
    assert b"comes again after this" in asked.content
    kept = hidden(asked)
    wrong = signed_in.post(action(asked), kept | {"name": "Ada", "password": "wrong"})
    again = signed_in.post(action(wrong), hidden(wrong) | {"name": "Ada", "password": PASSWORD})
    assert quantity(lot) == 12
    assert '<p class="big">7 · by the door</p>' in again.content.decode()
    assert hidden(again).items() >= sent.items()
    assert signed_in.post(action(again), hidden(again)).status_code == 302
    assert quantity(lot) == 7


def test_it_comes_again_after_a_tap_on_a_name(signed_in, counted):
    lot, sent, asked = counted
    page = asked.content.decode()
    tap = re.search(r'action="(/who/\d+)"[^§]*?name="kept" value="([^"]+)"', page)
    again = signed_in.post(tap[1], {"kept": tap[2]})
    assert hidden(again).items() >= sent.items()
    assert quantity(lot) == 12


def test_the_owners_form_comes_again_after_the_owners_password(signed_in):
    signed_in.post(f"/who/{builders.owner().pk}")
    asked = signed_in.post("/settings/rooms/new", NEW_ROOM | {"entry": str(uuid4())})
    again = signed_in.post(action(asked), hidden(asked) | {"password": PASSWORD})
    assert Room.objects.count() == 1
    assert signed_in.post(action(again), hidden(again)).status_code == 302
    assert Room.objects.filter(name="Shed").exists()


def test_no_secret_is_carried_and_nothing_of_a_stranger_is_taken(client, farm):
    typed = {"name": "Ben", "new_pin": "4711", "new_password": "geheim-geheim"}
    asked = client.post("/settings/people/new", typed)
    assert "geheim" not in asked.content.decode()
    kept = hidden(asked)["kept"]
    again = client.post("/sign-in", {"name": "Ada", "password": PASSWORD, "kept": kept})
    assert "geheim" not in again.content.decode()
    assert hidden(again).keys() == {"csrfmiddlewaretoken", "name"}
    forged = {"name": "Ada", "password": PASSWORD, "kept": kept[:-2]}
    assert client.post("/sign-in", forged)["Location"] == "/"


def test_a_bare_button_leads_to_the_sign_in(client, farm):
    lot = make_lot(12, position=place("A1"))
    for sent in ({"entry": str(uuid4())}, {"note": "x" * 250_000}):
        answer = client.post(f"/L/{lot.pk}/move", sent)
        assert (answer.status_code, answer["Location"]) == (302, "/sign-in?next=/")


def every_field() -> list[tuple[str, forms.Field]]:
    modules = [import_module(f"inventory.forms.{one.name}") for one in iter_modules(folder)]
    known = {form for module in modules for form in vars(module).values() if isinstance(form, type)}
    named = [form for form in known if issubclass(form, forms.BaseForm)]
    return [pair for form in named for pair in getattr(form, "base_fields", {}).items()]


def test_every_field_is_carried_but_those_of_passwords_and_pins():
    """A figure left out on the way would be set to nothing by the fresh tap."""
    fields = every_field()
    hidden_fields = {name for name, one in fields if isinstance(one.widget, forms.PasswordInput)}
    assert hidden_fields == {"password", "your_password", "new_password", "pin"}
    left_out = {name for name, _field in fields if not may_keep(name)}
    assert left_out == hidden_fields | {"new_pin", "code"}  # the new PIN is shown, and read out


def test_what_is_set_of_a_crop_comes_again_whole(signed_in):
    crop = builders.crop()
    signed_in.post(f"/who/{builders.owner().pk}")
    sent = {"sell_first_days": "2", "unit": "bunch", "grown": "on", "keeping_days": "9"}
    asked = signed_in.post(f"/settings/crops/{crop.pk}", sent | {"entry": str(uuid4())})
    again = signed_in.post(action(asked), hidden(asked) | {"password": PASSWORD})
    assert signed_in.post(action(again), hidden(again)).status_code == 302
    crop.refresh_from_db()
    assert crop.keeping_days == 9

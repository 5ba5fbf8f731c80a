"""Every page answers, in both languages, with one heading and no script of others."""

import re
from uuid import uuid4

import pytest
from django.apps import apps
from django.urls import reverse

from inventory.codes import check_character
from inventory.models import (
    Crop,
    Guess,
    Phone,
    Tag,
)
from tests import addresses, builders

UNUSED = "000000" + check_character("000000")


def everything() -> dict[str, list]:
    """Every row of the farm's tables, but for sign-ins and guesses of a password."""
    models = [model for model in apps.get_app_config("inventory").get_models() if model != Guess]
    rows = {model.__name__: list(model.objects.order_by("pk").values()) for model in models}
    for person in rows["Person"]:
        del person["last_login"]
    return rows


def test_every_address_is_in_one_of_these_tests(busy, posts):
    _, pages = busy
    assert addresses.names() == set(pages) | set(posts) | addresses.OPEN


NO_PAGES = {
    "ledger-csv", "log-csv", "label-outline", "available-csv", "credit-photo", "week-csv",
}  # fmt: skip


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_page_answers(busy, language):
    client, pages = busy
    person = builders.owner()
    person.language = language
    person.save()
    for name, each in pages.items():
        for args in each:
            response = client.get(reverse(name, args=args))
            assert response.status_code == 200, (name, args)
            if name in NO_PAGES:
                continue
            page = response.content.decode()
            assert page.count("<h1>") == 1, (name, args)
            assert f'<html lang="{language}">' in page
            assert not re.search(r"(src|href)=\"(https?:)?//", page), (name, args)


def test_no_page_answers_to_a_stranger(busy, posts):
    client, pages = busy
    client.logout()
    before = everything()
    for name, each in pages.items():
        for send in (client.get, client.post):
            response = send(reverse(name, args=each[0]))
            assert response.status_code == 302, name
            assert response["Location"].startswith("/sign-in"), name
    for name, args in posts.items():
        response = client.post(reverse(name, args=args), {"entry": uuid4()})
        assert response.status_code == 302, name
        assert response["Location"].startswith("/sign-in"), name
    assert everything() == before


OWNERS = {
    "lists", "farm", "phones", "new-room", "list", "list-new", "list-change", "ledger-csv",
    "log-csv", "health", "sensors", "close-alarm", "label-settings", "tags", "pick-crops",
    "market-habits",
}  # fmt: skip


def test_crew_see_all_but_the_owners_pages(busy):
    client, pages = busy
    builders.sign_in(client, builders.make_crew())
    for name, each in pages.items():
        status = client.get(reverse(name, args=each[0])).status_code
        expected = {True: 403, False: 200}[name in OWNERS]
        if name == "count-found":
            expected = 302  # nobody else's count is theirs
        assert status == (404 if name == "owner" else expected), name


OWNERS_POSTS = {
    "date-kinds",
    "unpair",
    "toggle-crop",
    "adopt",
    "revoke",
    "wrong-reading",
    "wrong-file",
    "reopen-alarm",
    "open-page",
    "answer-suggestion",
}


def test_crew_can_send_none_of_the_owners_forms(busy, posts):
    client, pages = busy
    builders.sign_in(client, builders.make_crew())
    before = everything()
    for name, args in [(name, pages[name][0]) for name in sorted(OWNERS)] + [
        (name, posts[name]) for name in sorted(OWNERS_POSTS)
    ]:
        response = client.post(reverse(name, args=args), {"entry": uuid4()})
        assert response.status_code == 403, name
    assert everything() == before


def test_an_owner_taken_by_a_tap_is_asked_for_the_password(busy, posts):
    client, pages = busy
    builders.sign_in(client, as_owner=False)
    before = everything()
    for name in sorted(OWNERS):
        for send in (client.get, client.post):
            response = send(reverse(name, args=pages[name][0]))
            assert response["Location"].startswith("/owner?"), name
    for name in sorted(OWNERS_POSTS):
        response = client.post(reverse(name, args=posts[name]), {"entry": uuid4()})
        assert response["Location"].startswith("/owner?"), name
    assert everything() == before


def test_nothing_is_changed_by_opening_a_link(busy, posts):
    """OWASP ASVS 5.0, 3.5.3: a scanned link must not move a lot by itself."""
    client, pages = busy
    tag = Tag.objects.get().pk
    client.get(reverse("week"))  # the sums kept of marked weeks are recounted when they are read
    for args in pages["week-of"]:  # and what is kept beside them is counted at the first look
        client.get(reverse("week-of", args=args))
    before = everything()
    for name, args in posts.items():
        response = client.get(reverse(name, args=args))
        assert response.status_code == (302 if name in ("case", "switch") else 405), name
        assert response.status_code == 302 or b"Nothing is shown here" in response.content
    for name, each in pages.items():
        for args in each:
            client.get(reverse(name, args=args))
    client.get(f"/L/{tag}")
    assert everything() == before


def test_a_label_opens_in_any_case_and_unknown_ones_say_so(busy):
    client, pages = busy
    code = pages["crate"][0][0]
    assert client.get(f"/l/{code.lower()}")["Location"] == f"/L/{code}"
    assert client.get(f"/L/{code}").status_code == 200
    for wrong in (UNUSED, "0000000", "nonsense", "🥬", "A" * 500):
        assert client.get(f"/L/{wrong}").status_code == 404
        assert client.get(f"/P/{wrong}").status_code == 404


@pytest.mark.parametrize("day", ["1950-01-01", "2999-01-01", "x", "2026-13-01", "9999-12-31"])
def test_an_impossible_week_is_not_found(signed_in, day):
    assert signed_in.get(f"/week/{day}").status_code == 404


def test_a_crate_is_found_by_its_code_its_last_four_or_a_scanned_link(busy):
    client, pages = busy
    code = pages["crate"][0][0]
    turned = f"HTTPÑ--TESTSERVERÑ8108-L-{code}"  # by a scanner on a Spanish keyboard
    for typed in (code, code.lower(), f"HTTPS://FARM.EXAMPLE/L/{code}", turned):
        assert client.get("/find", {"code": typed})["Location"] == f"/L/{code}"
    found = client.get("/find", {"code": code[-4:]})
    assert (found.status_code, code in found.content.decode()) == (200, True)
    place = pages["place"][0][0]
    assert client.get("/find", {"code": place})["Location"] == f"/P/{place}"
    for typed, status in ((UNUSED, 404), ("UUUUUUU", 422), ("5" * 90, 422), ("0000", 404)):
        assert client.get("/find", {"code": typed}).status_code == status


def test_health_says_nothing_else(client, db):
    response = client.get("/healthz")
    assert (response.status_code, response.content) == (200, b"ok")


def test_headers_keep_strangers_scripts_out(signed_in):
    headers = signed_in.get("/").headers
    policy = headers["Content-Security-Policy"]
    for part in ("default-src 'self'", "object-src 'none'", "base-uri 'none'"):
        assert part in policy
    assert headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    ("host", "status"),
    [("localhost", 302), ("192.168.1.7:8000", 302), ("10.0.0.5", 302), ("[fd00::1]:8000", 302),
     ("farmbox.local", 302), ("evil.example", 400), ("8.8.8.8", 400)],
)  # fmt: skip
def test_only_names_of_the_farm_are_answered(client, farm, host, status):
    assert client.get("/", HTTP_HOST=host).status_code == status


def test_crops_are_switched_on_with_a_tap(signed_in):
    dill = Crop.objects.get(reference_key="dill")
    signed_in.post(f"/settings/crops/{dill.pk}/toggle")
    dill.refresh_from_db()
    assert dill.grown
    response = signed_in.post(f"/settings/crops/{dill.pk}/toggle", headers={"HX-Request": "true"})
    assert b"<html" not in response.content


def test_a_lost_phone_is_signed_out_at_once(signed_in):
    phone = Phone.objects.get()
    signed_in.post(f"/settings/phones/{phone.pk}/unpair")
    assert signed_in.get("/")["Location"].startswith("/sign-in")

"""Who is at the phone."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from inventory.labels import STOCKS
from inventory.models import Change, Farm, Guess, Person, Phone, Position
from tests import builders
from tests.builders import PASSWORD


def give_password(client, name="Ada", password=PASSWORD):
    return client.post("/sign-in", {"name": name, "password": password})


def test_a_password_pairs_the_phone_and_then_a_tap_is_enough(client, farm):
    ben = builders.make_crew()
    assert give_password(client)["Location"] == "/"
    assert Phone.objects.count() == 1
    before = client.session.session_key
    client.post(f"/who/{ben.pk}")
    assert client.session.session_key != before
    assert int(client.session["_auth_user_id"]) == ben.pk
    assert not client.session["as_owner"]
    client.post(f"/who/{builders.owner().pk}")
    assert client.get("/settings")["Location"].startswith("/owner?")
    assert client.post("/owner", {"password": "wrong"}).status_code == 422
    client.post("/owner", {"password": PASSWORD, "next": "/settings"})
    assert client.get("/settings").status_code == 200


def test_a_tap_on_a_strangers_phone_is_nothing(client, farm):
    ben = builders.make_crew()
    client.post(f"/who/{ben.pk}")
    assert "_auth_user_id" not in client.session


def test_names_in_any_case_and_wrong_ones_alike(client, farm):
    assert give_password(client, "ada ").status_code == 302
    unknown, wrong = give_password(Client(), "Nobody"), give_password(Client(), "Ada", "wrong")
    assert unknown.status_code == wrong.status_code == 422
    assert b"do not belong together" in unknown.content
    assert b"do not belong together" in wrong.content


def test_guesses_are_slowed_even_with_the_right_password(client, farm):
    for _ in range(3):
        give_password(client, "Ada", "wrong")
    response = give_password(client)
    assert response.status_code == 422
    assert b"Too many wrong tries" in response.content


def test_a_pin_where_the_farm_wants_it(client, farm):
    ben = builders.make_crew()
    ben.set_pin("4711")
    ben.save()
    Farm.objects.update(pin_required=True)
    give_password(client)
    assert b"PIN" in client.post(f"/who/{ben.pk}").content
    assert client.post(f"/who/{ben.pk}", {"pin": "0000"}).status_code == 422
    assert int(client.session["_auth_user_id"]) != ben.pk
    client.post(f"/who/{ben.pk}", {"pin": "4711"})
    assert int(client.session["_auth_user_id"]) == ben.pk
    assert client.session["proven"]


def test_the_owners_rights_end_after_a_while_on_a_phone_that_others_use(client, farm, monkeypatch):
    ben = builders.make_crew()
    give_password(client)
    idle = timezone.now() + timedelta(minutes=20)
    monkeypatch.setattr("inventory.middleware.timezone.now", lambda: idle)
    assert client.get("/settings").status_code == 200  # nobody else has used it
    client.post(f"/who/{ben.pk}")
    monkeypatch.undo()
    give_password(client)
    moment = timezone.now()
    for minutes, status in ((14, 200), (28, 200), (44, 302), (45, 302)):
        later = moment + timedelta(minutes=minutes)
        monkeypatch.setattr("inventory.middleware.timezone.now", lambda later=later: later)
        assert client.get("/settings").status_code == status, minutes
    assert client.get("/").status_code == 200


def test_a_new_password_asks_for_the_one_of_now(signed_in, farm):
    ben, new = builders.make_crew(), "a-much-better-horse"
    typed = {"name": "Ben", "role": "crew", "language": "en", "is_active": "on"}
    for yours, said in (("", b"still missing"), ("wrong", b"not the password")):
        sent = typed | {"entry": uuid4(), "new_password": new, "your_password": yours}
        answer = signed_in.post(f"/settings/people/{ben.pk}", sent)
        assert (answer.status_code, said in answer.content) == (422, True)
    assert not Person.objects.get(pk=ben.pk).check_password(new)


def test_signing_in_stands_among_the_changes(client, farm):
    give_password(client)
    client.post(f"/who/{builders.owner().pk}")
    client.post("/owner", {"password": PASSWORD})
    kept = Change.objects.values_list("subject", "field", "after", "action__person__name")
    assert list(kept) == [
        ("phone", "added", "added", "Ada"), ("phone", "signed_in", "password", "Ada"),
    ]  # fmt: skip


@pytest.mark.parametrize("typed", ["Odıle", "ＯＤＩＬＥ"])
def test_a_name_typed_oddly_is_that_name_and_counted_as_one(client, farm, typed):
    odile = builders.make_crew("Odile")
    odile.set_password(PASSWORD)
    odile.save()
    give_password(client, typed, "wrong")
    assert set(Guess.objects.values_list("person_name", flat=True)) == {"odile"}
    assert give_password(client, typed).status_code == 302


@pytest.mark.parametrize(
    ("https", "headers", "address"),
    [
        (False, {}, "127.0.0.1"),
        (False, {"Host": "farm.local"}, ""),
        (False, {"X-Forwarded-For": "192.0.2.1"}, "127.0.0.1"),
        (True, {}, ""),
        (True, {"X-Forwarded-For": "203.0.113.9, 192.0.2.1"}, "192.0.2.1"),
        (True, {"X-Forwarded-For": "2a00:8:1:2:3:4:5:6"}, "2a00:8:1:2::/64"),
        (True, {"X-Forwarded-For": "fd00:1:2:3:4:5:6:7"}, "fd00:1:2:3:4:5:6:7"),
        (True, {"X-Forwarded-For": "fe80::1%eth0"}, "fe80::1%eth0"),
        (True, {"X-Forwarded-For": "::ffff:192.0.2.1"}, "192.0.2.1"),
        (True, {"X-Forwarded-For": "unknown"}, "unknown"),
    ],
)
def test_guesses_are_told_apart_by_where_they_come_from(
    client, farm, settings, https, headers, address
):
    settings.HTTPS = https
    client.post("/sign-in", {"name": "Ada", "password": "wrong"}, headers=headers)
    assert set(Guess.objects.values_list("device", flat=True)) == {"*", address} - {""}


def test_a_page_of_somebody_is_not_kept_by_the_phone(client, farm):
    assert client.get("/sign-in")["Cache-Control"] == "no-store"
    give_password(client)
    for path in ("/", "/settings", "/ledger.csv", "/undo/00000000-0000-0000-0000-000000000000"):
        assert client.get(path)["Cache-Control"] == "no-store", path
    client.post("/sign-out")
    names = client.get("/who")
    assert (names.status_code, names["Cache-Control"]) == (200, "no-store")


def test_over_our_own_https_the_phone_has_another_cookie_and_keeps_the_old_pairing(
    client, farm, settings
):
    ben = builders.make_crew()
    give_password(client)
    settings.PHONE_COOKIE, settings.SESSION_COOKIE_SECURE = "__Host-phone", True
    client.post("/sign-out")
    assert client.post(f"/who/{ben.pk}").status_code == 302
    fresh = Client()
    cookie = give_password(fresh).cookies["__Host-phone"]
    assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")


def test_somebody_who_left_is_out_at_once(client, farm):
    ben = builders.make_crew()
    builders.sign_in(client, ben)
    assert client.get("/").status_code == 200
    Person.objects.filter(pk=ben.pk).update(is_active=False)
    assert client.get("/")["Location"].startswith("/sign-in")


def test_the_next_page_is_one_of_ours(client, farm):
    for asked in ("https://evil.example/", "more", "%s"):
        typed = {"name": "Ada", "password": PASSWORD, "next": asked}
        assert client.post("/sign-in", typed)["Location"] == "/", asked


def test_a_signed_out_phone_comes_back_to_the_crate_it_scanned(client, farm):
    lot = builders.make_lot()
    target = client.get(f"/L/{lot.pk}")["Location"]
    assert target == f"/sign-in?next=/L/{lot.pk}"
    assert client.get("/ledger?crop=1&person=2")["Location"].endswith("%3Fcrop%3D1%26person%3D2")


SET_UP = {
    "name": "Our Farm", "region": "us", "weight_unit": "lb", "temperature_unit": "F",
    "time_zone": "America/New_York", "room": "Cold room", "target": "36", "racks": "3",
    "shelves": "4", "capacity": "5", "owner": "Ada", "password": PASSWORD,
}  # fmt: skip


@pytest.fixture
def set_up_code(db):
    file = settings.DATA_DIR / "set-up-code"
    file.write_text("7K3M9Q4", encoding="ascii")
    yield "7k3m9q4"
    file.unlink(missing_ok=True)


def test_a_new_farm_is_usable_at_once(client, set_up_code):
    assert client.get("/")["Location"] == "/set-up"
    assert client.get("/set-up").status_code == 200
    assert client.post("/set-up", {**SET_UP, "code": set_up_code}).status_code == 302
    assert client.get("/").status_code == 200
    assert Position.objects.count() == 12
    assert float(Position.objects.first().room.target_c) == pytest.approx(2.22)
    assert not (settings.DATA_DIR / "set-up-code").exists()
    assert client.get("/set-up")["Location"] == "/"


@pytest.mark.parametrize(("region", "stock"), [("us", "letter-2x5"), ("elsewhere", "a4-2x7")])
def test_where_the_farm_is_gives_its_paper_which_it_may_change_later(
    client, set_up_code, region, stock
):
    client.post("/set-up", {**SET_UP, "code": set_up_code, "region": region})
    farm = Farm.objects.get()
    assert (farm.region, farm.label_stock, stock in STOCKS) == (region, stock, True)
    other = {"us": "elsewhere", "elsewhere": "us"}[region]
    page = client.get("/settings/farm")
    typed = {bound.html_name: bound.value() for bound in page.context["form"]} | {"region": other}
    typed = {
        name: value for name, value in typed.items() if value is not False and value is not None
    }
    assert client.post("/settings/farm", typed | {"entry": str(uuid4())}).status_code == 302
    changed = Farm.objects.get()
    assert (changed.region, changed.label_stock) == (other, stock)


@pytest.mark.parametrize(
    "changes",
    [{"code": "wrong"}, {"code": "ñ"}, {"password": "short"}, {"password": "password123"},
     {"time_zone": "Mars"}, {"racks": "0"}, {"target": "warm"},
     {"target": ""}, {"target": "2"}, {"region": "moon"}, {"region": ""}, {"name": ""},
     {"owner": ""}],
)  # fmt: skip
def test_a_wrong_set_up_makes_nothing(client, set_up_code, changes):
    response = client.post("/set-up", {**SET_UP, "code": set_up_code, **changes})
    assert response.status_code == 422
    assert 'class="error"' in response.content.decode()
    assert not Farm.objects.exists()
    assert not Person.objects.exists()

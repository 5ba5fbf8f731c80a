"""The same id again gives the first answer again; and what the page's queue says beside a form."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.actions.counting import see
from inventory.actions.movements import take_out
from inventory.actions.temperatures import check_room
from inventory.models import (
    Action,
    CountSeen,
    Crop,
    Lot,
    Movement,
    NotThere,
    Outlet,
    ProbeReading,
    Reading,
    Room,
    RoomCheck,
    Take,
)
from inventory.queries.book import Wanted
from inventory.views.scan import MODES
from tests import builders
from tests.builders import act, keep_for, make_lot, make_lots, make_tag, place, say_order
from tests.views.test_entry import NAMES, forms

HTMX = {"HX-Request": "true"}


def everything() -> tuple:
    """What of the farm a form may change, as far as these do."""
    return (
        list(Movement.objects.order_by("pk").values()),
        list(Lot.objects.order_by("pk").values()),
        list(Reading.objects.order_by("pk").values_list("at", "temperature_c")),
        list(ProbeReading.objects.order_by("pk").values_list("at", "temperature_c")),
        list(RoomCheck.objects.order_by("pk").values()),
        list(Take.objects.order_by("pk").values()),
        list(Crop.objects.filter(grown=True).values_list("pk", flat=True)),
    )


def told(response) -> tuple:
    """An answer, but for the ids it holds for what may come next."""
    page = re.sub(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", "ID", response.content.decode())
    page = re.sub(r'csrfmiddlewaretoken" value="\w+"', "", page)
    return response.status_code, response.headers.get("Location"), page


def twice(client, path: str, data: dict, **headers) -> tuple:
    """Send a form twice under one id: the second time nothing is written, and the same is said."""
    data = {"entry": str(uuid4()), **data}
    once = told(client.post(path, data, headers=headers))
    after = everything()
    again = told(client.post(path, data, headers=headers))
    assert everything() == after
    assert again == once
    return once


@pytest.fixture
def now():
    return timezone.now()


@pytest.mark.parametrize("name", NAMES)
def test_each_form_about_crates(signed_in, now, name):
    path, data = forms(now)[name]
    before = Movement.objects.count()
    status, location, _ = twice(signed_in, path, data)
    assert (status, location[:6]) == (302, "/done/")
    assert Movement.objects.count() > before


def an_order(lot: Lot, quantity: int):
    wanted = [Wanted(lot.crop, "bunch", Decimal(quantity))]
    pull = say_order(act(timezone.now()), outlet=Outlet.objects.get(), lines=wanted)
    keep_for(pull, (lot, quantity))
    return pull


def scan_data(mode: str, now) -> dict:
    """A scan of each mode that writes something, part of a crate where that can be."""
    lot = make_lots(12, 11, at=now - timedelta(days=1))[0]
    here = {"text": lot.pk, "here": place("B2").pk}
    if mode == "order":
        return here | {"pull": str(an_order(lot, 5).pk)}
    if mode == "back":
        take_out(act(now), lot=lot.pk, portion="half", purpose="own use")
    if mode == "tag":
        tag = make_tag(now)
        return here | {"text": tag.pk, "intake": str(lot.intake_id)}
    return here | {"reason": "wilted", "destination": "compost"}


# The number of a tagged crate among those of its harvest is not told again.
@pytest.mark.parametrize("mode", [mode for mode in MODES if mode != "tag"])
def test_each_mode_of_scanning(signed_in, now, mode):
    status, _, page = twice(signed_in, f"/scan/{mode}", scan_data(mode, now), **HTMX)
    if mode == "look":
        assert status == 204
    else:
        assert (status, re.findall(r'data-result="(\w+)"', page)) == (200, ["done"])


def test_a_tag_put_on_by_a_scan_sent_again(signed_in, now):
    data = {"entry": str(uuid4())} | scan_data("tag", now)
    once, again = (signed_in.post("/scan/tag", data, headers=HTMX) for _ in range(2))
    assert Movement.objects.filter(kind="tag on").count() == 1
    for answer in (once, again):
        page = answer.content.decode()
        assert 'data-result="done"' in page
        assert f"/tag/{data['text']}/free" in page


def test_a_scan_of_part_of_a_crate_sent_again_offers_nothing_of_the_rest(signed_in, now):
    data = scan_data("order", now)
    page = twice(signed_in, "/scan/order", data, **HTMX)[2]
    assert "Kale: 5 bunches, Market" in page
    assert "all the same" not in page
    assert Lot.objects.get(pk=data["text"]).quantity == 7


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["page", "htmx"])
@pytest.mark.parametrize("quantity", ["5", "0"])
def test_the_count_of_one_crate(signed_in, now, headers, quantity):
    lot = make_lot(at=now)
    data = {"quantity": quantity, "reason": "missing"}
    status, location, page = twice(signed_in, f"/count/crate/{lot.pk}", data, **headers)
    if headers:
        assert (status, location) == (200, None)
    else:
        assert status == 302
        assert location.startswith(f"/count/{place('A1').pk}?said=")
    assert "<html" not in page
    assert Movement.objects.filter(kind="counted").count() == 1


def test_a_place_counted_as_written_whatever_came_there_since(signed_in, now):
    make_lot(at=now)
    data = {"entry": str(uuid4())}
    once = signed_in.post(f"/count/{place('A1').pk}/right", data)
    make_lot(at=now)
    again = signed_in.post(f"/count/{place('A1').pk}/right", data)
    assert (again.status_code, again["Location"]) == (302, once["Location"])
    assert Movement.objects.filter(kind="counted").count() == 1


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["page", "htmx"])
@pytest.mark.parametrize("name", ["take", "missing"])
def test_the_two_buttons_of_a_crate_to_be_fetched(signed_in, now, name, headers):
    lot = make_lots(12, 12, at=now)[0]
    order = an_order(lot, 5)
    twice(signed_in, f"/pull/{order.pk}/{name}", {"lot": lot.pk, "quantity": "5"}, **headers)
    written = Take.objects.count(), NotThere.objects.count()
    assert written == ((1, 0) if name == "take" else (0, 1))


def test_other_forms(signed_in, now):
    lot, other = make_lot(at=now), make_lot(at=now)
    room, dill = Room.objects.get(), Crop.objects.get(reference_key="dill")
    buyer = {"name": "Inn", "kind": "kitchen", "minimum_days": "0", "fridge_c": "5"}
    sent = [
        (f"/rooms/{room.pk}", {"temperature": "3.5"}),
        (f"/intake/{lot.intake_id}/probe", {"pulp_c": "4"}),
        (f"/settings/crops/{dill.pk}/toggle", {}),
        ("/settings/outlets/new", buyer),
        (f"/intake/{lot.intake_id}/hold", {"reason": "a doubt"}),
        (f"/undo/{other.intake.action_id}", {}),
    ]
    for path, data in sent:
        assert twice(signed_in, path, data)[0] == 302, path


# --- what waited for an answer


def waited(client, path: str, data: dict, seconds: object = 0, **headers):
    headers = {"Coldroom-Waited": str(seconds), **headers}
    return client.post(path, {"entry": str(uuid4())} | data, headers=headers)


def test_a_form_that_waited_happened_when_it_was_tapped(signed_in, monkeypatch):
    moment = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: moment)
    lot = make_lot(at=moment - timedelta(hours=9))
    answer = waited(signed_in, f"/L/{lot.pk}/move", {"position": place("A2").pk}, 3600)
    action = Action.objects.get(kind="move")
    assert (answer.status_code, answer["Coldroom-To"]) == (204, f"/done/{action.pk}")
    assert (action.recorded_at, action.occurred_at) == (moment, moment - timedelta(hours=1))


@pytest.mark.parametrize(("seconds", "late"), [(0, 0), (9, 0), (10, 10), (600, 600)])
def test_what_was_sent_at_once_happened_when_it_came_in(signed_in, monkeypatch, seconds, late):
    moment = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: moment)
    lot = make_lot(at=moment - timedelta(hours=9))
    waited(signed_in, "/scan/discard", scan_data("discard", moment) | {"text": lot.pk}, seconds)
    assert Action.objects.get(kind="discard").occurred_at == moment - timedelta(seconds=late)


def test_a_time_that_was_typed_counts_whatever_waited(signed_in, now):
    lot = make_lot(at=now - timedelta(hours=9))
    said = now - timedelta(hours=5)
    data = {"position": place("A2").pk, "happened_at": said.isoformat()}
    waited(signed_in, f"/L/{lot.pk}/move", data, 3600)
    assert Action.objects.get(kind="move").occurred_at == said


def test_sent_again_with_another_wait_it_is_the_same_form(signed_in, now):
    lot = make_lot(at=now - timedelta(hours=9))
    data = {"entry": str(uuid4()), "share": "half", "purpose": "own use"}
    answers = [waited(signed_in, f"/L/{lot.pk}/take-out", data, each) for each in (0, 20, 4000)]
    assert len({answer["Coldroom-To"] for answer in answers}) == 1
    assert Lot.objects.get(pk=lot.pk).quantity == 6


@pytest.mark.parametrize("said", ["soon", "-5", "1.5", "", "9" * 9])
def test_a_wait_that_is_none_is_refused_whole(signed_in, now, said):
    lot = make_lot(at=now)
    before = everything()
    answer = waited(signed_in, f"/L/{lot.pk}/move", {"position": place("A2").pk}, said)
    assert (answer.status_code, everything()) == (400, before)


def test_readings_that_waited_were_read_when_they_were_tapped(signed_in, monkeypatch):
    moment = timezone.now().replace(microsecond=0)
    monkeypatch.setattr(timezone, "now", lambda: moment)
    lot, room = make_lot(at=moment - timedelta(hours=9)), Room.objects.get()
    waited(signed_in, f"/rooms/{room.pk}", {"temperature": "3.5"}, 1200)
    waited(signed_in, f"/intake/{lot.intake_id}/probe", {"pulp_c": "4"}, 1200)
    waited(signed_in, "/scan/count", {"text": lot.pk, "here": place("B1").pk}, 1200)
    then = moment - timedelta(minutes=20)
    assert Reading.objects.get().at == ProbeReading.objects.get().at == then
    assert CountSeen.objects.get().at == then


def test_a_look_that_comes_late_does_not_replace_a_later_one(farm):
    room, noon = Room.objects.get(), builders.NOW
    check_room(act(noon), room=room, celsius=None, door_shut=True, odd="later")
    early = act(noon + timedelta(hours=1), told_at=noon - timedelta(hours=1))
    check_room(early, room=room, celsius=None, door_shut=False, odd="early")
    assert RoomCheck.objects.standing().get().odd == "later"
    after = act(noon + timedelta(hours=2))
    check_room(after, room=room, celsius=None, door_shut=True, odd="last")
    assert RoomCheck.objects.standing().get().odd == "last"


def test_a_sight_that_comes_late_does_not_replace_a_later_one(farm):
    noon = builders.NOW
    lot = make_lot(at=noon - timedelta(days=1))
    see(act(noon), lot=lot, position=place("A2"))
    early = act(noon + timedelta(hours=1), told_at=noon - timedelta(hours=1))
    see(early, lot=lot, position=place("A1"))
    assert CountSeen.objects.get().position == place("A2")


# --- who tapped, and whose page it was


def test_what_somebody_else_tapped_is_not_written_and_leads_to_the_names(signed_in, now):
    lot = make_lot(at=now)
    ben = builders.make_crew()
    before = everything()
    headers = {"Coldroom-Person": str(ben.pk)}
    move = {"position": place("A2").pk}
    queued = waited(signed_in, f"/L/{lot.pk}/move", move, **headers)
    by_htmx = signed_in.post(
        f"/count/crate/{lot.pk}",
        {"entry": str(uuid4()), "quantity": "1", "reason": "missing"},
        headers=HTMX | headers,
    )
    assert (queued.status_code, queued["Coldroom-To"]) == (204, "/who")
    assert by_htmx["HX-Redirect"] == "/who"
    assert everything() == before
    mine = {"Coldroom-Person": str(builders.owner().pk)}
    assert "/done/" in waited(signed_in, f"/L/{lot.pk}/move", move, **mine)["Coldroom-To"]


def test_without_a_sign_in_it_leads_there(client, farm, now):
    lot = make_lot(at=now)
    answer = waited(client, f"/L/{lot.pk}/move", {"position": place("A2").pk})
    assert (answer.status_code, answer["Coldroom-To"][:8]) == (204, "/sign-in")


def from_here(client, path: str, data: dict):
    origin = {"Origin": "http://testserver"}
    return waited(client, path, data | {"csrfmiddlewaretoken": "old"}, **origin)


def test_a_page_that_was_open_too_long_gets_a_fresh_token(farm, now):
    strict = Client(enforce_csrf_checks=True)
    builders.sign_in(strict)
    lot = make_lot(at=now)
    data = {"entry": str(uuid4()), "position": place("A2").pk}
    stale = from_here(strict, f"/L/{lot.pk}/move", data)
    assert stale.status_code == 403
    fresh = {"X-CSRFToken": stale["Coldroom-Token"], "Origin": "http://testserver"}
    again = waited(strict, f"/L/{lot.pk}/move", data, **fresh)
    assert again.status_code == 204
    assert Lot.objects.get(pk=lot.pk).position == place("A2")


def test_a_stranger_gets_no_token(farm, now):
    strict = Client(enforce_csrf_checks=True)
    lot = make_lot(at=now)
    answer = from_here(strict, f"/L/{lot.pk}/move", {})
    assert (answer.status_code, answer["Coldroom-To"]) == (204, "/sign-in")
    assert "Coldroom-Token" not in answer.headers
    builders.sign_in(strict)
    elsewhere = waited(strict, f"/L/{lot.pk}/move", {}, Origin="http://evil.example")
    assert elsewhere.status_code == 403
    assert "Coldroom-Token" not in elsewhere.headers

"""Every doing answers: what was done, by whom and when, with its undo where there is one."""

import re
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.utils import timezone

from inventory.actions.movements import take_out
from inventory.actions.temperatures import record_readings
from inventory.models import (
    Action,
    AlarmClosing,
    Change,
    Container,
    Crop,
    Reading,
    Room,
)
from inventory.queries.alarms import open_alarms
from tests import builders
from tests.builders import act, make_lot, make_tag, place


def text(response) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def post(client, path: str, **data):
    """Send a form and follow to the page it leads to."""
    return client.post(path, {"entry": uuid4()} | data, follow=True)


def told(response) -> str:
    """What the page says was just done, with its button; "" where it says nothing."""
    found = re.search(r'<div class="done" role="status">(.*?)</div>', text(response))
    return re.sub(r"<input[^>]*>", "", found[1]) if found else ""


def undo_of(response) -> str:
    found = re.search(r'action="([^"]+)"', told(response))
    return found[1] if found else ""


def test_picking_crops_answers_with_their_names(signed_in):
    kale, leek, dill = (builders.crop(key).pk for key in ("kale", "leek", "dill"))
    page = post(signed_in, "/settings/crops/pick", crops=[leek, dill], was=[kale])
    said = told(page)
    assert "On your list: " in said
    assert {"Leeks", "Dill"} <= set(re.split(r"[^A-Za-z]+", said))
    assert "Off your list: Kale" in said


def room() -> str:
    return f"/rooms/{Room.objects.get().pk}"


def test_a_typed_temperature_answers_and_is_taken_back_by_whoever_typed_it(signed_in):
    builders.sign_in(signed_in, builders.make_crew())
    page = post(signed_in, room(), temperature="4.2")
    assert re.search(r"✓ 4\.2 °C written </b> <span class=\"soft\">Ben, \d\d:\d\d", told(page))
    undone = post(signed_in, undo_of(page))
    assert "↶ Undone: 4.2 °C written" in told(undone)
    assert undo_of(undone) == ""
    assert Reading.objects.get().set_aside == "wrong"


def test_nobody_else_takes_it_back_but_the_owner(signed_in):
    page = post(signed_in, room(), temperature="4.2")
    undo = undo_of(page)
    builders.sign_in(signed_in, builders.make_crew())
    assert undo_of(signed_in.get(page.redirect_chain[-1][0])) == ""
    assert signed_in.post(undo, {"entry": uuid4()}).status_code == 422
    assert Reading.objects.get().set_aside == ""
    builders.sign_in(signed_in)
    post(signed_in, undo)
    assert Reading.objects.get().set_aside == "wrong"


def test_crew_take_it_back_until_the_end_of_the_farms_day(signed_in, monkeypatch):
    builders.sign_in(signed_in, builders.make_crew())
    page = post(signed_in, room(), temperature="4.2")
    tomorrow = timezone.now() + timedelta(days=1)
    monkeypatch.setattr(timezone, "now", lambda: tomorrow)
    assert undo_of(signed_in.get(page.redirect_chain[-1][0])) == ""
    assert signed_in.post(undo_of(page), {"entry": uuid4()}).status_code == 422
    assert Reading.objects.get().set_aside == ""


def test_one_told_late_is_taken_back_on_the_day_it_was_written(signed_in, farm):
    builders.sign_in(signed_in, builders.make_crew())
    long_ago = (timezone.now() - timedelta(days=3)).astimezone(farm.zone)
    page = post(signed_in, room(), temperature="4.2", moment=f"{long_ago:%Y-%m-%dT%H:%M}")
    post(signed_in, undo_of(page))
    assert Reading.objects.get().set_aside == "wrong"


def test_one_no_room_has_is_said_to_count_for_nothing(signed_in):
    page = post(signed_in, room(), temperature="55")
    assert "55 °C written, but it counts for nothing" in told(page)
    assert undo_of(page) == ""


@pytest.fixture
def alarm(signed_in):
    now = timezone.now()
    warm = [(now - timedelta(hours=hours), 9.0) for hours in range(6)]
    record_readings(Room.objects.get(), warm, kind="sensor", at=now, sensor="P1")
    (found,) = open_alarms(now)
    return f"{room()}/alarm/{found.started_s}/warm"


def test_a_closed_alarm_answers_and_is_opened_again(signed_in, alarm):
    page = post(signed_in, alarm, done="compressor iced up")
    assert "✓ The alarm is closed: “compressor iced up”" in told(page)
    assert "Ada, " in told(page)
    assert open_alarms(timezone.now()) == []
    key = str(uuid4())
    again = [post(signed_in, undo_of(page), entry=key) for _ in range(2)]
    for page in again:
        assert "alarm open again; closed before with “compressor iced up (Ada)”" in told(page)
    assert len(open_alarms(timezone.now())) == 1
    assert not AlarmClosing.objects.exists()
    assert Change.objects.get().before == "compressor iced up (Ada)"
    assert Action.objects.filter(kind="change").count() == 1


def test_crew_see_no_button_to_open_it_again(signed_in, alarm):
    where = post(signed_in, alarm, done="compressor iced up").redirect_chain[-1][0]
    builders.sign_in(signed_in, builders.make_crew())
    page = signed_in.get(where)
    assert "The alarm is closed" in told(page)
    assert undo_of(page) == ""


def test_a_probe_and_a_check_answer(signed_in):
    lot = make_lot(at=timezone.now() - timedelta(minutes=5), pulp_c=None)
    assert "✓ 12 °C inside written" in told(
        post(signed_in, f"/intake/{lot.intake_id}/probe", pulp_c="12")
    )
    checked = post(signed_in, f"{room()}/check", temperature="3.4", door_shut="yes")
    assert "✓ Cold room checked, 3.4 °C. Another check today replaces it." in told(checked)


def test_a_paper_log_answers_and_goes_whole(signed_in, farm):
    builders.sign_in(signed_in, builders.make_crew())
    day = (timezone.now() - timedelta(days=1)).astimezone(farm.zone)
    lines = f"{day:%Y-%m-%d} 06:30 3.5\n{day:%Y-%m-%d} 12:30 4\n{day:%Y-%m-%d} 13:30 95"
    page = post(signed_in, f"{room()}/paper", lines=lines)
    assert "✓ Paper log of Cold room: 2 new, 0 known already, 1 set aside. </b>" in told(page)
    undone = post(signed_in, undo_of(page))
    assert "↶ Undone: Paper log of Cold room" in told(undone)
    assert undo_of(undone) == ""
    assert text(undone).count("taken back by Ben") == 3
    assert set(Reading.objects.values_list("set_aside", flat=True)) == {"wrong"}


def test_a_paper_log_that_held_nothing_new_has_no_undo(signed_in, farm):
    day = (timezone.now() - timedelta(days=1)).astimezone(farm.zone)
    pages = [post(signed_in, f"{room()}/paper", lines=f"{day:%Y-%m-%d} 06:30 3") for _ in range(2)]
    assert [undo_of(page) != "" for page in pages] == [True, False]


def test_a_probe_is_taken_back_and_its_page_says_by_whom(signed_in):
    builders.sign_in(signed_in, builders.make_crew())
    lot = make_lot(at=timezone.now() - timedelta(minutes=5), pulp_c=None)
    undone = post(
        signed_in, undo_of(post(signed_in, f"/intake/{lot.intake_id}/probe", pulp_c="12"))
    )
    assert "↶ Undone: 12 °C inside written" in told(undone)
    assert undo_of(undone) == ""
    assert re.search(r"12 °C · Ben – taken back by Ben", text(undone))


def test_a_check_is_taken_back_and_the_month_says_by_whom(signed_in):
    builders.sign_in(signed_in, builders.make_crew())
    undone = post(
        signed_in,
        undo_of(post(signed_in, f"{room()}/check", temperature="3.4", door_shut="yes")),
    )
    assert "↶ Undone: Cold room checked, 3.4 °C </b>" in told(undone)
    assert undo_of(undone) == ""
    assert re.search(r"3\.4 °C · Ben \d\d:\d\d – taken back by Ben", text(undone))
    assert Reading.objects.get().set_aside == "wrong"
    assert "door ✓" not in text(undone)


def test_a_check_that_another_replaced_has_no_undo_until_that_one_is_taken_back(signed_in):
    first, second = (
        post(signed_in, f"{room()}/check", temperature=celsius, door_shut="yes")
        for celsius in ("3.4", "3.6")
    )
    where, undo = first.redirect_chain[-1][0], undo_of(first)
    assert undo_of(signed_in.get(where)) == ""
    assert signed_in.post(undo, {"entry": uuid4()}).status_code == 409
    post(signed_in, undo_of(second))
    assert undo_of(signed_in.get(where)) == undo


def test_a_check_whose_crate_was_moved_since_has_no_undo(signed_in):
    lot = make_lot(at=timezone.now() - timedelta(days=5))
    sent = {"temperature": "3", "door_shut": "yes", "asked": lot.pk, "good": "fine"}
    where = post(signed_in, f"{room()}/check", **sent).redirect_chain[-1][0]
    undo = undo_of(signed_in.get(where))
    moved = post(signed_in, f"/L/{lot.pk}/move", position=place("A2").pk)
    assert undo_of(signed_in.get(where)) == ""
    post(signed_in, re.search(r'action="(/undo/[^"]+)"', text(moved))[1])
    assert undo_of(signed_in.get(where)) == undo != ""


def test_a_check_kept_without_its_crate_has_its_undo_beside_it(signed_in):
    lot = make_lot(at=timezone.now() - timedelta(days=5))
    take_out(act(timezone.now()), lot=lot.pk, portion="all", purpose="own use")
    sent = {"temperature": "3", "door_shut": "yes", "asked": lot.pk, "good": "early"}
    page = post(signed_in, f"{room()}/check", **sent)
    assert "The check is kept, but not what you said of the crate" in text(page)
    assert undo_of(page).startswith("/check/")


def test_the_owners_lists_say_what_was_set(signed_in):
    added = post(signed_in, "/settings/containers/new", name="Bulb crate", tare_kg="2", in_use="on")
    assert "✓ Bulb crate: added" in told(added)
    assert "Ada, " in told(added)
    key = Container.objects.get(name="Bulb crate").pk
    path = f"/settings/containers/{key}"
    changed = post(signed_in, path, name="Bulb crate", tare_kg="1.5", in_use="on")
    assert "Bulb crate: empty weight in kg, 2 → 1.5" in told(changed)
    assert "Nothing is different from before." in told(
        post(signed_in, path, name="Bulb crate", tare_kg="1.5", in_use="on")
    )
    crop = Crop.objects.get(reference_key="dill")
    assert "grown or bought, no → yes" in told(post(signed_in, f"/settings/crops/{crop.pk}/toggle"))


def test_tags_counts_and_rounds_answer_with_their_undo(signed_in):
    lot = make_lot(at=timezone.now())
    tag = make_tag(timezone.now())
    bound = post(signed_in, f"/tag/{tag.pk}/bind", lot=lot.pk)
    assert f"Kale {lot.pk}: tag put on · {tag.pk}" in told(bound)
    post(signed_in, undo_of(bound))
    assert tag.current_lot() is None
    right = post(signed_in, f"/count/{place('A1').pk}/right")
    assert f"Kale {lot.pk}: counted" in told(right)
    assert undo_of(right).startswith("/undo/")
    assert told(post(signed_in, f"/count/{place('B1').pk}/right")) == ""  # nothing stands there
    assert "✓ The round is ended" in told(post(signed_in, "/scan/discard/end"))


def test_an_answer_is_not_repeated_over_a_form_that_was_refused(signed_in):
    where = post(signed_in, room(), temperature="4.2").redirect_chain[-1][0]
    refused = signed_in.post(where, {"entry": uuid4(), "temperature": "cold"})
    assert refused.status_code == 422
    assert told(refused) == ""


@pytest.mark.parametrize(
    "said",
    ["", "x", "act.", "act.1", "reading.x", "reading.999999", "alarm.-1", "🥬.1", "check.²",
     f"act.{UUID(int=7, version=4)}", "reading." + "9" * 40],
)  # fmt: skip
def test_what_names_no_doing_says_nothing(signed_in, said):
    page = signed_in.get("/rooms", {"said": said})
    assert (page.status_code, told(page)) == (200, "")


def test_a_stranger_is_told_nothing(client, farm):
    assert told(client.get("/sign-in?said=round-ended")) == ""

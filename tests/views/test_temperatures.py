"""The pages and the door by which temperatures come in."""

import json
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from inventory.actions.temperatures import record_readings
from inventory.models import (
    AlarmClosing,
    Farm,
    Person,
    ProbeReading,
    Reading,
    Room,
    RoomCheck,
    Sensor,
    TemperatureFile,
)
from inventory.queries.alarms import open_alarms
from inventory.upkeep.mail import queue_alarms, send_waiting
from tests import builders


def room_path(*rest) -> str:
    return "/".join([f"/rooms/{Room.objects.first().pk}", *rest])


def stamp(hours_ago: float) -> str:
    return (timezone.now() - timedelta(hours=hours_ago)).isoformat()


def test_a_reading_is_typed_in_the_farms_unit(signed_in, farm):
    farm.temperature_unit = "F"
    farm.save()
    response = signed_in.post(room_path(), {"entry": uuid4(), "temperature": "41"})
    assert response.status_code == 302
    reading = Reading.objects.get()
    assert (reading.temperature_c, reading.person, reading.kind) == (5, builders.owner(), "typed")
    page = signed_in.get(room_path()).content.decode()
    assert "41 °F" in page
    assert "<polyline" in page


@pytest.mark.parametrize("typed", ["", "warm", "500", "1,2,3", "🥶", "x" * 5000])
def test_a_wrong_reading_gets_a_sentence(signed_in, typed):
    response = signed_in.post(room_path(), {"entry": uuid4(), "temperature": typed})
    assert response.status_code == 422
    assert 'class="error"' in response.content.decode()
    assert not Reading.objects.exists()


def test_a_paper_log_is_typed_in_bulk(signed_in):
    today = timezone.now().astimezone(builders.Farm.objects.get().zone).date()
    lines = "\n".join(f"{today - timedelta(days=day)} 06:30 3,5" for day in range(1, 6))
    for expected in ("5 new", "0 new, 5 known already"):
        sent = {"entry": uuid4(), "lines": lines}
        page = signed_in.post(room_path("paper"), sent, follow=True)
        assert expected in page.content.decode()
    bad = signed_in.post(room_path("paper"), {"entry": uuid4(), "lines": f"{lines}\nyesterday 3"})
    assert bad.status_code == 422
    assert "Line 6" in bad.content.decode()


@pytest.mark.parametrize(
    ("said", "hour"),
    [("6:30 AM", 6), ("6:30 PM", 18), ("6:30pm", 18), ("06:30 p.m.", 18), ("12:30 am", 0),
     ("12:30 PM", 12), ("18:30", 18)],
)  # fmt: skip
def test_a_paper_log_of_an_american_farm_may_say_its_times_in_12_hours(signed_in, said, hour):
    Farm.objects.update(region="us")
    page = signed_in.get(room_path("paper")).content.decode()
    assert "like: 2026-07-31 6:30 AM 38.5" in page
    signed_in.post(room_path("paper"), {"entry": uuid4(), "lines": f"2026-06-09 {said} 3.5"})
    zone = Farm.objects.get().zone
    assert Reading.objects.get().at == datetime(2026, 6, 9, hour, 30, tzinfo=zone)


@pytest.mark.parametrize(
    ("region", "said"),
    [("elsewhere", "6:30 PM"), ("us", "13:30 PM"), ("us", "6.30 PM x"), ("us", "noon")],
)
def test_what_is_no_time_of_the_farm_is_refused(signed_in, region, said):
    Farm.objects.update(region=region)
    sent = {"entry": uuid4(), "lines": f"2026-06-09 {said} 3.5"}
    assert signed_in.post(room_path("paper"), sent).status_code == 422
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    ("region", "since"),
    [("us", "Tue Jun 9 11:30 PM"), ("elsewhere", "Tue 9 Jun 23:30")],
)
def test_an_alarm_is_mailed_on_the_farms_clock_in_its_manner(
    farm, settings, mailoutbox, region, since
):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    Farm.objects.update(region=region)
    start = datetime(2026, 6, 10, 3, 30, tzinfo=UTC)
    figures = [12.0] * 6 + [2.0] * 2
    readings = [(start + timedelta(hours=hours), c) for hours, c in enumerate(figures)]
    now = readings[-1][0]
    record_readings(Room.objects.get(), readings, kind="file", at=now, sensor="corner")
    queue_alarms(now)
    send_waiting(now)
    assert [since in f"{mail.subject} {mail.body}" for mail in mailoutbox] == [True]


def upload(client, text: str, **changes):
    file = SimpleUploadedFile("log.csv", text.encode())
    sent = {"entry": uuid4(), "file": file, "sensor": "L1"}
    return client.post(room_path("file"), sent | changes)


def logger_text(rows: int, bad: int = 0) -> str:
    start = timezone.now() - timedelta(minutes=10 * rows)
    lines = [
        f"{start + timedelta(minutes=10 * number):%Y-%m-%d %H:%M:%S}+00:00,{3 + number % 7 / 10}"
        for number in range(rows)
    ]
    lines += [f"{start:%Y-%m-%d %H:%M:%S}+00:00,none"] * bad
    return "time,temp °C\n" + "\n".join(lines) + "\n"


def take_up_all(client, pk) -> int:
    pieces = 0
    while not TemperatureFile.objects.get(pk=pk).is_done:
        client.post(f"/file/{pk}/take-up", headers={"HX-Request": "true"})
        pieces += 1
        assert pieces < 50
    return pieces


def test_a_loggers_file_is_shown_confirmed_and_taken_up_in_pieces(signed_in):
    text = logger_text(1100, bad=3)
    for added, known in ((1100, 0), (0, 1100)):
        where = upload(signed_in, text)["Location"]
        page = signed_in.get(where).content.decode()
        assert "Is this how it is to be read?" in page
        assert "3 °C" in page
        assert not TemperatureFile.objects.latest("uploaded_at").rows
        signed_in.post(where, AS_GUESSED)
        file = TemperatureFile.objects.latest("uploaded_at")
        assert file.rows == 1103
        assert take_up_all(signed_in, file.pk) == 3
        file.refresh_from_db()
        assert (file.added, file.already_there, len(file.bad_rows)) == (added, known, 3)
    assert Reading.objects.count() == 1100


def test_the_same_file_under_another_loggers_name_adds_nothing(signed_in):
    text = logger_text(30)
    for name in ("left", "right"):
        where = upload(signed_in, text, sensor=name)["Location"]
        signed_in.post(where, AS_GUESSED)
        file = TemperatureFile.objects.latest("uploaded_at")
        take_up_all(signed_in, file.pk)
    file.refresh_from_db()
    assert (file.sensor, file.added, file.already_there) == ("left", 0, 30)
    assert Reading.objects.count() == 30


def test_bad_rows_are_listed_by_their_line_in_the_file(signed_in):
    where = upload(signed_in, "time,temp\n2026-01-01 06:30,3\n\n2026-01-01 06:40,none\n")
    signed_in.post(where["Location"], AS_GUESSED)
    file = TemperatureFile.objects.get()
    take_up_all(signed_in, file.pk)
    file.refresh_from_db()
    assert [row[0] for row in file.bad_rows] == [4]


def test_a_reading_still_to_come_is_refused_beside_its_time(signed_in):
    later = timezone.now() + timedelta(days=2)
    data = {"entry": uuid4(), "temperature": "3", "moment": f"{later:%Y-%m-%dT%H:%M}"}
    response = signed_in.post(room_path(), data)
    assert response.status_code == 422
    assert "moment" in response.context["form"].errors
    assert '<details class="more" open>' in response.content.decode()


def test_an_empty_daily_check_is_refused(signed_in):
    response = signed_in.post(room_path("check"), {"entry": uuid4(), "temperature": ""})
    assert response.status_code == 422
    assert "door_shut" in response.context["form"].errors
    assert not RoomCheck.objects.exists()


@pytest.mark.parametrize(
    "text", ["", "hello\nworld\n", "\0\0\0", "2026-01-01 06:30,cold\n", "<html></html>"]
)
def test_what_is_no_logger_file_is_refused(signed_in, text):
    response = upload(signed_in, text)
    assert response.status_code == 422
    assert 'class="error"' in response.content.decode()
    assert not TemperatureFile.objects.exists()


AS_GUESSED = {"time": "0+0", "figure": "1", "unit": "C"}


def test_days_that_can_be_read_in_two_ways_are_asked_about(signed_in):
    where = upload(signed_in, "time,temp\n03/04/2026 06:30,3\n")["Location"]
    asked = signed_in.post(where, AS_GUESSED)
    assert (asked.status_code, "first" in asked.context["form"].errors) == (422, True)
    signed_in.post(where, AS_GUESSED | {"first": "day"})
    file = TemperatureFile.objects.get()
    take_up_all(signed_in, file.pk)
    assert Reading.objects.get().at.month == 4


def chosen_on(page) -> dict:
    form = page.context["form"]
    return {name: form[name].initial for name in ("figure", "unit")}


def asked_about(client, where: str, posted: dict) -> set[str]:
    response = client.post(where, posted)
    return set(response.context["form"].errors) if response.status_code == 422 else set()


@pytest.mark.parametrize("unit", ["C", "F"])
def test_a_unit_that_nothing_tells_is_chosen_for_nobody(signed_in, unit):
    Farm.objects.update(temperature_unit=unit)
    where = upload(signed_in, "time,temp_fridge\n2026-06-01 06:30,38.3\n")["Location"]
    page = signed_in.get(where)
    assert chosen_on(page) == {"figure": 1, "unit": None}
    assert [celsius for _, _, celsius in page.context["sample"]] == [None]
    assert asked_about(signed_in, where, {"time": "0+0", "figure": "1"}) == {"unit"}
    chosen = {"time": "0+0", "figure": "1", "unit": "F"}
    signed_in.post(where, chosen | {"look": "1"})
    page = signed_in.get(where)
    assert chosen_on(page) == {"figure": 1, "unit": "F"}
    assert page.context["sample"][0][2] == pytest.approx(3.5)
    signed_in.post(where, chosen)
    take_up_all(signed_in, TemperatureFile.objects.get().pk)
    assert Reading.objects.get().temperature_c == pytest.approx(3.5)


def test_a_column_that_nothing_tells_is_chosen_for_nobody_and_brings_its_unit(signed_in):
    text = "time,T1 °C,T2 °F,note\n2026-06-01 06:30,9.5,38.3,good\n"
    where = upload(signed_in, text)["Location"]
    page = signed_in.get(where)
    assert chosen_on(page) == {"figure": None, "unit": None}
    assert page.context["form"].fields["figure"].choices == [(1, "T1 °C"), (2, "T2 °F")]
    assert asked_about(signed_in, where, {"time": "0+0"}) == {"figure"}
    assert asked_about(signed_in, where, {"time": "0+0", "figure": "2", "unit": "C"}) == {"unit"}
    assert not asked_about(signed_in, where, {"time": "0+0", "figure": "2"})
    take_up_all(signed_in, TemperatureFile.objects.get().pk)
    assert Reading.objects.get().temperature_c == pytest.approx(3.5)


def test_what_the_file_tells_is_chosen_and_may_be_changed(signed_in):
    text = "time,Temp °F,probe °C alarm\n2026-06-01 06:30,3.5,0\n"
    where = upload(signed_in, text)["Location"]
    assert chosen_on(signed_in.get(where)) == {"figure": 1, "unit": "F"}
    signed_in.post(where, AS_GUESSED)
    take_up_all(signed_in, TemperatureFile.objects.get().pk)
    assert Reading.objects.get().temperature_c == 3.5


def lose_text(file: TemperatureFile) -> None:
    (django_settings.DATA_DIR / "imports" / f"{file.pk}.csv").unlink()


def test_a_file_whose_text_is_gone_says_so(signed_in):
    where = upload(signed_in, logger_text(10))["Location"]
    lose_text(TemperatureFile.objects.get())
    for response in (signed_in.get(where), signed_in.post(where, AS_GUESSED)):
        assert response.status_code == 200
        assert "The text of this file is gone." in response.content.decode()
        assert f'href="{room_path("file")}"' in response.content.decode()
    assert not TemperatureFile.objects.get().rows


def test_a_half_taken_file_whose_text_is_gone_says_so_and_goes_no_further(signed_in):
    where = upload(signed_in, logger_text(1100))["Location"]
    signed_in.post(where, AS_GUESSED)
    file = TemperatureFile.objects.get()
    signed_in.post(f"/file/{file.pk}/take-up")
    lose_text(file)
    for response in (
        signed_in.post(f"/file/{file.pk}/take-up", headers={"HX-Request": "true"}),
        signed_in.post(f"/file/{file.pk}/take-up", follow=True),
        signed_in.get(where),
    ):
        page = response.content.decode()
        assert "The text of this file is gone." in page
        assert "hx-trigger" not in page.partition('id="progress"')[2]
    file.refresh_from_db()
    assert (file.next_row, file.is_done) == (500, False)


def test_other_columns_are_shown_before_they_are_taken(signed_in):
    where = upload(signed_in, "time,probe,air\n2026-06-01 06:30,9.5,3\n")["Location"]
    chosen = AS_GUESSED | {"figure": "2"}
    signed_in.post(where, chosen | {"look": "1"})
    assert not TemperatureFile.objects.get().rows
    assert "3 °C" in signed_in.get(where).content.decode()
    signed_in.post(where, chosen)
    take_up_all(signed_in, TemperatureFile.objects.get().pk)
    assert Reading.objects.get().temperature_c == 3
    wrong = upload(signed_in, "time,probe\n2026-06-02 06:30,9.5\n")["Location"]
    for changes in ({"time": "1+1"}, {"figure": "0"}, {"figure": "7"}, {"time": "x"}):
        assert signed_in.post(wrong, AS_GUESSED | changes).status_code == 422, changes


def test_a_file_read_wrongly_is_set_aside_and_may_come_again(signed_in):
    text = "time,temp\n2026-06-01 06:30,30\n"
    for unit, celsius in (("C", 30), ("F", pytest.approx(-1.1, abs=0.1))):
        where = upload(signed_in, text)["Location"]
        signed_in.post(where, AS_GUESSED | {"unit": unit})
        file = TemperatureFile.objects.latest("uploaded_at")
        take_up_all(signed_in, file.pk)
        assert Reading.objects.get(set_aside="").temperature_c == celsius
        if unit == "C":
            signed_in.post(f"/file/{file.pk}/wrong", {"entry": uuid4()})
            assert not Reading.objects.filter(set_aside="").exists()
    assert Reading.objects.count() == 2
    assert signed_in.get(where).status_code == 200  # its file is gone, the page is not


def test_what_a_wrong_unit_had_made_implausible_can_come_again(signed_in):
    rows = "".join(f"2026-06-01 0{hour}:30,{40 + 5 * hour}\n" for hour in range(6))
    for unit in ("C", "F"):
        where = upload(signed_in, f"time,temp\n{rows}")["Location"]
        signed_in.post(where, AS_GUESSED | {"unit": unit})
        file = TemperatureFile.objects.latest("uploaded_at")
        take_up_all(signed_in, file.pk)
        if unit == "C":
            signed_in.post(f"/file/{file.pk}/wrong", {"entry": uuid4()})
    file.refresh_from_db()
    assert (file.added, file.already_there, file.set_aside) == (6, 0, 0)


def test_a_file_set_aside_half_way_goes_no_further(signed_in):
    where = upload(signed_in, logger_text(1100))["Location"]
    signed_in.post(where, AS_GUESSED)
    file = TemperatureFile.objects.get()
    signed_in.post(f"/file/{file.pk}/take-up")
    signed_in.post(f"/file/{file.pk}/wrong", {"entry": uuid4()})
    signed_in.post(f"/file/{file.pk}/take-up")
    assert Reading.objects.count() == 500
    assert not Reading.objects.filter(set_aside="").exists()


@pytest.mark.parametrize("text", ["time,temp\n\n2026-06-01 06:30,3\n", "\n2026-06-01 06:30,3\n"])
def test_blank_lines_before_the_rows_do_no_harm(signed_in, text):
    where = upload(signed_in, text)["Location"]
    assert signed_in.get(where).status_code == 200
    signed_in.post(where, AS_GUESSED)
    take_up_all(signed_in, TemperatureFile.objects.get().pk)
    assert Reading.objects.get().temperature_c == 3


def test_a_logger_has_a_name_and_an_upload_that_counted_for_nothing_keeps_none(signed_in):
    text = logger_text(10)
    assert upload(signed_in, text, sensor="").status_code == 422
    upload(signed_in, text, sensor="never confirmed")
    where = upload(signed_in, text, sensor="right")["Location"]
    assert TemperatureFile.objects.latest("uploaded_at").sensor == "right"
    assert 'value="right"' in signed_in.get(room_path("file")).content.decode()
    assert where


def test_a_room_warm_and_cold_at_once_has_two_alarms(client, token, settings, mailoutbox):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    now = timezone.now()
    for sensor, celsius in (("corner", 12.0), ("fan", -4.0)):
        readings = [(now - timedelta(hours=hours), celsius) for hours in (4, 3, 2, 1)]
        record_readings(Room.objects.get(), readings, kind="file", at=now, sensor=sensor)
    queue_alarms(now)
    send_waiting(now)
    assert {mail.subject for mail in mailoutbox} == {
        "Cold room: too warm for 4 h", "Cold room: too cold for 4 h",
    }  # fmt: skip
    for alarm in open_alarms(now):
        path = room_path("alarm", str(alarm.started_s), alarm.excursion.side)
        assert client.get(path).context["alarm"].excursion.side == alarm.excursion.side


def test_a_reading_sent_twice_is_one_and_a_wrong_one_is_set_aside(signed_in):
    typed = {"entry": str(uuid4()), "temperature": "25"}
    for _ in range(2):
        signed_in.post(room_path(), typed)
    signed_in.post(f"/reading/{Reading.objects.get().pk}/wrong", {"entry": uuid4()})
    assert Reading.objects.get().set_aside == "wrong"


def test_columns_once_confirmed_stay(signed_in):
    where = upload(signed_in, logger_text(800))["Location"]
    file = TemperatureFile.objects.get()
    for unit in ("C", "F"):
        signed_in.post(where, AS_GUESSED | {"unit": unit})
        signed_in.post(f"/file/{file.pk}/take-up")
    assert Reading.objects.count() == 800
    assert min(Reading.objects.values_list("temperature_c", flat=True)) == 3


def test_a_file_with_an_open_quote_is_refused(signed_in):
    text = logger_text(2000) + '"' + "2026-06-01 06:30,3\n" * 20_000
    where = upload(signed_in, text)["Location"]
    response = signed_in.post(where, AS_GUESSED)
    assert response.status_code == 422
    assert "no table" in response.content.decode()


@pytest.fixture
def token(signed_in) -> str:
    room = Room.objects.first().pk
    page = signed_in.post("/settings/sensors", {"entry": uuid4(), "name": "P1", "room": room})
    return page.context["token"]


def post(client, body, token, **headers):
    if not isinstance(body, bytes | str):
        body = json.dumps(body)
    return client.post(
        "/api/readings", body, content_type="application/json",
        headers={"Authorization": f"Bearer {token}", **headers},
    )  # fmt: skip


def test_a_sensor_posts_one_or_a_thousand(client, token):
    client.logout()
    assert post(client, {"temperature": 3.4}, token).json()["added"] == 1
    many = [{"temperature": 38.3, "unit": "F", "at": stamp(n / 60)} for n in range(1, 1001)]
    assert post(client, {"readings": many}, token).json() == {
        "added": 1000, "already_there": 0, "set_aside": 0,
    }  # fmt: skip
    assert post(client, many, token).json()["already_there"] == 1000
    nonsense = {"temperature": 99, "at": stamp(20)}
    assert post(client, nonsense, token).json()["set_aside"] == 1
    assert Reading.objects.filter(temperature_c__lt=3.6, sensor="P1").count() == 1001


def test_a_wrong_or_revoked_token_is_refused(client, token):
    assert post(client, {"temperature": 3.4}, "wrong").status_code == 401
    assert client.post("/api/readings", "{}", content_type="application/json").status_code == 401
    client.post(f"/settings/sensors/{Sensor.objects.get().pk}/revoke", {"entry": uuid4()})
    assert post(client, {"temperature": 3.4}, token).status_code == 401
    assert not Reading.objects.exists()


BAD_BODIES = [
    b"", b"not json", b"\xff\xfe", "[]", "{}", "3.4", '"x"', "null", '{"readings": 3}',
    '{"temperature": "3.4"}', '{"temperature": null}', '{"temperature": NaN}',
    '{"temperature": Infinity}', '{"temperature": true}', '{"temperature": 1e300}',
    '{"temperature": 3, "unit": "K"}', '{"temperature": 3, "unit": []}',
    '{"temperature": 3, "at": "soon"}', '{"temperature": 3, "at": 5}',
    '{"temperature": 3, "at": "2026-07-31T06:30"}',
    '{"temperature": 3, "at": "9999-12-31T23:59:59-23:00"}',
    '{"temperature": 3, "at": "2999-01-01T00:00Z"}',
    '{"temperature": 3, "at": "1950-01-01T00:00Z"}',
    "[" * 100_000, json.dumps([{"temperature": 3}] * 2001), '{"temperature": 1' + "0" * 400 + "}",
]  # fmt: skip


@pytest.mark.parametrize("body", BAD_BODIES, ids=range(len(BAD_BODIES)))
def test_a_wrong_body_gets_the_reason(client, token, body):
    response = post(client, body, token)
    assert response.status_code == 400
    assert response.json()["error"]
    assert not Reading.objects.exists()


def test_an_oversized_body_is_refused(client, token):
    assert post(client, "x" * 600_000, token).status_code == 413


def test_only_posts_are_taken(client, token):
    assert client.get("/api/readings").status_code == 405


def test_an_alarm_stands_on_every_page_until_it_is_closed(client, token):
    warm = [{"temperature": 9, "at": stamp(hours)} for hours in (4, 3, 2, 1, 0.1)]
    post(client, {"readings": warm}, token)
    for path in ("/", "/find", "/ledger", room_path()):
        page = client.get(path).content.decode()
        assert "too warm for 4 h" in page, path
        assert "Shut the door, tell the owner." in page, path
    start = int(Reading.objects.earliest("at").at.timestamp())
    form = room_path("alarm", str(start), "warm")
    assert client.post(form, {"entry": uuid4(), "done": ""}).status_code == 422
    client.post(form, {"entry": uuid4(), "done": "fan unplugged, plugged in"})
    assert AlarmClosing.objects.get().done == "fan unplugged, plugged in"
    assert "too warm for" not in client.get("/").content.decode()
    crew = builders.make_crew()
    builders.sign_in(client, crew)
    assert client.get(form).status_code == 403


def test_the_owner_is_mailed_once_about_an_alarm(client, token, settings, mailoutbox):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    for hours in ((4, 3, 2, 1), (0.1,)):
        warm = [{"temperature": 9, "at": stamp(hour)} for hour in hours]
        post(client, {"readings": warm}, token)
    assert mailoutbox == []
    assert len(Sensor.objects.get().posts) == 2
    send_waiting(timezone.now())
    assert [mail.to for mail in mailoutbox] == [["owner@farm.example"]]
    assert mailoutbox[0].subject == "Cold room: too warm for 4 h"
    assert "9 °C" in mailoutbox[0].body


def test_the_mail_speaks_the_owners_language_in_the_farms_unit(client, token, settings, mailoutbox):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    Person.objects.filter(pk=builders.owner().pk).update(language="es")
    Farm.objects.update(temperature_unit="F")
    warm = [{"temperature": 9, "at": stamp(hour)} for hour in (4, 3, 2, 1)]
    refused = post(client, {"readings": warm}, token)  # 9 may be meant either way here
    assert (refused.status_code, "unit" in refused.json()["error"]) == (400, True)
    post(client, {"readings": [reading | {"unit": "C"} for reading in warm]}, token)
    send_waiting(timezone.now())
    assert "demasiado caliente" in mailoutbox[0].subject
    assert "48.2 °F" in mailoutbox[0].body


def test_an_intake_says_when_it_is_cold_enough_and_takes_another_probe(signed_in):
    lot = builders.make_lot(at=timezone.now(), pulp_c=builders.Decimal(26))
    page = signed_in.get(f"/intake/{lot.intake_id}").content.decode()
    assert "Cold enough at about" in page
    signed_in.post(f"/intake/{lot.intake_id}/probe", {"entry": uuid4(), "pulp_c": "12.5"})
    assert ProbeReading.objects.get().temperature_c == 12.5
    bad = signed_in.post(f"/intake/{lot.intake_id}/probe", {"entry": uuid4(), "pulp_c": "x"})
    assert bad.status_code == 422


def test_the_export_has_the_mean_kinetic_temperature(client, token):
    """Equal times at 20 and 30 °C give 26.26 °C: computed by the formula of USP <1079.2>."""
    for celsius, hours in ((20, (8, 7, 6, 5)), (30, (4, 3, 2, 1))):
        post(client, [{"temperature": celsius, "at": stamp(hour)} for hour in hours], token)
    text = client.get(room_path("log.csv")).content.decode()
    assert "mean kinetic temperature C (USP 1079.2),26.2" in text


def test_what_was_set_aside_is_shown_with_its_reason(client, token):
    post(client, {"temperature": 500}, token)
    page = client.get(room_path()).content.decode()
    assert "Set aside: they do not count" in page
    assert "outside −30 to 50 °C" in page


def test_a_sensor_is_given_an_address_other_machines_know(signed_in):
    Farm.objects.update(label_address="http://farm.local:8000")
    room = Room.objects.get().pk
    made = signed_in.post("/settings/sensors", {"entry": uuid4(), "name": "P1", "room": room})
    assert "http://farm.local:8000/api/readings" in made.content.decode()

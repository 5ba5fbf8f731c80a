"""Each state of the log's health in words, with a mark, and what is bad first."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.models import (
    Chore,
    Mail,
    Person,
    Room,
    RoomCheck,
    Sensor,
    TemperatureFile,
    Watch,
)
from inventory.queries.health import Health, Post, RoomSeen, SensorSeen
from inventory.words.health import health_lines, size_words, trouble_words
from tests.builders import NOW

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ROOM = Room(name="Cold room")
CHECK = RoomCheck(room=ROOM, day=NOW.date(), person=Person(name="Ben"))
SENSOR = Sensor(name="shelf", room=ROOM)
WELL = Health(
    at=NOW,
    watch=Watch(since=NOW, last_round_at=NOW),
    free_bytes=3_400_000_000,
    copied_at=NOW - HOUR,
    sensors=[SensorSeen(SENSOR, NOW, False)],
    rooms=[RoomSeen(ROOM, CHECK, False)],
    post=Post("", 0, None, NOW),
    chores={"ledger": Chore(name="ledger", done_at=NOW)},
    failed=[],
    version="0.1.0 (9ef6a28)",
    database="SQLite",
)
FAILED = Mail(trouble="no-tls", server_said="no STARTTLS", next_try_at=NOW + HOUR)


def chore(name: str, **changes) -> dict[str, Chore]:
    return {name: Chore(name=name, **changes)}


def told(**changes) -> dict[str, tuple[str, str, str]]:
    lines = health_lines(replace(WELL, **changes))
    return {line.title: (line.mark, line.words, line.details) for line in lines}


def test_a_log_that_is_well_says_so_in_a_line_each():
    assert {title: line[:2] for title, line in told().items()} == {
        "The watch": ("✓", "Awake, last at 14:00."),
        "Last copy": ("✓", "13:00"),
        "Mail": ("✓", "Nothing waits. Last sent 14:00."),
        "Adding up": ("✓", "Checked 14:00: every crate is as its entries say."),
        "Disk": ("✓", "3.4 GB of room left"),
        "Check of Cold room": ("✓", "Wed 10 Jun, by Ben"),
        "shelf (Cold room)": ("✓", "Last reading 14:00"),
        "Program": ("–", "0.1.0 (9ef6a28), SQLite"),
    }


@pytest.mark.parametrize(
    ("changes", "title", "mark", "words", "details"),
    [
        ({"watch": None}, "The watch", "!", "Nothing is mailed, copied or checked.", ""),
        ({"at": NOW + HOUR}, "The watch", "!", "Asleep since 14:00. Nothing is mailed", ""),
        ({"copied_at": None}, "Last copy", "!", "None yet.", ""),
        ({"copied_at": NOW - 3 * DAY}, "Last copy", "!", "Sun 7 Jun 14:00", ""),
        ({"chores": chore("copy", trouble="full")}, "Last copy", "!", "13:00. Since then", "full"),
        ({"post": Post("nobody", 0, None, None)}, "Mail", "–", "Nobody is told", ""),
        ({"post": Post("no-server", 2, None, None)}, "Mail", "!",
         "No mail server is named: COLDROOM_MAIL_HOST is not set. 2 messages wait.", ""),
        ({"post": Post("", 1, FAILED, None)}, "Mail", "!",
         trouble_words("no-tls") + " 1 message waits. Next try 15:00.", "no STARTTLS"),
        ({"post": Post("", 1, None, None)}, "Mail", "–", "1 message waits.", ""),
        ({"post": Post("", 0, None, None)}, "Mail", "✓", "Nothing waits.", ""),
        ({"chores": {}}, "Adding up", "–", "Not checked yet.", ""),
        ({"chores": chore("ledger", trouble="odd")}, "Adding up", "!", "It could not", "odd"),
        ({"chores": chore("ledger", done_at=NOW, found="7K3")}, "Adding up", "!",
         "Checked 14:00: some crates", "7K3"),
        ({"chores": chore("ledger", done_at=NOW - 3 * DAY)}, "Adding up", "!",
         "Checked Sun 7 Jun 14:00: every", ""),
        ({"free_bytes": 300_000_000}, "Disk", "!", "Only 300 MB free.", ""),
        ({"rooms": [RoomSeen(ROOM, None, False)]}, "Check of Cold room", "–", "Never yet.", ""),
        ({"rooms": [RoomSeen(ROOM, CHECK, True)]}, "Check of Cold room", "!",
         "Missed. The last was Wed 10 Jun, by Ben.", ""),
        ({"sensors": [SensorSeen(SENSOR, NOW, True)]}, "shelf (Cold room)", "!",
         "Silent. Last reading 14:00.", ""),
        ({"sensors": [SensorSeen(SENSOR, None, False)]}, "shelf (Cold room)", "–",
         "No reading yet.", ""),
        ({"failed": [(TemperatureFile(room=ROOM, uploaded_at=NOW), "odd")]},
         "Logger's file for Cold room", "!", "Sent 14:00 and not loaded: the others go on", "odd"),
        ({"chores": chore("photos", trouble="denied")}, "Old photos", "!", "Could not", "denied"),
    ],
)  # fmt: skip
def test_what_is_not_well_says_what_and_what_to_do(changes, title, mark, words, details):
    found = told(**changes)[title]
    assert (found[0], found[2]) == (mark, details)
    assert found[1].startswith(words)


def test_what_is_bad_comes_first():
    lines = health_lines(replace(WELL, free_bytes=1, rooms=[RoomSeen(ROOM, CHECK, True)]))
    assert [line.title for line in lines[:3]] == ["Disk", "Check of Cold room", "The watch"]


def test_sizes_are_short():
    sizes = (0, 820_000_000, 10**9, 3_440_000_000, 9_990_000_000, 120_400_000_000)
    assert [size_words(size) for size in sizes] == [
        "0 MB", "820 MB", "1.0 GB", "3.4 GB", "9.9 GB", "120 GB",
    ]  # fmt: skip

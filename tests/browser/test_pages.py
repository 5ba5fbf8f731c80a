"""Every page in the browser, in both colours: no serious fault, nothing too wide or small."""

from datetime import timedelta

import pytest

from inventory.actions.counting import see
from inventory.actions.imports import keep_file
from inventory.actions.temperatures import record_readings
from inventory.models import Room
from inventory.queries.alarms import open_alarms
from inventory.views.owner import LISTS
from inventory.views.scan import MODES
from tests import builders


@pytest.fixture
def paths(thumb) -> list[str]:
    now = builders.timezone_now()
    lot, other = builders.make_lots(12, 12, at=now - timedelta(days=2), pulp_c=None)
    case = builders.make_cases(18, at=now)[0]
    room = Room.objects.get()
    for hours in (*range(60, 30, -1), *range(8)):
        warm = [(now - timedelta(hours=hours), 9.0 if hours < 8 else 3.0)]
        record_readings(room, warm, kind="sensor", at=now, sensor="P1")
    (alarm,) = open_alarms(now)
    file = keep_file(
        builders.act(now), room=room, sensor="", data=b"time,temp\n03/04/2026 06:30,3.5\n"
    )
    see(builders.act(now), lot=lot, position=builders.place("B2"))
    tag = builders.make_tag(now)
    builders.take(builders.make_lot(at=now), "all", at=now)
    habits = f"/settings/outlets/{builders.market().pk}/habits"
    return [
        "/", f"/rooms/{room.pk}", f"/rooms/{room.pk}?span=day", f"/rooms/{room.pk}/paper",
        f"/rooms/{room.pk}/file", f"/file/{file.pk}", f"/rooms/{room.pk}/check",
        f"/rooms/{room.pk}/checks/{now:%Y-%m}", f"/rooms/{room.pk}/alarm/{alarm.started_s}/warm",
        "/rooms", "/rooms/unseen", "/count", f"/count/{lot.position_id}", f"/P/{lot.position_id}",
        f"/L/{lot.pk}", *(f"/L/{lot.pk}/{doing}" for doing in (
            "move", "look", "discard", "count", "split", "combine", "sort", "hold")),
        f"/L/{other.pk}/take-out", f"/L/{case.pk}", f"/L/{case.pk}/send-back", f"/L/{tag.pk}",
        f"/intake/{lot.intake_id}", f"/intake/{case.intake_id}/correct",
        f"/done/{lot.intake.action_id}", "/scan", "/scan/count/found", "/scan/discard/end",
        *(f"/scan/{mode}" for mode in MODES),
        f"/labels?codes={lot.pk},{other.pk}", "/labels/reprint", "/week", "/ledger", "/find",
        f"/week/{now + timedelta(days=1):%Y-%m-%d}/here/{lot.crop_id}/bunch",
        "/find?code=0000",
        "/more", "/in/delivery", f"/in/delivery/{case.crop_id}", "/pull", "/market", "/who",
        "/market?by=crate", habits,
        "/settings", "/settings/farm", "/settings/labels", "/settings/tags", "/settings/sensors",
        "/settings/phones", "/settings/rooms/new", "/settings/people/new",
        *(f"/settings/{name}" for name in LISTS),
        f"/settings/crops/{lot.crop_id}", f"/settings/rooms/{room.pk}",
    ]  # fmt: skip


@pytest.mark.parametrize("half", [0, 1])
def test_every_page_is_fit_for_a_thumb_by_day_and_by_night(thumb, paths, half):
    for path in paths[half::2]:
        thumb.page.emulate_media(color_scheme="light")
        thumb.open(path)
        thumb.page.emulate_media(color_scheme="dark")
        thumb.check()
    assert len(thumb.checked) > 25

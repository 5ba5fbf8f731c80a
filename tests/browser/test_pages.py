"""Every other page in the browser: no serious fault, nothing too wide, nothing too small."""

from datetime import timedelta

import pytest

from inventory.actions.counting import see
from inventory.actions.imports import keep_file
from inventory.actions.tags import make_tags
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
    (tag,) = make_tags(builders.act(now), count=1)
    return [
        f"/rooms/{room.pk}", f"/rooms/{room.pk}?span=day", f"/rooms/{room.pk}/paper",
        f"/rooms/{room.pk}/file", f"/file/{file.pk}", f"/rooms/{room.pk}/check",
        f"/rooms/{room.pk}/checks/{now:%Y-%m}", f"/rooms/{room.pk}/alarm/{alarm.started_s}/warm",
        "/rooms", "/rooms/unseen", "/count", f"/count/{lot.position_id}", f"/P/{lot.position_id}",
        f"/L/{lot.pk}", f"/L/{lot.pk}/discard", f"/L/{lot.pk}/look", f"/L/{lot.pk}/combine",
        f"/L/{other.pk}/take-out", f"/L/{case.pk}", f"/L/{case.pk}/send-back", f"/L/{tag.pk}",
        f"/intake/{lot.intake_id}", f"/intake/{case.intake_id}/correct",
        f"/done/{lot.intake.action_id}", "/scan", "/scan/count/found", "/scan/discard/end",
        *(f"/scan/{mode}" for mode in MODES),
        f"/labels?codes={lot.pk},{other.pk}", "/labels/reprint", "/week", "/ledger", "/find",
        "/more", "/in/delivery", f"/in/delivery/{case.crop_id}", "/pull", "/market", "/who",
        "/settings", "/settings/farm", "/settings/labels", "/settings/tags", "/settings/sensors",
        "/settings/phones", "/settings/rooms/new", *(f"/settings/{name}" for name in LISTS),
        f"/settings/crops/{lot.crop_id}", f"/settings/rooms/{room.pk}",
    ]  # fmt: skip


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_every_page_is_fit_for_a_thumb(thumb, paths, dark):
    thumb.page.emulate_media(color_scheme="dark" if dark else "light")
    for path in paths:
        thumb.open(path)

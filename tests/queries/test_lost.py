"""Where life was lost in a week, as its page shows it."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.temperatures import close_alarm
from inventory.ledger.weeks import CalendarChanged
from inventory.models import Room, Week, WeekLoss
from inventory.queries import lost
from inventory.queries.lost import read_lost
from tests import builders
from tests.builders import NOW, act, crop, make_crew, make_lot

MONDAY = date(2026, 6, 8)
DAY = timedelta(days=1)


def keep(*rows):
    """Rows of (crop, step, crate-days, money)."""
    week = Week.objects.create(pk=MONDAY, losses_kept=True)
    for key, step, days, money in rows:
        WeekLoss.objects.create(
            week=week, crop=crop(key), step=step, crate_days=Decimal(days), money=money
        )


def test_the_worst_step_and_the_worst_crop_stand_first(farm):
    keep(
        ("kale", "field", "1.5", 3), ("kale", "room", "0.5", 1), ("basil", "room", "6", None),
        ("apple", "out", "0.04", None),
    )  # fmt: skip
    found = read_lost(farm, MONDAY)
    assert [(one.step, one.crate_days, one.part) for one in found.steps] == [
        ("room", Decimal("6.5"), 1), ("field", Decimal("1.5"), pytest.approx(1.5 / 6.5)),
    ]  # fmt: skip
    assert [(one.crop, one.crate_days, one.money) for one in found.crops] == [
        (crop("basil"), 6, None), (crop("kale"), 2, 4),
    ]  # fmt: skip
    assert [row.step for row in found.crops[1].rows] == ["field", "room"]
    assert (found.crate_days, found.money, found.unpriced) == (8, 4, [crop("basil")])


def test_a_week_that_became_another_meanwhile_shows_what_is_kept(farm, monkeypatch):
    def changed(*_args):
        raise CalendarChanged

    keep(("kale", "field", "1.5", None))
    monkeypatch.setattr(lost, "keep_losses", changed)
    assert read_lost(farm, MONDAY).crate_days == Decimal("1.5")
    assert read_lost(farm, MONDAY).money is None


def test_warm_spells_that_were_closed_stand_beside_a_room_too_warm(farm):
    """Of the week and the one before, the warmest first; with nothing lost there, none."""
    for days, side, peak in ((0, "warm", 9), (8, "warm", 11), (20, "warm", 15), (0, "cold", -3)):
        start = (NOW - days * DAY).timestamp()
        close_alarm(
            act(), room=Room.objects.get(), started_at=start, ended_at=start + 3600, side=side,
            peak_c=peak, done="door shut",
        )  # fmt: skip
    keep(("kale", "field", "1", None))
    assert read_lost(farm, MONDAY).spells == []
    WeekLoss.objects.update(step="room")
    assert [spell.peak_c for spell in read_lost(farm, MONDAY).spells] == [11, 9]


def test_the_week_shows_it_by_no_name_and_leads_to_the_crops_entries(client, farm):
    ben = make_crew()
    builders.sign_in(client)
    lot = make_lot(12, at=NOW - 4 * DAY)
    builders.take_out(act(person=ben), lot=lot.pk, portion="all", purpose="own use")
    page = client.get(f"/week/{MONDAY}").content.decode()
    assert "Where life was lost" in page
    assert "In all 1.0 crate-days" in page  # kale, four days at 2 °C: 4 · (3^0.2 - 1) = 0.98
    link = f"/ledger?crop={lot.crop_id}&amp;from_day=2026-06-08&amp;to_day=2026-06-14"
    assert link in page
    assert lot.pk in client.get(link.replace("&amp;", "&")).content.decode()
    assert "Ben" not in page
    before = client.get(f"/week/{MONDAY - 7 * DAY}").content.decode()
    assert "Where life was lost" not in before

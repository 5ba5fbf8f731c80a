"""Cautions are seen by whoever opens the page: not folded away, not below the button, not tiny."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from inventory.actions.temperatures import check_room
from inventory.models import Person, Room
from tests import builders

DOOR = {
    "en": "Cold room: the door does not open from inside. "
    "While anyone is in: wedge it open, one stays outside.",
    "es": "Cold room: la puerta no abre desde adentro. "
    "Mientras haya alguien adentro: ponle una cuña y que uno se quede afuera.",
}
ENTRAPMENT = {
    "en": "The door must open from inside, in the dark too.",
    "es": "La puerta debe abrir desde adentro, también a oscuras.",
}


def check_the_door(opens: bool | None, days_ago: int = 0) -> None:
    at = builders.timezone_now() - timedelta(days=days_ago)
    check_room(
        builders.act(at), room=Room.objects.get(), celsius=3.0, door_shut=True, odd="",
        opens_from_inside=opens,
    )  # fmt: skip


@pytest.fixture
def paths(thumb) -> list[str]:
    lot = builders.make_lot(12, at=builders.timezone_now() - timedelta(days=1))
    room = Room.objects.get()
    return [
        "/", f"/L/{lot.pk}", f"/L/{lot.pk}/take-out", "/scan", "/scan/market", "/put-away",
        f"/rooms/{room.pk}/check", "/settings",
    ]  # fmt: skip


@pytest.mark.parametrize(("language", "colours"), [("en", "light"), ("es", "dark")])
def test_a_door_that_does_not_open_is_said_on_every_page_until_it_does(
    thumb, paths, language, colours
):
    Person.objects.update(language=language)
    thumb.page.emulate_media(color_scheme=colours)
    check_the_door(opens=False, days_ago=1)
    check_the_door(opens=None)
    line = thumb.page.locator(".alarm.shut")
    for path in paths:
        thumb.open(path)
        expect(line).to_be_visible()
        expect(line).to_be_in_viewport(ratio=1)
        assert " ".join(line.inner_text().split()).startswith(DOOR[language]), path
        mark = line.locator("b").evaluate("e => getComputedStyle(e, '::before').content")
        assert "✗" in mark, path
    check_the_door(opens=True)
    for path in paths:
        thumb.open(path)
        expect(line).to_have_count(0)


def test_the_line_leads_to_the_check_that_ends_it(thumb, paths):
    check_the_door(opens=False, days_ago=1)
    thumb.open("/")
    thumb.tap("It opens again: check it", role="link")
    question = thumb.page.get_by_label("Door opens from inside?", exact=True)
    expect(question).to_be_visible()
    question.select_option("yes")
    thumb.page.locator("label", has_text="yes").first.click()
    thumb.tap("Checked")
    expect(thumb.page.locator(".alarm.shut")).to_have_count(0)


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_caution_of_the_door_stands_above_the_button_of_the_daily_check(thumb, paths, language):
    Person.objects.update(language=language)
    thumb.open(f"/rooms/{Room.objects.get().pk}/check")
    caution = thumb.page.locator(".caution", has_text=ENTRAPMENT[language])
    expect(caution).to_be_visible()
    button = thumb.page.locator("button.main").bounding_box()
    assert caution.bounding_box()["y"] + caution.bounding_box()["height"] <= button["y"]


def test_the_other_cautions_are_seen_without_a_tap(thumb):
    now = builders.timezone_now()
    yesterday = builders.act(now).today - timedelta(days=1)
    past, sprouts = (
        builders.make_cases(4, at=now, **facts)[0]
        for facts in (
            {"best_before": yesterday, "best_before_kind": "use by"},
            {"crop": builders.crop("sprouts-mung")},
        )
    )
    out = builders.make_lot(12, at=now)
    builders.take(out, "all", at=now)
    food_code = "The food code has rules of its own; days left say nothing about safety."
    law = "Before you give or sell, local law decides what must be written down."
    for path, words in (
        (f"/L/{past.pk}", "Past its use-by date: do not sell, give or use."),
        (f"/P/{past.position_id}", "Past its use-by date: discard it or send it back;"),
        (f"/L/{sprouts.pk}", food_code),
        (f"/in/delivery/{sprouts.crop_id}", food_code),
        (f"/L/{sprouts.pk}/take-out", law),
        ("/market", law),
    ):
        thumb.open(path)
        expect(thumb.page.get_by_text(words).first).to_be_visible()


def test_the_caution_of_the_probe_stands_under_its_box(thumb):
    lot = builders.make_lot(12, at=builders.timezone_now(), pulp_c=None)
    for path, fold in (
        (f"/intake/{lot.intake_id}", "Measure inside again"),
        (f"/in/harvest/{lot.crop_id}", "More about these crates"),
    ):
        thumb.open(path)
        thumb.page.locator("summary", has_text=fold).click()
        words = "Clean the probe before and after; do not sell the one you pierced."
        caution = thumb.page.get_by_text(words)
        expect(caution).to_be_visible()
        box = thumb.page.locator("input[name=pulp_c]").bounding_box()
        gap = caution.bounding_box()["y"] - box["y"] - box["height"]
        assert 0 <= gap < 48, path


def test_a_check_taken_back_in_one_tap_brings_the_doors_line_back(thumb):
    check_the_door(opens=False, days_ago=1)
    line = thumb.page.locator(".alarm.shut")
    thumb.open(f"/rooms/{Room.objects.get().pk}/check")
    thumb.page.get_by_label("The thermometer shows").fill("3.4")
    thumb.page.locator("label", has_text="yes").first.click()
    thumb.page.get_by_label("Door opens from inside?", exact=True).select_option("yes")
    thumb.tap("Checked")
    expect(line).to_have_count(0)
    thumb.taps = 0
    thumb.tap("Undo")
    assert thumb.taps == 1
    expect(line).to_be_in_viewport(ratio=1)
    expect(thumb.page.get_by_text("↶ Undone: Cold room checked, 3.4 °C")).to_be_visible()
    expect(thumb.page.get_by_text("taken back by Ada")).to_be_visible()
    thumb.open("/")
    expect(line).to_be_visible()


@pytest.mark.parametrize("mode", ["look", "market", "discard"])
def test_the_scan_page_takes_keys_and_keeps_the_doors_line_in_view(thumb, mode):
    """The smallest phones in use, from memory: 568 px high, their browser's own bars taken off."""
    thumb.page.set_viewport_size({"width": 360, "height": 460})
    check_the_door(opens=False)
    thumb.open(f"/scan/{mode}")
    box = thumb.page.get_by_label("Scan, or type the code")
    expect(box).to_be_focused()
    expect(thumb.page.locator(".alarm.shut")).to_be_in_viewport(ratio=1)
    assert thumb.page.evaluate("scrollY") == 0


def test_the_scan_page_takes_keys_where_every_door_opens(thumb):
    thumb.open("/scan/look")
    expect(thumb.page.get_by_label("Scan, or type the code")).to_be_focused()

"""Putting away and moving many crates at once, with the taps counted from What now."""

import re

import pytest
from playwright.sync_api import expect

from inventory.models import Action, Lot, Position
from tests.browser.conftest import Thumb, sign_in
from tests.builders import make_lots, place, timezone_now


def stand_in(name: str) -> int:
    return Lot.objects.filter(state="in place", position=place(name)).count()


def from_home(thumb: Thumb) -> None:
    thumb.open("/")
    thumb.taps = 0


def test_twelve_crates_go_on_two_shelves_in_two_taps(thumb):
    Position.objects.update(capacity=8)
    made = make_lots(*range(1, 13), at=timezone_now(), position=None)
    from_home(thumb)
    thumb.tap("12 to put away", role="link")
    thumb.tap("A1: 8, A2: 4")
    assert thumb.taps == 2
    assert (stand_in("A1"), stand_in("A2")) == (8, 4)
    assert Lot.objects.get(pk=made[7].pk).position == place("A1")
    assert Lot.objects.get(pk=made[8].pk).position == place("A2")
    assert "more to put away" not in thumb.text
    thumb.tap("Undo")
    assert Lot.objects.filter(state="to put away").count() == 12


def test_twelve_by_two_shelves_of_ones_own_choice_take_nine_taps(thumb):
    """Four unticked and a place; the rest is offered at once, without a way back."""
    made = make_lots(*range(1, 13), at=timezone_now(), position=None)
    from_home(thumb)
    thumb.tap("12 to put away", role="link")
    thumb.tap_on("summary:has-text('leave out')")
    shown = [text.split()[0] for text in thumb.page.locator(".ticks label").all_inner_texts()]
    assert shown == [lot.pk for lot in made]
    for label in thumb.page.locator(".ticks label").all()[8:]:
        thumb.taps += 1
        label.click()
    thumb.tap("B1", exact=False)
    assert "4 more to put away" in thumb.text
    thumb.tap("4 more to put away", role="link")
    thumb.tap("B2", exact=False)
    assert thumb.taps <= 9
    assert (stand_in("B1"), stand_in("B2")) == (8, 4)


def tick_several(thumb: Thumb) -> None:
    """From What now to the ticks of the shelf where the crates stand."""
    from_home(thumb)
    thumb.tap_on("a[href='/rooms']")
    thumb.check()
    thumb.tap_on(f"a[href='/P/{place('A1').pk}']")
    thumb.check()
    thumb.tap_on("#several > summary")
    thumb.check()


def test_six_crates_move_in_five_taps_and_back_by_one(thumb):
    made = make_lots(*[12] * 6, at=timezone_now())
    tick_several(thumb)
    thumb.tap("Move")
    thumb.tap("B2", exact=False)
    assert thumb.taps <= 5
    assert stand_in("B2") == 6
    thumb.tap("Undo")
    assert stand_in("A1") == len(made)


def test_six_of_one_harvest_move_from_among_others_in_seven_taps(thumb):
    Position.objects.update(capacity=12)
    kale = make_lots(*[12] * 6, at=timezone_now())
    make_lots(*[9] * 5, at=timezone_now(), key="salad-mix")
    tick_several(thumb)
    thumb.tap_on(f"a[href='?tick={kale[0].intake_id}#several']")
    expect(thumb.page.locator(".ticks input:checked")).to_have_count(6)
    thumb.check()
    thumb.tap("Move")
    thumb.tap("B2", exact=False)
    assert thumb.taps <= 8
    moved = set(Lot.objects.filter(position=place("B2")).values_list("pk", flat=True))
    assert moved == {lot.pk for lot in kale}


ANSWERS = {
    "Take out": ("own use", "Take out", "out"),
    "Put on hold": ("", "a doubt", "in place"),
    "Discard": ("wilted", "Discard", "empty"),
}


@pytest.mark.parametrize("doing", ANSWERS)
def test_two_of_five_are_ticked_and_done_and_undone(thumb, doing):
    chip, button, state = ANSWERS[doing]
    made = make_lots(*[12] * 5, at=timezone_now())
    tick_several(thumb)
    thumb.tap("Tick none", role="link")
    expect(thumb.page.locator(".ticks input:checked")).to_have_count(0)
    for lot in made[1:3]:
        thumb.page.locator(f".ticks label:has([value='{lot.pk}'])").click()
    thumb.tap(doing)
    assert re.search(r"2 crates", thumb.text)
    if chip:
        thumb.page.get_by_text(chip, exact=True).click()
    thumb.tap(button)
    touched = {entry.lot_id for entry in Action.objects.latest("recorded_at").movements.all()}
    assert touched == {lot.pk for lot in made[1:3]}
    assert {(lot.state, lot.held) for lot in Lot.objects.filter(pk__in=touched)} == {
        (state, doing == "Put on hold")
    }
    thumb.tap("Undo")
    assert set(Lot.objects.values_list("state", "held")) == {("in place", False)}


def test_ticks_of_a_harvest_work_without_javascript(new_thumb):
    thumb = new_thumb(java_script_enabled=False)
    page = thumb.page
    sign_in(thumb)
    made = make_lots(*[12] * 3, at=timezone_now())
    page.goto(f"{thumb.address}/intake/{made[0].intake_id}")
    page.locator("#several > summary").click()
    page.locator(f".ticks label:has([value='{made[0].pk}'])").click()
    page.get_by_role("button", name="Move", exact=True).click()
    page.get_by_role("button", name="B2").click()
    moved = Lot.objects.filter(position=place("B2")).values_list("pk", flat=True)
    assert set(moved) == {lot.pk for lot in made[1:]}

"""The rooms drawn and tapped, and things found by name, on phones of several widths."""

from datetime import timedelta
from itertools import pairwise, product

from inventory.actions.quality import hold
from inventory.models import Lot, Person, Position
from tests import builders
from tests.browser.conftest import Thumb, sign_in

DAY = timedelta(days=1)
BAR = ".bar"
# What can be scrolled sideways, or is cut off, inside the page.
HIDDEN_SIDEWAYS = """() => [...document.querySelectorAll('main *')]
    .filter(e => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX !== 'visible')
    .map(e => e.outerHTML.slice(0, 120))"""


def stock() -> dict[str, Lot]:
    """A crate of each mark on A1, which holds eight, and a cold spot below it."""
    now = builders.timezone_now()
    Position.objects.filter(rack="A", shelf=1).update(capacity=8)
    Position.objects.filter(rack="A", shelf=2).update(cold_spot=True)
    lots = {
        "past": builders.make_lot(at=now - 20 * DAY),
        "first": builders.make_lot(at=now - 8 * DAY),
        "part": builders.make_lot(at=now),
        "held": builders.make_lot(at=now),
        "waiting": builders.make_lot(at=now, position=None),
    }
    builders.take(lots["part"], "half", at=now)
    hold(builders.act(now), lot=lots["held"].pk, reason="a doubt")
    return lots


def box_of(thumb: Thumb, lot: Lot):
    return thumb.page.locator(f'.bays a[href="/L/{lot.pk}"]')


def spots(thumb: Thumb, selector: str) -> list[dict]:
    return [one.bounding_box() for one in thumb.page.locator(selector).all()]


def assert_all_in_sight(thumb: Thumb, width: int) -> None:
    """Nothing of the drawing stands out of the page, and nothing scrolls sideways unseen."""
    for spot in spots(thumb, ".bays .box rect, .level .place, .rack .shelf"):
        assert spot["x"] >= 0, spot
        assert spot["x"] + spot["width"] <= width + 0.5, spot
    assert thumb.page.evaluate(HIDDEN_SIDEWAYS) == []


def test_a_box_of_the_room_opens_its_crate(thumb):
    lots = stock()
    for lot in lots.values():
        thumb.open("/rooms")
        box_of(thumb, lot).tap()
        thumb.page.wait_for_url(f"**/L/{lot.pk}")
    thumb.check()


def test_a_box_is_named_for_who_cannot_see_it(thumb):
    lots = stock()
    thumb.open("/rooms")
    thumb.tap(f"Kale, on hold, A1, {lots['held'].pk[-4:]}", role="link")
    assert thumb.page.url.endswith(lots["held"].pk)


def test_the_name_of_a_shelf_leads_to_the_place(thumb):
    stock()
    thumb.open("/rooms")
    assert "cold spot" in thumb.page.locator(".level .place").nth(1).inner_text()
    for spot in spots(thumb, ".level .place"):
        assert spot["height"] >= 64
        assert spot["width"] >= 48
    thumb.page.locator(".level .place").first.tap()
    thumb.page.wait_for_url(f"**/P/{builders.place('A1').pk}")


def test_eight_crates_stand_in_one_row_each_as_wide_as_a_fingertip(thumb):
    stock()
    thumb.open("/rooms")
    shelf = thumb.page.locator(".level").first
    boxes = [one.bounding_box() for one in shelf.locator(".box > rect:not(.hit, .fill)").all()]
    assert len(boxes) == 8
    assert max(box["y"] for box in boxes) - min(box["y"] for box in boxes) < 1
    for box, following in pairwise(boxes):
        assert box["x"] + box["width"] <= following["x"]
    assert min(box["width"] for box in boxes) >= 34
    assert min(box["height"] for box in boxes) >= 40
    targets = [one.bounding_box() for one in shelf.locator("a .hit").all()]
    assert min(target["width"] for target in targets) >= 36
    assert min(target["height"] for target in targets) >= 64


def test_the_first_racks_are_in_the_first_view(thumb):
    stock()
    thumb.open("/rooms")
    bar = spots(thumb, BAR)[0]["y"]
    shelf = spots(thumb, ".level")[0]
    assert shelf["y"] + shelf["height"] < bar


def test_each_mark_is_seen_beside_its_colour_and_told_in_the_key(thumb):
    lots = stock()
    thumb.open("/rooms")
    assert box_of(thumb, lots["past"]).locator("text").first.text_content() == "!"
    assert box_of(thumb, lots["first"]).locator("text").first.text_content() == "•"
    assert box_of(thumb, lots["held"]).locator(".bars").bounding_box()["height"] > 16
    outline = box_of(thumb, lots["part"]).locator("rect:not(.hit, .fill)").bounding_box()
    fill = box_of(thumb, lots["part"]).locator(".fill").bounding_box()
    assert 0.4 < fill["height"] / outline["height"] < 0.7
    key = thumb.page.locator(".boxkey").inner_text()
    for words in ("past", "sell first", "on hold", "part crate", "room for one"):
        assert words in key


def test_the_drawing_fits_narrow_phones_and_twice_the_size(thumb):
    stock()
    builders.make_lots(*[12] * 14, at=builders.timezone_now(), position=builders.place("B1"))
    Position.objects.filter(rack="B", shelf=2).update(capacity=99)
    for language, width in product(["en", "es"], [360, 320, 180]):
        Person.objects.update(language=language)
        thumb.page.set_viewport_size({"width": width, "height": 740})
        thumb.page.goto(thumb.address + "/rooms")
        the_drawing_fits(thumb, width)


def the_drawing_fits(thumb, width):
    assert_all_in_sight(thumb, width)
    crowded = thumb.page.locator(".level").nth(3)
    assert crowded.locator("a.box").count() == 14
    boxes = spots(thumb, ".bays a .fill")
    assert min(box["width"] for box in boxes) >= 24
    long = thumb.page.locator(".level").nth(4)
    assert long.bounding_box()["height"] < 360
    assert "83" in long.inner_text()


def test_a_crop_is_found_by_name_in_either_language(thumb):
    lots = stock()
    for typed in ("kale", "col rizada", "KALE", "bed 3"):
        thumb.open("/find")
        thumb.type("Crop, field, buyer, place or code", typed)
        thumb.tap("Find")
        assert "5 crates" in thumb.text, typed
        codes = thumb.page.locator(".tags .code").all_inner_texts()
        assert codes[0] == lots["past"].pk, typed
        first, bar = spots(thumb, ".tag")[0], spots(thumb, BAR)[0]["y"]
        assert first["y"] + first["height"] < bar, typed
        assert thumb.page.evaluate(HIDDEN_SIDEWAYS) == [], typed
        thumb.page.locator("a.tag").first.tap()
        thumb.page.wait_for_url(f"**/L/{lots['past'].pk}")


def test_nothing_found_says_what_can_be_typed_and_keeps_the_word(thumb):
    thumb.open("/find")
    thumb.type("Crop, field, buyer, place or code", "quinoa")
    thumb.page.keyboard.press("Enter")
    thumb.page.get_by_text("Nothing found for “quinoa”.").wait_for()
    thumb.check()
    assert thumb.page.locator("#code").input_value() == "quinoa"
    assert thumb.page.get_by_text("The beginning of a name is enough").is_visible()


def test_a_place_is_found_by_its_label(thumb):
    thumb.open("/find?code=a2")
    assert thumb.page.url.endswith(f"/P/{builders.place('A2').pk}")


def test_finding_in_the_dark_and_in_spanish(new_thumb):
    thumb = new_thumb(color_scheme="dark")
    sign_in(thumb)
    stock()
    Person.objects.update(language="es")
    for path in ("/find", "/find?code=kale", "/find?code=market", "/find?code=nada", "/rooms"):
        thumb.open(path)
        assert thumb.page.evaluate(HIDDEN_SIDEWAYS) == [], path

"""Tags on a phone: free ones in every mode, put on, swapped, listed and printed again."""

import pytest
from playwright.sync_api import expect

from inventory.actions.tags import bind_tag
from inventory.models import Lot, Tag
from inventory.rotation.scans import Mode
from tests import builders
from tests.browser.conftest import Thumb, sign_in_by_hand
from tests.builders import act, make_lots, place, take, timezone_now

MODES = sorted(set(Mode) - {Mode.TAG})


def make_tag(lot: Lot | None = None) -> Tag:
    tag = builders.make_tag(timezone_now())
    if lot:
        bind_tag(act(timezone_now()), tag=tag.pk, lot=lot.pk)
    return tag


def type_in(thumb: Thumb, text: str) -> None:
    """Type as a scanner does."""
    thumb.page.get_by_label("Scan, or type the code").fill(text)
    thumb.page.keyboard.press("Enter")


@pytest.mark.parametrize("mode", MODES)
def test_a_free_tag_in_each_mode_is_on_a_crate_two_taps_later(thumb, mode):
    (lot,) = make_lots(12, at=timezone_now())
    tag = make_tag()
    thumb.open(f"/scan/{mode}")
    type_in(thumb, tag.pk)
    if mode != Mode.LOOK:
        expect(thumb.page.locator("#said .refused")).to_contain_text("This tag is free")
        thumb.check()
        thumb.tap("Put this tag on a crate", role="link")
    expect(thumb.page.locator("h1")).to_contain_text("Unused tag")
    assert "This tag is free" in thumb.text
    thumb.check()
    thumb.tap_on(f"button[value='{lot.pk}']")
    expect(thumb.page.locator("h1")).to_contain_text(lot.pk)
    thumb.check()
    assert tag.current_lot() == lot
    assert thumb.taps <= 2


def test_a_free_tag_goes_on_the_next_crate_where_tags_are_put_on(thumb):
    lots = make_lots(12, 12, at=timezone_now())
    tags = [make_tag() for _ in range(3)]
    thumb.open("/scan/tag")
    for tag, lot in zip(tags, lots, strict=False):
        type_in(thumb, tag.pk)
        expect(thumb.page.locator("#said .done")).to_contain_text(lot.pk)
    type_in(thumb, tags[2].pk)
    expect(thumb.page.locator("#said .refused")).to_contain_text("has its tag")
    thumb.check()
    thumb.tap("Put this tag on a crate", role="link")
    expect(thumb.page.locator("h1")).to_contain_text("Unused tag")
    assert [tag.current_lot() for tag in tags] == [*lots, None]


def test_a_tag_of_a_crate_at_the_market_is_asked_about_then_goes_on_and_comes_back(thumb):
    (gone,) = make_lots(12, at=timezone_now())
    tag = make_tag(gone)
    take(gone, "all", at=timezone_now())
    (filled,) = make_lots(10, at=timezone_now())
    thumb.open("/scan/tag")
    type_in(thumb, tag.pk)
    expect(thumb.page.locator("#said .ask")).to_contain_text(f"{gone.pk} is still out (Market)")
    thumb.check()
    assert tag.current_lot() == gone
    thumb.tap("Put the tag on all the same")
    expect(thumb.page.locator("#said .done")).to_contain_text(filled.pk)
    assert tag.current_lot() == filled
    thumb.tap("Undo", role="link")
    expect(thumb.page.locator("#said")).to_contain_text("Undone")
    assert tag.current_lot() == gone


@pytest.mark.parametrize("scripts", [True, False])
def test_a_crate_found_by_four_gets_another_tag_in_place_of_a_smeared_one(new_thumb, scripts):
    thumb = new_thumb(java_script_enabled=scripts)
    builders.make_lots(*[12] * 9, at=timezone_now())
    (lot,) = make_lots(8, at=timezone_now() - builders.timedelta(days=2), position=place("B2"))
    old, new = make_tag(lot), make_tag()
    page = thumb.page
    page.goto(f"{thumb.address}/sign-in?next=/L/{new.pk}")
    sign_in_by_hand(page)
    expect(page.locator("h1")).to_contain_text("Unused tag")
    page.get_by_label("Another crate? Type the last four of its code").fill(lot.pk[-4:])
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.locator(".ticks button")).to_have_count(1)
    page.locator(f"button[value='{lot.pk}']").click()
    expect(page.locator(".ask")).to_contain_text(f"{lot.pk} carries tag {old.pk} already")
    if scripts:
        thumb.check()
    page.get_by_role("button", name="Swap the tags").click()
    expect(page.locator("h1")).to_contain_text(lot.pk)
    assert (old.current_lot(), new.current_lot()) == (None, lot)


def test_smeared_tags_are_found_in_the_list_and_printed_again_together(thumb):
    here, out = make_lots(12, 12, at=timezone_now())
    on, gone, free = make_tag(here), make_tag(out), make_tag()
    take(out, "all", at=timezone_now())
    thumb.open("/labels/reprint")
    thumb.tap("Tags, and what each hangs on", role="link")
    for told in (f"Kale, {here.pk}, 12 bunches, Cold room A1", f"Kale, {out.pk}, out, Market"):
        expect(thumb.page.locator("main")).to_contain_text(told)
    for tag in (on, free):
        thumb.page.get_by_label(f"Tag {tag.pk}", exact=True).check()
    thumb.tap("Print the ticked again")
    expect(thumb.page.locator("h1")).to_contain_text("2 labels")
    for tag, asked in ((on, True), (free, True), (gone, False)):
        assert (f'value="{tag.pk}"' in thumb.page.content()) is asked
    thumb.open("/settings/tags")
    expect(thumb.page.locator("main")).to_contain_text("Made so far: 3")


def test_the_big_four_of_a_tag_find_its_crate(thumb):
    (lot,) = make_lots(12, at=timezone_now())
    tag = make_tag(lot)
    thumb.open("/find")
    thumb.type("Crop, field, buyer, place or code", tag.pk[-4:])
    thumb.tap("Find")
    expect(thumb.page.locator("main")).to_contain_text(f"Tag {tag.pk}: Kale, {lot.pk}")
    thumb.tap_on("a.tag")
    expect(thumb.page.locator("h1")).to_contain_text(lot.pk)

"""A scanner that types, on phones whose keyboard is set to another language."""

from playwright.sync_api import expect

from inventory.models import Lot
from tests import builders
from tests.codes.test_keyboards import ROWS, typed


def test_a_label_with_an_address_is_scanned_on_every_keyboard(thumb):
    lots = builders.make_lots(*[12] * len(ROWS), at=builders.timezone_now())
    here = builders.place("B3")
    thumb.open(f"/scan/put-away?here={here.pk}")
    page = thumb.page
    for lot, layout in zip(lots, ROWS, strict=True):
        text = typed(f"{thumb.address.upper()}/L/{lot.pk}", layout)
        page.keyboard.type(text)
        expect(page.locator("#typed")).to_have_text("")
        page.keyboard.press("Enter")
        expect(page.get_by_label("Scan, or type the code")).to_have_value("")
        thumb.wait_for_the_answer()
        assert Lot.objects.get(pk=lot.pk).position == here, layout
    page.keyboard.type(typed(f"HTTP://OTHER.LOCAL/L/{lots[0].pk}", "Spain"))
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("not one of our labels")

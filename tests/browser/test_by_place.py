"""Along the shelves with a thumb: the look at what is past, a day caught up with, the sheet."""

from datetime import timedelta

import pypdfium2
from django.utils import timezone

from inventory.models import Movement
from tests.builders import make_lots, market, place

DAY = timedelta(days=1)


def entries(kind: str) -> int:
    return Movement.objects.filter(kind=kind).count()


def test_a_walk_of_three_crates_is_five_taps_and_a_day_is_caught_up_with(thumb):
    now = timezone.now()
    make_lots(12, 12, 12, at=now - 40 * DAY)
    make_lots(*[12] * 9, at=now - 3 * DAY, position=place("B1"))
    thumb.open("/look-round")
    for number in range(3):
        thumb.taps += 1
        thumb.page.get_by_text("discard", exact=True).nth(number).click()
    thumb.taps += 1
    thumb.page.get_by_label("Why thrown out?").select_option(label="wilted")
    thumb.tap("Write it down")
    assert "3 crates" in thumb.text
    assert (entries("discarded"), thumb.taps) == (3, 5)

    thumb.open("/catch-up")
    thumb.page.get_by_text("Cold room B1").click()
    went = thumb.page.locator("select[name^=do-]")
    went.nth(0).select_option(label="own use")
    went.nth(1).select_option(label=market().name)
    thumb.page.locator("[name^=much-]").nth(1).fill("5")
    thumb.check()
    thumb.tap("Write it down")
    assert "2 crates" in thumb.text
    assert entries("out") == 2


def test_the_sheet_for_the_door_is_one_page_of_letter_paper(thumb):
    now = timezone.now()
    make_lots(*[12] * 20, at=now - 40 * DAY)
    make_lots(*[12] * 60, at=now - 9 * DAY, position=place("B1"))
    thumb.open("/door-sheet")
    assert len(pypdfium2.PdfDocument(thumb.page.pdf(format="Letter"))) == 1

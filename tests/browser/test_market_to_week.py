"""From what to load to the week after: a Saturday, a Sunday evening, and what followed."""

from datetime import timedelta

from playwright.sync_api import expect

from inventory.models import MarketSale, Movement
from tests.builders import NOW, make_lots
from tests.too_much import LAST_DAY, WEEK, cut_kale, cut_too_much

DAY = timedelta(days=1)


def test_load_close_by_crop_decide_and_see_what_followed(thumb, monkeypatch):
    clock = [LAST_DAY - DAY]
    monkeypatch.setattr("django.utils.timezone.now", lambda: clock[0])
    cut_too_much()
    lots = make_lots(4, 4, at=clock[0] - DAY, key="spinach", unit="kg")
    crop = lots[0].crop

    thumb.open("/market/load")
    assert "Spinach" in thumb.text
    thumb.tap("Load by scanning", role="link")
    box = thumb.page.get_by_label("Scan, or type the code")
    for lot in lots:
        box.fill(lot.pk)
        box.press("Enter")
        expect(box).to_have_value("")
        thumb.wait_for_the_answer()
    assert Movement.objects.filter(purpose="market", lot__in=lots).count() == 2

    thumb.open("/market")
    thumb.page.locator(f"[name=back-{crop.pk}-kg]").fill("1")
    thumb.tap("Close the market day")
    assert MarketSale.objects.get(crop=crop).sold == 7
    assert "88 %" in thumb.text

    clock[0] = LAST_DAY
    thumb.open("/week")
    assert "Cut a crate less of Kale on Wednesday." in thumb.text
    thumb.tap("Do it")
    assert "To be done: Kale on Wednesday: cut 2 crates, not 3" in thumb.text

    cut_kale(NOW + WEEK, crates=2, wasted=3)
    clock[0] = LAST_DAY + WEEK + DAY
    thumb.open("/week/2026-06-15")
    assert "Done: cut 3 crates → 2 crates" in thumb.text

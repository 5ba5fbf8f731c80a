"""What a mistake costs, on a phone of 360 by 740: Back and again, undo, tags, errors in view."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from inventory.models import Action, Lot, Reading, Room, Tag
from inventory.queries.crates import one_crate
from tests import builders
from tests.browser.conftest import sign_in

DAY = timedelta(days=1)
QUESTION = "Correct that, or is this another?"
BAR_PX = 80  # what the bar at the foot hides


def in_view(thumb, selector: str) -> bool:
    """Whether the first of these stands whole on the screen as it is, above the bar."""
    box = thumb.page.locator(selector).first.bounding_box()
    return box["y"] >= 0 and box["y"] + box["height"] <= 740 - BAR_PX


def bring_in(thumb, crates: str):
    thumb.type("How many crates?", crates)
    thumb.tap("Bring in")


def harvest(thumb):
    thumb.open(f"/in/harvest/{builders.crop().pk}")
    thumb.type("In each crate", "10")
    thumb.page.get_by_text("1 h ago").click()
    bring_in(thumb, "12")
    assert "12 crates: Kale" in thumb.text


def go_back(thumb):
    thumb.page.go_back()
    thumb.page.wait_for_load_state()


@pytest.mark.parametrize(
    ("answer", "crates"), [("Correct that", 5), ("This is another", 17)], ids=["correct", "another"]
)
def test_back_and_another_figure_asks_which_is_meant(thumb, answer, crates):
    harvest(thumb)
    go_back(thumb)
    thumb.type("In each crate", "10")
    thumb.page.get_by_text("1 h ago").click()
    bring_in(thumb, "5")
    assert QUESTION in thumb.text
    assert in_view(thumb, ".said.ask")
    assert Lot.objects.count() == 12
    thumb.tap(answer)
    assert "5 crates: Kale" in thumb.text
    assert Lot.objects.exclude(state="void").count() == crates


def test_the_same_again_by_the_normal_way_is_not_asked_about(thumb):
    harvest(thumb)
    harvest(thumb)
    assert Lot.objects.count() == 24


def test_enter_answers_no_question(thumb):
    harvest(thumb)
    go_back(thumb)
    thumb.type("In each crate", "10")
    bring_in(thumb, "5")
    thumb.page.get_by_label("How many crates?").press("Enter")
    thumb.page.wait_for_load_state()
    expect(thumb.page.get_by_text(QUESTION)).to_be_visible()
    assert Lot.objects.count() == 12


def test_a_page_the_browser_kept_says_so(thumb):
    """Chromium keeps none while it is driven; what it would tell the page is told here."""
    thumb.open(f"/in/harvest/{builders.crop().pk}")
    came = thumb.page.locator("input[name=came]")
    expect(came).to_have_value("")
    show = "(kept) => dispatchEvent(new PageTransitionEvent('pageshow', {persisted: kept}))"
    thumb.page.evaluate(show, False)
    expect(came).to_have_value("")
    thumb.page.evaluate(show, True)
    expect(came).to_have_value("back")


def test_back_after_a_part_was_taken_is_corrected(thumb):
    lot = builders.make_lot(at=builders.timezone_now())
    thumb.open(f"/L/{lot.pk}/take-out")
    thumb.page.get_by_text("half (6)").click()
    thumb.page.get_by_label("Buyer").select_option("Market")
    thumb.tap("Take out")
    go_back(thumb)
    thumb.page.get_by_text("a quarter (2)").click()
    thumb.page.get_by_label("Buyer").select_option("Market")
    thumb.tap("Take out")
    assert "You took out 6 bunches of Kale just now." in thumb.text
    thumb.tap("Correct that")
    assert builders.fresh(lot).quantity == 9


def test_a_typed_temperature_answers_and_is_undone_by_one_tap(thumb):
    thumb.open(f"/rooms/{Room.objects.get().pk}")
    thumb.taps = 0
    thumb.type("The thermometer shows (°C)", "4.2")
    thumb.tap("Write it down")
    assert thumb.taps == 2
    assert "✓ 4.2 °C written" in thumb.text
    assert in_view(thumb, ".done")
    thumb.tap("Undo")
    assert "↶ Undone: 4.2 °C written" in thumb.text
    assert Reading.objects.get().set_aside == "wrong"


def test_tags_on_unequal_crates_name_the_crate_large(thumb):
    builders.make_lots("6", "5.5", "3.25", unit="kg", at=builders.timezone_now())
    thumb.open("/settings/tags")
    thumb.page.locator("input[name=count]").fill("3")
    thumb.page.locator("button.main").click()
    thumb.page.wait_for_url("**/labels?**")
    thumb.open("/scan/tag")
    for tag, weight in zip(Tag.objects.all(), ("6", "5.5", "3.25"), strict=True):
        ahead = thumb.page.locator(".next")
        expect(ahead).to_contain_text(f"the {weight} kg one")
        assert in_view(thumb, ".next")
        assert ahead.evaluate("e => parseFloat(getComputedStyle(e).fontSize)") >= 27
        thumb.page.get_by_label("Scan, or type the code").fill(tag.pk)
        thumb.page.get_by_label("Scan, or type the code").press("Enter")
        expect(thumb.page.locator(".said.done .big")).to_contain_text(f"the {weight} kg one")
        assert tag.current_lot().quantity == builders.Decimal(weight)
    thumb.check()


@pytest.mark.parametrize("with_js", [True, False], ids=["scripts", "no scripts"])
def test_the_first_problem_of_a_refused_form_is_in_view(new_thumb, with_js):
    thumb = new_thumb(java_script_enabled=with_js)
    page = thumb.page
    sign_in(thumb)
    lots = builders.make_lots(*[12] * 20, at=builders.timezone_now())
    page.goto(f"{thumb.address}/L/{lots[0].pk}/sort")
    page.get_by_label("Firsts").fill("10")
    page.get_by_label("Weight lost by drying and trimming").fill("two")
    page.get_by_role("button", name="Re-sort").click()
    expect(page.locator("p.error")).to_have_count(1)
    expect(page.get_by_label("Weight lost by drying and trimming")).to_be_focused()
    assert in_view(thumb, "p.error")
    # Another on the first screen, where what stands at the top may push it under the bar.
    page.get_by_label("Weight lost by drying and trimming").fill("1")
    page.get_by_role("button", name="Re-sort").click()
    expect(page.locator("p.error")).to_contain_text("must add up")
    assert in_view(thumb, "p.error")
    assert not Action.objects.filter(kind="re-sort").exists()


def test_the_list_at_the_top_leads_to_each_problem(thumb):
    lot = builders.make_lot(at=builders.timezone_now())
    thumb.open(f"/L/{lot.pk}/discard")
    thumb.type("or another amount", "much")
    thumb.tap("Discard")
    thumb.tap("Why?", role="link", exact=False)
    assert in_view(thumb, "#id_reason_field .error")
    thumb.tap("or another amount", role="link", exact=False)
    assert in_view(thumb, "#id_quantity_field .error")


def test_combining_todays_with_one_past_its_time_asks(thumb):
    now = builders.timezone_now()
    today, sister = builders.make_lots(12, 12, at=now)
    past = builders.make_lot(at=now - 40 * DAY, position=builders.place("B3"))
    thumb.open(f"/L/{today.pk}/combine")
    beside = thumb.page.locator("label.tick", has_text=sister.pk[-4:])
    expect(beside).to_be_visible()
    other = thumb.page.locator("label.tick", has_text=past.pk[-4:])
    expect(other).to_be_visible()
    other.click()
    thumb.tap("Combine")
    over = one_crate(past.pk, builders.Farm.objects.get(), now).days_over
    assert f"The whole would count as {over} days over." in thumb.text
    assert in_view(thumb, ".said.ask")
    assert builders.fresh(today).quantity == 12
    thumb.tap("Put them together all the same")
    assert Lot.objects.filter(parents=past.pk, parent_links__parent=past.pk).count() == 1


def test_a_crate_far_past_has_discard_as_its_big_button_and_asks_before_it_goes_out(thumb):
    lot = builders.make_lot(at=builders.timezone_now() - 40 * DAY)
    thumb.open(f"/L/{lot.pk}")
    main = thumb.page.locator("a.button.main")
    expect(main).to_have_text("Discard")
    assert in_view(thumb, "a.button.main")
    thumb.tap("Take out", role="link")
    thumb.page.get_by_label("Buyer").select_option("Market")
    thumb.tap("Take out")
    assert "days past its time. Take it out all the same?" in thumb.text
    assert builders.fresh(lot).state == "in place"
    thumb.tap("Take it out all the same")
    assert builders.fresh(lot).state == "out"


def test_the_questions_are_fit_for_a_thumb_in_the_dark(new_thumb):
    thumb = new_thumb(color_scheme="dark")
    sign_in(thumb)
    harvest(thumb)
    go_back(thumb)
    thumb.type("In each crate", "much")
    bring_in(thumb, "5")
    assert QUESTION in thumb.text
    assert in_view(thumb, ".said.ask")
    thumb.tap("Correct that")
    assert "is not a number" in thumb.text
    assert in_view(thumb, "p.error")
    assert Lot.objects.exclude(state="void").count() == 12

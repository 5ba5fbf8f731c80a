"""A new farm in the United States, from the set-up page to its first harvest, in both languages."""

import re

import pytest
from django.conf import settings
from playwright.sync_api import expect

from inventory.models import Crop, Farm
from tests import builders
from tests.browser.conftest import Thumb

CODE = "7K3M9Q4"
STEPS = ["/settings/crops/pick", "/settings/people/new", "/settings/labels"]
# What is typed into the search box, and the crop that it leaves, by language.
SEARCHES = {
    "en": {
        "cos": "Romaine",
        "carrot bun": "Carrots (in bunches)",
        "zanahoria sin": "Carrots (without tops)",
        "rucula": "Arugula",
    },
    "es": {
        "romaine": "Lechuga orejona",
        "zanahoria manojo": "Zanahoria (en manojo)",
        "carrots without": "Zanahoria (sin hojas)",
        "rúcula": "Arúgula",
    },
}
PICKED = {"lettuce-romaine", "carrot-bunched", "carrot-topped", "arugula"}


@pytest.fixture
def nobodys_phone(phones):
    """A maker of phones at a machine that no farm was set up on."""
    file = settings.DATA_DIR / "set-up-code"
    file.write_text(CODE, encoding="ascii")
    yield phones
    file.unlink(missing_ok=True)


def fill(thumb: Thumb, **typed: str) -> None:
    for name, text in typed.items():
        thumb.page.locator(f"#id_{name}").fill(text)
    send(thumb)


def send(thumb: Thumb) -> None:
    thumb.tap_on("main form button.main")
    thumb.check()


def set_up(thumb: Thumb) -> None:
    thumb.open("/")
    fill(
        thumb, code=CODE, name="Brindlemoor", target="36", owner="Odile",
        password=builders.PASSWORD,
    )  # fmt: skip


def steps(thumb: Thumb) -> list[str]:
    """The steps that What now tells, by where they lead."""
    thumb.open("/")
    links = [link.get_attribute("href") for link in thumb.page.locator("main ol a").all()]
    return [link for link in links if link in STEPS]


def seen(thumb: Thumb) -> list[str]:
    return [row.inner_text().strip() for row in thumb.page.locator("label.tick:visible").all()]


def picked() -> set[str]:
    return set(Crop.objects.filter(grown=True).values_list("reference_key", flat=True))


@pytest.mark.parametrize(
    ("language", "evening"),
    [("en", r"\w{3} \w{3} \d{1,2} \d{1,2}:\d\d [AP]M"), ("es", r"\d \w{3} \d{1,2}:\d\d [AP]M")],
)
def test_a_farm_in_the_united_states_is_set_up_and_told_its_next_steps(
    nobodys_phone, language, evening
):
    thumb = nobodys_phone(locale=f"{language}-US", timezone_id="America/Los_Angeles")
    thumb.open("/")
    # The phone knows; a tap changes it.
    expect(thumb.page.locator("[name=region][value=us]")).to_be_checked()
    set_up(thumb)
    farm = Farm.objects.get()
    assert (farm.region, farm.label_stock, farm.weight_unit) == ("us", "letter-2x5", "lb")
    assert thumb.page.locator("html").get_attribute("lang") == language
    assert steps(thumb) == STEPS

    thumb.tap_on(f"main a[href='{STEPS[0]}']")
    thumb.check()
    everything = len(seen(thumb))
    for typed, name in SEARCHES[language].items():
        thumb.page.locator("#q").fill(typed)
        assert seen(thumb).count(name) == 1
        assert len(seen(thumb)) < everything / 10
        thumb.page.get_by_label(name, exact=True).check()
    thumb.page.locator("#q").fill("moon wheat")
    assert seen(thumb) == []
    expect(thumb.page.locator("[data-none]")).to_be_visible()
    # Enter searches, and must not leave the page with what was ticked.
    thumb.page.locator("#q").press("Enter")
    thumb.page.locator("#q").fill("")
    assert len(seen(thumb)) == everything
    send(thumb)
    assert picked() == PICKED
    assert thumb.page.locator(".croprow:visible").count() == len(PICKED)

    assert steps(thumb) == STEPS[1:]
    thumb.tap_on(f"main a[href='{STEPS[1]}']")
    fill(thumb, name="Tomas")
    assert steps(thumb) == STEPS[2:]
    thumb.tap_on(f"main a[href='{STEPS[2]}']")
    fill(thumb, label_address="http://farm.local:8000")
    assert steps(thumb) == []

    crop = Crop.objects.get(reference_key="carrot-bunched")
    thumb.open("/in/harvest")
    expect(thumb.page.locator(f"main a[href='/in/harvest/{crop.pk}']")).to_contain_text("(")
    thumb.tap_on(f"main a[href='/in/harvest/{crop.pk}']")
    thumb.check()
    thumb.page.locator("#id_crates").fill("2")
    thumb.page.locator("#id_quantity").fill("10")
    send(thumb)
    assert re.search(evening, thumb.text), thumb.text


def test_without_scripts_the_search_is_a_page_of_its_own(nobodys_phone):
    thumb = nobodys_phone(locale="en-GB")
    set_up_elsewhere(thumb)
    assert (Farm.objects.get().region, Farm.objects.get().label_stock) == ("elsewhere", "a4-2x7")
    plain = nobodys_phone(
        locale="en-GB", java_script_enabled=False, storage_state=thumb.page.context.storage_state()
    )
    for typed, name in SEARCHES["en"].items():
        plain.page.goto(plain.address + STEPS[0])
        plain.page.locator("#q").fill(typed)
        plain.page.locator("form[role=search] button").click()
        plain.page.get_by_label(name, exact=True).check()
        plain.page.locator("main form button.main").click()
    assert picked() == PICKED


def set_up_elsewhere(thumb: Thumb) -> None:
    thumb.open("/")
    expect(thumb.page.locator("[name=region][value=elsewhere]")).to_be_checked()
    thumb.page.locator("#id_time_zone").select_option("Europe/London")
    fill(
        thumb, code=CODE, name="Brindlemoor", target="2", owner="Odile",
        password=builders.PASSWORD,
    )  # fmt: skip

"""A real browser at the size of an old phone."""

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests import builders

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
# How long the browser waits for what never comes. [ms]
LIMIT_MS = 120_000
expect.set_options(timeout=LIMIT_MS)


def pytest_collection_modifyitems(items):
    """Keep the browser tests on one worker: they share the machine's one browser."""
    for item in items:
        if "/browser/" in str(item.path):
            item.add_marker(pytest.mark.xdist_group("browser"))


def find_chromium() -> str | None:
    return next(filter(None, map(shutil.which, _NAMES)), None)


@pytest.fixture(scope="session")
def chromium():
    found = find_chromium()
    if found is None:
        reason = "no Chromium on this machine, so no page was driven in a browser"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=FLAGS, timeout=LIMIT_MS)
        yield browser
        browser.close()


def open_phone(browser: Browser, **options) -> BrowserContext:
    context = browser.new_context(**PHONE | options)
    context.set_default_timeout(LIMIT_MS)
    return context


@dataclass
class Thumb:
    """A person with one hand on a phone. Counts taps, and checks every page that is met."""

    page: Page
    address: str
    taps: int = 0
    checked: set[str] = field(default_factory=set)

    def open(self, path: str) -> None:
        self.page.goto(self.address + path)
        self.check()

    def tap(self, name: str, role: str = "button", exact: bool = True) -> None:
        self.taps += 1
        self.page.get_by_role(role, name=name, exact=exact).first.click()
        self.wait_for_the_answer()
        self.check()

    def tap_on(self, selector: str) -> None:
        self.taps += 1
        self.page.locator(selector).first.click()
        self.wait_for_the_answer()

    def wait_for_the_answer(self) -> None:
        """Forms are sent by a script: until it has an answer, or leads on, one is marked."""
        expect(self.page.locator("form.htmx-request")).to_have_count(0)
        self.page.wait_for_load_state()

    def type(self, label: str, text: str) -> None:
        """Tap into a box and type; the digits are not counted."""
        self.taps += 1
        box = self.page.get_by_label(label, exact=True).first
        box.fill(text)

    def check(self) -> None:
        """No serious fault by axe, nothing wider than the phone, targets big enough."""
        faults = [
            fault
            for fault in Axe().run(self.page).response["violations"]
            if fault["impact"] in ("serious", "critical")
        ]
        where = self.page.url
        assert not faults, (where, [(fault["id"], fault["nodes"][0]["html"]) for fault in faults])
        assert self.page.evaluate("document.documentElement.scrollWidth") <= 360, where
        assert self.hidden_sideways() == [], where
        assert self.small_targets() == [], where
        self.checked.add(self.page.title())

    def hidden_sideways(self) -> list[str]:
        """Whatever on the page holds more than it shows from side to side."""
        return self.page.evaluate("""() => [...document.querySelectorAll('main, main *')].filter(
            e => e.clientWidth && e.scrollWidth > e.clientWidth + 1 && !e.closest('svg') &&
                !['visible', 'clip'].includes(getComputedStyle(e).overflowX) &&
                !['INPUT', 'SELECT', 'TEXTAREA'].includes(e.tagName))
            .map(e => e.outerHTML.slice(0, 120))""")

    def small_targets(self) -> list[str]:
        """Buttons and boxes lower than 64 px, 48 px on the owner's pages, 96 px for the main."""
        return self.page.evaluate("""() => {
            const least = document.body.classList.contains('owner') ? 48 : 64;
            const tooLow = (selector, px) => [...document.querySelectorAll(selector)].filter(
                e => e.offsetParent && e.getBoundingClientRect().height < px - 0.5);
            const owner = least === 48;
            return [...tooLow('button, .button, select, summary, a.tag, input:not([type=hidden],' +
                ' [type=radio], [type=checkbox])', least), ...tooLow('.main', owner ? 64 : 96)]
                .map(e => e.outerHTML.slice(0, 120));
        }""")

    @property
    def text(self) -> str:
        return self.page.inner_text("main")


@pytest.fixture
def new_thumb(chromium, transactional_db, live_server) -> Callable[..., Thumb]:
    """Return a maker of signed-out people at the test farm."""
    builders.make_farm()
    contexts = []

    def make(**options) -> Thumb:
        context = open_phone(chromium, **options)
        contexts.append(context)
        return Thumb(context.new_page(), live_server.url)

    yield make
    for context in contexts:
        context.close()


@pytest.fixture
def thumb(new_thumb) -> Thumb:
    """The owner, signed in on the home page."""
    made = new_thumb()
    sign_in(made)
    return made


def sign_in(thumb: Thumb) -> None:
    thumb.open("/")
    thumb.type("Your name", "Ada")
    thumb.type("Password", builders.PASSWORD)
    thumb.tap("Sign in")
    thumb.taps = 0


# Calls into one of our script modules: run("code", "judge('7K')").
Run = Callable[..., object]


@pytest.fixture
def run(chromium, live_server) -> Run:
    """A maker of calls into one module, alone on an empty page of the farm."""
    page = chromium.new_page()
    # Tests are served from a trusted address, most farms are not.
    page.add_init_script("delete Crypto.prototype.randomUUID")
    page.goto(f"{live_server.url}/healthz")

    def call(module: str, expression: str, given=None):
        imported = f"import('/static/inventory/scan/{module}.js')"
        return page.evaluate(f"(given) => {imported}.then(async (m) => {expression})", given)

    yield call
    page.close()

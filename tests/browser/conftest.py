"""A real browser at the size of an old phone."""

import os
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from inventory.models import Person
from tests import builders

# The first draws no windows, and so opens a page in a quarter of the time.
_NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
# How long the browser waits for what never comes. [ms]
LIMIT_MS = 120_000
expect.set_options(timeout=LIMIT_MS)
# What holds more than it shows from side to side; and what is too low: buttons and boxes lower
# than 64 px, 48 px on the owner's pages, 96 px and 64 px for the main one.
CHECKS = """
const start = (found) => found.map((one) => one.outerHTML.slice(0, 120));
const hiddenSideways = () => start([...document.querySelectorAll("main, main *")].filter((one) =>
  one.clientWidth && one.scrollWidth > one.clientWidth + 1 && !one.closest("svg") &&
  !["visible", "clip"].includes(getComputedStyle(one).overflowX) &&
  !["INPUT", "SELECT", "TEXTAREA"].includes(one.tagName)));
const smallTargets = () => {
  const owner = document.body.classList.contains("owner");
  const tooLow = (selector, px) => [...document.querySelectorAll(selector)].filter(
    (one) => one.offsetParent && one.getBoundingClientRect().height < px - 0.5);
  return start([...tooLow("button, .button, select, summary, a.tag, input:not([type=hidden]," +
    " [type=radio], [type=checkbox])", owner ? 48 : 64), ...tooLow(".main", owner ? 64 : 96)]);
};
"""
# And all that axe judges by: what is written, typed, ticked and looked at, how large and how dark.
ALL_CHECKS = f"""() => {{
  {CHECKS}
  const typed = [...document.querySelectorAll("input, select, textarea")].map((one) =>
    [one.value, one.checked, one.matches(":focus, :disabled, :invalid")]);
  const size = [innerWidth, innerHeight, getComputedStyle(document.body).fontSize];
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  return {{
    width: document.documentElement.scrollWidth, sideways: hiddenSideways(),
    small: smallTargets(), title: document.title,
    seen: JSON.stringify([size, dark]) + document.documentElement.outerHTML + JSON.stringify(typed),
  }};
}}"""
FAULTS = """async () => (await axe.run({ resultTypes: ["violations"] })).violations
  .filter((fault) => ["serious", "critical"].includes(fault.impact))
  .map((fault) => [fault.id, fault.nodes[0].html])"""
# What axe does not judge by: an id or a token; in what is read or led to, a code and a figure.
RANDOM = re.compile(r"\b(?:[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|[0-9A-Za-z]{64})\b")
READ = re.compile(r'(?<=>)[^<>]+|\b(?:href|action|value|datetime|aria-label)="[^"]*"')
FIGURES = re.compile(r"\b[0-9A-Z]{3,7}\b|\d+")


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


# Pages in which axe found no fault.
_sound: set[str] = set()


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
        found, where = self.page.evaluate(ALL_CHECKS), self.page.url
        found["faults"] = self.faults(found["seen"])
        assert found["faults"] == [], where
        assert found["width"] <= 360, where
        assert found["sideways"] == [], where
        assert found["small"] == [], where
        self.checked.add(found["title"])

    def faults(self, seen: str) -> list[list[str]]:
        """What axe finds; nothing in a page it saw before, for it judges by what is seen alone."""
        page = READ.sub(lambda part: FIGURES.sub("0", part[0]), RANDOM.sub("", seen))
        if page in _sound:
            return []
        if not self.page.evaluate("'axe' in globalThis"):
            self.page.evaluate(AXE_SCRIPT)
        if not (found := self.page.evaluate(FAULTS)):
            _sound.add(page)
        return found

    def small_targets(self) -> list[str]:
        return self.page.evaluate(f"() => {{ {CHECKS} return smallTargets(); }}")

    @property
    def text(self) -> str:
        return self.page.inner_text("main")


@pytest.fixture
def phones(chromium, transactional_db, live_server) -> Iterator[Callable[..., Thumb]]:
    """Return a maker of phones that know the test server, and hang up in the end.

    A page that was offline may send what it kept while it is closed: the server is waited for, so
    that nothing comes while the tables are emptied.
    """
    contexts, before = [], threading.enumerate()

    def make(**options) -> Thumb:
        contexts.append(open_phone(chromium, **options))
        return Thumb(contexts[-1].new_page(), live_server.url)

    yield make
    for context in contexts:
        context.close()
    for thread in {*threading.enumerate()}.difference(before):
        if "process_request_thread" in thread.name:  # one a connection, as long as that is open
            thread.join(LIMIT_MS / 1000)


@pytest.fixture
def new_thumb(phones) -> Callable[..., Thumb]:
    """Return a maker of signed-out people at the test farm."""
    builders.make_farm()
    return phones


@pytest.fixture
def thumb(new_thumb) -> Thumb:
    """The owner, signed in, with no page open yet."""
    made = new_thumb()
    sign_in(made)
    return made


def sign_in(thumb: Thumb, person: Person | None = None) -> None:
    """Put into the phone what a sign-in leaves there; test_walk.py goes through the page."""
    client = Client()
    builders.sign_in(client, person)
    thumb.page.context.add_cookies(
        [
            {"name": name, "value": cookie.value, "url": thumb.address, "httpOnly": True}
            for name, cookie in client.cookies.items()
        ]
    )


def sign_in_by_hand(page: Page) -> None:
    """Fill in the sign-in page that is open."""
    page.get_by_label("Your name", exact=True).fill("Ada")
    page.get_by_label("Password", exact=True).fill(builders.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()


# Calls into one of our script modules: run("code", "judge('7K')").
Run = Callable[..., object]


@pytest.fixture(scope="session")
def empty_page(chromium) -> Iterator[Page]:
    """A tab of its own; opening one costs more than most of what runs in it."""
    page = chromium.new_page()
    # Tests are served from a trusted address, most farms are not.
    page.add_init_script("delete Crypto.prototype.randomUUID")
    yield page
    page.close()


@pytest.fixture
def run(empty_page, live_server) -> Run:
    """A maker of calls into one module, alone on an empty page of the farm, which is a new one."""
    empty_page.goto(f"{live_server.url}/healthz")
    empty_page.evaluate("sessionStorage.clear()")

    def call(module: str, expression: str, given=None):
        imported = f"import('/static/inventory/scan/{module}.js')"
        return empty_page.evaluate(f"(given) => {imported}.then(async (m) => {expression})", given)

    return call

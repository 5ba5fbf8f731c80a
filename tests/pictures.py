"""The pictures of the README: two screens of the demo farm at the size of a phone.

    .venv/bin/python -m tests.pictures

Starts a demo farm of its own, signs in, and writes .pictures/ anew. Needs Chromium.
"""

import os
import re
import tempfile
from pathlib import Path

import django
from PIL import Image
from playwright.sync_api import sync_playwright

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
django.setup()

from tests.browser.conftest import FLAGS, PHONE, find_chromium  # noqa: E402
from tests.serving import ROOT, started  # noqa: E402

FOLDER = ROOT / ".pictures"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, started(Path(folder), "--demo") as served:
        password = re.search(r"with the password (\S+)", served.said.read_text()).group(1)
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=find_chromium(), args=FLAGS)
            page = browser.new_context(**PHONE, device_scale_factor=2).new_page()
            page.goto(served.address)
            page.get_by_label("Your name").fill("Odile")
            page.get_by_label("Password").fill(password)
            page.get_by_role("button", name="Sign in").click()
            page.locator(".bar").wait_for()
            picture(page, "home")
            page.goto(f"{served.address}/orders")
            page.get_by_role("button", name="Get for").first.click()
            page.wait_for_url("**/pull/**")
            picture(page, "order")
            browser.close()


def picture(page, name: str) -> None:
    """Write the visible screen as a small picture of few colours."""
    page.wait_for_load_state()
    file = FOLDER / f"{name}.png"
    page.screenshot(path=file)
    image = Image.open(file).convert("RGB")
    image.quantize(24).save(file, optimize=True)


if __name__ == "__main__":
    main()

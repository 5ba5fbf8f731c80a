"""The checks of every page met see what they are for."""

from itertools import product

import pytest

# What is done to a sound page, and the check that must not pass it over.
HARM = {
    "faults": "main.querySelector('p, label').style.color = '#999'",
    "width": "main.style.width = '400px'",
    "sideways": """{
        const inner = document.createElement("p");
        inner.style.width = "500px";
        main.append(Object.assign(document.createElement("div"), { tabIndex: 0 }));
        main.lastChild.append(inner);
        main.lastChild.style.overflowX = "auto";
    }""",
    "small": """{
        const button = main.querySelector("button");
        button.style.minHeight = button.style.height = "40px";
        button.style.padding = "0";
    }""",
}


def test_each_check_sees_its_fault_and_no_other_does(thumb):
    for scheme, check in product(["light", "dark"], HARM):
        thumb.page.emulate_media(color_scheme=scheme)
        thumb.open("/find")
        harm = HARM[check].replace("#999", "#999" if scheme == "light" else "#444")
        thumb.page.evaluate(f"() => {{ const main = document.querySelector('main'); {harm} }}")
        with pytest.raises(AssertionError) as failed:
            thumb.check()
        line = str(failed.traceback[-1].statement)
        assert f'"{check}"' in line, (scheme, line)


def test_a_sound_page_is_judged_again_by_night_and_once_it_is_filled_in(thumb):
    change, box = thumb.page.evaluate, thumb.page.locator("main input:not([type=hidden])").first
    thumb.open("/find")
    change("document.documentElement.style.colorScheme = 'light dark'")
    change("document.querySelector('main label').style.color = 'light-dark(#222, #444)'")
    thumb.check()
    thumb.page.emulate_media(color_scheme="dark")
    with pytest.raises(AssertionError, match="color-contrast"):
        thumb.check()
    thumb.page.emulate_media(color_scheme="light")
    pale = "input:not(:placeholder-shown) { color: #bbb !important }"
    change("(rule) => void document.styleSheets[0].insertRule(rule)", pale)
    thumb.check()
    box.fill("Kale")
    with pytest.raises(AssertionError, match="color-contrast"):
        thumb.check()

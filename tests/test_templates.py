"""The pages' files: short lines, none left behind, partials named where they end."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
TEMPLATES = ROOT / "templates"
LONGEST = 120
FILES = [str(file.relative_to(TEMPLATES)) for file in sorted(TEMPLATES.rglob("*.html"))]

NAMED = re.compile(r"""["']([\w/]+\.html)(?:#(\w+))?["']""")
PARTIAL_TAG = re.compile(r"\{%\s*(end)?partialdef\b([^%]*)%\}")


def text(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")


def named() -> set[tuple[str, str]]:
    """Every (file, partial) that a view or another template asks for."""
    code = [*(ROOT / "inventory").rglob("*.py"), *TEMPLATES.rglob("*.html")]
    return {found for file in code for found in NAMED.findall(file.read_text(encoding="utf-8"))}


def partials(name: str) -> list[str]:
    """The partials a template defines; each must be named again where it ends."""
    found, opened = [], []
    for end, words in PARTIAL_TAG.findall(text(name)):
        if not end:
            opened.append(words.split()[0])
            continue
        assert words.split() == [opened[-1]], f"{name}: {opened[-1]} ends without its name"
        found.append(opened.pop())
    assert not opened, name
    return found


@pytest.mark.parametrize("name", FILES)
def test_no_line_is_too_long(name):
    long = [
        f"{name}:{number} has {len(line)} characters"
        for number, line in enumerate(text(name).splitlines(), 1)
        if len(line) > LONGEST
    ]
    assert not long


def test_every_file_is_asked_for_and_every_name_is_a_file():
    assert {name for name, _ in named()} == set(FILES)


def test_every_partial_is_named_at_both_ends_and_used():
    from_outside = named()
    for name in FILES:
        for partial in partials(name):
            inside = re.search(rf"\{{%\s*partial {partial}\s*%\}}", text(name))
            assert inside or (name, partial) in from_outside, f"{name}#{partial}"


def test_every_partial_asked_for_is_there():
    for name, partial in named():
        assert not partial or partial in partials(name), f"{name}#{partial}"

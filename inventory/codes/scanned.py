"""Whose label a scanned text is: a code alone, or one behind an address of the farm."""

import re
from collections.abc import Set as AbstractSet
from urllib.parse import urlsplit

from inventory.codes.check import InvalidCode, read_code
from inventory.codes.keyboards import meanings

# AIM's identifier of a QR code, which some scanners send first (ISO/IEC 15424; from memory).
_QR = re.compile(r"\]Q1", re.IGNORECASE)
_LABEL = re.compile(
    r"(?P<address>https?://[^/?#@\s]+)/+(?P<kind>[LP])/(?P<code>[^/?#]+)/?(\?[^/?#:]*)?",
    re.IGNORECASE,
)


def host_of(address: str) -> str:
    """Return the name of an address in small letters, without its port; "" where there is none."""
    try:
        parts = urlsplit(address.lower())
        _is_a_number = parts.port
    except ValueError:
        return ""
    return parts.hostname or ""


def read_bare(text: str) -> str:
    """Return the code that a text is, or "" where it is none."""
    return _code(_without_identifier(text))


def read_address(text: str, hosts: AbstractSet[str]) -> tuple[str, str] | None:
    """Return (kind, code) of a label with an address: "L" a crate or tag, "P" a place.

    hosts: the farm's own names in small letters; any port of theirs will do, for a name is one
    machine. A text that a keyboard of another language has turned is turned back, where the
    address it then shows tells the layout.
    """
    bare = _without_identifier(text)
    turned = (_without_identifier(meant) for meant in meanings(text.strip()))
    found = {label for meant in (bare, *turned) if (label := _label(meant, hosts))}
    return found.pop() if len(found) == 1 else None


def _without_identifier(text: str) -> str:
    text = text.strip()
    return text[3:] if _QR.match(text) else text


def _label(text: str, hosts: AbstractSet[str]) -> tuple[str, str] | None:
    match = _LABEL.fullmatch(text)
    if match is None or host_of(match["address"]) not in hosts:
        return None
    code = _code(match["code"])
    return (match["kind"].upper(), code) if code else None


def _code(text: str) -> str:
    try:
        return read_code(text)
    except InvalidCode:
        return ""

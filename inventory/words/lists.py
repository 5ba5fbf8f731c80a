"""What stands in a list that opens."""

from collections.abc import Container, Iterable

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe


def options(pairs: Iterable[tuple[object, object]], chosen: Container[str]) -> SafeString:
    """Return the lines of a list. pairs: each value with its words; chosen: as text.

    Joined here, as a template takes long over each, and lists of places are long.
    """
    lines = [
        f'<option value="{escape(value)}"{" selected" if str(value) in chosen else ""}>'
        f"{escape(words)}</option>"
        for value, words in pairs
    ]
    return mark_safe("\n".join(lines))

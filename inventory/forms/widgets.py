"""Inputs as Django writes them, put together here.

Django fills a template for each of them, for each of its options, and for the attributes of each:
on a page of many fields that is most of what the page costs.
"""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms.renderers import BaseRenderer
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from inventory.words.lists import options


class _Written(forms.Widget):
    """Writes itself from what Django would hand to a template."""

    def render(
        self,
        name: str,
        value: Any,
        attrs: dict[str, Any] | None = None,
        renderer: BaseRenderer | None = None,
    ) -> SafeString:
        return mark_safe(self.written(self.get_context(name, value, attrs)["widget"]))

    def written(self, widget: dict[str, Any]) -> str:
        raise NotImplementedError


class Line(_Written, forms.TextInput):
    """One line to type in."""

    def written(self, widget: dict[str, Any]) -> str:
        return _input(widget)


class Choose(_Written, forms.Select):
    """A list that opens; nothing in it stands in groups."""

    def written(self, widget: dict[str, Any]) -> str:
        attributes = _attributes({"name": widget["name"], **widget["attrs"]})
        return f"<select{attributes}>\n{options(self.choices, widget['value'])}\n</select>"


class Chips(_Written, forms.RadioSelect):
    """Choices as big buttons, one tap each."""

    def written(self, widget: dict[str, Any]) -> str:
        chips = [
            f"<div><label{_attributes({'for': option['attrs'].get('id')})}>"
            f"{_input(option)} {escape(option['label'])}</label></div>"
            for _group, of_group, _number in widget["optgroups"]
            for option in of_group
        ]
        attributes = _attributes({name: widget["attrs"].get(name) for name in ("id", "class")})
        return "\n".join([f"<div{attributes}>", *chips, "</div>"])


def _input(widget: dict[str, Any]) -> str:
    own = {"type": widget["type"], "name": widget["name"], "value": widget["value"]}
    return f"<input{_attributes(own | widget['attrs'])}>"


def _attributes(named: Mapping[str, Any]) -> str:
    """Return the attributes of a tag: of one that is True its name, of None and False nothing."""
    return "".join(
        f" {name}" if value is True else f' {name}="{escape(value)}"'
        for name, value in named.items()
        if value is not None and value is not False
    )

"""Inputs put together here are those that Django would write."""

import pytest
from django import forms
from django.test.html import parse_html
from django.utils.translation import gettext_lazy as _

from inventory.forms.widgets import Chips, Choose, Line

ODD = "<b> \"odd\" & 'so'"
CHOICES = [("", _("choose")), ("given", ODD), (ODD, "the odd one"), (3, "three")]


@pytest.mark.parametrize("value", [None, "", "given", ODD, 3])
@pytest.mark.parametrize(
    ("ours", "theirs"),
    [(Line, forms.TextInput), (Choose, forms.Select), (Chips, forms.RadioSelect)],
)
def test_an_input_is_what_django_writes(ours, theirs, value):
    made = {"attrs": {"class": ODD, "autofocus": True, "hidden": False}}
    if issubclass(theirs, forms.widgets.ChoiceWidget):
        made["choices"] = CHOICES
    asked = {"name": ODD, "value": value, "attrs": {"id": "id_goes", "aria-invalid": "true"}}
    written = ours(**made).render(**asked)
    assert parse_html(written) == parse_html(theirs(**made).render(**asked))

"""Choosing a place."""

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from inventory.models import Position

PUT_AWAY_LATER = _("put away later")
BESIDE_THE_FIRST = _("where the first one stands")


def place_field(empty: Promise = PUT_AWAY_LATER) -> forms.ModelChoiceField:
    return forms.ModelChoiceField(
        Position.objects.filter(in_use=True).select_related("room"),
        label=_("Where to?"),
        empty_label=empty,
        required=False,
    )

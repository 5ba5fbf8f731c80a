"""What is to be cut, in words."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from inventory import measures
from inventory.models import Outlet
from inventory.queries.cutting import ToCut
from inventory.words.days import long_weekday_words
from inventory.words.units import amount_words

_MOST_NAMED = 3


def to_be_cut_words(cuts: Sequence[tuple[date, Decimal]], unit: str) -> str:
    """Return when how much of a line will be cut: 12 bunches to be cut Thursday."""
    return "; ".join(
        _("%(quantity)s to be cut %(day)s")
        % {"quantity": amount_words(quantity, unit), "day": long_weekday_words(day)}
        for day, quantity in cuts
    )


def filled_in(cut: ToCut) -> str:
    """Return what the form of a harvest is filled with, as it stands in its address."""
    return urlencode(
        {
            "source": cut.block.pk,
            "unit": cut.unit,
            "crates": cut.crates or 1,
            "quantity": measures.plain(cut.in_each),
        }
    )


def whom_words(outlets: Sequence[Outlet]) -> str:
    """Return whom something is for; of many the first three."""
    names = ", ".join(outlet.name for outlet in outlets[:_MOST_NAMED])
    return f"{names}…" if len(outlets) > _MOST_NAMED else names

"""Orders in words."""

from django.utils.translation import gettext as _

from inventory.keeping.chilling import days_to_injury
from inventory.models import Crop, Outlet
from inventory.rotation import Short
from inventory.words.units import amount_words


def short_words(short: Short, unit: str) -> str:
    """Return why a line of an order will not be filled; of several reasons how much for each."""
    if len(short.parts) == 1:
        return reason_words(short.reason)
    told = [
        f"{amount_words(amount, unit)}: {reason_words(reason)}" for reason, amount in short.parts
    ]
    return "; ".join(told)


def reason_words(reason: str) -> str:
    return {
        "none": _("there is none in the rooms that may go"),
        "refused": _("the rest is something they do not take"),
        "too-old": _("the rest would not keep long enough there"),
        "not-enough": _("there is no more that may go"),
    }[reason]


def restriction_words(restriction: str) -> str:
    """Return why a buyer refuses a crate."""
    return {
        "bought-in": _("it was bought in"),
        "not-organic": _("it is not organic"),
    }[restriction]


def fridge_caution(crop: Crop, outlet: Outlet) -> str:
    """Return that a crop is not for this buyer's fridge: nobody has shown that it stands that."""
    too_cold = days_to_injury(crop.reference, float(outlet.fridge_c)) is None
    return _("Not in the fridge") if too_cold else ""

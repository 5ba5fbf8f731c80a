"""Orders in words."""

from django.utils.translation import gettext as _


def short_words(reason: str) -> str:
    """Return why a line of an order will not be filled."""
    return {
        "none": _("there is none in the rooms"),
        "refused": _("the rest is something they do not take"),
        "too-old": _("the rest would not keep long enough there"),
        "not-enough": _("there is no more"),
    }[reason]


def restriction_words(restriction: str) -> str:
    """Return why a buyer refuses a crate."""
    return {
        "bought-in": _("it was bought in"),
        "not-organic": _("it is not organic"),
    }[restriction]

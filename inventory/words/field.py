"""The walk through the field, in words."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures
from inventory.models import Action
from inventory.queries.field import TurnedOut


def turned_out_words(found: TurnedOut) -> str:
    """Return how an estimate turned out: said 60, came 48."""
    facts = {"said": measures.plain(found.said), "came": measures.plain(found.came)}
    if found.over:
        return _("said %(said)s, came %(came)s") % facts
    return _("said %(said)s, so far %(came)s") % facts


def walk_words(action: Action) -> str:
    """Return what was said on a walk: The field: 14 crops said."""
    said = len(set(action.estimates.values_list("crop", "block")))
    return ngettext(
        "The field: %(n)d crop written down", "The field: %(n)d crops written down", said
    ) % {"n": said}

"""What is to be minded before a tag goes on a crate, in words."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.models import Lot, Tag
from inventory.queries.tags import Hanging, LeftBare, left_bare, others_on
from inventory.words.rooms import place_words
from inventory.words.units import amount_words


def hangs_words(row: Hanging) -> str:
    """Return what a tag hangs on, and where that is or what it went out for."""
    lot = row.lot
    if lot is None:
        return _("free")
    much = amount_words(lot.quantity, lot.unit) if lot.is_here else ""
    stands = place_words(lot.position) if lot.position else str(lot.get_state_display())
    to = row.outing.to if row.outing else ""
    return ", ".join(filter(None, [lot.shown_name, lot.pk, much, stands, to]))


def left_bare_words(bare: LeftBare) -> str:
    """Return that the crate a tag comes off is still out, and what it would be known by."""
    facts = {"code": bare.lot.pk, "to": bare.outing.to}
    if bare.labelled:
        words = _(
            "%(code)s is still out (%(to)s): bring it back first, or put the tag on all the same."
        )
    else:
        words = _(
            "%(code)s is still out (%(to)s) and would have no label: bring it back first, or put "
            "the tag on all the same."
        )
    return words % facts


def tagged_words(lot: Lot, others: Sequence[str]) -> str:
    """Return that a crate carries tags already."""
    return ngettext(
        "%(code)s carries tag %(tags)s already. Take that off and put this one on?",
        "%(code)s carries the tags %(tags)s already. Take those off and put this one on?",
        len(others),
    ) % {"code": lot.pk, "tags": ", ".join(others)}


def bind_doubt_words(tag: Tag, lot: Lot) -> str:
    """Return what is asked before a tag goes on a crate; "" where nothing is."""
    bare, others = left_bare(tag), others_on(lot, tag)
    doubts = [left_bare_words(bare) if bare else "", tagged_words(lot, others) if others else ""]
    return " ".join(filter(None, doubts))

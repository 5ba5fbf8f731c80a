"""What is doubtful about a line of a pasted order, in words."""

from django.utils.translation import gettext_lazy as _

from inventory.order_text import Doubt
from inventory.queries.order_text import NEEDS_CASE, NEEDS_WEIGHT, ReadWanted

_SENTENCES = {
    Doubt.NOT_AN_ORDER: _("Not an order line."),
    Doubt.NOT_READ: _("Not read: the text is too long. Paste the rest by itself."),
    Doubt.NO_CROP: _("No crop of yours is found here."),
    Doubt.SEVERAL_CROPS: _("Several crops could be meant: say which."),
    Doubt.CROP_NOT_EXACT: _("Written another way: is it this crop?"),
    Doubt.NO_QUANTITY: _("How much?"),
    Doubt.SEVERAL_QUANTITIES: _("More than one amount stands here: say which."),
    Doubt.QUANTITY_UNCLEAR: _("The amount can be read in two ways: say it plainly."),
    Doubt.QUANTITY_ZERO: _("The amount is 0."),
    Doubt.QUANTITY_BIG: _("That is a lot: is the amount right?"),
    Doubt.NOT_WHOLE: _("A part of a bunch, head or piece can't be sent."),
    Doubt.NO_UNIT: _("No unit was said: kg, bunches, cases?"),
    Doubt.SEVERAL_UNITS: _("More than one unit stands here: say which."),
    Doubt.UNIT_UNKNOWN: _("Crates are not counted in that unit: say it in another."),
    Doubt.BUNCH_OR_BUSHEL: _("Does “bu” mean bunches or bushels?"),
    Doubt.DOZEN_OF_WHAT: _("A dozen of what?"),
    Doubt.OTHER_WORDS: _("Some words were not understood: is the line right?"),
    NEEDS_WEIGHT: _("What one weighs is not known: type it below, or ask the owner."),
    NEEDS_CASE: _("What a case holds is not known: type it below."),
}


def doubt_words(line: ReadWanted) -> str:
    """Return why a line was not taken up, and which crops it could mean."""
    if not line.doubts:
        return ""
    told = str(_SENTENCES[line.doubts[0]])
    names = ", ".join(crop.shown_name for crop in line.crops)
    return f"{told} ({names})" if names else told

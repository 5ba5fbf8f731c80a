"""What a label says, the most important first."""

from django.utils.translation import gettext as _

from inventory import measures
from inventory.labels import LabelText
from inventory.models import Farm, Position, Tag
from inventory.queries.crates import Crate
from inventory.queries.labels import link
from inventory.words.crates import dated_words, packers_date_words
from inventory.words.days import day_words
from inventory.words.units import amount_words

# How big a line is set, against the headline.
_DAY, _AMOUNT, _PLACE, _UNTIL = 0.75, 0.55, 0.45, 0.36


def crate_label(crate: Crate, farm: Farm) -> LabelText:
    """Return the words of a crate's label, the most important first."""
    lot = crate.lot
    until = _until(crate, farm)
    sources = ", ".join(source.name for source in lot.origins)
    lines = [
        (_unbroken(dated_words(crate)), _DAY),
        (amount_words(lot.quantity, lot.unit) if lot.quantity else "", _AMOUNT),
        (sources, _PLACE),
        (lot.position.name if lot.position else "", _PLACE),
        *((told, _UNTIL) for told in _case_dates(crate)),
        (until, _UNTIL),
    ]
    return LabelText(
        headline=lot.shown_name,
        code=lot.pk,
        lines=tuple(line for line in lines if line[0]),
        link=link(farm, "L", lot.pk),
        if_room=((_("quality, not safety"), _UNTIL),) if until else (),
    )


def _until(crate: Crate, farm: Farm) -> str:
    """Return how long it keeps, so that nobody takes it for a use-by date.

    Nothing where it lasts to the use-by date on its case: that stands on the label already.
    """
    if crate.lasts_until == crate.standing.dates.use_by:
        return ""
    return _("keeps until about %(day)s at %(cold)s") % {
        "day": _unbroken(day_words(crate.lasts_until)),
        "cold": _unbroken(
            measures.temperature_words(crate.life.here_c, farm.temperature_unit, decimals=0)
        ),
    }


def _case_dates(crate: Crate) -> list[str]:
    return [
        f"{packers_date_words(kind)}: {_unbroken(day_words(day))}"
        for kind, day in crate.standing.dates.told
    ]


def _unbroken(text: str) -> str:
    """Return a text that is never wrapped within."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def place_label(position: Position, farm: Farm) -> LabelText:
    """Return a place's label: its name as big as it goes."""
    return LabelText(
        headline=position.name,
        code=position.pk,
        lines=((position.room.name, 0.35),),
        link=link(farm, "P", position.pk),
    )


def tag_label(tag: Tag, farm: Farm) -> LabelText:
    """Return a permanent tag: its code, once, and nothing that could become untrue."""
    return LabelText(
        headline="",
        code=tag.pk,
        lines=((_("crate tag"), 0.35),),
        link=link(farm, "L", tag.pk),
    )

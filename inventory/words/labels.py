"""What a label says, the most important first."""

from django.utils.translation import gettext as _

from inventory import measures
from inventory.labels import LabelText
from inventory.labels.setting import UNBROKEN
from inventory.models import Farm, Position, Tag
from inventory.queries.crates import Crate
from inventory.queries.labels import link
from inventory.words.crates import dated_words, packers_date_words
from inventory.words.days import day_words
from inventory.words.units import amount_words

# How big a line is set, against the headline.
_DAY, _AMOUNT, _UNTIL, _SOURCE, _FARM, _SMALL = 0.75, 0.55, 0.5, 0.42, 0.4, 0.36
# What a line that is only for where there is room must leave the others of their size.
_FOR_QUALITY, _FOR_ADDRESS = 0.9, 0.75


def crate_label(crate: Crate, farm: Farm) -> LabelText:
    """Return the words of a crate's label, the most important first.

    Where the label is too small the least needed are left out: that it says quality and not
    safety, the farm's address, where it grew, the farm's name, the amount. Crop, day, code and
    dates never are.
    """
    lot = crate.lot
    until = _until(crate, farm)
    amount = amount_words(lot.quantity, lot.unit) if lot.quantity else ""
    sources = ", ".join(source.name for source in lot.origins)
    quality = _("quality, not safety") if until else ""
    address = _farm_address(farm)
    lines = [
        (_unbroken(dated_words(crate)), _DAY),
        (amount, _AMOUNT),
        (sources, _SOURCE),
        *((told, _UNTIL) for told in _case_dates(crate)),
        (until, _UNTIL),
        (quality, _SMALL),
        (farm.name, _FARM),
        (address, _SMALL),
    ]
    return LabelText(
        headline=lot.shown_name,
        code=lot.pk,
        lines=_said(lines),
        link=link(farm, "L", lot.pk),
        spare=(sources, farm.name, amount),
        if_room=_said([(quality, _FOR_QUALITY), (address, _FOR_ADDRESS)]),
    )


def _said(lines: list[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    return tuple(line for line in lines if line[0])


def _farm_address(farm: Farm) -> str:
    """Return where the farm is and its telephone; "" of neither.

    A farm exempt from the produce rule shows its name and address where it sells: 21 CFR 112.6.
    """
    return ", ".join(filter(None, [farm.postal_address, _unbroken(farm.telephone)]))


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
    return text.replace(" ", UNBROKEN)


def place_label(position: Position, farm: Farm) -> LabelText:
    """Return a place's label: its name as big as it goes."""
    return LabelText(
        headline=position.name,
        code=position.pk,
        lines=((position.room.name, 0.35),),
        link=link(farm, "P", position.pk),
    )


def tag_label(tag: Tag, farm: Farm) -> LabelText:
    """Return a permanent tag: its code as big as it goes, and nothing that could become untrue."""
    return LabelText(
        headline="",
        code=tag.pk,
        lines=((_("crate tag"), _FARM), (farm.name, _FARM)),
        link=link(farm, "L", tag.pk),
        spare=(farm.name,),
    )


def bar_words(millimetres: int) -> str:
    """Return what stands at the bar of the test page."""
    return _("must measure %(n)d mm") % {"n": millimetres}

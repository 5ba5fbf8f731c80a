"""What a label says, whose label a scanned text is, and which labels have gone wrong."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlsplit

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from inventory import measures
from inventory.codes import InvalidCode, read_code
from inventory.labels import STOCKS, LabelText, Stock, custom_stock
from inventory.models import Farm, Intake, LabelAddress, LabelPrint, Lot, Position, Tag, TagBinding
from inventory.models.crops import amount_words
from inventory.queries.crates import HERE, Crate
from inventory.queries.days import day_words

STALE_BY = timedelta(days=1)
_DAY, _AMOUNT, _PLACE, _UNTIL = 0.75, 0.55, 0.45, 0.36


class NotOurs(ValueError):
    """A scanned text that is no label of this farm."""


def link(farm: Farm, kind: str, code: str) -> str:
    """Return what a symbol holds: the farm's address in capitals, or the bare code."""
    return f"{farm.label_address.upper()}/{kind}/{code}" if farm.label_address else code


def crate_label(crate: Crate, farm: Farm) -> LabelText:
    """Return the words of a crate's label, the most important first."""
    lot = crate.lot
    cut = _unbroken(day_words(crate.life.harvested_at.astimezone(farm.zone)))
    bought = lot.intake is not None and lot.intake.is_bought
    until = _("about until %(day)s at %(cold)s") % {
        "day": _unbroken(day_words(crate.lasts_until)),
        "cold": _unbroken(
            measures.temperature_words(crate.life.here_c, farm.temperature_unit, decimals=0)
        ),
    }
    sources = ", ".join(source.name for source in lot.origins)
    lines = [
        ((_("packed %s") if bought else _("cut %s")) % cut, _DAY),
        (amount_words(lot.quantity, lot.unit) if lot.quantity else "", _AMOUNT),
        (sources, _PLACE),
        (lot.position.name if lot.position else "", _PLACE),
        (until, _UNTIL),
    ]
    return LabelText(
        headline=lot.shown_name,
        code=lot.pk,
        lines=tuple(line for line in lines if line[0]),
        link=link(farm, "L", lot.pk),
    )


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
    """Return a permanent tag: its code, and nothing that could become untrue."""
    return LabelText(
        headline=tag.pk[-4:],
        code=tag.pk,
        lines=((_("crate tag"), 0.35),),
        link=link(farm, "L", tag.pk),
    )


def farm_stock(farm: Farm) -> Stock:
    """Return the stock the farm prints on."""
    if farm.label_stock in STOCKS:
        return STOCKS[farm.label_stock]
    return custom_stock(float(farm.label_w_mm), float(farm.label_h_mm))


def read_label(text: str, host: str) -> tuple[str, str]:
    """Return (kind, code) of a scanned text: "L" or "P" with an address, "" for a bare code.

    Only this site's own address, and those labels were printed under before, are taken, and
    only with a right check character. Raises NotOurs.
    """
    kind, code = "", text.strip()
    if "/" in code:
        address, code = code.rsplit("/", 1)
        address, _slash, kind = address.rpartition("/")
        if kind.upper() not in ("L", "P") or not _is_ours(address, host):
            raise NotOurs(text)
    try:
        return kind.upper(), read_code(code)
    except InvalidCode as error:
        raise NotOurs(text) from error


def _is_ours(address: str, host: str) -> bool:
    try:
        found = urlsplit(address.lower())
    except ValueError:
        return False
    if found.scheme not in ("http", "https") or found.path.strip("/"):
        return False
    known = {urlsplit(known.address.lower()).netloc for known in LabelAddress.objects.all()}
    return found.netloc == host.lower() or found.netloc in known


def without_tag() -> QuerySet[Lot]:
    """Return the crates in the house that no tag is on, those seen last first."""
    return (
        Lot.objects.filter(state__in=HERE)
        .exclude(tag_bindings__in=TagBinding.objects.filter(taken_off_at__isnull=True))
        .select_related("crop")
        .order_by("-seen_at", "pk")
    )


@dataclass(frozen=True)
class TagsOn:
    """How far the crates of one intake have their tags. next: the first without one."""

    next: Lot | None
    tagged: int
    crates: int


def tags_on(intake: str) -> TagsOn:
    """Return how far the tags of an intake are; of the latest, if this is the key of none.

    Crates of another intake are never offered.
    """
    standing = Intake.objects.filter(action__undone_by__isnull=True).order_by("-arrived_at", "-pk")
    if intake.isdecimal() and len(intake) < 10:
        standing = standing.filter(pk=intake)
    chosen = standing.first()
    if chosen is None:
        return TagsOn(None, 0, 0)
    here = chosen.lots.filter(state__in=HERE, parent_links__isnull=True)
    waiting = list(without_tag().filter(pk__in=here).order_by("pk"))
    crates = here.count()
    return TagsOn(waiting[0] if waiting else None, crates - len(waiting), crates)


def gone_wrong(crates: Iterable[Crate]) -> list[Crate]:
    """Return those of the crates here whose label says a day or more too late."""
    here = LabelPrint.objects.filter(lot__state__in=HERE).order_by("at", "pk")
    printed = dict(here.values_list("lot_id", "until"))
    return [
        crate
        for crate in crates
        if crate.code in printed and printed[crate.code] - crate.lasts_until >= STALE_BY
    ]

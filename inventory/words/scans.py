"""What a scan answers, in words, where something stands in its way or must be minded."""

from django.utils.translation import gettext as _

from inventory.models import Lot
from inventory.queries.scans import Scan
from inventory.queries.tags import TagsOn
from inventory.rotation.scans import Answer, Fact
from inventory.words.crates import far_past_words
from inventory.words.orders import restriction_words
from inventory.words.tags import left_bare_words
from inventory.words.units import amount_words

_SENTENCES = {
    Fact.UNKNOWN: lambda scan: _("No crate has the code %s.") % scan.code,
    Fact.NOT_HERE: lambda scan: _not_here(scan),
    Fact.HELD: lambda scan: (
        _("Crate %(code)s is on hold. Only the owner can release it.") % {"code": scan.code}
    ),
    Fact.FAR_PAST: lambda scan: far_past_words(scan.crate),
    Fact.PAST_USE_BY: lambda scan: (
        _("Crate %(code)s is past its use-by date: discard it or send it back.")
        % {"code": scan.code}
    ),
    Fact.UNFIT: lambda scan: _(
        "It is past its time, or must be looked at first. Take it all the same?"
    ),
    Fact.NOTHING_OUT: lambda scan: _("Nothing of it is out."),
    Fact.NO_PLACE: lambda scan: _("Scan the place first."),
    Fact.STANDS_HERE: lambda scan: _("It stands here already."),
    # What the place does is told once it is done, by queries.put_down as after a form.
    Fact.HARMS: lambda scan: "",
    Fact.OVER_FULL: lambda scan: "",
    Fact.NO_ORDER: lambda scan: _("Choose the order first."),
    Fact.TAKEN: lambda scan: _("Taken for this order already."),
    Fact.PART_TAKEN: lambda scan: _(
        "It was taken for this order already. Take what is here of it too?"
    ),
    Fact.NOT_OF_ORDER: lambda scan: _("It is not of this order. Take it all the same?"),
    Fact.NOT_PLANNED: lambda scan: _not_planned(scan),
    Fact.NO_MARKET: lambda scan: _("There is no market yet. The owner adds it under “Buyers”."),
    Fact.REFUSED_BY_BUYER: lambda scan: (
        _("%(outlet)s does not take this: %(tag)s.") % _refusal(scan)
    ),
    Fact.OLDER_FIRST: lambda scan: (
        _("An older one should go first: %(code)s in %(place)s. Take this all the same?")
        % {"code": scan.older.code, "place": scan.older.lot.position.name}
    ),
    Fact.NO_REASON: lambda scan: _("Choose why and where to first."),
    Fact.FREE_TAG: lambda scan: _("This tag is free: it hangs on no crate."),
    Fact.LEFT_BARE: lambda scan: left_bare_words(scan.bare),
    Fact.NOT_A_TAG: lambda scan: _("That is no tag."),
    Fact.ALL_TAGGED: lambda scan: _("Every crate of this harvest or delivery has its tag."),
}


def scan_words(scan: Scan) -> str:
    """Return why a scan is refused or asked about, or what to mind; "" where nothing is."""
    reason = scan.decision.reason
    return _SENTENCES[reason](scan) if reason else ""


def which_crate_words(on: TagsOn) -> str:
    """Return which crate the next tag is for; by what it holds where they are not all alike."""
    if on.next is None:
        return ""
    facts = {
        "crop": on.next.crop.shown_name,
        "n": on.number,
        "all": on.crates,
        "much": amount_words(on.next.quantity, on.next.unit),
    }
    if on.unequal:
        return _("%(crop)s, crate %(n)s of %(all)s: the %(much)s one") % facts
    return _("%(crop)s, crate %(n)s of %(all)s") % facts


def _not_here(scan: Scan) -> str:
    if scan.decision.answer == Answer.WARN and scan.crate.lot.state == Lot.State.VOID:
        return _("What made this crate was undone. Now it is noted as seen here.")
    if scan.decision.answer == Answer.WARN:
        return _("It was written down as out or empty. Now it is noted as seen here.")
    state = Lot.State(scan.crate.lot.state).label
    return _("Crate %(code)s is not here: %(state)s.") % {"code": scan.code, "state": state}


def _not_planned(scan: Scan) -> str:
    if scan.instead is None:
        return _("The plan sends it elsewhere. Take it all the same?")
    lot = scan.instead.crate.lot
    where = {"code": lot.pk, "place": lot.position.name if lot.position else "?"}
    return _("%(code)s in %(place)s is planned for this order. Take this one all the same?") % where


def _refusal(scan: Scan) -> dict[str, str]:
    refused = scan.crate.tags & scan.buyer.refused_tags
    return {"outlet": scan.buyer.name, "tag": restriction_words(min(refused))}

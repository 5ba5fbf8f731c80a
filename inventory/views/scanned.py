"""What one scan does, and what is said of it."""

from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from inventory.actions.counting import see, visit
from inventory.actions.movements import bring_back, move_lots, take_out
from inventory.actions.orders import take_for_order
from inventory.actions.quality import discard
from inventory.actions.tags import bind_tag
from inventory.codes import InvalidCode, is_tail, read_code
from inventory.errors import Refused
from inventory.ledger.book import Act, earlier_answer
from inventory.models import Action, Lot, Movement, Outlet, Position, Tag
from inventory.queries.book import BookLine, BookOrder, find_order
from inventory.queries.crates import Crate, by_tail, one_crate
from inventory.queries.labels import NotOurs, read_label
from inventory.queries.put_down import ToMind, put_down_by, read_to_mind
from inventory.queries.scans import Scan, given_to, read_scan
from inventory.queries.tags import tags_ending
from inventory.rotation.scans import Answer, Fact, Mode
from inventory.views.entry import FarmRequest
from inventory.words.refusals import code_sentence, sentence
from inventory.words.rooms import place_words
from inventory.words.scans import scan_words, which_crate_words
from inventory.words.units import amount_words


@dataclass(frozen=True)
class Said:
    """What one scan did. result: "done", "mind", "refused", "ask" or "here".

    action: what can be undone. mind: what is to be minded though it is done, told by result "mind".

    again: the text to send once more to overrule a question. older: the code of the crate that
    should go first, where that was asked about. tag: the one put on; free: one on no crate.
    """

    result: str
    words: str
    action: Action | None = None
    again: str = ""
    older: str = ""
    mind: ToMind | None = None
    crate: Crate | None = None
    place: Position | None = None
    tag: Tag | None = None
    free: Tag | None = None


def act_on(request: FarmRequest, mode: Mode, text: str, here: Position | None, act: Act) -> Said:
    """Return what one scanned text did: it is of a crate, of a place or of no label of ours."""
    if is_tail(text):
        return _by_tail(mode, text, request)
    try:
        _kind, code = read_label(text, request.get_host())
    except NotOurs:
        return Said("refused", _not_ours(text))
    given = given_to(code)
    place = place_of(code) if given == "position" else None
    if place is not None:
        if mode == Mode.COUNT:
            visit(act, position=place)
        return Said("here", here_words(place), place=place)
    try:
        earlier = earlier_answer(act)
        if earlier is not None:
            return _again(request, mode, earlier)
        found = _facts(request, mode, code, here, act.at, is_tag=given == "tag")
        return _decided(found, request, act)
    except Refused as refusal:
        return Said("refused", sentence(refusal))


def place_of(text: str) -> Position | None:
    """Return the place that a code was given to."""
    try:
        return Position.objects.filter(pk=read_code(text)).select_related("room").first()
    except InvalidCode:
        return None


def here_words(place: Position) -> str:
    return _("Here: %s") % place_words(place)


def _not_ours(text: str) -> str:
    """Say what is wrong with a text: of a typed code one character, of anything else all of it."""
    try:
        read_code(text)
    except InvalidCode as error:
        if error.reason != "length":
            return code_sentence(error)
    return _("That is not one of our labels. Try again, or type the code.")


def _again(request: FarmRequest, mode: Mode, earlier: Action) -> Said:
    """Say what a scan did that was sent once more, in the words of the first time."""
    told = earlier.movements.latest("number") if mode == Mode.TAG else earlier.movements.first()
    return _SAYS[mode](request, one_crate(told.lot_id, request.farm, timezone.now()), earlier)


def _facts(
    request: FarmRequest,
    mode: Mode,
    code: str,
    here: Position | None,
    at: datetime,
    is_tag: bool,
) -> Scan:
    """Return everything one scan is judged by."""
    return read_scan(
        mode,
        code,
        request.farm,
        at,
        is_tag=is_tag,
        here=here,
        order=_order(request) if mode == Mode.ORDER else None,
        market=_market(request.POST.get("market", "")) if mode == Mode.MARKET else None,
        intake=request.POST.get("intake", ""),
        says_why=_says_why(request),
        overruled=overruled(request),
    )


def overruled(request: FarmRequest) -> str:
    """Return the code of the crate a person was asked about and says to take all the same."""
    asked = request.POST.get("asked", "") if request.POST.get("unreachable") else ""
    return request.POST.get("overrule") or asked


def _says_why(request: FarmRequest) -> bool:
    reason, destination = request.POST.get("reason", ""), request.POST.get("destination", "")
    return reason in Movement.Reason.values and destination in Movement.Destination.values


def _decided(found: Scan, request: FarmRequest, act: Act) -> Said:
    """Do what the rule says of a scan, or say why not."""
    decision = found.decision
    words = scan_words(found)
    if decision.answer == Answer.REFUSE:
        return Said("refused", words, crate=found.crate, free=found.free)
    if decision.answer == Answer.ASK:
        older = found.older.code if decision.reason == Fact.OLDER_FIRST else ""
        return Said("ask", words, again=found.code, older=older, crate=found.crate)
    if decision.reason == Fact.STANDS_HERE:
        return _minding(Said("done", words, crate=found.crate), [(found.crate.lot, found.here)])
    said = _DOINGS[found.mode](request, found, act)
    return replace(said, result="mind", words=f"{said.words}. {words}") if words else said


def _by_tail(mode: Mode, text: str, request: FarmRequest) -> Said:
    """Four characters look a crate up, where only one ends in them; they act on none."""
    found = by_tail(text, request.farm, timezone.now()) if mode == Mode.LOOK else []
    free = [row.tag for row in tags_ending(text) if row.lot is None] if mode == Mode.LOOK else []
    if len(found) == 1 and not free:
        return Said("done", found[0].lot.crop.shown_name, crate=found[0])
    if len(free) == 1 and not found:
        return Said("refused", _("This tag is free: it hangs on no crate."), free=free[0])
    if found or free:
        return Said("refused", _("Several crates end in that. Type all seven characters."))
    return Said("refused", _("Type all seven characters; four only find a crate."))


def _order(request: FarmRequest) -> BookOrder | None:
    """Return the open order that was chosen."""
    try:
        key = UUID(request.POST.get("pull", ""))
    except ValueError:
        return None
    found = find_order(key, request.farm, timezone.now())
    return found if found and found.is_open else None


def _market(key: str) -> Outlet | None:
    """Return the market chosen, else the first: a farm with one is not asked."""
    markets = list(Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True))
    chosen = (one for one in markets if str(one.pk) == key)
    return next(chosen, markets[0] if markets else None)


def _done(crate: Crate, words: str, action: Action) -> Said:
    return Said("done", f"{crate.lot.crop.shown_name}: {words}", action, crate=crate)


def _moved(crate: Crate, words: str, action: Action, much: Decimal) -> Said:
    """Say how much of a crate an action is about, and where it went."""
    return _done(crate, f"{amount_words(much, crate.lot.unit)}, {words}", action)


def _told(action: Action) -> tuple[Decimal, str]:
    """Return how much the first entry of an action is about, and to whom it went."""
    amount, change, other_party = action.movements.values_list("amount", "change", "other_party")[0]
    return amount or abs(change), other_party


def _look(request: FarmRequest, found: Scan, act: Act) -> Said:
    return Said("done", found.crate.lot.crop.shown_name, crate=found.crate)


def _put_away(request: FarmRequest, found: Scan, act: Act) -> Said:
    action = move_lots(act, lots=[found.crate.code], position=found.here)
    return _stands(found.crate, found.here, action)


def _is_put_away(request: FarmRequest, crate: Crate, action: Action) -> Said:
    return _stands(crate, _entries(action)[0].position, action)


def _stands(crate: Crate, place: Position, action: Action) -> Said:
    return _minding(_done(crate, place.name, action), [(crate.lot, place)])


def _entries(action: Action) -> list[Movement]:
    """Return the entries of an action, with what is said of crates that were put down by it."""
    found = action.movements.select_related("lot__crop", "position__room")
    return list(found.order_by("number"))


def _minding(said: Said, put_down: list[tuple[Lot, Position]]) -> Said:
    """Say besides what the form would say of crates put down there, in another tone."""
    mind = read_to_mind(put_down)
    return replace(said, result="mind", mind=mind) if mind else said


def _take(request: FarmRequest, found: Scan, act: Act) -> Said:
    """Take what the order still wants of a crate; of a crop it does not want, all of it."""
    crate, order = found.crate, found.order
    line = _line_of(order, crate)
    if line is None:
        return _load(request, found, act)
    amount = found.planned.quantity if found.planned else line.lacking or crate.lot.quantity
    action = take_for_order(
        act, order=order.id, lot=crate.code, quantity=amount, beyond=not line.lacking
    )
    return _went_out(request, crate, action)


def _line_of(order: BookOrder, crate: Crate) -> BookLine | None:
    kind = crate.lot.crop_id, crate.lot.unit
    return next((line for line in order.lines if (line.crop.pk, line.unit) == kind), None)


def _load(request: FarmRequest, found: Scan, act: Act) -> Said:
    action = take_out(
        act,
        lot=found.crate.code,
        portion="all",
        purpose=found.buyer.purpose,
        outlet=found.buyer,
        out_of_reach=request.POST.get("unreachable", "")[:7],
        taking=found.taking,
    )
    return _went_out(request, found.crate, action)


def _went_out(request: FarmRequest, crate: Crate, action: Action) -> Said:
    much, other_party = _told(action)
    return _moved(crate, other_party, action, much)


def _back(request: FarmRequest, found: Scan, act: Act) -> Said:
    quantity = list(found.out.values())[-1]
    action = bring_back(act, lot=found.crate.code, quantity=quantity, position=found.here)
    return _came_back(request, found.crate, action)


def _came_back(request: FarmRequest, crate: Crate, action: Action) -> Said:
    entries = _entries(action)
    back = entries[-1]
    words = _("brought back")
    if back.lot_id != crate.code:
        crate = one_crate(back.lot_id, request.farm, timezone.now())
        words = _("brought back, as a crate of its own: label it")
    much = entries[0].amount or abs(entries[0].change)
    return _minding(_moved(crate, words, action, much), put_down_by(action, entries))


def _throw_out(request: FarmRequest, found: Scan, act: Act) -> Said:
    reason, destination = request.POST["reason"], request.POST["destination"]
    action = discard(
        act, lot=found.crate.code, portion="all", reason=reason, destination=destination
    )
    return _is_thrown_out(request, found.crate, action)


def _is_thrown_out(request: FarmRequest, crate: Crate, action: Action) -> Said:
    return _moved(crate, _("discarded"), action, _told(action)[0])


def _see(request: FarmRequest, found: Scan, act: Act) -> Said:
    see(act, lot=found.crate.lot, position=found.here)
    seen = {"crop": found.crate.lot.crop.shown_name, "place": found.here.name}
    return Said("done", _("%(crop)s seen in %(place)s") % seen, crate=found.crate)


def _tag(request: FarmRequest, found: Scan, act: Act) -> Said:
    """Put a free tag on the next crate without one, of the intake asked for or the latest."""
    on = found.tags
    action = bind_tag(act, tag=found.tag.pk, lot=on.next.pk)
    crate = one_crate(on.next.pk, request.farm, timezone.now())
    words = which_crate_words(on)
    if found.bare:
        return Said("done", words, action, crate=crate)  # its undo puts it back on the other
    return Said("done", words, crate=crate, tag=found.tag)


def _is_tagged(request: FarmRequest, crate: Crate, action: Action) -> Said:
    tag = Tag.objects.get(pk=action.movements.latest("number").detail["tag"])
    return Said("done", crate.lot.crop.shown_name, crate=crate, tag=tag)


_DOINGS = {
    Mode.LOOK: _look,
    Mode.PUT_AWAY: _put_away,
    Mode.ORDER: _take,
    Mode.MARKET: _load,
    Mode.BACK: _back,
    Mode.DISCARD: _throw_out,
    Mode.COUNT: _see,
    Mode.TAG: _tag,
}

# What a scan that wrote something says of it, the first time and when it is sent again.
_SAYS = {
    Mode.PUT_AWAY: _is_put_away,
    Mode.ORDER: _went_out,
    Mode.MARKET: _went_out,
    Mode.BACK: _came_back,
    Mode.DISCARD: _is_thrown_out,
    Mode.TAG: _is_tagged,
}

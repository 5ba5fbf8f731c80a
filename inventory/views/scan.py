"""Crate after crate: what a scan means is chosen once, then each scan acts at once.

A scan comes from the camera, a photo, a scanner that types, or a hand; all end in one text.
"""

import json
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from uuid import UUID, uuid5

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from coldroom.tls import authority_file
from inventory.actions.counting import end_round, see, settle_round, visit
from inventory.actions.movements import bring_back, move_lots, take_out
from inventory.actions.orders import take_for_order
from inventory.actions.quality import discard, end_discard_round
from inventory.actions.tags import bind_tag
from inventory.codes import InvalidCode, is_tail, read_code
from inventory.errors import Refused
from inventory.forms.crates import DISCARD_REASONS, OTHER_DESTINATIONS, USUAL_DESTINATIONS
from inventory.labels.read import NoPicture, open_picture, read_symbols
from inventory.labels.turns import FRAME_WAITS_S, PHOTO_WAITS_S, pictures
from inventory.ledger.book import Act, earlier_answer
from inventory.models import Action, CountRound, Lot, Movement, Outlet, Position, Tag
from inventory.queries.book import BookLine, BookOrder, find_order, read_book
from inventory.queries.counting import read_round
from inventory.queries.crates import Crate, by_tail, one_crate
from inventory.queries.labels import NotOurs, read_label
from inventory.queries.ledger import open_discards
from inventory.queries.put_down import ToMind, put_down_by, read_to_mind
from inventory.queries.scans import Scan, given_to, read_scan
from inventory.queries.tags import tags_ending, tags_on
from inventory.rotation.scans import Answer, Fact, Mode
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, act_for, answered, changed_hands, done, form_key
from inventory.words.refusals import code_sentence, picture_sentence, sentence
from inventory.words.rooms import place_words
from inventory.words.scans import scan_words, which_crate_words
from inventory.words.units import amount_words

MODES = {
    Mode.LOOK: gettext_lazy("Find a crate"),
    Mode.PUT_AWAY: gettext_lazy("Put away or move here"),
    Mode.ORDER: gettext_lazy("Get for order"),
    Mode.MARKET: gettext_lazy("Load for market"),
    Mode.BACK: gettext_lazy("Bring back"),
    Mode.DISCARD: gettext_lazy("Discard"),
    Mode.COUNT: gettext_lazy("Count the room"),
    Mode.TAG: gettext_lazy("Put tags on"),
}
MOST_IN_A_PHOTO = 40
MOST_ORDERS = 12


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


def choose(request: FarmRequest) -> HttpResponse:
    return render(request, "inventory/scan/scan_choose.html", {"modes": MODES.items()})


def scan(request: FarmRequest, mode: str) -> HttpResponse:
    """The page of one mode, and what each scan of it does."""
    if mode not in MODES:
        raise Http404
    mode = Mode(mode)
    if changed_hands(request):
        return _lead_to(request, reverse("scan", args=["look"]))
    said: list[Said] = []
    here = _position(request.POST.get("here") or request.GET.get("here", ""))
    if request.method == "POST":
        said = _scanned(request, mode, here)
        here = next((one.place for one in said if one.place), here)
        seen = said[0].crate.code if said[0].crate else said[0].free
        if mode == Mode.LOOK and seen and len(said) == 1:
            return _lead_to(request, reverse("crate", args=[seen]))
    asked = request.POST or request.GET
    context = {
        "mode": mode,
        "title": MODES[mode],
        "said": said,
        "here": here,
        "pulls": not request.htmx and mode == Mode.ORDER and _orders(request),
        "markets": Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True),
        "reasons": DISCARD_REASONS,
        "usual": USUAL_DESTINATIONS,
        "elsewhere": OTHER_DESTINATIONS,
        "chosen": asked,
        "tags": mode == Mode.TAG and tags_on(asked.get("intake", "")),
        "places": not request.htmx and _places(mode),
        "discards_open": not request.htmx
        and open_discards(request.user, request.farm, timezone.now()),
        "can_trust": authority_file(settings.DATA_DIR).exists() and not request.is_secure(),
    }
    template = "inventory/scan/scan.html#said" if request.htmx else "inventory/scan/scan.html"
    status = 409 if said and said[0].result == "refused" else 200
    return render(request, template, context, status=status)


def _places(mode: Mode) -> str:
    """Return what each place says of itself, for a phone without an answer to a scan of one."""
    if mode not in (Mode.PUT_AWAY, Mode.BACK, Mode.COUNT):
        return ""
    places = Position.objects.filter(in_use=True).select_related("room")
    return json.dumps({place.pk: _here(place) for place in places})


def _here(place: Position) -> str:
    return _("Here: %s") % place_words(place)


def _scanned(request: FarmRequest, mode: str, here: Position | None) -> list[Said]:
    """Return what each text of a scan or photo did, the last one first."""
    act = act_for(request)
    try:
        texts = _texts(request)
    except NoPicture as error:
        return [Said("refused", picture_sentence(error))]
    said: list[Said] = []
    for number, text in enumerate(texts):
        one = _act(request, mode, text, here, _numbered(act, number))
        here = one.place or here
        said.insert(0, one)
    return said


def _numbered(act: Act, number: int) -> Act:
    """Return an act of its own for each label of a photo, the same when it is sent again."""
    return replace(act, id=uuid5(act.id, str(number))) if number else act


def _lead_to(request: FarmRequest, path: str) -> HttpResponse:
    response = HttpResponse(status=204 if request.htmx else 302)
    response["HX-Redirect" if request.htmx else "Location"] = path
    return response


def _position(text: str) -> Position | None:
    try:
        return Position.objects.filter(pk=read_code(text)).select_related("room").first()
    except InvalidCode:
        return None


def _texts(request: FarmRequest) -> list[str]:
    """Return what was scanned: every label of a photo, or the one text. Raises NoPicture."""
    photo = request.FILES.get("photo")
    if photo is None:
        return [(request.POST.get("text") or _overruled(request))[:300]]
    with pictures.take(PHOTO_WAITS_S):
        texts = read_symbols(open_picture(photo.read()))
    if not texts:
        raise NoPicture("no-label")
    return _place_first(request, texts)[:MOST_IN_A_PHOTO]


def _place_first(request: FarmRequest, texts: list[str]) -> list[str]:
    """Return the texts of a photo, its one place before its crates; of several as they stand."""
    places = [text for text in texts if _is_place(request, text)]
    if len(places) != 1:
        return texts
    return places + [text for text in texts if text not in places]


def _is_place(request: FarmRequest, text: str) -> bool:
    try:
        _kind, code = read_label(text, request.get_host())
    except NotOurs:
        return False
    return given_to(code) == "position"


@require_POST
def read(request: FarmRequest) -> HttpResponse:
    """The codes in a picture of the camera, for a browser that can't read them itself."""
    photo = request.FILES.get("photo")
    try:
        texts = _look_at(photo, "thorough" in request.POST) if photo else []
    except NoPicture as error:
        if error.reason == "busy":
            return JsonResponse({"texts": [], "busy": True})
        return JsonResponse({"error": "no picture"}, status=400)
    return JsonResponse({"texts": texts})


def _look_at(photo: UploadedFile, thorough: bool) -> list[str]:
    """Return the texts of a camera's frame; a thorough look only while nobody waits for it."""
    with pictures.take(FRAME_WAITS_S) as alone:
        return read_symbols(open_picture(photo.read()), thorough and alone)


def _act(request: FarmRequest, mode: Mode, text: str, here: Position | None, act: Act) -> Said:
    if is_tail(text):
        return _by_tail(mode, text, request)
    try:
        _kind, code = read_label(text, request.get_host())
    except NotOurs:
        return Said("refused", _not_ours(text))
    given = given_to(code)
    place = _position(code) if given == "position" else None
    if place is not None:
        if mode == Mode.COUNT:
            visit(act, position=place)
        return Said("here", _here(place), place=place)
    try:
        earlier = earlier_answer(act)
        if earlier is not None:
            return _again(request, mode, earlier)
        found = _facts(request, mode, code, here, act.at, is_tag=given == "tag")
        return _decided(found, request, act)
    except Refused as refusal:
        return Said("refused", sentence(refusal))


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
        overruled=_overruled(request),
    )


def _overruled(request: FarmRequest) -> str:
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


def _orders(request: FarmRequest) -> list[BookOrder]:
    """Return the orders one may scan for: the one asked for, those half got, then the next due."""
    book = read_book(request.farm, timezone.now())
    asked = request.GET.get("pull")
    book.sort(key=lambda order: (str(order.id) != asked, not order.is_begun))
    return book[:MOST_ORDERS]


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


def _open_discards(request: FarmRequest) -> list[Action]:
    return open_discards(request.user, request.farm, timezone.now())


def end_discards(request: FarmRequest) -> HttpResponse:
    """What this person threw out today, to be made final."""
    if request.method == "POST":
        end_discard_round(act_for(request))
        return told_at("home", done="round-ended")
    context = {
        "actions": open_discards(request.user, request.farm, timezone.now()),
        "entry_key": form_key(request),
    }
    return render(request, "inventory/scan/discard_round.html", context)


def count_found(request: FarmRequest) -> HttpResponse:
    """What this person's count found, to be settled one by one or all at once."""
    going_on = CountRound.objects.filter(person=request.user, ended_at__isnull=True).first()
    if going_on is None:
        return redirect("scan", "count")
    if request.method == "POST" and request.POST.get("end"):
        end_round(act_for(request), count_round=going_on)
        return told_at("home", done="count-ended")
    earlier = answered(request)
    if earlier is not None:
        return done(earlier)
    if request.method == "POST":
        action = settle_round(
            act_for(request),
            count_round=going_on,
            missing=request.POST.getlist("missing"),
            misplaced=request.POST.getlist("misplaced"),
            back=request.POST.getlist("back"),
        )
        return done(action)
    last = going_on.seen.order_by("-at").first()
    context = {"found": read_round(going_on), "last": last, "entry_key": form_key(request)}
    return render(request, "inventory/rooms/count_round.html", context)


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

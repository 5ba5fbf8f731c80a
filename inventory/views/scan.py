"""Crate after crate: what a scan means is chosen once, then each scan acts at once.

A scan comes from the camera, a photo, a scanner that types, or a hand; all end in one text.
"""

from dataclasses import dataclass, replace
from uuid import UUID, uuid4, uuid5

from django.conf import settings
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from coldroom.tls import authority_file
from inventory.actions.counting import Misplaced, end_round, see, settle_round, visit
from inventory.actions.movements import bring_back, move_lots, take_out
from inventory.actions.pulls import take_promised
from inventory.actions.quality import discard, end_discard_round, open_discards
from inventory.actions.tags import bind_tag
from inventory.codes import InvalidCode, is_tail, read_code
from inventory.errors import Refused
from inventory.forms.crates import DISCARD_REASONS
from inventory.labels.read import NoPicture, open_picture, read_symbols
from inventory.ledger.book import Act
from inventory.ledger.outings import out_of
from inventory.models import Action, CountRound, Movement, Outlet, Position, Pull, PullTake, Tag
from inventory.queries.counting import read_round
from inventory.queries.crates import UNFIT, Crate, by_tail, one_crate
from inventory.queries.home import older_first
from inventory.queries.labels import NotOurs, read_label
from inventory.queries.tags import tags_on
from inventory.views.entry import act_for, answered, changed_hands, done, form_key
from inventory.words.refusals import picture_sentence, sentence
from inventory.words.units import amount_words

MODES = {
    "look": gettext_lazy("Look up"),
    "put-away": gettext_lazy("Put away or move here"),
    "order": gettext_lazy("Take for an order"),
    "market": gettext_lazy("Load for market"),
    "back": gettext_lazy("Bring back"),
    "discard": gettext_lazy("Throw out"),
    "count": gettext_lazy("Count the room"),
    "tag": gettext_lazy("Put tags on"),
}
MOST_IN_A_PHOTO = 40


@dataclass(frozen=True)
class Said:
    """What one scan did. result: "done", "refused", "ask" or "here"; action can be undone.

    again: the text to send once more to overrule a question.
    """

    result: str
    words: str
    action: Action | None = None
    again: str = ""
    crate: Crate | None = None
    place: Position | None = None
    tag: Tag | None = None


def choose(request):
    return render(request, "inventory/scan_choose.html", {"modes": MODES.items()})


def scan(request, mode):
    """The page of one mode, and what each scan of it does."""
    if mode not in MODES:
        raise Http404
    if changed_hands(request):
        return _lead_to(request, reverse("scan", args=["look"]))
    said: list[Said] = []
    here = _position(request.POST.get("here") or request.GET.get("here", ""))
    if request.method == "POST":
        said = _scanned(request, mode, here)
        here = next((one.place for one in said if one.place), here)
        if mode == "look" and said[0].crate and len(said) == 1:
            return _lead_to(request, reverse("crate", args=[said[0].crate.code]))
    asked = request.POST or request.GET
    context = {
        "mode": mode,
        "title": MODES[mode],
        "said": said,
        "here": here,
        "pulls": Pull.objects.filter(closed_at__isnull=True).select_related("outlet"),
        "markets": Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True),
        "reasons": DISCARD_REASONS,
        "destinations": Movement.Destination.choices,
        "chosen": request.POST,
        "tags": mode == "tag" and tags_on(asked.get("intake", "")),
        "discards_open": not request.htmx and open_discards(_looking(request)),
        "can_trust": authority_file(settings.DATA_DIR).exists() and not request.is_secure(),
    }
    template = "inventory/scan.html#said" if request.htmx else "inventory/scan.html"
    status = 409 if said and said[0].result == "refused" else 200
    return render(request, template, context, status=status)


def _scanned(request, mode: str, here: Position | None) -> list[Said]:
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


def _looking(request) -> Act:
    """Return an act that writes nothing, for asking what stands open."""
    return Act(uuid4(), request.user, request.farm, timezone.now())


def _lead_to(request, path: str) -> HttpResponse:
    response = HttpResponse(status=204 if request.htmx else 302)
    response["HX-Redirect" if request.htmx else "Location"] = path
    return response


def _position(text: str) -> Position | None:
    try:
        return Position.objects.filter(pk=read_code(text)).first()
    except InvalidCode:
        return None


def _texts(request) -> list[str]:
    """Return what was scanned: every label of a photo, or the one text. Raises NoPicture."""
    photo = request.FILES.get("photo")
    if photo is None:
        return [(request.POST.get("text") or request.POST.get("overrule", ""))[:300]]
    texts = read_symbols(open_picture(photo.read()))
    if not texts:
        raise NoPicture("no-label")
    return texts[:MOST_IN_A_PHOTO]


@require_POST
def read(request):
    """The codes in a picture of the camera, for a browser that can't read them itself."""
    photo = request.FILES.get("photo")
    try:
        texts = read_symbols(open_picture(photo.read())) if photo else []
    except NoPicture:
        return JsonResponse({"error": "no picture"}, status=400)
    return JsonResponse({"texts": texts})


def _act(request, mode: str, text: str, here: Position | None, act: Act) -> Said:
    if is_tail(text):
        return _by_tail(mode, text, request)
    try:
        _kind, code = read_label(text, request.get_host())
    except NotOurs:
        return Said("refused", _("That is not one of our labels. Try again, or type the code."))
    place = _position(code)
    if place is not None:
        if mode == "count":
            visit(act, position=place)
        return Said("here", _("Here: %s") % f"{place.room} {place.name}", place=place)
    tag = Tag.objects.filter(pk=code).first()
    if mode == "tag":
        return _tag(request, tag, act)
    lot = tag.current_lot() if tag else None
    crate = one_crate(lot.pk if lot else code, request.farm, timezone.now())
    if crate is None:
        return Said("refused", _("No crate has the code %s.") % code)
    if mode == "look":
        return Said("done", crate.lot.crop.shown_name, crate=crate)
    try:
        return _DOINGS[mode](request, crate, here, act)
    except Refused as refusal:
        return Said("refused", sentence(refusal), crate=crate)


def _by_tail(mode: str, text: str, request) -> Said:
    """Four characters look a crate up, where only one ends in them; they act on none."""
    found = by_tail(text, request.farm, timezone.now()) if mode == "look" else []
    if len(found) == 1:
        return Said("done", found[0].lot.crop.shown_name, crate=found[0])
    if found:
        return Said("refused", _("Several crates end in that. Type all seven characters."))
    return Said("refused", _("Type all seven characters; four only find a crate."))


def _tag(request, tag: Tag | None, act: Act) -> Said:
    """Put a free tag on the next crate without one, of the intake asked for or the latest."""
    if tag is None:
        return Said("refused", _("That is no tag."))
    found = tags_on(request.POST.get("intake", ""))
    if found.next is None:
        return Said("refused", _("Every crate of this harvest or delivery has its tag."))
    try:
        bound = bind_tag(act, tag=tag.pk, lot=found.next.pk)
    except Refused as refusal:
        return Said("refused", sentence(refusal))
    crate = one_crate(bound.lot_id, request.farm, timezone.now())
    facts = {"crop": crate.lot.crop.shown_name, "n": found.tagged + 1, "all": found.crates}
    return Said("done", _("%(crop)s, crate %(n)s of %(all)s") % facts, crate=crate, tag=tag)


def _done(crate: Crate, words: str, action: Action) -> Said:
    return Said("done", f"{crate.lot.crop.shown_name}: {words}", action, crate=crate)


def _moved(crate: Crate, words: str, action: Action) -> Said:
    """Say how much of a crate an action was about, and where it went."""
    told = action.movements.first()
    much = amount_words(told.amount or abs(told.change), crate.lot.unit)
    return _done(crate, f"{much}, {words}", action)


def _put_away(request, crate: Crate, here: Position | None, act: Act) -> Said:
    if here is None:
        return Said("refused", _("Scan the place first."), crate=crate)
    if crate.lot.position_id == here.pk:
        return Said("done", _("It stands here already."), crate=crate)
    return _done(crate, here.name, move_lots(act, lots=[crate.code], position=here))


def _take(request, crate: Crate, here, act: Act) -> Said:
    pull = _pull(request.POST.get("pull", ""))
    if pull is None:
        return Said("refused", _("Choose the order first."), crate=crate)
    take = PullTake.objects.open().filter(line__pull=pull, lot=crate.lot).first()
    if take is not None:
        return _moved(crate, pull.outlet.name, take_promised(act, take=take))
    question = _("It is not of this order. Take it all the same?")
    return _take_out(request, crate, act, pull.outlet, question)


def _pull(key: str) -> Pull | None:
    try:
        return Pull.objects.filter(pk=UUID(key), closed_at__isnull=True).first()
    except ValueError:
        return None


def _market(key: str) -> Outlet | None:
    """Return the market chosen, else the first: a farm with one is not asked."""
    markets = Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True)
    chosen = markets.filter(pk=key) if key.isdecimal() else markets.none()
    return chosen.first() or markets.first()


def _load(request, crate: Crate, here, act: Act) -> Said:
    market = _market(request.POST.get("market", ""))
    if market is None:
        return Said("refused", _("There is no market yet. The owner adds it under “Buyers”."))
    older = older_first(crate, request.farm, timezone.now())
    question = ""
    if older is not None:
        question = _("An older one should go first: %(code)s in %(place)s. Take this all the same?")
        question %= {"code": older.code, "place": older.lot.position.name}
    return _take_out(request, crate, act, market, question)


def _take_out(request, crate: Crate, act: Act, outlet: Outlet, question: str) -> Said:
    if crate.verdict.worklist in UNFIT:
        question = _("It is past its time, or must be looked at first. Take it all the same?")
    may_go = crate.lot.is_here and not crate.lot.held
    if question and may_go and request.POST.get("overrule") != crate.code:
        return Said("ask", question, again=crate.code, crate=crate)
    action = take_out(act, lot=crate.code, portion="all", purpose=outlet.purpose, outlet=outlet)
    return _moved(crate, outlet.name, action)


def _back(request, crate: Crate, here: Position | None, act: Act) -> Said:
    out = list(out_of(crate.lot).values())
    if not out:
        return Said("refused", _("Nothing of it is out."), crate=crate)
    action = bring_back(act, lot=crate.code, quantity=out[-1], position=here)
    back = action.movements.latest("number")
    if back.lot_id == crate.code:
        return _moved(crate, _("brought back"), action)
    child = one_crate(back.lot_id, request.farm, timezone.now())
    return _moved(child, _("brought back, as a crate of its own: label it"), action)


def _throw_out(request, crate: Crate, here, act: Act) -> Said:
    reason, destination = request.POST.get("reason", ""), request.POST.get("destination", "")
    if reason not in Movement.Reason.values or destination not in Movement.Destination.values:
        return Said("refused", _("Choose why and where to first."), crate=crate)
    action = discard(act, lot=crate.code, portion="all", reason=reason, destination=destination)
    return _moved(crate, _("thrown out"), action)


def _see(request, crate: Crate, here: Position | None, act: Act) -> Said:
    if here is None:
        return Said("refused", _("Scan the place first."), crate=crate)
    see(act, lot=crate.lot, position=here)
    seen = {"crop": crate.lot.crop.shown_name, "place": here.name}
    if not crate.lot.is_here:
        words = _("%(crop)s seen in %(place)s, but out or empty on record. It is noted.") % seen
        return Said("done", words, crate=crate)
    return Said("done", _("%(crop)s seen in %(place)s") % seen, crate=crate)


def end_discards(request):
    """What this person threw out today, to be made final."""
    if request.method == "POST":
        end_discard_round(act_for(request))
        return redirect("home")
    context = {"actions": open_discards(_looking(request)), "entry_key": form_key(request)}
    return render(request, "inventory/discard_round.html", context)


def count_found(request):
    """What this person's count found, to be settled one by one or all at once."""
    going_on = CountRound.objects.filter(person=request.user, ended_at__isnull=True).first()
    if going_on is None:
        return redirect("scan", "count")
    if request.method == "POST" and request.POST.get("end"):
        end_round(act_for(request), count_round=going_on)
        return redirect("home")
    earlier = answered(request)
    if earlier is not None:
        return done(earlier)
    if request.method == "POST":
        found = read_round(going_on)
        ticked = set(request.POST.getlist("missing"))
        moves = set(request.POST.getlist("misplaced"))
        action = settle_round(
            act_for(request),
            missing=[lot.pk for lot in found.missing if lot.pk in ticked],
            misplaced=[
                Misplaced(sight.lot_id, sight.position_id)
                for sight in found.misplaced
                if f"{sight.lot_id}={sight.position_id}" in moves
            ],
            back=[
                Misplaced(sight.lot_id, sight.position_id)
                for sight in found.unexpected
                if sight.lot_id in request.POST.getlist("back")
            ],
        )
        return done(action)
    last = going_on.seen.order_by("-at").first()
    context = {"found": read_round(going_on), "last": last, "entry_key": form_key(request)}
    return render(request, "inventory/count_round.html", context)


_DOINGS = {
    "put-away": _put_away,
    "order": _take,
    "market": _load,
    "back": _back,
    "discard": _throw_out,
    "count": _see,
}

"""The one door to the ledger: entries are written here, and crates refolded from them."""

import functools
import hashlib
import json
import secrets
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, is_dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Concatenate, ParamSpec
from uuid import UUID

from django.db import IntegrityError, models, transaction

from inventory import measures
from inventory.codes import draw_code
from inventory.errors import Conflict, Refused
from inventory.ledger.fold import Outing, fold, standing, still_out, up_to
from inventory.ledger.replay import contradictions
from inventory.ledger.weeks import (
    has_filled,
    lived_since,
    mark,
    moments_changed,
    moments_of_others,
)
from inventory.models import Action, Code, Farm, Lot, Movement, Person, Phone, Position
from inventory.models.lots import NO_STAMP
from inventory.rotation.fit import CrateNow, Doing, why_not

CLOCKS_DIFFER = timedelta(minutes=10)
# A clock set to the wrong day: what comes after such an entry is put at its moment, in order.
CLOCK_OFF = timedelta(hours=36)
OLDEST_LATE = timedelta(days=60)
COUNT_KEPT = "count kept"


@dataclass(frozen=True)
class Act:
    """Who does something, when, and under which id.

    id: made once by the client or for the form; the same id again is the same action.
    at: now, as the view or command read it: when it is recorded. told_at: when it happened, as
    the form or the phone says; None is now. as_owner: rights shown by the owner's password.
    proven: a password or PIN said who it is, not just a tap on a name.
    posted: hash of the form as it was sent, so that the same form again is known before it is
    checked against what has changed since.
    choose: picks one character of a text for new codes.
    """

    id: UUID
    person: Person
    farm: Farm
    at: datetime
    told_at: datetime | None = None
    phone: Phone | None = None
    as_owner: bool = False
    proven: bool = False
    posted: str = ""
    choose: Callable[[str], str] = secrets.choice

    @property
    def happened_at(self) -> datetime:
        return self.told_at or self.at

    @property
    def today(self) -> date:
        """The farm's day on which it happened."""
        return self.local_day(self.happened_at)

    def local_day(self, moment: datetime) -> date:
        return moment.astimezone(self.farm.zone).date()


P = ParamSpec("P")
# What is done as it is written, and the action that `recorded` makes of it.
_Written = Callable[Concatenate["Book", P], None]
_Recorded = Callable[Concatenate[Act, P], Action]


def recorded(kind: Action.Kind, read: str = "") -> Callable[[_Written[P]], _Recorded[P]]:
    """Make a function of (book, **content) an action of (act, **content) → Action.

    Everything happens in one transaction. The same id with the same content by the same person
    returns the first answer; with other content or another person it raises Conflict.
    read: the name of what its caller may have read already, which is no content.
    """

    def wrap(function: _Written[P]) -> _Recorded[P]:
        @functools.wraps(function)
        # Content is keyword-only, as the fingerprint takes it: `none` is for the checker alone.
        def do(act: Act, *none: P.args, **content: P.kwargs) -> Action:
            _need_possible_time(act)
            said = {name: value for name, value in content.items() if name != read}
            fingerprint = _fingerprint(kind, said)
            with transaction.atomic():
                action = _begin(act, kind, fingerprint)
                if action is None:
                    return _first_answer(act, fingerprint)
                book = Book(act, action)
                function(book, *none, **content)
                mark(book.changed | moments_of_others(book.lived, book.takes))
                return action

        return do

    return wrap


def _begin(act: Act, kind: str, fingerprint: str) -> Action | None:
    """Return the new action, or None if one with this id stands already."""
    try:
        with transaction.atomic():
            return Action.objects.create(
                id=act.id,
                kind=kind,
                person=act.person,
                phone=act.phone,
                proven=act.proven,
                fingerprint=fingerprint,
                posted=act.posted,
                recorded_at=act.at,
                occurred_at=act.happened_at,
            )
    except IntegrityError:
        # Sent before; on PostgreSQL perhaps by a request that was committed while we waited.
        return None


def earlier_answer(act: Act) -> Action | None:
    """Return what this very form did when it was sent before, if it was.

    Raises Conflict("sent-before") if the id was sent with something else, or by somebody else.
    """
    earlier = Action.objects.filter(pk=act.id).first()
    if earlier is None:
        return None
    if earlier.person_id != act.person.pk or earlier.posted != act.posted:
        raise Conflict("sent-before")
    return earlier


def _first_answer(act: Act, fingerprint: str) -> Action:
    action = Action.objects.get(pk=act.id)
    if action.person_id != act.person.pk or action.fingerprint != fingerprint:
        raise Conflict("sent-before")
    return action


def _fingerprint(kind: str, content: dict[str, Any]) -> str:
    text = json.dumps([kind, content], default=_plain, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: object) -> object:
    if isinstance(value, models.Model):
        return [value._meta.label, str(value.pk)]
    if isinstance(value, Decimal):
        return measures.plain(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, timedelta):
        return value.total_seconds()
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    raise TypeError(f"{value!r} has no plain form")


FOLDED_FIELDS = (
    "quantity", "state", "position_id", "held", "kept_until", "seen_at", "at_market",
)  # fmt: skip


class Book:
    """Writes the entries of one action and keeps its crates' columns true to the ledger.

    What happened earlier than something that is recorded already is late: the crates it locks
    are then shown as they were at that moment, and it stands only with all that came after.
    """

    def __init__(self, act: Act, action: Action):
        self.act = act
        self.action = action
        self.changed: set[datetime] = set()  # moments whose weeks add up to something else now
        self.lived: dict[str, datetime] = {}  # since when crates lived otherwise than was known
        self.takes: set[int] = set()  # of the past: what came to light late, or is undone
        self._count = 0
        self._entries: dict[str, list[Movement]] = {}
        self._of_now: set[str] = set()

    def lock(self, codes: Iterable[str], perhaps_since: Iterable[str] = ()) -> list[Lot]:
        """Return all these crates, locked in code order so that two people never deadlock.

        perhaps_since: crates that are spoken of as of now if they were made only after the act.
        Raises Refused("unknown-code"), and Conflict("not-yet-here") for others made after it.
        """
        codes, perhaps_since = set(codes), set(perhaps_since)
        wanted = sorted(codes | perhaps_since)
        lots = list(
            Lot.objects.select_for_update(of=("self",)).filter(pk__in=wanted).order_by("pk")
        )
        if len(lots) != len(wanted):
            found = {lot.pk for lot in lots}
            raise Refused("unknown-code", code=next(code for code in wanted if code not in found))
        self._read(lots, perhaps_since - codes)
        return lots

    def _read(self, lots: list[Lot], perhaps_since: set[str]) -> None:
        """Read the crates' entries, and show crates that are spoken of late as they were."""
        fresh = [lot for lot in lots if lot.pk not in self._entries]
        self._entries |= {lot.pk: [] for lot in fresh}
        for entry in Movement.objects.filter(lot__in=fresh).order_by("pk"):
            self._entries[entry.lot_id].append(entry)
        for lot in fresh:
            if self.later(lot) and not self.known(lot):
                if lot.pk not in perhaps_since:
                    raise Conflict("not-yet-here", code=lot.pk)
                self.as_of_now(lot)
            if self.later(lot):
                _show(lot, self.known(lot))

    def _entries_of(self, lot: Lot) -> list[Movement]:
        if lot.pk not in self._entries:
            self._read([lot], {lot.pk})
        return self._entries[lot.pk]

    def lock_one(self, code: str) -> Lot:
        return self.lock([code])[0]

    def as_of_now(self, lot: Lot) -> None:
        """Speak of a crate as it is now from here on, whenever the act is said to have been."""
        self._of_now.add(lot.pk)
        _show(lot, self._entries[lot.pk])

    def moment(self, lot: Lot) -> datetime:
        """Return when this happened to a crate.

        Said by nobody it is now, and never before what the crate's ledger already knows: two
        requests may reach the lock in another order than they read the clock, and a clock may
        have been a day ahead for a while. What was written further ahead is undone first.
        """
        if self.act.told_at is not None and lot.pk not in self._of_now:
            return self.act.told_at
        entries = self._entries_of(lot)
        latest = max((entry.occurred_at for entry in entries), default=self.act.at)
        if latest - self.act.at > CLOCKS_DIFFER:
            stands = (entry.occurred_at for entry in standing(entries))
            latest = max(stands, default=self.act.at)
        is_undo = self.action.kind == Action.Kind.UNDO
        if latest - self.act.at > CLOCK_OFF and not is_undo:
            raise Conflict("later-entry", code=lot.pk)
        return max(latest, self.act.at)

    def known(self, lot: Lot) -> list[Movement]:
        """Return the standing entries of a crate that had happened by the act's moment."""
        return up_to(self._entries_of(lot), self.moment(lot))

    def later(self, lot: Lot) -> list[Movement]:
        """Return the standing entries of a crate that happened after this act."""
        moment = self.moment(lot)
        return [entry for entry in standing(self._entries_of(lot)) if entry.occurred_at > moment]

    def out_of(self, lot: Lot) -> dict[Outing, Decimal]:
        """Return what of a crate was out and not back at the act's moment, latest last."""
        return still_out(self.known(lot))

    def need_latest(self, lot: Lot) -> None:
        """Raise Conflict("happened-before") where something later was done to a crate.

        What makes new crates, or changes what one is, can't be put before what came after.
        """
        later = self.later(lot)
        if later:
            raise Conflict("happened-before", code=lot.pk, later=later[-1])

    def new_code(self) -> Code:
        return new_code(self.act.choose)

    def new_lot(self, **fields: Any) -> Lot:
        lot = Lot.objects.create(code=self.new_code(), **fields)
        self._entries[lot.pk] = []
        return lot

    def write(self, lot: Lot, kind: Movement.Kind, **fields: Any) -> Movement:
        """Write one entry about a crate and refold it. Quantity can't fall below zero.

        A late one leaves the figure of a count made later true: an entry of the opposite change
        stands beside that count. Raises Conflict("contradicts-later"), with nothing written,
        where something done later could then not have been done.
        """
        entry = self._entry(lot, kind, self.moment(lot), **fields)
        later = self.later(lot)
        if not later:
            self._put(lot, [entry])
            return entry
        together = self._with_count_kept(lot, entry, later)
        contradicted = self._contradicted(lot, together)
        if contradicted is not None:
            raise Conflict("contradicts-later", code=lot.pk, later=contradicted)
        self._put(lot, together)
        return entry

    def _entry(self, lot: Lot, kind: str, moment: datetime, **fields: Any) -> Movement:
        return Movement(action=self.action, lot=lot, kind=kind, occurred_at=moment, **fields)

    def _with_count_kept(self, lot: Lot, entry: Movement, later: list[Movement]) -> list[Movement]:
        """Return a late entry with what keeps the next count true, the gain first."""
        counts = (one for one in later if one.kind == Movement.Kind.COUNTED)
        counted = next(counts, None)
        if counted is None or not entry.change:
            return [entry]
        kept = self._entry(
            lot,
            Movement.Kind.COUNTED,
            counted.occurred_at,
            change=-entry.change,
            figure=counted.figure,
            note=COUNT_KEPT,
        )
        return sorted([entry, kept], key=lambda one: -one.change)

    def _contradicted(self, lot: Lot, fresh: list[Movement]) -> Movement | None:
        """Return the first entry that could no longer have been done if these were written."""
        entries = self._entries_of(lot)
        known_wrong = {entry.pk for entry in contradictions(entries)}
        following = max((entry.pk for entry in entries), default=0) + 1
        for number, entry in enumerate(fresh, start=following):
            entry.pk = number
        wrong = contradictions([*entries, *fresh])
        for entry in fresh:
            entry.pk = None
        return next((one for one in wrong if one.pk is None or one.pk not in known_wrong), None)

    def _put(self, lot: Lot, fresh: list[Movement]) -> None:
        for entry in fresh:
            self._count += 1
            entry.number = self._count
            entries = self._entries_of(lot)
            if sum((one.change for one in entries), entry.change) < 0:
                raise Conflict("more-than-there", code=lot.pk, left=lot.quantity, unit=lot.unit)
            entry.save(force_insert=True)
            entries.append(entry)
            self.changed |= moments_changed(entry, entries)
            self._note_the_past(entry, entries)
        refold(lot, entries)
        if self.later(lot):
            _show(lot, self.known(lot))

    def _note_the_past(self, entry: Movement, entries: list[Movement]) -> None:
        """Note what of an entry may reach other crates: nothing of what is done as it is said."""
        told, since = entry.told, lived_since(entry, entries)
        is_past = told.occurred_at < self.act.at
        if since is not None and (is_past or has_filled(entry, entries, since)):
            self.lived[entry.lot_id] = min(since, self.lived.get(entry.lot_id, since))
        if is_past and told.kind == Movement.Kind.OUT:
            self.takes.add(told.pk)


def new_code(choose: Callable[[str], str]) -> Code:
    """Return a code never given before. choose: see inventory.codes.draw_code."""
    while True:
        code, made = Code.objects.get_or_create(text=draw_code(choose))
        if made:
            return code


def forget_ages(codes: Iterable[str]) -> None:
    """Let entries of these crates keep no age, as what it was reckoned from is put right."""
    found = Movement.objects.filter(lot__in=list(codes), aged_days__isnull=False)
    found.update(aged_days=None)


def forget_pasts(place: Position) -> None:
    """Let memory know nothing of crates that ever stood at a place, whose room it names.

    They are locked in code order, as by whatever is done to crates, so that nobody deadlocks.
    """
    stood = Movement.objects.filter(position=place).values("lot")
    locked = Lot.objects.filter(pk__in=stood).select_for_update(no_key=True).order_by("pk")
    Lot.objects.filter(pk__in=locked.values("pk")).update(stamp=NO_STAMP)


def refold(lot: Lot, entries: Iterable[Movement]) -> None:
    """Set a crate's columns to what its entries say."""
    _show(lot, entries)
    lot.stamp = new_stamp()
    lot.save(update_fields=[*(name.removesuffix("_id") for name in FOLDED_FIELDS), "stamp"])


def new_stamp() -> int:
    """Return a number that no crate has had: by it memory knows that it has all of its entries.

    Drawn, not counted on: an entry that is rolled back, or gone with a copy played back, leaves
    none that another could get.
    """
    return 1 + secrets.randbits(62)


def _show(lot: Lot, entries: Iterable[Movement]) -> None:
    """Make a crate in memory what these entries add up to."""
    folded = fold(entries)
    for name in FOLDED_FIELDS:
        setattr(lot, name, getattr(folded, name))


def _need_possible_time(act: Act) -> None:
    """Raise Refused for something that is still to come, or is said to have been long ago."""
    if act.happened_at > act.at + CLOCKS_DIFFER:
        raise Refused("future", field="happened_at")
    if act.happened_at < act.at - OLDEST_LATE:
        raise Refused("too-long-ago", field="happened_at", days=OLDEST_LATE.days)


def need(lot: Lot, doing: Doing, *, past_use_by: bool = False, bought: bool = False) -> None:
    """Raise a Conflict unless this can be done to a crate now; see rotation/fit.py.

    past_use_by, bought: as there. Codes: "not-here", "past-use-by", "not-bought", "held".
    """
    reason = why_not(doing, CrateNow(lot.state, lot.held, past_use_by=past_use_by, bought=bought))
    if reason == "not-here":
        raise Conflict("not-here", code=lot.pk, state=lot.state)
    if reason == "past-use-by":
        raise Conflict("past-use-by", code=lot.pk)
    if reason == "not-bought":
        raise Conflict("not-bought", code=lot.pk)
    if reason == "held":
        raise Conflict("held", code=lot.pk)


def need_owner(act: Act) -> None:
    if not act.as_owner:
        raise Refused("owner-only")


def portion_of(lot: Lot, portion: Decimal | str) -> Decimal:
    """Return a quantity of a crate. portion: an amount, or "quarter", "half", … "all".

    Resolved under the crate's lock, so that the same tap sent twice is the same action.
    """
    if isinstance(portion, str):
        return measures.share_of(lot.quantity, portion, lot.unit)
    need_quantity(portion, lot.unit)
    if portion > lot.quantity:
        raise Conflict(
            "more-than-there", field="quantity", code=lot.pk, left=lot.quantity, unit=lot.unit
        )
    return portion


def need_quantity(quantity: Decimal, unit: str, field: str = "quantity") -> None:
    """Raise Refused unless this is a sensible amount: above zero, counts whole."""
    if quantity <= 0:
        raise Refused("not-positive", field=field)
    if quantity != quantity.quantize(measures.PLACES):
        raise Refused("too-fine", field=field)
    if measures.is_count(unit) and quantity != quantity.to_integral_value():
        raise Refused("not-whole", field=field, unit=unit)

"""The one door to the ledger: entries are written here, and crates refolded from them."""

import functools
import hashlib
import json
import secrets
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, is_dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, models, transaction

from inventory import measures
from inventory.codes import draw_code
from inventory.errors import Conflict, Refused
from inventory.ledger.fold import fold
from inventory.models import Action, Code, Farm, Lot, Movement, Person, Phone
from inventory.rotation.fit import CrateNow, Doing, why_not

CLOCKS_DIFFER = timedelta(minutes=10)


@dataclass(frozen=True)
class Act:
    """Who does something, when, and under which id.

    id: made once by the client or for the form; the same id again is the same action.
    at: now, as the view or command read it. as_owner: rights shown by the owner's password.
    proven: a password or PIN said who it is, not just a tap on a name.
    posted: hash of the form as it was sent, so that the same form again is known before it is
    checked against what has changed since.
    choose: picks one character of a text for new codes.
    """

    id: UUID
    person: Person
    farm: Farm
    at: datetime
    phone: Phone | None = None
    as_owner: bool = False
    proven: bool = False
    posted: str = ""
    choose: Callable[[str], str] = secrets.choice

    @property
    def today(self) -> date:
        return self.local_day(self.at)

    def local_day(self, moment: datetime) -> date:
        return moment.astimezone(self.farm.zone).date()


def recorded(kind: Action.Kind):
    """Make a function of (book, **content) an action of (act, **content) → Action.

    Everything happens in one transaction. The same id with the same content by the same person
    returns the first answer; with other content or another person it raises Conflict.
    """

    def wrap(function):
        @functools.wraps(function)
        def do(act: Act, **content) -> Action:
            fingerprint = _fingerprint(kind, content)
            with transaction.atomic():
                action = _begin(act, kind, fingerprint)
                if action is None:
                    return _first_answer(act, fingerprint)
                function(Book(act, action), **content)
                return action

        return do

    return wrap


def _begin(act: Act, kind: str, fingerprint: str) -> Action | None:
    """Return the new action, or None if one with this id stands already."""
    if Action.objects.filter(pk=act.id).exists():
        return None
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
                occurred_at=act.at,
            )
    except IntegrityError:
        # PostgreSQL: another request with this id was committed while we waited.
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


def _fingerprint(kind: str, content: dict) -> str:
    text = json.dumps([kind, content], default=_plain, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value):
    if isinstance(value, models.Model):
        return [value._meta.label, str(value.pk)]
    if isinstance(value, Decimal):
        return measures.plain(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, timedelta):
        return value.total_seconds()
    if is_dataclass(value):
        return asdict(value)
    if isinstance(value, UUID):
        return str(value)
    raise TypeError(f"{value!r} has no plain form")


FOLDED_FIELDS = ("quantity", "state", "position_id", "held", "kept_until", "seen_at")


class Book:
    """Writes the entries of one action and keeps its crates' columns true to the ledger."""

    def __init__(self, act: Act, action: Action):
        self.act = act
        self.action = action
        self._count = 0

    def lock(self, codes: Iterable[str]) -> list[Lot]:
        """Return these crates, locked in code order so that two people never deadlock."""
        wanted = sorted(set(codes))
        lots = list(
            Lot.objects.select_for_update(of=("self",)).filter(pk__in=wanted).order_by("pk")
        )
        if len(lots) != len(wanted):
            found = {lot.pk for lot in lots}
            raise Refused("unknown-code", code=next(code for code in wanted if code not in found))
        return lots

    def lock_one(self, code: str) -> Lot:
        return self.lock([code])[0]

    def new_code(self) -> Code:
        return new_code(self.act.choose)

    def new_lot(self, **fields) -> Lot:
        return Lot.objects.create(code=self.new_code(), **fields)

    def write(self, lot: Lot, kind: Movement.Kind, **fields) -> Movement:
        """Write one entry about a crate and refold it. Quantity can't fall below zero."""
        earlier = list(lot.movements.order_by("pk"))
        movement = Movement(
            action=self.action,
            number=self._count + 1,
            lot=lot,
            kind=kind,
            occurred_at=self._moment(earlier),
            **fields,
        )
        if sum((one.change for one in earlier), movement.change) < 0:
            raise Conflict("more-than-there", code=lot.pk, left=lot.quantity, unit=lot.unit)
        movement.save(force_insert=True)
        self._count += 1
        refold(lot, [*earlier, movement])
        return movement

    def _moment(self, earlier: list[Movement]) -> datetime:
        """Return the entry's time, never before what the crate's ledger already knows.

        Two requests may reach the lock in another order than they read the clock.
        """
        latest = max((movement.occurred_at for movement in earlier), default=self.act.at)
        if latest - self.act.at > CLOCKS_DIFFER:
            raise Conflict("later-entry", code=earlier[0].lot_id)
        return max(latest, self.act.at)


def new_code(choose: Callable[[str], str]) -> Code:
    """Return a code never given before. choose: see inventory.codes.draw_code."""
    while True:
        code, made = Code.objects.get_or_create(text=draw_code(choose))
        if made:
            return code


def refold(lot: Lot, movements: Iterable[Movement]) -> None:
    """Set a crate's columns to what its entries say."""
    folded = fold(movements)
    for name in FOLDED_FIELDS:
        setattr(lot, name, getattr(folded, name))
    lot.save(update_fields=[name.removesuffix("_id") for name in FOLDED_FIELDS])


def need(lot: Lot, doing: Doing) -> None:
    """Raise Conflict("not-here") or Conflict("held") unless this can be done to a crate now."""
    reason = why_not(doing, CrateNow(lot.state, lot.held))
    if reason == "not-here":
        raise Conflict("not-here", code=lot.pk, state=lot.state)
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

"""What the owner sets. Each change is kept with who, when, and what stood before."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Model

from inventory import measures
from inventory.actions.setup import Shelving, add_position, add_room
from inventory.errors import Refused
from inventory.ledger.book import Book, forget_pasts, need_owner, recorded
from inventory.ledger.weeks import forget_losses, forget_losses_of, forget_weeks
from inventory.models import (
    Action,
    AlarmClosing,
    Change,
    Container,
    Crop,
    Farm,
    Intake,
    LabelAddress,
    LogChange,
    MarketHabit,
    Outlet,
    Position,
    Room,
    RoomTarget,
    Source,
)
from inventory.queries.experience import estimate_of, read_harvests
from inventory.queries.labels import is_printed

ADDED = "added"
REMOVED = "removed"
# What the sums of every week were counted by.
_COUNTED_BY: dict[type[Model], tuple[str, ...]] = {
    Farm: ("time_zone", "week_start"),
    Source: ("kind",),
}
# What lives, and what they are worth, were reckoned by.
_LIVED_BY: dict[type[Model], tuple[str, ...]] = {
    Crop: ("price", "unit", "keeping_days"),
    Container: ("half_cooling_h",),
    Farm: ("unplaced_room_id",),
    Position: ("room_id",),
}
SET = "set"  # all that is ever kept of a password or a PIN


@recorded(Action.Kind.CHANGE)
def save_row(
    book: Book, *, row: Model, values: dict[str, object], secrets: tuple[str, ...] = ()
) -> None:
    """Keep a row of the owner's lists, new or changed.

    values: the fields that were set, by name, as the row already carries them. secrets: those
    of which only that they were set is kept.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    rows = type(row)._default_manager.select_for_update(no_key=True)
    stored = rows.filter(pk=row.pk).first() if row.pk else None
    row.save()
    if stored is None:
        note(book, row, ADDED, "", str(row))
    else:
        for name in values:
            note(book, row, name, _words(getattr(stored, name)), _words(getattr(row, name)))
    for name in secrets:
        note(book, row, name, "", SET)
    if isinstance(row, Room) and isinstance(stored, Room) and stored.target_c != row.target_c:
        _change_target(book, row)
    if isinstance(row, Position) and isinstance(stored, Position) and stored.room != row.room:
        forget_pasts(row)
    if stored is not None and _differ(stored, row, _COUNTED_BY):
        forget_weeks()
    if stored is not None and _differ(stored, row, _LIVED_BY):
        forget_losses()
    if isinstance(row, Farm) and row.label_address:
        since = {"since": book.act.at}
        LabelAddress.objects.get_or_create(address=row.label_address, defaults=since)


@recorded(Action.Kind.CHANGE)
def forget_address(book: Book, *, address: str) -> None:
    """Take an address that was set by mistake off the list of those whose labels are ours.

    Raises Refused("owner-only", "nothing-changed", "address-set", "address-printed").
    """
    need_owner(book.act)
    known = LabelAddress.objects.select_for_update().filter(address=address).first()
    if known is None:
        raise Refused("nothing-changed")
    if Farm.objects.filter(label_address=address).exists():
        raise Refused("address-set")
    if is_printed(known):
        raise Refused("address-printed")
    note(book, known, REMOVED, address, "")
    known.delete()


def _differ(before: Model, after: Model, by: dict[type[Model], tuple[str, ...]]) -> bool:
    """Whether something was set that figures kept of weeks are counted by."""
    return any(getattr(before, name) != getattr(after, name) for name in by.get(type(after), ()))


def _change_target(book: Book, room: Room) -> None:
    """Let the new target hold from now on; what was before stays as it was."""
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    RoomTarget.objects.create(room=room, since=book.act.at, target_c=room.target_c)
    LogChange.objects.note(room, book.act.at, book.act.at)
    forget_losses_of(book.act.at, None)


@recorded(Action.Kind.CHANGE)
def add_place(
    book: Book,
    *,
    room: Room,
    rack: str,
    shelf: int,
    place: str,
    capacity: int,
    cold_spot: bool,
) -> None:
    """Make one more labelled place.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    position = add_position(
        room, rack=rack, shelf=shelf, place=place, capacity=capacity, choose=book.act.choose
    )
    position.cold_spot = cold_spot
    position.save(update_fields=["cold_spot"])
    note(book, position, ADDED, "", f"{room} {position}")


@recorded(Action.Kind.CHANGE)
def open_room(book: Book, *, shelving: Shelving) -> None:
    """Make a room with its racks and shelves.

    Raises Refused("owner-only", "shelves").
    """
    need_owner(book.act)
    room = add_room(shelving, Room.objects.count(), book.act.choose)
    note(book, room, ADDED, "", str(room))


@recorded(Action.Kind.CHANGE)
def switch_crop(book: Book, *, crop: Crop) -> None:
    """Switch a crop on or off: whether the farm grows or buys it.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    crop.grown = not crop.grown
    crop.save(update_fields=["grown"])
    note(book, crop, "grown", _words(not crop.grown), _words(crop.grown))


@recorded(Action.Kind.CHANGE)
def pick_crops(book: Book, *, on: list[Crop], off: list[Crop]) -> None:
    """Switch several crops on and others off, in one go.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    for crops, grown in ((on, True), (off, False)):
        keys = [crop.pk for crop in crops]
        changed = list(Crop.objects.select_for_update().filter(pk__in=keys, grown=not grown))
        Crop.objects.filter(pk__in=keys).update(grown=grown)
        for crop in changed:
            note(book, crop, "grown", _words(not grown), _words(grown))


@dataclass(frozen=True)
class Habit:
    """What is set of one crop at a market; None is not said."""

    crop: Crop
    unit: str
    usually_sells: Decimal | None
    least_on_table: Decimal | None


@recorded(Action.Kind.CHANGE)
def set_habits(book: Book, *, outlet: Outlet, habits: list[Habit]) -> None:
    """Set what a market usually sells of some crops, and the least that lies on the table there.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    # Of two forms at once the second finds what the first set.
    outlet = Outlet.objects.select_for_update(no_key=True).get(pk=outlet.pk)
    for habit in habits:
        said = {"outlet": outlet, "crop": habit.crop, "unit": habit.unit}
        row = MarketHabit.objects.filter(**said).first()
        row = row or MarketHabit(**said)
        before = {name: _words(getattr(row, name)) for name in _SET_OF_A_HABIT}
        for name in _SET_OF_A_HABIT:
            setattr(row, name, getattr(habit, name))
        after = {name: _words(getattr(row, name)) for name in _SET_OF_A_HABIT}
        if before == after:
            continue
        row.save()
        for name in _SET_OF_A_HABIT:
            note(book, row, name, before[name], after[name])
        if not any(after.values()):
            row.delete()


_SET_OF_A_HABIT = ("usually_sells", "least_on_table")


@recorded(Action.Kind.CHANGE)
def adopt_keeping_days(book: Book, *, crop: Crop, days: Decimal) -> None:
    """Count with the keeping days the farm's own record offers. days: as it was shown. [d]

    Raises Refused("owner-only", "no-offer", "other-offer").
    """
    need_owner(book.act)
    offer = estimate_of(crop, read_harvests(crop, book.act.farm, book.act.at)).offer
    if offer is None:
        raise Refused("no-offer")
    if days != Decimal(str(offer)):
        raise Refused("other-offer", days=offer)
    before, crop.keeping_days = crop.keeping_days, days
    crop.save(update_fields=["keeping_days"])
    forget_losses()
    note(book, crop, "keeping_days", _words(before), _words(crop.keeping_days))


@recorded(Action.Kind.CHANGE)
def call_dates_best_before(book: Book) -> None:
    """Say of every packer's date whose kind nobody knows that it is a best before.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    kind = Intake.DateKind.BEST_BEFORE
    for intake in Intake.objects.filter(best_before__isnull=False, best_before_kind=""):
        intake.best_before_kind = kind
        intake.save(update_fields=["best_before_kind"])
        note(book, intake, "best_before_kind", "", kind)


@recorded(Action.Kind.CHANGE)
def reopen_alarm(book: Book, *, closing: AlarmClosing) -> None:
    """Take back that an alarm was closed; what was said to have been done stays on record here.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    note(book, closing, "alarm_done", f"{closing.done} ({closing.person})", "")
    closing.delete()


def note(book: Book, row: Model, field: str, before: str, after: str) -> None:
    """Keep what was set of a row, as the table of the owner's changes shows it."""
    if before == after:
        return
    Change.objects.create(
        action=book.action,
        subject=row._meta.model_name or "",
        key=str(row.pk),
        name=str(row)[:100],
        field=field,
        before=before[:200],
        after=after[:200],
    )


def _words(value: object) -> str:
    """Return a value as it is kept: yes or no, a plain number, an ISO day, a name."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal | int | float):
        return measures.plain(value)
    return value.isoformat() if isinstance(value, date) else str(value)

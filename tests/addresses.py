"""Every address of the log, filled from the rows that are there."""

from datetime import datetime
from uuid import uuid4

from django.urls import get_resolver

from inventory.models import (
    Action,
    AlarmClosing,
    Credit,
    Crop,
    Handover,
    Intake,
    Lot,
    Order,
    Outlet,
    PaperLog,
    Person,
    Phone,
    Position,
    ProbeReading,
    Reading,
    Room,
    RoomCheck,
    Sensor,
    Tag,
    TemperatureFile,
)
from inventory.queries.alarms import open_alarms
from inventory.views.crates import DOINGS
from inventory.views.owner import LISTS
from inventory.views.scan import MODES
from inventory.views.several import TASKS

# What answers without a sign-in.
OPEN = {
    "healthz",
    "sign-in",
    "set-up",
    "api-readings",
    "trust",
    "trust-file",
    "trust-qr",
    "delivery",
}


def names() -> set[str]:
    """The names of all addresses."""
    return {name for name in get_resolver("inventory.urls").reverse_dict if isinstance(name, str)}


def pages(at: datetime) -> dict[str, list[tuple]]:
    """What can be opened: the address's name, and what to fill it with."""
    lots = _keys(Lot.objects.order_by("-quantity", "pk"))
    one_of_each = [key for state in Lot.State for key in _keys(_in_state(state))[:1]]
    places, rooms = _keys(Position), _keys(Room)
    grown = _keys(_in_use(Crop))
    checks = RoomCheck.objects.dates("day", "month")
    return {name: [()] for name in _ALONE} | {
        "choose-crop": [(way,) for way in _WAYS],
        "bring-in": [(way, *crop) for way in _WAYS for crop in grown],
        "intake": _keys(Intake), "correct": _keys(Intake), "crate": lots,
        "do": [(*code, doing) for code in one_of_each for doing in DOINGS],
        "several": [(doing,) for doing in TASKS], "place": places, "count-place": places,
        "done": _keys(_by_themselves()), "written": _keys(_by_themselves())[:1],
        "pull": _keys(Order), "change-order": _keys(Order),
        "temperature-file": _keys(TemperatureFile),
        "hand-over": _keys(Order), "slip": _slips(), "credit": _slips(),
        "credit-photo": _photos(),
        "week-of": [("2026-06-10",), ("2026-06-17",)],
        "week-csv": [("2026-06-10",)],
        "week-here": [("2026-06-11", *key, "bunch") for key in grown],
        "room": rooms, "paper-log": rooms, "file-upload": rooms, "check": rooms, "log-csv": rooms,
        "checks": [(*room, f"{month:%Y-%m}") for room in rooms for month in checks]
        or [(*room, "2026-06") for room in rooms],
        "close-alarm": _alarms(at), "scan": [(mode,) for mode in MODES],
        "market-habits": _keys(Outlet.objects.filter(kind="market")),
        "list": [(name,) for name in LISTS],
        "list-new": [(name,) for name, kind in LISTS.items() if kind.new_form],
        "list-change": [
            (name, *key) for name, kind in LISTS.items() for key in _keys(_in_use(kind.model))
        ],
    }  # fmt: skip


def posts() -> dict[str, list[tuple]]:
    """What only takes a form, about everything that is there."""
    intakes, pulls = _keys(Intake), _keys(Order)
    tags, files, crops = _keys(Tag), _keys(TemperatureFile), _keys(_in_use(Crop))
    return {
        "earlier-stop": _keys(Outlet), "open-page": _slips(), "washed": [()],
        "sign-out": [()], "print-labels": [()], "scan-read": [()], "case": [()],
        "date-kinds": [()], "forget-address": [()],
        "switch": _keys(Person.objects.filter(is_active=True)),
        "hold-intake": intakes, "probe": intakes,
        "undo": _keys(Action), "plan-again": pulls, "close-pull": pulls, "reopen-pull": pulls,
        "take": pulls, "missing": pulls, "there": pulls, "go-for": pulls, "tell-short": pulls,
        "cancel-order": pulls, "repeat-order": pulls, "end-repeating": pulls,
        "old-take": [(1,)], "old-missing": [(1,)], "old-there": [(1,)],
        "count-crate": _keys(Lot),
        "all-right": _keys(Position),
        "bind-tag": tags, "free-tag": tags, "unpair": _keys(Phone), "revoke": _keys(Sensor),
        "undo-reading": _keys(Reading)[:1], "undo-probe": _keys(ProbeReading)[:1],
        "undo-check": _keys(RoomCheck)[:1], "undo-paper-log": _keys(PaperLog)[:1] or [(uuid4(),)],
        "reopen-alarm": _keys(AlarmClosing),
        "answer-suggestion": [("2026-06-10",)],
        "toggle-crop": crops, "adopt": crops, "wrong-reading": _keys(Reading)[:1],
        "wrong-file": files, "take-up": files,
    }  # fmt: skip


_WAYS = ("harvest", "delivery")
_ALONE = (
    "home", "more", "find", "who", "owner", "put-away", "ledger", "ledger-csv", "new-pull",
    "orders", "market", "market-load", "rooms", "unseen", "count", "week", "sensors", "scan-choose",
    "count-found", "walk", "cut", "available", "available-csv",
    "end-discards", "labels", "label-outline", "reprint", "label-settings", "tags", "tag-list",
    "lists", "health", "run", "crates-out", "look-round", "catch-up", "door-sheet",
    "farm", "phones", "new-room", "pick-crops",
)  # fmt: skip


def _keys(rows) -> list[tuple]:
    """The keys of a model's rows, each as what fills an address."""
    rows = rows if hasattr(rows, "values_list") else rows.objects.order_by("pk")
    return list(rows.values_list("pk"))


def _by_themselves():
    """Actions told on a page of their own, not on that of an order, a slip or a week."""
    return Action.objects.filter(
        order_entry=None, empties=None, credit=None, suggestion=None, estimates=None
    ).order_by("pk")


def _slips() -> list[tuple]:
    return list(Handover.objects.values_list("number"))


def _photos() -> list[tuple]:
    shown = Credit.objects.standing().filter(has_photo=True)
    return list(shown.values_list("handover__number", "action"))


def _in_use(model):
    """All rows of one of the owner's lists; of the many crops those the farm has."""
    return model.objects.filter(grown=True) if model is Crop else model


def _in_state(state: str):
    return Lot.objects.filter(state=state).order_by("-quantity", "pk")


def _alarms(at: datetime) -> list[tuple]:
    """Alarms going on; where there is none, those that were closed."""
    going_on = [(alarm.room.pk, alarm.started_s, alarm.excursion.side) for alarm in open_alarms(at)]
    return going_on or [
        (closing.room_id, int(closing.started_at.timestamp()), closing.side)
        for closing in AlarmClosing.objects.all()
    ]

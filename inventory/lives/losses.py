"""Where the keeping life of what left was lost, in crate-days. Pure.

At its best temperature produce ages a day a day; that is what keeping costs, and no loss. Lost is
what it aged beyond that, and the days it stayed though a younger crate went: see `lost_days`.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from inventory.ledger.fold import MARKET, SENT_BACK, Entry, Kind, Outing, standing
from inventory.lives.stays import PARTS

FORGOTTEN = "forgotten"
STEPS = (*PARTS, FORGOTTEN)


@dataclass(frozen=True)
class Leaving:
    """Some of a crate that left for good. lived_to: up to when its life counts.

    What was sold at a stall left when that day was closed, and its life counts until it went there.
    """

    at: datetime
    lived_to: datetime
    amount: Decimal


def leavings(entries: Iterable[Entry]) -> list[Leaving]:
    """Return what of a crate left for good, by all its entries, in order of time.

    What came back did not leave, nor did what is at a market that is not closed. What went back
    to its supplier is none of our loss.
    """
    gone: list[Leaving] = []
    out: dict[Outing, list[Leaving]] = defaultdict(list)
    for entry in standing(entries):
        at = entry.occurred_at
        if entry.kind == Kind.DISCARDED:
            gone.append(Leaving(at, at, -entry.change))
        elif entry.kind == Kind.OUT:
            out[Outing.of(entry)].append(Leaving(at, at, entry.amount))
        elif entry.kind in (Kind.BACK, Kind.SETTLED):
            taken = _latest_of(out[Outing.of(entry)], entry.amount)
            if entry.kind == Kind.SETTLED:
                gone += [replace(part, at=at) for part in taken]
    left = [
        part
        for outing, parts in out.items()
        if outing.purpose not in (MARKET, SENT_BACK)
        for part in parts
    ]
    return sorted([*gone, *left], key=lambda part: part.at)


def _latest_of(parts: list[Leaving], amount: Decimal) -> list[Leaving]:
    """Take so much away from what went out, the latest first, and return what was taken."""
    taken = []
    while parts and amount > 0:
        last = parts.pop()
        some = min(last.amount, amount)
        taken.append(replace(last, amount=some))
        amount -= some
        if last.amount > some:
            parts.append(replace(last, amount=last.amount - some))
    return taken


@dataclass(frozen=True)
class Went:
    """What left of one crate, and what its life was spent on until then.

    aged: days at the best temperature by step; passed: days by the clock. forgotten_days: of
    those it stayed though a younger crate went. keeping_days: the life it came with. [d]
    share: of what the crate held, 0 to 1. value: at the farm's price, None without one.
    """

    crop_id: int
    aged: Mapping[str, float]
    passed: Mapping[str, float]
    forgotten_days: float
    keeping_days: float
    share: float
    value: float | None


def lost_days(went: Went) -> dict[str, float]:
    """Return the days of keeping life that were lost, by step. [d]

    Formula: field, slow cooling, room and stall: days aged less days passed; forgotten: days
    passed. Past its life a crate has none to lose: all steps then shrink by life / days aged.
    Example: kale, Q10 3 and 2.5, 2 h at 20 °C in the field and a day at 8 °C in the room
    → field 0.542, room 1.408
    """
    aged = sum(went.aged.values())
    counts = min(went.keeping_days / aged, 1.0) if aged > 0 else 1.0
    lost = {part: went.aged[part] - went.passed[part] for part in PARTS}
    lost[FORGOTTEN] = min(went.forgotten_days, sum(went.passed.values()))
    return {step: days * counts for step, days in lost.items()}


@dataclass(frozen=True)
class Loss:
    """What was lost of a crop in one step. money: None where some of it has no price."""

    crate_days: float = 0.0
    money: float | None = 0.0

    def __add__(self, other: "Loss") -> "Loss":
        known = self.money is not None and other.money is not None
        money = (self.money or 0) + (other.money or 0) if known else None
        return Loss(self.crate_days + other.crate_days, money)


def add_up(all_went: Iterable[Went]) -> dict[tuple[int, str], Loss]:
    """Return what was lost by crop and step. Money is the value by the share of life lost."""
    sums: dict[tuple[int, str], Loss] = defaultdict(Loss)
    for went in all_went:
        for step, days in lost_days(went).items():
            lost_share = days / went.keeping_days
            money = None if went.value is None else went.value * lost_share
            sums[went.crop_id, step] += Loss(days * went.share, money)
    return dict(sums)

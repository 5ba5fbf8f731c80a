"""The cut list: what is to be cut on which day for what the plan will lack.

No optimum is claimed. Each line goes to the last day that still holds, before the buyer's own day
where there is one: greens are cut the day before and cooled (common practice, no source). Then a
day with less than a crate of a crop is cut with the day before on which that crop is cut anyway.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

SOON_DAYS = 14  # firm lines due later than this come after wishes, as in the plan
# A record that says more tells of one bad day, not of the crop. Ours.
MOST_LOST = Fraction(1, 2)
_NONE = Decimal(0)


@dataclass(frozen=True)
class Lack:
    """A line of the plan that lacks something. crop: of what, with its unit.

    due: days from today. keeps: days it still keeps on arrival, by how many days before that it
    was cut; minimum_days: how many it must. refused: tags of blocks this buyer refuses.
    """

    line: str
    crop: str
    quantity: Decimal
    due: int
    keeps: Sequence[float]
    minimum_days: float = 0
    refused: frozenset[str] = frozenset()
    firm: bool = True
    said: int = 0


@dataclass(frozen=True)
class Stand:
    """What a block should give of a crop, between two days from today, both included.

    not_before: the first day on which the block may be harvested.
    """

    block: str
    crop: str
    quantity: Decimal
    from_day: int = 0
    until: int = SOON_DAYS
    not_before: int = 0
    tags: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Habit:
    """How a crop is cut. crate: what one holds, None where nobody knows. loss: what is lost of
    what was cut, as a share. whole: it is counted, not weighed."""

    crate: Decimal | None = None
    loss: Fraction = Fraction(0)
    whole: bool = True


@dataclass(frozen=True)
class Cut:
    """What to cut on a day of one crop on one block. sound: what of it is for the lines."""

    day: int
    crop: str
    block: str
    quantity: Decimal
    sound: Decimal
    crates: int | None
    lines: tuple[tuple[str, Decimal], ...]


@dataclass(frozen=True)
class CutList:
    """The cuts by day; lacking: what no block gives, by line. too_much: days beyond the most."""

    cuts: tuple[Cut, ...]
    lacking: Mapping[str, Decimal]
    too_much: tuple[int, ...] = ()


def cut_list(
    lacks: Iterable[Lack],
    field: Iterable[Stand],
    harvest_days: Collection[int],
    habits: Mapping[str, Habit],
    most_crates: int | None = None,
) -> CutList:
    """Return what to cut when. harvest_days: days from today; most_crates: that can be cut a day.

    Never more than the field gives. Lines are served as the plan serves them: firm ones due within
    14 days, then wishes, then later firm ones; inside each by day, then by when they were said.

    Example: of 66 bunches cut 6 were lost, so that for 60 due in three days 66 are cut in two:
    >>> inn = Lack("inn", "kale", Decimal(60), due=3, keeps=(9, 8, 7), minimum_days=5)
    >>> bed = Stand("Bed 3", "kale", Decimal(100))
    >>> habits = {"kale": Habit(Decimal(24), Fraction(6, 66))}
    >>> cut_list([inn], [bed], [0, 2, 4], habits).cuts
    (Cut(day=2, crop='kale', block='Bed 3', quantity=Decimal('66'), sound=Decimal('60'), \
crates=3, lines=(('inn', Decimal('60')),)),)
    """
    cutter = _Cutter(list(field), sorted(harvest_days), habits)
    lacking = {}
    for lack in sorted(lacks, key=_rank):
        rest = cutter.cut_for(lack)
        if rest:
            lacking[lack.line] = rest
    cutter.merge_small_days()
    cuts = tuple(cutter.cuts())
    return CutList(cuts, lacking, _too_much(cuts, most_crates))


def _rank(lack: Lack) -> tuple:
    later = lack.firm and lack.due > SOON_DAYS
    return (later, not lack.firm, lack.due, lack.said, lack.line)


def _too_much(cuts: Iterable[Cut], most_crates: int | None) -> tuple[int, ...]:
    crates: dict[int, int] = defaultdict(int)
    for cut in cuts:
        crates[cut.day] += cut.crates or 0
    return tuple(
        day for day, number in crates.items() if most_crates is not None and number > most_crates
    )


def last_cut_day(due: int, harvest_days: Iterable[int]) -> int | None:
    """Return the last harvest day before a day, else that day itself, else None."""
    days = [day for day in harvest_days if day <= due]
    before = [day for day in days if day < due]
    return max(before or days, default=None)


def loss_of(lost: Decimal, brought_in: Decimal) -> Fraction:
    """Return which share of what was brought in was lost, at most half of it.

    Example: 6 of 66 → 1/11
    """
    if brought_in <= 0:
        return Fraction(0)
    return min(max(Fraction(lost) / Fraction(brought_in), Fraction(0)), MOST_LOST)


def to_cut(sound: Decimal, habit: Habit) -> Decimal:
    """Return what to cut for so much that is sound: counts whole, weights in tenths, rounded up.

    Formula: sound / (1 - loss). Example: 60 with a loss of 1/11 → 66
    """
    exact = Fraction(sound) / (1 - habit.loss)
    return Decimal(ceil(exact)) if habit.whole else Decimal(ceil(exact * 10)) / 10


def sound_of(cut: Decimal, habit: Habit) -> Decimal:
    """Return what is sound of so much that is cut, never rounded up.

    Example: 66 with a loss of 1/11 → 60
    """
    exact = Fraction(cut) * (1 - habit.loss)
    return Decimal(floor(exact)) if habit.whole else Decimal(floor(exact * 1000)) / 1000


def crates_for(quantity: Decimal, crate: Decimal | None) -> int | None:
    """Return how many crates so much fills, the last perhaps in part. Example: 66 of 24 → 3"""
    return ceil(quantity / crate) if crate else None


class _Cutter:
    """Puts lines on days and blocks, and counts what the field still gives."""

    def __init__(self, field: list[Stand], days: list[int], habits: Mapping[str, Habit]):
        self._days, self._habits = days, habits
        self._stands = {(stand.crop, stand.block): stand for stand in field}
        self._left = {
            key: sound_of(stand.quantity, habits[stand.crop]) for key, stand in self._stands.items()
        }
        self._lacks: dict[str, Lack] = {}
        # crop → day → (block, line) → how much
        self._put: dict[str, dict[int, dict[tuple[str, str], Decimal]]] = defaultdict(dict)

    def cut_for(self, lack: Lack) -> Decimal:
        """Put what a line lacks on the best of days and blocks; return what no block gives."""
        self._lacks[lack.line] = lack
        rest = lack.quantity
        for day, stand in self._choices(lack):
            amount = min(rest, self._left[stand.crop, stand.block])
            if amount > 0:
                self._left[stand.crop, stand.block] -= amount
                rest -= amount
                self._put[lack.crop].setdefault(day, {})[stand.block, lack.line] = amount
        return rest

    def _choices(self, lack: Lack) -> list[tuple[int, Stand]]:
        """Return the blocks that will do with their day: later days first, then what fewer
        buyers take, then what is ready first."""
        found = []
        for stand in self._stands.values():
            days = [day for day in self._days if _holds(lack, stand, day)]
            day = last_cut_day(lack.due, days)
            if day is not None:
                found.append((day, stand))
        return sorted(
            found,
            key=lambda choice: (
                choice[0] == lack.due,
                -choice[0],
                -len(choice[1].tags),
                choice[1].from_day,
                choice[1].block,
            ),
        )

    def merge_small_days(self) -> None:
        """From late to early, cut what fills no crate with the day before, if all of it holds."""
        for crop, days in self._put.items():
            crate = self._habits[crop].crate or _NONE
            for day in sorted(days, reverse=True):
                before = max((other for other in days if other < day), default=None)
                if before is None or self._amount(crop, days[day]) >= crate:
                    continue
                if all(self._may_move(crop, each, before) for each in days[day]):
                    for each, amount in days.pop(day).items():
                        days[before][each] = days[before].get(each, _NONE) + amount

    def _may_move(self, crop: str, each: tuple[str, str], day: int) -> bool:
        block, line = each
        return _holds(self._lacks[line], self._stands[crop, block], day)

    def _amount(self, crop: str, put: Mapping[tuple[str, str], Decimal]) -> Decimal:
        by_block = _by_block(put)
        habit = self._habits[crop]
        return sum((to_cut(_sum(lines), habit) for lines in by_block.values()), _NONE)

    def cuts(self) -> Iterable[Cut]:
        """Yield the cuts by day, crop and block. Rounding never asks for more than there is."""
        there = {key: stand.quantity for key, stand in self._stands.items()}
        days = sorted((day, crop) for crop, days in self._put.items() for day in days)
        for day, crop in days:
            habit = self._habits[crop]
            for block, lines in sorted(_by_block(self._put[crop][day]).items()):
                sound = _sum(lines)
                quantity = min(to_cut(sound, habit), there[crop, block])
                there[crop, block] -= quantity
                crates = crates_for(quantity, habit.crate)
                yield Cut(day, crop, block, quantity, sound, crates, tuple(sorted(lines)))


def _holds(lack: Lack, stand: Stand, day: int) -> bool:
    """Return whether a line may be cut for on a block on a day."""
    days_before = lack.due - day
    return (
        lack.crop == stand.crop
        and not stand.tags & lack.refused
        and max(stand.from_day, stand.not_before) <= day <= stand.until
        and 0 <= days_before < len(lack.keeps)
        and lack.keeps[days_before] >= lack.minimum_days
    )


def _by_block(
    put: Mapping[tuple[str, str], Decimal],
) -> dict[str, list[tuple[str, Decimal]]]:
    found: dict[str, list[tuple[str, Decimal]]] = defaultdict(list)
    for (block, line), amount in put.items():
        found[block].append((line, amount))
    return found


def _sum(lines: Iterable[tuple[str, Decimal]]) -> Decimal:
    return sum((amount for _line, amount in lines), _NONE)

"""Order books made by chance, and what a general solver makes of them.

scipy.optimize.milp is told the rules of inventory/rotation/pulls.py again, in its own terms.
"""

import random
from collections import defaultdict
from decimal import Decimal

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, vstack

from inventory.rotation import PullLine, PullLot

TAGS = ("bought-in", "not-organic")


def made_book(
    lots: int, lines: int, crops: int = 1, alike: bool = False, seed: int = 1, wanted: float = 0.8
) -> tuple[list[PullLot], list[PullLine]]:
    """Return a book in which about the share `wanted` of all there is is asked for.

    A crate's days at a buyer's are its own less what the days until then and the fridge there
    cost. alike: about ten crates of one harvest; else each crate has a life of its own.
    """
    chance = random.Random(seed)
    book_lines = [_line(chance, number, number % crops) for number in range(lines)]
    book_lots = [_lot(chance, number, number % crops, alike, lots) for number in range(lots)]
    of_crop = defaultdict(list)
    for line in book_lines:
        of_crop[line.crop].append(line)
    parts = [chance.uniform(0.4, 1.6) for _ in book_lines]
    share = wanted * float(sum(lot.quantity for lot in book_lots)) / sum(parts)
    made = [
        changed(line, quantity=Decimal(f"{share * part:.1f}"))
        for line, part in zip(book_lines, parts, strict=True)
    ]
    return [_at_buyers(lot, of_crop[lot.crop]) for lot in book_lots], made


def changed(made, **changes):
    return type(made)(**{**vars(made), **changes})


def _line(chance: random.Random, number: int, crop: int) -> PullLine:
    return PullLine(
        f"o{number:03}", f"crop {crop}", Decimal(0), chance.choice((0, 2, 3, 4, 5, 7)),
        frozenset(tag for tag in TAGS if chance.random() < 0.2),
        firm=chance.random() < 0.8, due=chance.randrange(0, 8), said=chance.randrange(1000),
    )  # fmt: skip


def _lot(chance: random.Random, number: int, crop: int, alike: bool, lots: int) -> PullLot:
    harvest = chance.randrange(max(1, lots // 10)) if alike else number
    of_harvest = random.Random(harvest) if alike else chance
    life = of_harvest.randrange(3, 30) if alike else 3 + number
    return PullLot(
        f"L{number:04}", f"crop {crop}", Decimal(chance.randrange(40, 200)) / 10, {"": life},
        walk=chance.randrange(200), rank=life * 1000 + harvest, part=chance.random() < 0.1,
        tags=frozenset(tag for tag in TAGS if of_harvest.random() < 0.15),
        life_days=life, harvest=str(harvest),
    )  # fmt: skip


def _at_buyers(lot: PullLot, lines: list[PullLine]) -> PullLot:
    # A fridge of 5 °C costs about half the days that 0 °C would leave.
    life = min(lot.life, 30)
    days = {line.id: (life - line.due) * (0.5 + 0.05 * (line.said % 5)) for line in lines}
    return lot._replace(days_left=days)


class Solver:
    """The amounts of all pairs that may be, found by scipy.optimize.milp.

    what is given to `least` is what one piece of each pair weighs; what was found is held to by
    `hold`, so that goals are met one after another. Whole lines are not its business.
    """

    def __init__(self, lots, lines):
        of_crop = defaultdict(list)
        for lot in lots:
            of_crop[lot.crop].append(lot)
        self.pairs = [
            (lot, line) for line in lines for lot in of_crop[line.crop]
            if not lot.tags & line.refused and lot.days_left[line.id] >= line.minimum_days
        ]  # fmt: skip
        lot_row = {lot.code: row for row, lot in enumerate(lots)}
        line_row = {line.id: row for row, line in enumerate(lines, len(lots))}
        rows = [lot_row[lot.code] for lot, _ in self.pairs]
        rows += [line_row[line.id] for _, line in self.pairs]
        columns = list(range(len(self.pairs))) * 2
        limits = [float(lot.quantity) for lot in lots] + [float(line.quantity) for line in lines]
        shape = len(limits), len(self.pairs)
        self.rows = coo_array((np.ones(len(rows)), (rows, columns)), shape).tocsr()
        self.low, self.high = np.full(len(limits), -np.inf), np.array(limits)

    def weights(self, weigh) -> np.ndarray:
        return np.array([weigh(lot, line) for lot, line in self.pairs], dtype=float)

    def least(self, weights: np.ndarray) -> float:
        if not self.pairs:
            return 0
        limits = LinearConstraint(self.rows, self.low, self.high)
        found = milp(weights, constraints=limits, bounds=Bounds(0, np.inf))
        assert found.success, found.message
        return found.fun

    def hold(self, weights: np.ndarray, value: float) -> None:
        """Let the sum be no more than what was found, but for what the solver may be off by."""
        self.rows = vstack([self.rows, coo_array(weights[np.newaxis])]).tocsr()
        self.low = np.append(self.low, -np.inf)
        self.high = np.append(self.high, round(value, 6) + 1e-6)

    def met(self, weigh) -> float:
        """Return the least there can be of something, and hold to it from then on."""
        weights = self.weights(weigh)
        value = self.least(weights)
        self.hold(weights, value)
        return value


class MixedSolver(Solver):
    """A solver that gives whole lines nothing but whole crates, of those not opened."""

    def __init__(self, lots, lines):
        super().__init__(lots, lines)
        self.pairs_whole = np.array([line.whole for _, line in self.pairs], dtype=float)
        # A whole line counts crates, not amounts: a column's one piece is all of the crate.
        sizes = np.array([float(lot.quantity) for lot, _ in self.pairs])
        self.sizes = np.where(self.pairs_whole > 0, sizes, 1.0)
        self.rows = (self.rows * self.sizes).tocsr()
        self.most = np.array(
            [float(not lot.part) if line.whole else np.inf for lot, line in self.pairs]
        )

    def weights(self, weigh) -> np.ndarray:
        return super().weights(weigh) * self.sizes

    def least(self, weights: np.ndarray) -> float:
        if not self.pairs:
            return 0
        limits = LinearConstraint(self.rows, self.low, self.high)
        found = milp(
            weights, constraints=limits, bounds=Bounds(0, self.most), integrality=self.pairs_whole
        )
        assert found.success, found.message
        return found.fun


def life_of(lot: PullLot, line: PullLine) -> int:
    return -lot.life if line.freshest else lot.life


def figures(plan, lots, lines) -> tuple[float, float]:
    """Return the amount filled, and the amount times the life shipped."""
    by_code, by_id = {lot.code: lot for lot in lots}, {line.id: line for line in lines}
    filled = sum((take.quantity for take in plan.takes), Decimal(0))
    shipped = sum(
        take.quantity * life_of(by_code[take.lot], by_id[take.line]) for take in plan.takes
    )
    return float(filled), float(shipped)


def fewest_opened(lots, got: dict[str, Decimal], may) -> int:
    """Return how few full crates need be left part-taken for the lines to get what they got.

    By scipy.optimize.milp: of each crate how much goes to each line, whether all of it is taken,
    whether it is opened. may: whether a crate may go to a line, by its id.
    """
    pairs = [(n, line) for n, lot in enumerate(lots) for line in got if may(lot, line)]
    count, size = len(lots), np.diag([float(lot.quantity) for lot in lots])
    taken = np.array([[float(n == own) for n, _ in pairs] for own in range(count)])
    each = np.array([[float(line == id) for _, line in pairs] for id in got])
    flags, none = np.eye(count), np.zeros((count, count))
    amounts = np.array([float(amount) for amount in got.values()])
    limits = [
        LinearConstraint(np.hstack([taken, -size, -size]), -np.inf, 0),  # all of it, or opened
        LinearConstraint(np.hstack([taken, -size, none]), 0, np.inf),  # all of it: so it is taken
        LinearConstraint(np.hstack([0 * taken, flags, flags]), -np.inf, 1),
        LinearConstraint(np.hstack([each, np.zeros((len(got), 2 * count))]), amounts, amounts),
    ]
    nothing = np.zeros(len(pairs) + count)
    weights = np.hstack([nothing, [float(not lot.part) for lot in lots]])
    whole = np.hstack([np.zeros(len(pairs)), np.ones(2 * count)])
    high = np.hstack([np.full(len(pairs), np.inf), np.ones(2 * count)])
    found = milp(weights, integrality=whole, bounds=Bounds(0, high), constraints=limits)
    assert found.success, found.message
    return round(found.fun)


def opened(lots, takes) -> int:
    """Return how many full crates are left part-taken. takes: (code, quantity)."""
    taken: dict[str, Decimal] = defaultdict(Decimal)
    for code, quantity in takes:
        taken[code] += quantity
    return sum(0 < taken[lot.code] < lot.quantity for lot in lots if not lot.part)

"""The Weibull distribution of keeping lives, fitted to ages of which many are known in part.

Share still good at age t: S(t) = exp(-(t / scale) ^ shape). Formulas and notation: Nelson, Applied
Life Data Analysis, Wiley 1982 (from memory).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

# A fit outside these has run away: the ages told nothing of the spread, or nothing at all.
LOWEST_SHAPE, HIGHEST_SHAPE = 0.2, 30.0
# No handbook range is read as narrower than this shape's, 1.17 from end to end.
HIGHEST_HANDBOOK_SHAPE = 20.0
# The shares gone that the two ends of a handbook's range are read as.
EARLY, LATE = 0.1, 0.9

_PSEUDO_QUANTILES = tuple((2 * number + 1) / 20 for number in range(10))
_STEPS, _HALVINGS = 60, 40
_CLOSE = 1e-10  # of the log-likelihood: what a Newton step may still promise
_LONGEST = 500.0  # exponent beyond which exp() is only "far too large"
_FARTHEST = 20.0  # the largest exponent to set out from


class NoFit(ValueError):
    """The ages do not settle a Weibull: raised by fit_weibull; callers keep the handbook's life."""


@dataclass(frozen=True)
class Weibull:
    """A distribution of keeping lives. shape: > 0, the higher the closer together. scale: [d]"""

    shape: float
    scale: float

    def share_good(self, age_days: float) -> float:
        """Return the share still good at an age, 1 to 0. [d]

        Formula: exp(-(age / scale) ^ shape). Example: shape 2, scale 10, age 5 → 0.7788
        """
        return math.exp(-((age_days / self.scale) ** self.shape)) if age_days > 0 else 1.0

    def age_at(self, share_gone: float) -> float:
        """Return the age by which this share has gone, 0 ≤ share < 1. [d]

        Formula: scale · (-ln(1 - share)) ^ (1 / shape); the inverse of share_good.
        Example: shape 10.87, scale 12.256, share 0.1 → 9.96 (of sliced bread: Elías et al.,
        Anales Científicos 72(1):27-33, 2011)
        """
        return self.scale * (-math.log1p(-share_gone)) ** (1 / self.shape)


@dataclass(frozen=True)
class Fit(Weibull):
    """A fitted distribution. log_likelihood: at its maximum, densities per day."""

    log_likelihood: float


@dataclass(frozen=True, slots=True)
class Piece:
    """What one crate tells, in logarithms of days: gone after `low` and by `high`.

    low None: gone at the first look. high None: still good at `low`. Both equal: gone just then.
    """

    low: float | None
    high: float | None


Ages = Iterable[float]
Spans = Iterable[tuple[float, float]]


def fit_weibull(exact: Ages, right: Ages = (), intervals: Spans = ()) -> Fit:
    """Return the Weibull that makes these ages likeliest. [d]

    exact: ages at which something ended, > 0. right: ages at which it was still good, ≥ 0.
    intervals: (low, high), still good at low and gone by high, 0 ≤ low < high; low 0: gone at
    the first look. All in days; the order does not matter.
    Formula: the log-likelihood, ln f(t), ln S(t), ln(S(low) - S(high)), is concave in
    (shape, -shape · ln scale), so Newton steps, halved where they overshoot, find its only top.
    Limits: raises NoFit where there is none, as when nothing ended, when one age parts all that
    was good from all that was gone, or when everything ended at one age; and where the shape
    comes out beyond 0.2 to 30. Raises ValueError for an age that can't be.
    Source: concave as Burridge, J. R. Stat. Soc. B 43:41-45, 1981 shows (from memory).
    Example: exact 54, 187, 216, 240, 244, 335, 361, 373, 375, 386 and ten times right 500 →
    shape 1.7208, scale 606.53 (NIST/SEMATECH e-Handbook, 8.4.1.3)
    """
    pieces = _pieces(exact, right, intervals)
    return fit_pieces(pieces, [1.0] * len(pieces))


def fit_pieces(
    pieces: Sequence[Piece], weights: Sequence[float], start: Weibull | None = None
) -> Fit:
    """Return the likeliest Weibull, each piece counted as often as its weight says, ≥ 0.

    start: where to set out from; the answer does not depend on it, only the time it takes.
    Raises NoFit as fit_weibull does.
    """
    counted = [(piece, weight) for piece, weight in zip(pieces, weights, strict=True) if weight > 0]
    _refuse_parted(piece for piece, _ in counted)
    centre = start.scale if start else math.exp(_middle(counted))
    return _climb(_sorted(counted, math.log(centre)), math.log(centre), start)


def handbook_weibull(low_days: float, high_days: float) -> Weibull:
    """Return the handbook's range, read as the ages by which one and nine in ten have gone. [d]

    low_days, high_days: the published range, 0 < low ≤ high. How to read it is our assumption.
    Formula: shape = ln(ln 10 / -ln 0.9) / ln(high / low); scale so that one in ten has gone at
    low. A range narrower than 1.17 from end to end, a single figure too, is given shape 20 and
    keeps its low end: no lives are known to lie closer together than that (common sense, no
    source). Raises ValueError for other ends. Example: 10 to 14 → shape 9.17, scale 12.78
    """
    if not 0 < low_days <= high_days:
        raise ValueError(f"no range of lives runs from {low_days} to {high_days} days")
    spread = math.log(high_days / low_days)
    between = _log_hazard(LATE) - _log_hazard(EARLY)
    narrow = spread * HIGHEST_HANDBOOK_SHAPE < between
    shape = HIGHEST_HANDBOOK_SHAPE if narrow else between / spread
    return Weibull(shape, low_days / math.exp(_log_hazard(EARLY) / shape))


def pseudo_ages(handbook: Weibull) -> list[float]:
    """Return ten ages that stand for the handbook: at shares gone 0.05, 0.15 … 0.95. [d]

    Example: 10 to 14 → 9.24, 10.48 … 14.40
    """
    return [handbook.age_at(share) for share in _PSEUDO_QUANTILES]


def _log_hazard(share_gone: float) -> float:
    """Return ln(-ln(1 - share)), the ordinate of Weibull paper."""
    return math.log(-math.log1p(-share_gone))


def _pieces(exact: Ages, right: Ages, intervals: Spans) -> list[Piece]:
    """Return what each age tells; what was good at age 0 tells nothing and is left out."""
    pieces = [Piece(_log(age), _log(age)) for age in exact]
    for age in right:
        if age != 0:
            pieces.append(Piece(_log(age), None))
    for low, high in intervals:
        if not 0 <= low < high:
            raise ValueError(f"nothing ends between {low} and {high} days")
        pieces.append(Piece(_log(low) if low else None, _log(high)))
    return pieces


def _log(age: float) -> float:
    if not 0 < age < math.inf:
        raise ValueError(f"no crate ends at {age} days")
    return math.log(age)


def _refuse_parted(pieces: Iterable[Piece]) -> None:
    """Raise NoFit where one age lies after all that was good and before all that was gone.

    The closer together all lives are put around that age, the likelier: the shape has no end.
    """
    pieces = list(pieces)
    good = [piece.low for piece in pieces if piece.low is not None]
    gone = [piece.high for piece in pieces if piece.high is not None]
    if max(good, default=-math.inf) <= min(gone, default=math.inf):
        raise NoFit("one age parts what was good from what was gone")


def _middle(counted: Sequence[tuple[Piece, float]]) -> float:
    """Return the weighted mean of all the ends there are, in logarithms of days."""
    ends = [
        (end, weight)
        for piece, weight in counted
        for end in (piece.low, piece.high)
        if end is not None
    ]
    return sum(end * weight for end, weight in ends) / sum(weight for _, weight in ends)


@dataclass(frozen=True, slots=True)
class _Sorted:
    """Pieces by kind, their logarithms counted from a middle, each with its weight last."""

    exact: list[tuple[float, float]]
    right: list[tuple[float, float]]
    spans: list[tuple[float | None, float, float]]


def _sorted(counted: Iterable[tuple[Piece, float]], middle: float) -> _Sorted:
    found = _Sorted([], [], [])
    for piece, weight in counted:
        low = None if piece.low is None else piece.low - middle
        if piece.high is None:
            if low is not None:
                found.right.append((low, weight))
        elif piece.high == piece.low:
            found.exact.append((piece.high - middle, weight))
        else:
            found.spans.append((low, piece.high - middle, weight))
    return found


@dataclass(slots=True)
class _Slopes:
    """The log-likelihood at z = level + shape · x, its gradient, and its curvature's negative."""

    value: float = 0.0
    by_level: float = 0.0
    by_shape: float = 0.0
    level_level: float = 0.0
    level_shape: float = 0.0
    shape_shape: float = 0.0

    def step(self) -> tuple[float, float]:
        """Return Newton's step. The ridge keeps it finite where the likelihood is flat."""
        level, shape = self.level_level + 1e-12, self.shape_shape + 1e-12
        crossed = self.level_shape
        size = max(level * shape - crossed * crossed, 1e-300)
        return (
            (shape * self.by_level - crossed * self.by_shape) / size,
            (level * self.by_shape - crossed * self.by_level) / size,
        )


def _climb(pieces: _Sorted, middle: float, start: Weibull | None) -> Fit:
    """Go up by Newton's steps until the next promises nothing more."""
    level, shape = 0.0, _first_shape(pieces, start.shape if start else 2.0)
    here = _slopes(pieces, level, shape)
    for _ in range(_STEPS):
        up, wider = here.step()
        promised = up * here.by_level + wider * here.by_shape
        level, shape, here = _halved(pieces, (level, shape), (up, wider), here)
        if promised < _CLOSE * (1 + abs(here.value)):
            return _checked(pieces, middle, level, shape, here.value)
        if not LOWEST_SHAPE / 100 < shape < HIGHEST_SHAPE * 100:
            break
    raise NoFit("the ages tell no spread")


def _first_shape(pieces: _Sorted, wanted: float) -> float:
    """Return a shape to set out with: from where e^z is astronomic no step finds back."""
    ends = [age for age, _ in (*pieces.exact, *pieces.right)]
    ends += [high for _, high, _ in pieces.spans]
    return min(wanted, _FARTHEST / max(max(map(abs, ends)), 1e-9))


def _halved(
    pieces: _Sorted, at: tuple[float, float], step: tuple[float, float], here: _Slopes
) -> tuple[float, float, _Slopes]:
    """Take the step, or the first half, quarter … of it that does not lead down."""
    share = 1.0
    for _ in range(_HALVINGS):
        level, shape = at[0] + share * step[0], at[1] + share * step[1]
        if shape > 0:
            there = _slopes(pieces, level, shape)
            if there.value >= here.value - 1e-12 * abs(here.value):
                return level, shape, there
        share /= 2
    return *at, here


def _checked(pieces: _Sorted, middle: float, level: float, shape: float, value: float) -> Fit:
    if not LOWEST_SHAPE <= shape <= HIGHEST_SHAPE:
        raise NoFit(f"a shape of {shape:.3g} is none that produce has")
    # From densities per logarithm of the age to densities per day.
    value -= sum(weight * (age + middle) for age, weight in pieces.exact)
    return Fit(shape, math.exp(middle - level / shape), value)


def _slopes(pieces: _Sorted, level: float, shape: float) -> _Slopes:
    sums = _Slopes()
    _add_exact(sums, pieces.exact, level, shape)
    _add_right(sums, pieces.right, level, shape)
    _add_spans(sums, pieces.spans, level, shape)
    return sums


def _add_exact(
    sums: _Slopes, exact: Iterable[tuple[float, float]], level: float, shape: float
) -> None:
    """Add ln f: ln shape + z - e^z a piece, and e^z of it as for a piece still good."""
    log_shape = math.log(shape)
    for age, weight in exact:
        z = level + shape * age
        sums.value += weight * (log_shape + z)
        sums.by_level += weight
        sums.by_shape += weight * (1 / shape + age)
        sums.shape_shape += weight / (shape * shape)
    _add_right(sums, exact, level, shape)


def _add_right(
    sums: _Slopes, right: Iterable[tuple[float, float]], level: float, shape: float
) -> None:
    """Add ln S: -e^z a piece."""
    total = first = second = 0.0
    for age, weight in right:
        hazard = weight * math.exp(min(level + shape * age, _LONGEST))
        total += hazard
        first += hazard * age
        second += hazard * age * age
    sums.value -= total
    sums.by_level -= total
    sums.by_shape -= first
    sums.level_level += total
    sums.level_shape += first
    sums.shape_shape += second


def _add_spans(
    sums: _Slopes, spans: Iterable[tuple[float | None, float, float]], level: float, shape: float
) -> None:
    """Add ln(S(low) - S(high)): with a = e^z(low), b = e^z(high): -a + ln(1 - e^(a - b))."""
    for low, high, weight in spans:
        # With nothing seen before, a = 0 and its age drops out of every sum.
        near = 0.0 if low is None else low
        a = 0.0 if low is None else math.exp(min(level + shape * low, _LONGEST))
        b = math.exp(min(level + shape * high, _LONGEST))
        apart = max(b - a, 1e-300)
        rest = math.exp(-apart)
        gone = -math.expm1(-apart)
        sums.value += weight * (math.log(gone) - a)
        # How the logarithm bends with a and with b.
        a_part, b_part = a * rest / gone, b * rest / gone
        by_low, by_high = -a - a_part, b_part
        low_low = a + a_part + a_part * (a + a_part)
        high_high = b_part * (b + b_part) - b_part
        low_high = -a_part * (b + b_part)
        sums.by_level += weight * (by_low + by_high)
        sums.by_shape += weight * (by_low * near + by_high * high)
        sums.level_level += weight * (low_low + 2 * low_high + high_high)
        sums.level_shape += weight * (low_low * near + low_high * (near + high) + high_high * high)
        sums.shape_shape += weight * (
            low_low * near * near + 2 * low_high * near * high + high_high * high * high
        )

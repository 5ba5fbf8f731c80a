"""The share still good by age without any model: Kaplan and Meier's product limit."""

import math
from collections import Counter
from collections.abc import Iterable

Ages = Iterable[tuple[float, bool]]


def product_limit(ages: Ages) -> list[tuple[float, float]]:
    """Return the share still good just after each age at which something ended, 1 to 0. [d]

    ages: (days, ended); ended False: still good then, and not followed any further. What left
    sound at the very age at which another ended was still there to end.
    Formula: product over the ends so far of 1 - ended / still there. Before the first end it is
    1; past the last age it says nothing. Needs ages that are known, so a crate found gone counts
    as ended when it was found: use it for looking, fit_weibull for figures.
    Example: (6, ended) three times, (6, not), (7, ended), ten more later, … of 21 → 0.857 at 6
    Source: Kaplan and Meier, J. Am. Stat. Assoc. 53:457-481, 1958 (from memory).
    """
    share, steps = 1.0, []
    for days, ended, there in _table(ages):
        share *= 1 - ended / there
        steps.append((days, share))
    return steps


def standard_errors(ages: Ages) -> list[tuple[float, float | None]]:
    """Return Greenwood's standard error of each share that product_limit gives.

    Formula: share · sqrt(sum of ended / (there · (there - ended))). None where nothing is left:
    the formula then divides by nothing. Example: as above → 0.0764 at 6
    Source: Greenwood 1926, as in Cox and Oakes, Analysis of Survival Data, 1984 (from memory).
    """
    share, total, steps = 1.0, 0.0, list[tuple[float, float | None]]()
    for days, ended, there in _table(ages):
        share *= 1 - ended / there
        if ended == there:
            steps.append((days, None))
        else:
            total += ended / (there * (there - ended))
            steps.append((days, share * math.sqrt(total)))
    return steps


def _table(ages: Ages) -> list[tuple[float, int, int]]:
    """Return (days, how many ended, how many were still there) for each age with an end."""
    known = list(ages)
    ends = Counter(days for days, ended in known if ended)
    return [(days, ends[days], sum(age >= days for age, _ in known)) for days in sorted(ends)]

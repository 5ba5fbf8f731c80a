"""First in, first out within a crop; what to sell first and what to look at before discarding."""

import math
from datetime import date, datetime
from enum import StrEnum
from typing import NamedTuple

from inventory.rotation.dates import NO_DATES, CaseDates

SELL_FIRST_SHARE = 0.6
SELL_FIRST_DAYS = 2
LONGEST_KEEP_DAYS = 7
# So far past its time that nobody lets it go without being asked. Our own figure, no source.
FAR_PAST_SHARE = 1.5


class Standing(NamedTuple):
    """A crate as the rules see it, and all that stood and are kept alike.

    days_left: whole farm days to the last it keeps where it stands, as they are shown; negative
    when past. [d]
    life_used: fraction of its keeping life. kept_until: last farm day of a person's "keep".
    flag: "froze", "said-gone" or "chilled" when somebody must look at it first; flagged_before:
    that there was one, which a look has answered. dates: of the cases it was filled from.
    """

    days_left: int
    life_used: float
    harvested_at: datetime
    kept_until: date | None = None
    flag: str = ""
    flagged_before: bool = False
    dates: CaseDates = NO_DATES


class Worklist(StrEnum):
    """Which list a crate is on. They never overlap."""

    NONE = ""
    SELL_FIRST = "sell-first"
    LOOK = "look"
    KEPT = "kept"
    DISCARD = "discard"


class Why(StrEnum):
    """The rule that put a crate on its list."""

    NONE = ""
    PAST_USE_BY = "past-use-by"
    SPENT = "spent"
    KEPT = "kept"
    FROZE = "froze"
    SAID_GONE = "said-gone"
    CHILLED = "chilled"
    PAST_DATE = "past-date"
    FEW_DAYS = "few-days"
    SHARE_USED = "share-used"


AGAINST_A_KEEP = (Why.FROZE, Why.SAID_GONE)


class Verdict(NamedTuple):
    """The list a crate is on, and the rule that said so."""

    worklist: Worklist
    why: Why

    @property
    def is_by_days(self) -> bool:
        """Whether it follows from time alone, so that the days left say enough on a short row."""
        return self.why in (Why.NONE, Why.FEW_DAYS, Why.SHARE_USED, Why.SPENT)


def whole_days(days: float) -> int:
    """Return days rounded down."""
    # Half a second of float dust must not turn a full seven days into six.
    return math.floor(days + 1e-6)


def is_far_past(life_used: float) -> bool:
    """Return whether a crate is so far past its time that its going out is asked about.

    life_used: fraction of its keeping life, ≥ 0. Example: is_far_past(1.5) → True
    """
    return life_used >= FAR_PAST_SHARE


def rotation_key(standing: Standing, part: bool, code: str) -> tuple:
    """Sort key within a crop: days left as shown, harvest time, part crates before full, code."""
    return standing.days_left, standing.harvested_at, not part, code


def judge(standing: Standing, today: date, sell_first_days: int = SELL_FIRST_DAYS) -> Verdict:
    """Return the list a crate belongs on today. The lists never overlap; a person decides.

    A crate a person looked at and kept stays off the discard list until the last day of that
    "keep", or until it freezes after it or somebody finds it gone, when someone has to look again.
    Past a use-by date nobody's keep counts: Regulation (EU) No 1169/2011, Article 24(1).
    """
    if standing.dates.is_past_use_by(today):
        return Verdict(Worklist.DISCARD, Why.PAST_USE_BY)
    past_date = Why.PAST_DATE if standing.dates.is_past_best_before(today) else ""
    flag = standing.flag or past_date
    kept = standing.kept_until is not None and today < standing.kept_until
    if standing.life_used >= 1:
        if kept and flag not in AGAINST_A_KEEP:
            return Verdict(Worklist.KEPT, Why.KEPT)
        return Verdict(Worklist.DISCARD, Why.SPENT)
    if flag in AGAINST_A_KEEP or (flag and not kept):
        return Verdict(Worklist.LOOK, Why(flag))
    if kept and (flag or standing.flagged_before):
        return Verdict(Worklist.KEPT, Why.KEPT)
    if standing.days_left <= sell_first_days:
        return Verdict(Worklist.SELL_FIRST, Why.FEW_DAYS)
    if standing.life_used >= SELL_FIRST_SHARE:
        return Verdict(Worklist.SELL_FIRST, Why.SHARE_USED)
    return Verdict(Worklist.NONE, Why.NONE)

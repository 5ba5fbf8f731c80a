"""The dates on cases: the last day each still counts, and which of them bind. Pure.

Past a use-by date food is deemed unsafe, whoever looks at it: Regulation (EU) No 1169/2011,
Article 24(1). A best-before or sell-by date speaks of quality: somebody looks, then decides.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

USE_BY = "use by"


@dataclass(frozen=True)
class CaseDates:
    """The earliest dates on all that a crate was filled from; None where nothing has one.

    Each is the last day that still counts. best_before: a sell-by date or one of unknown kind
    too; best_before_kind says which, as models.Intake keeps it.
    """

    use_by: date | None = None
    best_before: date | None = None
    best_before_kind: str = ""

    def is_past_use_by(self, today: date) -> bool:
        """Example: CaseDates(date(2026, 6, 10)).is_past_use_by(date(2026, 6, 10)) → False"""
        return self.use_by is not None and today > self.use_by

    def is_past_best_before(self, today: date) -> bool:
        return self.best_before is not None and today > self.best_before

    @property
    def told(self) -> list[tuple[str, date]]:
        """(kind, day) of what the cases say, the use-by date first."""
        found = [(USE_BY, self.use_by), (self.best_before_kind, self.best_before)]
        return [(kind, day) for kind, day in found if day is not None]


NO_DATES = CaseDates()


def read_date(day: date | None, kind: str) -> CaseDates:
    """Return the one date of a case."""
    if day is None:
        return NO_DATES
    return CaseDates(use_by=day) if kind == USE_BY else CaseDates(None, day, kind)


def earliest(dates: Iterable[CaseDates]) -> CaseDates:
    """Return what binds a crate filled from several: of each kind the first to pass."""
    dates = list(dates)
    bound = [found for found in dates if found.best_before is not None]
    first = min(bound, key=lambda found: found.best_before or date.max, default=NO_DATES)
    use_by = min((found.use_by for found in dates if found.use_by is not None), default=None)
    return CaseDates(use_by, first.best_before, first.best_before_kind)

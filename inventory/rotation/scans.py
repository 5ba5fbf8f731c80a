"""What one scan means: a table of rows, the first that fits decides.

Facts in, an answer and its reason out. The rows are plain data: the page of scans and the forms
ask them here, and a phone without signal can be handed them as they are.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Mode(StrEnum):
    """What the scans were chosen to mean. The value stands in the address."""

    LOOK = "look"
    PUT_AWAY = "put-away"
    ORDER = "order"
    MARKET = "market"
    BACK = "back"
    DISCARD = "discard"
    COUNT = "count"
    TAG = "tag"


class Fact(StrEnum):
    """What is so at the moment of the scan."""

    UNKNOWN = "no crate has this code"
    NOT_HERE = "it is not in the house"
    HELD = "it is on hold"
    FAR_PAST = "far past its time"
    PAST_USE_BY = "past the use-by date of a case"
    UNFIT = "past its time, kept, or to be looked at"
    NOTHING_OUT = "nothing of it is out"
    NO_PLACE = "no place was scanned"
    STANDS_HERE = "it stands at this place already"
    HARMS = "this place harms the crop"
    OVER_FULL = "this place holds its fill already"
    NO_ORDER = "no order was chosen"
    TAKEN = "it was taken for this order, and is gone"
    PART_TAKEN = "some of it was taken for this order, the rest is here"
    NOT_OF_ORDER = "the order wants nothing more of its crop"
    NOT_PLANNED = "another crate is planned for the order"
    NO_MARKET = "the farm has no market"
    REFUSED_BY_BUYER = "the buyer does not take its kind"
    OLDER_FIRST = "an older one should go first"
    NO_REASON = "not said why and where to"
    FREE_TAG = "the code is of a tag that hangs on no crate"
    NOT_A_TAG = "the code is no tag's"
    ALL_TAGGED = "every crate has its tag"
    LEFT_BARE = "the crate the tag hangs on is still out with a buyer"
    OVERRULED = "a person was asked and says go on"


class Answer(StrEnum):
    DO = "do"
    WARN = "do and warn"
    ASK = "ask"
    REFUSE = "refuse"


@dataclass(frozen=True)
class Row:
    """In these modes, if this is so and (for a question) nobody has overruled: answer."""

    modes: frozenset[Mode]
    fact: Fact
    answer: Answer


@dataclass(frozen=True)
class Decision:
    """reason: the fact that decided; None where nothing stands in the way."""

    answer: Answer
    reason: Fact | None = None


_OUT = frozenset({Mode.ORDER, Mode.MARKET})
_IN = frozenset({Mode.PUT_AWAY, Mode.BACK})
_ALL = frozenset(Mode)


def _rows(modes: Iterable[Mode], answer: Answer, *facts: Fact) -> list[Row]:
    return [Row(frozenset(modes), fact, answer) for fact in facts]


ROWS: tuple[Row, ...] = (
    *_rows([Mode.TAG], Answer.REFUSE, Fact.NOT_A_TAG, Fact.ALL_TAGGED),
    *_rows([Mode.TAG], Answer.ASK, Fact.LEFT_BARE),
    *_rows(_ALL - {Mode.TAG}, Answer.REFUSE, Fact.FREE_TAG, Fact.UNKNOWN),
    *_rows([Mode.PUT_AWAY, Mode.COUNT], Answer.REFUSE, Fact.NO_PLACE),
    *_rows([Mode.ORDER], Answer.REFUSE, Fact.NO_ORDER),
    *_rows([Mode.MARKET], Answer.REFUSE, Fact.NO_MARKET),
    *_rows([Mode.DISCARD], Answer.REFUSE, Fact.NO_REASON),
    *_rows([Mode.BACK], Answer.REFUSE, Fact.NOTHING_OUT),
    *_rows([Mode.ORDER], Answer.REFUSE, Fact.TAKEN),
    *_rows(_OUT | {Mode.PUT_AWAY, Mode.DISCARD}, Answer.REFUSE, Fact.NOT_HERE),
    *_rows(_OUT, Answer.REFUSE, Fact.PAST_USE_BY, Fact.HELD, Fact.REFUSED_BY_BUYER),
    *_rows(_OUT, Answer.ASK, Fact.FAR_PAST, Fact.UNFIT),
    *_rows([Mode.ORDER], Answer.ASK, Fact.PART_TAKEN, Fact.NOT_OF_ORDER, Fact.NOT_PLANNED),
    *_rows([Mode.MARKET], Answer.ASK, Fact.OLDER_FIRST),
    *_rows([Mode.PUT_AWAY], Answer.DO, Fact.STANDS_HERE),
    *_rows(_IN, Answer.WARN, Fact.HARMS, Fact.OVER_FULL),
    *_rows([Mode.COUNT], Answer.WARN, Fact.NOT_HERE),
)


def decide(mode: Mode, facts: frozenset[Fact]) -> Decision:
    """Return what a scan does in a mode, given what is so.

    Example: decide(Mode.MARKET, {Fact.OLDER_FIRST}) → ask, since an older one should go first
    """
    for row in ROWS:
        asked_already = row.answer == Answer.ASK and Fact.OVERRULED in facts
        if mode in row.modes and row.fact in facts and not asked_already:
            return Decision(row.answer, row.fact)
    return Decision(Answer.DO)

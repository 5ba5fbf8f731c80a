"""Each rule of what could have been done where it stands in time, once kept and once broken."""

import pytest

from inventory.ledger.replay import contradictions
from tests.ledger.entries import ledger

CAME = (6, "brought in", {"change": 12, "state": "in place", "position_id": "A1"})
TAKEN = {"change": -2, "amount": 2, "purpose": "market"}
TAKEN_WHOLE = {"change": -12, "amount": 12, "state": "out", "purpose": "market"}
SENT_BACK = TAKEN_WHOLE | {"purpose": "sent back"}
GONE = (7, "out", TAKEN_WHOLE)
PART_GONE = (7, "out", TAKEN)
THROWN_OUT = (7, "discarded", {"change": -12})
HELD = (7, "held")


def counted(figure, change, **facts) -> dict:
    return {"figure": figure, "change": change} | facts


def settled(amount, state="", **facts) -> dict:
    return {"amount": amount, "purpose": "market", "state": state} | facts


def back(amount, state="", **facts) -> dict:
    change = amount if state else 0
    return {"amount": amount, "change": change, "purpose": "market", "state": state} | facts


# What is written, and the numbers of the entries that could not have been done, from one.
CASES = {
    "brought in, and nothing else": ([CAME], []),
    "moved while it is here": ([CAME, (8, "moved", {"state": "in place"})], []),
    "moved while it is out": ([CAME, GONE, (8, "moved", {"state": "in place"})], [3]),
    "moved once it is empty": ([CAME, THROWN_OUT, (8, "moved", {"state": "in place"})], [3]),
    "looked at while it is here": ([CAME, (8, "inspected")], []),
    "looked at while it is out": ([CAME, GONE, (8, "inspected")], [3]),
    "tagged while it is here": ([CAME, (8, "tag on")], []),
    "tagged while it is out": ([CAME, GONE, (8, "tag on")], [3]),
    "its tag taken off while it is out": ([CAME, GONE, (8, "tag off")], []),
    "corrected while it is out": ([CAME, GONE, (8, "corrected")], []),
    "part taken": ([CAME, PART_GONE], []),
    "all taken": ([CAME, GONE], []),
    "more taken than there is": (
        [CAME, (7, "out", {"change": -13, "amount": 13, "state": "out"})], [2]
    ),
    "taken while it is out": ([CAME, GONE, (8, "out", TAKEN)], [3]),
    "taken while it is held": ([CAME, HELD, (8, "out", TAKEN)], [3]),
    "sent back while it is held": ([CAME, HELD, (8, "out", SENT_BACK)], []),
    "sent back while it is out": ([CAME, GONE, (8, "out", SENT_BACK)], [3]),
    "all taken, though a part is left": ([CAME, PART_GONE, (8, "out", {
        "change": -9, "amount": 9, "state": "out"})], [3]),
    "a part taken, though it is all": ([CAME, (7, "out", {"change": -12, "amount": 12})], [2]),
    "a part comes back": ([CAME, PART_GONE, (8, "back", back(2))], []),
    "more comes back than went": ([CAME, PART_GONE, (8, "back", back(3))], [3]),
    "comes back from where it did not go": (
        [CAME, PART_GONE, (8, "back", back(2, purpose="order"))], [3]
    ),
    "all comes back as itself": ([CAME, GONE, (8, "back", back(12, "in place"))], []),
    "a whole crate comes back as a part": ([CAME, GONE, (8, "back", back(2))], [3]),
    "a part comes back as the crate": ([CAME, PART_GONE, (8, "back", back(2, "in place"))], [3]),
    "comes back twice over": (
        [CAME, PART_GONE, (8, "back", back(2)), (9, "back", back(1))], [4]
    ),
    "settled in part": ([CAME, GONE, (8, "settled", settled(5))], []),
    "settled to the end": ([CAME, GONE, (8, "settled", settled(12, "empty"))], []),
    "settled to the end in two ways": ([
        CAME, GONE,
        (8, "settled", settled(9, "empty", action=1)),
        (8, "settled", settled(3, "empty", action=1)),
    ], []),
    "some back, the rest settled": ([
        CAME, GONE,
        (8, "back", back(4, "in place", action=1)),
        (8, "settled", settled(8, action=1)),
    ], []),
    "more settled than went": ([CAME, PART_GONE, (8, "settled", settled(3))], [3]),
    "settled to the end with some still out": ([CAME, GONE, (8, "settled", settled(5, "empty"))],
        [3]),
    "the last settled without an end": ([CAME, GONE, (8, "settled", settled(12))], [3]),
    "a part of it settled as its end": ([CAME, PART_GONE, (8, "settled", settled(2, "empty"))],
        [3]),
    "counted": ([CAME, (8, "counted", counted(10, -2))], []),
    "counted otherwise than the figure": ([CAME, (8, "counted", counted(10, -3))], [2]),
    "counted while it is out": ([CAME, GONE, (8, "counted", counted(5, 5))], [3]),
    "counted to nothing once more": ([CAME, THROWN_OUT, (8, "counted", counted(0, 0))], []),
    "found again": (
        [CAME, THROWN_OUT, (8, "counted", counted(5, 5, state="to put away"))], []
    ),
    "found again nowhere": ([CAME, THROWN_OUT, (8, "counted", counted(5, 5))], [3]),
    "found again to put away, though it stands": (
        [CAME, (8, "counted", counted(5, -7, state="to put away"))], [2]
    ),
    "counted, and kept true beside it": ([
        CAME, (7, "discarded", {"change": -3}),
        (8, "counted", counted(12, 0)), (8, "counted", counted(12, 3)),
    ], []),
    "found again, and kept true beside it": ([
        CAME, THROWN_OUT, (8, "counted", counted(5, 4, state="to put away")),
        (8, "counted", counted(5, 1)),
    ], []),
    "counted, and no longer true": ([
        CAME, (7, "discarded", {"change": -3}), (8, "counted", counted(12, 0)),
    ], [3]),
    "split": ([CAME, (8, "split", {"change": -5})], []),
    "split with nothing left": ([CAME, (8, "split", {"change": -12})], [2]),
    "split while it is held": ([CAME, HELD, (8, "split", {"change": -5})], [3]),
    "combined": ([CAME, (8, "combined", {"change": -12})], []),
    "combined with something left": ([CAME, (8, "combined", {"change": -11})], [2]),
    "combined while it is held": ([CAME, HELD, (8, "combined", {"change": -12})], [3]),
    "sorted with culls and loss": ([
        CAME,
        (8, "discarded", {"change": -2, "action": 1}),
        (8, "weight lost", {"change": -1, "action": 1}),
        (8, "re-sorted", {"change": -9, "action": 1}),
    ], []),
    "sorted to the end as culls": ([
        CAME,
        (8, "discarded", {"change": -12, "action": 1}),
        (8, "re-sorted", {"action": 1}),
    ], []),
    "sorted with something left": ([CAME, (8, "re-sorted", {"change": -9})], [2]),
    "thrown out though held": ([CAME, HELD, (8, "discarded", {"change": -12})], []),
    "more thrown out than there is": ([CAME, (8, "discarded", {"change": -13})], [2]),
    "more dried away than there is": ([CAME, (8, "weight lost", {"change": -13})], [2]),
    "thrown out while it is out": ([CAME, GONE, (8, "discarded", {"change": 0})], [3]),
    "held while something is out": ([CAME, GONE, (8, "held")], []),
    "held twice": ([CAME, HELD, (8, "held")], [3]),
    "held with nothing left of it": ([CAME, THROWN_OUT, (8, "held")], [3]),
    "released": ([CAME, HELD, (8, "released")], []),
    "released without a hold": ([CAME, (8, "released")], [2]),
    "let go to kitchens, without a hold": ([
        CAME, GONE, (8, "back", back(12, "to put away")),
        (9, "released", {"detail": {"was-out": True}}),
    ], []),
    "taken once released": ([CAME, HELD, (8, "released"), (9, "out", TAKEN)], []),
    "undone: says nothing": (
        [CAME, GONE, (9, "undone", {"change": 12, "undoes_id": 2}), (8, "moved")], []
    ),
    "written later than it happened": ([CAME, (9, "moved"), (8, "out", TAKEN_WHOLE)], [2]),
    "before it came in": ([(7, "brought in", {"change": 12, "state": "in place"}),
        (6, "moved", {"state": "in place"})], [1]),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_what_could_not_have_been_done_is_found(case):
    told, wrong = CASES[case]
    assert [entry.pk for entry in contradictions(ledger(*told))] == wrong


def test_whatever_order_the_entries_come_in_the_same_are_found():
    for told, wrong in CASES.values():
        turned = contradictions(reversed(ledger(*told)))
        assert [entry.pk for entry in turned] == wrong


def test_no_crate_could_hold_less_than_nothing():
    """Whatever its kind: a change that a rule does not look at can't go below zero either."""
    (wrong,) = contradictions(ledger(CAME, (8, "corrected", {"change": -13})))
    assert wrong.pk == 2

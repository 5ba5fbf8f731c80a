"""What is said on a walk through the field, and what can't be."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.field import say_walk
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Estimate, Source
from inventory.queries.field import Seen, read_field
from tests.builders import NOW, act, crop, make_crew, owner
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")
TODAY = NOW.date()
DAY = timedelta(days=1)


def seen(quantity="60", **changes) -> Seen:
    values = {
        "crop": crop(), "block": Source.objects.get(name="Bed 3"), "unit": "bunch",
        "quantity": Decimal(quantity), "from_day": TODAY,
    }  # fmt: skip
    return Seen(**values | changes)


def test_a_walk_is_written_with_who_and_when():
    ben = make_crew()
    say_walk(act(NOW, person=ben), rows=[seen("60"), seen("4.5", unit="kg", from_day=TODAY + DAY)])
    told = [(row.quantity, row.unit, row.from_day) for row in Estimate.objects.order_by("pk")]
    assert told == [(60, "bunch", TODAY), (Decimal("4.5"), "kg", TODAY + DAY)]
    assert {(row.said_by, row.said_at) for row in Estimate.objects.all()} == {(ben, NOW)}


def test_a_walk_told_late_was_said_when_it_was():
    say_walk(act(NOW, told_at=NOW - DAY), rows=[seen(from_day=TODAY - DAY)])
    assert Estimate.objects.get().said_at == NOW - DAY


def test_a_walk_says_something():
    with refused(Refused("no-lines")):
        say_walk(act(), rows=[])


@pytest.mark.parametrize(
    ("quantity", "unit", "refusal"),
    [
        ("-1", "bunch", Refused("not-positive", field="quantity")),
        ("1.0005", "kg", Refused("too-fine", field="quantity")),
        ("1.5", "bunch", Refused("not-whole", field="quantity", unit="bunch")),
    ],
)
def test_what_is_said_is_an_amount(quantity, unit, refusal):
    with refused(refusal):
        say_walk(act(), rows=[seen(), seen(quantity, unit=unit)])


def test_a_block_may_have_nothing():
    say_walk(act(), rows=[seen("0")])
    assert Estimate.objects.get().quantity == 0


def test_only_blocks_are_walked():
    with refused(Refused("not-a-block")):
        say_walk(act(), rows=[seen(block=Source.objects.get(name="Orchard"))])


@pytest.mark.parametrize(
    ("from_day", "refusal"),
    [
        (TODAY - DAY, Refused("due-past")),
        (TODAY + 8 * DAY, Refused("not-spoken-of", days=8)),
    ],
)
def test_a_walk_speaks_of_the_next_eight_days(from_day, refusal):
    say_walk(act(), rows=[seen(from_day=TODAY), seen(from_day=TODAY + 7 * DAY, unit="kg")])
    with refused(refusal):
        say_walk(act(), rows=[seen(from_day=from_day)])


def test_a_walk_sent_twice_counts_once_and_is_nobody_elses():
    made = act()
    say_walk(made, rows=[seen()])
    say_walk(made, rows=[seen()])
    assert Estimate.objects.count() == 1
    with refused(Conflict("sent-before")):
        say_walk(made, rows=[seen("61")])


def test_of_an_undone_walk_nothing_counts_and_the_one_before_does_again():
    farm = act().farm
    say_walk(act(), rows=[seen("60")])
    second = say_walk(act(NOW + DAY), rows=[seen("30", from_day=TODAY + DAY)])
    assert [now.left for now in read_field(farm, NOW + 2 * DAY)] == [30]
    undo(act(NOW + 2 * DAY, person=owner(), as_owner=True), action=second)
    assert [now.left for now in read_field(farm, NOW + 2 * DAY)] == [60]

"""What became of many crates in one form: all of it, each by itself, or nothing."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.by_place import Discarded, Kept, Missing, TakenOut, write_all
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Lot
from inventory.queries.by_place import written_by
from tests.builders import NOW, act, make_lots, take
from tests.deliveries import kitchen
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")
HOUR = timedelta(hours=1)


def quantities(*lots) -> list[Decimal]:
    return [Lot.objects.get(pk=lot.pk).quantity for lot in lots]


def all_of(lots, inn):
    a, b, c, d = (lot.pk for lot in lots)
    return [
        TakenOut(a, Decimal(5), "order", inn),
        Discarded(b, "all", "spoiled", "compost"),
        Kept(c, 2, "looks sound"),
        Missing(d, Decimal(9), "missing"),
    ]


def test_each_crate_has_a_doing_of_its_own_with_an_undo_of_its_own():
    lots = make_lots(12, 12, 12, 12)
    told = act(NOW + 3 * HOUR, told_at=NOW + HOUR)
    first = write_all(told, said=all_of(lots, kitchen()))
    done = written_by(told.id)
    assert first == done[0]
    assert [one.kind for one in done] == ["take out", "discard", "inspect", "count"]
    assert {one.occurred_at for one in done} == {NOW + HOUR}
    assert quantities(*lots) == [7, 0, 12, 3]
    undo(act(NOW + 4 * HOUR), action=done[1])
    assert quantities(*lots) == [7, 12, 12, 3]


def test_the_same_form_again_writes_nothing_more():
    lots, inn = make_lots(12, 12, 12, 12), kitchen()
    told = act(NOW + HOUR)
    first = write_all(told, said=all_of(lots, inn))
    assert write_all(replace(told, at=NOW + 2 * HOUR), said=all_of(lots, inn)) == first
    assert quantities(*lots) == [7, 0, 12, 3]
    assert len(written_by(told.id)) == 4


def test_of_one_that_is_refused_nothing_is_written_and_its_field_is_named():
    lots = make_lots(12, 12, 12, 12)
    said = all_of(lots, kitchen())
    said[2] = TakenOut(lots[2].pk, Decimal(13), "own use")
    facts = {"code": lots[2].pk, "left": Decimal(12), "unit": "bunch"}
    with refused(Conflict("more-than-there", field=f"do-{lots[2].pk}", **facts)):
        write_all(act(NOW + HOUR), said=said)


def test_nothing_said_of_any_crate_is_refused():
    with refused(Refused("no-crates")):
        write_all(act(), said=[])


def test_what_is_missing_is_missing_of_what_was_there_then():
    lot = make_lots(12)[0]
    take(lot, Decimal(4), at=NOW + 5 * HOUR)
    told = act(NOW + 6 * HOUR, told_at=NOW + HOUR)
    write_all(told, said=[Missing(lot.pk, Decimal(2), "missing")])
    assert quantities(lot) == [6]
    facts = {"code": lot.pk, "left": Decimal(10), "unit": "bunch"}
    with refused(Conflict("more-than-there", field=f"do-{lot.pk}", **facts)):
        write_all(
            act(NOW + 7 * HOUR, told_at=NOW + 2 * HOUR),
            said=[Missing(lot.pk, Decimal(11), "missing")],
        )

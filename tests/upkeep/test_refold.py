"""The check of the ledger sees every crate, and nothing that somebody is just writing."""

from datetime import timedelta

import pytest

from inventory.actions.movements import take_out
from inventory.ledger.week_record import read_records
from inventory.ledger.weeks import count_up_to
from inventory.lives.week_losses import keep_losses
from inventory.models import CratesLeft, Lot, Movement, Week, WeekLoss, WeekSum
from inventory.upkeep import refold
from inventory.upkeep.refold import Refolded, refold_ledger
from tests.builders import NOW, act, make_lots
from tests.deliveries import got, handed, kitchen

pytestmark = pytest.mark.usefixtures("farm")


def test_all_crates_are_looked_at_some_at_a_time(monkeypatch, django_assert_num_queries):
    lots = make_lots(1, 2, 3, 4, 5)
    monkeypatch.setattr(refold, "LOTS_AT_ONCE", 2)
    with django_assert_num_queries(2 * 3 + 1 + 1 + 7):
        assert refold_ledger() == Refolded(5, [])
    Lot.objects.update(quantity=9)
    found = refold_ledger()
    assert found.crates == 5
    assert {line.split(":")[0] for line in found.differences} == {lot.pk for lot in lots}


def test_a_crate_without_an_entry_is_found():
    lot = make_lots(1)[0]
    Movement.objects.filter(lot=lot).delete()
    assert refold_ledger() == Refolded(1, [f"{lot.pk}: no entry at all"])


def test_what_was_only_being_written_is_no_difference(monkeypatch):
    """The crate was read before an entry, its entries after it."""
    lot = make_lots(5)[0]
    stale = Lot.objects.get(pk=lot.pk)
    stale.quantity = 4
    monkeypatch.setattr(refold, "_in_pieces", lambda: iter([[stale]]))
    assert refold_ledger() == Refolded(1, [])


def test_all_that_is_kept_of_weeks_is_counted_again(farm):
    lot = make_lots(5, at=NOW - timedelta(days=4))[0]
    take_out(act(), lot=lot.pk, portion="all", purpose="own use")
    week = farm.week_of(NOW)
    count_up_to(farm, week)
    read_records(farm, week, week)
    keep_losses(farm, week)
    assert refold_ledger() == Refolded(1, [])
    WeekSum.objects.filter(week=week).update(amount=6)
    WeekLoss.objects.update(crate_days=9)
    Week.objects.filter(pk=week).update(record={})
    found = [line.split()[1:4] for line in refold_ledger().differences]
    assert ["2026-06-08:", str(lot.crop_id), "lost"] in found
    assert ["2026-06-08:", "cut", "is"] in found
    assert ["2026-06-08:", str(lot.crop_id), "bunch"] in found


def test_our_crates_are_counted_again_beside_what_is_kept():
    inn = kitchen("Inn")
    handed(got(inn, (make_lots(12)[0], 12)), crates_back=2)
    assert refold_ledger() == Refolded(1, [])
    CratesLeft.objects.filter(outlet=inn).update(crates=4)
    CratesLeft.objects.filter(outlet=None).update(crates=0)
    assert refold_ledger().differences == [
        "crates of ours, to wash: 0 kept, 2 counted",
        f"crates of ours, buyer {inn.pk}: 4 kept, 1 counted",
    ]

"""What a crate's page and its row say of its temperatures, the cold and frost."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.actions.quality import hold
from inventory.actions.reshape import split_lot
from inventory.actions.temperatures import record_readings
from inventory.actions.undo import undo
from inventory.models import Lot, Outlet, Room
from inventory.queries.book import Wanted
from tests.builders import act, keep_for, make_crew, make_lot, say_order, set_target

DAY = timedelta(days=1)


def read(client, path: str) -> str:
    return re.sub(r"\s+", " ", client.get(path).content.decode())


def page(client, lot: Lot) -> str:
    return read(client, f"/L/{lot.pk}")


def measured(celsius: float, hours: int):
    now = timezone.now()
    rows = [(now - timedelta(hours=hour), celsius) for hour in range(hours + 1)]
    record_readings(Room.objects.get(), rows, kind="sensor", at=now, sensor="fan")


def test_one_thermometer_measures_the_room_and_not_the_crate(signed_in):
    """A shelf may be warmer than the thermometer: "room 4 °C", never "measured 4 °C"."""
    lot = make_lot(at=timezone.now() - 3 * DAY)
    pages = (f"/L/{lot.pk}", f"/P/{lot.position.pk}")
    for path in pages:
        assert "(assumes 2 °C, not measured)" in read(signed_in, path)
    measured(4.0, 80)
    for path in pages:
        assert "(room 4 °C)" in read(signed_in, path)
        assert "easured 4 °C" not in read(signed_in, path)
    assert "we count with 4 °C, the room's last three days" in page(signed_in, lot)


def test_the_page_promises_eggplant_only_until_the_cold_hurts_it(signed_in):
    """5.6 days to injury at 4 °C (AH-66 page 323, Table 1), where decay alone says 7."""
    set_target(12, timezone.now() - DAY)
    lot = make_lot(key="eggplant", unit="kg", at=timezone.now())
    assert "In a buyer&#x27;s fridge at 5 °C: 6 days." in page(signed_in, lot)


def test_the_page_says_what_is_not_for_the_fridge(signed_in):
    set_target(12, timezone.now() - DAY)
    lot = make_lot(key="mango", unit="kg", at=timezone.now())
    assert re.search(r"Not in the fridge: 1[34] days at 10 °C\.", page(signed_in, lot))


def test_the_slip_of_an_order_says_so_beside_the_crate(signed_in):
    now = timezone.now()
    set_target(12, now - DAY)
    told = {}
    for key in ("mango", "eggplant"):
        lot = make_lot(key=key, unit="kg", at=now)
        outlet = Outlet.objects.create(name=f"Kitchen {key}")
        lines = [Wanted(lot.crop, "kg", Decimal(5))]
        pull = say_order(act(now), outlet=outlet, lines=lines)
        keep_for(pull, (lot, 5))
        told[key] = "Not in the fridge" in read(signed_in, f"/pull/{pull.pk}")
    assert told == {"mango": True, "eggplant": False}


ADVICE = "Do not handle it while it is frozen; let it thaw at about 4 °C, then look before you sell"


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("lettuce-leaf", "One light freeze ruins it."),  # AH-66 page 65, Table 2
        ("arugula", "No freezing point of it is published: this one is assumed."),
    ],
)
def test_beside_frost_stands_what_it_does_and_what_to_do(signed_in, key, said):
    """Handbook 66 (2016), pages 65-66: not to be handled frozen, thawed at about 4 °C."""
    lot = make_lot(key=key, unit="kg", at=timezone.now() - DAY)
    assert ADVICE not in page(signed_in, lot)
    measured(-3.0, 8)
    found = page(signed_in, lot)
    assert said in found
    assert ADVICE in found
    assert "pages 65-66" in found


WARMING = "Damage shows after warming."


def test_beside_the_harm_of_the_cold_stands_that_it_shows_after_warming(signed_in):
    """Of mango no days are published, of eggplant they are; of kale neither matters."""
    told = {}
    for key in ("mango", "eggplant", "kale"):
        lot = make_lot(key=key, unit="kg", at=timezone.now() - 2 * DAY)
        told[key] = page(signed_in, lot)
    assert [WARMING in found for found in told.values()] == [True, True, False]
    assert "Too cold for 2.0 days, at 2 °C on average." in told["mango"]
    assert re.search(r"Too cold for 2\.0 days: \d+ % of the days", told["eggplant"])


def test_the_page_says_what_was_filled_from_it_and_what_was_undone(signed_in):
    lot, now = make_lot(12, at=timezone.now() - DAY), timezone.now()
    split_lot(act(now), lot=lot.pk, quantity=Decimal(5))
    child = Lot.objects.exclude(pk=lot.pk).get()
    assert f'Went into</dt> <dd> <a href="/L/{child.pk}">' in page(signed_in, lot)
    held = hold(act(now), lot=lot.pk, reason="a doubt")
    assert "(undone)" not in page(signed_in, lot)
    undo(act(now), action=held)
    assert page(signed_in, lot).count("(undone)") == 1


def test_the_page_says_who_did_what_and_whether_that_was_proven(signed_in):
    lot, now = make_lot(12, at=timezone.now() - DAY), timezone.now()
    hold(act(now, make_crew("Ben"), proven=False), lot=lot.pk, reason="a doubt")
    told = page(signed_in, lot).partition('<ol class="log">')[2]
    held, brought_in = told.split("</li>")[:2]
    assert re.search(r"tapped as Ben .*on hold", held)
    assert re.search(r"Ada .*brought in", brought_in)
    assert "tapped as" not in brought_in

"""A farm with something of everything, for tests that go to every address."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.actions.counting import see
from inventory.actions.handing import give_credit
from inventory.actions.imports import confirm_columns, keep_file, take_up_chunk
from inventory.actions.movements import take_out
from inventory.actions.quality import hold
from inventory.actions.temperatures import (
    check_room,
    close_alarm,
    make_sensor,
    probe,
    record_readings,
    type_paper_log,
)
from inventory.models import (
    Outlet,
    Room,
)
from inventory.queries.alarms import open_alarms
from inventory.queries.book import Wanted
from tests import addresses, builders
from tests.builders import keep_for, say_order
from tests.deliveries import got, handed


@pytest.fixture
def busy(signed_in):
    """A client at a farm with something of everything, and the addresses of every page."""
    now = timezone.now()
    lot, other, held, _ = builders.make_lots(12, 12, 12, 12, at=now - timedelta(days=9))
    builders.make_cases(18, at=now)
    take_out(
        builders.act(now), lot=other.pk, portion="half", purpose="market",
        outlet=builders.market(),
    )  # fmt: skip
    hold(builders.act(now), lot=held.pk, reason="a doubt")
    wanted = Wanted(builders.crop(), "bunch", builders.Decimal(99))
    say_order(builders.act(now), outlet=Outlet.objects.get(), lines=[wanted])
    warm = [(now - timedelta(hours=hours), 9.0) for hours in range(6)]
    record_readings(Room.objects.get(), warm, kind="sensor", at=now, sensor="P1")
    assert open_alarms(now)
    keep_file(builders.act(now), room=Room.objects.get(), sensor="", data=b"2026-06-01 06:30,3.5")
    done = keep_file(
        builders.act(now), room=Room.objects.get(), sensor="L", data=b"2026-06-01 06:30,3"
    )
    confirm_columns(done)
    take_up_chunk(done.pk, builders.act(now).farm, now)
    see(builders.act(now), lot=lot, position=lot.position)
    gone = builders.make_lot()
    handed(got(builders.market(), (gone, 12), at=now), at=now)
    give_credit(builders.act(now), slip=1, lot=gone.pk, what="soft", photo=b"photo")
    return signed_in, addresses.pages(now)


@pytest.fixture
def posts(busy) -> dict[str, tuple]:
    """The addresses that only take a form, each about something that is there."""
    lot = builders.make_lot(at=timezone.now())
    owners = builders.act(timezone.now())
    make_sensor(builders.act(timezone.now()), name="P2", room=Room.objects.get())
    builders.make_tag(timezone.now())
    long_ago = {"room": Room.objects.get(), "started_at": 0, "ended_at": 3600, "side": "warm"}
    close_alarm(owners, **long_ago, peak_c=9.0, done="the door stood open")
    room, read = Room.objects.get(), [(timezone.now(), 3.0)]
    check_room(owners, room=room, celsius=None, door_shut=True, odd="")
    probe(owners, intake=lot.intake, celsius=builders.Decimal(9))
    type_paper_log(owners, room=room, rows=read)
    wanted = [Wanted(lot.crop, "bunch", builders.Decimal(3))]
    opened = say_order(owners, outlet=Outlet.objects.get(), lines=wanted)
    keep_for(opened, (lot, 3))
    return {name: each[0] for name, each in addresses.posts().items()}

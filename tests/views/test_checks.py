"""The daily check of a room, and the one crate it asks about."""

from datetime import timedelta
from uuid import uuid4

from django.utils import timezone

from inventory.actions.movements import take_out
from inventory.models import Movement, Reading, RoomCheck
from tests import builders
from tests.views.test_temperatures import room_path


def test_the_daily_check_takes_three_taps_and_prints_as_a_month(signed_in):
    response = signed_in.post(
        room_path("check"), {"entry": uuid4(), "temperature": "3.4", "door_shut": "yes"}
    )
    page = signed_in.get(response["Location"]).content.decode()
    assert "3.4 °C" in page
    check = RoomCheck.objects.get()
    assert (check.door_shut, check.opens_from_inside) == (True, None)
    assert Reading.objects.count() == 1
    for month in ("2026-13", "0000-01", "x", "9999-12"):
        assert signed_in.get(room_path("checks", month)).status_code == 404


def test_the_daily_check_asks_about_one_crate(signed_in):
    kept = builders.crop().reference.base_days / 3**0.2
    lot = builders.make_lot(12, at=timezone.now() - timedelta(days=0.6 * kept))
    page = signed_in.get(room_path("check")).content.decode()
    assert "One crate, picked by chance" in page
    assert f'name="asked" value="{lot.pk}"' in page
    sent = {
        "entry": uuid4(),
        "temperature": "3",
        "door_shut": "yes",
        "asked": lot.pk,
        "good": "just",
    }
    assert signed_in.post(room_path("check"), sent).status_code == 302
    assert Movement.objects.get(judgement="just").lot == lot
    assert RoomCheck.objects.count() == 1


def test_a_check_is_kept_though_the_crate_asked_about_left_meanwhile(signed_in):
    lot = builders.make_lot(12, at=timezone.now() - timedelta(days=5))
    left = builders.act(timezone.now())
    take_out(left, lot=lot.pk, portion="all", purpose="own use")
    sent = {
        "entry": uuid4(),
        "temperature": "3",
        "door_shut": "no",
        "asked": lot.pk,
        "good": "early",
    }
    for _ in range(2):
        answer = signed_in.post(room_path("check"), sent)
        assert answer.status_code == 200
        page = answer.content.decode()
        assert "The check is kept, but not what you said of the crate" in page
        assert "is not here: out." in page
        assert not RoomCheck.objects.get().door_shut
        assert Reading.objects.count() == 1
        assert not Movement.objects.exclude(judgement="").exists()
    month = f"{RoomCheck.objects.get().day:%Y-%m}"
    later = signed_in.get(room_path("checks", month)).content.decode()
    assert "The check is kept" not in later


def test_a_check_that_leaves_the_crate_unanswered_is_kept(signed_in):
    builders.make_lot(12, at=timezone.now() - timedelta(days=5))
    assert (
        signed_in.post(
            room_path("check"), {"entry": uuid4(), "temperature": "3", "door_shut": "yes"}
        ).status_code
        == 302
    )
    assert not Movement.objects.exclude(judgement="").exists()

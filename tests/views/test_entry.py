"""When it happened and when it was recorded, and what is kept of a form as it was sent."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.test import RequestFactory
from django.utils import timezone

from inventory.actions.movements import take_out
from inventory.actions.quality import hold
from inventory.models import Action, Intake, Lot, Movement, Source
from inventory.views.entry import posted_hash
from inventory.views.scan import MODES
from tests import builders
from tests.builders import act, make_lot, make_lots, place

HOUR = timedelta(hours=1)
NEW_YORK = ZoneInfo("America/New_York")
MORNING = datetime(2026, 6, 10, 9, 0, tzinfo=NEW_YORK)


@pytest.fixture
def now(monkeypatch):
    """Pages read the clock as three in the afternoon of a June day on the farm."""
    moment = datetime(2026, 6, 10, 15, 0, tzinfo=NEW_YORK).astimezone(UTC)
    monkeypatch.setattr(timezone, "now", lambda: moment)
    return moment


def harvest_form() -> tuple[str, dict]:
    path = f"/in/harvest/{builders.crop().pk}"
    source = Source.objects.get(name="Bed 3").pk
    return path, {"crates": "1", "quantity": "12", "unit": "bunch", "source": source}


def forms(now) -> dict[str, tuple[str, dict]]:
    """Every form for something that happened, right but for its entry id."""
    early = now - timedelta(days=2)
    here, alike, third = make_lots(12, 12, 12, at=early)
    waiting, away, whole = (make_lot(at=early, position=None) for _ in range(3))
    kept, held = (make_lot(at=early, key="basil", unit="kg") for _ in range(2))
    hold(act(early + HOUR), lot=held.pk, reason="a doubt")
    out = {"purpose": "market", "outlet": builders.market()}
    take_out(act(early + HOUR), lot=away.pk, portion="all", **out)
    take_out(act(early + HOUR), lot=whole.pk, portion="all", purpose="own use")
    case = harvest_form()[1] | {"source": Source.objects.get(name="Orchard").pk, "unit": "kg"}
    reason = {"reason": "wilted", "destination": "compost", "share": "half"}
    return {
        "harvest": harvest_form(),
        "delivery": (f"/in/delivery/{builders.crop('apple').pk}", case),
        "put-away": ("/put-away", {"lots": [waiting.pk], "position": place("B2").pk}),
        "market": ("/market", {"market": builders.market().pk, "shown": f"{away.pk}=12"}),
        "move": (f"/L/{third.pk}/move", {"position": place("A2").pk}),
        "take-out": (f"/L/{here.pk}/take-out", {"share": "half", "purpose": "own use"}),
        "bring-back": (f"/L/{whole.pk}/bring-back", {"quantity": "3"}),
        "look": (f"/L/{here.pk}/look", {"days": "2", "seen": "fine"}),
        "discard": (f"/L/{here.pk}/discard", reason),
        "count": (f"/L/{here.pk}/count", {"quantity": "5", "reason": "missing"}),
        "split": (f"/L/{kept.pk}/split", {"quantity": "3"}),
        "combine": (f"/L/{alike.pk}/combine", {"others": [third.pk]}),
        "sort": (f"/L/{alike.pk}/sort", {"firsts": "9", "seconds": "3"}),
        "hold": (f"/L/{here.pk}/hold", {"reason": "a doubt"}),
        "release": (f"/L/{held.pk}/release", {"reason": "was dust"}),
    }


NAMES = [
    "harvest", "delivery", "put-away", "market", "move", "take-out", "bring-back", "look",
    "discard", "count", "split", "combine", "sort", "hold", "release",
]  # fmt: skip


def posted(client, form: tuple[str, dict], said: str):
    path, data = form
    return client.post(path, data | {"entry": uuid4(), "happened_at": said})


@pytest.mark.parametrize("name", NAMES)
def test_each_form_asks_when_if_not_now_and_keeps_both_times(signed_in, now, name):
    form = forms(now)[name]
    assert "When, if not now" in signed_in.get(form[0]).content.decode()
    answer = posted(signed_in, form, "2026-06-10T09:00")
    assert answer.status_code == 302, answer.context["form"].errors
    action = Action.objects.latest("recorded_at")
    assert (action.recorded_at, action.occurred_at) == (now, MORNING)
    assert set(action.movements.values_list("occurred_at", flat=True)) == {MORNING}


CAN_NOT_BE = {
    "yesterday": "Type a date and a time like",
    "2026-06-31T09:00": "Type a date and a time like",
    "2026-03-08T02:30": "The clocks skipped that hour that night.",
    "2026-06-10T15:11": "That is still to come.",
    "2026-04-10T09:00": "60 days",
}


@pytest.mark.parametrize("name", NAMES)
def test_a_time_that_can_not_be_gets_a_sentence_beside_it_and_writes_nothing(signed_in, now, name):
    form = forms(now)[name]
    before = Action.objects.count(), Movement.objects.count()
    for said, sentence in CAN_NOT_BE.items():
        answer = posted(signed_in, form, said)
        assert answer.status_code == 422, said
        (error,) = answer.context["form"].errors["happened_at"]
        assert sentence in error
        page = answer.content.decode()
        assert f'value="{said}"' in page
        assert '<details class="more" open>' in page, said
        assert (Action.objects.count(), Movement.objects.count()) == before, said


@pytest.mark.parametrize(
    ("said", "happened"),
    [
        ("2026-06-10T09:00:00-04:00", MORNING),
        ("2026-06-10T13:00:00+00:00", MORNING),
        ("2026-06-10T13:00:00Z", MORNING),
        ("2026-06-10T15:00:00+02:00", MORNING),
        ("2026-06-10T09:00:07.250-04:00", MORNING + timedelta(seconds=7.25)),
        ("2026-06-10T15:09", MORNING + timedelta(hours=6, minutes=9)),
        ("", MORNING + 6 * HOUR),
    ],
)
def test_a_phone_says_a_moment_with_its_offset_and_a_form_on_the_farms_clock(
    signed_in, now, said, happened
):
    answer = posted(signed_in, harvest_form(), said)
    assert answer.status_code == 302, answer.context["form"].errors
    action = Action.objects.get()
    assert (action.recorded_at, action.occurred_at) == (now, happened)
    assert Intake.objects.get().arrived_at == happened


def test_a_phones_moment_is_not_refused_for_an_hour_the_farms_clock_skipped(signed_in, monkeypatch):
    """02:30 in Greenwich is half past nine in the evening in New York."""
    noon = datetime(2026, 3, 8, 12, 0, tzinfo=UTC)
    monkeypatch.setattr(timezone, "now", lambda: noon)
    answer = posted(signed_in, harvest_form(), "2026-03-08T02:30:00+00:00")
    assert answer.status_code == 302, answer.context["form"].errors
    assert Action.objects.get().occurred_at == datetime(2026, 3, 8, 2, 30, tzinfo=UTC)


def test_of_an_hour_that_comes_twice_the_earlier_is_meant(signed_in, monkeypatch):
    """1 November 2026, half past one in New York: at first four hours behind Greenwich."""
    noon = datetime(2026, 11, 1, 17, 0, tzinfo=UTC)
    monkeypatch.setattr(timezone, "now", lambda: noon)
    assert posted(signed_in, harvest_form(), "2026-11-01T01:30").status_code == 302
    assert Action.objects.get().occurred_at == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


@pytest.mark.parametrize("mode", ["market", "put-away", "discard"])
def test_a_scan_sent_late_happened_when_its_phone_says(signed_in, now, mode):
    assert mode in MODES
    lot = make_lot(at=now - timedelta(days=1))
    data = {
        "entry": uuid4(), "text": lot.pk, "here": place("B2").pk, "reason": "wilted",
        "destination": "compost", "happened_at": "2026-06-10T13:00:00Z",
    }  # fmt: skip
    signed_in.post(f"/scan/{mode}", data)
    action = Action.objects.latest("recorded_at")
    assert (action.recorded_at, action.occurred_at) == (now, MORNING)
    assert Lot.objects.get(pk=lot.pk).seen_at == MORNING


@pytest.mark.parametrize("said", ["soon", "2026-03-08T02:30", "0001-01-01T00:00:00+14:00"])
def test_a_scan_with_no_moment_at_all_is_refused_whole(signed_in, said):
    lot = make_lot(at=timezone.now())
    before = Movement.objects.count()
    data = {"entry": uuid4(), "text": lot.pk, "happened_at": said}
    assert signed_in.post("/scan/market", data).status_code == 400
    assert Movement.objects.count() == before


def sent(**fields) -> str:
    return posted_hash(RequestFactory().post("/settings/people/2", fields))


def test_a_form_is_known_again_by_what_was_sent_but_for_its_token():
    assert sent(new_pin="4711", csrfmiddlewaretoken="a") == sent(
        new_pin="4711", csrfmiddlewaretoken="b"
    )
    assert sent(new_pin="4711") != sent(new_pin="4712")


def test_a_pin_can_not_be_tried_out_on_what_is_kept_of_a_form(settings):
    """A hash anybody could make of a form would tell a PIN of four digits in 10 000 tries."""
    settings.SECRET_KEY = "one"
    kept = sent(new_pin="4711")
    settings.SECRET_KEY = "another"
    assert sent(new_pin="4711") != kept

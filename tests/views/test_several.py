"""Several crates ticked on a place's or a harvest's page, and done together."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.movements import take_out
from inventory.actions.quality import hold
from inventory.models import Action, Lot
from tests.builders import act, make_lot, make_lots, place

DAY = timedelta(days=1)


def now():
    return timezone.now()


def ticked(page) -> list[str]:
    """The codes ticked in the form of a page."""
    boxes = re.findall(r"<input[^>]*name=\"lots\"[^>]*>", page.content.decode())
    return [re.search(r'value="(\w+)"', box)[1] for box in boxes if "checked" in box]


def codes(lots) -> list[str]:
    return [lot.pk for lot in lots]


def address(doing: str, *lots: Lot) -> str:
    return f"/several/{doing}?" + "&".join(f"lots={lot.pk}" for lot in lots)


def post(client, doing: str, *lots: Lot, **fields):
    return client.post(
        address(doing, *lots), {"entry": uuid4(), "lots": codes(lots), **fields}, follow=False
    )


def test_a_place_ticks_all_none_or_those_of_one_harvest(signed_in):
    kale, salad = make_lots(12, 12, at=now()), make_lots(9, 9, 9, at=now(), key="salad-mix")
    path = f"/P/{place().pk}"
    page = signed_in.get(path)
    assert set(ticked(page)) == set(codes([*kale, *salad]))
    assert not page.context["pick"].opened
    assert sorted(map(len, page.context["pick"].alike)) == [2, 3]
    for tick, lots in (
        ("none", []), ("all", [*kale, *salad]), (kale[0].intake_id, kale), ("odd", []),
    ):  # fmt: skip
        page = signed_in.get(path, {"tick": tick})
        assert set(ticked(page)) == set(codes(lots))
        assert page.context["pick"].opened


def test_a_harvest_ticks_what_is_here_in_the_order_it_came(signed_in):
    lots = make_lots(*range(1, 7), at=now())
    take_out(act(now()), lot=lots[1].pk, portion="all", purpose="own use")
    page = signed_in.get(f"/intake/{lots[0].intake_id}")
    assert ticked(page) == codes(lots[:1] + lots[2:])
    assert page.context["pick"].alike == []


def test_one_crate_is_no_several(signed_in):
    lot = make_lot(at=now())
    assert ticked(signed_in.get(f"/P/{lot.position_id}")) == []


FIELDS = {
    "move": {"position": "B2"},
    "take-out": {"purpose": "own use"},
    "hold": {"reason": "a doubt"},
    "discard": {"reason": "wilted", "destination": "compost"},
}


def fields(doing: str) -> dict:
    data = FIELDS[doing]
    return {"position": place("B2").pk} if "position" in data else data


@pytest.mark.parametrize("doing", FIELDS)
def test_what_is_ticked_is_done_in_one_action_and_unticked_stays(signed_in, doing):
    first, second, third = make_lots(12, 12, 12, at=now())
    page = signed_in.get(address(doing, first, second, third))
    assert ticked(page) == codes([first, second, third])
    data = {"entry": uuid4(), "lots": codes([third, first])} | fields(doing)
    for _ in range(2):  # the same form again is answered as the first time
        answer = signed_in.post(address(doing, first, second, third), data)
        assert answer.status_code == 302
    action = Action.objects.latest("recorded_at")
    assert answer["Location"] == f"/done/{action.pk}"
    done = set(action.movements.values_list("lot_id", flat=True))
    assert (done, Action.objects.count()) == ({first.pk, third.pk}, 2)
    undone = signed_in.post(f"/undo/{action.pk}", {"entry": uuid4()})
    assert undone.status_code == 302
    assert set(Lot.objects.values_list("state", "position", "held", "quantity")) == {
        ("in place", place().pk, False, 12)
    }


@pytest.mark.parametrize("doing", FIELDS)
def test_no_tick_and_no_answer_write_nothing(signed_in, doing):
    lots = make_lots(12, 12, at=now())
    assert "Tap at least one crate." in signed_in.get(f"/several/{doing}").content.decode()
    none = signed_in.post(address(doing, *lots), {"entry": uuid4(), **fields(doing)})
    assert none.status_code == 422
    assert "Tap at least one crate." in none.content.decode()
    assert ticked(none) == []
    assert post(signed_in, doing, *lots).status_code == 422
    assert Action.objects.count() == 1


def test_a_refusal_names_the_crate_and_keeps_the_ticks(signed_in):
    here, held, unticked = make_lots(12, 12, 12, at=now())
    hold(act(now()), lot=held.pk, reason="a doubt")
    answer = signed_in.post(
        address("take-out", here, held, unticked),
        {"entry": uuid4(), "lots": codes([here, held]), "purpose": "own use"},
    )
    assert answer.status_code == 409
    assert f"Crate {held.pk} is on hold." in answer.content.decode()
    assert ticked(answer) == codes([here, held])
    assert Lot.objects.filter(state="in place").count() == 3


def test_what_is_long_past_its_time_is_named_and_asked_about(signed_in):
    """Kale, 10 days at 0 °C (hb66, as in crops.csv), cut 40 days ago."""
    young, old = make_lot(at=now()), make_lot(at=now() - 40 * DAY)
    asked = post(signed_in, "take-out", young, old, purpose="own use")
    assert asked.status_code == 409
    assert f"Far past their time: {old.pk}. Take them out" in asked.content.decode()
    assert not Lot.objects.filter(state="out").exists()
    without = {"entry": uuid4(), "lots": [young.pk], "purpose": "own use"}
    assert signed_in.post(address("take-out", young, old), without).status_code == 302
    sure = post(signed_in, "take-out", old, purpose="own use", sure="1")
    assert sure.status_code == 302
    assert set(Lot.objects.values_list("state", flat=True)) == {"out"}


def test_an_older_one_that_stays_is_named_and_one_that_goes_along_is_not(signed_in):
    oldest, middle, young = (make_lot(at=now() - days * DAY) for days in (6, 3, 0))
    said = "An older one should go first"
    assert said not in signed_in.get(address("take-out", oldest, middle)).content.decode()
    page = signed_in.get(address("take-out", oldest, young)).content.decode()
    assert f"{said}: {middle.pk} in A1." in re.sub(r"\s+", " ", page)
    assert said not in signed_in.get(address("discard", oldest, young)).content.decode()


def test_places_are_good_for_all_that_goes_there(signed_in):
    kale, basil = make_lot(at=now()), make_lot(at=now(), key="basil")
    choices = signed_in.get(address("move", kale)).context["choices"]
    assert any(choice.suggested for choice in choices)
    choices = signed_in.get(address("move", kale, basil)).context["choices"]
    assert not any(choice.suggested for choice in choices)


@pytest.mark.parametrize("path", ["/several/look", "/several/move?lots=odd", "/several/x"])
def test_what_cannot_be_done_to_several_has_no_page(signed_in, path):
    make_lots(12, 12, at=now())
    assert signed_in.get(path).status_code == 404


def test_both_pages_say_who_lifts(signed_in):
    lot, _other = make_lot(at=now()), make_lot(at=now(), position=None)
    for path in ("/put-away", f"/L/{lot.pk}/move", address("move", lot)):
        assert "Two people lift a heavy crate." in signed_in.get(path).content.decode()

"""Back, then the same button: what was done just now is corrected, or this is another."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.undo import undo
from inventory.lives.logs import room_logs
from inventory.models import Action, Intake, Lot, Movement, Reading, Room, RoomCheck, Source
from tests import builders
from tests.builders import act, make_lots, place

BACK = {"came": "back"}
QUESTION = "Correct that, or is this another?"


def hidden(response, name: str) -> str:
    """What a field or button of this name sends; "" where there is none."""
    page = response.content.decode()
    found = re.search(rf'name="{name}"\s+value="([^"]*)"', page)
    return found[1] if found else ""


def harvest(client, crates="12", **changes):
    data = {
        "entry": str(uuid4()), "crates": crates, "quantity": "10", "unit": "bunch",
        "source": Source.objects.get(name="Bed 3").pk,
    }  # fmt: skip
    return client.post(f"/in/harvest/{builders.crop().pk}", data | changes)


def standing() -> int:
    return Lot.objects.exclude(state="void").count()


def answer(client, send, asked, name, **changes):
    """Tap one of the two buttons of a question."""
    sent = {name: hidden(asked, name), "entry": hidden(asked, "entry"), "came": "back"}
    return send(client, **sent | changes)


def test_two_trailers_in_a_row_are_not_asked_about(signed_in):
    assert harvest(signed_in).status_code == harvest(signed_in).status_code == 302
    assert standing() == 24


def test_a_harvest_reached_by_back_asks_and_is_corrected_in_one_go(signed_in):
    first = harvest(signed_in)
    asked = harvest(signed_in, crates="5", **BACK)
    assert asked.status_code == 409
    page = asked.content.decode()
    assert f"You brought in 12 crates of Kale just now. {QUESTION}" in page
    assert 'value="5"' in page  # as typed
    assert standing() == 12
    done = answer(signed_in, harvest, asked, "correct", crates="5")
    assert done.status_code == 302
    assert done["Location"] != first["Location"]
    assert standing() == 5
    assert Action.objects.filter(kind="undo").count() == 1
    assert [intake.action.kind for intake in Intake.objects.all()] == ["bring in"] * 2


def test_what_is_corrected_may_be_told_as_of_an_earlier_time(signed_in, farm):
    harvest(signed_in)
    early = (timezone.now() - timedelta(hours=3)).astimezone(farm.zone)
    said = {"happened_at": f"{early:%Y-%m-%dT%H:%M}", "crates": "5"}
    asked = harvest(signed_in, **said, **BACK)
    assert answer(signed_in, harvest, asked, "correct", **said).status_code == 302
    assert standing() == 5


def test_what_is_wrong_is_said_after_the_question(signed_in):
    harvest(signed_in)
    asked = harvest(signed_in, crates="many", **BACK)
    page = asked.content.decode()
    assert QUESTION in page
    assert "is not a number" not in page
    assert "autofocus" not in page  # which would lead away from the question
    wrong = answer(signed_in, harvest, asked, "another", crates="many")
    assert "is not a number" in wrong.content.decode()


def test_or_it_is_another(signed_in):
    harvest(signed_in)
    asked = harvest(signed_in, crates="5", **BACK)
    assert answer(signed_in, harvest, asked, "another", crates="5").status_code == 302
    assert standing() == 17
    assert not Action.objects.filter(kind="undo").exists()


@pytest.mark.parametrize("name", ["correct", "another"])
def test_either_answer_sent_twice_counts_once(signed_in, name):
    harvest(signed_in)
    asked = harvest(signed_in, crates="5", **BACK)
    once = answer(signed_in, harvest, asked, name, crates="5")
    twice = answer(signed_in, harvest, asked, name, crates="5")
    assert (once.status_code, once["Location"]) == (twice.status_code, twice["Location"])
    assert standing() == {"correct": 5, "another": 17}[name]


def test_a_page_the_phone_kept_asks_too_and_what_it_sent_before_is_just_answered(signed_in):
    key = str(uuid4())
    first = harvest(signed_in, entry=key)
    assert harvest(signed_in, entry=key, **BACK)["Location"] == first["Location"]
    asked = harvest(signed_in, entry=key, crates="5")
    assert asked.status_code == 409
    assert QUESTION in asked.content.decode()
    assert hidden(asked, "entry") not in ("", key)
    assert hidden(asked, "came") == "back"  # its own button asks again
    answer(signed_in, harvest, asked, "correct", crates="5")
    assert standing() == 5


def test_a_page_the_phone_kept_of_somebody_else_is_refused_as_before(signed_in):
    key = str(uuid4())
    harvest(signed_in, entry=key)
    builders.sign_in(signed_in, builders.make_crew())
    refused = harvest(signed_in, entry=key, crates="5")
    assert refused.status_code == 409
    assert "This form was sent before" in refused.content.decode()
    assert hidden(refused, "correct") == ""


def test_after_ten_minutes_nothing_is_asked(signed_in):
    builders.make_lot(at=timezone.now() - timedelta(minutes=11))
    assert harvest(signed_in, **BACK).status_code == 302


def test_a_correction_that_is_refused_leaves_the_earlier_as_it_was(signed_in):
    harvest(signed_in)
    asked = harvest(signed_in, crates="5", **BACK)
    before = Action.objects.count(), Movement.objects.count()
    wrong = answer(signed_in, harvest, asked, "correct", crates="5", quantity="much")
    assert wrong.status_code == 422
    assert "is not a number" in wrong.content.decode()
    assert (Action.objects.count(), Movement.objects.count()) == before
    assert standing() == 12
    # What was answered is still answered, once the figure is right.
    assert hidden(wrong, "correct") == hidden(asked, "correct")
    answer(signed_in, harvest, wrong, "correct", crates="5")
    assert standing() == 5


def test_what_stands_in_the_way_of_a_correction_is_named(signed_in):
    harvest(signed_in)
    lots = list(Lot.objects.values_list("pk", flat=True))
    put = {"entry": uuid4(), "lots": lots, "position": place("B2").pk}
    signed_in.post("/put-away", put)
    asked = harvest(signed_in, crates="5", **BACK)
    blocked = answer(signed_in, harvest, asked, "correct", crates="5")
    assert blocked.status_code == 409
    page = blocked.content.decode()
    assert "came later and still stands. Undo that first." in page
    assert (hidden(blocked, "correct"), hidden(blocked, "another")) == ("", "1")
    assert standing() == 12
    answer(signed_in, harvest, blocked, "another", crates="5")
    assert standing() == 17


def test_anothers_doing_on_the_same_phone_is_named_and_not_theirs_to_take_back(signed_in):
    harvest(signed_in)
    ben = builders.make_crew()
    signed_in.force_login(ben)  # the same phone, handed on
    asked = harvest(signed_in, crates="5", **BACK)
    assert "Ada, on this phone, just now: brought in, 12 crates of Kale." in asked.content.decode()
    blocked = answer(signed_in, harvest, asked, "correct", crates="5")
    assert "You can undo your own entries" in blocked.content.decode()
    assert standing() == 12


def doings(lots) -> dict[str, tuple[dict, dict]]:
    """By the doing of a crate, what was sent first and what after going Back."""
    one, other = lots[0].pk, lots[1].pk
    gone = {"reason": "wilted", "destination": "compost"}
    assert one != other
    return {
        "take-out": ({"share": "half", "purpose": "own use"}, {"quantity": "2"}),
        "discard": ({"share": "half"} | gone, {"quantity": "2"}),
        "split": ({"quantity": "6"}, {"quantity": "2"}),
        "look": ({"days": "2", "seen": "fine"}, {"days": "3"}),
        "good": ({"answer": "fine"}, {"answer": "early"}),
        "sort": ({"firsts": "10", "seconds": "2"}, {"firsts": "2", "seconds": "10"}),
        "combine": ({"others": [other]}, {"others": [lots[2].pk]}),
    }


@pytest.mark.parametrize("kept", [False, True], ids=["fetched anew", "kept by the phone"])
@pytest.mark.parametrize(
    "name", ["take-out", "discard", "split", "look", "good", "sort", "combine"]
)
def test_each_doing_of_a_crate_asks_and_is_corrected(signed_in, name, kept):
    lots = make_lots(12, 12, 12, at=timezone.now())
    code = lots[0].pk
    first, change = doings(lots)[name]
    path, entry = f"/L/{code}/{name}", str(uuid4())
    assert signed_in.post(path, first | {"entry": entry}).status_code == 302
    sent = first | change | ({"entry": entry} if kept else {"entry": str(uuid4())} | BACK)
    asked = signed_in.post(path, sent)
    assert asked.status_code == 409
    assert QUESTION in asked.content.decode()
    sent |= {"entry": hidden(asked, "entry"), "correct": hidden(asked, "correct")}
    done = signed_in.post(path, sent)
    assert done.status_code == 302, done.context["form"].errors
    kinds = list(Action.objects.order_by("recorded_at").values_list("kind", flat=True))
    assert (kinds[1], kinds.count("undo"), kinds.count(kinds[1])) == (kinds[1], 1, 2)
    left = Lot.objects.get(pk=code)
    if name in ("take-out", "discard", "split"):
        assert left.quantity == 10
    if name == "combine":
        assert left.state == "empty"
        assert Lot.objects.get(pk=lots[1].pk).quantity == 12
        assert Lot.objects.get(pk=lots[2].pk).state == "empty"


def test_what_came_back_from_one_of_two_buyers_is_corrected_there(signed_in):
    """The form that is sent offered both; what came back in full would offer one only."""
    now = timezone.now()
    lot = builders.make_lot(at=now)
    builders.take(lot, Decimal(4), at=now)
    builders.take(lot, Decimal(8), at=now, purpose="given", to="Neighbours")
    path, data = f"/L/{lot.pk}/bring-back", {"quantity": "4", "outing": "0"}
    assert signed_in.post(path, data | {"entry": uuid4()}).status_code == 302
    sent = data | {"quantity": "3", "entry": uuid4()} | BACK
    asked = signed_in.post(path, sent)
    sent |= {"entry": hidden(asked, "entry"), "correct": hidden(asked, "correct")}
    assert signed_in.post(path, sent).status_code == 302
    back = Movement.objects.filter(kind="back", amount__gt=0).latest("pk")
    assert (back.other_party, back.amount) == ("Market", 3)


def typed(client, degrees="4.2", **changes):
    data = {"entry": str(uuid4()), "temperature": degrees}
    return client.post(f"/rooms/{Room.objects.get().pk}", data | changes)


@pytest.mark.parametrize("kept", [False, True], ids=["fetched anew", "kept by the phone"])
def test_a_typed_temperature_asks_and_is_corrected(signed_in, kept):
    key = str(uuid4())
    typed(signed_in, entry=key)
    asked = typed(signed_in, "2.4", **({"entry": key} if kept else BACK))
    assert asked.status_code == 409
    assert f"You wrote 4.2 °C just now. {QUESTION}" in asked.content.decode()
    answer(signed_in, typed, asked, "correct", degrees="2.4")
    assert list(Reading.objects.order_by("pk").values_list("temperature_c", "set_aside")) == [
        (4.2, "wrong"), (2.4, ""),
    ]  # fmt: skip


def test_the_same_temperature_from_a_page_the_phone_kept_is_written_once(signed_in):
    key = str(uuid4())
    once, twice = typed(signed_in, entry=key), typed(signed_in, entry=key, **BACK)
    assert (once.status_code, once["Location"]) == (twice.status_code, twice["Location"])
    assert Reading.objects.count() == 1


def test_a_temperature_sent_wrongly_as_a_correction_leaves_the_first(signed_in):
    typed(signed_in)
    asked = typed(signed_in, "2.4", **BACK)
    assert answer(signed_in, typed, asked, "correct", degrees="cold").status_code == 422
    assert Reading.objects.get().set_aside == ""
    # Nor does this process remember the room as if it had never been measured.
    (logged,) = room_logs(timezone.now().timestamp()).values()
    assert 4.2 in logged.log.celsius


def test_a_check_with_another_temperature_asks_too(signed_in):
    path = f"/rooms/{Room.objects.get().pk}/check"
    data = {"temperature": "4.2", "door_shut": "yes"}
    assert signed_in.post(path, data | {"entry": uuid4()}).status_code == 302
    sent = data | {"temperature": "2.4", "entry": uuid4()} | BACK
    asked = signed_in.post(path, sent)
    assert asked.status_code == 409
    sent |= {"entry": hidden(asked, "entry"), "correct": hidden(asked, "correct")}
    assert signed_in.post(path, sent).status_code == 302
    assert RoomCheck.objects.standing().get().temperature_c == 2.4
    assert Reading.objects.get(set_aside="").temperature_c == 2.4


def test_crew_correct_their_own(signed_in):
    builders.sign_in(signed_in, builders.make_crew())
    harvest(signed_in)
    asked = harvest(signed_in, crates="5", **BACK)
    answer(signed_in, harvest, asked, "correct", crates="5")
    assert standing() == 5


def test_a_correction_of_what_was_undone_meanwhile_is_just_done(signed_in):
    harvest(signed_in)
    asked = harvest(signed_in, crates="5", **BACK)
    undo(act(timezone.now()), action=Action.objects.get())
    answer(signed_in, harvest, asked, "correct", crates="5")
    assert standing() == 5
    assert Action.objects.filter(kind="undo").count() == 1

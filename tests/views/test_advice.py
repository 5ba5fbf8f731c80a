"""The week's suggestions on its page: answered there, and met again the week after."""

from datetime import timedelta
from uuid import uuid4

import pytest

from inventory.models import Suggestion
from tests.builders import NOW, crop, make_crew, owner, sign_in
from tests.too_much import LAST_DAY, WEEK, cut_kale, cut_too_much

HEADLINE = "Cut a crate less of Kale on Wednesday."


@pytest.fixture
def on(monkeypatch):
    """Set the clock of the pages."""

    def set_to(at):
        monkeypatch.setattr("django.utils.timezone.now", lambda: at)

    return set_to


@pytest.fixture
def sunday(signed_in, on):
    """A client on the Sunday of a week with something to suggest."""
    cut_too_much()
    on(LAST_DAY)
    sign_in(signed_in)
    return signed_in


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def post(client, answer="accepted", **fields):
    suggestion = f"cut less/{crop().pk}/bunch/2"
    sent = {"entry": str(uuid4()), "suggestion": suggestion, "answer": answer}
    return client.post("/week/2026-06-08/answer", sent | fields, follow=True)


def test_a_suggestion_shows_its_sums(sunday):
    page = text(sunday.get("/week"))
    assert HEADLINE in page
    assert "12 of 36, 12 of 36, 12 of 36 bunches. So 2 crates, not 3." in page
    assert f'name="suggestion" value="cut less/{crop().pk}/bunch/2"' in page


def test_what_is_accepted_is_met_again_next_week(sunday, on):
    page = text(post(sunday))
    assert "✓ To be done: Kale on Wednesday: cut 2 crates, not 3" in page
    assert HEADLINE not in page
    cut_kale(NOW + WEEK, crates=2, wasted=3)
    on(LAST_DAY + timedelta(days=4))
    page = text(sunday.get("/week"))
    assert "So far: cut 3 crates → 2 crates" in page
    on(LAST_DAY + WEEK + timedelta(days=1))
    page = text(sunday.get("/week/2026-06-15"))
    assert "✓ Done: cut 3 crates → 2 crates" in page
    assert "After it: came back or thrown away 12 bunches → 3 bunches" in page


def test_another_number_and_what_is_wrong_with_it(sunday):
    for typed, problem in [("3", "It is 3 now."), ("1.5", "This must be a whole number.")]:
        answer = post(sunday, figure=typed)
        assert answer.status_code == 422
        page = text(answer)
        assert problem in page
        assert HEADLINE in page
        assert f'value="{typed}"' in page
    assert not Suggestion.objects.exists()
    assert "cut 1 crate, not 3" in text(post(sunday, figure="1"))


def test_each_answer_has_its_undo(sunday):
    page = text(post(sunday, "waved"))
    assert "✓ Not now: Kale on Wednesday" in page
    undo = f"/undo/{Suggestion.objects.get().action_id}"
    assert page.count(f'action="{undo}"') == 2
    page = text(sunday.post(undo, {"entry": str(uuid4())}, follow=True))
    assert "↶ Undone: Not now: Kale on Wednesday" in page
    assert HEADLINE in page


def test_the_same_form_twice_is_one_answer_and_another_finds_it_gone(sunday):
    entry = str(uuid4())
    for _twice in range(2):
        assert "To be done" in text(post(sunday, entry=entry))
    answer = post(sunday, "waved")
    assert answer.status_code == 409
    assert "That was answered, or does not hold any more" in text(answer)
    assert Suggestion.objects.count() == 1


def test_a_form_that_says_nothing_or_no_day_is_refused(sunday):
    assert post(sunday, "perhaps").status_code == 422
    for day in ("soon", "0001-01-10", "9999-12-31"):
        sent = {"entry": str(uuid4()), "suggestion": "cut less/1/bunch/2", "answer": "accepted"}
        assert sunday.post(f"/week/{day}/answer", sent).status_code == 404, day


def test_crew_see_nothing_of_it(sunday):
    sign_in(sunday, make_crew())
    assert HEADLINE not in text(sunday.get("/week"))


def test_an_owner_on_a_shared_phone_sees_it_and_is_asked_for_the_password(sunday):
    sign_in(sunday, owner(), as_owner=False)
    assert "Not now" in text(sunday.get("/week"))
    answer = sunday.post("/week/2026-06-08/answer", {"entry": str(uuid4())})
    assert answer["Location"].startswith("/owner?")
    assert not Suggestion.objects.exists()

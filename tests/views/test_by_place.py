"""One table by place: the look at what is past, catching up, the sheet for the door."""

from datetime import datetime, time, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.models import Action, Farm, Lot, Movement
from inventory.queries import by_place
from tests.builders import make_lot, make_lots, market, place, take

DAY = timedelta(days=1)


def text(page) -> str:
    return " ".join(page.content.decode().split())


def old_lots(*quantities) -> list[Lot]:
    return make_lots(*quantities, at=timezone.now() - 40 * DAY)


def look(client, **choices):
    rest = {"reason": "spoiled", "destination": "compost"}
    return client.post("/look-round", {"entry": uuid4(), **rest, **choices})


def test_what_is_past_is_discarded_kept_or_not_there_in_one_form(signed_in):
    a, b, c, left = old_lots(12, 12, 12, 12)
    fresh = make_lot(at=timezone.now())
    page = text(signed_in.get("/look-round"))
    assert all(lot.pk[-4:] in page for lot in (a, b, c, left))
    assert f"do-{fresh.pk}" not in page
    answer = look(signed_in, **{f"do-{a.pk}": "thrown", f"do-{b.pk}": "2", f"do-{c.pk}": "gone"})
    assert answer.status_code == 302
    entries = {entry.lot_id: entry for entry in Movement.objects.order_by("pk")}
    assert (entries[a.pk].kind, entries[a.pk].reason) == ("discarded", "spoiled")
    assert (entries[b.pk].kind, entries[b.pk].note) == ("inspected", "looked at shelf by shelf")
    assert (entries[c.pk].kind, entries[c.pk].change) == ("counted", -12)
    assert entries[left.pk].kind == "brought in"
    written = text(signed_in.get(answer.url))
    assert "3 crates." in written
    assert f'href="/done/{entries[b.pk].action_id}"' in written


def test_what_is_thrown_out_wants_a_reason_and_keeps_what_was_tapped(signed_in):
    lot = old_lots(12)[0]
    answer = look(signed_in, reason="", **{f"do-{lot.pk}": "thrown"})
    assert answer.status_code == 422
    assert "Say why." in text(answer)
    assert not Movement.objects.filter(kind="discarded").exists()
    assert answer.context["form"][f"do-{lot.pk}"].value() == "thrown"


def test_a_walk_on_which_nothing_was_said_is_sent_back(signed_in):
    old_lots(12)
    answer = look(signed_in)
    assert answer.status_code == 422
    assert "problem" in text(answer)


def test_with_nothing_past_its_time_the_page_says_so(signed_in):
    make_lot(at=timezone.now())
    assert "Nothing is past its time" in text(signed_in.get("/look-round"))


def yesterday():
    zone = Farm.objects.get().zone
    return timezone.localdate(timezone.now(), zone) - DAY


def catch(client, **said):
    rest = {"day": yesterday(), "about": "08:00", "reason": "spoiled", "destination": "compost"}
    return client.post("/catch-up", {"entry": uuid4(), **rest, **said})


def test_a_day_nobody_wrote_is_caught_up_with_about_its_time(signed_in):
    lots = make_lots(12, 12, 12, 12, 12, at=timezone.now() - 3 * DAY)
    sold, given, used, gone, half = (f"do-{lot.pk}" for lot in lots)
    answer = catch(
        signed_in,
        to="the pantry",
        **{
            sold: str(market().pk), given: "given", used: "own use", gone: "gone",
            half: "thrown", f"much-{lots[4].pk}": "5",
        },
    )  # fmt: skip
    assert answer.status_code == 302
    assert [Lot.objects.get(pk=lot.pk).quantity for lot in lots] == [0, 0, 0, 0, 7]
    last = Movement.objects.order_by("-pk")[:5]
    told = datetime.combine(yesterday(), time(8), Farm.objects.get().zone)
    assert {entry.occurred_at for entry in last} == {told}
    assert {(e.purpose, e.other_party) for e in last if e.kind == "out"} == {
        ("market", market().name), ("given", "the pantry"), ("own use", ""),
    }  # fmt: skip


def test_what_is_wrong_stands_beside_its_crate_and_nothing_is_written(signed_in):
    lots = make_lots(12, 12, at=timezone.now() - 3 * DAY)
    before = Action.objects.count()
    whole, other = (f"do-{lot.pk}" for lot in lots)
    for said, status, words in (
        ({f"much-{lots[0].pk}": "5"}, 422, "Say where it went."),
        ({whole: "given"}, 422, "Say to whom."),
        ({whole: "own use", other: "own use", f"much-{lots[1].pk}": "13"}, 409, "left in crate"),
        ({whole: "own use", "day": "2019-01-01"}, 422, "sixty days"),
        ({whole: "own use", "about": "noon"}, 422, "Choose one of these."),
    ):
        answer = catch(signed_in, **said)
        assert answer.status_code == status, said
        assert words in text(answer), said
        assert Action.objects.count() == before


def test_what_came_in_later_than_it_is_said_to_have_gone_is_refused(signed_in):
    lot = make_lot(at=timezone.now())
    answer = catch(signed_in, **{f"do-{lot.pk}": "own use"})
    assert answer.status_code == 409
    assert Lot.objects.get(pk=lot.pk).quantity == 12


def test_the_sheet_for_the_door_has_a_code_a_line(signed_in):
    old = old_lots(12)[0]
    page = text(signed_in.get("/door-sheet"))
    assert f"{old.pk[:-4]}<b>{old.pk[-4:]}</b>" in page
    assert "Look and smell" in page


def test_of_what_was_written_with_no_id_known_there_is_no_page(signed_in):
    assert signed_in.get(f"/written/{uuid4()}").status_code == 404


@pytest.mark.parametrize("path", ["/look-round", "/catch-up"])
def test_the_same_form_again_is_answered_as_the_first_time(signed_in, path):
    lot = old_lots(12)[0]
    form = {
        "entry": uuid4(), f"do-{lot.pk}": "thrown", "reason": "spoiled",
        "destination": "compost", "day": yesterday(), "about": "17:00",
    }  # fmt: skip
    first, again = signed_in.post(path, form), signed_in.post(path, form)
    assert (first.status_code, again.status_code) == (302, 302)
    assert first.url == again.url
    assert Movement.objects.filter(kind="discarded").count() == 1


def test_more_crates_than_one_page_holds_stand_on_several(signed_in, monkeypatch):
    monkeypatch.setattr(by_place, "MOST_AT_ONCE", 3)
    at = timezone.now() - 3 * DAY
    first, then = make_lots(12, 12, at=at), make_lots(12, 12, at=at, position=place("B1"))
    pages = [text(signed_in.get(f"/catch-up?page={asked}")) for asked in ("1", "2", "9", "x")]
    for page, here, there in zip(
        pages, (first, then, then, first), (then, first, first, then), strict=True
    ):
        assert all(f"do-{lot.pk}" in page for lot in here)
        assert not any(f"do-{lot.pk}" in page for lot in there)
    assert 'href="?page=2"' in pages[0]
    both = {f"do-{lot.pk}": "own use" for lot in (first[0], then[1])}
    shown = [lot.pk for lot in (*first, *then)]
    assert catch(signed_in, shown=shown, **both).status_code == 302
    assert [Lot.objects.get(pk=lot.pk).quantity for lot in (first[0], then[1])] == [0, 0]


def test_what_has_left_since_the_page_was_opened_is_said(signed_in):
    gone, lot = make_lots(12, 12, at=timezone.now() - 3 * DAY)
    take(gone, "all", timezone.now(), purpose="own use")
    answer = catch(signed_in, **{f"do-{gone.pk}": "own use", f"do-{lot.pk}": "own use"})
    assert answer.status_code == 422
    assert f"No longer here: {gone.pk}." in text(answer)
    assert Lot.objects.get(pk=lot.pk).quantity == 12

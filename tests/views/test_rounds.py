"""Rounds of discards made final, and counts settled."""

from uuid import uuid4

from django.utils import timezone

from tests import builders
from tests.builders import make_lot, make_lots, place
from tests.views.test_scan import fresh, result, scan


def test_a_room_is_counted_and_settled_at_once(signed_in):
    right, moved, gone = make_lots(12, 12, 12, at=timezone.now())
    waiting = make_lot(at=timezone.now(), position=None)
    away = make_lot(at=timezone.now())
    scan(signed_in, "market", away.pk)
    assert result(scan(signed_in, "count", right.pk)) == "refused"
    make_lot(at=timezone.now(), position=place("B3"))
    for lot, where in ((right, "A1"), (moved, "B2"), (waiting, "A1")):
        assert result(scan(signed_in, "count", lot.pk, here=place(where).pk)) == "done"
    odd = scan(signed_in, "count", away.pk, here=place("A1").pk)
    assert "written down as out or empty" in odd.content.decode()
    page = signed_in.get("/scan/count/found")
    found = page.context["found"]
    assert [lot.pk for lot in found.missing] == [gone.pk]
    assert {sight.lot_id for sight in found.misplaced} == {moved.pk, waiting.pk}
    assert [sight.lot_id for sight in found.unexpected] == [away.pk]
    assert found.not_walked == [place("B3")]
    data = {
        "entry": str(uuid4()),
        "missing": gone.pk,
        "misplaced": [f"{moved.pk}={place('B2').pk}", f"{waiting.pk}={place('A1').pk}"],
        "back": away.pk,
    }
    once, again = (signed_in.post("/scan/count/found", data) for _ in range(2))
    assert once["Location"] == again["Location"]
    assert fresh(gone).state == "empty"
    assert fresh(moved).position == place("B2")
    assert (fresh(away).position, fresh(away).quantity) == (place("A1"), 12)
    assert fresh(waiting).position == place("A1")
    assert signed_in.post("/scan/count/found", {"entry": uuid4()}).status_code == 422
    signed_in.post("/scan/count/found", {"entry": uuid4(), "end": "1"})
    assert signed_in.get("/scan/count/found").status_code == 302


def test_a_place_that_was_walked_to_and_held_nothing_misses_its_crates(signed_in):
    gone, unseen = make_lot(at=timezone.now()), make_lot(at=timezone.now(), position=place("A2"))
    assert result(scan(signed_in, "count", place("A1").pk)) == "here"
    found = signed_in.get("/scan/count/found").context["found"]
    assert (found.missing, found.not_walked) == ([gone], [unseen.position])


def test_a_discard_round_becomes_final_at_its_end(signed_in):
    crew = builders.make_crew()
    builders.sign_in(signed_in, crew)
    first, second = make_lots(12, 12, at=timezone.now())
    chosen = {"reason": "wilted", "destination": "compost"}
    for lot in (first, second):
        assert result(scan(signed_in, "discard", lot.pk, **chosen)) == "done"
    actions = list(signed_in.get("/scan/discard/end").context["actions"])
    assert len(actions) == 2
    assert signed_in.post(f"/undo/{actions[0].pk}", {"entry": uuid4()}).status_code == 302
    signed_in.post("/scan/discard/end", {"entry": uuid4()})
    assert signed_in.post(f"/undo/{actions[1].pk}", {"entry": uuid4()}).status_code == 422
    builders.sign_in(signed_in)
    assert signed_in.post(f"/undo/{actions[1].pk}", {"entry": uuid4()}).status_code == 302

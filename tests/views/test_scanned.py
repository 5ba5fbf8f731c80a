"""What one scan does, and what is said of it."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import FirstInLine, Movement, Outlet
from inventory.queries.book import Wanted
from inventory.queries.crates import one_crate
from tests import builders
from tests.builders import act, keep_for, make_lot, make_lots, place, say_order
from tests.views.test_scan import fresh, result, scan


def test_scans_put_crates_away_where_the_place_was_scanned(signed_in):
    first, second = make_lots(12, 12, at=timezone.now(), position=None)
    assert result(scan(signed_in, "put-away", first.pk)) == "refused"
    here = scan(signed_in, "put-away", place("B2").pk)
    assert result(here) == "here"
    assert f'name="here" value="{place("B2").pk}"' in here.content.decode()
    for lot in (first, second):
        text = f"HTTP://TESTSERVER/L/{lot.pk}"
        assert result(scan(signed_in, "put-away", text, here=place("B2").pk)) == "done"
        assert fresh(lot).position == place("B2")
    before = Movement.objects.count()
    again = scan(signed_in, "put-away", first.pk, here=place("B2").pk)
    assert (result(again), Movement.objects.count()) == ("done", before)


def test_four_characters_find_but_never_act(signed_in):
    lot = make_lot(at=timezone.now())
    assert scan(signed_in, "look", lot.pk[-4:])["HX-Redirect"] == f"/L/{lot.pk}"
    assert result(scan(signed_in, "market", lot.pk[-4:])) == "refused"
    assert fresh(lot).state == "in place"


def test_an_older_one_should_go_first_and_can_be_overruled(signed_in):
    now = timezone.now()
    make_lot(at=now - timedelta(days=4))
    young = make_lot(at=now)
    question = scan(signed_in, "market", young.pk)
    assert result(question) == "ask"
    assert "older one should go first" in question.content.decode()
    assert fresh(young).state == "in place"
    assert result(scan(signed_in, "market", young.pk, overrule=young.pk)) == "done"
    assert fresh(young).state == "out"
    assert result(scan(signed_in, "market", young.pk)) == "refused"


def test_a_load_for_market_reads_the_crates_of_its_crop_and_their_plan_once(signed_in):
    now = timezone.now()
    make_lot(at=now - timedelta(days=4))
    young = make_lot(at=now)
    scan(signed_in, "look", young.pk)
    with CaptureQueriesContext(connection) as asked:
        assert result(scan(signed_in, "market", young.pk, overrule=young.pk)) == "done"
    ours = [query["sql"] for query in asked]
    assert sum('"inventory_lot"."crop_id" IN' in sql for sql in ours) == 1
    assert sum('FROM "inventory_notthere"' in sql for sql in ours) == 1
    assert len(ours) <= 30


def test_an_older_one_in_another_unit_is_asked_about_too(signed_in):
    now = timezone.now()
    make_lot(at=now - timedelta(days=4))
    assert result(scan(signed_in, "market", make_lot(3, at=now, unit="kg").pk)) == "ask"


def test_nothing_is_asked_when_it_matters_by_less_than_a_day(signed_in):
    """Whole days are what the screens show: six hours are one or none, by the time of day."""
    now = timezone.now()
    old, young = make_lot(at=now - timedelta(hours=6)), make_lot(at=now)
    shown = {one_crate(lot.pk, act().farm, now).days_left for lot in (old, young)}
    assert result(scan(signed_in, "market", young.pk)) == ("done" if len(shown) == 1 else "ask")


def test_crates_of_an_order_are_taken_and_others_questioned(signed_in):
    mine, other = make_lots(12, 12, at=timezone.now())
    pull = say_order(
        act(timezone.now()), outlet=Outlet.objects.create(name="Inn"),
        lines=[Wanted(builders.crop(), "bunch", Decimal(5))],
    )  # fmt: skip
    keep_for(pull, (mine, 5))
    assert result(scan(signed_in, "order", mine.pk)) == "refused"
    assert result(scan(signed_in, "order", mine.pk, pull=pull.pk)) == "done"
    assert fresh(mine).quantity == 7
    assert result(scan(signed_in, "order", other.pk, pull=pull.pk)) == "ask"
    assert fresh(other).quantity == 12


def test_what_went_out_comes_back_to_the_place_scanned(signed_in):
    lot = make_lot(at=timezone.now())
    assert result(scan(signed_in, "back", lot.pk)) == "refused"
    scan(signed_in, "market", lot.pk)
    assert result(scan(signed_in, "back", lot.pk, here=place("A2").pk)) == "done"
    assert fresh(lot).position == place("A2")


def test_what_is_past_its_time_is_asked_about_and_what_is_held_is_not(signed_in):
    from inventory.actions.quality import hold

    now = timezone.now()
    spent, doubtful = make_lots(12, 12, at=now - timedelta(days=40))
    hold(act(now), lot=doubtful.pk, reason="a doubt")
    said = scan(signed_in, "market", spent.pk)
    assert result(said) == "ask"
    assert "past its time" in said.content.decode()
    assert result(scan(signed_in, "market", doubtful.pk)) == "refused"


def test_a_scan_says_how_much_and_is_undone_in_its_place(signed_in):
    lot = make_lot(at=timezone.now())
    pull = say_order(
        act(timezone.now()), outlet=Outlet.objects.create(name="Inn"),
        lines=[Wanted(builders.crop(), "bunch", Decimal(5))],
    )  # fmt: skip
    keep_for(pull, (lot, 5))
    said = scan(signed_in, "order", lot.pk, pull=pull.pk).content.decode()
    assert "Kale: 5 bunches, Inn" in said
    path = re.search(r'hx-post="(/undo/[^"]+)"', said)[1]
    for words in ("Undone", "undone already"):
        answer = signed_in.post(path, {"entry": uuid4()}, headers={"HX-Request": "true"})
        assert words in answer.content.decode()
        assert "<html" not in answer.content.decode()
    assert fresh(lot).quantity == 12


def test_what_comes_back_of_a_part_is_named_by_its_own_code(signed_in):
    from inventory.actions.movements import take_out

    lot = make_lot(at=timezone.now())
    take_out(act(timezone.now()), lot=lot.pk, portion="half", purpose="own use")
    said = scan(signed_in, "back", lot.pk, here=place("A2").pk).content.decode()
    child = lot.child_links.get().child_id
    assert "6 bunches, brought back, as a crate of its own" in said
    assert f'href="/L/{child}"' in said


def test_tags_are_put_on_one_after_the_other(signed_in):
    from inventory.models import Tag

    signed_in.post("/settings/tags", {"entry": uuid4(), "count": "12"})
    lots = make_lots(*[12] * 12, at=timezone.now())
    assert result(scan(signed_in, "tag", lots[0].pk)) == "refused"
    for tag in Tag.objects.all():
        assert result(scan(signed_in, "tag", tag.pk)) == "done"
    assert {tag.current_lot() for tag in Tag.objects.all()} == set(lots)
    assert result(scan(signed_in, "tag", Tag.objects.first().pk)) == "refused"


def test_tags_go_on_the_latest_harvest_alone_and_can_be_taken_off(signed_in):
    from inventory.models import Tag

    signed_in.post("/settings/tags", {"entry": uuid4(), "count": "3"})
    one, two, three = Tag.objects.all()
    older = make_lot(at=timezone.now() - timedelta(days=1))
    make_lots(12, 12, at=timezone.now())
    said = scan(signed_in, "tag", one.pk).content.decode()
    assert "Kale, crate 1 of 2" in said
    scan(signed_in, "tag", two.pk)
    assert result(scan(signed_in, "tag", three.pk)) == "refused"  # yesterday's has none either
    page = signed_in.get(f"/scan/tag?intake={older.intake_id}").content.decode()
    assert "Scan an unused tag for Kale, crate 1 of 1." in page
    path = re.search(r'hx-post="(/tag/[^"]+)"', said)[1]
    signed_in.post(path, {"entry": uuid4()}, headers={"HX-Request": "true"})
    assert one.current_lot() is None
    assert result(scan(signed_in, "tag", three.pk)) == "done"


def test_a_tag_whose_crate_went_to_a_kitchen_is_free_when_it_comes_back(signed_in):
    from inventory.actions.movements import take_out
    from inventory.models import Tag

    signed_in.post("/settings/tags", {"entry": uuid4(), "count": "1"})
    tag = Tag.objects.get()
    gone = make_lot(at=timezone.now())
    scan(signed_in, "tag", tag.pk)
    assert "Take the tag off" in signed_in.get(f"/L/{gone.pk}").content.decode()
    take_out(act(timezone.now()), lot=gone.pk, portion="all", purpose="own use")
    filled = make_lot(at=timezone.now())
    assert result(scan(signed_in, "tag", tag.pk)) == "done"
    assert signed_in.get(f"/L/{tag.pk}")["Location"] == f"/L/{filled.pk}"
    from inventory.actions.movements import bring_back
    from inventory.queries.tags import without_tag

    bring_back(act(timezone.now()), lot=gone.pk, quantity=Decimal(12))
    assert list(without_tag()) == [gone]


def test_a_crate_that_never_left_comes_back_whole_under_its_own_code(signed_in):
    from inventory.actions.movements import take_out

    lot = make_lot(at=timezone.now())
    take_out(act(timezone.now()), lot=lot.pk, portion="half", purpose="own use")
    scan(signed_in, "market", lot.pk)
    scan(signed_in, "count", lot.pk, here=place("A2").pk)
    signed_in.post("/scan/count/found", {"entry": uuid4(), "back": lot.pk})
    assert (fresh(lot).position, fresh(lot).quantity) == (place("A2"), 12)
    assert not lot.child_links.exists()


def test_another_persons_undo_and_tags_are_left_alone(signed_in):
    lot = make_lot(at=timezone.now())
    before = str(builders.owner().pk)
    path = f"/undo/{lot.intake.action_id}"
    builders.sign_in(signed_in, builders.make_crew())
    assert signed_in.post(path, {"entry": uuid4(), "person": before}).status_code == 403
    assert fresh(lot).state == "in place"


def asked_about(client):
    """A market load that is asked about, since an older crate should go first."""
    old, new = (make_lot(at=timezone.now() - timedelta(days=days)) for days in (4, 0))
    asked = scan(client, "market", new.pk)
    assert result(asked) == "ask"
    page = asked.content.decode()
    assert f'name="unreachable" value="{old.pk}"' in page
    assert "The older one can't be got at" in page
    assert f'name="asked" value="{new.pk}"' in page
    return old, new


def first_in_line(lot) -> tuple:
    row = FirstInLine.objects.get(movement__lot=lot)
    return row.first_id, row.why_not, row.reachable


def test_that_the_older_crate_can_not_be_got_at_is_said_by_a_button_and_kept(signed_in):
    old, new = asked_about(signed_in)
    said = scan(signed_in, "market", unreachable=old.pk, asked=new.pk)
    assert result(said) == "done"
    assert fresh(new).state == "out"
    assert first_in_line(new) == (old.pk, "", False)


def test_to_take_a_crate_all_the_same_does_not_say_that_the_older_is_out_of_reach(signed_in):
    old, new = asked_about(signed_in)
    assert result(scan(signed_in, "market", overrule=new.pk, asked=new.pk)) == "done"
    assert first_in_line(new) == (old.pk, "", True)


def test_to_have_been_asked_overrules_nothing(signed_in):
    _old, new = asked_about(signed_in)
    assert result(scan(signed_in, "market", new.pk, asked=new.pk)) == "ask"
    assert fresh(new).state == "in place"


def test_a_scan_and_an_order_and_the_form_each_write_who_should_have_gone_first(signed_in):
    old = make_lot(at=timezone.now() - timedelta(hours=30))
    scanned, ordered, typed = make_lots(12, 12, 12, at=timezone.now())
    scan(signed_in, "market", scanned.pk, overrule=scanned.pk)
    pull = say_order(
        act(timezone.now()),
        lines=[Wanted(old.crop, "bunch", Decimal(12))],
        outlet=builders.market(),
    )
    keep_for(pull, (ordered, 12))
    assert result(scan(signed_in, "order", ordered.pk, pull=pull.pk)) == "done"
    form = {"entry": uuid4(), "share": "half", "purpose": "own use"}
    assert signed_in.post(f"/L/{typed.pk}/take-out", form).status_code == 302
    for lot in (scanned, ordered, typed):
        assert first_in_line(lot) == (old.pk, "", True)
    assert result(scan(signed_in, "market", old.pk)) == "done"
    assert first_in_line(old) == (None, "", True)

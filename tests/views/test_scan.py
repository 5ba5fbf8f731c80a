"""Crate after crate, by text and by photo."""

import io
import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image

from inventory.labels import LabelText, draw_label
from inventory.labels.turns import Turns
from inventory.models import FirstInLine, Lot, Movement, Outlet
from inventory.queries.book import Wanted
from inventory.queries.crates import one_crate
from inventory.views.scan import MODES
from tests import builders
from tests.builders import act, keep_for, make_lot, make_lots, place, say_order


def scan(client, mode, text="", **changes):
    data = {"entry": uuid4(), "text": text} | changes
    return client.post(f"/scan/{mode}", data, headers={"HX-Request": "true"})


def results(response) -> list[str]:
    return re.findall(r'data-result="(\w+)"', response.content.decode())


def result(response) -> str:
    return results(response)[0]


def fresh(lot) -> Lot:
    return Lot.objects.get(pk=lot.pk)


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


def test_the_same_scan_sent_twice_counts_once(signed_in):
    lot = make_lot(at=timezone.now())
    data = {"entry": str(uuid4()), "text": lot.pk, "reason": "wilted", "destination": "compost"}
    for _ in range(2):
        assert result(signed_in.post("/scan/discard", data)) == "done"
    assert Movement.objects.filter(kind="discarded").count() == 1


def test_looking_up_leads_to_the_crate(signed_in):
    lot = make_lot(at=timezone.now())
    assert scan(signed_in, "look", lot.pk)["HX-Redirect"] == f"/L/{lot.pk}"
    plain = signed_in.post("/scan/look", {"entry": uuid4(), "text": lot.pk})
    assert plain["Location"] == f"/L/{lot.pk}"


@pytest.mark.parametrize(
    "text", ["", "nonsense", "HTTP://EVIL.EXAMPLE/L/{code}", "{code}0", "🥬", "x" * 5000]
)
@pytest.mark.parametrize("mode", MODES)
def test_what_is_not_ours_is_refused_in_every_mode(signed_in, mode, text):
    """Even with the code of a crate that is here, and all that the mode asks for."""
    lot = make_lot(at=timezone.now())
    before = Movement.objects.count()
    sound = {"here": place("B2").pk, "reason": "wilted", "destination": "compost"}
    response = scan(signed_in, mode, text.format(code=lot.pk), **sound)
    assert (response.status_code, result(response)) == (409, "refused")
    assert Movement.objects.count() == before
    assert fresh(lot).position == place("A1")


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


def test_what_a_scan_did_names_its_crate(signed_in):
    lots = make_lots(12, 12, at=timezone.now())
    said = scan(signed_in, "look", photo=photo(*(lot.pk for lot in lots))).content.decode()
    for lot in lots:
        assert f'href="/L/{lot.pk}"' in said


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


def test_an_order_of_eight_lines_is_got_by_one_tap_and_eight_scans(signed_in, monkeypatch):
    """The tap is on the order's page, however many others stand in the book before it."""
    monkeypatch.setattr("inventory.views.scan.MOST_ORDERS", 1)
    keys = [
        "kale", "swiss-chard", "spinach", "radish-bunched", "leek", "parsley", "arugula",
        "napa-cabbage",
    ]  # fmt: skip
    lots = [make_lot(20, key=key, at=timezone.now()) for key in keys]
    lines = [Wanted(lot.crop, lot.unit, Decimal(5)) for lot in lots]
    say_order(act(timezone.now()), lines=lines)
    due = timezone.localdate() + timedelta(days=2)
    order = say_order(act(timezone.now()), lines=lines, due=due)
    tapped = re.search(r'"(/scan/order\?pull=[^"]+)"', text_of(signed_in.get(f"/pull/{order.pk}")))
    page = text_of(signed_in.get(tapped[1]))
    (chosen,) = re.findall(r'value="([^"]+)"\s+selected', page)
    assert [result(scan(signed_in, "order", lot.pk, pull=chosen)) for lot in lots] == ["done"] * 8
    assert "Nothing more to fetch." in text_of(signed_in.get(f"/pull/{order.pk}"))


def text_of(response) -> str:
    return response.content.decode()


def test_what_went_out_comes_back_to_the_place_scanned(signed_in):
    lot = make_lot(at=timezone.now())
    assert result(scan(signed_in, "back", lot.pk)) == "refused"
    scan(signed_in, "market", lot.pk)
    assert result(scan(signed_in, "back", lot.pk, here=place("A2").pk)) == "done"
    assert fresh(lot).position == place("A2")


def photo(*codes) -> SimpleUploadedFile:
    labels = [
        draw_label(LabelText("Kale", code, (("12 bunches", 0.5),), code), 99, 38, 203)
        for code in codes
    ]
    shelf = Image.new("L", (1000, 40 + 340 * len(labels)), 120)
    for number, label in enumerate(labels):
        shelf.paste(label.convert("L"), (60, 30 + 340 * number))
    out = io.BytesIO()
    shelf.save(out, "JPEG", quality=60)
    return SimpleUploadedFile("shelf.jpg", out.getvalue(), "image/jpeg")


def test_a_photo_of_three_labels_acts_on_all_three(signed_in):
    lots = make_lots(12, 12, 12, at=timezone.now(), position=None)
    picture = photo(*(lot.pk for lot in lots))
    response = scan(signed_in, "put-away", photo=picture, here=place("A2").pk)
    assert results(response) == ["done"] * 3
    assert set(Lot.objects.values_list("position", flat=True)) == {place("A2").pk}


def test_a_frame_is_read_for_a_browser_that_can_not(signed_in):
    lot = make_lot(at=timezone.now())
    answer = signed_in.post("/scan/read", {"photo": photo(lot.pk)})
    assert answer.json() == {"texts": [lot.pk]}
    assert signed_in.post("/scan/read").json() == {"texts": []}


def test_a_frame_is_looked_at_thoroughly_when_the_page_says_so(signed_in, monkeypatch):
    asked = []
    monkeypatch.setattr(
        "inventory.views.scan.read_symbols",
        lambda image, thorough=True: asked.append(thorough) or ["0"],
    )
    lot = make_lot(at=timezone.now())
    signed_in.post("/scan/read", {"photo": photo(lot.pk)})
    signed_in.post("/scan/read", {"photo": photo(lot.pk), "thorough": "1"})
    scan(signed_in, "put-away", photo=photo(lot.pk))
    assert asked == [False, True, True]


def test_while_others_look_at_pictures_a_frame_is_passed_over_and_a_photo_says_so(
    signed_in, monkeypatch
):
    lot, turns = make_lot(at=timezone.now()), Turns()
    monkeypatch.setattr("inventory.views.scan.pictures", turns)
    monkeypatch.setattr(turns, "_here", 2)
    frame = signed_in.post("/scan/read", {"photo": photo(lot.pk)})
    assert frame.json() == {"texts": [], "busy": True}
    said = scan(signed_in, "look", photo=photo(lot.pk))
    assert result(said) == "refused"
    assert "Other pictures are being looked at" in said.content.decode()


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"no picture", "no picture that can be read"), (b"0" * 20_000_001, "too big")],
    ids=["text", "big"],
)
def test_what_is_no_picture_is_refused_in_words(signed_in, data, words):
    upload = SimpleUploadedFile("x.jpg", data, "image/jpeg")
    assert signed_in.post("/scan/read", {"photo": upload}).status_code == 400
    upload.seek(0)
    said = scan(signed_in, "put-away", photo=upload)
    assert result(said) == "refused"
    assert words in said.content.decode()


def test_a_photo_without_a_label_says_so(signed_in):
    blank = io.BytesIO()
    Image.new("L", (400, 300), 200).save(blank, "PNG")
    said = scan(signed_in, "look", photo=SimpleUploadedFile("x.png", blank.getvalue()))
    assert (said.status_code, result(said)) == (409, "refused")
    assert "No label was found" in said.content.decode()


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


def test_a_page_left_open_does_nothing_for_the_next_person(signed_in):
    lot = make_lot(at=timezone.now())
    before = str(builders.owner().pk)
    builders.sign_in(signed_in, builders.make_crew())
    chosen = {"reason": "wilted", "destination": "compost", "person": before}
    assert scan(signed_in, "discard", lot.pk, **chosen)["HX-Redirect"] == "/scan/look"
    assert fresh(lot).state == "in place"
    signed_in.logout()
    assert scan(signed_in, "discard", lot.pk)["HX-Redirect"].startswith("/sign-in")


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


def test_a_crate_that_never_left_comes_back_whole_under_its_own_code(signed_in):
    from inventory.actions.movements import take_out

    lot = make_lot(at=timezone.now())
    take_out(act(timezone.now()), lot=lot.pk, portion="half", purpose="own use")
    scan(signed_in, "market", lot.pk)
    scan(signed_in, "count", lot.pk, here=place("A2").pk)
    signed_in.post("/scan/count/found", {"entry": uuid4(), "back": lot.pk})
    assert (fresh(lot).position, fresh(lot).quantity) == (place("A2"), 12)
    assert not lot.child_links.exists()


def test_a_page_open_too_long_keeps_the_scan_and_gets_a_fresh_token(signed_in):
    lot = make_lot(at=timezone.now())
    strict = Client(enforce_csrf_checks=True)
    builders.sign_in(strict)
    data = {"entry": uuid4(), "text": lot.pk, "csrfmiddlewaretoken": "stale"}
    headers = {"HX-Request": "true", "Origin": "http://testserver"}
    answer = strict.post("/scan/market", data, headers=headers)
    assert answer.status_code == 403
    said = answer.content.decode()
    assert "Nothing was written; send it again" in said
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', said)[1]
    again = strict.post("/scan/market", data | {"csrfmiddlewaretoken": token}, headers=headers)
    assert result(again) == "done"


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

"""Crate after crate, by text and by photo."""

import io
import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from inventory.labels import LabelText, draw_label
from inventory.labels.turns import Turns
from inventory.models import Lot, Movement
from inventory.queries.book import Wanted
from inventory.views.scan import MODES
from tests import builders
from tests.builders import act, make_lot, make_lots, place, say_order


def scan(client, mode, text="", **changes):
    data = {"entry": uuid4(), "text": text} | changes
    return client.post(f"/scan/{mode}", data, headers={"HX-Request": "true"})


def results(response) -> list[str]:
    return re.findall(r'data-result="(\w+)"', response.content.decode())


def result(response) -> str:
    return results(response)[0]


def fresh(lot) -> Lot:
    return Lot.objects.get(pk=lot.pk)


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


def test_what_a_scan_did_names_its_crate(signed_in):
    lots = make_lots(12, 12, at=timezone.now())
    said = scan(signed_in, "look", photo=photo(*(lot.pk for lot in lots))).content.decode()
    for lot in lots:
        assert f'href="/L/{lot.pk}"' in said


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


def test_a_page_left_open_does_nothing_for_the_next_person(signed_in):
    lot = make_lot(at=timezone.now())
    before = str(builders.owner().pk)
    builders.sign_in(signed_in, builders.make_crew())
    chosen = {"reason": "wilted", "destination": "compost", "person": before}
    assert scan(signed_in, "discard", lot.pk, **chosen)["HX-Redirect"] == "/scan/look"
    assert fresh(lot).state == "in place"
    signed_in.logout()
    assert scan(signed_in, "discard", lot.pk)["HX-Redirect"].startswith("/sign-in")


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

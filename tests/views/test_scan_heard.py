"""What a scan says besides "done": harm, what was taken already, what was undone."""

import io
import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from inventory.actions.orders import change_order, take_for_order
from inventory.actions.undo import undo
from inventory.codes import ALPHABET
from inventory.labels import LabelText, draw_label
from inventory.models import Lot, Order, Outlet, Position
from inventory.queries.book import Wanted
from tests import builders
from tests.builders import act, fresh, keep_for, make_cases, make_lot, make_lots, place, say_order
from tests.queries.test_rooms import cold_spots, other_room
from tests.views.test_scan import result, results, scan


def cautions(page: str) -> list[str]:
    """Every sentence of caution on a page, without its mark-up."""
    found = re.findall(r'<p class="(?:problem|caution)">(.*?)</p>', page, re.DOTALL)
    return [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in found]


def apples_beside_kale() -> Lot:
    make_lot(at=timezone.now())
    return make_cases(18, at=timezone.now(), position=None)[0]


def kale_where_it_is_full() -> Lot:
    Position.objects.update(capacity=1)
    make_lot(at=timezone.now(), position=place("B2"))
    return make_lot(at=timezone.now())


def kale_into_the_cold_spot() -> Lot:
    cold_spots("B2")
    return make_lot(at=timezone.now())


def basil_into_the_cold() -> Lot:
    other_room("B3", target_c=Decimal(13))
    return make_lot(at=timezone.now(), key="basil", position=None)


HARMS = [apples_beside_kale, kale_where_it_is_full, kale_into_the_cold_spot, basil_into_the_cold]


@pytest.mark.parametrize("harm", HARMS)
def test_a_scan_into_harm_is_written_and_says_what_the_form_says(signed_in, harm):
    lot = harm()
    data = {"entry": uuid4(), "text": lot.pk, "here": place("B2").pk}
    said = signed_in.post("/scan/put-away", data, headers={"HX-Request": "true"})
    assert result(said) == "mind"
    assert fresh(lot).position == place("B2")
    told = cautions(said.content.decode())
    assert told
    action = fresh(lot).movements.latest("pk").action
    assert told == cautions(signed_in.get(f"/done/{action.pk}").content.decode())
    again = signed_in.post("/scan/put-away", data, headers={"HX-Request": "true"})
    assert (result(again), cautions(again.content.decode())) == ("mind", told)


def test_the_sentences_are_those_of_the_trade(signed_in):
    """Handbook 66 (2016) for the gas; the others are the farm's own facts."""
    cold_spots("B2")
    Position.objects.update(capacity=1)
    make_lot(at=timezone.now(), position=place("B2"))
    apple = make_cases(18, at=timezone.now(), position=None)[0]
    told = " ".join(cautions(scan(signed_in, "put-away", apple.pk, here=place("B2").pk)
                             .content.decode()))  # fmt: skip
    assert "B2 holds 1; 2 crates stand there now." in told
    assert "B2: known cold spot: may freeze here." in told
    assert "Ripening gas of Apples ages: Kale." in told


def test_harm_is_said_again_of_a_crate_that_stands_there_already(signed_in):
    cold_spots("A1")
    lot = make_lot(at=timezone.now())
    said = scan(signed_in, "put-away", lot.pk, here=place("A1").pk)
    assert result(said) == "mind"
    assert "It stands here already" in said.content.decode()
    assert cautions(said.content.decode()) == ["A1: known cold spot: may freeze here."]


def test_what_is_brought_back_into_a_cold_spot_says_so(signed_in):
    cold_spots("A2")
    lot = make_lot(at=timezone.now())
    scan(signed_in, "market", lot.pk)
    said = scan(signed_in, "back", lot.pk, here=place("A2").pk)
    assert result(said) == "mind"
    assert fresh(lot).position == place("A2")


def kale(quantity: int) -> Wanted:
    return Wanted(builders.crop(), "bunch", Decimal(quantity))


def order_of(*lots: Lot, quantity: int) -> Order:
    pull = say_order(
        act(timezone.now()), outlet=Outlet.objects.create(name="Inn"),
        lines=[kale(quantity)],
    )  # fmt: skip
    keep_for(pull, *((lot, quantity) for lot in lots))
    return pull


def test_a_crate_of_this_very_order_was_taken_already(signed_in):
    lot, other = make_lots(12, 12, at=timezone.now())
    pull = order_of(lot, quantity=12)
    assert result(scan(signed_in, "order", lot.pk, pull=pull.pk)) == "done"
    said = scan(signed_in, "order", lot.pk, pull=pull.pk)
    assert result(said) == "refused"
    assert "Taken for this order already." in said.content.decode()
    scan(signed_in, "market", other.pk)
    assert "is not here: out" in scan(signed_in, "order", other.pk, pull=pull.pk).content.decode()


def test_the_rest_of_a_crate_is_asked_about_and_an_undo_makes_it_open_again(signed_in):
    lot = make_lot(at=timezone.now())
    pull = order_of(lot, quantity=5)
    scan(signed_in, "order", lot.pk, pull=pull.pk)
    said = scan(signed_in, "order", lot.pk, pull=pull.pk)
    assert result(said) == "ask"
    assert "taken for this order already" in said.content.decode()
    assert fresh(lot).quantity == 7
    undo(act(timezone.now()), action=fresh(lot).movements.latest("pk").action)
    assert result(scan(signed_in, "order", lot.pk, pull=pull.pk)) == "done"
    assert fresh(lot).quantity == 7
    undo(act(timezone.now()), action=fresh(lot).movements.latest("pk").action)
    change_order(act(timezone.now()), order=pull.pk, lines=[kale(1)], due=pull.due)
    take_for_order(act(timezone.now()), order=pull.pk, lot=make_lot(at=timezone.now()).pk)
    said = scan(signed_in, "order", lot.pk, pull=pull.pk).content.decode()
    assert "It is not of this order." in said


def test_an_undone_crate_in_a_count_says_undone(signed_in):
    lot, eaten = make_lot(at=timezone.now()), make_lot(at=timezone.now())
    undo(act(timezone.now()), action=lot.intake.action)
    chosen = {"reason": "wilted", "destination": "compost"}
    scan(signed_in, "discard", eaten.pk, **chosen)
    said = scan(signed_in, "count", lot.pk, here=place("A1").pk)
    assert result(said) == "mind"
    assert "was undone" in said.content.decode()
    scan(signed_in, "count", eaten.pk, here=place("A1").pk)
    page = signed_in.get("/scan/count/found").content.decode()
    assert len(re.findall(r"· undone", page)) == 1


def test_a_typed_code_with_one_wrong_character_is_told_so(signed_in):
    code = make_lot(at=timezone.now()).pk
    for wrong in ALPHABET.replace(code[-1], ""):
        said = scan(signed_in, "put-away", code[:-1] + wrong, here=place("A1").pk)
        assert result(said) == "refused"
        assert "One letter or number is wrong." in said.content.decode()
    for other in ("", code + "0", f"HTTP://OTHER.LOCAL/L/{code}"):
        said = scan(signed_in, "put-away", other, here=place("A1").pk)
        assert "That is not one of our labels." in said.content.decode()


def shelf(*codes: str) -> SimpleUploadedFile:
    """A photo of labels one below the other."""
    picture = Image.new("L", (1000, 40 + 340 * len(codes)), 120)
    for number, code in enumerate(codes):
        label = draw_label(LabelText("Kale", code, (("12 bunches", 0.5),), code), 99, 38, 203)
        picture.paste(label.convert("L"), (60, 30 + 340 * number))
    out = io.BytesIO()
    picture.save(out, "PNG")
    return SimpleUploadedFile("shelf.png", out.getvalue(), "image/png")


def test_a_place_below_its_crates_in_a_photo_is_where_they_go(signed_in):
    lots = make_lots(12, 12, at=timezone.now(), position=None)
    there = place("B3")
    said = scan(signed_in, "put-away", photo=shelf(lots[0].pk, lots[1].pk, there.pk))
    assert results(said) == ["done", "done", "here"]
    assert {fresh(lot).position for lot in lots} == {there}


def test_of_two_places_in_a_photo_each_holds_for_what_is_below_it(signed_in):
    lots = make_lots(12, 12, at=timezone.now(), position=None)
    codes = place("A2").pk, lots[0].pk, place("B3").pk, lots[1].pk
    scan(signed_in, "put-away", photo=shelf(*codes))
    assert [fresh(lot).position for lot in lots] == [place("A2"), place("B3")]


@pytest.mark.parametrize(
    ("page", "back"),
    [
        ("http://testserver/scan/put-away?here=7", "/scan/put-away%3Fhere%3D7"),
        ("http://evil.example/scan/put-away", "/"),
        ("https://testserver/scan/put-away", "/"),
        ("javascript:alert(1)", "/"),
        (None, "/"),
    ],
)
def test_whoever_was_signed_out_is_led_back_to_the_scan_page(client, farm, page, back):
    headers = {"HX-Request": "true"} | ({"HX-Current-URL": page} if page else {})
    answer = client.post("/scan/put-away", {"text": "x", "entry": uuid4()}, headers=headers)
    assert answer["HX-Redirect"] == f"/sign-in?next={back}"


def test_a_page_of_ours_that_names_another_host_leads_home(client, farm):
    headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver//evil.example/"}
    path = client.post("/scan/put-away", {"entry": uuid4()}, headers=headers)["HX-Redirect"]
    data = {"name": "Ada", "password": builders.PASSWORD}
    assert 'name="next" value="/"' in client.get(path).content.decode()
    query = path.partition("?")[2]
    assert client.post(f"/sign-in?{query}", data)["Location"] == "/"

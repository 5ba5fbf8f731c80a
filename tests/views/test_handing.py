"""The run, handing over, the slip, and our crates that are out."""

from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from inventory.actions.empties import bring_empties
from inventory.actions.handing import give_credit
from inventory.actions.movements import bring_back
from inventory.actions.undo import undo
from inventory.labels.compose import qr_outline
from inventory.models import Credit, Empties, Farm, Handover, Order, Outlet
from inventory.queries.empties import crates_to_wash, crates_with
from tests.builders import act, make_crew, make_lot, make_lots, market, place, sign_in, take
from tests.deliveries import got, handed, kitchen

pytestmark = pytest.mark.usefixtures("farm")


@pytest.fixture
def now():
    return timezone.now()


def load(outlet: Outlet, now, *quantities: int):
    lots = make_lots(*quantities, at=now - timedelta(hours=3))
    return got(outlet, *zip(lots, quantities, strict=True), at=now)


def send(client, order, **typed):
    data = {"entry": uuid4(), "to_whom": "Chef Ana", "crates_back": "", "crates_out": ""}
    return client.post(f"/pull/{order}/hand-over", data | typed)


def test_handing_over_leads_to_the_slip_and_its_undo_says_withdrawn(signed_in, now):
    Farm.objects.update(postal_address="Brindlemoor, Brindle", telephone="555-0100")
    order = load(kitchen(), now, 12)
    answer = send(signed_in, order, crates_back="2")
    made = Handover.objects.get()
    assert answer["Location"] == f"/slip/1?said=act.{made.action_id}"
    assert (made.crates_out, made.crates_back) == (1, 2)
    page = signed_in.get(answer["Location"]).content.decode()
    for said in (
        "Delivery slip 1", "Lantern House", "2 Lantern Row, Tamberlow", "Chef Ana", "Test Farm",
        "Brindlemoor, Brindle", "555-0100", "Our crates left with you: 1, brought back: 2",
        "12 bunches", "at 1 to 5 °C", "not of food safety", "reckoned at 5 °C",
    ):  # fmt: skip
        assert said in page, said
    assert "Withdrawn" not in page
    signed_in.post(f"/undo/{made.action_id}", {"entry": uuid4()})
    page = signed_in.get("/slip/1").content.decode()
    assert "Delivery slip 1 (withdrawn)" in page
    assert "Withdrawn." in page
    assert Order.objects.get().is_open


def test_the_undo_of_a_handing_over_leads_to_its_slip(signed_in, now):
    made = handed(load(kitchen(), now, 12), at=now)
    undone = undo(act(now), action=made.action)
    answer = signed_in.get(f"/done/{undone.pk}")
    assert answer["Location"] == f"/slip/1?said=act.{made.action_id}"
    told = signed_in.get(answer["Location"]).context["told"]
    assert told.answer.undone
    assert told.answer.words.endswith("order handed over")


def test_a_name_that_is_missing_is_asked_for_and_nothing_is_written(signed_in, now):
    answer = send(signed_in, load(kitchen(), now, 12), to_whom=" ")
    assert answer.status_code == 422
    assert b"This is still missing." in answer.content
    assert not Handover.objects.exists()


@pytest.mark.parametrize("typed", ["-1", "501", "1.5", "many"])
def test_empties_are_a_whole_number(signed_in, now, typed):
    answer = send(signed_in, load(kitchen(), now, 12), crates_back=typed)
    assert answer.status_code == 422
    assert not Handover.objects.exists()


def test_an_order_handed_over_leads_to_its_slip_and_is_not_opened_again(signed_in, now):
    order = load(kitchen(), now, 12)
    assert b"Hand it over" in signed_in.get(f"/pull/{order}").content
    handed(order, at=now)
    for address in (f"/pull/{order}", f"/pull/{order}/hand-over"):
        page = signed_in.get(address).content.decode()
        assert 'href="/slip/1"' in page
        assert "Open it again" not in page
    answer = send(signed_in, order)
    assert answer.status_code == 409
    assert b"handed over already: slip 1" in answer.content


def test_who_took_it_the_last_time_stands_there_already(signed_in, now):
    outlet = kitchen()
    handed(load(outlet, now, 12), at=now, to_whom="Sous-chef Bo")
    form = signed_in.get(f"/pull/{load(outlet, now, 12)}/hand-over").context["form"]
    assert (form["to_whom"].value(), form["crates_out"].value()) == ("Sous-chef Bo", "1")


@pytest.mark.parametrize("number", ["7", "99999999999999999999"])
def test_a_slip_that_never_was_is_not_found(signed_in, number):
    assert signed_in.get(f"/slip/{number}").status_code == 404


def test_the_slip_says_on_screen_what_the_buyer_was_called_then(signed_in, now):
    outlet = kitchen()
    handed(load(outlet, now, 12), at=now)
    Outlet.objects.filter(pk=outlet.pk).update(name="The Heron", address="1 Cross")
    page = signed_in.get("/slip/1").content.decode()
    assert "<dd>\n      Lantern House<br>\n        2 Lantern Row, Tamberlow" in page


def stops(page) -> list[str]:
    return [stop.outlet.name for stop in page.context["stops"]]


def test_the_run_is_in_the_order_set_and_loaded_last_stop_first(signed_in, now):
    for name, hour in (("Heron", "09:00"), ("Inn", "08:00"), ("Kitchen", "10:00")):
        load(kitchen(name, by_time=hour), now, 12)
    page = signed_in.get("/run")
    assert stops(page) == ["Inn", "Heron", "Kitchen"]
    assert [stop.outlet.name for stop in page.context["loading"]] == ["Kitchen", "Heron", "Inn"]
    last, first = Outlet.objects.get(name="Kitchen"), Outlet.objects.get(name="Inn")
    typed = {"entry": uuid4(), "before": first.pk, "day": timezone.localdate(now).isoformat()}
    signed_in.post(f"/run/{last.pk}/earlier", typed)
    assert stops(signed_in.get("/run")) == ["Kitchen", "Inn", "Heron"]


@pytest.mark.parametrize("before", ["", "x", "999", "²"])
def test_a_stop_is_not_driven_before_nobody(signed_in, before):
    outlet = kitchen()
    answer = signed_in.post(f"/run/{outlet.pk}/earlier", {"entry": uuid4(), "before": before})
    assert answer.status_code == 404


@pytest.mark.parametrize("day", ["", "yesterday", "0001-01-01", "2026-13-40", "9999-12-31"])
def test_of_a_day_that_is_none_the_run_is_todays(signed_in, now, day):
    page = signed_in.get("/run", {"day": day})
    assert page.context["day"] == page.context["today"]


def test_the_run_says_where_to_whom_what_comes_back_and_what_is_missing(signed_in, now):
    outlet = kitchen()
    handed(load(outlet, now - timedelta(days=1), 12, 12), at=now - timedelta(days=1))
    order = load(outlet, now, 12)
    line = Order.objects.get(pk=order).lines.get()
    line.quantity = 20
    line.save()
    page = signed_in.get("/run").content.decode()
    for said in (
        "2 Lantern Row, Tamberlow", 'href="tel:5550142"', "2 crates of ours there",
        "8 bunches missing", "They know now", f'action="/pull/{order}/hand-over"',
        'value="Chef Ana"',
    ):  # fmt: skip
        assert said in page, said
    send(signed_in, order)
    page = signed_in.get("/run").content.decode()
    assert 'href="/slip/2"' in page
    assert f'action="/pull/{order}/hand-over"' not in page


def test_what_goes_to_the_market_goes_with_us_and_is_handed_to_nobody(signed_in, now):
    order = load(market(), now, 12)
    page = signed_in.get("/run").content.decode()
    assert "Goes with you" in page
    assert f"/pull/{order}/hand-over" not in page
    assert b"Hand it over" not in signed_in.get(f"/pull/{order}").content


def test_what_should_have_gone_yesterday_is_on_todays_run(signed_in, now):
    order = load(kitchen(), now, 12)
    Order.objects.filter(pk=order).update(due=timezone.localdate(now) - timedelta(days=1))
    assert stops(signed_in.get("/run")) == ["Lantern House"]


def test_crates_out_are_told_by_buyer_brought_back_and_washed(signed_in, now):
    outlet = kitchen()
    handed(load(outlet, now, 12, 12, 12), at=now)
    page = signed_in.get("/crates-out").content.decode()
    assert "<span>Lantern House</span>\n        <b>3 crates</b>" in page
    typed = {"entry": uuid4(), "outlet": outlet.pk, "number": "2"}
    answer = signed_in.post("/crates-out", typed)
    told = signed_in.get(answer["Location"]).context["told"]
    assert told.answer.words == "2 crates back from Lantern House"
    assert (crates_with(outlet), crates_to_wash()) == (1, 2)
    answer = signed_in.post("/crates-out/washed", {"entry": uuid4(), "number": "2"})
    told = signed_in.get(answer["Location"]).context["told"]
    assert told.answer.words == "2 crates washed"
    assert crates_to_wash() == 0
    signed_in.post(told.undo, {"entry": uuid4()})
    assert crates_to_wash() == 2


def test_the_list_of_buyers_says_how_many_crates_stand_there(signed_in, now):
    handed(load(kitchen(), now, 12, 12), at=now)
    kitchen("Inn")
    page = signed_in.get("/settings/outlets").content.decode()
    assert page.count("of ours there") == 1
    assert "2 crates of ours there" in page


@pytest.mark.parametrize("number", ["", "0", "x", "999999999999"])
def test_no_number_of_crates_is_washed(signed_in, now, number):
    bring_empties(act(now), outlet=kitchen(), number=2)
    answer = signed_in.post("/crates-out/washed", {"entry": uuid4(), "number": number})
    assert answer.status_code == 409
    assert crates_to_wash() == 2


@pytest.mark.parametrize("number", ["", "0", "501", "x"])
def test_a_wrong_number_of_empties_is_told(signed_in, number):
    typed = {"entry": uuid4(), "outlet": kitchen().pk, "number": number}
    assert signed_in.post("/crates-out", typed).status_code == 422
    assert not Empties.objects.exists()


def test_washing_sent_twice_is_one(signed_in, now):
    bring_empties(act(now), outlet=kitchen(), number=2)
    sent = {"entry": uuid4(), "number": "1"}
    first, second = (signed_in.post("/crates-out/washed", sent) for _time in range(2))
    assert first["Location"] == second["Location"]
    assert crates_to_wash() == 1


def test_a_part_taken_leaves_its_crate_here(signed_in, now):
    lot = make_lot(12, at=now - timedelta(hours=3))
    made = handed(got(kitchen(), (lot, 5), at=now), at=now)
    assert made.paper["lines"][0]["quantity"] == "5.000"
    assert "5 bunches" in signed_in.get("/slip/1").content.decode()


def say(client, lot: str, what: str = "soft", **typed):
    data = {"entry": uuid4(), "lot": lot, "what": what, "quantity": ""}
    return client.post("/slip/1/credit", data | typed)


def test_what_a_kitchen_says_afterwards_is_a_credit_on_its_slip(signed_in, now):
    first, second, third = make_lots(12, 12, 12, at=now - timedelta(hours=3))
    handed(got(kitchen(), (first, 12), at=now), at=now)
    handed(got(kitchen("Inn", telephone="555-0117"), (second, 12), at=now), at=now)
    answer = say(signed_in, first.pk, quantity="5")
    credit = Credit.objects.get()
    assert answer["Location"] == f"/slip/1?said=act.{credit.action_id}"
    page = signed_in.get(answer["Location"])
    told = f"Kale {first.pk}, 5 bunches: soft (Lantern House, slip 1)"
    assert page.context["told"].answer.words == told
    (said,) = page.context["said"]
    assert [other.number for other in said.others] == [2]
    assert [lot.pk for lot in said.here] == [third.pk]
    assert "555-0117" in page.content.decode()
    for code in (first.pk, third.pk):
        assert told in signed_in.get(f"/L/{code}").content.decode()
    assert "Of the same harvest" in signed_in.get(f"/L/{third.pk}").content.decode()
    assert "Of the same harvest" not in signed_in.get(f"/L/{first.pk}").content.decode()

    signed_in.post(page.context["told"].undo, {"entry": uuid4()})
    assert signed_in.get("/slip/1").context["said"] == []
    assert told not in signed_in.get(f"/L/{first.pk}").content.decode()


def test_of_the_wrong_crate_only_its_own_page_tells(signed_in, now):
    first, second = make_lots(12, 12, at=now - timedelta(hours=3))
    handed(got(kitchen(), (first, 12), at=now), at=now)
    give_credit(act(now), slip=1, lot=first.pk, what="wrong")
    (said,) = signed_in.get("/slip/1").context["said"]
    assert (said.others, said.here) == ((), ())
    assert ": wrong (" in signed_in.get(f"/L/{first.pk}").content.decode()
    assert ": wrong (" not in signed_in.get(f"/L/{second.pk}").content.decode()


def test_the_only_crate_of_a_slip_is_chosen_already(signed_in, now):
    handed(load(kitchen(), now, 12), at=now)
    page = signed_in.get("/slip/1/credit")
    assert page.context["form"]["lot"].value() == page.context["slip"].lines[0].code


@pytest.mark.parametrize(
    "typed", [{"lot": ""}, {"lot": "AAAAAAA"}, {"what": ""}, {"what": "stolen"}, {"quantity": "x"}]
)
def test_a_credit_that_says_too_little_is_asked_about(signed_in, now, typed):
    made = handed(load(kitchen(), now, 12), at=now)
    answer = say(signed_in, **{"lot": made.paper["lines"][0]["code"]} | typed)
    assert answer.status_code == 422
    assert not Credit.objects.exists()


def test_more_than_went_is_not_credited(signed_in, now):
    made = handed(load(kitchen(), now, 12), at=now)
    answer = say(signed_in, made.paper["lines"][0]["code"], quantity="13")
    assert answer.status_code == 409
    assert b"only 12 " in answer.content


def picture(name: str = "crate.jpg", data: bytes | None = None) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (90, 60), "green").save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue() if data is None else data, "image/jpeg")


@pytest.fixture
def photos(settings, tmp_path):
    """The folder of the photos, empty at first."""
    settings.DATA_DIR = tmp_path
    return tmp_path / "photos"


def test_a_photo_of_it_stands_on_the_slip_for_those_who_are_signed_in(signed_in, now, photos):
    made = handed(load(kitchen(), now, 12), at=now)
    say(signed_in, made.paper["lines"][0]["code"], photo=picture())
    credit = Credit.objects.get()
    where = f"/slip/1/photo/{credit.action_id}"
    page = signed_in.get("/slip/1").content.decode()
    assert f'src="{where}"' in page
    answer = signed_in.get(where)
    assert (answer["Content-Type"], answer["Cache-Control"]) == ("image/jpeg", "no-store")
    shown = Image.open(BytesIO(answer.content))
    assert shown.size == (90, 60)
    for wrong in (f"/slip/2/photo/{credit.action_id}", f"/slip/1/photo/{uuid4()}"):
        assert signed_in.get(wrong).status_code == 404
    assert Client().get(where)["Location"].startswith("/sign-in")

    signed_in.post(f"/undo/{credit.action_id}", {"entry": uuid4()})
    assert signed_in.get(where).status_code == 404


def test_the_photo_of_a_credit_sent_twice_is_the_first_one(signed_in, now, photos):
    made = handed(load(kitchen(), now, 12), at=now)
    entry = {"entry": uuid4(), "quantity": "5"}
    code = made.paper["lines"][0]["code"]
    first, second = (say(signed_in, code, photo=picture(), **entry) for _time in range(2))
    assert first["Location"] == second["Location"]
    assert len(list(photos.iterdir())) == 1


def test_a_photo_that_is_gone_is_not_found(signed_in, now, photos):
    made = handed(load(kitchen(), now, 12), at=now)
    say(signed_in, made.paper["lines"][0]["code"], photo=picture())
    where = f"/slip/1/photo/{Credit.objects.get().action_id}"
    Credit.objects.update(has_photo=False)
    assert signed_in.get(where).status_code == 404
    Credit.objects.update(has_photo=True)
    next(photos.iterdir()).unlink()
    assert signed_in.get(where).status_code == 404


@pytest.mark.parametrize("data", [b"", b"no picture"])
def test_of_a_bad_picture_a_sentence_stands_beside_the_field(signed_in, now, photos, data):
    made = handed(load(kitchen(), now, 12), at=now)
    answer = say(signed_in, made.paper["lines"][0]["code"], photo=picture(data=data))
    assert answer.status_code == 422
    assert answer.context["form"].errors["photo"] == [
        "This is no picture that can be read: JPEG, PNG or WebP."
    ]
    assert not Credit.objects.exists()
    assert not photos.exists()


def test_of_a_credit_that_is_refused_no_photo_is_kept(signed_in, now, photos):
    made = handed(load(kitchen(), now, 12), at=now)
    code = made.paper["lines"][0]["code"]
    assert say(signed_in, code, quantity="13", photo=picture()).status_code == 409
    assert not photos.exists()


@pytest.fixture
def shown(signed_in, now):
    """A slip of two crates of one harvest, at a farm whose labels carry an address."""
    Farm.objects.update(label_address="https://farm.example", telephone="555-0100")
    return handed(load(kitchen(), now, 12, 5), at=now)


def stranger(token: str, **headers):
    return Client().get(f"/D/{token}", headers=headers)


def test_whoever_has_the_slip_sees_what_came_and_nobody_s_name(signed_in, shown):
    link = f"HTTPS://FARM.EXAMPLE/D/{shown.page_token}"
    side, path = qr_outline(link)
    slip = signed_in.get("/slip/1").content.decode()
    assert f'viewBox="0 0 {side} {side}"' in slip
    assert path in slip

    answer = stranger(shown.page_token)
    page = answer.content.decode()
    line, other = shown.paper["lines"]
    for said in (
        "Test Farm", "Kale: 17 bunches", "at 1 to 5 °C", line["lot_codes"][0], "not of food safety",
        '<meta name="robots" content="noindex, nofollow">', "Cut ",
    ):  # fmt: skip
        assert said in page, said
    hidden = (
        line["code"], other["code"], "Lantern", "Tamberlow", "Chef Ana", "Ada", "555-", "<script",
        "/slip/", "/L/", "/pull/",
    )  # fmt: skip
    for told in hidden:
        assert told not in page, told
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    assert answer["Cache-Control"] == "no-store"
    assert not answer.cookies


def test_the_page_of_a_delivery_is_in_its_reader_s_language(shown):
    assert '<html lang="es">' in stranger(shown.page_token, accept_language="es").content.decode()


def test_a_token_is_not_guessed_and_each_slip_has_its_own(shown, now):
    other = handed(load(kitchen("Inn"), now, 12), at=now)
    assert len({shown.page_token, other.page_token}) == 2
    assert min(len(shown.page_token), len(set(shown.page_token))) > 6
    assert 32 ** len(shown.page_token) > 2**128


@pytest.mark.parametrize("token", ["A", "1", "None", "%00", "😀", "A" * 300])
def test_of_a_token_that_is_none_there_is_no_page(shown, token):
    answer = stranger(token)
    assert (answer.status_code, answer.content) == (404, b"There is no such page.")
    assert answer["Content-Type"].startswith("text/plain")
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    assert not answer.cookies


def test_the_owner_closes_the_page_of_a_delivery_and_opens_it_again(signed_in, shown):
    assert "Close that page" in signed_in.get("/slip/1").content.decode()
    answer = signed_in.post("/slip/1/page", {"entry": uuid4(), "open": "0"})
    page = signed_in.get(answer["Location"])
    assert page.context["told"].answer.words.endswith("yes → no")
    assert page.context["qr"] is None
    assert stranger(shown.page_token).status_code == 404
    signed_in.post("/slip/1/page", {"entry": uuid4(), "open": "1"})
    assert stranger(shown.page_token).status_code == 200


def test_a_slip_that_is_withdrawn_opens_no_page(signed_in, shown):
    undo(act(timezone.now()), action=shown.action)
    assert stranger(shown.page_token).status_code == 404
    page = signed_in.get("/slip/1")
    assert page.context["qr"] is None
    assert b"that page" not in page.content


def test_without_an_address_on_labels_the_slip_shows_no_code(signed_in, shown):
    Farm.objects.update(label_address="")
    page = signed_in.get("/slip/1")
    assert page.context["qr"] is None
    assert b"that page" not in page.content


def test_crew_see_the_code_and_can_not_close_its_page(client, shown):
    sign_in(client, make_crew())
    page = client.get("/slip/1")
    assert page.context["qr"] is not None
    assert b"Close that page" not in page.content


def test_a_slip_of_before_has_no_page(signed_in, shown):
    Handover.objects.update(page_token=None)
    assert signed_in.get("/slip/1").context["qr"] is None


def test_the_owner_lets_a_crate_from_the_stall_go_to_kitchens_again(signed_in, now):
    lot = make_lot(12, at=now - timedelta(hours=3))
    take(lot, "all", at=now - timedelta(hours=2))
    back = {"quantity": Decimal(12), "warm_hours": Decimal(1), "position": place()}
    bring_back(act(now - timedelta(hours=1)), lot=lot.pk, **back)
    page = signed_in.get(f"/L/{lot.pk}").content.decode()
    assert "for the market, giving and own use" in page
    assert "<b>was out</b>" in page
    assert f'href="/L/{lot.pk}/release"' in page
    signed_in.post(f"/L/{lot.pk}/release", {"entry": uuid4(), "reason": "in the cold box"})
    page = signed_in.get(f"/L/{lot.pk}").content.decode()
    assert "for the market, giving and own use" not in page
    assert "<b>was out</b>" in page
    assert f'href="/L/{lot.pk}/release"' not in page
    handed(got(kitchen(), (lot, 12), at=now), at=now)
    assert "<b>was out</b>" in signed_in.get("/slip/1").content.decode()

"""What people type: right figures are taken, wrong ones get a sentence and write nothing."""

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.ledger.outings import out_of
from inventory.models import Action, Container, Intake, Lot, Movement, Order, Outlet, Source
from tests import builders
from tests.builders import make_lot, make_lots, place


def harvest(client, follow=False, **changes):
    data = {
        "entry": str(uuid4()),
        "crates": "12",
        "quantity": "12",
        "unit": "bunch",
        "source": Source.objects.get(name="Bed 3").pk,
        "cut_ago": "1",
    }
    return client.post(f"/in/harvest/{builders.crop().pk}", data | changes, follow=follow)


def lots():
    return Lot.objects.exclude(state="void")


@pytest.mark.parametrize("typed", [" 6 4", "6, 4", "6; 4,"])
def test_a_harvest_of_twelve_with_two_that_differ(signed_in, typed):
    response = harvest(signed_in, others=typed)
    assert response.status_code == 302
    assert sorted(lots().values_list("quantity", flat=True)) == [4, 6] + [12] * 10
    cut = Intake.objects.get().cut_at
    assert timedelta(minutes=59) < timezone.now() - cut < timedelta(minutes=61)


def test_a_double_tap_is_one_harvest(signed_in):
    key = str(uuid4())
    first, second = harvest(signed_in, entry=key), harvest(signed_in, entry=key)
    assert first["Location"] == second["Location"]
    assert lots().count() == 12


def test_the_same_id_with_other_content_is_asked_about(signed_in):
    key = str(uuid4())
    harvest(signed_in, entry=key)
    response = harvest(signed_in, entry=key, crates="3")
    assert response.status_code == 409
    assert b"You brought in 12 crates of Kale just now." in response.content
    assert lots().count() == 12


@pytest.mark.parametrize("typed", ["2.5", "2,5", " 2.50 "])
def test_a_comma_is_a_decimal_point(signed_in, typed):
    harvest(signed_in, quantity=typed, unit="kg", crates="1")
    assert lots().get().quantity == Decimal("2.5")


def test_a_crop_and_a_block_never_used_before_are_there_from_then_on(signed_in):
    radish = builders.crop("radish-bunched")
    assert not radish.grown
    chosen = signed_in.get("/in/harvest", {"crop": radish.pk})
    assert chosen["Location"] == f"/in/harvest/{radish.pk}"
    data = {"entry": uuid4(), "crates": "1", "quantity": "9", "unit": "bunch"}
    signed_in.post(chosen["Location"], data | {"new_source": "Tunnel 2"})
    again = data | {"entry": uuid4(), "new_source": "tunnel 2"}
    signed_in.post(chosen["Location"], again)
    radish.refresh_from_db()
    assert radish.grown
    assert Source.objects.filter(kind="block", name__iexact="tunnel 2").count() == 1
    assert Intake.objects.filter(source__name="Tunnel 2").count() == 2


def test_a_closed_block_stays_closed_when_its_name_is_typed(signed_in):
    Source.objects.filter(name="Bed 3").update(
        not_before=timezone.now().date() + timedelta(days=9), not_before_reason="spray"
    )
    assert harvest(signed_in, new_source="bed 3").status_code == 422
    assert not Intake.objects.exists()


def test_a_farm_without_blocks_types_one(signed_in):
    Source.objects.all().delete()
    data = {"entry": uuid4(), "crates": "1", "quantity": "9", "unit": "bunch"}
    path = f"/in/harvest/{builders.crop().pk}"
    missing = signed_in.post(path, data)
    assert missing.status_code == 422
    assert "new_source" in missing.context["form"].errors
    signed_in.post(path, data | {"new_source": "North bed"})
    assert Intake.objects.get().source.name == "North bed"


@pytest.mark.parametrize(("unit", "net"), [("kg", "10.5"), ("lb", "8.693")])
def test_the_empty_crate_is_taken_off_what_was_weighed(signed_in, unit, net):
    """1.5 kg of crate are 3.307 lb: NIST SP 811, appendix B."""
    crate = Container.objects.create(name="Tub", tare_kg=Decimal("1.5"))
    typed = {"unit": unit, "crates": "1", "container": crate.pk, "with_crate": "on"}
    harvest(signed_in, **typed, quantity="12")
    assert lots().get().quantity == Decimal(net)
    for wrong in ({"quantity": "1.2"}, {"unit": "bunch"}, {"container": ""}):
        assert harvest(signed_in, **typed | {"quantity": "12"} | wrong).status_code == 422


LONG = "x" * 5000
BAD = [
    ("crates", ""), ("crates", "0"), ("crates", "-1"), ("crates", "twelve"), ("crates", "1.5"),
    ("crates", "1000000000"), ("crates", "🥬"), ("crates", LONG), ("crates", "201"),
    ("quantity", ""), ("quantity", "0"), ("quantity", "-4"), ("quantity", "1,500"),
    ("quantity", "<b>4</b>"), ("quantity", "NaN"), ("quantity", "1e3"), ("quantity", "12.5"),
    ("quantity", "1001"), ("unit", "tonne"), ("source", "999"), ("source", "Orchard"),
    ("position", "ZZZZZZZ"), ("container", "77"), ("cut_ago", "99"),
    ("cut_at", "1950-01-01T06:00"), ("cut_at", "2999-01-01T06:00"), ("cut_at", "yesterday"),
    ("pulp_c", "400"), ("pulp_c", "warm"), ("others", "x"), ("others", "3 -1"),
    ("others", "3 " * 13), ("others", "1,500"), ("others", "6 2000"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), BAD)
def test_bad_input_gets_a_sentence_and_writes_nothing(signed_in, field, value):
    response = harvest(signed_in, **{field: value})
    assert response.status_code == 422
    errors = response.context["form"].errors
    assert errors
    assert (
        'class="error"' in response.content.decode()
        or 'class="problem"' in response.content.decode()
    )
    assert "<b>4</b>" not in response.content.decode()
    assert not Action.objects.exists()
    assert not Intake.objects.exists()


def test_what_was_typed_is_still_there(signed_in):
    page = harvest(signed_in, crates="-1", quantity="17").content.decode()
    assert 'value="17"' in page
    assert 'value="-1"' in page


@pytest.mark.parametrize("note", [LONG, "two\nlines", ""])
def test_a_note_too_long_or_with_lines_is_refused(signed_in, note):
    lot = make_lot(at=timezone.now())
    response = signed_in.post(f"/L/{lot.pk}/look", {"entry": uuid4(), "days": "2", "seen": note})
    assert response.status_code == 422
    assert Action.objects.count() == 1


def test_html_and_emoji_in_a_note_are_shown_as_typed(signed_in):
    lot = make_lot(at=timezone.now())
    seen = "<script>alert(1)</script> 🥬"
    signed_in.post(f"/L/{lot.pk}/look", {"entry": uuid4(), "days": "2", "seen": seen})
    page = signed_in.get(f"/L/{lot.pk}").content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; 🥬" in page


def test_a_form_without_its_id_is_refused(signed_in):
    assert harvest(signed_in, entry="").status_code == 400
    assert harvest(signed_in, entry="x").status_code == 400


def test_a_foreign_crates_code_is_refused(signed_in):
    lot = make_lot(at=timezone.now())
    other = builders.make_cases(18, at=timezone.now())[0]
    response = signed_in.post(f"/L/{lot.pk}/combine", {"entry": uuid4(), "others": other.pk})
    assert response.status_code == 422
    assert not Movement.objects.filter(kind="combined").exists()


def test_a_closed_block_is_refused_with_its_date_and_overruled_by_the_owner(signed_in):
    Source.objects.filter(name="Bed 3").update(
        not_before=timezone.now().date() + timedelta(days=5), not_before_reason="sprayed"
    )
    response = harvest(signed_in)
    assert response.status_code == 422
    assert b"sprayed" in response.content
    assert b"overrule" in response.content
    harvest(signed_in, overrule="the label allows it")
    assert lots().count() == 12
    assert Intake.objects.get().note == "the label allows it"


def test_fahrenheit_and_pounds_are_the_farms_choice(signed_in, farm):
    farm.temperature_unit, farm.weight_unit = "F", "lb"
    farm.save()
    harvest(signed_in, pulp_c="50", unit="lb", quantity="20")
    assert Intake.objects.get().pulp_c == 10
    page = signed_in.get(f"/L/{lots().first().pk}").content.decode()
    assert "20 lb" in page
    assert "35.6 °F" in page


def test_the_hour_the_clocks_skip_is_refused_and_of_a_double_one_the_first_is_meant(farm):
    """New York, 8 March 2026 02:30 does not exist; 1 November 01:30 comes twice (IANA)."""
    from django.core.exceptions import ValidationError

    from inventory.forms.fields import LocalMomentField

    field = LocalMomentField()
    field.zone = farm.zone
    with pytest.raises(ValidationError, match="skipped"):
        field.clean("2026-03-08T02:30")
    assert field.clean("2026-11-01T01:30") == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_bought_cases_keep_the_suppliers_papers(signed_in):
    today = timezone.now().astimezone(builders.Farm.objects.get().zone).date()
    packed = today - timedelta(days=9)
    signed_in.post(
        f"/in/delivery/{builders.crop('apple').pk}",
        {
            "entry": uuid4(), "crates": "7", "quantity": "18.1", "unit": "kg",
            "source": Source.objects.get(name="Orchard").pk, "packed_on": packed.isoformat(),
            "supplier_reference": "INV-7", "origin": "next valley", "case_cost": "34",
        },
    )  # fmt: skip
    intake = Intake.objects.get()
    assert (intake.packed_on, intake.supplier_reference, intake.case_cost) == (packed, "INV-7", 34)
    assert lots().count() == 7


def test_one_tap_puts_twelve_crates_away(signed_in):
    harvest(signed_in)
    data = {"entry": uuid4(), "lots": [lot.pk for lot in lots()], "position": place("B2").pk}
    assert signed_in.post("/put-away", data).status_code == 302
    assert set(lots().values_list("position", flat=True)) == {place("B2").pk}
    empty = signed_in.post("/put-away", {"entry": uuid4(), "position": place("B2").pk})
    assert empty.status_code == 422


def put_over(client, over: str, lots_=None, **changes):
    codes = [lot.pk for lot in (lots() if lots_ is None else lots_)]
    return client.post("/put-away", {"entry": uuid4(), "lots": codes, "over": over} | changes)


def test_twelve_crates_are_offered_and_put_on_three_places_in_their_order(signed_in):
    made = make_lots(*range(1, 13), position=None, at=timezone.now())
    page = signed_in.get("/put-away")
    assert "A1: 5, A2: 5, A3: 2" in page.content.decode()
    assert [crate.code for crate in page.context["crates"]] == [lot.pk for lot in made]
    over = re.search(r'name="over" value="([^"]+)"', page.content.decode())[1]
    done = signed_in.get(put_over(signed_in, over, reversed(made))["Location"])
    assert [entry.lot_id for entry in done.context["movements"]] == [lot.pk for lot in made]
    stands = dict(Lot.objects.values_list("pk", "position"))
    names = [*["A1"] * 5, *["A2"] * 5, *["A3"] * 2]
    assert [stands[lot.pk] for lot in made] == [place(name).pk for name in names]
    assert "more to put away" not in done.content.decode()


def test_what_three_places_do_not_hold_is_offered_at_once(signed_in):
    made = make_lots(*[12] * 17, position=None, at=timezone.now())
    page = signed_in.get("/put-away").content.decode()
    assert "2 stay to put away" in page
    over = re.search(r'name="over" value="([^"]+)"', page)[1]
    done = put_over(signed_in, over)
    page = signed_in.get(done["Location"]).content.decode()
    assert "2 more to put away" in page
    assert f"/put-away?intake={made[0].intake_id}" in page
    assert Lot.objects.filter(state="to put away").count() == 2


def test_fewer_ticked_crates_fill_the_places_in_turn(signed_in):
    made = make_lots(*[12] * 8, position=None, at=timezone.now())
    put_over(signed_in, f"{place('A1').pk}=5 {place('A2').pk}=3", made[2:])
    stands = list(Lot.objects.exclude(position=None).values_list("position", flat=True))
    assert (stands.count(place("A1").pk), stands.count(place("A2").pk)) == (5, 1)


@pytest.mark.parametrize(
    "over", ["nowhere=3", "{a1}=0", "{a1}=-1", "{a1}", "{a1}=x", "=", "{a1}=²"]
)
def test_an_odd_proposal_is_refused_and_writes_nothing(signed_in, over):
    make_lots(12, 12, position=None, at=timezone.now())
    answer = put_over(signed_in, over.format(a1=place("A1").pk))
    assert answer.status_code == 422
    assert not Lot.objects.exclude(position=None).exists()


def test_a_short_is_said_before_anyone_walks(signed_in):
    make_lots(12, 12, at=timezone.now())
    kale = builders.crop().pk
    response = signed_in.post(
        "/pull", {"entry": uuid4(), "new_outlet": "Tamberlow Inn", f"want_{kale}_bunch": "30"},
        follow=True,
    )  # fmt: skip
    page = response.content.decode()
    assert "6 bunches missing" in page
    assert Outlet.objects.filter(name="Tamberlow Inn").exists()
    path, lot = f"/pull/{Order.objects.get().pk}/take", {"lot": Lot.objects.first().pk}
    partial = signed_in.post(path, {"entry": uuid4()} | lot, headers={"HX-Request": "true"})
    assert b"<html" not in partial.content
    assert signed_in.post(path, {"entry": uuid4()} | lot).status_code == 409


def test_a_pull_without_a_buyer_or_an_amount_is_refused(signed_in):
    make_lot(at=timezone.now())
    kale = builders.crop().pk
    for data in (
        {f"want_{kale}_bunch": "3"},
        {"new_outlet": "Inn"},
        {"new_outlet": "Inn", f"want_{kale}_bunch": "many"},
    ):
        assert signed_in.post("/pull", {"entry": uuid4(), **data}).status_code == 422
    assert not Order.objects.exists()


def test_a_count_by_looking_is_two_taps(signed_in):
    lot = make_lot(at=timezone.now())
    response = signed_in.post(
        f"/count/crate/{lot.pk}", {"entry": uuid4(), "quantity": "7", "reason": "missing"},
        headers={"HX-Request": "true"},
    )  # fmt: skip
    assert b"should hold 7 bunches" in response.content
    lot.refresh_from_db()
    assert lot.quantity == 7
    bad = signed_in.post(
        f"/count/crate/{lot.pk}", {"entry": uuid4(), "quantity": "x", "reason": "missing"}
    )
    assert bad.status_code == 422


def test_undo_from_the_page_that_says_what_was_done(signed_in):
    page = harvest(signed_in, follow=True)
    action = page.context["action"]
    assert page.context["can_undo"]
    undone = signed_in.post(f"/undo/{action.pk}", {"entry": uuid4()}, follow=True)
    assert undone.status_code == 200
    assert not lots().exists()
    again = signed_in.post(f"/undo/{action.pk}", {"entry": uuid4()})
    assert again.status_code == 409


def stale(client, path, data, **headers):
    return client.post(path, data, headers={"Origin": "http://testserver", **headers})


def test_a_stale_form_keeps_what_was_typed(farm):
    client = Client(enforce_csrf_checks=True)
    builders.sign_in(client)
    data = {"crates": "12", "quantity": "7", "new_password": "geheim"}
    response = stale(client, f"/in/harvest/{builders.crop().pk}", data)
    assert response.status_code == 403
    page = response.content.decode()
    assert 'name="quantity" value="7"' in page
    assert "csrfmiddlewaretoken" in page
    assert "geheim" not in page


@pytest.mark.parametrize("origin", ["http://evil.example", "null", ""])
def test_another_sites_form_gets_no_fresh_token(farm, origin):
    client = Client(enforce_csrf_checks=True)
    builders.sign_in(client)
    response = stale(client, "/settings/people/new", {"role": "owner"}, Origin=origin)
    assert response.status_code == 403
    assert "csrfmiddlewaretoken" not in response.content.decode()


def test_a_strangers_form_gets_no_fresh_token(farm):
    response = stale(Client(enforce_csrf_checks=True), "/settings/people/new", {"role": "owner"})
    assert "csrfmiddlewaretoken" not in response.content.decode()


def test_forms_sent_twice_are_answered_as_the_first_time(signed_in):
    lots = make_lots(12, 12, 12, at=timezone.now(), position=None)
    kale, here = builders.crop().pk, place("B2").pk
    first = lots[0].pk
    sent = [
        ("/put-away", {"lots": [lot.pk for lot in lots], "position": here}),
        (f"/L/{first}/combine", {"others": lots[1].pk}),
        (f"/count/crate/{lots[2].pk}", {"quantity": "0", "reason": "missing"}),
    ]
    for path, data in sent:
        data["entry"] = str(uuid4())
        once, again = signed_in.post(path, data), signed_in.post(path, data)
        assert (once.status_code, again.status_code) == (302, 302), path
    pull = {"entry": str(uuid4()), "new_outlet": "Inn", f"want_{kale}_bunch": "24"}
    assert signed_in.post("/pull", pull)["Location"] == signed_in.post("/pull", pull)["Location"]
    assert Order.objects.get().lines.count() == 1


def test_a_crop_that_is_gone_by_now_is_still_asked_for_and_told_short(signed_in):
    lot = make_lot(at=timezone.now())
    pull = {"entry": uuid4(), "new_outlet": "Inn", f"want_{lot.crop_id}_bunch": "5"}
    signed_in.post(
        f"/L/{lot.pk}/take-out", {"entry": uuid4(), "share": "all", "purpose": "own use"}
    )
    page = signed_in.post("/pull", pull, follow=True).content.decode()
    assert "5 bunches missing" in page


def test_a_refused_order_leaves_no_new_buyer(signed_in):
    lot = make_lot(at=timezone.now())
    pull = {"entry": uuid4(), "new_outlet": "Inn", f"want_{lot.crop_id}_bunch": "1.5"}
    assert signed_in.post("/pull", pull).status_code == 422
    assert not Outlet.objects.filter(name="Inn").exists()


def test_zero_is_not_everything(signed_in):
    lot = make_lot(at=timezone.now())
    data = {"entry": uuid4(), "share": "all", "quantity": "0", "reason": "wilted"}
    data["destination"] = "compost"
    assert signed_in.post(f"/L/{lot.pk}/discard", data).status_code == 422
    lot.refresh_from_db()
    assert lot.quantity == 12


def test_a_crate_taken_to_market_later_is_not_sold_by_an_older_page(signed_in):
    first, later = make_lots(12, 12, at=timezone.now())
    to_market = {"share": "all", "outlet": Outlet.objects.get(name="Market").pk}
    signed_in.post(f"/L/{first.pk}/take-out", {"entry": uuid4(), **to_market})
    shown = {"entry": str(uuid4()), "market": "Market", "shown": f"{first.pk}=12"}
    signed_in.post(f"/L/{later.pk}/take-out", {"entry": uuid4(), **to_market})
    once, again = signed_in.post("/market", shown), signed_in.post("/market", shown)
    assert once["Location"] == again["Location"]
    later.refresh_from_db()
    assert list(out_of(later).values()) == [12]


@pytest.mark.parametrize(
    ("path", "status"),
    [("/ledger?to_day=9999-12-31", 422), ("/settings/crops/abc", 404),
     ("/settings/people/abc", 404), ("/ledger?page=abc", 200)],
)  # fmt: skip
def test_odd_addresses_are_answered_calmly(signed_in, path, status):
    assert signed_in.get(path).status_code == status


def test_a_year_beyond_the_calendar_is_refused(signed_in):
    assert harvest(signed_in, cut_at="9999-12-31T23:59").status_code == 422


def test_crew_made_owner_need_a_password(signed_in):
    ben = builders.make_crew()
    data = {"name": "Ben", "role": "owner", "language": "en", "is_active": "on"}
    assert signed_in.post(f"/settings/people/{ben.pk}", data).status_code == 422
    same_name = signed_in.post("/settings/people/new", {**data, "name": "ben", "role": "crew"})
    assert same_name.status_code == 422


def test_the_owners_lists_refuse_nonsense(signed_in):
    bad = [
        ("/settings/containers/new", {"name": "", "tare_kg": "-1"}),
        ("/settings/people/new", {"name": "Ada", "role": "crew", "language": "en"}),
        (
            "/settings/people/new",
            {"name": "New", "role": "owner", "language": "en", "is_active": "on"},
        ),
        (
            "/settings/people/new",
            {"name": "New", "role": "crew", "language": "en", "new_pin": "12ab"},
        ),
        ("/settings/sources/new", {"name": "Bed 3", "kind": "block"}),
        (
            "/settings/rooms/new",
            {"name": "Shed", "target_c": "900", "racks": "1", "shelves": "1", "capacity": "5"},
        ),
        ("/settings/farm", {"name": "x", "time_zone": "Mars/Base"}),
    ]
    for path, data in bad:
        response = signed_in.post(path, {"entry": uuid4(), **data})
        assert response.status_code == 422, path
        assert 'class="error"' in response.content.decode(), path
    assert Container.objects.count() == 1


def test_a_place_in_use_is_not_closed_under_its_crates(signed_in):
    lot = make_lot(at=timezone.now())
    response = signed_in.post(f"/settings/places/{lot.position_id}", {"capacity": "5"})
    assert response.status_code == 422


def test_a_place_can_be_added_and_names_stay_apart(signed_in):
    room = place().room.pk
    data = {"entry": uuid4(), "room": room, "rack": "b", "shelf": "4", "capacity": "3"}
    signed_in.post("/settings/places/new", data)
    assert place("B4").capacity == 3
    again = signed_in.post("/settings/places/new", data | {"entry": uuid4()})
    assert again.status_code == 422
    assert "place of that name" in again.content.decode()


def test_a_new_room_gets_racks_of_its_own(signed_in):
    signed_in.post(
        "/settings/rooms/new",
        {"entry": uuid4(), "name": "Warm corner", "target_c": "13", "racks": "1",
         "shelves": "3", "capacity": "4"},
    )  # fmt: skip
    assert place("C3").room.name == "Warm corner"


def test_every_fact_of_a_delivery_can_be_put_right_and_taken_back(signed_in):
    (case,) = builders.make_cases(
        18, at=timezone.now(), supplier_reference="HO-7", case_cost=Decimal("30.5"), variety="Gala"
    )
    intake = case.intake
    form = signed_in.get(f"/intake/{intake.pk}/correct").content.decode()
    for known in ('value="HO-7"', 'value="30.5"', 'value="Gala"'):
        assert known in form
    right = {
        "entry": uuid4(), "crop": case.crop_id, "source": intake.source_id, "reason": "misread",
        "supplier_reference": "HO-77", "origin": "Ohio", "case_cost": "31", "variety": "Russet",
        "packed_on": f"{timezone.now() - timedelta(days=3):%Y-%m-%d}", "best_before": "2199-01-01",
    }  # fmt: skip
    done = signed_in.post(f"/intake/{intake.pk}/correct", right)
    names = ("supplier_reference", "origin", "case_cost", "variety")
    assert Intake.objects.values_list(*names).get() == ("HO-77", "Ohio", Decimal(31), "Russet")
    signed_in.post(done["Location"].replace("/done/", "/undo/"), {"entry": uuid4()})
    assert Intake.objects.values_list(*names).get() == ("HO-7", "", Decimal("30.5"), "Gala")


def test_a_crate_that_is_out_shows_its_life_and_can_be_held(signed_in):
    lot = make_lot(at=timezone.now())
    signed_in.post(
        f"/L/{lot.pk}/take-out", {"entry": uuid4(), "share": "all", "purpose": "own use"}
    )
    page = signed_in.get(f"/L/{lot.pk}").content.decode()
    assert "How long it keeps" in page
    assert "Put on hold" in page
    hold = {"entry": uuid4(), "reason": "a doubt"}
    assert signed_in.post(f"/L/{lot.pk}/hold", hold).status_code == 302
    again = signed_in.post(f"/L/{lot.pk}/hold", hold | {"entry": uuid4()})
    assert "on hold already" in again.content.decode()


def test_places_are_suggested_only_where_all_crates_fit(signed_in):
    from inventory.queries.rooms import places_for

    make_lots(*[12] * 4, at=timezone.now())  # A1 holds five
    assert places_for(builders.crop())[0].suggested
    assert not places_for(builders.crop(), 2)[0].suggested


def test_a_correction_leaves_a_time_it_did_not_touch(signed_in):
    cut = timezone.now() - timedelta(days=70, seconds=11)
    lot = make_lot(at=cut)
    intake = lot.intake
    form = signed_in.get(f"/intake/{intake.pk}/correct").context["form"]
    shown = {name: form[name].value() for name in ("crop", "source")}
    shown["cut_at"] = f"{form['cut_at'].value():%Y-%m-%dT%H:%M}"
    wrong = {"entry": uuid4(), "reason": "misread", **shown}
    same = signed_in.post(f"/intake/{intake.pk}/correct", wrong)
    assert "Nothing is different" in same.content.decode()
    right = wrong | {"entry": uuid4(), "variety": "Lacinato"}
    assert signed_in.post(f"/intake/{intake.pk}/correct", right).status_code == 302
    intake.refresh_from_db()
    assert (intake.variety, intake.cut_at) == ("Lacinato", cut)


def test_a_weight_shown_rounded_stays_as_it_is(signed_in, farm):
    farm.weight_unit = "lb"
    farm.save()
    kale = builders.crop()
    kale.piece_weight_kg = Decimal("0.035")
    kale.save()
    form = signed_in.get(f"/settings/crops/{kale.pk}").context["form"]
    assert form["piece_weight_kg"].value() == "0.08"
    data = {name: form[name].value() or "" for name in form.fields} | {"sell_first_days": "3"}
    assert signed_in.post(f"/settings/crops/{kale.pk}", data).status_code == 302
    kale.refresh_from_db()
    assert (kale.sell_first_days, kale.piece_weight_kg) == (3, Decimal("0.035"))


def test_a_shelf_with_too_many_crates_is_told_at_once(signed_in):
    done = harvest(signed_in, crates="7", position=place().pk, follow=True).content.decode()
    assert "A1 holds 5; 7 crates stand there now." in done
    fits = harvest(signed_in, crates="5", position=place("A2").pk, follow=True).content.decode()
    assert "stand there now" not in fits


def test_an_intake_of_no_crop_asks_again(signed_in):
    assert signed_in.get("/in/harvest", {"crop": ""}).status_code == 200

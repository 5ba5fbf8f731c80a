"""What a mistake costs: questions where harm is plain, and errors where the eye is."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.models import Farm, Lot, Movement, Tag
from inventory.queries.book import Wanted
from inventory.queries.crates import one_crate
from tests import builders
from tests.builders import act, keep_for, make_lot, make_lots, place, say_order

DAY = timedelta(days=1)
HTMX = {"HX-Request": "true"}


@pytest.fixture
def old(farm) -> Lot:
    """Kale of 40 days ago: more than one and a half of its time is used."""
    lot = make_lot(at=timezone.now() - 40 * DAY)
    assert one_crate(lot.pk, farm, timezone.now()).life.used > 1.5
    return lot


@pytest.fixture
def past(farm) -> Lot:
    """Kale past its time, and not by half of it."""
    lot = make_lot(at=timezone.now() - 15 * DAY)
    assert 1 < one_crate(lot.pk, farm, timezone.now()).life.used < 1.5
    return lot


def text(response) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def question(lot: Lot) -> str:
    crate = one_crate(lot.pk, Farm.objects.get(), timezone.now())
    return f"It is {crate.days_over} days past its time. Take it out all the same?"


def main_button(client, lot: Lot) -> str:
    page = client.get(f"/L/{lot.pk}").content.decode()
    return re.search(r'class="button main" href="/L/\w+/([\w-]+)"', page)[1]


def test_discard_is_the_main_button_of_a_crate_far_past(signed_in, old, past):
    assert main_button(signed_in, old) == "discard"
    assert main_button(signed_in, past) == "look"


def test_taking_a_crate_far_past_out_by_its_form_asks_first(signed_in, old):
    path, data = f"/L/{old.pk}/take-out", {"share": "all", "purpose": "own use", "entry": uuid4()}
    asked = signed_in.post(path, data)
    assert asked.status_code == 409
    assert question(old) in text(asked)
    assert 'name="sure" value="1"' in text(asked)
    assert builders.fresh(old).state == "in place"
    assert signed_in.post(path, data | {"sure": "1"}).status_code == 302
    assert builders.fresh(old).state == "out"


def test_a_crate_past_by_less_goes_out_as_before(signed_in, past):
    data = {"share": "all", "purpose": "own use", "entry": uuid4()}
    assert signed_in.post(f"/L/{past.pk}/take-out", data).status_code == 302


def test_an_answer_stays_given_when_something_else_is_wrong(signed_in, old):
    path = f"/L/{old.pk}/take-out"
    data = {"purpose": "own use", "entry": uuid4(), "quantity": "much", "sure": "1"}
    wrong = signed_in.post(path, data)
    assert wrong.status_code == 422
    assert '<input type="hidden" name="sure" value="1">' in text(wrong)


@pytest.mark.parametrize("mode", ["market", "order"])
def test_a_scan_of_a_crate_far_past_asks_by_how_many_days(signed_in, old, mode):
    order = say_order(
        act(timezone.now()), lines=[Wanted(old.crop, "bunch", Decimal(5))], new_outlet="Inn"
    )
    keep_for(order, (old, 5))
    sent = {"entry": uuid4(), "text": old.pk, "pull": order.pk}
    asked = signed_in.post(f"/scan/{mode}", sent, headers=HTMX)
    assert 'data-result="ask"' in text(asked)
    assert question(old) in text(asked)
    done = signed_in.post(
        f"/scan/{mode}", sent | {"entry": uuid4(), "overrule": old.pk}, headers=HTMX
    )
    assert 'data-result="done"' in text(done)


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["whole page", "in place"])
def test_a_promised_crate_far_past_by_now_is_asked_about_when_it_is_taken(signed_in, old, headers):
    order = say_order(
        act(timezone.now()), lines=[Wanted(old.crop, "bunch", Decimal(12))], new_outlet="Inn"
    )
    keep_for(order, (old, 12))
    path, of = f"/pull/{order.pk}/take", {"lot": old.pk, "quantity": "12"}
    asked = signed_in.post(path, {"entry": uuid4()} | of, headers=headers)
    assert asked.status_code == 409
    assert question(old) in text(asked)
    assert builders.fresh(old).state == "in place"
    sure = {"entry": str(uuid4()), "sure": "1"} | of
    for _ in range(2):  # a double tap counts once
        signed_in.post(path, sure, headers=headers)
    assert builders.fresh(old).state == "out"
    assert Movement.objects.filter(kind="out").count() == 1


@pytest.mark.parametrize("doing", ["combine", "sort"])
def test_putting_todays_with_one_past_its_time_asks_what_the_whole_would_count_as(
    signed_in, past, farm, doing
):
    today = make_lot(at=timezone.now())
    over = one_crate(past.pk, farm, timezone.now()).days_over
    path, data = f"/L/{today.pk}/{doing}", {"others": [past.pk], "entry": uuid4(), "firsts": "24"}
    asked = signed_in.post(path, data)
    assert asked.status_code == 409
    days = "1 day" if over == 1 else f"{over} days"
    assert f"The whole would count as {days} over. Put them together all the same?" in text(asked)
    assert builders.fresh(today).quantity == 12
    assert signed_in.post(path, data | {"sure": "1"}).status_code == 302
    assert builders.fresh(today).state == "empty"


def test_two_past_their_time_or_two_good_ones_are_put_together_unasked(signed_in, past, old):
    good, other = make_lots(12, 12, at=timezone.now())
    for one, two in ((past, old), (good, other)):
        data = {"others": [two.pk], "entry": uuid4()}
        assert signed_in.post(f"/L/{one.pk}/combine", data).status_code == 302


def test_crates_of_the_same_harvest_and_shelf_are_offered_first_and_the_rest_after(signed_in):
    now = timezone.now()
    one, sister = make_lots(12, 12, at=now, position=place("B1"))
    far = make_lot(at=now - DAY, position=place("A2"))
    beside = make_lot(at=now - 2 * DAY, position=place("B1"))
    page = signed_in.get(f"/L/{one.pk}/combine").content.decode()
    first, after = page.split("1 more of another harvest and shelf")
    for lot in (sister, beside):
        assert f'value="{lot.pk}"' in first
    assert f'value="{far.pk}"' in after


def test_a_resort_asks_its_amounts_first_and_the_culls_have_a_destination(signed_in):
    one, _ = make_lots(12, 12, at=timezone.now())
    page = signed_in.get(f"/L/{one.pk}/sort").content.decode()
    assert page.index('name="firsts"') < page.index('name="others"')
    assert re.search(r'<option value="compost" selected>', page)
    data = {"firsts": "10", "culls": "2", "destination": "compost", "entry": uuid4()}
    assert signed_in.post(f"/L/{one.pk}/sort", data).status_code == 302
    assert Movement.objects.get(kind="discarded").destination == "compost"


def test_a_refused_form_names_each_problem_at_its_top_and_goes_to_the_first(signed_in):
    lot = make_lot(at=timezone.now())
    data = {"entry": uuid4(), "quantity": "much", "reason": "wilted", "destination": "nowhere"}
    page = text(signed_in.post(f"/L/{lot.pk}/discard", data))
    top = page[page.index('role="alert"') : page.index('name="share"')]
    for field, problem in (("quantity", "“much” is not a number"), ("destination", "Choose one")):
        assert f'href="#id_{field}_field"' in top
        assert problem in top
        assert f'id="id_{field}_field"' in page
        assert re.search(rf'<(input|select)[^>]* name="{field}"[^>]*autofocus', page)
    assert not re.search(r'name="note"[^>]*autofocus', page)


def test_a_form_not_sent_yet_or_sent_rightly_points_at_nothing(signed_in):
    lot = make_lot(at=timezone.now())
    page = text(signed_in.get(f"/L/{lot.pk}/discard"))
    assert "autofocus" not in page
    assert 'role="alert"' not in page


def test_unequal_crates_get_their_tags_in_the_order_they_were_typed_in(signed_in):
    signed_in.post("/settings/tags", {"entry": uuid4(), "count": "5"})
    typed = ["6", "6", "5.5", "4", "3.25"]
    lots = make_lots(*typed, unit="kg", at=timezone.now())
    page = text(signed_in.get("/scan/tag"))
    for number, (lot, weight, tag) in enumerate(
        zip(lots, typed, Tag.objects.all(), strict=True), 1
    ):
        which = f"Kale, crate {number} of 5: the {weight} kg one"
        assert f"Scan an unused tag for {which}." in page
        sent = {"entry": uuid4(), "text": tag.pk, "intake": lot.intake_id}
        page = text(signed_in.post("/scan/tag", sent, headers=HTMX))
        assert f"✓ {which}" in page
        assert tag.current_lot() == lot
    assert "Scan a free tag" not in page


def test_a_crate_tagged_out_of_turn_leaves_the_others_their_numbers(signed_in):
    signed_in.post("/settings/tags", {"entry": uuid4(), "count": "2"})
    first, second, _third = make_lots(12, 6, 3, at=timezone.now())
    tag, other = Tag.objects.all()
    signed_in.post(f"/tag/{tag.pk}/bind", {"entry": uuid4(), "lot": second.pk})
    page = text(signed_in.get("/scan/tag"))
    assert "crate 1 of 3: the 12 bunches one" in page
    sent = {"entry": uuid4(), "text": other.pk, "intake": first.intake_id}
    page = text(signed_in.post("/scan/tag", sent, headers=HTMX))
    assert "crate 3 of 3: the 3 bunches one" in page

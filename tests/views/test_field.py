"""The page of the walk: its boxes, what is wrong with them, and what it says was written."""

from datetime import timedelta
from uuid import uuid4

import pytest

from inventory.models import Estimate, Farm, Source
from tests.builders import crop, make_crew, make_lots, sign_in, timezone_now

DAY = timedelta(days=1)


@pytest.fixture
def walked(signed_in):
    """A client at a farm that cut 24 bunches of kale on Bed 3 two days ago."""
    make_lots(12, 12, at=timezone_now() - 2 * DAY)
    return signed_in


def box(key: str = "kale", unit: str = "bunch", block: str = "Bed 3") -> str:
    return f"{crop(key).pk}_{Source.objects.get(name=block).pk}_{unit}"


def post(client, **fields):
    return client.post("/walk", {"entry": str(uuid4())} | fields, follow=True)


def said() -> list[tuple]:
    rows = Estimate.objects.standing().order_by("pk")
    return [(row.crop.reference_key, row.quantity, row.unit) for row in rows]


def test_last_weeks_figure_stands_in_the_box_and_one_button_writes_it(walked):
    page = walked.get("/walk").content.decode()
    assert f'name="much_{box()}" value="24"' in page
    answer = post(walked, **{f"much_{box()}": "24"})
    assert said() == [("kale", 24, "bunch")]
    assert "The field: 1 crop written down" in answer.content.decode()


def test_an_emptied_box_says_that_there_is_nothing(walked):
    post(walked, **{f"much_{box()}": "60"})
    post(walked, **{f"much_{box()}": ""})
    assert said() == [("kale", 60, "bunch"), ("kale", 0, "bunch")]
    answer = post(walked, **{f"much_{box()}": ""})
    assert "Type how much of at least one crop." in answer.content.decode()
    assert len(said()) == 2


def test_a_day_is_chosen_from_the_next_eight(walked):
    today = timezone_now().astimezone(Farm.objects.get().zone).date()
    later = (today + 3 * DAY).isoformat()
    post(walked, **{f"much_{box()}": "60", f"from_{box()}": later})
    assert Estimate.objects.get().from_day == today + 3 * DAY
    answer = post(walked, **{f"much_{box()}": "60", f"from_{box()}": "2031-01-01"})
    assert answer.status_code == 422
    assert "Choose one of these." in answer.content.decode()


@pytest.mark.parametrize("typed", ["many", "1000000000", "-3", "1.5"])
def test_what_is_no_amount_is_said_beside_its_box_and_nothing_is_written(walked, typed):
    answer = post(walked, **{f"much_{box()}": typed})
    assert answer.status_code == 422
    assert said() == []


def test_something_else_needs_its_crop_and_block(walked):
    answer = post(walked, other_quantity="5", other_unit="kg")
    assert answer.status_code == 422
    assert answer.content.decode().count("This is still missing.") >= 2
    bed = Source.objects.create(kind="block", name="Bed 4")
    post(
        walked, other_quantity="5", other_unit="kg", other_crop=crop("apple").pk, other_block=bed.pk
    )
    assert ("apple", 5, "kg") in said()


def test_crew_walk_too_and_take_it_back_from_the_page_it_leads_to(walked):
    sign_in(walked, make_crew())
    post(walked, **{f"much_{box()}": "60"})
    action = Estimate.objects.get().action
    page = walked.get(f"/walk?said=act.{action.pk}").content.decode()
    assert f'action="/undo/{action.pk}"' in page
    answer = walked.post(f"/undo/{action.pk}", {"entry": str(uuid4())}, follow=True)
    assert answer.redirect_chain[-1][0].startswith("/walk?said=act.")
    told = " ".join(answer.content.decode().split())
    assert "↶ Undone: The field: 1 crop written down" in told
    assert said() == []


def test_how_earlier_ones_turned_out_stands_beside(walked):
    Estimate.objects.all().delete()
    post(walked, **{f"much_{box()}": "60"})
    Estimate.objects.update(said_at=timezone_now() - 9 * DAY)
    assert "said 60, came 24" in walked.get("/walk").content.decode()


def test_a_block_that_may_not_be_harvested_says_so(walked):
    Source.objects.filter(name="Bed 3").update(not_before=timezone_now().date() + 5 * DAY)
    assert "Not to be harvested before" in walked.get("/walk").content.decode()

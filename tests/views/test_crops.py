"""Crops under everyday names, and picked several at once."""

import re
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.models import Change, Crop
from tests.builders import crop, make_lot

PICK = "/settings/crops/pick"


def picked() -> set[str]:
    return set(Crop.objects.filter(grown=True).values_list("reference_key", flat=True))


def keys(*references: str) -> list[int]:
    return [crop(key).pk for key in references]


def test_crops_are_picked_several_at_once_and_one_left_out_is_off(signed_in):
    mine = keys("apple", "basil", "kale", "salad-mix")
    page = signed_in.get(PICK).content.decode()
    ticked = re.findall(r'name="crops" value="(\d+)"\s+checked', page)
    assert sorted(map(int, ticked)) == sorted(mine)
    assert page.index("Yours") < page.index("Leafy greens")
    sent = {"entry": uuid4(), "was": mine, "crops": keys("kale", "apple", "dill", "leek")}
    for _ in range(2):
        assert signed_in.post(PICK, sent)["Location"].startswith("/settings/crops?said=")
    assert picked() == {"kale", "apple", "dill", "leek"}
    assert Change.objects.count() == 4


def test_what_was_picked_meanwhile_or_is_not_on_the_list_stays(signed_in):
    """Another phone switched dill on and basil off; the list held what was searched for alone."""
    Crop.objects.filter(reference_key="dill").update(grown=True)
    Crop.objects.filter(reference_key="basil").update(grown=False)
    sent = {"entry": uuid4(), "was": keys("kale", "basil"), "crops": keys("leek", "basil")}
    signed_in.post(PICK, sent)
    assert picked() == {"apple", "salad-mix", "dill", "leek"}


@pytest.mark.parametrize("sent", [{"crops": ["0"]}, {"crops": ["x"]}, {"was": ["-1"]}])
def test_a_crop_that_is_none_changes_nothing(signed_in, sent):
    before = picked()
    assert signed_in.post(PICK, {"entry": uuid4(), **sent}).status_code == 422
    assert picked() == before


@pytest.mark.parametrize("typed", ["lettuce cos", "orejona", "Romaine"])
def test_a_search_shows_what_is_called_that(signed_in, typed):
    page = signed_in.get(PICK, {"q": typed}).content.decode()
    assert re.findall(r'name="crops" value="(\d+)"', page) == [str(crop("lettuce-romaine").pk)]
    assert f'value="{typed}"' in page


def test_a_search_for_nothing_known_says_what_to_do(signed_in):
    page = signed_in.get(PICK, {"q": "moon wheat"}).content.decode()
    assert "<p data-none>" in page
    assert "<p data-none hidden>" in signed_in.get(PICK).content.decode()


def test_the_farms_crops_come_first_and_the_others_are_folded_away(signed_in):
    page = signed_in.get("/settings/crops").content.decode()
    shown, folded = page.split("The crops that are off")
    assert shown.count("croprow") == 4
    assert folded.count("croprow") == Crop.objects.count() - 4


def test_a_crop_not_brought_in_before_is_chosen_by_kind(signed_in):
    page = signed_in.get("/in/harvest").content.decode()
    leafy = page.split('<optgroup label="Leafy greens">')[1].split("</optgroup>")[0]
    assert "Romaine" in leafy
    assert "Kale" not in leafy
    assert "Carrots (in bunches)" in page


def test_the_handbooks_name_stands_under_why_and_on_the_owners_page(signed_in):
    Crop.objects.filter(reference_key="salad-mix").update(name="Moor leaves")
    lot = make_lot(5, key="salad-mix", unit="kg", at=timezone.now())
    page = signed_in.get(f"/L/{lot.pk}").content.decode()
    before, why = page.split("<summary>Why</summary>")
    told = "In the handbook: Salad mix / baby leaf (unprocessed)."
    assert told not in before
    assert told in why
    assert told in signed_in.get(f"/settings/crops/{lot.crop_id}").content.decode()


def test_names_on_a_page_cost_one_query_however_many_there_are(
    signed_in, django_assert_max_num_queries
):
    """Crops that share a short name are looked for once a request."""
    now = timezone.now()
    for key in ("carrot-topped", "carrot-bunched"):
        make_lot(5, key=key, unit="kg", at=now)
    with django_assert_max_num_queries(1000) as few:
        assert b"Carrots (in bunches)" in signed_in.get("/").content
    for key in ("beet-topped", "beet-bunched", "onion-bulb", "onion-sweet"):
        make_lot(5, key=key, unit="kg", at=now)
    with django_assert_max_num_queries(1000) as more:
        assert b"Onions (sweet)" in signed_in.get("/").content
    asked = [
        sum(
            "reference_key" in q["sql"] and "grown" in q["sql"].partition("WHERE")[2] for q in found
        )
        for found in (few.captured_queries, more.captured_queries)
    ]
    assert asked == [1, 1]

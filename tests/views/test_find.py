"""The page that finds: where it leads, what it shows, and what it says when there is nothing."""

from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.actions.movements import take_out
from inventory.actions.tags import bind_tag
from inventory.models import Outlet, Person, Source
from inventory.queries.book import Wanted
from tests import builders
from tests.builders import act, make_lot, make_lots, make_tag, place, say_order


@pytest.fixture
def find(signed_in):
    def find(typed: str):
        return signed_in.get("/find", {"code": typed})

    return find


def main_of(response) -> str:
    return response.content.decode().partition("<main")[2]


def test_a_name_shows_crates_places_and_the_sum(find):
    lots = make_lots(12, 12, at=timezone.now())
    page = find("kale")
    assert page.status_code == 200
    for shown in ("<h2>", "Kale", "2 crates", "24 bunches", "A1", *(lot.pk for lot in lots)):
        assert shown in main_of(page).replace("<b>", "").replace("</b>", ""), shown
    assert 'value="kale"' in main_of(page)


@pytest.mark.parametrize("language", ["en", "es"])
def test_either_language_finds_whatever_the_reader_reads(find, language):
    Person.objects.update(language=language)
    lot = make_lot(at=timezone.now())
    for typed in ("kale", "col rizada"):
        assert f"/L/{lot.pk}" in main_of(find(typed))


def test_a_place_leads_there(find):
    for typed in ("A2", "a 2"):
        assert find(typed)["Location"] == f"/P/{place('A2').pk}"


def test_a_buyer_shows_an_open_order_and_what_went_there(find):
    inn = Outlet.objects.create(name="Tamberlow Inn")
    now = act(timezone.now())
    assert "No order is open." in main_of(find("tamberlow"))
    pull = say_order(now, outlet=inn, lines=[Wanted(builders.crop(), "bunch", Decimal(5))])
    lot = make_lot(at=timezone.now())
    take_out(act(timezone.now()), lot=lot.pk, portion="all", purpose="order", outlet=inn)
    page = main_of(find("tamberlow"))
    assert f"/pull/{pull.pk}" in page
    assert f"/L/{lot.pk}" in page
    assert "Kale 5 bunches" in page


def test_several_are_shown_each_under_its_name(find):
    Source.objects.create(kind="block", name="Kale hill")
    page = main_of(find("kale"))
    assert page.count("<h2>") == 2
    assert page.count("None of it is in the house.") == 2


# Typed, what is answered, and what is said.
NOTHING = [
    ("quinoa", 404, "Nothing found for “quinoa”."),
    ("kohl", 404, "No crate in the house has a code that ends so."),
    ("zebras & co", 404, "Nothing found for “zebras &amp; co”."),
    ("spinach", 422, "Nothing found for “spinach”."),
    ("9" * 8, 422, "A code has 7 characters"),
    ("A99", 404, "Nothing found for “A99”."),
]


@pytest.mark.parametrize(("typed", "status", "said"), NOTHING)
def test_nothing_found_says_so_in_the_words_typed_and_what_can_be_typed(find, typed, status, said):
    page = find(typed)
    assert page.status_code == status
    assert said in main_of(page)
    assert "The beginning of a name is enough" in main_of(page)


def test_no_word_is_shown_rewritten(find):
    assert "K0H1" not in main_of(find("kohl"))
    make_lot(at=timezone.now())
    assert "KA1E" not in main_of(find("kale"))


def test_nothing_typed_shows_what_can_be(find):
    for typed in ("", "   "):
        page = find(typed)
        assert page.status_code == 200
        assert "Crop, field, buyer, place or code" in main_of(page)
        assert "error" not in main_of(page)


def test_the_last_four_of_a_tag_show_the_crate_it_hangs_on(find):
    lot = make_lot(at=timezone.now())
    tag = make_tag(timezone.now())
    bind_tag(act(timezone.now()), tag=tag.pk, lot=lot.pk)
    page = main_of(find(tag.pk[-4:].lower()))
    assert f"Kale, {lot.pk}, 12 bunches, Cold room A1" in page
    assert f'href="/L/{lot.pk}"' in page
    assert "Tap the crate you mean" in page


def test_the_last_four_of_a_free_tag_say_so_and_lead_to_binding(find):
    tag = make_tag(timezone.now())
    page = find(tag.pk[-4:])
    assert page.status_code == 200
    assert ": free" in main_of(page)
    assert "Put this tag on a crate" in main_of(page)
    assert f'href="/L/{tag.pk}"' in main_of(page)


def test_the_last_four_of_a_tag_whose_crate_is_out_say_where(find):
    lot = make_lot(at=timezone.now())
    tag = make_tag(timezone.now())
    bind_tag(act(timezone.now()), tag=tag.pk, lot=lot.pk)
    builders.take(lot, "all", at=timezone.now())
    page = main_of(find(tag.pk[-4:]))
    assert f"Kale, {lot.pk}, out, Market" in page
    assert f'href="/L/{tag.pk}"' in page

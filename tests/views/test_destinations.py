"""Where discarded food goes: the usual places by one tap, the standard's others in a fold."""

import re
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.models import Movement
from tests.builders import make_lot

USUAL = ["compost", "animal feed", "landfill"]
# The ten of the Food Loss and Waste Standard 1.0 (2016); flwprotocol.org, terms and definitions.
TEN = {
    "animal feed", "biomaterial", "digestion", "compost", "burnt", "land", "landfill",
    "not harvested", "refuse", "sewer",
}  # fmt: skip


def offered(html: str) -> list[str]:
    return re.findall(r'type="radio" name="destination" value="([^"]+)"', html)


def chosen(html: str) -> list[str]:
    return re.findall(r'name="destination" value="([^"]+)"\s+checked', html)


def unfolded(html: str) -> bool:
    fold = html[: html.index("another place")].rpartition("<details")[2]
    return re.search(r"\bopen\b", fold) is not None


@pytest.fixture(params=["crate", "scan"])
def page(request, signed_in) -> str:
    """The two pages that discard."""
    return f"/L/{make_lot().pk}/discard" if request.param == "crate" else "/scan/discard"


def test_the_usual_places_come_first_and_the_others_are_in_the_fold(signed_in, page):
    html = signed_in.get(page).content.decode()
    usual, _, others = html.partition("another place")
    assert (offered(usual), chosen(html), unfolded(html)) == (USUAL, ["compost"], False)
    assert {*USUAL, *offered(others)} == TEN
    assert len(offered(html)) == len(TEN)
    for word in ("compost", "animals", "trash"):
        assert re.search(rf">\s+{word}\s+</label>", usual), word


@pytest.mark.parametrize("where", sorted(TEN))
def test_each_of_the_ten_is_written_as_the_standard_has_it(signed_in, page, where):
    lot = make_lot(at=timezone.now())
    data = {"entry": uuid4(), "text": lot.pk, "reason": "wilted", "destination": where}
    path = page if page.startswith("/scan") else f"/L/{lot.pk}/discard"
    assert signed_in.post(path, data).status_code < 400
    assert Movement.objects.get(kind="discarded", lot=lot).destination == where


def test_a_page_shown_again_keeps_what_was_chosen_where_it_can_be_seen(signed_in, page):
    for where, seen in (("land", True), ("animal feed", False)):
        data = {"entry": uuid4(), "text": "", "reason": "", "destination": where}
        response = signed_in.post(page, data)
        html = response.content.decode()
        assert response.status_code in (409, 422)
        assert (chosen(html), unfolded(html)) == ([where], seen)


def test_a_discard_without_a_place_it_goes_to_writes_nothing(signed_in):
    lot = make_lot(at=timezone.now())
    for where in ("", "another", "moon"):
        data = {"entry": uuid4(), "reason": "wilted", "destination": where}
        response = signed_in.post(f"/L/{lot.pk}/discard", data)
        assert response.status_code == 422
        assert 'id="destination_error"' in response.content.decode()
    assert not Movement.objects.filter(kind="discarded").exists()

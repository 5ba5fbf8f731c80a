"""The market day's page, whatever the market is called."""

import csv
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.movements import take_out
from inventory.ledger.outings import out_of
from inventory.models import Lot, Outlet
from tests import builders
from tests.builders import act, make_lot, make_lots


def to_market(lot: Lot, outlet: Outlet, portion="all"):
    now = act(timezone.now())
    return take_out(now, lot=lot.pk, portion=portion, purpose="market", outlet=outlet)


def crates_at(client, asked: str) -> set[str]:
    page = client.get("/market", {"market": asked})
    assert page.status_code == 200
    return {row.lot.pk for row in page.context["form"].rows}


@pytest.fixture
def renamed(farm):
    """A market renamed with a crate out, another gone since, and a market before it by name."""
    first, second, elsewhere = make_lots(12, 12, 12, at=timezone.now())
    # The crate that is listed first went out under the new name.
    first, second = sorted((first, second), key=lambda lot: lot.pk, reverse=True)
    to_market(elsewhere, Outlet.objects.create(name="A market", kind="market"))
    to_market(first, builders.market())
    Outlet.objects.filter(name="Market").update(name="Saturday market")
    outlet = Outlet.objects.get(name="Saturday market")
    to_market(second, outlet)
    return outlet, {first.pk, second.pk}, elsewhere.pk


def test_a_renamed_market_is_found_by_key_by_its_name_and_by_the_one_it_had(signed_in, renamed):
    outlet, crates, elsewhere = renamed
    assert crates_at(signed_in, str(outlet.pk)) == crates
    assert crates_at(signed_in, "Saturday market") == crates
    assert crates_at(signed_in, "Market") == crates
    assert crates_at(signed_in, "A market") == {elsewhere}
    assert crates_at(signed_in, "") == crates_at(signed_in, "nowhere") == {elsewhere}


def test_a_renamed_market_is_one_on_the_page_and_closed_as_one(signed_in, renamed):
    outlet, crates, elsewhere = renamed
    page = signed_in.get("/market", {"market": "Market"})
    assert list(page.context["markets"].values()) == ["A market", "Saturday market"]
    assert page.context["name"] == "Saturday market"
    assert f'name="market" value="{outlet.pk}"' in page.content.decode()
    shown = [f"{code}=12" for code in crates]
    typed = {"entry": uuid4(), "market": outlet.pk, "shown": shown}
    assert signed_in.post("/market", typed).status_code == 302
    states = Lot.objects.filter(pk__in=crates).values_list("state", flat=True)
    assert set(states) == {"empty"}
    assert Lot.objects.get(pk=elsewhere).state == "out"


def test_a_part_comes_back_of_a_renamed_market_by_its_form(signed_in):
    lot = make_lot(at=timezone.now())
    to_market(lot, builders.market(), Decimal(4))
    Outlet.objects.filter(name="Market").update(name="Saturday market")
    to_market(lot, Outlet.objects.get(name="Saturday market"), Decimal(3))
    page = signed_in.get(f"/L/{lot.pk}/bring-back")
    assert "outing" not in page.context["form"].fields
    typed = {"entry": uuid4(), "quantity": "7"}
    assert signed_in.post(f"/L/{lot.pk}/bring-back", typed).status_code == 302
    assert out_of(lot) == {}


def test_the_ledgers_table_says_to_whom_as_it_was_printed_then(signed_in, renamed):
    _outlet, crates, _elsewhere = renamed
    rows = list(csv.DictReader(signed_in.get("/ledger.csv").getvalue().decode().splitlines()))
    told = {row["to"] for row in rows if row["crate"] in crates and row["kind"] == "out"}
    assert told == {"Market", "Saturday market"}

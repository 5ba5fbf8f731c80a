"""The page of what to load for the next market day, in both languages."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from inventory.models import Crop, Farm, MarketDay, MarketHabit, MarketSale, Outlet
from tests.builders import crop, make_crew, make_lots, market, sign_in, take, timezone_now
from tests.models.test_ledger import make_action

DAY = timedelta(days=1)


def today():
    return timezone_now().astimezone(Farm.objects.get().zone).date()


@pytest.fixture
def kale(signed_in):
    """Five crates of twelve, 30 usually sold, and three days closed of which one sold out."""
    make_lots(*[12] * 5, at=timezone_now())
    MarketHabit.objects.create(
        outlet=market(), crop=crop(), unit="bunch", usually_sells=30, least_on_table=6
    )
    for number, (sold, back) in enumerate(((20, 4), (26, 10), (24, 0))):
        closed = MarketDay.objects.create(
            outlet=market(), day=today() - (21 - 7 * number) * DAY, action=make_action()
        )
        MarketSale.objects.create(
            market_day=closed, crop=crop(), unit="bunch", loaded=sold + back, sold=sold,
            back=back, sold_out="" if back else "early",
        )  # fmt: skip
    return f"{crop().pk}-bunch"


def shown(client, query="", status=200) -> str:
    answer = client.get(f"/market/load{query}")
    assert answer.status_code == status
    return re.sub(r"\s+", " ", answer.content.decode())


def test_crew_see_whole_crates_and_two_lines_to_work_them_out(signed_in, kale):
    """Exact 20, 26, 21, 30, 39 and at least 24: by scipy's fit of the same 27.84 and 6.76, which
    the root of 7 over 5 widens to 8.00; with 6 on top 33.8, three crates."""
    habits = f'href="/settings/outlets/{market().pk}/habits"'
    assert habits in shown(signed_in)  # the owner's
    sign_in(signed_in, make_crew())
    page = shown(signed_in)
    assert habits not in page
    assert "<b>3 crates, 36 bunches</b>" in page
    assert "No price is set: one as bad as the other, enough on 50 of 100 days." in page
    assert (
        "From 3 market days, 1 sold out, you usually sell 30: 27.8 asked for, give or take 8."
        " 27.8 + 0 × 8 + 6 = 33.8: 3 crates of 12 bunches." in page
    )
    assert f'href="/scan/market?market={market().pk}"' in page


def test_what_is_chosen_stands_in_the_sums(signed_in, kale):
    page = shown(signed_in, "?rather=bring-home")
    assert "rather bring some home, enough on 70 of 100 days." in page
    assert "27.8 + 0.52 × 8 + 6 = 38: 3 crates of 12 bunches." in page
    page = shown(signed_in, "?rather=run-out")
    assert "27.8 − 0.39 × 8 + 6 = 30.8:" in page


def test_of_an_odd_day_not_known_a_usual_one_is_asked_and_that_is_said(signed_in, kale):
    page = shown(signed_in, "?weather=poor")
    assert "The day: poor (rain, heat)." in page
    assert "Of such days too few were closed: as on a usual one. From " in page


def test_a_persons_number_and_worth_win_and_stay_typed(signed_in, kale):
    Crop.objects.filter(pk=crop().pk).update(price=3)
    assert "Nothing is lost by bringing one back" in shown(signed_in, f"?home-{kale}=1")
    Outlet.objects.update(minimum_days=60)  # the market takes nothing that was out a week ago
    page = shown(signed_in, f"?crates-{kale}=2&home-{kale}=1")
    assert "<b>2 crates, 24 bunches</b>" in page
    assert "Your own number; by the figures 3 crates." in page
    assert "One too few costs 2.00, one too many 1.00: 2.00 ÷ (2.00 + 1.00)" in page
    field = re.search(rf'<input[^>]*name="crates-{kale}"[^>]*>', page)[0]
    assert 'value="2"' in field
    assert 'form="asked"' in field


def test_what_is_typed_wrongly_is_said_beside_it_and_the_list_stands(signed_in, kale):
    page = shown(signed_in, f"?crates-{kale}=many&home-{kale}=-1&day=2020-01-01&market=0", 422)
    for words in (
        "“many” is not a number. Type it like 12 or 12.5.",
        "This must be at least 0.",
        "That day is over. Choose today or a later one.",
        "Choose one of these.",
    ):
        assert words in page
    assert "<b>3 crates, 36 bunches</b>" in page


def test_odd_addresses_are_answered(signed_in, kale):
    for query in ("crates-9-stone=1", "crates-99999999-kg=1", f"crates-{kale}=", "weather=", "x=1"):
        assert "<b>3 crates, 36 bunches</b>" in shown(signed_in, f"?{query}")
    shown(signed_in, "?weather=snow&rather=both", 422)


def test_the_sentences_by_what_is_known(signed_in, kale):
    MarketSale.objects.update(sold_out="early", back=0)
    more = "Sold out early every time, most with 26 bunches: one crate more, 4 crates."
    assert more in shown(signed_in)
    MarketHabit.objects.update(usually_sells=None)
    assert more in shown(signed_in)
    MarketSale.objects.all().delete()
    MarketHabit.objects.update(usually_sells=60)
    page = shown(signed_in)
    assert "No market day was closed yet: about what you usually sell, 60 bunches." in page
    assert "By the figures 6 crates; no more is here that is promised to nobody." in page
    Crop.objects.filter(pk=crop().pk).update(price=3)
    assert "Nobody comes for it before it is past, so kept at home it is worth nothing" in shown(
        signed_in
    )
    page = shown(signed_in, f"?home-{kale}=3")
    assert "Kept at home one is worth as much as sold: none needs to go." in page
    assert "<b>0 crates</b>" in page


def test_it_speaks_spanish(signed_in, kale):
    person = make_crew(language="es")
    sign_in(signed_in, person)
    page = shown(signed_in)
    assert '<html lang="es">' in page
    assert page.count("<h1>") == 1


def test_without_a_market_it_says_so(signed_in):
    Outlet.objects.update(in_use=False)
    assert "The farm has no market yet." in shown(signed_in)


def test_with_nothing_free_it_says_so(signed_in):
    assert "Nothing is here that is promised to nobody." in shown(signed_in)


def test_orders_and_the_market_lead_there(signed_in):
    for page in ("/orders", "/market"):
        assert 'href="/market/load"' in signed_in.get(page).content.decode()


def test_a_day_closed_by_crop_tells_the_next_load(signed_in):
    """Two crates out and sold out early: next time one crate more than two, by its form alone."""
    now = timezone_now()
    lots = make_lots(*[12] * 6, at=now)
    for lot in lots[:2]:
        take(lot, "all", at=now)
    kale = f"{crop().pk}-bunch"
    answer = signed_in.post(
        "/market",
        {
            "entry": uuid4(), "market": market().pk, "by": "crop", "weather": "usual",
            "shown": [f"{lot.pk}=12" for lot in lots[:2]], f"sold_out-{kale}": "early",
        },
    )  # fmt: skip
    assert answer.status_code == 302
    page = shown(signed_in)
    assert "<b>3 crates, 36 bunches</b>" in page
    assert "Sold out early every time, most with 24 bunches: one crate more, 3 crates." in page

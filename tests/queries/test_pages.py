"""What the home page, the rooms, the pull and the ledger read."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import move_lots, take_out
from inventory.actions.quality import hold, inspect
from inventory.actions.undo import undo
from inventory.ledger.outings import read_at_market
from inventory.models import Position
from inventory.queries import ledger
from inventory.queries.days import day_bounds, week_start
from inventory.queries.home import read_rotation
from inventory.queries.intakes import crops_first, last_time
from inventory.queries.ledger import LedgerSearch, csv_rows, find_movements, safe_cell
from inventory.queries.rooms import crops_that_fit, not_seen_since, places_for
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place

DAY = timedelta(days=1)


def codes(crates) -> list[str]:
    return [crate.code for crate in crates]


def test_the_lists_of_the_home_page(farm):
    past = make_lot(at=NOW - 20 * DAY)
    kept = make_lot(at=NOW - 20 * DAY)
    soon = make_lot(at=NOW - 8 * DAY)
    held = make_lot(at=NOW - 8 * DAY)
    new = make_lot(at=NOW, position=None)
    inspect(act(), lot=kept.pk, days=2, seen="firm")
    hold(act(), lot=held.pk, reason="a doubt")
    rotation = read_rotation(farm, NOW)
    assert codes(rotation.discard) == [past.pk]
    assert codes(rotation.kept) == [kept.pk]
    assert codes(rotation.sell_first) == [soon.pk]
    assert codes(rotation.held) == [held.pk]
    assert codes(rotation.to_put_away) == [new.pk]
    assert [row.intake.pk for row in rotation.came_in] == [new.intake_id]
    (kale,) = rotation.crops
    assert (kale.totals, kale.crates) == ([("bunch", 48)], 4)
    assert kale.oldest.code == min(past.pk, kept.pk)


def test_weights_are_added_up_in_the_farms_unit_and_counts_apart(farm):
    make_lot(10, unit="kg")
    make_lot(10, unit="lb")
    make_lot(12)
    (kale,) = read_rotation(farm, NOW).crops
    assert dict(kale.totals) == {"kg": Decimal("14.536"), "bunch": 12}


def test_across_crops_the_soonest_to_spoil_comes_first(farm):
    kale = make_lot(at=NOW - 10 * DAY)
    salad = make_lot(at=NOW - 5 * DAY, key="salad-mix", unit="kg")
    assert codes(read_rotation(farm, NOW).sell_first) == [kale.pk, salad.pk]


def test_what_is_out_at_market_is_listed_until_it_is_undone(farm):
    lot = make_lot()
    action = take_out(act(), lot=lot.pk, portion="half", purpose="market", outlet=builders.market())
    (out,) = read_at_market()
    assert (out.lot, out.market, out.amount) == (lot, "Market", 6)
    assert read_rotation(farm, NOW).at_market == 1
    undo(act(), action=action)
    assert read_at_market() == []
    assert read_rotation(farm, NOW).at_market == 0


def suggested(crop) -> list[str]:
    return [choice.position.name for choice in places_for(crop) if choice.suggested]


def test_a_place_that_would_hurt_is_never_suggested(farm):
    """The trade's own story: a cold spot for greens, any cold shelf for basil."""
    Position.objects.filter(rack="A", shelf=1).update(cold_spot=True)
    assert "A1" not in suggested(builders.crop("kale"))
    assert suggested(builders.crop("kale"))
    assert suggested(builders.crop("basil")) == []
    _, harmed = crops_that_fit(place("A2"))
    assert {(crop.reference_key, verdict.harm) for crop, verdict in harmed} == {("basil", "chills")}


def test_its_own_kind_first_then_the_walk_and_never_a_full_place(farm):
    make_lots(*[12] * 2, position=place("B2"))
    assert suggested(builders.crop("kale")) == ["A1", "A2", "B2"]
    assert suggested(builders.crop("apple")) == ["A1", "A2", "A3"]
    make_lots(*[12] * 5, position=place("A1"))
    assert "A1" not in suggested(builders.crop("apple"))


def test_places_are_offered_in_walking_order(farm):
    assert [choice.position.name for choice in places_for(None)] == [
        "A1", "A2", "A3", "B1", "B2", "B3",
    ]  # fmt: skip


def test_crates_nobody_touched(farm):
    old = make_lot(at=NOW - 9 * DAY)
    touched = make_lot(at=NOW - 9 * DAY)
    move_lots(act(NOW - DAY), lots=[touched.pk], position=place("B2"))
    assert codes(not_seen_since(farm, NOW, NOW - 5 * DAY)) == [old.pk]


def test_the_same_again_is_offered_from_last_time(farm):
    make_lots(12, 12, 12, 7)
    make_cases(18)
    assert [crop.reference_key for crop in crops_first("block")] == ["kale"]
    last = last_time(builders.crop("kale"), "block")
    assert (last.crates, last.quantity, last.unit) == (4, 12, "bunch")
    assert last_time(builders.crop("kale"), "supplier") is None


def test_at_most_eight_crops_are_offered_first(farm):
    keys = ["kale", "apple", "basil", "salad-mix", "spinach", "dill", "mint", "leek", "beet-topped"]
    for number, key in enumerate(keys):
        make_lot(key=key, at=NOW + number * timedelta(minutes=1))
    assert [crop.reference_key for crop in crops_first("block")] == keys[:0:-1]


@pytest.mark.parametrize("rare", [0, 200])
def test_the_ledger_is_searched_and_exported(farm, monkeypatch, rare):
    """Alike whether what is looked for is rare, so that it is gathered, or walked back to."""
    monkeypatch.setattr(ledger, "RARE", rare)
    lot, other = make_lots(12, 12)
    crew = builders.make_crew("=HYPERLINK()")
    move_lots(act(NOW + DAY, person=crew), lots=[lot.pk], position=place("B2"))

    def found(**search):
        return list(find_movements(LedgerSearch(**search), farm).values_list("lot_id", "kind"))

    assert found(code=lot.pk[-4:].lower()) == [(lot.pk, "moved"), (lot.pk, "brought in")]
    assert found(person=crew) == [(lot.pk, "moved")]
    assert found(from_day=date(2026, 6, 11), to_day=date(2026, 6, 11)) == [(lot.pk, "moved")]
    assert len(found(crop=builders.crop())) == 3
    assert found(crop=builders.crop("apple")) == []
    head, *rows = csv_rows(find_movements(LedgerSearch(), farm), farm)
    moved = dict(zip(head, rows[0], strict=True))
    assert moved["who"] == "'=HYPERLINK()"
    assert moved["when"] == "2026-06-11T10:00:00-04:00"
    assert (moved["crate"], moved["place"]) == (lot.pk, "Cold room B2")
    assert other.pk in {row[head.index("crate")] for row in rows}


def test_what_undid_an_entry_that_a_clock_put_far_ahead_is_found_by_who_did(farm, monkeypatch):
    """Also of somebody who did much, and whose entries are looked for no later than theirs."""
    monkeypatch.setattr(ledger, "RARE", 2)
    lot, crew = make_lot(12), builders.make_crew()
    ahead = move_lots(act(NOW + 400 * DAY), lots=[lot.pk], position=place("B1"))
    undo(act(NOW + DAY, person=crew, as_owner=True), action=ahead)
    for name in ("B2", "A2"):
        move_lots(act(NOW + DAY, person=crew), lots=[lot.pk], position=place(name))
    move_lots(act(NOW + 2 * DAY), lots=[lot.pk], position=place("A1"))
    found = find_movements(LedgerSearch(person=crew), farm).values_list("kind", flat=True)
    assert sorted(found) == ["moved", "moved", "undone"]


@pytest.mark.parametrize("start", list("=+-@\t"))
def test_no_cell_is_run_as_a_formula(start):
    """OWASP ASVS 5.0, 1.2.10."""
    assert safe_cell(f"{start}1+1").startswith("'")
    assert safe_cell("kale") == "kale"


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 6, 10), 24)]
)
def test_farm_days_are_as_long_as_the_clock_says(farm, day, hours):
    """United States daylight saving in 2026: 8 March to 1 November (IANA time zone database)."""
    from inventory.queries.days import day_start

    start, end = day_bounds(farm, day_start(farm, day) + timedelta(hours=12))
    assert end.timestamp() - start.timestamp() == hours * 3600


def test_the_week_begins_on_the_farms_day(farm):
    assert week_start(farm, date(2026, 6, 10)) == date(2026, 6, 8)
    farm.week_start = 6
    assert week_start(farm, date(2026, 6, 10)) == date(2026, 6, 7)
    assert week_start(farm, date(2026, 6, 7)) == date(2026, 6, 7)


def test_a_load_that_is_all_back_is_not_at_market(farm):
    """0.1 and 0.2 out and 0.3 back are nothing, to the thousandth."""
    from inventory.actions.movements import bring_back

    lot = make_lot(5, unit="kg")
    for number, amount in enumerate(("0.1", "0.2")):
        take_out(
            act(NOW + number * DAY), lot=lot.pk, portion=Decimal(amount), purpose="market",
            outlet=builders.market(),
        )  # fmt: skip
    bring_back(act(NOW + 2 * DAY), lot=lot.pk, quantity=Decimal("0.3"), position=place())
    assert read_at_market() == []

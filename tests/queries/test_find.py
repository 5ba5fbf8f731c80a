"""What is found by a name: whole words and beginnings, both languages, fields, buyers, places."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import translation

from inventory.actions.movements import bring_back, take_out
from inventory.actions.orders import close_order
from inventory.actions.quality import hold
from inventory.actions.reshape import combine_lots
from inventory.actions.undo import undo
from inventory.models import Crop, Outlet, Source
from inventory.queries.book import Wanted
from inventory.queries.crops import crop_names
from inventory.queries.find import MOST_GONE, find, is_label, matches
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place, say_order

DAY = timedelta(days=1)

MATCHES = [
    ("kale", "Kale", True),
    ("KALE", "kale", True),
    ("ka", "Kale", True),
    ("k", "Kale", False),
    ("ale", "Kale", False),
    ("kale ", "Kale, curly", True),
    ("curly kale", "Kale, curly", True),
    ("curly chard", "Kale, curly", False),
    ("pérsimo", "Persimo", True),
    ("persimo", "Pérsimo", True),
    ("jalapeno", "Jalapeño", True),
    ("carrots", "Carrot, bunched", True),
    ("carrot", "Carrots", True),
    ("tomatoes", "Tomato", True),
    ("strawberries", "Strawberry", True),
    ("cherry", "Cherries", True),
    ("manzanas", "Manzana", True),
    ("nueces", "Nuez", True),
    ("coles", "Coliflor", False),
    ("bed 1", "Bed 1", True),
    ("bed 1", "Bed 12", False),
    ("1", "Bed 12", False),
    ("12", "Bed 12", True),
    ("12", "Bed 120", False),
    ("", "Kale", False),
    ("…", "Kale", False),
    ("_", "Kale", False),
    ("\0", "Kale", False),
]


@pytest.mark.parametrize(("typed", "name", "found"), MATCHES)
def test_words_and_their_beginnings_match(typed, name, found):
    assert matches(typed, name) is found


LABELS = [("A1", True), ("a1", True), ("a 1", True), ("a-1", True), ("A12", False), ("A", False)]


@pytest.mark.parametrize(("typed", "found"), LABELS)
def test_a_place_is_named_as_on_its_label(farm, typed, found):
    assert is_label(typed, place("A1")) is found


def test_a_crop_has_its_own_name_and_the_references_in_both_languages(farm):
    kale = builders.crop("kale")
    kale.name = "Winter greens"
    with translation.override("es"):
        spanish = crop_names(kale)
    assert spanish == crop_names(kale) == {"Winter greens", "Kale", "Col rizada (kale)"}


def names(found) -> list[str]:
    return [row.name for row in found.in_house]


def only(typed, farm):
    (row,) = find(typed, farm, NOW).in_house
    return row


@pytest.mark.parametrize("typed", ["kale", "Col rizada", "rizada", "KAL"])
def test_a_crop_is_found_in_either_language_with_its_crates_oldest_first(farm, typed):
    new, old, older = (make_lot(at=NOW - days * DAY) for days in (0, 3, 6))
    make_lot(key="salad-mix")
    row = only(typed, farm)
    assert row.named == builders.crop("kale")
    assert [crate.code for crate in row.crates] == [older.pk, old.pk, new.pk]


def test_jitomate_is_found_as_tomate_too_beside_what_else_is_called_so(farm):
    """From memory: what Mexico calls jitomate is tomate in most other places."""
    for key in ("tomato-ripe", "tomatillo"):
        make_lot(key=key, unit="kg")
    assert [row.named.reference_key for row in find("tomate", farm, NOW).in_house] == [
        "tomatillo", "tomato-ripe",
    ]  # fmt: skip


def test_the_sum_leaves_out_what_is_on_hold_and_says_how_much_that_is(farm):
    make_lots(12, 10)
    make_lot(5, unit="kg")
    hold(act(), lot=make_lot(7).pk, reason="a doubt")
    (total,) = only("kale", farm).sums
    assert dict(total.free) == {"bunch": 22, "kg": 5}
    assert total.held == [("bunch", 7)]
    assert len(only("kale", farm).crates) == 4


def test_a_crop_that_is_grown_is_found_without_a_crate_and_another_is_not(farm):
    assert only("kale", farm).crates == []
    assert not find("quince", farm, NOW)
    make_lot(key="quince", unit="kg")
    Crop.objects.filter(reference_key="quince").update(grown=False)
    assert len(only("quince", farm).crates) == 1


def test_several_crops_of_one_name_are_all_found_by_name(farm):
    Crop.objects.create(reference_key="kale", name="Red kale", grown=True)
    assert names(find("kale", farm, NOW)) == ["Kale", "Red kale"]
    assert names(find("red", farm, NOW)) == ["Red kale"]


def test_a_field_is_found_with_its_crates_summed_by_crop(farm):
    make_lots(12, 12)
    make_lot(4, key="salad-mix", unit="kg")
    make_cases(18)
    row = only("bed", farm)
    assert (row.name, len(row.crates)) == ("Bed 3", 3)
    assert [(total.crop.reference_key, total.free) for total in row.sums] == [
        ("kale", [("bunch", 24)]),
        ("salad-mix", [("kg", 4)]),
    ]


def test_a_supplier_is_found_and_one_given_up_only_with_crates(farm):
    Source.objects.filter(name="Orchard").update(in_use=False)
    assert not find("orchard", farm, NOW)
    (case,) = make_cases(18)
    assert [crate.code for crate in only("orchard", farm).crates] == [case.pk]


def test_a_crate_filled_from_two_fields_is_found_by_both(farm):
    other = Source.objects.create(kind="block", name="Tunnel 1")
    one, two = make_lot(), make_lot(source=other)
    combine_lots(act(), lots=[one.pk, two.pk], position=place())
    (bed,), (tunnel,) = only("bed 3", farm).crates, only("tunnel", farm).crates
    assert bed.code == tunnel.code
    assert bed.lot.intake is None


def to_buyer(lot, outlet, portion="all", at=NOW):
    return take_out(act(at), lot=lot.pk, portion=portion, purpose="order", outlet=outlet)


def test_a_buyer_is_found_with_open_orders_and_what_went_there_lately(farm):
    inn = Outlet.objects.create(name="Tamberlow Inn")
    wanted = [Wanted(builders.crop(), "bunch", Decimal(5))]
    closed = say_order(act(), outlet=inn, lines=wanted)
    close_order(act(), order=closed.pk)
    pull = say_order(act(), outlet=inn, lines=wanted)
    now, undone, long_ago, elsewhere = make_lots(*[12] * 4, at=NOW - 20 * DAY)
    to_buyer(long_ago, inn, at=NOW - 15 * DAY)
    to_buyer(now, inn)
    to_buyer(elsewhere, Outlet.objects.create(name="Brindle Kitchen"))
    undo(act(), action=to_buyer(undone, inn))
    bring_back(act(), lot=now.pk, quantity=Decimal(2))
    (buyer,) = find("tamberlow", farm, NOW).buyers
    assert [order.id for order in buyer.orders] == [pull.pk]
    assert [entry.lot_id for entry in buyer.gone] == [now.pk]


def test_a_buyer_given_up_is_not_found(farm):
    Outlet.objects.create(name="Tamberlow Inn", in_use=False)
    assert not find("tamberlow", farm, NOW)


def test_of_what_went_to_a_buyer_the_latest_are_shown(farm):
    inn = Outlet.objects.create(name="Tamberlow Inn")
    lots = make_lots(*[12] * (MOST_GONE + 1))
    for hours, lot in enumerate(lots):
        to_buyer(lot, inn, at=NOW + timedelta(hours=hours))
    (buyer,) = find("inn", farm, NOW + DAY).buyers
    assert [entry.lot_id for entry in buyer.gone] == [lot.pk for lot in reversed(lots)][:MOST_GONE]


def test_a_place_alone_is_told_from_one_among_others(farm):
    assert find("a1", farm, NOW).only_place == place("A1")
    Source.objects.create(kind="block", name="A1")
    found = find("a1", farm, NOW)
    assert (found.places, found.only_place) == ([place("A1")], None)
    assert [room.name for room in find("cold", farm, NOW).rooms] == ["Cold room"]


def test_the_last_four_find_a_crate_beside_what_is_called_so(farm):
    lot = make_lot()
    found = find(lot.pk[-4:].lower(), farm, NOW)
    assert [crate.code for crate in found.by_code] == [lot.pk]
    assert found
    Source.objects.create(kind="block", name=lot.pk[-4:])
    found = find(lot.pk[-4:], farm, NOW)
    assert ([crate.code for crate in found.by_code], names(found)) == ([lot.pk], [lot.pk[-4:]])


def test_nothing_is_found_for_what_nobody_is_called(farm):
    make_lot()
    for typed in ("zebra", "", "\0", "९", "a" * 100):
        assert not find(typed, farm, NOW)

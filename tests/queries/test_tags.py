"""What tags hang on, which crates are offered for a free one, and what one would leave bare."""

from datetime import timedelta

import pytest

from inventory.actions.labels import record_prints
from inventory.actions.movements import bring_back, take_out
from inventory.actions.quality import discard
from inventory.actions.reshape import split_lot
from inventory.actions.tags import bind_tag, take_tag_off
from inventory.models import Lot, Outlet, Tag
from inventory.queries.crates import by_tail
from inventory.queries.ledger import LedgerSearch, find_movements
from inventory.queries.tags import (
    MOST_OFFERED,
    crates_of_code,
    crates_to_tag,
    hanging,
    left_bare,
    others_on,
    tags_ending,
    told_of,
    without_tag,
)
from tests.builders import NOW, Decimal, act, make_lot, make_lots, make_tag, place, take

HOUR = timedelta(hours=1)

pytestmark = pytest.mark.usefixtures("farm")


def tagged(lot: Lot, at=NOW) -> Tag:
    tag = make_tag()
    bind_tag(act(at), tag=tag.pk, lot=lot.pk)
    return tag


def codes(crates) -> list[str]:
    return [crate.code for crate in crates]


def test_crates_are_offered_newest_first_and_those_of_one_harvest_as_typed_in():
    old = make_lot(at=NOW - HOUR)
    new = make_lots(12, 10, 8)
    tagged(new[1])
    assert [lot.pk for lot in without_tag()] == [new[0].pk, new[2].pk, old.pk]


def test_what_was_split_off_a_moment_ago_is_offered_before_all():
    old, new = make_lot(at=NOW - HOUR), make_lot()
    split_lot(act(NOW + HOUR), lot=old.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=old)
    assert [lot.pk for lot in without_tag()] == [child.pk, new.pk, old.pk]


def test_no_more_are_offered_than_a_person_looks_through(farm):
    lots = make_lots(*[12] * (MOST_OFFERED + 2))
    assert codes(crates_to_tag(farm, NOW)) == [lot.pk for lot in lots[:MOST_OFFERED]]


def test_the_last_four_of_a_tag_find_the_crate_it_hangs_on(farm):
    lot = make_lot()
    tag, other = tagged(lot), tagged(make_lot())
    assert codes(by_tail(tag.pk[-4:], farm, NOW)) == [lot.pk]
    assert codes(by_tail(lot.pk[-4:].lower(), farm, NOW)) == [lot.pk]
    take_tag_off(act(), tag=tag.pk)
    assert by_tail(tag.pk[-4:], farm, NOW) == []
    assert len(by_tail(other.pk[-4:], farm, NOW)) == 1


def test_a_crate_is_named_once_though_its_code_and_its_tags_end_alike(farm):
    lot = make_lot()
    tag, second = tagged(lot), tagged(lot)
    assert len(by_tail(tag.pk[-4:], farm, NOW)) == 1
    assert codes(by_tail(second.pk[-4:], farm, NOW)) == [lot.pk]


def test_the_last_four_of_a_tag_do_not_find_a_crate_that_is_out(farm):
    lot = make_lot()
    tag = tagged(lot)
    take(lot, "all")
    assert by_tail(tag.pk[-4:], farm, NOW) == []
    (row,) = tags_ending(tag.pk[-4:].lower())
    assert (row.tag, row.lot, row.outing.to) == (tag, lot, "Market")


def test_a_crate_for_a_tag_is_found_by_four_and_by_seven_if_it_is_here(farm):
    lot, gone = make_lot(), make_lot()
    take(gone, "all")
    for typed in (lot.pk, lot.pk[-4:]):
        assert codes(crates_of_code(typed, farm, NOW)) == [lot.pk]
    for typed in (gone.pk, gone.pk[-4:], "0000000"):
        assert crates_of_code(typed, farm, NOW) == []


def test_tags_are_listed_with_what_they_hang_on_the_free_ones_last():
    kale, out, eaten = make_lot(), make_lot(), make_lot()
    basil = make_lot(key="basil", position=place("B2"))
    free = make_tag()
    on_kale, on_out, on_eaten, on_basil = (tagged(lot) for lot in (kale, out, eaten, basil))
    take(out, "all")
    discard(act(), lot=eaten.pk, portion="all", reason="wilted", destination="compost")
    rows = hanging(Tag.objects.all())
    assert next(row.lot for row in rows) == basil
    assert {row.tag: (row.lot, row.outing and row.outing.to) for row in rows} == {
        on_basil: (basil, None),
        on_kale: (kale, None),
        on_out: (out, "Market"),
        on_eaten: (None, None),
        free: (None, None),
    }
    assert [row.is_free for row in rows] == [False, False, False, True, True]


def test_a_list_of_many_tags_asks_the_database_no_more_than_one_of_few(
    django_assert_num_queries,
):
    for lot in make_lots(*[12] * 3):
        tagged(lot)
        tagged(out := make_lot())
        take(out, "all")
    with django_assert_num_queries(3):
        assert len(hanging(Tag.objects.all())) == 6


def test_a_tag_tells_what_happened_to_it_and_nothing_of_others():
    lot, tag = make_lot(), make_tag()
    tagged(make_lot())
    bind_tag(act(), tag=tag.pk, lot=lot.pk)
    take_tag_off(act(NOW + HOUR), tag=tag.pk)
    told = [(entry.kind, entry.lot_id) for entry in told_of(tag)]
    assert told == [("tag off", lot.pk), ("tag on", lot.pk)]


def test_what_happened_is_found_by_a_tags_code_and_by_its_last_four(farm):
    lot = make_lot()
    tag = tagged(lot)
    tagged(make_lot())
    for code in (tag.pk, tag.pk[-4:]):
        found = find_movements(LedgerSearch(code=code), farm)
        assert [(entry.kind, entry.lot_id) for entry in found] == [("tag on", lot.pk)]
    assert find_movements(LedgerSearch(code=lot.pk), farm).count() == 2


def test_a_crate_at_the_market_would_be_left_without_a_label():
    lot = make_lot()
    tag = tagged(lot)
    assert left_bare(tag) is None
    take(lot, "all")
    bare = left_bare(tag)
    assert (bare.lot, bare.outing.to, bare.labelled) == (lot, "Market", False)
    record_prints([(lot, NOW.date())], NOW)
    assert left_bare(tag).labelled
    bring_back(act(NOW + HOUR), lot=lot.pk, quantity=Decimal(12), position=place())
    assert left_bare(tag) is None


def test_a_crate_at_a_kitchen_with_another_tag_is_still_known_by_that():
    lot = make_lot()
    tag, other = tagged(lot), tagged(lot)
    inn = Outlet.objects.create(name="Tamberlow Inn")
    take_out(act(), lot=lot.pk, portion="all", purpose="order", outlet=inn)
    bare = left_bare(tag)
    assert (bare.outing.to, bare.labelled) == ("Tamberlow Inn", True)
    assert others_on(lot, tag) == [other.pk]


@pytest.mark.parametrize("purpose", ["own use", "given"])
def test_nobody_waits_for_a_crate_that_was_used_or_given_away(purpose):
    lot = make_lot()
    tag = tagged(lot)
    to = {"to": "Neighbour"} if purpose == "given" else {}
    take_out(act(), lot=lot.pk, portion="all", purpose=purpose, **to)
    assert left_bare(tag) is None


def test_a_free_tag_leaves_nothing_bare():
    assert left_bare(make_tag()) is None

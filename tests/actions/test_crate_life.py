"""What a person does to crates, one by one."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.intakes import bring_in_harvest, correct_intake
from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.actions.quality import discard, hold, inspect, release
from inventory.actions.reshape import combine_lots, count_lots, resort_lots, split_lot
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.ledger.fold import Outing
from inventory.ledger.outings import out_of
from inventory.models import Action, Lot, Movement, Source
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place

pytestmark = pytest.mark.usefixtures("farm")


def fresh(lot: Lot) -> Lot:
    return Lot.objects.get(pk=lot.pk)


def refusal(code: str):
    return pytest.raises(Refused, match=code)


def take(lot: Lot, portion, at=NOW, purpose="market", **changes) -> Action:
    outlet = builders.market() if purpose == "market" else None
    return take_out(act(at), lot=lot.pk, portion=portion, purpose=purpose, outlet=outlet, **changes)


def test_a_harvest_of_twelve_makes_twelve_lots_with_codes_of_their_own():
    lots = make_lots(*[12] * 11, 6, position=None)
    assert len({lot.pk for lot in lots}) == 12
    assert {lot.state for lot in lots} == {Lot.State.TO_PUT_AWAY}
    assert [lot.quantity for lot in lots][-1] == 6
    assert len({lot.intake.lot_code for lot in lots}) == 1


def test_a_cut_that_was_not_given_is_not_made_up():
    assert make_lot(cut_ago=None).intake.cut_at is None


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"quantities": []}, "crate-count"),
        ({"quantities": [Decimal(1)] * 201}, "crate-count"),
        ({"quantities": [Decimal(0)]}, "not-positive"),
        ({"quantities": [Decimal("-3")]}, "not-positive"),
        ({"quantities": [Decimal("1.5")]}, "not-whole"),
        ({"quantities": [Decimal("1.0001")], "unit": "kg"}, "too-fine"),
        ({"quantities": [Decimal(10) ** 9]}, "crate-too-full"),
        ({"cut_ago": None, "cut_at": NOW + timedelta(minutes=11)}, "future"),
        ({"cut_ago": None, "cut_at": NOW - timedelta(days=61)}, "too-long-ago"),
    ],
)
def test_an_impossible_harvest_writes_nothing(changes, code):
    with refusal(code):
        make_lots(12, **changes)
    assert not Action.objects.exists()
    assert not Lot.objects.exists()


def test_a_clock_ten_minutes_ahead_is_accepted():
    assert make_lot(cut_ago=None, cut_at=NOW + timedelta(minutes=9)).intake.cut_at > NOW


def test_a_block_closed_after_spraying_refuses_but_for_the_owner_with_a_reason():
    bed = Source.objects.get(name="Bed 3")
    bed.not_before, bed.not_before_reason = NOW.date() + timedelta(days=1), "sprayed"
    bed.save()
    with refusal("block-closed") as refused:
        make_lots(12)
    assert refused.value.facts == {"day": bed.not_before, "reason": "sprayed"}
    make_lots(12, overrule="label says one day")
    with refusal("owner-only"):
        bring_in_harvest(
            act(person=builders.make_crew()), crop=builders.crop(), source=bed,
            quantities=[Decimal(1)], unit="bunch", overrule="I think so",
        )  # fmt: skip


def test_taking_all_makes_the_lot_out_and_it_comes_back_under_its_own_code():
    lot = make_lot(12)
    take(lot, "all")
    assert (fresh(lot).state, fresh(lot).quantity, fresh(lot).position) == ("out", 0, None)
    bring_back(act(NOW + timedelta(hours=5)), lot=lot.pk, quantity=Decimal(4), position=place())
    assert (fresh(lot).state, fresh(lot).quantity) == ("in place", 4)
    assert Lot.objects.count() == 1


def test_what_comes_back_of_a_part_is_a_crate_of_its_own():
    lot = make_lot(12)
    take(lot, Decimal(5))
    assert (fresh(lot).state, fresh(lot).quantity) == ("in place", 7)
    bring_back(act(NOW + timedelta(hours=5)), lot=lot.pk, quantity=Decimal(2))
    child = Lot.objects.get(parents=lot)
    assert (child.quantity, child.state, child.intake) == (2, "to put away", lot.intake)
    assert fresh(lot).quantity == 7
    assert list(out_of(fresh(lot)).values()) == [3]


@pytest.mark.parametrize("share", ["quarter", "half", "three-quarters"])
def test_a_share_is_resolved_by_what_is_in_the_crate(share):
    lot = make_lot(18)
    take(lot, share)
    assert fresh(lot).quantity == {"quarter": 13, "half": 9, "three-quarters": 4}[share]


def test_more_than_there_is_can_not_go_out_nor_come_back():
    lot = make_lot(12)
    with pytest.raises(Conflict, match="more-than-there"):
        take(lot, Decimal(13))
    take(lot, Decimal(5))
    with pytest.raises(Conflict, match="more-than-out"):
        bring_back(act(), lot=lot.pk, quantity=Decimal(6))


def test_a_gift_says_to_whom():
    lot = make_lot(12)
    with refusal("to-whom"):
        take(lot, "all", purpose="given")
    take(lot, "all", purpose="given", to="pantry")
    assert Movement.objects.get(kind="out").other_party == "pantry"


def test_a_market_that_takes_only_our_own_refuses_bought_apples():
    outlet = builders.market()
    outlet.own_grown_only = True
    outlet.save()
    case = make_cases("18.1")[0]
    with refusal("outlet-refuses") as refused:
        take(case, "all")
    assert refused.value.facts["tag"] == "bought-in"
    assert fresh(case).quantity == Decimal("18.1")


def test_the_market_day_is_closed_crate_by_crate():
    """The trade's own story in small: most sold, some back, a few lost."""
    whole, part = make_lots(18, 18)
    take(whole, "all")
    take(part, Decimal(10))
    close_market(
        act(NOW + timedelta(hours=6)), market=builders.at_market(), warm_hours=Decimal(5),
        rows=[
            Settling(whole.pk, Decimal(18), lost=Decimal(2)),
            Settling(part.pk, Decimal(10), back=Decimal(4), given=Decimal(1)),
        ],
    )  # fmt: skip
    assert fresh(whole).state == "empty"
    assert Lot.objects.get(parents=part).quantity == 4
    settled = Movement.objects.filter(kind="settled").values_list("lot_id", "outcome", "amount")
    assert set(settled) == {
        (whole.pk, "sold", 16), (whole.pk, "lost", 2), (part.pk, "sold", 5), (part.pk, "given", 1),
    }  # fmt: skip
    assert out_of(fresh(whole)) == out_of(fresh(part)) == {}


def test_a_count_keeps_the_difference_and_finds_an_empty_crate_again():
    lot = make_lot(12)
    count_lots(act(), figures={lot.pk: Decimal(0)}, reason="missing")
    assert fresh(lot).state == "empty"
    count_lots(act(), figures={lot.pk: Decimal(7)}, reason="found", position=place("B2"))
    assert (fresh(lot).state, fresh(lot).quantity) == ("in place", 7)
    counted = Movement.objects.filter(kind="counted").values_list("figure", "change")
    assert list(counted) == [(0, -12), (7, 7)]


def test_splitting_leaves_some_in_each():
    lot = make_lot(12)
    split_lot(act(), lot=lot.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=lot)
    assert (fresh(lot).quantity, child.quantity) == (7, 5)
    assert child.position == lot.position
    with refusal("leave-some"):
        split_lot(act(), lot=lot.pk, quantity=Decimal(7))


def test_combining_takes_one_crop_and_one_unit():
    kale = make_lots(5, 7)
    combine_lots(act(), lots=[lot.pk for lot in kale])
    child = Lot.objects.get(parents=kale[0])
    assert child.quantity == 12
    assert {fresh(lot).state for lot in kale} == {"empty"}
    with refusal("not-alike"):
        combine_lots(act(), lots=[child.pk, make_cases(5)[0].pk])
    with refusal("two-crates"):
        combine_lots(act(), lots=[child.pk])


def test_a_mixed_crate_takes_the_more_restricted_source():
    Source.objects.filter(name="Bed 3").update(organic=True)
    organic = make_lot(5)
    assert organic.tags == frozenset()
    other = make_lot(5, source=Source.objects.create(kind="block", name="Bed 4"))
    combine_lots(act(), lots=[organic.pk, other.pk])
    child = Lot.objects.get(parents=organic)
    assert child.intake is None
    assert child.tags == {"not-organic"}


def test_sixty_kilos_of_beets_are_sorted():
    """The trade's own story: 48 kg firsts, 7 seconds, 4 culls, 1 lost of 60 in 4 crates."""
    beets = make_lots(15, 15, 15, 15, key="beet-topped", unit="kg")
    resort_lots(
        act(), lots=[lot.pk for lot in beets], firsts=Decimal(48), seconds=Decimal(7),
        culls=Decimal(4), lost=Decimal(1), destination="animal feed",
    )  # fmt: skip
    made = Lot.objects.filter(parents=beets[0]).values_list("grade", "quantity")
    assert set(made) == {("firsts", 48), ("seconds", 7)}
    assert {fresh(lot).state for lot in beets} == {"empty"}
    assert -sum(entry.change for entry in Movement.objects.filter(kind="discarded")) == 4
    assert -sum(entry.change for entry in Movement.objects.filter(kind="weight lost")) == 1
    assert Lot.objects.filter(parents__in=beets, grade="firsts").count() == 4


def test_sorting_must_add_up():
    lot = make_lot(10)
    with refusal("sort-sum"):
        resort_lots(
            act(), lots=[lot.pk], firsts=Decimal(5), seconds=Decimal(0), culls=Decimal(0),
            lost=Decimal(0),
        )  # fmt: skip


def test_discarding_says_why_and_where_to():
    lot = make_lot(12)
    discard(act(), lot=lot.pk, portion="half", reason="wilted", destination="compost")
    discard(act(), lot=lot.pk, portion="all", reason="spoiled", destination="landfill")
    assert fresh(lot).state == "empty"
    assert list(Movement.objects.filter(kind="discarded").values_list("change", "destination")) == [
        (-6, "compost"), (-6, "landfill"),
    ]  # fmt: skip


def test_a_crate_is_kept_to_the_end_of_a_farm_day():
    late = NOW.replace(hour=3)  # the evening before in New York
    lot = make_lot(12, at=late)
    inspect(act(late), lot=lot.pk, days=3, seen="firm")
    assert fresh(lot).kept_until == date(2026, 6, 12)
    for days in (0, 8):
        with refusal("keep-days"):
            inspect(act(late), lot=lot.pk, days=days, seen="firm")


def test_only_the_owner_releases_what_anybody_held():
    lot, other = make_lots(12, 12)
    crew = builders.make_crew()
    hold(act(person=crew), lot=lot.pk, reason="a doubt")
    with pytest.raises(Conflict, match="held"):
        take(lot, "all")
    with refusal("owner-only"):
        release(act(person=crew), lot=lot.pk, reason="looks fine")
    release(act(), lot=lot.pk, reason="washed, checked")
    assert not fresh(lot).held
    assert not fresh(other).held


def test_holding_an_intake_holds_what_was_made_of_it():
    lot, other = make_lots(12, 12)
    split_lot(act(), lot=lot.pk, quantity=Decimal(5))
    gone = make_lot(12)
    discard(act(), lot=gone.pk, portion="all", reason="wilted", destination="compost")
    take(other, "all")
    hold(act(), intake=lot.intake, reason="droppings")
    held = set(Lot.objects.filter(held=True).values_list("pk", flat=True))
    assert held == {lot.pk, Lot.objects.get(parents=lot).pk, other.pk}


def test_what_comes_back_of_a_held_crate_is_held(farm):
    whole, part = make_lots(12, 12)
    take(whole, "all")
    take(part, Decimal(5))
    hold(act(), intake=whole.intake, reason="glass or metal")
    for lot in (whole, part):
        bring_back(act(NOW + timedelta(hours=5)), lot=lot.pk, quantity=Decimal(2))
    assert Lot.objects.filter(held=True).count() == 3
    assert Lot.objects.get(parents=part).held


def test_a_crate_that_went_two_ways_comes_back_from_either():
    lot = make_lot(12)
    take(lot, Decimal(6))
    take(lot, Decimal(2), purpose="order")
    bring_back(act(), lot=lot.pk, quantity=Decimal(4), outing=builders.at_market())
    assert out_of(fresh(lot)) == {builders.at_market(): 2, Outing("order", ""): 2}


def test_closing_the_market_leaves_what_is_out_for_an_order():
    lot = make_lot(12)
    take(lot, Decimal(4))
    take(lot, "all", purpose="order")
    close_market(act(), market=builders.at_market(), rows=[Settling(lot.pk, Decimal(4))])
    assert fresh(lot).state == "out"
    bring_back(act(), lot=lot.pk, quantity=Decimal(8))
    assert (fresh(lot).state, fresh(lot).quantity) == ("to put away", 8)


def test_crew_can_not_correct_their_way_into_a_closed_block():
    lot = make_lot(12)
    closed = Source.objects.create(
        kind="block", name="Bed 9", not_before=NOW.date() + timedelta(days=9)
    )
    content = {"intake": lot.intake, "crop": lot.crop, "source": closed, "reason": "wrong bed"}
    with refusal("block-closed"):
        correct_intake(act(person=builders.make_crew()), **content)
    correct_intake(act(), **content)
    assert fresh(lot).intake.source == closed


def test_a_correction_keeps_what_was_written_before():
    lot = make_lot(12)
    before = lot.intake.cut_at
    action = correct_intake(
        act(), intake=lot.intake, crop=builders.crop("collards"), source=lot.intake.source,
        cut_at=NOW - timedelta(hours=5), reason="wrong crop",
    )  # fmt: skip
    assert fresh(lot).crop.reference_key == "collards"
    assert fresh(lot).intake.cut_at == NOW - timedelta(hours=5)
    detail = Movement.objects.get(kind="corrected").detail
    assert detail["before"]["cut_at"] == before.isoformat()
    undo(act(), action=action)
    assert fresh(lot).crop.reference_key == "kale"
    assert fresh(lot).intake.cut_at == before


def test_undo_reverses_and_can_not_be_done_twice():
    lot = make_lot(12)
    action = take(lot, "all")
    undo(act(), action=action)
    assert (fresh(lot).state, fresh(lot).quantity, fresh(lot).position) == ("in place", 12, place())
    with pytest.raises(Conflict, match="undone-already"):
        undo(act(), action=action)


def test_undo_of_an_intake_leaves_void_lots_with_their_codes():
    lots = make_lots(12, 12)
    undo(act(), action=lots[0].intake.action)
    assert {fresh(lot).state for lot in lots} == {"void"}
    assert {fresh(lot).quantity for lot in lots} == {0}


def test_undo_names_what_stands_in_the_way():
    lot = make_lot(12)
    moved = move_lots(act(NOW + timedelta(hours=1)), lots=[lot.pk], position=place("B2"))
    with pytest.raises(Conflict) as blocked:
        undo(act(NOW + timedelta(hours=2)), action=lot.intake.action)
    assert blocked.value.facts["blocker"] == moved
    undo(act(NOW + timedelta(hours=2)), action=moved)
    undo(act(NOW + timedelta(hours=2)), action=lot.intake.action)
    assert fresh(lot).state == "void"


def test_crew_undo_their_own_until_the_end_of_the_farms_day():
    crew, other = builders.make_crew("Ben"), builders.make_crew("Cai")
    lot = make_lot(12)
    action = move_lots(act(person=crew), lots=[lot.pk], position=place("B2"))
    with refusal("undo-not-yours"):
        undo(act(person=other), action=action)
    with refusal("undo-not-yours"):
        undo(act(NOW + timedelta(days=1), person=crew), action=action)
    undo(act(NOW + timedelta(hours=3), person=crew), action=action)
    assert fresh(lot).position == place()


def test_the_same_id_again_is_the_same_answer():
    lot = make_lot(12)
    again = act()
    content = {"lot": lot.pk, "portion": "half", "purpose": "own use"}
    assert take_out(again, **content) == take_out(again, **content)
    assert fresh(lot).quantity == 6


def test_the_same_id_with_other_content_or_by_somebody_else_is_refused():
    lot = make_lot(12)
    first = act()
    take_out(first, lot=lot.pk, portion="half", purpose="own use")
    with pytest.raises(Conflict, match="sent-before"):
        take_out(first, lot=lot.pk, portion="all", purpose="own use")
    stranger = act(id=first.id, person=builders.make_crew())
    with pytest.raises(Conflict, match="sent-before"):
        take_out(stranger, lot=lot.pk, portion="half", purpose="own use")
    assert fresh(lot).quantity == 6


def test_an_unknown_code_is_refused():
    with refusal("unknown-code"):
        take_out(act(), lot="ZZZZZZZ", portion="all", purpose="own use")

"""Harvests and deliveries come in and are put right; what is impossible is refused whole."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.intakes import bring_in_harvest, correct_intake, put_away_lots, put_away_over
from inventory.actions.movements import move_lots
from inventory.actions.reshape import combine_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Action, Intake, Lot, Movement, Source
from inventory.queries.crates import one_crate
from tests import builders
from tests.builders import NOW, act, fresh, make_cases, make_lot, make_lots, place, sign_in, take
from tests.refusing import refusal, refused

pytestmark = pytest.mark.usefixtures("farm")


def correct(intake, **changes):
    """Put an intake right as it was, but for the changes."""
    same = {"crop": intake.crop, "source": intake.source, "cut_at": intake.cut_at}
    return correct_intake(act(), intake=intake, reason="wrong", **same | changes)


def test_a_harvest_comes_from_a_block():
    with refused(Refused("not-a-block", field="source")):
        make_lots(12, source=Source.objects.get(name="Orchard"))


def test_a_delivery_comes_from_a_supplier():
    with refused(Refused("not-a-supplier", field="source")):
        make_cases(18, source=Source.objects.get(name="Bed 3"))


def test_a_refused_harvest_leaves_no_new_block_behind():
    new = Source(kind="block", name="Tunnel 2")
    with refused(Refused("crate-count", field="crates", most=200)):
        bring_in_harvest(
            act(), crop=builders.crop("collards"), source=new, quantities=[], unit="bunch"
        )


def test_a_harvest_can_not_be_corrected_into_a_delivery():
    intake = make_lot(12).intake
    with refused(Refused("other-kind-of-source", field="source")):
        correct(intake, source=Source.objects.get(name="Orchard"))


def test_the_crop_of_crates_mixed_with_others_can_not_be_changed():
    one, other = make_lot(5), make_lot(7)
    combine_lots(act(), lots=[one.pk, other.pk])
    with refused(Conflict("already-mixed", field="crop")):
        correct(one.intake, crop=builders.crop("collards"))
    correct(one.intake, cut_at=NOW - timedelta(hours=3))


def test_an_intake_that_was_undone_has_nothing_to_correct():
    intake = make_lot(12).intake
    undo(act(), action=intake.action)
    with refused(Conflict("intake-undone")):
        correct(intake, crop=builders.crop("collards"))


def test_a_correction_changes_something():
    lot = make_lot(12)
    with refused(Refused("nothing-changed")):
        correct(lot.intake)
    correct(lot.intake, crop=builders.crop("collards"))
    assert Lot.objects.get(pk=lot.pk).crop.reference_key == "collards"


HOUR = timedelta(hours=1)


def waiting(*quantities, at=NOW) -> list[Lot]:
    """Crates of a harvest to be put away, of which nobody said when it was cut."""
    return make_lots(*quantities, at=at, position=None, cut_ago=None)


def put_away(*lots, at=NOW, **changes) -> Action:
    return put_away_lots(act(at), lots=[lot.pk for lot in lots], position=place("B2"), **changes)


def told(lot: Lot):
    return Intake.objects.get(lots=lot).cut_at


def test_a_cut_told_when_crates_are_put_away_is_written_as_a_correction_of_the_whole_harvest():
    first, second = waiting(12, 12)
    action = put_away(first, at=NOW + HOUR, cut_ago=2 * HOUR)
    assert told(first) == NOW - HOUR
    entries = action.movements.values_list("lot_id", "kind")
    assert sorted(entries) == sorted(
        [(first.pk, "moved"), (first.pk, "corrected"), (second.pk, "corrected")]
    )
    detail = action.movements.filter(kind="corrected").first().detail
    assert detail["before"]["cut_at"] is None
    assert detail["after"]["cut_at"] == (NOW - HOUR).isoformat()
    life = one_crate(second.pk, act().farm, NOW).life
    assert (life.time_given, life.harvested_at) == (True, NOW - HOUR)


def test_a_cut_told_at_putting_away_is_undone_with_it():
    first, second = waiting(12, 12)
    action = put_away(first, second, at=NOW + HOUR, cut_ago=2 * HOUR)
    undo(act(NOW + HOUR), action=action)
    assert told(first) is None
    states = Lot.objects.filter(pk__in=[first.pk, second.pk]).values_list("state", flat=True)
    assert set(states) == {"to put away"}
    assert not one_crate(first.pk, act().farm, NOW).life.time_given


def test_crates_are_put_away_without_a_word_on_the_cut():
    (lot,) = waiting(12)
    action = put_away(lot)
    assert [entry.kind for entry in action.movements.all()] == ["moved"]
    assert told(lot) is None


def test_a_cut_said_before_is_not_said_again_by_putting_away():
    lot = make_lot(position=None, cut_ago=3 * HOUR)
    put_away(lot, cut_ago=HOUR)
    assert told(lot) == NOW - 3 * HOUR


def test_nothing_is_cut_after_it_came_in():
    """Half an hour before it was put away, an hour after it had come in."""
    (lot,) = waiting(12)
    with refused(Refused("cut-after-arrival", field="cut_ago")):
        put_away(lot, at=NOW + HOUR, cut_ago=HOUR / 2)
    put_away(lot, at=NOW + HOUR, cut_ago=HOUR)
    assert told(lot) == NOW


def test_a_cut_is_told_as_of_when_the_crates_were_put_away():
    (lot,) = waiting(12)
    made = act(NOW + 5 * HOUR, told_at=NOW + HOUR)
    put_away_lots(made, lots=[lot.pk], position=place("B2"), cut_ago=2 * HOUR)
    assert told(lot) == NOW - HOUR


def over(*shelves: tuple[str, list[Lot]], at=NOW, **changes) -> Action:
    named = [(place(name), [lot.pk for lot in lots]) for name, lots in shelves]
    return put_away_over(act(at), shelves=named, **changes)


def test_a_batch_over_two_places_is_one_action_in_the_order_it_came_and_one_undo():
    lots = waiting(*range(1, 13))
    action = over(("B2", lots[:8]), ("A2", lots[8:]))
    entries = list(action.movements.order_by("number"))
    assert [entry.number for entry in entries] == list(range(1, 13))
    assert [(entry.lot_id, entry.position) for entry in entries] == [
        (lot.pk, place("B2" if number < 8 else "A2")) for number, lot in enumerate(lots)
    ]
    undo(act(NOW), action=action)
    assert set(Lot.objects.values_list("state", "position")) == {("to put away", None)}


def test_a_batch_over_two_places_tells_the_cut_and_takes_it_back():
    lots = waiting(12, 12)
    action = over(("B2", lots[:1]), ("A2", lots[1:]), at=NOW + HOUR, cut_ago=2 * HOUR)
    assert told(lots[0]) == NOW - HOUR
    undo(act(NOW + HOUR), action=action)
    assert told(lots[0]) is None


def test_one_crate_of_a_batch_that_is_gone_stops_them_all():
    here, gone = waiting(12, 12)
    take(gone, "all")
    with refused(Conflict("not-here", code=gone.pk, state="out")):
        over(("B2", [here]), ("A2", [gone]))
    with refused(Refused("no-crates", field="lots")):
        over()


@pytest.fixture
def phone(client):
    sign_in(client)
    return client


def test_no_answer_about_the_cut_is_chosen_for_anyone(phone):
    page = phone.get(f"/in/harvest/{builders.crop().pk}")
    asked = page.context["form"]["cut_ago"]
    assert str(asked.field.label) in page.content.decode()
    assert "checked" not in str(asked)
    source = Source.objects.get(name="Bed 3").pk
    typed = {"crates": "1", "quantity": "12", "unit": "bunch", "source": source}
    for answer in ("", "unknown"):
        data = typed | {"entry": uuid4(), "cut_ago": answer}
        assert phone.post(f"/in/harvest/{builders.crop().pk}", data).status_code == 302
    assert list(Intake.objects.values_list("cut_at", flat=True)) == [None, None]
    page = phone.get(f"/in/harvest/{builders.crop().pk}")
    assert "checked" not in str(page.context["form"]["cut_ago"])


def test_putting_away_asks_for_the_cut_once_more_where_nobody_told_it(phone):
    (lot,) = waiting(12, at=timezone.now() - HOUR)
    asked = phone.get("/put-away").context["form"]["cut_ago"]
    assert "checked" not in str(asked)
    data = {"entry": uuid4(), "lots": [lot.pk], "position": place("B2").pk}
    late = phone.post("/put-away", data | {"cut_ago": "0.5"})
    assert late.status_code == 422
    assert "cut_ago" in late.context["form"].errors
    assert (told(lot), Lot.objects.get(pk=lot.pk).state) == (None, "to put away")
    for _ in range(2):
        assert phone.post("/put-away", data | {"cut_ago": "2"}).status_code == 302
    cut = told(lot)
    assert timedelta(minutes=119) < timezone.now() - cut < timedelta(minutes=121)
    assert Action.objects.filter(movements__kind="corrected").distinct().count() == 1


def test_not_known_is_an_answer_when_crates_are_put_away(phone):
    (lot,) = waiting(12, at=timezone.now())
    data = {"entry": uuid4(), "lots": [lot.pk], "position": place("B2").pk, "cut_ago": "unknown"}
    assert phone.post("/put-away", data).status_code == 302
    assert (told(lot), Lot.objects.get(pk=lot.pk).state) == (None, "in place")


@pytest.mark.parametrize(
    "crates",
    [
        lambda now: [make_lot(at=now, position=None)],
        lambda now: make_cases(18, at=now, position=None),
        lambda now: [*waiting(12, at=now), *waiting(12, at=now)],
    ],
    ids=["told", "bought", "of two harvests"],
)
def test_putting_away_asks_for_no_cut_of_what_is_told_bought_or_of_two_harvests(phone, crates):
    crates(timezone.now())
    assert "cut_ago" not in phone.get("/put-away").context["form"].fields


def test_a_move_by_its_own_page_says_nothing_of_the_cut():
    (lot,) = waiting(12)
    move_lots(act(), lots=[lot.pk], position=place("B2"))
    assert told(lot) is None


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


USE_BY = {"best_before": NOW.date() - timedelta(days=1), "best_before_kind": "use by"}
LATER = NOW.date() + timedelta(days=30)


@pytest.mark.parametrize(
    "moved",
    [
        {"best_before": LATER, "best_before_kind": "use by"},
        {"best_before": USE_BY["best_before"], "best_before_kind": "best before"},
        {"best_before": None, "best_before_kind": ""},
    ],
)
def test_a_use_by_date_is_moved_only_with_a_reason_and_then_binds_no_more(moved):
    case = make_cases(18, **USE_BY)[0]
    with refused(Refused("date-reason", field="reason")):
        correct_by(case.intake, reason="", **moved)
    correct_by(case.intake, reason="misread", **moved)
    entry = Movement.objects.get(kind="corrected")
    assert (entry.note, entry.detail["before"]["best_before"]) == ("misread", "2026-06-09")
    assert one_crate(case.pk, act().farm, NOW).verdict.worklist != "discard"
    undo(act(), action=entry.action)
    assert one_crate(case.pk, act().farm, NOW).verdict.why == "past-use-by"


def test_another_correction_and_another_kind_of_date_need_no_reason():
    case = make_cases(18, **USE_BY)[0]
    correct_by(case.intake, reason="", variety="Russet", **USE_BY)
    quality = {"best_before": LATER, "best_before_kind": "sell by"}
    other = make_cases(18, **quality)[0]
    correct_by(other.intake, reason="", **quality | {"best_before": NOW.date()})
    assert Movement.objects.filter(kind="corrected").count() == 2


def correct_by(intake, **changes):
    return correct_intake(act(), intake=intake, crop=intake.crop, source=intake.source, **changes)

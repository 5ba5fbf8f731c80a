"""What goes with a delivery, and how long it keeps with its buyer."""

import json
from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import bring_back
from inventory.actions.reshape import combine_lots
from inventory.keeping import rate
from inventory.models import Crop, Lot, Order, Take
from inventory.queries.crates import one_crate
from inventory.queries.slips import (
    COUNTER_C,
    Keeps,
    keeps_there,
    lot_codes,
    read_slip,
    to_hand_over,
)
from tests.builders import NOW, act, crop, fresh, make_cases, make_lot, make_lots
from tests.deliveries import got, handed, kitchen
from tests.keeping.test_life import q10_crop

TODAY = NOW.date()


def crate_of(farm, key="kale", days: int | None = None, **changes):
    """A crate cut and cooled this moment, of a crop of so many days at its best."""
    Crop.objects.filter(reference_key=key).update(keeping_days=days)
    lot = make_lot(key=key, **changes)
    found = one_crate(lot.pk, farm, NOW)
    assert found is not None
    return found


def test_what_stands_out_of_the_cold_in_a_kitchen_ages_as_published():
    """PUBLISHED_CHECKS.md p6: 70 °F (21.11 °C), FDA Food Code 3-501.19; rate by the Q10 of USDA
    Handbook 66, page 69, Table 2."""
    out = rate(q10_crop(), COUNTER_C)
    assert out == pytest.approx(8.100, rel=0.005)
    assert out * 4 / 24 == pytest.approx(1.350, rel=0.005)
    assert out * 6 / 24 == pytest.approx(2.025, rel=0.005)


@pytest.mark.parametrize(
    ("fridge", "ages", "keeps"),
    [("4.4", 1.622, 6.17), ("5.2", 1.771, 5.65), ("6.6", 2.065, 4.84), ("9.3", 2.778, 3.60)],
)
def test_ten_days_at_0_are_fewer_in_kitchens_as_they_were_measured(farm, fridge, ages, keeps):
    """PUBLISHED_CHECKS.md p8. Means of fridges: 4.4 °C Bristol (Evans et al., IIR 2014), 6.6 °C
    France (Laguerre et al., Int. J. Refrig. 25, 2002), 9.3 °C Serbia (Int. J. Consumer Stud.
    2015), and 5.2 °C between them, computed; days from the Q10 of USDA Handbook 66, page 69,
    Table 2."""
    assert rate(q10_crop(), float(fridge)) == pytest.approx(ages, rel=0.005)
    assert 10 / rate(q10_crop(), float(fridge)) == pytest.approx(keeps, rel=0.005)
    crate = crate_of(farm, days=10)
    found = keeps_there(crate, TODAY, kitchen(fridge_c=Decimal(fridge)))
    assert found == Keeps(int(keeps), 1.0, float(fridge))


def test_a_fridge_nobody_knows_is_reckoned_at_the_food_codes_limit(farm):
    """FDA Food Code 3-501.16(A)(2): 5 °C (41 °F)."""
    crate = crate_of(farm, days=10)
    found = keeps_there(crate, TODAY, kitchen())
    assert found.high_c == 5
    assert found == keeps_there(crate, TODAY, kitchen("Inn", fridge_c=Decimal(5)))


def test_hours_without_cold_on_the_way_cost_days_there(farm):
    crate = crate_of(farm, days=10)
    near, far = kitchen("Near"), kitchen("Far", way_hours=Decimal(8))
    assert keeps_there(crate, TODAY, far).days < keeps_there(crate, TODAY, near).days


def test_what_is_handed_over_days_later_waits_in_the_room_until_then(farm):
    crate = crate_of(farm, days=10)
    now, later = (keeps_there(crate, TODAY + timedelta(days=n), kitchen(f"K{n}")) for n in (0, 4))
    assert 0 < later.days < now.days


def test_what_would_not_last_until_then_keeps_no_days(farm):
    crate = crate_of(farm, days=10)
    assert keeps_there(crate, TODAY + timedelta(days=60), kitchen()).days == 0


def test_what_cold_hurts_has_its_own_degrees_the_counter_and_its_days_in_a_fridge(farm):
    """Basil at 5 °C: 3 days to injury (Lange and Cameron, HortScience 29, 1994, in crops.csv)."""
    crate = crate_of(farm, key="basil", pulp_c=Decimal(15))
    found = keeps_there(crate, TODAY, kitchen())
    assert (found.low_c, found.high_c, found.hurt_by_cold) == (12, 15, True)
    assert found.days == 7
    assert 0 < found.counter < found.days
    assert found.fridge == 3


def test_no_days_in_a_fridge_are_made_up_where_nobody_published_them(farm):
    crate = crate_of(farm, key="mango", pulp_c=Decimal(12))
    assert keeps_there(crate, TODAY, kitchen()).fridge is None


def test_a_fridge_warm_enough_is_a_fridge_like_any(farm):
    crate = crate_of(farm, key="basil", pulp_c=Decimal(15))
    found = keeps_there(crate, TODAY, kitchen(fridge_c=Decimal(12)))
    assert (found.hurt_by_cold, found.low_c, found.high_c) == (False, 12, 12)


def test_what_came_back_before_does_not_go_on_the_slip(farm):
    first, second = make_lots(12, 12)
    order = got(kitchen(), (first, 12), (second, 12))
    bring_back(act(), lot=first.pk, quantity=Decimal(5))
    left = {one.take.lot_id: one.quantity for one in to_hand_over(Order.objects.get(pk=order))}
    assert left == {first.pk: 7, second.pk: 12}
    assert {one.quantity for one in to_hand_over(Order.objects.get(pk=order)) if one.whole} == {
        7,
        12,
    }


def test_the_slip_says_it_as_it_was_when_it_was_handed_over(farm):
    lot = make_lot(12)
    made = handed(got(kitchen(), (lot, 12)))
    said = json.loads(json.dumps(made.paper))
    Crop.objects.filter(pk=crop().pk).update(keeping_days=3)
    slip = read_slip(1)
    assert slip is not None
    assert slip.handover.paper == said
    (line,) = slip.lines
    assert (line.code, line.quantity, line.unit) == (lot.pk, 12, "bunch")
    assert (line.day, line.kind) == (date(2026, 6, 10), "cut")
    assert line.lot_codes == (fresh(lot).intake.lot_code,)
    assert line.keeps.days > 3


def test_a_part_ages_on_in_a_kitchen_not_with_what_stays_in_the_room(farm):
    """It is reckoned as of when it was taken, though its crate stands on in the room."""
    lot = make_lot(12)
    early = handed(got(kitchen("Early"), (lot, 3)))
    order = got(kitchen("Late"), (lot, 3))
    late = handed(order, at=NOW + timedelta(days=3))
    assert early.paper["lines"][0]["keeps"]["days"] > late.paper["lines"][0]["keeps"]["days"]


def test_a_case_nobody_dated_says_when_it_came_in(farm):
    case = make_cases(18)[0]
    handed(got(kitchen(), (case, 18)))
    slip = read_slip(1)
    assert slip is not None
    assert slip.lines[0].kind == "in"


def test_a_mixed_crate_names_all_its_lot_codes(farm):
    first, second = make_lot(6), make_lot(6)
    combine_lots(act(), lots=[first.pk, second.pk], position=None)
    mixed = Lot.objects.get(parents=first)
    own = {fresh(lot).intake.lot_code for lot in (first, second)}
    assert len(own) == 2
    assert lot_codes(mixed) == sorted(own)
    assert not Take.objects.exists()


def test_no_slip_has_that_number(farm):
    assert read_slip(1) is None

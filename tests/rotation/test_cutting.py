"""What is to be cut on which day, on which block, for what the plan will lack."""

import doctest
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation import cutting
from inventory.rotation.cutting import (
    Habit,
    Lack,
    Stand,
    crates_for,
    cut_list,
    last_cut_day,
    loss_of,
    sound_of,
    to_cut,
)

EVERY_DAY = range(14)
# Nine days on the day it is cut, one less each day.
KEEPS = tuple(range(9, -1, -1))


def lack(line="inn", quantity=10, due=3, **changes) -> Lack:
    return Lack(
        **{
            "line": line, "crop": "kale", "quantity": Decimal(quantity), "due": due,
            "keeps": KEEPS,
        } | changes
    )  # fmt: skip


def bed(quantity=100, block="Bed 3", **changes) -> Stand:
    return Stand(**{"block": block, "crop": "kale", "quantity": Decimal(quantity)} | changes)


def cuts(lacks, field=None, days=EVERY_DAY, crate=None, loss=Fraction(0), **changes):
    """Return (day, block, quantity) of each cut of kale, counted unless told otherwise."""
    habits = {"kale": Habit(Decimal(crate) if crate else None, loss)}
    found = cut_list(lacks, [bed()] if field is None else field, days, habits, **changes)
    return [(cut.day, cut.block, cut.quantity) for cut in found.cuts]


def test_the_example():
    assert doctest.testmod(cutting, raise_on_error=True).attempted == 4


def test_greens_are_cut_the_day_before_they_are_due():
    """Common practice, no source: cut on Tuesday and cooled for Wednesday's kitchen."""
    assert cuts([lack(due=3)]) == [(2, "Bed 3", 10)]


@pytest.mark.parametrize(
    ("due", "days", "cut_on"),
    [
        (3, [0, 2, 3], 2),
        (3, [0, 3], 0),
        (3, [3, 4], 3),  # there is no day before: that morning
        (0, [0, 2], 0),
        (3, [4, 5], None),
    ],
)
def test_the_last_harvest_day_before_it_is_due(due, days, cut_on):
    assert last_cut_day(due, days) == cut_on
    assert cuts([lack(due=due)], days=days) == ([] if cut_on is None else [(cut_on, "Bed 3", 10)])


@pytest.mark.parametrize(("minimum", "cut_on"), [(7, 2), (8, 4), (9, 4), (10, None)])
def test_what_would_not_keep_long_enough_is_cut_later_or_not_at_all(minimum, cut_on):
    """Cut on day 2 it keeps 7 days on day 4, cut that morning 9."""
    found = cuts([lack(due=4, minimum_days=minimum)], days=[0, 2, 4])
    assert found == ([] if cut_on is None else [(cut_on, "Bed 3", 10)])


def test_nothing_is_cut_of_which_nobody_knows_how_long_it_keeps():
    assert cuts([lack(due=3, keeps=KEEPS[:1])], days=[0, 2]) == []
    assert cuts([lack(due=3, keeps=KEEPS[:2])], days=[0, 2]) == [(2, "Bed 3", 10)]


@pytest.mark.parametrize(
    ("changes", "cut_on"),
    [
        ({"from_day": 2}, 2),
        ({"from_day": 3}, 3),
        ({"from_day": 4}, None),
        ({"not_before": 3}, 3),
        ({"not_before": 4}, None),
        ({"until": 2}, 2),
        ({"until": 1}, 1),
    ],
)
def test_a_block_is_cut_from_its_day_on_and_for_as_long_as_the_walk_speaks_of_it(changes, cut_on):
    found = cuts([lack(due=3)], [bed(**changes)])
    assert found == ([] if cut_on is None else [(cut_on, "Bed 3", 10)])


def test_no_more_is_cut_than_the_walk_said_and_what_lacks_is_said():
    found = cut_list([lack(quantity=60)], [bed(48)], EVERY_DAY, {"kale": Habit()})
    assert [cut.quantity for cut in found.cuts] == [48]
    assert found.lacking == {"inn": 12}


def test_of_another_crop_nothing_is_cut():
    found = cut_list([lack()], [bed(crop="beet")], EVERY_DAY, {"kale": Habit(), "beet": Habit()})
    assert (found.cuts, found.lacking) == ((), {"inn": 10})


def test_lines_are_served_as_the_plan_serves_them():
    """Firm ones within 14 days, wishes, later firm ones; by day, then by when they were said."""
    lines = [
        lack("later", due=15, keeps=[9] * 20),
        lack("wish", due=2, firm=False),
        lack("late", due=14, keeps=[9] * 20),
        lack("second", due=3, said=2),
        lack("first", due=3, said=1),
    ]
    served = []
    for amount in (10, 20, 30, 40, 50):
        found = cut_list(lines, [bed(amount, until=20)], range(20), {"kale": Habit()})
        served += [line for line in dict.fromkeys(lack.line for lack in lines)
                   if line not in found.lacking and line not in served]  # fmt: skip
    assert served == ["first", "second", "late", "wish", "later"]


def test_a_buyer_who_refuses_a_block_gets_of_another_and_it_is_kept_for_him():
    own = frozenset({"not-organic"})
    field = [bed(10, "Organic"), bed(10, "Other", tags=own)]
    picky = lack("picky", due=4, refused=own)
    assert cuts([lack("any", due=3)], field) == [(2, "Other", 10)]
    assert cuts([lack("any", due=3), picky], field) == [(2, "Other", 10), (3, "Organic", 10)]
    assert cuts([picky], [field[1]]) == []


def test_a_block_that_can_be_cut_later_goes_before_one_that_can_not():
    field = [bed(10, "A", until=1), bed(10, "B")]
    assert cuts([lack(quantity=3, due=3)], field) == [(2, "B", 3)]
    assert cuts([lack(quantity=13, due=3)], field) == [(1, "A", 3), (2, "B", 10)]


def test_what_is_ready_first_is_cut_first_and_one_block_after_the_other():
    field = [bed(8, "A", from_day=2), bed(8, "B", from_day=1)]
    assert cuts([lack(quantity=10, due=5)], field) == [(4, "A", 2), (4, "B", 8)]


@pytest.mark.parametrize(
    ("quantities", "crate", "expected"),
    [
        ((10, 10), 10, [(2, 10), (4, 10)]),
        ((10, 9), 10, [(2, 19)]),  # less than a crate on the later day
        ((9, 10), 10, [(2, 9), (4, 10)]),
        ((10, 9), None, [(2, 10), (4, 9)]),  # nobody knows what a crate holds
    ],
)
def test_a_day_with_less_than_a_crate_is_cut_with_the_day_before(quantities, crate, expected):
    first, second = quantities
    lines = [lack("a", first, due=3), lack("b", second, due=5)]
    found = cuts(lines, crate=crate)
    assert [(day, amount) for day, _block, amount in found] == expected


def test_three_small_days_become_one_from_late_to_early():
    lines = [lack(name, 4, due=due) for name, due in (("a", 2), ("b", 3), ("c", 4))]
    assert cuts(lines, crate=20) == [(1, "Bed 3", 12)]
    # Two of them fill a crate: the first day stays.
    assert cuts(lines, crate=8) == [(1, "Bed 3", 4), (2, "Bed 3", 8)]


def test_no_day_is_merged_where_a_line_or_the_block_would_not_hold():
    early = lack("a", 10, due=3)
    assert cuts([early, lack("b", 5, due=5, minimum_days=6)], crate=10) == [(2, "Bed 3", 15)]
    held = [(2, "Bed 3", 10), (4, "Bed 3", 5)]
    assert cuts([early, lack("b", 5, due=5, minimum_days=7)], crate=10) == held
    field = [bed(10, "A"), bed(5, "B", from_day=3)]
    assert cuts([early, lack("b", 5, due=5)], field, crate=10) == [(2, "A", 10), (4, "B", 5)]


def test_no_day_is_merged_where_one_of_its_lines_would_not_hold():
    lines = [lack("a", 10, due=3), lack("b", 2, due=5), lack("c", 3, due=5, minimum_days=7)]
    assert cuts(lines, crate=10) == [(2, "Bed 3", 10), (4, "Bed 3", 5)]


def test_less_than_a_crate_of_a_crop_cut_on_one_day_only_stays_there():
    assert cuts([lack(quantity=3)], crate=20) == [(2, "Bed 3", 3)]


def test_what_is_cut_is_raised_by_the_crops_own_loss():
    assert cuts([lack(quantity=60)], loss=Fraction(6, 66)) == [(2, "Bed 3", 66)]
    # Never beyond what the block gives: of 60 cut, 54 are sound.
    found = cut_list(
        [lack(quantity=60)], [bed(60)], EVERY_DAY, {"kale": Habit(None, Fraction(1, 11))}
    )
    (cut,) = found.cuts
    assert (cut.quantity, cut.sound, found.lacking) == (60, 54, {"inn": 6})


def test_rounding_up_on_several_days_asks_for_no_more_than_there_is():
    """A third is lost: for 1 sound 1.5 are cut, so 2; of 5 the last day has 1 left."""
    lines = [lack(name, 1, due=due) for name, due in (("a", 2), ("b", 4), ("c", 6))]
    found = cuts(lines, [bed(5)], loss=Fraction(1, 3))
    assert [amount for _day, _block, amount in found] == [2, 2, 1]


def test_two_lines_of_a_day_are_raised_together():
    loss = Fraction(1, 11)
    assert cuts([lack("a", 5), lack("b", 5)], loss=loss) == [(2, "Bed 3", 11)]


def test_the_loss_is_what_was_lost_of_what_was_brought_in_up_to_half():
    assert loss_of(Decimal(6), Decimal(66)) == Fraction(1, 11)
    assert loss_of(Decimal(60), Decimal(66)) == Fraction(1, 2)
    assert loss_of(Decimal(0), Decimal(66)) == loss_of(Decimal(-1), Decimal(66)) == 0
    assert loss_of(Decimal(1), Decimal(0)) == 0
    assert loss_of(Decimal("0.1"), Decimal(1)) == Fraction(1, 10)


def test_of_weights_what_is_sound_has_three_decimals():
    assert sound_of(Decimal("10.25"), Habit(whole=False)) == Decimal("10.25")
    assert sound_of(Decimal("10.25"), Habit(loss=Fraction(1, 3), whole=False)) == Decimal("6.833")
    assert sound_of(Decimal(10), Habit(loss=Fraction(1, 3))) == 6


def test_carrots_with_their_tops_cut_for_carrots_without():
    """Open Washington, Business and bakery math, chapter 25: of carrots 82 % without tops, 60 %
    with; so 10 kg without need 13.67 kg with them. Within 0.5 %, and up to the next tenth."""
    habit = Habit(loss=1 - Fraction(60, 82), whole=False)
    assert float(to_cut(Decimal(10), habit)) == pytest.approx(13.67, abs=0.1)
    assert float(to_cut(Decimal(1000), habit)) == pytest.approx(1366.7, rel=0.005)
    assert to_cut(Decimal(10), habit) == Decimal("13.7")
    assert float(sound_of(Decimal(1000), habit)) == pytest.approx(732, rel=0.005)


def test_what_is_usable_of_zucchini():
    """The same chapter: of 3 lb zucchini 95 %, so 2.85 lb, can be used."""
    assert sound_of(Decimal(3), Habit(loss=Fraction(5, 100), whole=False)) == Decimal("2.85")


def test_collards_in_boxes():
    """SARE, Northeast Crop Production and Harvest Manual: 15 bunches a box, 120 fill 8."""
    assert crates_for(Decimal(120), Decimal(15)) == 8
    assert crates_for(Decimal(121), Decimal(15)) == 9
    assert crates_for(Decimal(121), None) is None


def test_a_day_beyond_the_most_crates_is_said():
    habits = {"kale": Habit(Decimal(10))}
    lines = [lack("a", 30, due=3), lack("b", 31, due=5)]
    field = [bed(200)]
    assert cut_list(lines, field, EVERY_DAY, habits, most_crates=3).too_much == (4,)
    assert cut_list(lines, field, EVERY_DAY, habits, most_crates=4).too_much == ()
    assert cut_list(lines, field, EVERY_DAY, habits).too_much == ()


def test_of_a_crop_whose_crates_nobody_knows_no_crates_are_counted():
    lines = [lack("a", 40), lack("b", 5, crop="beet")]
    field, habits = [bed(100), bed(100, crop="beet")], {"kale": Habit(Decimal(10)), "beet": Habit()}
    assert cut_list(lines, field, EVERY_DAY, habits, most_crates=3).too_much == (2,)
    assert cut_list(lines, field, EVERY_DAY, habits, most_crates=4).too_much == ()


@pytest.mark.parametrize(("keeps", "cut"), [(0, True), (-1, False)])
def test_who_needs_no_days_gets_what_lasts_until_it_gets_there(keeps, cut):
    assert cuts([lack(quantity=1, due=0, keeps=(keeps,))]) == ([(0, "Bed 3", 1)] if cut else [])


@pytest.mark.parametrize("first", [{}, {"said": 0}])
def test_of_what_is_alike_the_name_decides(first):
    second = {} if first else {"said": 0}
    lines = [lack("b", 10, **second), lack("a", 10, **first)]
    assert cut_list(lines, [bed(10)], EVERY_DAY, {"kale": Habit()}).lacking == {"b": 10}
    from_day = {"from_day": 0} if first else {}
    field = [bed(10, "B"), bed(10, "A", **from_day)]
    assert cuts([lack()], field) == [(2, "A", 10)]


amounts = st.integers(1, 60).map(Decimal)
lacks_of = st.lists(
    st.builds(
        Lack,
        line=st.uuids().map(str),
        crop=st.sampled_from(["kale", "beet"]),
        quantity=amounts,
        due=st.integers(0, 9),
        keeps=st.integers(0, 9).map(lambda days: tuple(range(days, -1, -1))),
        minimum_days=st.integers(0, 6),
        refused=st.sampled_from([frozenset(), frozenset({"not-organic"})]),
        firm=st.booleans(),
    ),
    max_size=8,
)
fields = st.lists(
    st.builds(
        Stand,
        block=st.sampled_from("ABC"),
        crop=st.sampled_from(["kale", "beet"]),
        quantity=amounts,
        from_day=st.integers(0, 5),
        until=st.integers(3, 9),
        not_before=st.integers(0, 4),
        tags=st.sampled_from([frozenset(), frozenset({"not-organic"})]),
    ),
    max_size=6,
    unique_by=lambda stand: (stand.block, stand.crop),
)
days_of = st.sets(st.integers(0, 9))
losses = st.fractions(0, Fraction(1, 2), max_denominator=20)
crates_of = st.one_of(st.none(), amounts)


@given(lacks_of, fields, days_of, losses, crates_of, crates_of)
def test_whatever_lacks_every_cut_holds_and_nothing_is_cut_twice(
    lacks, field, days, loss, kale_crate, beet_crate
):
    habits = {"kale": Habit(kale_crate, loss), "beet": Habit(beet_crate, loss)}
    found = cut_list(lacks, field, days, habits)
    by_line = {each.line: each for each in lacks}
    stands = {(each.crop, each.block): each for each in field}
    got = dict.fromkeys(by_line, Decimal(0))
    cut_of = dict.fromkeys(stands, Decimal(0))
    for cut in found.cuts:
        stand = stands[cut.crop, cut.block]
        cut_of[cut.crop, cut.block] += cut.quantity
        assert cut.day in days
        assert max(stand.from_day, stand.not_before) <= cut.day <= stand.until
        assert cut.sound == sum(amount for _line, amount in cut.lines)
        assert 0 <= to_cut(cut.sound, habits[cut.crop]) - cut.quantity < 1 + len(days)
        for line, amount in cut.lines:
            wants = by_line[line]
            got[line] += amount
            assert wants.crop == cut.crop
            assert not wants.refused & stand.tags
            assert wants.keeps[wants.due - cut.day] >= wants.minimum_days
    for key, amount in cut_of.items():
        assert amount <= stands[key].quantity
    for line, wants in by_line.items():
        assert got[line] + found.lacking.get(line, 0) == wants.quantity


@given(lacks_of, fields, days_of, st.randoms())
def test_the_order_of_what_is_given_never_matters(lacks, field, days, chance):
    habits = {"kale": Habit(Decimal(12)), "beet": Habit(Decimal(5))}
    found = cut_list(lacks, field, days, habits)
    chance.shuffle(lacks)
    chance.shuffle(field)
    again = cut_list(lacks, field, days, habits)
    assert (again.cuts, again.lacking) == (found.cuts, found.lacking)


@given(amounts, losses, st.booleans())
def test_what_is_cut_for_so_much_gives_it_and_no_step_less_would(sound, loss, whole):
    habit = Habit(None, loss, whole)
    cut = to_cut(sound, habit)
    step = Decimal(1) if whole else Decimal("0.1")
    assert sound_of(cut, habit) >= sound
    assert sound_of(cut - step, habit) < sound

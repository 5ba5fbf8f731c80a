"""What the sums of a market day say of its crates; common practice, no source."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation.stall import Share, deal, deal_out, in_crates


def backs(shares: list[Share]) -> list[int]:
    return [int(share.back) for share in shares]


def numbers(*figures: int) -> list[Decimal]:
    return [Decimal(figure) for figure in figures]


def test_the_crates_that_go_first_are_sold_and_what_is_back_is_in_the_last():
    shares = deal_out(numbers(12, 12, 12), *numbers(6, 1, 2))
    assert shares == [
        Share(*numbers(12, 0, 0, 0)), Share(*numbers(12, 0, 0, 0)), Share(*numbers(3, 1, 2, 6)),
    ]  # fmt: skip


def test_a_crate_nobody_touched_comes_back_whole():
    assert backs(deal_out(numbers(18, 18, 18), *numbers(27, 0, 0))) == [0, 9, 18]


def test_in_more_crates_than_it_fills_it_is_in_equal_parts_of_the_last():
    assert backs(deal_out(numbers(12, 12, 12), *numbers(7, 0, 0), crates=2)) == [0, 3, 4]
    assert backs(deal_out(numbers(12, 2, 12), *numbers(12, 0, 0), crates=3)) == [4, 2, 6]
    parts = deal_out(numbers(5, 5), *numbers(5, 0, 0), crates=2, whole=False)
    assert [share.back for share in parts] == [Decimal("2.5"), Decimal("2.5")]


def test_in_fewer_the_smallest_parts_were_put_together():
    assert in_crates(numbers(9, 3, 2), 2) == [[0], [1, 2]]
    assert in_crates(numbers(9, 3, 2), 1) == [[0, 1, 2]]
    assert in_crates(numbers(9, 3), 2) == [[0], [1]]
    assert in_crates([], 1) == []


def test_amounts_are_dealt_out_in_order():
    assert deal(numbers(3, 3), numbers(4, 2)) == [[3, 0], [1, 2]]


@given(
    st.lists(st.integers(1, 20), min_size=1, max_size=6),
    st.tuples(*[st.integers(0, 40)] * 3),
    st.one_of(st.none(), st.integers(1, 6)),
)
def test_whatever_was_said_each_crate_and_each_sum_is_used_up(loads, said, crates):
    total = sum(loads)
    back, given_away = min(said[0], total), min(said[1], total - min(said[0], total))
    lost = min(said[2], total - back - given_away)
    asked = (crates and min(crates, len(loads), back)) or None
    shares = deal_out(numbers(*loads), *numbers(back, given_away, lost), crates=asked)
    for load, share in zip(loads, shares, strict=True):
        assert share.sold + share.given + share.lost + share.back == load
        assert min(share.sold, share.given, share.lost, share.back) >= 0
    assert sum(share.back for share in shares) == back
    assert sum(share.given for share in shares) == given_away
    assert sum(share.lost for share in shares) == lost
    assert sum(share.back > 0 for share in shares) >= (asked or 0)

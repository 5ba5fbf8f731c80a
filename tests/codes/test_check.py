"""The check character against ISO/IEC 7064's published vectors and python-stdnum."""

import random
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from inventory.codes import (
    ALPHABET,
    InvalidCode,
    check_character,
    draw_code,
    is_tail,
    read_code,
)
from inventory.codes.check import LENGTH, TAIL_LENGTH, normalise

THIRTY_SIX = string.digits + string.ascii_uppercase
CODES = st.text(ALPHABET, min_size=6, max_size=6).map(lambda body: body + check_character(body))


@pytest.mark.parametrize(("text", "check"), [("A12425GABC1234002", "M")])
def test_the_standards_own_vector(text, check):
    """ISO/IEC 7064 MOD 37,36, the vector in python-stdnum's documentation (check g)."""
    assert check_character(text, THIRTY_SIX) == check


@given(st.text(ALPHABET, min_size=1, max_size=20))
def test_python_stdnum_agrees_with_our_alphabet(text):
    assert check_character(text) == mod_37_36.calc_check_digit(text, ALPHABET)


@given(st.text(THIRTY_SIX, min_size=1, max_size=20))
def test_python_stdnum_agrees_with_the_standards_alphabet(text):
    assert check_character(text, THIRTY_SIX) == mod_37_36.calc_check_digit(text)


@given(CODES, st.integers(0, 6), st.sampled_from(ALPHABET))
def test_every_single_wrong_character_is_refused(code, index, wrong):
    if code[index] == wrong:
        assert read_code(code) == code
        return
    with pytest.raises(InvalidCode):
        read_code(code[:index] + wrong + code[index + 1 :])


def test_nearly_all_neighbour_swaps_are_refused():
    """ISO/IEC 7064: all or nearly all; counted once over 350,000 swaps, 0.2 % slip through."""
    chance = random.Random(1)
    slipped = tried = 0
    for _ in range(20_000):
        code = draw_code(chance.choice)
        index = chance.randrange(6)
        swapped = code[:index] + code[index + 1] + code[index] + code[index + 2 :]
        if swapped != code:
            tried += 1
            slipped += check_character(swapped[:-1]) == swapped[-1]
    assert slipped / tried < 0.005


@given(CODES)
def test_case_spaces_and_look_alikes_do_not_matter(code):
    typed = f" {code[:3].lower()}-{code[3:]} ".replace("0", "o").replace("1", "l")
    assert read_code(typed) == code


@pytest.mark.parametrize(
    ("typed", "reason"),
    [("", "length"), ("ABC", "length"), ("🥬🥬🥬🥬🥬🥬🥬", "character"), ("U123456", "character"),
     ("A" * 5000, "length"), ("<script>", "length")],
)  # fmt: skip
def test_anything_else_is_refused_with_its_reason(typed, reason):
    with pytest.raises(InvalidCode) as refused:
        read_code(typed)
    assert refused.value.reason == reason


def test_a_drawn_code_is_one_of_ours():
    chance = random.Random(7)
    assert all(read_code(code) == code for code in (draw_code(chance.choice) for _ in range(500)))


def test_the_last_four_are_told_from_a_whole_code():
    assert is_tail("m9qx")
    assert not is_tail("7K3M9QX")
    assert not is_tail("M9Q")


def test_a_code_has_seven_characters_the_letters_that_look_like_digits_left_out():
    """Seven and four: ours. The letters: common practice, no source."""
    assert (LENGTH, TAIL_LENGTH) == (7, 4)
    assert len(set(ALPHABET)) == len(ALPHABET) == 32
    assert set(THIRTY_SIX) - set(ALPHABET) == set("ILOU")
    assert len(draw_code(random.Random(1).choice)) == 7


def test_look_alikes_spaces_and_dashes_as_they_are_read():
    assert normalise(" oil-7k 3m\t") == "0117K3M"
    assert is_tail("Oil 1")
    assert not is_tail("M9QXY")
    assert not is_tail("M9QU")


def test_a_refusal_says_what_was_typed_and_why():
    wrong = "7K3M9Q" + ("0" if check_character("7K3M9Q") != "0" else "1")
    for typed, reason in ((wrong, "check"), (wrong + "0", "length"), ("7K3M9UU", "character")):
        with pytest.raises(InvalidCode) as refused:
            read_code(typed)
        assert refused.value.reason == reason
    assert refused.value.typed == "7K3M9U"  # the part a check is worked out for
    assert str(refused.value) == "'7K3M9U': character"

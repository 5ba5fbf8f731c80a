"""The words of orders: common practice of the trade in two languages, no source."""

from fractions import Fraction

import pytest

from inventory import order_words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("6kg Rábanos", ["6", "kg", "rabanos"]),
        ("pak-choi: 12,5 lbs.", ["pak", "choi", "12,5", "lbs"]),
        ("1½ cs", ["1", "1/2", "cs"]),
        ("2 1/2 cs", ["2", "1/2", "cs"]),
        ("kale...5", ["kale", "5"]),
        ("kale .5", ["kale", ".5"]),
        ("3) 6 kg", ["6", "kg"]),
        ("3) kale", ["3", "kale"]),
        ("Bishop’s hat $3", ["bishop's", "hat", "$", "3"]),
    ],
)
def test_a_text_falls_into_folded_words(text, words):
    assert order_words.words_of(text) == words


@pytest.mark.parametrize(
    ("word", "number"),
    [("6", "6"), ("12,5", "12.5"), (".5", "0.5"), ("3/4", "3/4"), ("1/3", "1/3"), ("5/8", "5/8"),
     ("half", "1/2"), ("media", "1/2"), ("doce", "12"), ("twelve", "12"), ("0", "0")],
)  # fmt: skip
def test_a_number_is_exact(word, number):
    assert order_words.is_number(word)
    assert order_words.number_of(word) == Fraction(number)


@pytest.mark.parametrize(
    ("word", "reason"),
    [("1,500", "unclear"), ("1.2.3", "unclear"), ("11/26", "unclear"), ("5/10", "unclear"),
     ("2/2", "unclear"), ("2/4", "unclear"), ("1234567890", "big"), ("9" * 5000, "big")],
)  # fmt: skip
def test_a_number_that_may_mean_something_else_is_not_read(word, reason):
    with pytest.raises(order_words.NotRead) as refused:
        order_words.number_of(word)
    assert refused.value.reason == reason


def test_nine_digits_are_read():
    assert order_words.number_of("123456789") == 123_456_789


@pytest.mark.parametrize(
    ("many", "one"),
    [("tomatoes", "tomato"), ("radishes", "radish"), ("beets", "beet"), ("peas", "pea"),
     ("berries", "berry"), ("rabanos", "rabano"), ("coles", "col"), ("raices", "raiz"),
     ("betabeles", "betabel")],
)  # fmt: skip
def test_a_plural_holds_its_singular(many, one):
    assert one in order_words.singulars(many)


@pytest.mark.parametrize("word", ["gas", "mix", "col"])
def test_a_short_word_is_no_plural(word):
    assert order_words.singulars(word) == {word}


@pytest.mark.parametrize("slip", ["raddish", "radsh", "radosh", "rsdishes", "radihs"])
def test_a_slip_of_the_finger_shares_letters(slip):
    assert order_words.slips(slip) & order_words.slips("radish")


@pytest.mark.parametrize("other", ["relish", "kale", "rash"])
def test_two_slips_are_another_word(other):
    assert not order_words.slips(other) & order_words.slips("radish")


def test_a_short_word_has_no_slips():
    assert order_words.slips("col") == {"col"}


def test_a_very_long_word_is_not_taken_apart():
    assert order_words.slips("w" * 31) == {"w" * 31}
    assert order_words.slips("w" * 30) == {"w" * 30, "w" * 29}


def test_what_is_counted_or_measured_says_nothing_of_a_crop():
    said = filter(order_words.says_something, ["6", "kg", "doz", "please", "kale", "no"])
    assert list(said) == ["kale", "no"]


def test_words_that_stand_in_many_names_tell_none():
    said = filter(
        order_words.names_something, ["carrots", "w", "of", "bx", "qq", "with", "tops", "sin"]
    )
    assert list(said) == ["carrots", "tops"]

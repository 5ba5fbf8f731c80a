"""Orders as buyers write them. The abbreviations are common practice of the trade, no source."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import measures, order_words
from inventory.order_text import (
    MOST_LETTERS,
    Doubt,
    Known,
    ReadLine,
    read_order,
)

KALE, APPLE, RADISH, ROMAINE, LEAF, ENDIVE, CAMOTE = range(1, 8)
CROPS = (
    Known(KALE, ("Kale", "Col rizada (kale)"), "kg"),
    Known(APPLE, ("Apples", "Manzana"), "kg"),
    Known(RADISH, ("Radishes (bunched)", "Rábano"), "bunch"),
    Known(ROMAINE, ("Lettuce (romaine)", "Lechuga orejona"), "head"),
    Known(LEAF, ("Lettuce, leaf", "Lechuga de hoja"), "head"),
    Known(ENDIVE, ("Endive and escarole",), "head"),
    Known(CAMOTE, ("Sweet potatoes", "Camote", "Bishop's 12"), "kg"),
)


def read(text: str) -> list[tuple]:
    return [(line.quantity, line.unit, line.crop, line.doubts) for line in read_order(text, CROPS)]


def only(text: str) -> ReadLine:
    (line,) = read_order(text, CROPS)
    return line


def test_the_line_of_the_issue_is_exact():
    assert read_order("6 kg kale, 2 cs apples, 10 bu radish", CROPS) == [
        ReadLine("6 kg kale", Decimal(6), "kg", KALE),
        ReadLine("2 cs apples", Decimal(2), "case", APPLE),
        ReadLine("10 bu radish", Decimal(10), "bunch", RADISH),
    ]


def test_a_letter_with_greetings_comes_back_whole():
    text = "Hola Ana,\n6 kg de kale y 2 cajas de manzanas por favor\n\n- ½ cs Manzana\nGracias!"
    nothing = (None, None, None, (Doubt.NOT_AN_ORDER,))
    assert read(text) == [
        nothing,
        (6, "kg", KALE, ()),
        (2, "case", APPLE, ()),
        (Decimal("0.5"), "case", APPLE, ()),
        nothing,
    ]


@pytest.mark.parametrize(
    ("text", "quantity", "unit", "crop"),
    [
        ("6kg kale", 6, "kg", KALE),
        ("kale 6 kg", 6, "kg", KALE),
        ("kale: 6 kg", 6, "kg", KALE),
        ("kale, 6 kg", 6, "kg", KALE),
        ("kale,6,kg", 6, "kg", KALE),
        ("KALE\t6\tKILOS", 6, "kg", KALE),
        ("kale...6 kg", 6, "kg", KALE),
        ("6 kg x kale", 6, "kg", KALE),
        ("2) 6 kg kale", 6, "kg", KALE),
        ("- 6 kg kale", 6, "kg", KALE),
        ("6 kg col rizada", 6, "kg", KALE),
        ("6 kg kale (col rizada)", 6, "kg", KALE),
        ("12,5 kg kale", "12.5", "kg", KALE),
        ("0,125 kg kale", "0.125", "kg", KALE),
        ("500 g kale", "0.5", "kg", KALE),
        ("8 oz kale", "0.5", "lb", KALE),
        ("5# kale", 5, "lb", KALE),
        ("5 lbs. kale", 5, "lb", KALE),
        ("3 libras de kale", 3, "lb", KALE),
        ("medio kilo de kale", "0.5", "kg", KALE),
        ("1/2 kg kale", "0.5", "kg", KALE),
        ("kale 1/2 kg", "0.5", "kg", KALE),
        ("and 1/2 kg kale", "0.5", "kg", KALE),
        ("1 1/2 kg kale", "1.5", "kg", KALE),
        ("1½ kg kale", "1.5", "kg", KALE),
        ("dos y media cajas de manzana", "2.5", "case", APPLE),
        ("two and a half cases of apples", "2.5", "case", APPLE),
        ("half a case apples", "0.5", "case", APPLE),
        ("a case of apples", 1, "case", APPLE),
        ("una caja de manzanas", 1, "case", APPLE),
        ("2 doz apples", 24, "piece", APPLE),
        ("half dozen apples", 6, "piece", APPLE),
        ("1/3 dz apples", 4, "piece", APPLE),
        ("una docena de manzanas", 12, "piece", APPLE),
        ("dozen apples", 12, "piece", APPLE),
        ("2 dz bunches radish", 24, "bunch", RADISH),
        ("4 mjo rabano", 4, "bunch", RADISH),
        ("4 bch bunched radishes", 4, "bunch", RADISH),
        ("6 hd romaine lettuce", 6, "head", ROMAINE),
        ("6 cabezas de lechuga orejona", 6, "head", ROMAINE),
        ("6 pz lechuga de hoja", 6, "piece", LEAF),
        ("6 ea leaf lettuce", 6, "piece", LEAF),
        ("6 hd endive and escarole", 6, "head", ENDIVE),
        ("6 kg Bishop’s 12", 6, "kg", CAMOTE),
        ("we'd like 6 kg kale please", 6, "kg", KALE),
        ("6 kg kale, please", 6, "kg", KALE),
    ],
)
def test_what_is_exact_is_read_without_a_doubt(text, quantity, unit, crop):
    line = read_order(text, CROPS)[0]
    assert (line.quantity, line.unit, line.crop) == (Decimal(quantity), unit, crop)
    assert line.doubts == ()
    assert line.candidates == ()


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("6 kg kale;2 cs apples", ["6 kg kale", "2 cs apples"]),
        ("6 kg kale,2 cs apples", ["6 kg kale", "2 cs apples"]),
        ("6 kg kale and 2 cs apples", ["6 kg kale", "and 2 cs apples"]),
        ("6 kg kale y dos cajas de manzana", ["6 kg kale", "y dos cajas de manzana"]),
        ("6 kg kale y una caja de manzana", ["6 kg kale y una caja de manzana"]),
        ("6 kg kale and one case of apples", ["6 kg kale", "and one case of apples"]),
        ("6 kg kale / 2 cs apples", ["6 kg kale", "/ 2 cs apples"]),
        ("6 kg kale. 2 cs apples.", ["6 kg kale", "2 cs apples."]),
        ("• 6 kg kale • 2 cs apples", ["6 kg kale", "2 cs apples"]),
        ("kale, 6, apples, 2 cs", ["kale, 6", "apples, 2 cs"]),
        ("kale, apples", ["kale", "apples"]),
        ("6 kg kale, 2 cs", ["6 kg kale", "2 cs"]),
        ("6 kg, kale", ["6 kg", "kale"]),
        ("6 kg, kale, 4 cs, apples", ["6 kg", "kale", "4 cs", "apples"]),
        ("6 kg, apples\nkale, 4 cs", ["6 kg", "apples", "kale, 4 cs"]),
        ("kale,,6 kg", ["kale,,6 kg"]),
        ("Hola, 6 kg", ["Hola", "6 kg"]),
        ("kale, doz, doz", ["kale, doz", "doz"]),
        ("kale\n6 kg", ["kale", "6 kg"]),
        ("kale\n,6 kg", ["kale", "6 kg"]),
        (",6 kg kale", ["6 kg kale"]),
        ("endive and escarole", ["endive and escarole"]),
        ("2 and 1/2 kg kale", ["2 and 1/2 kg kale"]),
        (" \n;, ,", []),
    ],
)
def test_where_one_line_ends(text, lines):
    assert [line.text for line in read_order(text, CROPS)] == lines


@pytest.mark.parametrize(
    ("text", "quantity", "unit", "doubts"),
    [
        ("kale", None, "kg", {Doubt.NO_QUANTITY, Doubt.NO_UNIT}),
        ("kg kale", None, "kg", {Doubt.NO_QUANTITY}),
        ("6 kale", 6, "kg", {Doubt.NO_UNIT}),
        ("6 x kale", 6, "kg", {Doubt.NO_UNIT}),
        ("1,500 kg kale", None, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("1.2.3 kg kale", None, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("1/3 kg kale", None, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("11/26 kg kale", None, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("1.2345 kg kale", None, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("5 oz kale", None, "lb", {Doubt.QUANTITY_UNCLEAR}),
        ("kilo y medio de kale", None, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("-6 kg kale", 6, "kg", {Doubt.QUANTITY_UNCLEAR}),
        ("0 kg kale", 0, "kg", {Doubt.QUANTITY_ZERO}),
        ("1000000 kg kale", 1_000_000, "kg", set()),
        ("1000001 kg kale", 1_000_001, "kg", {Doubt.QUANTITY_BIG}),
        ("1000000000 kg kale", None, "kg", {Doubt.QUANTITY_BIG}),
        ("6-8 kg kale", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("2 cases and a half kale", None, "case", {Doubt.SEVERAL_QUANTITIES}),
        ("2 1.5 kg kale", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("2 0,5 kg kale", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("1.5 1/2 kg kale", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("1,500 1/2 kg kale", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("2 and 6 kg kale", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("6 half cases kale", None, "case", {Doubt.SEVERAL_QUANTITIES}),
        ("6 kg kale 1/2", None, "kg", {Doubt.SEVERAL_QUANTITIES}),
        ("6 kg 8 lb kale", None, None, {Doubt.SEVERAL_QUANTITIES, Doubt.SEVERAL_UNITS}),
        ("6 kg lb kale", 6, None, {Doubt.SEVERAL_UNITS}),
        ("6 kg g kale", 6, None, {Doubt.SEVERAL_UNITS}),
        ("10 bu kale", 10, None, {Doubt.BUNCH_OR_BUSHEL}),
        ("3 bushels kale", 3, None, {Doubt.UNIT_UNKNOWN}),
        ("3 bolsas de kale", 3, None, {Doubt.UNIT_UNKNOWN}),
        ("1.5 bn kale", "1.5", "bunch", {Doubt.NOT_WHOLE}),
        ("6 kg red kale", 6, "kg", {Doubt.OTHER_WORDS}),
        ("about 6 kg kale", 6, "kg", {Doubt.OTHER_WORDS}),
        ("~6 kg kale", 6, "kg", {Doubt.OTHER_WORDS}),
        ("no 6 kg kale", 6, "kg", {Doubt.OTHER_WORDS}),
        ("6 kg kale $3", None, "kg", {Doubt.SEVERAL_QUANTITIES, Doubt.OTHER_WORDS}),
        ("# 6 kg kale", 6, "kg", {Doubt.OTHER_WORDS}),
        ("# kale 6", 6, "kg", {Doubt.NO_UNIT, Doubt.OTHER_WORDS}),
        ("no kale", None, "kg", {Doubt.NO_QUANTITY, Doubt.NO_UNIT, Doubt.OTHER_WORDS}),
    ],
)
def test_what_is_not_exact_of_a_known_crop_is_doubted(text, quantity, unit, doubts):
    line = only(text)
    assert line.crop == KALE
    assert line.quantity == (None if quantity is None else Decimal(quantity))
    assert line.unit == unit
    assert set(line.doubts) == doubts


@pytest.mark.parametrize("text", ["2 dz radish", "2 docenas de rábanos"])
def test_a_dozen_of_what_is_sold_by_the_bunch_is_asked_about(text):
    line = only(text)
    assert (line.quantity, line.unit, line.doubts) == (24, "bunch", (Doubt.DOZEN_OF_WHAT,))


def test_doubts_are_told_in_their_order():
    doubts = only("kale apples").doubts
    assert doubts == (Doubt.SEVERAL_CROPS, Doubt.NO_QUANTITY, Doubt.NO_UNIT)


def test_two_dozens_are_no_quantity():
    assert only("dozen dozen apples").doubts == (Doubt.SEVERAL_QUANTITIES,)


@pytest.mark.parametrize(
    ("text", "crop", "doubt", "candidates"),
    [
        ("6 kg okra", None, Doubt.NO_CROP, ()),
        ("6 hd lettuce", None, Doubt.SEVERAL_CROPS, (ROMAINE, LEAF)),
        ("6 hd lettuce red leafs", None, Doubt.SEVERAL_CROPS, (LEAF, ROMAINE)),
        ("6 kg kale apples", None, Doubt.SEVERAL_CROPS, (KALE, APPLE)),
        ("6 kg kael", KALE, Doubt.CROP_NOT_EXACT, (KALE,)),
        ("6 kg swet potatos", CAMOTE, Doubt.CROP_NOT_EXACT, (CAMOTE,)),
        ("6 kg red raddish", None, Doubt.CROP_NOT_EXACT, (RADISH,)),
        ("6 kg sweet corn", None, Doubt.CROP_NOT_EXACT, (CAMOTE,)),
        ("6 hd escarole", None, Doubt.CROP_NOT_EXACT, (ENDIVE,)),
        ("6 hd romaine", None, Doubt.CROP_NOT_EXACT, (ROMAINE,)),
        ("6 kg sweet escarole", None, Doubt.SEVERAL_CROPS, (ENDIVE, CAMOTE)),
        ("6 kg sweet kale", KALE, Doubt.OTHER_WORDS, (KALE, CAMOTE)),
    ],
)
def test_a_crop_that_is_not_exact_comes_with_its_candidates(text, crop, doubt, candidates):
    line = only(text)
    assert line.crop == crop
    assert doubt in line.doubts
    assert line.candidates == candidates


def test_a_name_with_all_its_words_goes_before_one_with_words_left_out():
    crops = [Known(1, ("Tomatoes",), "kg"), Known(2, ("Tomatoes (cherry)",), "kg")]
    assert [(line.crop, line.doubts) for line in read_order("6 kg tomato", crops)] == [(1, ())]
    crops.append(Known(3, ("Cherry tomatoes (yellow)",), "kg"))
    assert [(line.crop, line.doubts) for line in read_order("6 kg cherry tomato", crops)] == [
        (2, ())
    ]


def test_the_second_part_of_a_name_is_all_of_it():
    crops = [Known(1, ("Carrots (bunched, with tops (green))",), "bunch")]
    text = (
        "6 bn carrots bunched with tops green, 6 bn bunched with tops green carrots, 6 bn carrots"
    )
    assert [line.doubts for line in read_order(text, crops)] == [(), (), ()]


def test_a_unit_is_no_slip_of_a_crop():
    (line,) = read_order("6 bunch okra", [Known(1, ("Bunchy",), "kg")])
    assert (line.crop, line.candidates, line.doubts) == (None, (), (Doubt.NO_CROP,))


def test_the_longest_name_is_meant():
    crops = [Known(1, ("Cherry",), "kg"), Known(2, ("Cherry tomatoes",), "kg")]
    assert read_order("6 kg cherry tomatoes", crops)[0].crop == 2
    assert read_order("6 kg cherries", crops)[0].crop == 1


def test_two_crops_of_one_name_are_asked_about():
    crops = [Known(1, ("Beets",), "kg"), Known(2, ("beet",), "bunch")]
    (line,) = read_order("6 bu beets", crops)
    assert (line.crop, line.candidates) == (None, (1, 2))
    assert line.doubts == (Doubt.SEVERAL_CROPS, Doubt.BUNCH_OR_BUSHEL)


def test_there_are_only_so_many_candidates():
    crops = [Known(key, (f"Greens {letter}",), "kg") for key, letter in enumerate("abcdefgh")]
    (line,) = read_order("6 kg greens q", crops)
    assert line.candidates == (0, 1, 2, 3, 4, 5)


def test_a_name_of_nothing_but_numbers_and_units_names_no_crop():
    assert read_order("6 kg", [Known(1, ("6", "kg", "", "(x)"), "kg")])[0].crop is None


def test_what_is_past_the_most_lines_is_told_as_not_read():
    lines = read_order("6 kg kale\n" * 202, CROPS)
    assert [line.doubts for line in lines] == [()] * 200 + [(Doubt.NOT_READ,)]
    assert lines[-1].text == "6 kg kale\n6 kg kale"


def test_what_is_past_the_most_letters_is_told_as_not_read():
    lines = read_order("6 kg kale\n2 cs apples\n" + "x" * 5000, CROPS)
    assert [line.doubts for line in lines] == [(), (), (Doubt.NOT_READ,)]
    assert lines[2].text == "x" * 5000


def test_the_most_letters_are_read_and_one_more_is_not():
    assert only("kale".ljust(4996) + "6 kg").doubts == ()
    longer = "kale".ljust(4997) + "6 kg"
    assert only(longer) == ReadLine(longer, doubts=(Doubt.NOT_READ,))


def test_a_number_is_not_cut_in_two_at_the_most_letters():
    """A comma that is the last letter looked at may be a decimal one."""
    start = "6 kg kale\n"
    last = "kale".ljust(MOST_LETTERS - len(start) - 2) + "1,5 kg"
    assert [line.text for line in read_order(start + last, CROPS)] == ["6 kg kale", last]


def letters_of(text: str) -> str:
    return "".join(letter for letter in text if letter.isalnum())


PARTS = st.sampled_from(
    ["kale", "apples", "lettuce", "sweet", "6", "1/2", "½", "1,5", "1,500", "half", "doz", "kg",
     "bu", "#", "a", "y", "and", ",", ", ", ";", "\n", ". ", " ", "-", "x", "/", "hola", "•"]
)  # fmt: skip


@settings(max_examples=300)
@given(st.one_of(st.text(max_size=200), st.lists(PARTS, max_size=40).map(" ".join)))
def test_any_text_comes_back_whole_and_once(text):
    lines = read_order(text, CROPS)
    assert letters_of("".join(line.text for line in lines)) == letters_of(text)
    assert all(line.text and line.text == line.text.strip() for line in lines)
    for line in lines:
        if not line.doubts:
            assert line.quantity is not None
            assert line.unit in (*measures.WEIGHTS, *measures.COUNTS, "case")
            assert line.crop in range(KALE, CAMOTE + 1)


UNITS = [
    (word, unit)
    for word, (unit, share) in order_words.UNITS.items()
    if share == 1 and unit in (*measures.WEIGHTS, *measures.COUNTS, "case")
]
NAMES = [(name, crop.key) for crop in CROPS for name in crop.names if "," not in name]


@st.composite
def written_lines(draw) -> tuple[str, tuple]:
    """One line as a careful buyer writes it, and what it says."""
    word, unit = draw(st.sampled_from(UNITS))
    name, key = draw(st.sampled_from(NAMES))
    places = 0 if measures.is_count(unit) else 3
    quantity = draw(st.decimals(1, 100_000, places=places))
    number = measures.plain(quantity)
    if len(number.partition(".")[2]) != 3 and draw(st.booleans()):
        number = number.replace(".", ",")
    amount = f"{number}{draw(st.sampled_from(['', ' ']))}{word}"
    text = draw(st.sampled_from([f"{amount} {name}", f"{name} {amount}", f"{name}, {amount}"]))
    text = draw(st.sampled_from([str.upper, str.lower, str]))(text)
    return text, (quantity, unit, key, ())


@given(st.lists(written_lines(), max_size=8), st.sampled_from(["\n", "; ", ", ", " • ", "\r\n"]))
def test_what_is_written_with_care_reads_back_the_same(lines, between):
    assert read(between.join(text for text, _ in lines)) == [said for _, said in lines]

"""The words orders are written in: units, numbers, plurals, in English and Spanish. Pure.

Common practice of the trade, no source. What stands here is read without asking; every other
word is asked about.
"""

import re
import unicodedata
from fractions import Fraction
from functools import lru_cache

from inventory import measures

BUNCH_OR_BUSHEL = "bu"  # a bunch to a kitchen, a bushel to the trade
NO_UNIT_OF_OURS = ""
MOST_DIGITS = 9
LONGEST_WORD = 30

# Each unit's words. What stands for no unit of the crates is known as a unit all the same.
_UNIT_WORDS = {
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramo kilogramos",
    "lb": "lb lbs pound pounds libra libras",
    "bunch": "bunch bunches bn bns bch bchs bnch manojo manojos mjo mjos atado atados",
    "head": "head heads hd hds cabeza cabezas",
    "piece": "ea each pc pcs piece pieces ct pz pzs pza pzas pieza piezas unidad unidades",
    "case": "cs case cases caja cajas box boxes bx ctn carton cartons crate crates",
    BUNCH_OR_BUSHEL: "bu",
    NO_UNIT_OF_OURS: (
        "bushel bushels pint pints pt pts quart quarts qt gallon gallons gal galon galones "
        "bag bags bolsa bolsas sack sacks saco sacos costal costales flat flats tray trays "
        "charola charolas tote totes lug lugs litro litros"
    ),
}
# 1 lb = 16 oz (NIST SP 811, app. B.8).
_SMALL_WORDS = {
    ("kg", Fraction(1, 1000)): "g gr gram grams gramo gramos",
    ("lb", Fraction(1, 16)): "oz ounce ounces onza onzas",
}
UNITS = {
    **{word: (unit, Fraction(1)) for unit, words in _UNIT_WORDS.items() for word in words.split()},
    **{word: unit for unit, words in _SMALL_WORDS.items() for word in words.split()},
}
POUND_SIGN = "#"  # after a number: 5# is five pounds
DOZENS = frozenset({"doz", "dz", "dzn", "dozen", "dozens", "docena", "docenas"})

ONES = frozenset({"a", "an", "un", "una"})
_HALVES = frozenset({"half", "medio", "media"})
_NUMBER_WORDS = (
    "one two three four five six seven eight nine ten eleven twelve",
    "uno dos tres cuatro cinco seis siete ocho nueve diez once doce",
)
NUMBERS = {
    **{word: Fraction(1, 2) for word in _HALVES},
    **{
        word: Fraction(number)
        for words in _NUMBER_WORDS
        for number, word in enumerate(words.split(), start=1)
    },
}
# The only fractions of a slash: "5/10" may be a day.
_FRACTIONS = {
    f"{part}/{whole}": Fraction(part, whole)
    for whole in (2, 3, 4, 8)
    for part in range(1, whole)
    if Fraction(part, whole).denominator == whole
}
_SIGNED = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8",
    "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
FRACTION_SIGNS = "".join(_SIGNED)

AND = frozenset({"and", "y"})
# Words that change nothing in what is ordered; "no", "about" and "or" do.
_FILLER_WORDS = (
    "please pls plz we i we'd i'd we'll i'll need want would like can could you send get us me "
    "order hi hello thanks thank also and of the x ×",
    "por favor quiero queremos necesito necesitamos me nos puedes manda mande hola gracias "
    "tambien y de del el la los las",
)
FILLERS = ONES.union(*(words.split() for words in _FILLER_WORDS))
# Words that stand in many names and tell none.
_LINKS = frozenset({"with", "for", "in", "to", "not", "without", "con", "en", "para", "sin", "no"})
_MARKS = frozenset("-–—−:.()[]*!?¡¿\"'’…=_>,")

# "3) 6 kg kale" is the third line of a list.
_LIST_NUMBER = re.compile(r"^\s*[0-9]{1,3}\)(?=\s.*[0-9])", re.DOTALL)
_TOKEN = re.compile(
    rf"[0-9]+(?:/[0-9]+)+|[0-9]+(?:[.,][0-9]+)*|(?<!\S)\.[0-9]+|[{FRACTION_SIGNS}]"
    r"|[^\W\d_]+(?:['’][^\W\d_]+)*|\S"
)


class NotRead(ValueError):
    """A number that says nothing for certain. `reason`: "unclear" or "big"."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


def fold(text: str) -> str:
    """Return a text without case and accents: "Rábano" → "rabano"."""
    plain = unicodedata.normalize("NFKD", text.casefold().replace("’", "'"))
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


def words_of(text: str) -> list[str]:
    """Return a text's words and numbers, folded: "6kg" → 6, kg. Marks that say nothing are gone."""
    tokens = _TOKEN.findall(_LIST_NUMBER.sub("", text))
    return [_SIGNED.get(token) or fold(token) for token in tokens if token not in _MARKS]


def is_number(word: str) -> bool:
    return word in NUMBERS or word[:1] in set("0123456789.")


def is_fraction(word: str) -> bool:
    return "/" in word or word in _HALVES


def number_of(word: str) -> Fraction:
    """Return what a word that is_number says, exactly: "1/2", "half", "12,5". Raises NotRead."""
    known = NUMBERS.get(word) or _FRACTIONS.get(word)
    if known:
        return known
    if sum(letter.isdigit() for letter in word) > MOST_DIGITS:
        raise NotRead("big")
    try:
        return Fraction(measures.read_decimal(word))
    except measures.NotANumber as error:
        raise NotRead("unclear") from error


def says_something(word: str) -> bool:
    """Whether a word may name a crop: no number, no unit and nothing that changes nothing."""
    return not (is_number(word) or word in UNITS or word in DOZENS or word in FILLERS)


def names_something(word: str) -> bool:
    """Whether crops that share this word may be taken for each other."""
    return len(word) > 2 and word not in _LINKS and says_something(word)


@lru_cache(maxsize=4096)
def singulars(word: str) -> frozenset[str]:
    """Return the word and what it may be one of: "tomatoes" → tomatoes, tomatoe, tomato."""
    found = {word}
    for ending, instead, shortest in (
        ("s", "", 4),
        ("es", "", 5),
        ("ies", "y", 5),
        ("ces", "z", 5),
    ):
        if len(word) >= shortest and word.endswith(ending):
            found.add(word.removesuffix(ending) + instead)
    return frozenset(found)


@lru_cache(maxsize=4096)
def slips(word: str) -> frozenset[str]:
    """Return what a word shares with every word that is one slip of the finger away."""
    if not 4 <= len(word) <= LONGEST_WORD:
        return singulars(word)
    return frozenset(
        letters
        for one in singulars(word)
        for letters in (one, *(one[:at] + one[at + 1 :] for at in range(len(one))))
    )

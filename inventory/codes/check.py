"""The check character of ISO/IEC 7064's hybrid systems, and the farm's code alphabet.

Crew type codes with wet gloves from a smeared label, so the alphabet leaves out the letters
that look like digits, and every single wrong character is refused. U is left out so that no
code spells a word by accident (the usual reason for leaving it out, from memory).
"""

from collections.abc import Callable

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 7
TAIL_LENGTH = 4
_LOOKS_LIKE = str.maketrans({"O": "0", "I": "1", "L": "1", " ": None, "-": None})


class InvalidCode(ValueError):
    """What was typed is no code of ours. `reason`: "length", "character" or "check"."""

    def __init__(self, typed: str, reason: str):
        super().__init__(f"{typed!r}: {reason}")
        self.typed = typed
        self.reason = reason


def check_character(text: str, alphabet: str = ALPHABET) -> str:
    """Return the check character of a text.

    alphabet: M different characters; 36 give the standard's MOD 37,36 system.
    Formula: P(1) = M; S = (P + value) mod M, read as M when 0; P(next) = 2 S mod (M + 1);
    the check value c is the one for which (P + c) mod M = 1.
    Raises InvalidCode for a character outside the alphabet.
    Example: check_character("A12425GABC1234002", digits and A-Z) → "M"
    Source: ISO/IEC 7064:2003, hybrid systems; recursion from memory, held to published vectors
    in the tests.
    """
    modulus = len(alphabet)
    product = modulus
    for character in text:
        value = alphabet.find(character)
        if value < 0:
            raise InvalidCode(text, "character")
        total = (product + value) % modulus or modulus
        product = 2 * total % (modulus + 1)
    return alphabet[(1 - product) % modulus]


def normalise(typed: str) -> str:
    """Return what was typed in capitals, without spaces or dashes, look-alikes made digits."""
    return typed.strip().upper().translate(_LOOKS_LIKE)


def read_code(typed: str) -> str:
    """Return the code that was typed or scanned. Raises InvalidCode when it is not one of ours."""
    code = normalise(typed)
    if len(code) != LENGTH:
        raise InvalidCode(typed, "length")
    if check_character(code[:-1]) != code[-1]:
        raise InvalidCode(typed, "check")
    return code


def is_tail(typed: str) -> bool:
    """Return whether this could be the last four characters of a code."""
    tail = normalise(typed)
    return len(tail) == TAIL_LENGTH and all(character in ALPHABET for character in tail)


def draw_code(choose: Callable[[str], str]) -> str:
    """Return a new code. choose picks one character of a text, as secrets.choice does."""
    body = "".join(choose(ALPHABET) for _ in range(LENGTH - 1))
    return body + check_character(body)

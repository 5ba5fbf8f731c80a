"""What a scanner that types meant, on a phone whose keyboard is set to another language.

Such a scanner presses the keys of a keyboard of the United States, and the phone makes of each
key what stands on it in its own language: "HTTP://" comes out as "HTTPÑ--" on a Spanish one.

Layouts from memory, of ISO/IEC 9995's family: DIN 2137-1 (German), AFNOR's and Apple's AZERTY
(French), the usual ones of Spain, Latin America and Italy; found the same in X.Org's
xkeyboard-config 2.35.
"""

from string import ascii_uppercase, digits

# By layout: a character as the scanner means it, and what comes out for it, where that differs.
_DIFFERENT = {
    "Spanish": {":": "Ñ", "/": "-", "?": "_", "-": "'", "=": "¡¿", "]": "+"},
    "Italian": {":": "Ç", "/": "-", "?": "_", "-": "'", "=": "Ì", "]": "+"},
    "German": {
        ":": "Ö", "/": "-", "?": "_", "-": "ßẞ", "=": "´", "]": "+", "Y": "Z", "Z": "Y",
    },
    "French": {
        **dict(zip("1234567890", "&é\"'(-è_çà", strict=True)),
        "A": "Q", "Q": "A", "Z": "W", "W": "Z", "M": ",?",
        ":": "M", "/": "!", "?": "§", ".": ":", "-": ")", "=": "=", "]": "$",
    },
    "French, Apple": {
        **dict(zip("1234567890", "&é\"'(§è!çà", strict=True)),
        "A": "Q", "Q": "A", "Z": "W", "W": "Z", "M": ",?",
        ":": "M", "/": "=", "?": "+", ".": ":", "-": ")", "=": "-", "]": "$",
    },
}  # fmt: skip
# All that an address, a code, what may follow it and a symbology identifier are written with.
_MEANT = digits + ascii_uppercase + ":/.-?=]"
# What Apple's phones make of straight marks while one types (from memory).
_STRAIGHT = str.maketrans({"—": "--", "‘": "'", "’": "'", "“": '"', "”": '"'})


def _meant_by(different: dict[str, str]) -> dict[str, str]:
    """Return what each character that can come out stands for; small and capital letters alike."""
    return {
        cased: meant
        for meant in _MEANT
        for out in different.get(meant, meant)
        for cased in (out, out.lower(), *_capital(out))
    }


def _capital(out: str) -> str:
    return out.upper() if len(out.upper()) == 1 else ""


_LAYOUTS = {name: _meant_by(different) for name, different in _DIFFERENT.items()}


def meanings(typed: str) -> list[str]:
    """Return what a typed text means in capitals, once for each layout that can have made it.

    Example: meanings("HTTPÑ--FARM") → ["HTTP://FARM"], for only the Spanish one has an Ñ
    """
    straight = typed.translate(_STRAIGHT)
    return [
        "".join(keys[character] for character in straight)
        for keys in _LAYOUTS.values()
        if keys.keys() >= set(straight)
    ]

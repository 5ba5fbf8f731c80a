"""What comes out of a scanner on another language's keyboard, from the rows of each keyboard.

The rows are written here once more, and otherwise than in the module: whole, as keyboards have
them. From memory, of ISO/IEC 9995's family: DIN 2137-1, AFNOR's and Apple's AZERTY, the
usual ones of Spain, Latin America and Italy; compared with X.Org's xkeyboard-config 2.35.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.codes import ALPHABET
from inventory.codes.keyboards import meanings
from inventory.codes.scanned import read_address
from tests.codes.test_check import CODES

# The 44 keys of characters from "1" to the last before the shift key, without and with it.
US = "1234567890-=qwertyuiop[]asdfghjkl;'zxcvbnm,./!@#$%^&*()_+QWERTYUIOP{}ASDFGHJKL:\"ZXCVBNM<>?"
ROWS = {
    "Spain": (
        "1234567890'¡qwertyuiop`+asdfghjklñ´zxcvbnm,.-"
        '!"·$%&/()=?¿QWERTYUIOP^*ASDFGHJKLÑ¨ZXCVBNM;:_'
    ),
    "Latin America": (
        "1234567890'¿qwertyuiop´+asdfghjklñ{zxcvbnm,.-"
        '!"#$%&/()=?¡QWERTYUIOP¨*ASDFGHJKLÑ[ZXCVBNM;:_'
    ),
    "Italy": (
        "1234567890'ìqwertyuiopè+asdfghjklòàzxcvbnm,.-"
        '!"£$%&/()=?^QWERTYUIOPé*ASDFGHJKLç°ZXCVBNM;:_'
    ),
    "Germany": (
        '1234567890ß´qwertzuiopü+asdfghjklöäyxcvbnm,.-!"§$%&/()=?`QWERTZUIOPÜ*ASDFGHJKLÖÄYXCVBNM;:_'
    ),
    "France": (
        "&é\"'(-è_çà)=azertyuiop^$qsdfghjklmùwxcvbn,;:!"
        "1234567890°+AZERTYUIOP¨£QSDFGHJKLM%WXCVBN?./§"
    ),
    "France, Apple": (
        "&é\"'(§è!çà)-azertyuiop^$qsdfghjklmùwxcvbn,;:="
        "1234567890°_AZERTYUIOP¨*QSDFGHJKLM%WXCVBN?./+"
    ),
}
HOSTS = st.from_regex(r"[a-z]([a-z0-9-]{0,14}[a-z0-9])?(\.[a-z]{2,6}){0,2}", fullmatch=True)
PORTS = st.sampled_from(["", ":8000", ":8108", ":8443", ":65432", ":7", ":1966"])
CASES = [str.upper, str.lower]


def typed(text: str, layout: str) -> str:
    """Return what a phone of that layout shows when a scanner types a text."""
    return text.translate(str.maketrans(US, ROWS[layout]))


def locked(text: str) -> str:
    """Return the letters of a text as they come out when the phone's capitals are locked."""
    return "".join(c if len(c.swapcase()) > 1 else c.swapcase() for c in text)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("layout", ROWS)
def test_every_character_of_a_code_comes_back_from_every_layout(layout, case):
    for character in ALPHABET:
        text = case(f"HTTP://FARM.LOCAL:8108/L/{character}")
        shown = typed(text, layout)
        assert shown != text
        for seen in (shown, locked(shown)):
            assert [meant for meant in meanings(seen) if "://" in meant] == [text.upper()]


@pytest.mark.parametrize("layout", ROWS)
def test_all_that_an_address_may_hold_comes_back(layout):
    text = "]Q1HTTPS://AN-OLD.FARM-4.LOCAL:1234567890/P/ZYXWVMQA/?X=1"
    assert text in meanings(typed(text, layout))


@pytest.mark.parametrize("text", ["HTTP://FARM.LOCAL:8108/L/7K3M9QX", "HTTPÅ--FARM", "HTTPÑ!!FARM"])
def test_a_layout_that_is_not_told_means_nothing(text):
    assert meanings(text) == []


def test_straight_marks_come_back_that_a_phone_has_bent():
    assert meanings("HTTPÑ—AN’OLD.FARM") == ["HTTP://AN-OLD.FARM"]


@given(CODES, HOSTS, HOSTS, PORTS, st.sampled_from("LP"), st.sampled_from(list(ROWS)), st.data())
def test_a_label_typed_through_any_layout_is_that_label(
    code, host, other, port, kind, layout, data
):
    """Never another crate's; and of another farm none at all."""
    case = data.draw(st.sampled_from(CASES))
    before = data.draw(st.sampled_from(["", "]Q1"]))
    after = data.draw(st.sampled_from(["", "/", "?x=1", "/?x=1"]))
    text = typed(before + case(f"http://{host}{port}/{kind}/{code}") + after, layout)
    assert read_address(text, {other, host}) == read_address(locked(text), {host}) == (kind, code)
    assert read_address(text, {f"x{host}", f"{host}x"}) is None

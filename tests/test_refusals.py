"""Every refusal that can be raised has its sentence in both languages, and is provoked."""

import ast
from datetime import date
from decimal import Decimal

from django.utils import translation

from inventory.errors import Refused
from inventory.models import Lot
from inventory.models.crops import Unit
from inventory.words.refusals import _SENTENCES, sentence
from tests import builders
from tests.our_code import calls, reasons, texts

# What a fact may be, by its name.
FACTS = {
    "code": ["K7M2Q4X"],
    "day": [date(2026, 6, 10)],
    "days": [60],
    "left": [Decimal("2.500")],
    "lot": ["H3N8R5T"],
    "most": [200, Decimal(1000)],
    "number": [7],
    "outlet": ["Market"],
    "racks": [12],
    "reason": ["sprayed", ""],
    "seconds": [8],
    "shelves": [12],
    "state": Lot.State.values,
    "tag": ["bought-in", "not-organic", "was-out"],
    "total": [Decimal(60)],
    "unit": Unit.values,
}


def codes_of(call: ast.Call) -> set[str]:
    """Return the codes one raising place may give; those of files are told by the reason."""
    if ast.unparse(call.args[0]) == "f'file-{error.reason}'":
        return {f"file-{reason}" for reason in reasons("NotALog")}
    return texts(call.args[0])


def raised() -> list[tuple[str, frozenset[str]]]:
    """Return (code, names of its facts) of every raising place."""
    return sorted(
        (code, frozenset(str(keyword.arg) for keyword in call.keywords) - {"field"})
        for call in calls("Refused", "Conflict")
        for code in codes_of(call)
    )


def test_every_code_has_its_sentence_and_no_sentence_is_left_over():
    codes = {code for code, _ in raised()}
    assert len(codes) > 50
    assert set(_SENTENCES) == codes


def test_each_sentence_is_said_in_both_languages(farm):
    action = builders.make_lot().intake.action
    rows = {"blocker": [action], "later": [action.movements.get()]}
    for code, facts in sorted(set(raised()), key=str):
        possible = {name: (FACTS | rows)[name] for name in facts}
        for index in range(max(map(len, possible.values()), default=1)):
            chosen = {name: some[index % len(some)] for name, some in possible.items()}
            said = {}
            for language in ("en", "es"):
                with translation.override(language):
                    said[language] = sentence(Refused(code, **chosen))
                assert "%(" not in said[language], code
            assert said["en"] != said["es"], code


def test_each_code_is_provoked_by_a_test():
    """Named where a refusal is awaited; the same word elsewhere may be a field or a state."""
    awaited = calls("Refused", "Conflict", "refusal", "raises", "parametrize", folder="tests")
    named = {
        node.value for call in awaited for node in ast.walk(call) if isinstance(node, ast.Constant)
    }
    assert sorted({code for code, _ in raised()} - named) == []

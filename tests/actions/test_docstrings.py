"""An action says in its docstring which refusals it raises, those of its helpers too."""

import ast

import pytest

from tests.our_code import texts, trees

MODULES = {
    file.stem: {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    for file, tree in trees("inventory/actions").items()
}


def calls_in(function: ast.FunctionDef, *names: str) -> list[ast.Call]:
    found = [node for node in ast.walk(function) if isinstance(node, ast.Call)]
    return [call for call in found if isinstance(call.func, ast.Name) and call.func.id in names]


RAISED = sorted(
    (module, name, code)
    for module, functions in MODULES.items()
    for name, function in functions.items()
    for call in calls_in(function, "Refused", "Conflict")
    if not isinstance(call.args[0], ast.JoinedStr)  # a file's, told by its reason
    for code in texts(call.args[0])
)


def is_told(module: str, name: str, code: str) -> bool:
    """Return whether the function names the code, or all that call it do if it is private."""
    functions = MODULES[module]
    if f'"{code}"' in (ast.get_docstring(functions[name]) or ""):
        return True
    callers = [other for other, function in functions.items() if calls_in(function, name)]
    told = [is_told(module, caller, code) for caller in callers]
    return name.startswith("_") and told != [] and all(told)


@pytest.mark.parametrize(("module", "name", "code"), RAISED)
def test_each_refusal_stands_in_the_docstring(module, name, code):
    assert is_told(module, name, code)


def test_the_refusals_are_found():
    assert len(RAISED) > 40

"""Our own source as a syntax tree, for tests that hold what is said to what can happen."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


@cache
def trees(folder: str) -> dict[Path, ast.Module]:
    files = sorted((ROOT / folder).rglob("*.py"))
    return {file: ast.parse(file.read_text(encoding="utf-8")) for file in files}


@cache
def _calls(folder: str) -> dict[str, list[ast.Call]]:
    """Return every call in a folder, by the name of what is called."""
    found: dict[str, list[ast.Call]] = {}
    for tree in trees(folder).values():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                found.setdefault(name, []).append(node)
    return found


def calls(*names: str, folder: str = "inventory") -> Iterator[ast.Call]:
    """Yield every call in a folder of a function or class by one of these names."""
    for name in names:
        yield from _calls(folder).get(name, ())


def texts(node: ast.AST) -> set[str]:
    """Return the literal texts an expression may come to: "a", or "a" if … else "b"."""
    if isinstance(node, ast.IfExp):
        return texts(node.body) | texts(node.orelse)
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return {node.value}
    raise ValueError(f"line {node.lineno}: {ast.unparse(node)} is not written out")


def reasons(error: str) -> set[str]:
    """Return every reason an error is raised with; it is the last argument."""
    return set().union(*(texts(call.args[-1]) for call in calls(error)))


def returned(function: str) -> set[str]:
    """Return the texts a function of this name returns."""
    return {
        text
        for tree in trees("inventory").values()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and node.name == function
        for answer in ast.walk(node)
        if isinstance(answer, ast.Return)
        for text in texts(answer.value)
    }

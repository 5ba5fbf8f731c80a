"""What could stand in the place of a piece of code by a slip."""

import ast
import os
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.machinery import SourceFileLoader
from importlib.util import spec_from_loader
from pathlib import Path

OTHERS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.Mod: ast.Mult, ast.And: ast.Or, ast.Or: ast.And, ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}  # fmt: skip
OTHER_NAMES = {"min": "max", "max": "min", "any": "all", "all": "any",
               "bisect_left": "bisect_right", "bisect_right": "bisect_left"}  # fmt: skip
DUST = 1e-6  # smaller figures only keep rounding from mattering
# Words of a call that may be left out, and where no fault is put: types, messages, decorators.
OPTIONAL = {"key", "default", "reverse", "rounding", "compare"}
SKIPPED = {"annotation", "returns", "decorator_list", "exc", "cause", "msg"}


@dataclass
class Fault:
    """Another node at one place of a module's tree. function: where that is."""

    file: str
    tree: ast.Module
    function: str
    parent: ast.AST
    field: str
    index: int | None
    other: ast.AST

    def swap(self) -> None:
        """Put the other node in; or, the second time, take it out again."""
        held = getattr(self.parent, self.field)
        if self.index is None:
            setattr(self.parent, self.field, self.other)
            self.other = held
        else:
            held[self.index], self.other = self.other, held[self.index]

    def __str__(self) -> str:
        before = ast.unparse(self.parent)
        self.swap()
        after = ast.unparse(ast.fix_missing_locations(self.parent))
        self.swap()
        unlike = (n for n, pair in enumerate(zip(before, after, strict=False)) if len({*pair}) > 1)
        start = max(next(unlike, 0) - 30, 0)
        change = " → ".join(text[start : start + 70].strip() for text in (before, after))
        return f"{self.file} {self.function}: {change}"


def faults_in(root: Path, file: str) -> Iterator[Fault]:
    tree = ast.parse((root / file).read_text(encoding="utf-8"))
    waiting: list[tuple[ast.AST, str]] = [(tree, "")]
    while waiting:
        parent, function = waiting.pop()
        if isinstance(parent, ast.FunctionDef | ast.ClassDef):
            function = f"{function}.{parent.name}".strip(".")
        for field, index, node in places(parent):
            waiting.append((node, function))
            for other in others(node):
                yield Fault(file, tree, function, parent, field, index, other)


def places(parent: ast.AST) -> Iterator[tuple[str, int | None, ast.AST]]:
    for field, held in ast.iter_fields(parent):
        if field in SKIPPED or isinstance(parent, ast.JoinedStr):
            continue
        for index, node in enumerate(held) if isinstance(held, list) else [(None, held)]:
            if isinstance(node, ast.AST):
                yield field, index, node


def others(node: ast.AST) -> Iterator[ast.AST]:  # noqa: C901
    """Yield what could stand in a node's place by a slip."""
    match node:
        case ast.operator() | ast.cmpop() | ast.boolop() if type(node) in OTHERS:
            yield OTHERS[type(node)]()
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield from (ast.Constant(value + 1), ast.Constant(value - 1))
        case ast.Constant(value=float(value)) if value == 0 or abs(value) > DUST:
            yield from map(ast.Constant, {value * 2, value / 2} - {value} or {1.0})
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=inner):
            yield inner
        case ast.Name(id=name) if name in OTHER_NAMES:
            yield ast.Name(OTHER_NAMES[name], ast.Load())
        case ast.If(body=body, orelse=orelse):
            yield ast.If(ast.Constant(False), body, orelse)
        case ast.IfExp(body=body, orelse=orelse):
            yield from (body, orelse)
        case ast.Expr(value=ast.Call()):
            yield ast.Pass()
        case ast.Set(elts=[_, _, *_]) | ast.Tuple(elts=[ast.Constant() | ast.Starred(), _, *_]):
            for out in node.elts:
                yield type(node)([one for one in node.elts if one is not out])
        case ast.Call(func=func, args=args, keywords=[ast.keyword(arg=word)]) if word in OPTIONAL:
            yield ast.Call(func, args, [])
        case ast.comprehension(ifs=[_, *_]):
            yield ast.comprehension(node.target, node.iter, [], node.is_async)


class Loader(SourceFileLoader):
    """Hands out the faulty module; finds nothing else."""

    def __init__(self, fault: Fault):
        self.tree = fault.tree
        super().__init__(fault.file[:-3].replace("/", "."), os.path.abspath(fault.file))

    def find_spec(self, name: str, path=None, target=None):
        return spec_from_loader(name, self) if name == self.name else None

    def get_code(self, fullname: str):
        return compile(ast.fix_missing_locations(self.tree), self.path, "exec")

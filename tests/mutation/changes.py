"""The mutants of a folder: every place of its functions that can be changed, and what it becomes.

Comparisons, sums and products, `and`, `or`, `not`, conditions, `min` and `max`, truth values, small whole numbers and
the branches of a conditional expression. Numbers at the top of a module are left out: they set how much is searched,
which no test of results should notice. So are texts, annotations, defaults, `assert` and `raise`, and `strict` of
`zip`, which is an assertion too.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import NamedTuple

LARGEST_NUMBER = 10
COMPARED: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
COUNTED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.FloorDiv: ast.Mult, ast.Div: ast.Mult,
    ast.Mod: ast.FloorDiv,
}  # fmt: skip


class Mutant(NamedTuple):
    """One change: the `number`-th of a module (`folder/module.py`), within a function or method, and its words; of
    several alike in a function the `place`-th from 1."""

    module: str
    line: int
    number: int
    function: str
    change: str
    place: int = 1

    @property
    def name(self) -> str:
        """Without the line, so that it outlives changes elsewhere."""
        which = f" ({self.place})" if self.place > 1 else ""
        return f"{self.module} {self.function}: {self.change}{which}"


def _changes(node: ast.AST) -> Iterator[ast.expr]:
    """What an expression may become."""
    match node:
        case ast.Compare(ops=[op]):
            for other in COMPARED[type(op)]:
                yield ast.Compare(node.left, [other()], node.comparators)  # type: ignore[list-item]
        case ast.BinOp(op=op) if type(op) in COUNTED:
            yield ast.BinOp(node.left, COUNTED[type(op)](), node.right)  # type: ignore[arg-type]
            if isinstance(node.right, ast.Constant) and node.right.value == 1:
                yield node.left
        case ast.BoolOp(op=ast.And()):
            yield ast.BoolOp(ast.Or(), node.values)
        case ast.BoolOp(op=ast.Or()):
            yield ast.BoolOp(ast.And(), node.values)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.Call(func=ast.Name(id="min" | "max" as name)):
            yield ast.Call(ast.Name("max" if name == "min" else "min", ast.Load()), node.args, node.keywords)
            if len(node.args) > 1 and not isinstance(node.args[0], ast.Starred):
                yield node.args[0]
        case ast.Call(func=ast.Name(id="any" | "all" as name)):
            yield ast.Call(ast.Name("all" if name == "any" else "any", ast.Load()), node.args, node.keywords)
        case ast.IfExp() if not {type(node.body), type(node.orelse)} & {ast.JoinedStr}:
            yield ast.IfExp(node.test, node.orelse, node.body)
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() as value) if value <= LARGEST_NUMBER:
            yield ast.Constant(value + 1)
            yield ast.Constant(value - 1)


class _Changer(ast.NodeTransformer):
    """A module with its `wanted`-th place changed; None: only counted, in `mutants`."""

    def __init__(self, module: str, wanted: int | None = None) -> None:
        self.module, self.wanted = module, wanted
        self.mutants: list[Mutant] = []
        self._classes: list[str] = []
        self._function = ""
        self._alike: Counter[tuple[str, str]] = Counter()

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.AST:
        self._classes.append(node.name)
        node.body = [self.visit(statement) for statement in node.body]
        self._classes.pop()
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        """The body alone: neither defaults nor decorators nor annotations."""
        outermost = not self._function
        if outermost:
            self._function = ".".join((*self._classes, node.name))
        node.body = [self.visit(statement) for statement in node.body]
        if outermost:
            self._function = ""
        return node

    def visit_If(self, node: ast.If) -> ast.AST:
        return self._negated(node)

    def visit_While(self, node: ast.While) -> ast.AST:
        return self._negated(node)

    def _negated(self, node: ast.If | ast.While) -> ast.AST:
        """A condition that is no comparison and no `not`, which have changes of their own, the other way round."""
        plain = not isinstance(node.test, ast.Compare | ast.UnaryOp | ast.Constant)
        if plain and self._function and self._wanted(node.test, other := ast.UnaryOp(ast.Not(), node.test)):
            node.test = other
            return node
        return self.generic_visit(node)

    def visit_keyword(self, node: ast.keyword) -> ast.AST:
        return node if node.arg == "strict" else self.generic_visit(node)

    def visit_Assert(self, node: ast.Assert) -> ast.AST:
        return node

    def visit_Raise(self, node: ast.Raise) -> ast.AST:
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)
        return node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.AST:
        return node

    def visit(self, node: ast.AST) -> ast.AST:
        if self._function and isinstance(node, ast.expr):
            for other in _changes(node):
                if self._wanted(node, other):
                    return other
        return super().visit(node)  # type: ignore[no-any-return]

    def _wanted(self, before: ast.expr, after: ast.expr) -> bool:
        number = len(self.mutants)
        change = f"{ast.unparse(before)} -> {ast.unparse(after)}"
        alike = self._function, change
        self._alike[alike] += 1
        place = self._alike[alike]
        self.mutants.append(Mutant(self.module, before.lineno, number, self._function, change, place))
        if number != self.wanted:
            return False
        ast.copy_location(after, before)
        return True


def mutants_of(text: str, module: str) -> list[Mutant]:
    """Every mutant of a module's text."""
    found = _Changer(module)
    found.visit(ast.parse(text))
    return found.mutants


def changed_text(text: str, mutant: Mutant) -> str:
    """The module's text with the change made; comments and layout are lost."""
    tree = _Changer(mutant.module, mutant.number).visit(ast.parse(text))
    return ast.unparse(ast.fix_missing_locations(tree))


def sample(root: Path, folder: str, count: int, seed: int) -> list[Mutant]:
    """So many mutants of `optimiser/<folder>` below a root, drawn from a seed."""
    every = [
        mutant
        for path in sorted((root / "optimiser" / folder).glob("*.py"))
        for mutant in mutants_of(path.read_text("utf-8"), f"{folder}/{path.name}")
    ]
    return Random(seed).sample(every, min(count, len(every)))

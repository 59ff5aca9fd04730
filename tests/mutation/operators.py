"""Which faults can be planted in a file? Every place where an operator applies, with the fault as source text."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

QUANTILES = {0.05: 0.1, 0.1: 0.2, 0.9: 0.8, 0.95: 0.9}
GROWN = 1.15
GUARDS = 1e-6, 1e6
"""Constants smaller or larger keep a division from nought or a number from overflow: a tenth more changes nothing."""
NOT_FIGURES = frozenset(
    {"axis", "decimals", "shape", "reshape", "range", "kind", "strict", "prepend", "append", "dtype"}
)
"""Arguments, and functions, whose numbers shape arrays and not figures."""
BOUNDARY: dict[type[ast.cmpop], type[ast.cmpop]] = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
NEGATED: dict[type[ast.cmpop], type[ast.cmpop]] = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt}


@dataclass(frozen=True)
class Fault:
    """One planted fault.

    Attributes
    ----------
    file : str
        Path below the repository.
    line : int
    operator : str
    start, end : int
        Bytes of the file that it replaces.
    before, after : str
    names : tuple of str
        For a fault in a constant of a module: the names it is assigned to, by which its users are found.
    """

    file: str
    line: int
    operator: str
    start: int
    end: int
    before: str
    after: str
    names: tuple[str, ...] = ()

    def plant(self, source: bytes) -> bytes:
        """The file's bytes with the fault in them."""
        assert source[self.start : self.end].decode() == self.before
        return source[: self.start] + self.after.encode() + source[self.end :]

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.operator}: {self.before!r} -> {self.after!r}"


def find_faults(path: Path, root: Path) -> list[Fault]:
    """Every fault that can be planted in a file, in order of place."""
    source = path.read_bytes()
    finder = _Finder(source, str(path.relative_to(root)))
    finder.visit(ast.parse(source))
    return sorted(finder.found, key=lambda fault: (fault.start, fault.end, fault.operator))


class _Finder(ast.NodeVisitor):
    """Walks a module's syntax, leaving out what shapes arrays, words and types."""

    def __init__(self, source: bytes, file: str) -> None:
        self.source, self.file, self.found = source, file, list[Fault]()
        self.names: tuple[str, ...] = ()
        self.inside_function = False
        self.starts = [0]
        for line in source.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line))

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        before = self.inside_function
        if not before:
            self.names = (node.name,)  # defaults are made once, when the module is read
        for default in [*node.args.defaults, *filter(None, node.args.kw_defaults)]:
            self.visit(default)
        self.names, self.inside_function = (), True
        for part in node.body:
            self.visit(part)
        self.inside_function = before

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for part in node.body:
            self.visit(part)

    def visit_Assign(self, node: ast.Assign) -> None:
        if not self.inside_function:
            self.names = tuple(n.id for target in node.targets for n in ast.walk(target) if isinstance(n, ast.Name))
        if not any("SEED" in name.upper() for name in self.names):
            self.visit(node.value)
        self.names = ()

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.names = () if self.inside_function else (ast.unparse(node.target),)
            self.visit(node.value)
            self.names = ()

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)  # an index is no figure

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        self.visit(node.func)
        if name not in NOT_FIGURES:
            for argument in node.args:
                self.visit(argument)
        for keyword in node.keywords:
            if keyword.arg not in NOT_FIGURES:
                self.visit(keyword.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        return

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool) or not isinstance(value, int | float):
            return
        if isinstance(value, int) and value < 3:
            return
        if value == 0 or _is_guard(node):
            return
        more = max(round(value * GROWN), value + 1) if isinstance(value, int) else value * GROWN
        self._add(node, "constant", repr(more))
        if value in QUANTILES:
            self._add(node, "quantile", repr(QUANTILES[value]))

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.USub):
            self._add(node, "sign", f"({self._text(node.operand)})")
        self.visit(node.operand)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if not any(_is_text(side) for side in (node.left, node.right)):
            left, right = self._text(node.left), self._text(node.right)
            if isinstance(node.op, ast.Add | ast.Sub):
                other = "-" if isinstance(node.op, ast.Add) else "+"
                self._add(node, "sign", f"({left} {other} {self._grouped(node.right)})")
                self._add(node, "dropped term", f"({left})")
            elif isinstance(node.op, ast.Mult | ast.Div):
                kept = right if isinstance(node.left, ast.Constant) else left
                self._add(node, "dropped factor", f"({kept})")
        self.visit(node.left)
        self.visit(node.right)

    def visit_Compare(self, node: ast.Compare) -> None:
        for i, op in enumerate(node.ops):
            if type(op) not in BOUNDARY:
                continue
            sides = (node.left, *node.comparators)[i : i + 2]
            if any(_is_guard(side) for side in sides):
                continue
            kind = BOUNDARY if any(_is_limit(side) for side in sides) else NEGATED
            ops = [*node.ops]
            ops[i] = kind[type(op)]()
            self._add(node, "comparison", f"({ast.unparse(ast.Compare(node.left, ops, node.comparators))})")
        self.generic_visit(node)

    def _grouped(self, node: ast.expr) -> str:
        return f"({self._text(node)})" if isinstance(node, ast.BinOp) else self._text(node)

    def _text(self, node: ast.expr) -> str:
        start, end = self._span(node)
        return self.source[start:end].decode()

    def _span(self, node: ast.expr) -> tuple[int, int]:
        return (
            self.starts[node.lineno - 1] + node.col_offset,
            self.starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0),
        )

    def _add(self, node: ast.expr, operator: str, after: str) -> None:
        start, end = self._span(node)
        before = self.source[start:end].decode()
        self.found.append(Fault(self.file, node.lineno, operator, start, end, before, after, self.names))


def _is_text(node: ast.expr) -> bool:
    """Joined strings and lists, not sums."""
    kinds = (ast.List, ast.Tuple, ast.ListComp, ast.JoinedStr, ast.Dict)
    return isinstance(node, kinds) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _is_guard(node: ast.expr) -> bool:
    """A number so small or large that no figure hangs on it."""
    if not isinstance(node, ast.Constant) or isinstance(node.value, bool) or not isinstance(node.value, int | float):
        return False
    return node.value != 0 and not GUARDS[0] < abs(node.value) < GUARDS[1]


def _is_limit(node: ast.expr) -> bool:
    """A number, a named limit, or a count: what can be met exactly."""
    if isinstance(node, ast.UnaryOp):
        return _is_limit(node.operand)
    if isinstance(node, ast.Constant):
        return True
    if isinstance(node, ast.Name):
        return node.id.isupper()
    if isinstance(node, ast.Call):
        return isinstance(node.func, ast.Name) and node.func.id == "len"
    return False


def iterate_files(root: Path, rooms: tuple[str, ...]) -> Iterator[Path]:
    """Files of the rooms, and of their rooms, that compute."""
    for room in rooms:
        place = root / "glucolab" / room
        yield from [place] if place.is_file() else sorted(place.rglob("*.py"))

"""Does every number that shapes a figure say what it is, where it comes from, and what a wrong one would do?"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "glucolab"
ROOMS = ("cleaning", "aligning", "measuring", "relating", "simulate")
FILES = ("clock.py", "units.py", "intervals.py", "conventions.py")
MODULES = [*(PACKAGE / name for name in FILES), *(p for room in ROOMS for p in sorted((PACKAGE / room).rglob("*.py")))]
LEAST_NOTE, LEAST_NOTE_OF_A_SEED = 30, 15


def numbers(value: ast.AST) -> Iterator[float]:
    """Numbers written in a value; the place at which another constant is looked up is none."""
    if isinstance(value, ast.Subscript):
        yield from numbers(value.value)
    elif isinstance(value, ast.Constant):
        if isinstance(value.value, int | float) and not isinstance(value.value, bool):
            yield value.value
    else:
        for part in ast.iter_child_nodes(value):
            yield from numbers(part)


def constants(text: str) -> Iterator[tuple[int, list[str], str | None]]:
    """Line, names and note of every assignment at a module's own level that holds a number."""
    body = ast.parse(text).body
    for node, following in zip(body, [*body[1:], None], strict=True):
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None or not list(numbers(node.value)):
            continue
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        names = [part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)]
        yield node.lineno, names, note_in(following)


def note_in(node: ast.stmt | None) -> str | None:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
        return node.value.value.strip()
    return None


def without_note(text: str) -> list[str]:
    wrong = []
    for line, names, note in constants(text):
        least = LEAST_NOTE_OF_A_SEED if all(name.endswith("SEED") for name in names) else LEAST_NOTE
        if note is None or len(note) < least:
            wrong.append(f"line {line}: {', '.join(names)}")
    return wrong


def test_the_reader_of_constants_finds_them():
    """Else everything below would pass on an empty list."""
    found = {name for path in MODULES for _, names, _ in constants(path.read_text(encoding="utf-8")) for name in names}
    assert len(found) > 100
    assert {"MG_DL_PER_MMOL_L", "CLOCK_NIGHT_H", "LEAST_SCALE", "MOST_SCALE", "_DRAWS", "SAME_OCCASION"} <= found


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("A = 3.0\n", ["line 1: A"]),
        ("A = 3.0  # what the readings are held against, in mg/dL\n", ["line 1: A"]),
        ("A = 3.0\n'''too short'''\n", ["line 1: A"]),
        ("A = 0\n", ["line 1: A"]),
        ("A = 3.0\n'''What the readings are held against. [mg/dL]'''\n", []),
        ("A, B = 3.0, 4.0\n'''What the readings are held against. [mg/dL]'''\n", []),
        ("A = 3.0\nB = 4.0\n'''What the readings are held against. [mg/dL]'''\n", ["line 1: A"]),
        ("A: float = -3.0\n", ["line 1: A"]),
        ("A = pd.Timedelta(hours=2)\n", ["line 1: A"]),
        ("A = {'a night': np.array([1.0])}\n", ["line 1: A"]),
        ("_SEED = 1\n'''The same each time.'''\n", []),
        ("A = ('a', 'b')\nB = True\nC = other[0]\nD = {'a': 'b'}\n", []),
        ("def f():\n    a = 3.0\n", []),
    ],
)
def test_the_reader_of_constants_tells_them_apart(text, wrong):
    assert without_note(text) == wrong


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_constant_has_its_note(path):
    wrong = without_note(path.read_text(encoding="utf-8"))
    assert not wrong, "below it say in a string what it is [unit], where it comes from, and what a wrong one would do"

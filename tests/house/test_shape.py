"""Does every file say what question it answers, and stay small enough to be read?"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "glucolab"
MODULES = [
    path
    for path in sorted(PACKAGE.rglob("*.py"))
    if path.stat().st_size and "workbook" not in path.relative_to(PACKAGE).parts
]
MOST_LINES = 310  # "under ~300"
MOST_FUNCTION_LINES = 45  # "under ~40", signature and docstring not counted
IDS = [str(path.relative_to(PACKAGE)) for path in MODULES]


def test_there_is_a_house():
    assert len(MODULES) > 30


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_the_first_line_says_what_question_the_file_answers(path):
    doc = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert doc, "say in the first line what question the file answers"
    first = doc.splitlines()[0]
    assert len(first) >= 10
    if path.name != "__init__.py":
        assert "?" in first, f"a question was expected: {first!r}"


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_a_file_stays_readable(path):
    lines = path.read_text(encoding="utf-8").count("\n")
    assert lines <= MOST_LINES, "when the one-line answer stops fitting, split the file"


def code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function's body, its signature and docstring left out."""
    body = node.body
    if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant) and len(body) > 1:
        body = body[1:]
    return (node.end_lineno or node.lineno) - body[0].lineno + 1


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_a_function_fits_on_a_screen(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    long = {
        node.name: code_lines(node)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and code_lines(node) > MOST_FUNCTION_LINES
    }
    assert not long


def test_flags_take_glucose_first_and_everything_else_by_name():
    """`flag_*(glucose_mg_dl, *, ...)`."""
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in sorted((PACKAGE / "cleaning").glob("*.py"))]
    flags = [node for tree in trees for node in tree.body]
    flags = [node for node in flags if isinstance(node, ast.FunctionDef) and node.name.startswith("flag_")]
    assert len(flags) >= 9
    for node in flags:
        assert [a.arg for a in node.args.args] == ["glucose_mg_dl"], node.name


def test_no_settings_no_accessors_no_attrs():
    """Design section 3: no DataFrame subclass, no accessor, no `attrs`, no globals."""
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        tree = ast.parse(text)
        for node in ast.walk(tree):
            assert not isinstance(node, ast.Global), f"{path.name}:{node.lineno} uses a global"
            if isinstance(node, ast.ClassDef):
                bases = {ast.unparse(base) for base in node.bases}
                assert not bases & {"pd.DataFrame", "pd.Series", "DataFrame", "Series"}, f"{path.name}: {node.name}"
            if isinstance(node, ast.Attribute):
                assert node.attr not in ("attrs", "register_dataframe_accessor"), f"{path.name}:{node.lineno}"


def public_names(path: Path) -> list[str]:
    """What a module defines at its own level, without what begins with an underscore."""
    names: list[str] = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.append(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names += [part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)]
    return [name for name in names if not name.startswith("_")]


def test_no_two_public_things_have_one_name():
    homes: dict[str, list[str]] = {}
    for path in MODULES:
        for name in public_names(path):
            homes.setdefault(name, []).append(str(path.relative_to(PACKAGE)))
    assert len(homes) > 500
    assert not {name: where for name, where in homes.items() if len(where) > 1}


_HEADING = re.compile(
    r"^ *(Parameters|Returns|Raises|Warns|Notes|References|Examples|Attributes|Columns)\n *-{3,}$", re.M
)


def test_sections_of_docstrings_begin_after_an_empty_line():
    """Numpydoc reads a heading only there."""
    crowded, seen = [], 0
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        for found in _HEADING.finditer(text):
            seen += 1
            if not text[: found.start()].endswith("\n\n"):
                crowded.append(f"{path.name}: {found[1]}, line {text.count(chr(10), 0, found.start()) + 1}")
    assert seen > 500
    assert crowded == []

"""Do imports go one way, and does nothing heavy load before it is used?"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "glucolab"
ROOMS = (
    "units", "errors", "extras", "bibliography", "intervals", "clock", "conventions", "record", "simulate", "reading",
    "cleaning", "aligning", "measuring", "relating", "summaries", "results", "analysis", "on_request", "so_far",
    "showing", "running",
)  # fmt: skip
"""From the top of the house down: a room imports from those above it, and from itself."""

AT_SIGHT = ("results", "glucolab.showing.at_sight")
"""The one import downwards: how a result looks is asked when it is looked at, inside `__repr__` and `_repr_html_`."""

ROOMS_WITHIN = {
    "relating": (
        "statistics", "observations", "comparing", "effects", "predicting", "trials", "labs", "planning",
        "study_tables",
    ),
    "reading.bringing": ("vocabulary", "cells", "grids", "mapping", "inferring", "merging", "preview"),
    "showing.words": ("common", "glossary", "findings", "notebooks", "pages"),
    "running.notebooks": ("fingerprint", "page_jobs", "reusable_pages", "kernels", "pages"),
}  # fmt: skip
"""The same order within a room that has rooms of its own."""

HEAVY = (
    "scipy.stats", "sklearn", "statsmodels", "altair", "papermill", "ipywidgets", "nbformat", "nbconvert", "nbclient",
    "jupyter_client", "IPython", "joblib", "jinja2", "PIL", "matplotlib", "vl_convert",
)  # fmt: skip
PAGES_ROOMS = ("showing", "running")
MODULES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def module_of(path: Path) -> str:
    parts = ("glucolab", *path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(path: Path, everywhere: bool) -> Iterator[tuple[int, str]]:
    """Line and full name of what a file imports: at its own level, or inside functions too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = ast.walk(tree) if everywhere else at_module_level(tree)
    for node in nodes:
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                here = module_of(path).split(".")
                package = here if path.name == "__init__.py" else here[:-1]
                base = ".".join([*package[: len(package) - node.level + 1], *filter(None, [node.module])])
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def at_module_level(tree: ast.Module) -> Iterator[ast.AST]:
    """Statements that run on import; what stands under TYPE_CHECKING does not."""
    left: list[ast.AST] = list(tree.body)
    while left:
        node = left.pop()
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            left.extend(node.orelse)
            continue
        yield node
        left.extend(ast.iter_child_nodes(node))


def is_one_of(name: str, packages: tuple[str, ...]) -> bool:
    return any(name == package or name.startswith(f"{package}.") for package in packages)


def test_every_room_is_known():
    found = {room_of(path) for path in MODULES} - {"__init__", "__main__", "workbook"}
    assert found <= set(ROOMS), "add the new room to the order above, and to the map in DEVELOPERS.md"


def test_the_reader_of_imports_sees_them():
    """Else everything below would pass on an empty list."""
    seen = {name for path in MODULES for _, name in imports(path, everywhere=True)}
    assert {"glucolab.clock.ZoneSpans", "numpy", "glucolab.cleaning.flags"} <= seen
    assert any(is_one_of(name, ("altair",)) for name in seen)


@pytest.mark.parametrize("path", MODULES, ids=module_of)
def test_imports_go_one_way(path):
    room = room_of(path)
    if room in ("__init__", "__main__"):
        return
    wrong = []
    for line, name in imports(path, everywhere=True):
        parts = name.split(".")
        if parts[0] != "glucolab" or len(parts) < 2 or parts[1].startswith("__"):
            continue
        if (room, ".".join(parts[:3])) == AT_SIGHT:
            continue
        if parts[1] != room and ROOMS.index(parts[1]) > ROOMS.index(room):
            wrong.append(f"{path.name}:{line} imports {name}")
    assert not wrong


@pytest.mark.parametrize("room", ROOMS_WITHIN)
def test_imports_go_one_way_within_a_room(room):
    order, inside = ROOMS_WITHIN[room], f"glucolab.{room}."
    files = [path for path in MODULES if module_of(path).startswith(inside)]
    assert {module_of(path).removeprefix(inside).split(".")[0] for path in files} == set(order)
    wrong = []
    for path in files:
        own = module_of(path).removeprefix(inside).split(".")[0]
        for line, name in imports(path, everywhere=True):
            other = name.removeprefix(inside).split(".")[0] if name.startswith(inside) else own
            if order.index(other) > order.index(own):
                wrong.append(f"{path.name}:{line} imports {name}")
    assert not wrong


@pytest.mark.parametrize("path", [p for p in MODULES if room_of(p) not in PAGES_ROOMS], ids=module_of)
def test_nothing_heavy_is_imported_by_a_module(path):
    wrong = [f"{path.name}:{line} {name}" for line, name in imports(path, everywhere=False) if is_one_of(name, HEAVY)]
    assert not wrong, "import it inside the function that uses it"


@pytest.mark.parametrize(
    "path", [p for p in MODULES if room_of(p) not in ("simulate", "relating", *PAGES_ROOMS)], ids=module_of
)
def test_the_measure_path_never_needs_scipy_stats(path):
    """It alone costs more than the whole of `measure` should."""
    wrong = [f"{path.name}:{line} {name}" for line, name in imports(path, everywhere=True)
             if is_one_of(name, ("scipy.stats", "scipy.signal", "sklearn", "statsmodels"))]  # fmt: skip
    assert not wrong


def loaded_by(code: str) -> set[str]:
    """Modules that a fresh interpreter holds after running the code."""
    script = f"import sys\n{code}\nprint('\\n'.join(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=PACKAGE.parent
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return set(done.stdout.split())


def heavy_among(modules: set[str], allowed: tuple[str, ...] = ()) -> list[str]:
    return sorted(name for name in modules if name in HEAVY and name not in allowed)


def test_import_glucolab_is_light():
    modules = loaded_by("import glucolab\nglucolab.__all__, dir(glucolab)")
    assert not heavy_among(modules)
    assert not any(name.split(".")[0] in ("scipy", "pandas", "numpy") for name in modules)
    assert {name for name in modules if name.startswith("glucolab")} == {"glucolab"}


def test_analysing_a_study_loads_nothing_heavy():
    """A study with meals, sleep, activity, feelings and checks, as far as its tables (`glucolab measure`)."""
    modules = loaded_by(
        "from pathlib import Path\n"
        "from glucolab.reading.folder import read_study\n"
        "from glucolab.analysis import analyse_study\n"
        "analyse_study(read_study(Path('sample_data')))"
    )
    assert not heavy_among(modules)


def test_the_command_line_starts_light():
    """Asking for help must not wait for charts or notebooks."""
    assert not heavy_among(loaded_by("import glucolab.running.cli"))


def test_no_files_import_each_other_in_a_circle():
    names = {module_of(path) for path in MODULES}
    needs: dict[str, set[str]] = {}
    for path in (path for path in MODULES if path.name != "__init__.py"):
        found = {name for _, full in imports(path, everywhere=True) for name in (full, full.rpartition(".")[0])}
        found -= {AT_SIGHT[1]} if module_of(path) == f"glucolab.{AT_SIGHT[0]}" else set()
        needs[module_of(path)] = found & names - {module_of(path)}
    while loose := [name for name, wanted in needs.items() if not wanted & needs.keys()]:
        for name in loose:
            del needs[name]
    assert not needs, "files in a circle, or below one"

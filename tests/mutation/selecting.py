"""Which tests run a line? Coverage by test: a fault meets only the tests that can see it, the quickest first."""

from __future__ import annotations

import ast
import hashlib
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mutation.operators import Fault

JUDGES = (
    "tests/test_intervals.py", "tests/test_conventions.py", "tests/aligning", "tests/cleaning", "tests/measuring",
    "tests/relating", "tests/published", "tests/analysis", "tests/known_truth",
)  # fmt: skip
"""Tests that state what a figure must be. Golden notebooks and pages see a change, not an error, and do not count."""


PINS = "tests/known_truth/test_known_truth.py::test_widths_and_biases_are_as_pinned"
"""Calibration on fixed invented wearers: sees most; tried once the quick tests have passed."""
QUICK_SECONDS, MOST_SECONDS = 0.5, 12.0
"""Quick is a test that takes no longer under coverage. After a file's own tests, quick ones of others, pins and slower
ones, in this order, are tried for so many seconds each."""


class CoverageByTest:
    """A pytest plugin that notes which lines each test runs, and how long it takes."""

    def __init__(self, root: Path) -> None:
        import coverage

        self.cov = coverage.Coverage(data_file=None, source=[str(root / "glucolab")], config_file=False)
        self.seconds: dict[str, float] = defaultdict(float)
        self.failed = set[str]()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.cov.switch_context(item.nodeid)
        began = time.perf_counter()
        result = yield
        self.seconds[item.nodeid] += time.perf_counter() - began
        self.cov.switch_context("between tests")
        return result


def map_files(root: Path, files: list[str], out: Path) -> None:
    """Run test files once and keep, for each, its tests' seconds and the lines of the package that each runs.

    What a fixture of a module runs is noted for the first test that asks for it: a line that only such a test runs is
    seen by all tests of its module.
    """
    plugin = CoverageByTest(root)
    plugin.cov.start()
    code = pytest.main(["-q", "-p", "no:cacheprovider", "-p", "no:nbval", "-o", "addopts=", *files], [plugin])
    plugin.cov.stop()
    lines: dict[str, dict[str, list[list[int]]]] = defaultdict(lambda: defaultdict(list))
    data = plugin.cov.get_data()
    for file in data.measured_files():
        name = str(Path(file).relative_to(root))
        for line, tests in data.contexts_by_lineno(file).items():
            for test in tests:
                lines[test][name].append(line)  # type: ignore[arg-type]
    failed = {test.partition("::")[0] for test in plugin.failed}
    for file in set(files) - failed:
        mine = {test: s for test, s in plugin.seconds.items() if test.startswith(f"{file}::")}
        found = {"seconds": mine, "lines": {test: lines[test] for test in mine}}
        _kept(root, file, out).write_text(json.dumps(found))
    if code != 0:
        raise SystemExit(f"pytest ended with {int(code)}")


def load_map(root: Path, judges: list[str], jobs: int) -> dict:
    """The tests of this state of the code; those of files that are not kept already are run, each once.

    Returns
    -------
    dict
        ``seconds`` by test; ``lines``: by file of the package and line, the tests that run it.
    """
    out = Path(tempfile.gettempdir()) / "glucolab_mutation" / _state(root)
    out.mkdir(parents=True, exist_ok=True)
    files = [str(path.relative_to(root)) for judge in judges for path in _files_of(root / judge)]
    stale = [file for file in files if not _kept(root, file, out).is_file()]
    script = [sys.executable, "-m", "tests.mutation.selecting", str(out)]
    running = [subprocess.Popen([*script, *part], cwd=root) for part in (stale[i::jobs] for i in range(jobs)) if part]
    if any([process.wait() for process in running]):
        raise SystemExit("the tests must pass before faults are planted")
    seconds: dict[str, float] = {}
    lines: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for file in files:
        found = json.loads(_kept(root, file, out).read_text())
        seconds |= found["seconds"]
        for test, places in found["lines"].items():
            for name, numbers in places.items():
                for number in numbers:
                    lines[name][str(number)].append(test)
    return {"seconds": seconds, "lines": lines}


def _files_of(place: Path) -> list[Path]:
    return [place] if place.is_file() else sorted(place.rglob("test_*.py"))


def _kept(root: Path, file: str, out: Path) -> Path:
    """Where the map of one test file is kept, by its content."""
    mark = hashlib.sha256((root / file).read_bytes()).hexdigest()[:12]
    return out / f"{file.replace('/', '.')}.{mark}.json"


def _state(root: Path) -> str:
    """Of the package: the content of its files."""
    whole = hashlib.sha256()
    for path in sorted((root / "glucolab").rglob("*.py")):
        whole.update(str(path.relative_to(root)).encode() + path.read_bytes())
    return whole.hexdigest()[:16]


class Selection:
    """Finds the tests that can see a fault."""

    def __init__(self, root: Path, found: dict) -> None:
        self.seconds: dict[str, float] = found["seconds"]
        self.lines: dict[str, dict[str, list[str]]] = found["lines"]
        self.of_module: dict[str, list[str]] = defaultdict(list)
        for test in self.seconds:
            self.of_module[test.partition("::")[0]].append(test)
        self.users = _find_users(root)

    def tests_for(self, fault: Fault, all_of_them: bool = False) -> list[str]:
        """The quickest tests that run the fault's line, or use its constant, and the quickest pins; or all that do."""
        places = [(fault.file, line) for line in (fault.line, fault.line + 1)] if not fault.names else []
        for name in fault.names:
            places += self.users.get(name, [])
        direct = {test for file, line in places for test in self.lines.get(file, {}).get(str(line), [])}
        if not direct:  # what runs once, when the module is read, is seen by whoever uses the module
            direct = {test for tests in self.lines.get(fault.file, {}).values() for test in tests}
        modules = {test.partition("::")[0] for test in direct}
        beside = {test for module in modules for test in self.of_module[module]} - direct
        order = [test for tests in (direct, beside) for test in sorted(tests, key=self.seconds.__getitem__)]
        pins = [test for test in order if PINS in test]
        # the other tests of calibration share a fixture that runs all kinds: a minute, where pins run one
        rest = [test for test in order if not test.startswith(PINS.partition("::")[0])]
        own = [test for test in rest if test.startswith(_own_tests(fault.file))]
        quick = [test for test in rest if test not in own and self.seconds[test] <= QUICK_SECONDS]
        slow = [test for test in rest if test not in own and self.seconds[test] > QUICK_SECONDS]
        if all_of_them:
            return [*own, *quick, *pins, *slow]
        return [*own, *self._within(quick), *self._within(pins), *self._within(slow)]

    def _within(self, tests: list[str]) -> list[str]:
        """The first of them, until they take `MOST_SECONDS`."""
        spent = itertools.accumulate(self.seconds[test] for test in tests)
        return [test for test, seconds in zip(tests, spent, strict=True) if seconds <= MOST_SECONDS]


def _own_tests(file: str) -> str:
    """Where the tests of a file of the package stand: `tests/` mirrors the house."""
    folder, _, name = file.removeprefix("glucolab/").rpartition("/")
    return f"tests/{folder + '/' if folder else ''}test_{name}"


def _find_users(root: Path) -> dict[str, list[tuple[str, int]]]:
    """Lines on which each name of a constant is read, by name; through another constant of a module too."""
    users: dict[str, list[tuple[str, int]]] = defaultdict(list)
    through: dict[str, set[str]] = defaultdict(set)
    for path in sorted((root / "glucolab").rglob("*.py")):
        tree, file = ast.parse(path.read_bytes()), str(path.relative_to(root))
        for node in ast.walk(tree):
            if isinstance(node, ast.Name | ast.Attribute):
                name = node.id if isinstance(node, ast.Name) else node.attr
                users[name].append((file, node.lineno))
        for statement in tree.body:
            if isinstance(statement, ast.Assign | ast.AnnAssign) and statement.value is not None:
                targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
                made = {n.id for target in targets for n in ast.walk(target) if isinstance(n, ast.Name)}
                for node in ast.walk(statement.value):
                    if isinstance(node, ast.Name):
                        through[node.id] |= made
    for _ in range(3):
        for name, made in list(through.items()):
            users[name] += [place for other in made for place in users.get(other, []) if place not in users[name]]
    return users


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    map_files(Path(__file__).resolve().parents[2], sys.argv[2:], Path(sys.argv[1]))

"""Does a test see the fault? Each is planted in a process of its own, which ends with the first test that fails."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import io
import os
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import CodeType

from tests.mutation.operators import Fault
from tests.mutation.selecting import Selection

KILLED, SURVIVED, UNTESTED, TIMED_OUT, UNSOUND = "killed", "survived", "untested", "timed out", "cannot be compiled"
TIME_GROWN = 8.0
LEAST_TIME_S = 40.0
"""A fault under which its tests take so many times their time, and this much more, goes round for ever: killed."""
BASELINE = 12
"""How many places are tried without a fault first."""


@dataclass(frozen=True)
class Verdict:
    """What became of one fault, how long it took, and how many tests looked."""

    fault: Fault
    outcome: str
    seconds: float
    tests: int


class Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module its source with the fault in it."""

    def __init__(self, name: str, path: str, code: CodeType) -> None:
        self.name, self.path, self.code = name, path, code

    def find_spec(self, fullname: str, path: object, target: object = None) -> importlib.machinery.ModuleSpec | None:
        if fullname != self.name:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, origin=self.path)

    def exec_module(self, module: object) -> None:
        module.__file__ = self.path  # type: ignore[attr-defined]
        exec(self.code, module.__dict__)


@dataclass
class _Attempt:
    """A fault under trial in a child process."""

    fault: Fault
    began: float
    limit: float
    tests: int


def try_faults(
    root: Path, faults: Sequence[Fault], selection: Selection, jobs: int, all_tests: bool = False
) -> Iterator[Verdict]:
    """Plant each fault alone and run the tests that can see it until one fails.

    Parameters
    ----------
    root : Path
        The repository, the current directory too.
    faults : sequence of Fault
    selection : Selection
    jobs : int
        How many at once.
    all_tests : bool
        Run every test that can see it, and not the quickest alone.

    Yields
    ------
    Verdict
        In the order in which they end.

    Raises
    ------
    RuntimeError
        If tests fail where nothing is planted: every fault would pass for killed.
    """
    nothing = [replace(fault, after=fault.before) for fault in faults[:BASELINE]]
    for verdict in _try_each(root, nothing, selection, jobs, all_tests):
        if verdict.outcome in (KILLED, TIMED_OUT):
            raise RuntimeError(f"the tests of {verdict.fault.file} fail without a fault")
    yield from _try_each(root, faults, selection, jobs, all_tests)


def _try_each(
    root: Path, faults: Sequence[Fault], selection: Selection, jobs: int, all_tests: bool
) -> Iterator[Verdict]:
    left, running = list(reversed(faults)), dict[int, _Attempt]()
    while left or running:
        while left and len(running) < jobs:
            fault = left.pop()
            tests = selection.tests_for(fault, all_tests)
            code = _compile(root, fault)
            if not tests or code is None:
                yield Verdict(fault, UNTESTED if code is not None else UNSOUND, 0.0, 0)
                continue
            child = os.fork()
            if child == 0:
                _run_tests(fault, str(root / fault.file), code, tests)
            now = time.monotonic()
            usual = sum(selection.seconds[test] for test in tests)
            running[child] = _Attempt(fault, now, now + TIME_GROWN * usual + LEAST_TIME_S, len(tests))
        yield from _collect(running)
        time.sleep(0.005)


def _compile(root: Path, fault: Fault) -> CodeType | None:
    path = root / fault.file
    try:
        return compile(fault.plant(path.read_bytes()), str(path), "exec")
    except SyntaxError:
        return None


def _collect(running: dict[int, _Attempt]) -> Iterator[Verdict]:
    """Verdicts of the children that have ended, or go on for too long."""
    for child, attempt in list(running.items()):
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            outcome = SURVIVED if os.waitstatus_to_exitcode(status) == 0 else KILLED
        elif time.monotonic() > attempt.limit:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            outcome = TIMED_OUT
        else:
            continue
        del running[child]
        yield Verdict(attempt.fault, outcome, time.monotonic() - attempt.began, attempt.tests)


def _run_tests(fault: Fault, path: str, code: CodeType, tests: Sequence[str]) -> None:
    """In the child: never returns."""
    import pytest

    ended = 3
    try:
        os.setpgid(0, 0)
        module = fault.file.removesuffix(".py").replace("/", ".")
        sys.meta_path.insert(0, Planted(module, path, code))
        sys.stdout = sys.stderr = io.StringIO()
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        options = ["-x", "-q", "--tb=no", "--assert=plain", "-o", "addopts="]
        options += [part for name in ("cacheprovider", "nbval", "xdist") for part in ("-p", f"no:{name}")]
        ended = int(pytest.main([*options, *tests], [_InOrder(tests)]))
    finally:
        os._exit(ended)


class _InOrder:
    """A pytest plugin that keeps the order asked for."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.place = {test: i for i, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list) -> None:
        items.sort(key=lambda item: self.place.get(item.nodeid, len(self.place)))

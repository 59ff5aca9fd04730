"""How is bad input worded? One form for every problem, naming file, line and column."""

from __future__ import annotations

import sys
import traceback
from dataclasses import dataclass, field
from pathlib import Path, PurePath

_PACKAGE = Path(__file__).parent
_MOST_SHOWN = 500
"""Characters of an error's message in one line: some libraries quote whole tables. The traceback has all of it."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong, or doubtful, in a study folder.

    Attributes
    ----------
    file : str
        Path below the study folder, with forward slashes.
    text : str
        What was found, ``carbs_g "12o" is not a number``.
    line : int or None
        Line of the file as a text editor counts it.
    left_out : bool
        True if something was not used because of it (exit 1); False if it is a warning only.
    trace : str
        Traceback of the fault behind it, for ``--debug``; written to no file. Empty where there is none.
    """

    file: str
    text: str
    line: int | None = None
    left_out: bool = True
    trace: str = field(default="", repr=False, compare=False)

    def __str__(self) -> str:
        place = f"{self.file} line {self.line}" if self.line is not None else self.file
        return f"{place}: {self.text}"


class NothingToDo(Exception):
    """Nothing at all could be done, and why: the command ends with exit 2.

    Attributes
    ----------
    problems : tuple of Problem
        All that was found on the way, for `check` to list.
    """

    def __init__(self, text: str, problems: tuple[Problem, ...] = ()):
        super().__init__(text)
        self.problems = problems


class UnusableTable(NothingToDo, ValueError):
    """A table in memory cannot be used as it is: what is wrong, and what to type."""


class CannotAnalyse(Exception):
    """One stage refuses what it was given, and why: the sentence is enough, and the other stages go on."""


def as_problem(file: str, failed: str, error: BaseException) -> Problem:
    """The problem to list when a stage failed.

    Parameters
    ----------
    file : str
        What it failed on, as `Problem` has it.
    failed : str
        What failed, ``could not be analysed``.
    error : BaseException
        A foreseen refusal (`CannotAnalyse`, `NothingToDo`) speaks for itself; anything else is a fault, told with its
        place in the code and its traceback.

    Returns
    -------
    Problem
    """
    if isinstance(error, CannotAnalyse | NothingToDo):
        return Problem(file, f"{failed}: {error}")
    return Problem(file, f"{failed}: {say_fault(error)}", trace=write_trace(error))


def say_fault(error: BaseException) -> str:
    """What nobody foresaw, in one line: its type, its message, and where it happened.

    The place is the innermost line within glucolab, and beside it that of the library which it had called.
    """
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if _is_own(frame)]
    places = dict.fromkeys(_say_place(frame) for frame in (*own[-1:], *frames[-1:]))
    where = f" ({', calling '.join(places)})" if places else ""
    shown = "".join(c if c.isprintable() else " " for c in str(error)).strip()[:_MOST_SHOWN]
    return f"a fault in glucolab itself{where}: {': '.join(filter(None, [type(error).__name__, shown]))}"


def write_trace(error: BaseException) -> str:
    """The full traceback, and those of the errors that led to it."""
    return "".join(traceback.format_exception(error))


def is_own_fault(error: BaseException) -> bool:
    """True if a line of glucolab raised it, and not a library that was given a broken file."""
    frames = traceback.extract_tb(error.__traceback__)
    return bool(frames) and _is_own(frames[-1])


def _is_own(frame: traceback.FrameSummary) -> bool:
    return PurePath(frame.filename).is_relative_to(_PACKAGE)


def _say_place(frame: traceback.FrameSummary) -> str:
    """File and line; the file below the package or the folder that it was imported from, never the whole path."""
    path = PurePath(frame.filename)
    roots = [_PACKAGE, *(Path(root) for root in sorted(sys.path, key=len, reverse=True) if root)]
    short = path.name if path.is_absolute() else path.as_posix()
    file = next((path.relative_to(root).as_posix() for root in roots if path.is_relative_to(root)), short)
    cell = path.parent.name.startswith("ipykernel_")  # Jupyter gives each cell a file that is not there
    return f"{'a cell of the notebook' if cell else file} line {frame.lineno}"

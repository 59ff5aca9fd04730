"""How is bad input worded? One form for every problem, naming file, line and column."""

from __future__ import annotations

import traceback
from dataclasses import dataclass
from pathlib import Path


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
    """

    file: str
    text: str
    line: int | None = None
    left_out: bool = True

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


def say_fault(error: Exception) -> str:
    """What nobody foresaw, in a sentence that says where it happened."""
    frame = traceback.extract_tb(error.__traceback__)[-1]
    where = f"{Path(frame.filename).name} line {frame.lineno}"
    return f"a fault in glucolab itself ({where}): {type(error).__name__}: {error}"

"""What may a form do to files? The functions it is given, so that it writes nothing itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from glucolab.errors import Problem
from glucolab.reading.bringing.preview import Bringing
from glucolab.reading.entering.table_edits import Edit


@dataclass(frozen=True)
class Hands:
    """All that a form may do to files.

    Attributes
    ----------
    write, undo : callable
        Write a row that was typed; take it back.
    begin_study : callable
        Takes the folder and the text of study.toml.
    begin_wear : callable
        Takes the study, the name of the wear and the text of wear.toml.
    bring : callable
        Writes what a file brings, and returns it as it was written.
    report : callable
        Takes the study, the report folder and a function that is called with each step; the pages and what was left
        out.
    """

    write: Callable[[Edit], None]
    undo: Callable[[Edit], None]
    begin_study: Callable[[Path, str], object]
    begin_wear: Callable[[Path, str, str], object]
    bring: Callable[[Bringing], Bringing]
    report: Callable[[Path, Path, Callable[[str], None]], tuple[Sequence[Path], Sequence[Problem]]]

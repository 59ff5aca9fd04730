"""How does a study go to a professional? One page without names, in one file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.folder import read_study
from glucolab.running.output_file import replace_text, want_target


def share_into(study: Path, file: Path, progress: Callable[[str], None]) -> Sequence[Problem]:
    """Write the page to hand over.

    Parameters
    ----------
    study : Path
        The study folder.
    file : Path
        The page, HTML; an earlier one there is replaced.
    progress : callable

    Returns
    -------
    sequence of Problem
        What was left out.

    Raises
    ------
    NothingToDo
        If nothing can be analysed, or the file must not be written.
    """
    from glucolab.analysis import analyse_study
    from glucolab.showing.hand_over_page import MARK, write_hand_over

    want_target(file, study, MARK, "page made by glucolab share")
    progress(f"reading {study}")
    analysis = analyse_study(read_study(study), progress)
    if not analysis.wears:
        raise NothingToDo(f"{study}: no wear could be analysed", analysis.left_out)
    if analysis.fault is not None:
        raise NothingToDo(f"{study}: there is no page without what the wears say together", analysis.left_out)
    if not len(analysis.tables["periods"]):
        raise NothingToDo(f"{study}: {analysis.summary['withheld']['periods']}", analysis.left_out)
    replace_text(file, write_hand_over(analysis))
    return analysis.left_out

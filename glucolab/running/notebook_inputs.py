"""What does a notebook start from? A wear or a study analysed, or a report read back, with its study."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study
from glucolab.record import Study
from glucolab.running.tables import Report, read_report

if TYPE_CHECKING:
    from glucolab.analysis import StudyAnalysis, WearAnalysis


def open_wear(study: str | Path, wear: str) -> tuple[WearAnalysis, Study]:
    """Read a study and analyse one of its wears, from that wear's own files alone.

    Parameters
    ----------
    study : str or Path
        The study folder.
    wear : str
        Name of the wear's folder.

    Returns
    -------
    result : WearAnalysis
    record : Study
        With this wear alone.

    Raises
    ------
    NothingToDo
        If the study has no such wear that can be used.
    """
    from glucolab.analysis import analyse_wear  # a notebook that only reads tables back does without

    record = read_study(Path(study), only=wear)
    return analyse_wear(record.wears[0], record), record


def open_study(study: str | Path) -> StudyAnalysis:
    """Read a study and analyse all of it: what the widgets start from.

    Parameters
    ----------
    study : str or Path
        The study folder.

    Returns
    -------
    StudyAnalysis

    Raises
    ------
    NothingToDo
        If there is no study, no wear of it can be used, or a fault kept the wears from being set beside each other.
    """
    from glucolab.analysis import analyse_study

    analysis = analyse_study(read_study(Path(study)))
    if not analysis.wears:
        raise NothingToDo(f"{study}: no wear could be analysed", analysis.left_out)
    if analysis.fault is not None:
        raise NothingToDo(str(analysis.fault), analysis.left_out)
    return analysis


def open_report(study: str | Path, out: str | Path) -> tuple[Report, Study]:
    """Read a study, and the tables that `measure` or `report` wrote of it.

    Parameters
    ----------
    study : str or Path
        The study folder.
    out : str or Path
        The report folder.

    Returns
    -------
    report : Report
    record : Study

    Raises
    ------
    NothingToDo
        If there is no study or no report.
    """
    return read_report(out), read_study(Path(study))

"""What does a notebook start from? A wear or a study analysed, or a report read back, with its study."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study
from glucolab.record import ByName, Study
from glucolab.running.tables import Report, read_report, read_so_far

if TYPE_CHECKING:
    from glucolab.results import StudyAnalysis, WearAnalysis
    from glucolab.so_far import SoFar


def open_wear(study: str | Path, wear: str, so_far: str | Path = "") -> tuple[WearAnalysis, Study, SoFar]:
    """Read a study and analyse one of its wears, beside what was known with it: that wear and the earlier ones.

    Parameters
    ----------
    study : str or Path
        The study folder.
    wear : str
        Name of the wear's folder.
    so_far : str or Path
        Folder in which `report` has written what was known with this wear; empty: it is worked out here, from the
        wears up to this one.

    Returns
    -------
    result : WearAnalysis
        From that wear's own files alone.
    record : Study
        With this wear last; where `so_far` is given, with it alone.
    known : SoFar

    Raises
    ------
    NothingToDo
        If the study has no such wear that can be used, or the folder holds no tables.
    """
    from glucolab.analysis import analyse_study, analyse_wear  # a notebook that only reads tables back does without
    from glucolab.so_far import look_at_all

    record = read_study(Path(study), only=wear)
    if so_far:
        return analyse_wear(record.wears[0], record), record, read_so_far(so_far)
    whole = read_study(Path(study))
    names = [one.name for one in whole.wears]
    analysis = analyse_study(replace(whole, wears=ByName(whole.wears[: names.index(wear) + 1])))
    if not analysis.wears or analysis.wears[-1].wear.name != wear:
        raise NothingToDo(f"{wear} could not be analysed", analysis.left_out)
    return analysis.wears[-1], analysis.study, look_at_all(analysis)


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

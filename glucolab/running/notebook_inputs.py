"""What does a notebook start from? A wear or a study analysed, or a report read back, with its study."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from glucolab.clock import to_local
from glucolab.errors import NothingToDo
from glucolab.measuring.cautions import DESCRIBE_ONLY
from glucolab.reading.folder import read_study
from glucolab.record import WEAR_OUTPUTS, WEAR_TABLES, ByName, Study
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


def stack_table(analysis: StudyAnalysis, name: str) -> pd.DataFrame:
    """One table of every wear, one under the other: where a question of one's own begins, in plain pandas.

    Parameters
    ----------
    analysis : StudyAnalysis
    name : str
        Of a table that a wear's report holds (``daily``) or that was written down (``sleep``), as its file is called.

    Returns
    -------
    pandas.DataFrame
        First the column ``wear``, then the contract's; times are the wearer's wall clock, without a zone, numbers are
        floats (NaN: not known), glucose is in mg/dL.

    Raises
    ------
    NothingToDo
        If no wear has a table of that name, or the study wants no figures, or none but descriptions.

    Examples
    --------
    >>> stack_table(analysis, "daily").groupby("wear")["mean_mg_dl"].mean()  # doctest: +SKIP
    """
    if analysis.study.person.describe_only:
        raise NothingToDo(DESCRIBE_ONLY)
    if not analysis.study.numbers:
        raise NothingToDo("study.toml asks for no glucose figures (numbers = false), and these tables are made of them")
    if name not in WEAR_OUTPUTS and name not in WEAR_TABLES:
        raise NothingToDo(f"no wear has a table “{name}”: there are {', '.join([*WEAR_OUTPUTS, *WEAR_TABLES])}")
    parts = []
    for one in analysis.wears:
        table = one.tables[name] if name in WEAR_OUTPUTS else one.wear.table(name).reset_index(drop=True)
        parts.append(_as_plain(table, one).assign(wear=one.wear.name))
    stacked = pd.concat(parts, ignore_index=True)
    return stacked[["wear", *stacked.columns.drop("wear")]]


def _as_plain(table: pd.DataFrame, one: WearAnalysis) -> pd.DataFrame:
    """A table with times on the wearer's clock and numbers as floats."""
    plain = table.astype(dict.fromkeys(table.select_dtypes("number"), float))
    for name in table.select_dtypes("datetimetz"):
        plain[name] = to_local(table[name], one.wear.zones)
    return plain

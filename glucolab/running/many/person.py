"""What does one study of many come to? Its rows of the tables over all people, as text."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import NothingToDo, Problem, say_fault, write_trace
from glucolab.record import PEOPLE_OUTPUTS
from glucolab.running.notebooks.fingerprint import fingerprint_study
from glucolab.running.tables import format_rows

if TYPE_CHECKING:
    from glucolab.results import StudyAnalysis, WearAnalysis

TableRows = dict[str, list[tuple[str, ...]]]
"""Cells by name of :data:`glucolab.record.PEOPLE_OUTPUTS`."""
OF_STUDY = ("periods", "comparisons", "effects")
_WORDED = ("people", "left_out")
"""Tables with reasons in words, which may name files."""


@dataclass(frozen=True)
class StudyOutcome:
    """What became of one study.

    Attributes
    ----------
    person : str
        Path of the study below the folder of all.
    key : str
        What it was made from; empty where that could not be read.
    failed : str
        Why it could not be analysed; empty if it could.
    left_out : int
        Things that were not used.
    rows : dict or None
        None where nothing has changed since `key` was made.
    traces : tuple of str
        Tracebacks of the faults in it, for ``--debug``; not kept.
    """

    person: str
    key: str
    failed: str
    left_out: int
    rows: TableRows | None
    traces: tuple[str, ...] = ()


def name_person(below: str) -> str:
    """The path of a study as it stands in tables: bytes that are no UTF-8 shown, not lost."""
    return below.encode("utf-8", "backslashreplace").decode("utf-8")


def analyse_person(folder: str, person: str, known: str) -> StudyOutcome:
    """Analyse one study, unless it is the same as before.

    It is run in processes of its own, on other computers too, so it takes and returns plain values, and whatever
    happens is told in its rows: one study never stops the others.

    Parameters
    ----------
    folder : str
        Of all studies, as the process that runs this sees it.
    person : str
        Path of this one below it.
    known : str
        Key of what is known of it, or empty.

    Returns
    -------
    StudyOutcome
    """
    return _below(Path(folder), _analyse_or_fail(Path(folder, person), name_person(person), known))


def _below(folder: Path, one: StudyOutcome) -> StudyOutcome:
    """Without the folder of all in any text: where a study lies is not told by the tables that are passed on."""

    def cut(text: str) -> str:
        return text.replace(f"{folder}{os.sep}", "").replace(str(folder), ".")

    rows = one.rows and {
        name: [tuple(map(cut, cells)) for cells in table] if name in _WORDED else table
        for name, table in one.rows.items()
    }
    return replace(one, failed=cut(one.failed), rows=rows)


def _analyse_or_fail(study: Path, person: str, known: str) -> StudyOutcome:
    key = ""
    try:
        key = fingerprint_study(study)
        if key == known:
            return StudyOutcome(person, key, "", 0, None)
        return _analyse(study, person, key)
    except NothingToDo as reason:
        return _failed(person, key, str(reason), reason.problems)
    except OSError as error:
        return _failed(person, key, f"{error.strerror or error} {error.filename or ''}".strip())
    except Exception as error:  # a fault of ours in one study is that study's reason, and the others go on
        return _failed(person, key, say_fault(error), trace=write_trace(error))


def _analyse(study: Path, person: str, key: str) -> StudyOutcome:
    from glucolab.analysis import analyse_study
    from glucolab.reading.folder import read_study

    analysis = analyse_study(read_study(study))
    if not analysis.wears:
        return _failed(person, key, "no wear could be analysed", analysis.left_out)
    if (fault := analysis.fault) is not None:  # all of its rows but one would be empty
        others = [p for p in analysis.left_out if p is not fault]
        return _failed(person, key, str(fault), others, fault.trace)
    zones = ZoneSpans((analysis.study.person.time_zone,))
    frames = {"people": _summary_row(analysis, person), "left_out": problem_rows(analysis.left_out, person)}
    for name in OF_STUDY:
        frames[f"people_{name}"] = analysis.tables[name].assign(person=person)
    rows = {name: list(format_rows(frames[name], table, zones)) for name, table in PEOPLE_OUTPUTS.items()}
    return StudyOutcome(person, key, "", len(analysis.left_out), rows, _traces(analysis.left_out))


def _traces(problems: Iterable[Problem]) -> tuple[str, ...]:
    return tuple(p.trace for p in problems if p.trace)


def _failed(person: str, key: str, reason: str, problems: Iterable[Problem] = (), trace: str = "") -> StudyOutcome:
    left_out = [Problem("", reason, trace=trace), *(p for p in problems if p.left_out)]
    frames = {
        "people": _one_row({"person": person, "state": "failed", "reason": reason, "left_out": len(left_out)}),
        "left_out": problem_rows(left_out, person),
    }
    rows = {name: list(format_rows(frame, PEOPLE_OUTPUTS[name], ZoneSpans(("UTC",)))) for name, frame in frames.items()}
    return StudyOutcome(person, key, reason, len(left_out), rows, _traces(left_out))


def _one_row(values: dict[str, object]) -> pd.DataFrame:
    """A row of ``people``; what is not given is missing."""
    return pd.DataFrame([values], columns=PEOPLE_OUTPUTS["people"].names, dtype=object)


def problem_rows(problems: Sequence[Problem], person: str) -> pd.DataFrame:
    """Rows of ``left_out``."""
    columns = PEOPLE_OUTPUTS["left_out"].names
    return pd.DataFrame([(person, p.file, p.line, p.text) for p in problems], columns=columns)


def _summary_row(analysis: StudyAnalysis, person: str) -> pd.DataFrame:
    """The latest wear of a person, and how it differs from the one before."""
    last = max(analysis.wears, key=lambda one: one.wear.start)
    return _one_row(
        {
            "person": person,
            "state": "done",
            "wears": len(analysis.wears),
            "left_out": len(analysis.left_out),
            "last_wear": last.wear.name,
            "cautions": "\n".join(analysis.summary["cautions"]),
            "goal_mg_dl": (analysis.summary["goal"] or {}).get("mean_mg_dl"),
        }
        | _of_period(analysis.tables["periods"], last)
        | _since_before(analysis.tables["comparisons"], last)
    )


def _of_period(periods: pd.DataFrame, last: WearAnalysis) -> dict[str, object]:
    row = periods[(periods["level"] == "wear") & (periods["name"] == last.wear.name)]
    shared = [name for name in PEOPLE_OUTPUTS["people"].names if name in periods]
    return dict(row[shared].iloc[0]) if len(row) else {}


def _since_before(comparisons: pd.DataFrame, last: WearAnalysis) -> dict[str, object]:
    """The comparison with the wear before: the rows of a later wear stand in the order of the earlier ones."""
    later = comparisons[
        (comparisons["level"] == "wear")
        & (comparisons["period_b"] == last.wear.name)
        & (comparisons["relation"] == "later")
    ]
    if not len(later):
        return {}
    row = later.iloc[-1]
    names = ("difference_mg_dl", "low_mg_dl", "high_mg_dl", "verdict")
    return {"compared_with": row["period_a"]} | {name: row[name] for name in names}

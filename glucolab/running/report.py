"""What does one run do from end to end? Read, analyse, write tables and pages, put them in the old ones' place."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from glucolab.analysis import analyse_study
from glucolab.clock import ZoneSpans
from glucolab.errors import NothingToDo, Problem, as_problem
from glucolab.on_request import predict_from_log
from glucolab.reading.folder import read_study
from glucolab.record import Study
from glucolab.results import StudyAnalysis, WearAnalysis
from glucolab.running.folder import check_out, replace_report
from glucolab.running.tables import STUDY_FOLDER, write_prediction, write_so_far, write_study_tables, write_wear
from glucolab.so_far import SoFar, look_at_all, look_back

if TYPE_CHECKING:
    from glucolab.running.notebooks.page_jobs import PageJob
    from glucolab.running.notebooks.pages import Pages

WrittenReport = tuple[StudyAnalysis, list[Problem], list[Path]]


def measure_into(study: Path, out: Path, progress: Callable[[str], None]) -> WrittenReport:
    """Write the tables of a study.

    Parameters
    ----------
    study : Path
        The study folder.
    out : Path
        The report folder; an earlier report in it is replaced.
    progress : callable
        Called with a line of text as each step begins.

    Returns
    -------
    analysis : StudyAnalysis
    left_out : list of Problem
        What was not used or could not be made.
    paths : list of Path
        The folders written.

    Raises
    ------
    NothingToDo
        If nothing can be analysed, or `out` may not be written to.
    OSError
        If writing fails; the earlier report is then as it was.
    """
    check_out(out, study)
    with replace_report(out) as new:
        analysis = _write_tables(study, new, progress, lambda record, one: None)
    return analysis, list(analysis.left_out), [out / name for name in _folders(analysis)]


def report_into(study: Path, out: Path, progress: Callable[[str], None], again: bool) -> WrittenReport:
    """Write the tables and the pages of a study; see :func:`measure_into`.

    Parameters
    ----------
    study, out, progress
        As there.
    again : bool
        Make pages anew that would come out as they are in the earlier report.

    Returns
    -------
    analysis, left_out
        As there.
    paths : list of Path
        The pages.
    """
    from glucolab.running.notebooks.page_jobs import plan_study_page, plan_wear_page
    from glucolab.running.notebooks.pages import Pages

    failed: list[Problem] = []
    done: list[WearAnalysis] = []

    def begin(wear: str, so_far: SoFar, zones: ZoneSpans) -> None:
        if so_far.fault:
            failed.append(Problem(f"{wear}/report.html", so_far.fault))
        write_so_far(new / wear, so_far, zones)
        failed.extend(_add_page(pages, wear, lambda: plan_wear_page(study, new, wear)))

    def written(record: Study, one: WearAnalysis) -> None:
        done.append(one)
        if one.wear is not record.wears[-1]:  # the last is looked back from over the whole study
            progress(f"looking back from {one.wear.name}")
            begin(one.wear.name, look_back(record, done), one.wear.zones)

    check_out(out, study)
    with replace_report(out) as new, Pages(None if again else out, progress) as pages:
        # a page needs the wears up to its own: while the next ones are analysed, it is made
        analysis = _write_tables(study, new, progress, written)
        if (last := analysis.wears[-1]).wear is analysis.study.wears[-1]:
            begin(last.wear.name, look_at_all(analysis), last.wear.zones)
        if analysis.fault is None:
            progress("predicting meals from the log")
            failed += _add_prediction(new / STUDY_FOLDER, analysis)
            failed += _add_page(pages, STUDY_FOLDER, lambda: plan_study_page(study, new))
        if pages.unchanged:
            progress(f"unchanged pages: {pages.unchanged}")
        failed += pages.wait()
        made = [name for name in _folders(analysis) if (new / name / "report.html").is_file()]
    return analysis, [*analysis.left_out, *failed], [out / name / "report.html" for name in made]


def _add_page(pages: Pages, folder: str, plan: Callable[[], PageJob]) -> list[Problem]:
    """Begin a page; the problem if even that failed."""
    try:
        pages.add(plan())
    except OSError:
        raise
    except Exception as error:  # its tables stay
        return [as_problem(f"{folder}/report.html", "could not be made", error)]
    return []


def _add_prediction(folder: Path, analysis: StudyAnalysis) -> list[Problem]:
    """Write whether the log predicts; the problem if that failed, and the page does without."""
    try:
        table = predict_from_log(analysis)
    except Exception as error:  # the tables that are written already are sound without it
        return [as_problem(f"{STUDY_FOLDER}/log_prediction.csv", "could not be made", error)]
    write_prediction(folder, analysis, table)
    return []


def _folders(analysis: StudyAnalysis) -> list[str]:
    return [*(one.wear.name for one in analysis.wears), STUDY_FOLDER]


def _write_tables(
    study: Path, new: Path, progress: Callable[[str], None], written: Callable[[Study, WearAnalysis], None]
) -> StudyAnalysis:
    """Read, analyse, and write into the folder; `written` is called with each wear once its tables are there."""
    progress(f"reading {study}")
    record = read_study(study)

    def write(one: WearAnalysis) -> None:
        folder = new / one.wear.name
        folder.mkdir()
        try:
            write_wear(folder, one)
            written(record, one)
        except Exception:  # a wear is left out whole
            shutil.rmtree(folder)
            raise

    analysis = analyse_study(record, progress, write)
    if not analysis.wears:
        raise NothingToDo(f"{study}: no wear could be analysed", analysis.left_out)
    (new / STUDY_FOLDER).mkdir()
    write_study_tables(new / STUDY_FOLDER, analysis)
    return analysis

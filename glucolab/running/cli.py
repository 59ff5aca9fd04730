"""What can be asked for on the command line? Commands, exit codes that say how it went."""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from glucolab.errors import NothingToDo, Problem, say_fault, write_trace
from glucolab.extras import say_missing, want_extra
from glucolab.running.options import build_parser

if TYPE_CHECKING:
    from glucolab.results import StudyAnalysis

DONE, _LEFT_OUT, _NOTHING = 0, 1, 2
INTERRUPTED = 130
"""What shells report for a program that was stopped with Ctrl-C."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments; None is those of the process.

    Returns
    -------
    int
        0 done; 1 done, but something was left out, listed; 2 nothing could be done, and why.
    """
    arguments = build_parser(COMMANDS).parse_args(argv)
    # every matrix here is small: a second thread of linear algebra costs a third of the time and gains none
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # a million rows that cannot be read, each with its reason, took twice the time while cycles were looked for
    gc.set_threshold(100_000, 50, 100)
    command: Callable[[argparse.Namespace], int] = arguments.command
    try:
        return command(arguments)
    except NothingToDo as reason:
        _list_problems(reason.problems, arguments.debug)
        print(f"glucolab: {reason}", file=sys.stderr)
    except OSError as error:
        _show_trace(error, arguments.debug)
        place = f" {error.filename}" if error.filename else ""
        print(f"glucolab: {error.strerror or error}{place}", file=sys.stderr)
    except ModuleNotFoundError as error:
        _show_trace(error, arguments.debug)
        print(f"glucolab: {say_missing(error) or say_fault(error)}", file=sys.stderr)
    except KeyboardInterrupt:
        print("glucolab: stopped; the last report is as it was", file=sys.stderr)
        return INTERRUPTED
    except Exception as error:  # a fault of ours: said in a sentence, and never with the code of a run that was done
        _show_trace(error, arguments.debug)
        print(f"glucolab: {say_fault(error)}", file=sys.stderr)
    return _NOTHING


def _say(text: str) -> None:
    """Progress goes to stderr."""
    print(text, file=sys.stderr, flush=True)


def _show_trace(error: Exception, debug: bool) -> None:
    if debug:
        _say(write_trace(error).rstrip())


def _list_problems(problems: Sequence[Problem], debug: bool) -> None:
    """A line a problem, and with ``--debug`` the traceback of the fault behind it."""
    for problem in problems:
        _say(f"{'left out' if problem.left_out else 'note'}: {problem}")
        if debug and problem.trace:
            _say(problem.trace.rstrip())


def _demo(arguments: argparse.Namespace) -> int:
    from glucolab.running.folder import fill_new_folder
    from glucolab.simulate.demo import write_demo

    folder: Path = arguments.dir
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise NothingToDo(f"{folder} is not empty: choose a new folder")
    with fill_new_folder(folder) as new:
        write_demo(new)
    print(folder)
    return DONE


def _new(arguments: argparse.Namespace) -> int:
    from glucolab.reading.folder import start_wear
    from glucolab.reading.meals_from_photos import rows_of_photos

    photos = rows_of_photos(arguments.photos) if arguments.photos is not None else None
    for path in start_wear(arguments.study, arguments.wear, photos):
        print(path)
    _say("next: write start and unit in wear.toml, then bring or fill glucose.csv, and ask glucolab check")
    problems = photos.problems if photos is not None else ()
    _list_problems(problems, arguments.debug)
    return _LEFT_OUT if problems else DONE


def _workbook(arguments: argparse.Namespace) -> int:
    want_extra("workbook", "the workbook opens in JupyterLab")
    from glucolab.running.lab import open_lab, prepare_folder

    folder = arguments.folder
    for path in prepare_folder(folder or Path(), make=folder is not None):
        print(path)
    return DONE if open_lab(folder or Path(), arguments.browser) == 0 else _NOTHING


def _check(arguments: argparse.Namespace) -> int:
    from glucolab.on_request import doubt_clocks
    from glucolab.reading.folder import read_study
    from glucolab.relating.trials.near_misses import doubt_trial_dates

    study = read_study(arguments.study)
    for wear in study.wears:
        counts = [f"{len(frame)} {name}" for name, frame in wear.tables.items() if len(frame)]
        print(f"{wear.name}: {', '.join(counts)}")
    counts = [f"{len(frame)} {name}" for name, frame in study.tables.items() if len(frame)]
    if counts:
        print(f"study: {', '.join(counts)}")
    problems = [*study.problems, *doubt_clocks(study), *doubt_trial_dates(study)]
    for problem in problems:
        print(f"{'left out' if problem.left_out else 'note'}: {problem}")
    if not problems:
        print("no problems found")
    return _LEFT_OUT if any(problem.left_out for problem in study.problems) else DONE


def _measure(arguments: argparse.Namespace) -> int:
    from glucolab.running.report import measure_into

    return _finish(*measure_into(arguments.study, arguments.out, _say), arguments.debug)


def _report(arguments: argparse.Namespace) -> int:
    want_extra("pages", "the report's pages are notebooks with charts")
    from glucolab.running.report import report_into

    return _finish(*report_into(arguments.study, arguments.out, _say, arguments.again), arguments.debug)


def _plan(arguments: argparse.Namespace) -> int:
    import secrets
    from zoneinfo import ZoneInfo

    from glucolab.clock import ZoneSpans
    from glucolab.measuring.cautions import ALWAYS
    from glucolab.reading.folder import read_study
    from glucolab.relating.planning.trial_choice import Wish
    from glucolab.running.planning import plan_from, want_plan_folder, write_plan
    from glucolab.showing.display import display_of
    from glucolab.showing.words.pages.plan import say_plan

    if arguments.out is not None:
        want_plan_folder(arguments.out, arguments.study)
    study = read_study(arguments.study)
    zone = study.person.time_zone
    wish = Wish(
        start=arguments.start or datetime.now(ZoneInfo(zone)).date() + timedelta(days=1),
        days=arguments.days,
        avoid=tuple(arguments.avoid),
        trial=arguments.trial or "",
        arms=arguments.arms or (),
        dish=arguments.dish or "",
        factor=arguments.factor or "",
        difference_mg_dl=arguments.difference,
        seed=secrets.randbelow(2**31) if arguments.seed is None else arguments.seed,
    )
    analysis, plan = plan_from(study, wish, _say)
    _list_problems(analysis.left_out, arguments.debug)
    zones = ZoneSpans((zone,))
    for line in [*say_plan(plan, study.goal, zones, display_of(study)), "", *ALWAYS]:
        print(line)
    for path in write_plan(plan, zones, arguments.out) if arguments.out is not None else ():
        print(path)
    return _LEFT_OUT if analysis.left_out else DONE


def _bring(arguments: argparse.Namespace) -> int:
    want_extra("bring", "bring reads files of any program")
    from glucolab.reading.bringing.inferring.ambiguities import read_answers
    from glucolab.running.bringing import agree_always, ask_wearer, bring

    agree: Callable[[], bool] | None = None
    if arguments.yes or arguments.mapping is not None:
        agree = agree_always
    elif sys.stdin.isatty():
        agree = ask_wearer
    paths, problems = bring(
        arguments.file,
        arguments.into,
        _say,
        agree,
        save_mapping=arguments.save_mapping,
        table=arguments.table,
        mapping=arguments.mapping,
        sheet=arguments.sheet,
        answers=read_answers(arguments.say),
    )
    _list_problems(problems, arguments.debug)
    for path in paths:
        print(path)
    if not paths:
        _say("everything in it was there already")
    return _LEFT_OUT if any(problem.left_out for problem in problems) else DONE


def _share(arguments: argparse.Namespace) -> int:
    want_extra("pages", "what is shared is a page")
    from glucolab.running.sharing import share_into

    left_out = share_into(arguments.study, arguments.out, _say)
    _list_problems(left_out, arguments.debug)
    print(arguments.out)
    return _LEFT_OUT if left_out else DONE


def _export(arguments: argparse.Namespace) -> int:
    from glucolab.measuring.cautions import ALWAYS
    from glucolab.running.exporting import export_into

    readings, left_out = export_into(arguments.study, arguments.fhir, _say)
    _list_problems(left_out, arguments.debug)
    for line in (f"{readings:,} readings and the figures that are not withheld", *ALWAYS):
        _say(line)
    print(arguments.fhir)
    return _LEFT_OUT if left_out else DONE


def _many(arguments: argparse.Namespace) -> int:
    from glucolab.measuring.cautions import ALWAYS
    from glucolab.running.many.batch import How, many_into, most_workers

    how = How(arguments.workers or most_workers(), arguments.scheduler, arguments.again, arguments.debug)
    many = many_into(arguments.folder, arguments.out, _say, how)
    _list_problems(many.passed_over, arguments.debug)
    for line in (
        f"{many.studies} studies, {many.failed} failed; why, and what else was left out: left_out.csv",
        *ALWAYS,
    ):
        _say(line)
    for path in many.paths:
        print(path)
    if many.failed == many.studies:
        raise NothingToDo("not one study could be analysed: people.csv says why")
    return _LEFT_OUT if many.left_out or many.passed_over else DONE


def _reference(arguments: argparse.Namespace) -> int:
    want_extra("docs", "the reference is a page made with pdoc")
    from glucolab.running.reference import write_reference

    print(write_reference(arguments.into))
    return DONE


def _finish(analysis: StudyAnalysis, left_out: Sequence[Problem], paths: Sequence[Path], debug: bool) -> int:
    """List what was left out; print a line a wear, and what was written."""
    from glucolab.relating.trials.near_misses import doubt_trial_dates
    from glucolab.showing.display import display_of
    from glucolab.showing.words.findings.trials import say_decided
    from glucolab.showing.words.pages.wear import say_headline, say_latest_meal
    from glucolab.so_far import find_averages

    study = analysis.study
    notes = [*(p for p in study.problems if not p.left_out), *doubt_trial_dates(study)]
    _list_problems([*notes, *left_out], debug)
    for one, own in zip(analysis.wears, find_averages(analysis), strict=True):
        print(f"{one.wear.name}: {say_headline(own, one.summary, study.goal, study.person, display_of(study))}")
        if newest := say_latest_meal(one, display_of(study)):
            print(f"{one.wear.name}: {newest}")
    for text in say_decided(analysis.tables, display_of(study)):
        print(text)
    for path in paths:
        print(path)
    return _LEFT_OUT if left_out else DONE


COMMANDS = {
    "demo": _demo,
    "new": _new,
    "workbook": _workbook,
    "check": _check,
    "measure": _measure,
    "report": _report,
    "plan": _plan,
    "bring": _bring,
    "share": _share,
    "export": _export,
    "many": _many,
    "reference": _reference,
}


if __name__ == "__main__":
    sys.exit(main())

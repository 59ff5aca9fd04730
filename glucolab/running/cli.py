"""What can be asked for on the command line? Commands, exit codes that say how it went."""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from glucolab import __version__
from glucolab.errors import NothingToDo, Problem
from glucolab.running.asked import read_arms, read_date, read_number, read_span

if TYPE_CHECKING:
    from glucolab.analysis import StudyAnalysis

DONE, LEFT_OUT, NOTHING = 0, 1, 2
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
    arguments = _build_parser().parse_args(argv)
    # every matrix here is small: a second thread of linear algebra costs a third of the time and gains none
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    command: Callable[[argparse.Namespace], int] = arguments.command
    try:
        return command(arguments)
    except NothingToDo as reason:
        _list_problems(reason.problems)
        print(f"glucolab: {reason}", file=sys.stderr)
    except OSError as error:
        place = f" {error.filename}" if error.filename else ""
        print(f"glucolab: {error.strerror or error}{place}", file=sys.stderr)
    except KeyboardInterrupt:
        print("glucolab: stopped; the last report is as it was", file=sys.stderr)
        return INTERRUPTED
    except Exception as error:  # a fault of ours: said in a sentence, and never with the code of a run that was done
        frame = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{Path(frame.filename).name} line {frame.lineno}"
        print(f"glucolab: a fault in glucolab itself ({where}): {type(error).__name__}: {error}", file=sys.stderr)
    return NOTHING


def _build_parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="glucolab",
        description="After each glucose sensor wear: what happened, what it goes with, did it change, what to ask "
        "next. Not a diagnosis, and never for dosing a medicine.",
        epilog="Exit: 0 done; 1 done, but something was left out, listed; 2 nothing could be done, and why.",
    )
    parser.add_argument("--version", action="version", version=f"glucolab {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    _add(commands, "demo", _demo, "write an invented study to try things on", "DIR")
    new = _add(commands, "new", _new, "make the folder of a new wear, to be filled", "STUDY", "WEAR")
    new.add_argument(
        "--photos", type=Path, metavar="FOLDER", help="photos of meals: meals.csv begins with a row a photo"
    )
    _add(commands, "check", _check, "list every problem of a study, and what was read", "STUDY")
    for name, command, text in (
        ("measure", _measure, "write the tables"),
        ("report", _report, "write the tables and the pages"),
    ):
        one = _add(commands, name, command, text, "STUDY")
        one.add_argument(
            "--out", required=True, type=Path, metavar="DIR", help="where the report goes; an earlier one is replaced"
        )
    _add_plan(commands)
    _add_bring(commands)
    share = _add(commands, "share", _share, "write a page for a professional, without names", "STUDY")
    share.add_argument(
        "--out", required=True, type=Path, metavar="FILE", help="an HTML file of at most two printed sides"
    )
    export = _add(commands, "export", _export, "write readings and figures for a health record", "STUDY")
    export.add_argument("--fhir", required=True, type=Path, metavar="FILE", help="a Bundle of FHIR R4, as JSON")
    return parser


def _add_bring(commands) -> None:
    one = _add(commands, "bring", _bring, "bring any export's table into a wear", "FILE")
    one.add_argument("--into", required=True, type=Path, metavar="WEAR", help="STUDY/wear_periods/WEAR")
    one.add_argument("--as", dest="table", metavar="TABLE", help="which table it is; default: told from its columns")
    one.add_argument("--mapping", type=Path, metavar="M.toml", help="which column is what; then nothing is asked")
    one.add_argument("--save-mapping", type=Path, metavar="M.toml", help="write the mapping that was guessed")
    one.add_argument("--sheet", metavar="NAME", help="of a spreadsheet; default the one with most cells")
    text = "an answer where the file has two readings, such as unit=mmol/L; may be given again"
    one.add_argument("--say", metavar="KEY=VALUE", action="append", default=[], help=text)
    one.add_argument("--yes", action="store_true", help="write without asking")


def _add_plan(commands) -> None:
    one = _add(commands, "plan", _plan, "plan the next wear: finger-sticks, repeats, dates drawn by lot", "STUDY")
    for option, kind, metavar, text in (
        ("start", _asked(read_date), "DATE", "when the next sensor goes on; default tomorrow"),
        ("days", _asked(read_number), "N", "how long it is worn; default as long as the last one was to last"),
        ("trial", str, "NAME", "the experiment; default one that is open, or suggested by the log"),
        ("arms", _asked(read_arms), "A,B", "what is compared in a new experiment"),
        ("dish", str, "DISH", "the dish that is eaten"),
        ("difference", _asked(read_number), "MG_DL", "difference between the arms that is to be told"),
        ("seed", int, "N", "repeats a lot that was drawn; default a new one"),
        ("out", Path, "DIR", "a new folder for tables, a calendar and rows for trials.csv"),
    ):
        one.add_argument(f"--{option}", type=kind, metavar=metavar, help=text)
    text = "a day or a span without experiment, such as a trip; may be given again"
    one.add_argument("--avoid", type=_asked(read_span), metavar="DATE[/DATE]", action="append", default=[], help=text)


def _asked(read: Callable[[str], object]) -> Callable[[str], object]:
    """A reader of an option whose refusal argparse prints as it is worded."""

    def read_option(text: str) -> object:
        try:
            return read(text)
        except ValueError as fault:
            raise argparse.ArgumentTypeError(str(fault)) from None

    return read_option


def _add(commands, name: str, command: Callable, text: str, *positional: str) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=text, description=f"{text[0].upper()}{text[1:]}.")
    for one in positional:
        parser.add_argument(one.lower(), metavar=one, type=str if one == "WEAR" else Path)
    parser.set_defaults(command=command)
    return parser


def _say(text: str) -> None:
    """Progress goes to stderr."""
    print(text, file=sys.stderr, flush=True)


def _list_problems(problems: Sequence[Problem]) -> None:
    for problem in problems:
        _say(f"{'left out' if problem.left_out else 'note'}: {problem}")


def _demo(arguments: argparse.Namespace) -> int:
    from glucolab.simulate.demo import write_demo

    folder: Path = arguments.dir
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise NothingToDo(f"{folder} is not empty: choose a new folder")
    write_demo(folder)
    print(folder)
    return DONE


def _new(arguments: argparse.Namespace) -> int:
    from glucolab.reading.folder import start_wear
    from glucolab.reading.photo_meals import rows_of_photos

    photos = rows_of_photos(arguments.photos) if arguments.photos is not None else None
    for path in start_wear(arguments.study, arguments.wear, photos):
        print(path)
    problems = photos.problems if photos is not None else ()
    _list_problems(problems)
    return LEFT_OUT if problems else DONE


def _check(arguments: argparse.Namespace) -> int:
    from glucolab.reading.folder import read_study

    study = read_study(arguments.study)
    for wear in study.wears:
        counts = [f"{len(frame)} {name}" for name, frame in wear.tables.items() if len(frame)]
        print(f"{wear.name}: {', '.join(counts)}")
    counts = [f"{len(frame)} {name}" for name, frame in study.tables.items() if len(frame)]
    if counts:
        print(f"study: {', '.join(counts)}")
    for problem in study.problems:
        print(f"{'left out' if problem.left_out else 'note'}: {problem}")
    if not study.problems:
        print("no problems found")
    return LEFT_OUT if any(problem.left_out for problem in study.problems) else DONE


def _measure(arguments: argparse.Namespace) -> int:
    from glucolab.running.report import measure_into

    return _finish(*measure_into(arguments.study, arguments.out, _say))


def _report(arguments: argparse.Namespace) -> int:
    from glucolab.running.report import report_into

    return _finish(*report_into(arguments.study, arguments.out, _say))


def _plan(arguments: argparse.Namespace) -> int:
    import secrets
    from zoneinfo import ZoneInfo

    from glucolab.clock import ZoneSpans
    from glucolab.measuring.cautions import ALWAYS
    from glucolab.reading.folder import read_study
    from glucolab.relating.plan_choice import Wish
    from glucolab.running.planning import plan_from, want_plan_folder, write_plan
    from glucolab.showing.display import display_of
    from glucolab.showing.words.plan import say_plan

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
        difference_mg_dl=arguments.difference,
        seed=secrets.randbelow(2**31) if arguments.seed is None else arguments.seed,
    )
    analysis, plan = plan_from(study, wish, _say)
    _list_problems(analysis.left_out)
    zones = ZoneSpans((zone,))
    for line in [*say_plan(plan, zones, display_of(study)), "", *ALWAYS]:
        print(line)
    for path in write_plan(plan, zones, arguments.out) if arguments.out is not None else ():
        print(path)
    return LEFT_OUT if analysis.left_out else DONE


def _bring(arguments: argparse.Namespace) -> int:
    from glucolab.reading.bringing.questions import read_answers
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
    _list_problems(problems)
    for path in paths:
        print(path)
    if not paths:
        _say("everything in it was there already")
    return LEFT_OUT if any(problem.left_out for problem in problems) else DONE


def _share(arguments: argparse.Namespace) -> int:
    from glucolab.running.sharing import share_into

    left_out = share_into(arguments.study, arguments.out, _say)
    _list_problems(left_out)
    print(arguments.out)
    return LEFT_OUT if left_out else DONE


def _export(arguments: argparse.Namespace) -> int:
    from glucolab.measuring.cautions import ALWAYS
    from glucolab.running.exporting import export_into

    readings, left_out = export_into(arguments.study, arguments.fhir, _say)
    _list_problems(left_out)
    for line in (f"{readings:,} readings and the figures that are not withheld", *ALWAYS):
        _say(line)
    print(arguments.fhir)
    return LEFT_OUT if left_out else DONE


def _finish(analysis: StudyAnalysis, left_out: Sequence[Problem], paths: Sequence[Path]) -> int:
    """List what was left out; print a line a wear, and what was written."""
    from glucolab.showing.display import display_of
    from glucolab.showing.words.wear import say_headline

    study = analysis.study
    _list_problems([problem for problem in study.problems if not problem.left_out])
    _list_problems(left_out)
    for one in analysis.wears:
        print(f"{one.wear.name}: {say_headline(one.summary, study.goal, study.person, display_of(study))}")
    for path in paths:
        print(path)
    return LEFT_OUT if left_out else DONE


if __name__ == "__main__":
    sys.exit(main())

"""Which options has each command? What is typed, as values; a refusal as it is worded."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path

from glucolab import __version__
from glucolab.running.arguments import parse_span, read_arms, read_count, read_date, read_number

Command = Callable[[argparse.Namespace], int]


def build_parser(commands: Mapping[str, Command]) -> argparse.ArgumentParser:
    """The parser of the command line; ``command`` of what it reads is the function to be called.

    Parameters
    ----------
    commands : mapping of str to callable
        What each command's name calls.
    """
    parser = argparse.ArgumentParser(
        prog="glucolab",
        description="After each glucose sensor wear: what happened, what it goes with, did it change, what to ask "
        "next. Not a diagnosis, and never for dosing a medicine.",
        epilog="Exit: 0 done; 1 done, but something was left out, listed; 2 nothing could be done, and why.",
    )
    parser.add_argument("--version", action="version", version=f"glucolab {__version__}")
    debug = "print the full traceback of every fault in glucolab itself"
    parser.add_argument("--debug", action="store_true", help=debug)
    offered = parser.add_subparsers(required=True, metavar="COMMAND")

    def add(name: str, text: str, *positional: str) -> argparse.ArgumentParser:
        one: argparse.ArgumentParser = offered.add_parser(name, help=text, description=f"{text[0].upper()}{text[1:]}.")
        for place in positional:
            one.add_argument(place.lower(), metavar=place, type=str if place == "WEAR" else Path)
        # before or after the command: absent after it, it must not undo one before it
        one.add_argument("--debug", action="store_true", default=argparse.SUPPRESS, help=debug)
        one.set_defaults(command=commands[name])
        return one

    add("demo", "write an invented study to try things on", "DIR")
    new = add("new", "make the folder of a new wear, to be filled", "STUDY", "WEAR")
    text = "photos of meals: meals.csv begins with a row a photo"
    new.add_argument("--photos", type=Path, metavar="FOLDER", help=text)
    workbook = add("workbook", "open the workbook in JupyterLab, at the folder of studies, notebooks and reports")
    text = "the folder; what it lacks of notebooks and example is put into it; default the current one, as it is"
    workbook.add_argument("folder", metavar="DIR", nargs="?", type=Path, help=text)
    workbook.add_argument("--no-browser", dest="browser", action="store_false", help="print the address alone")
    add("check", "list every problem of a study, and what was read", "STUDY")
    place = "where the report goes; an earlier one is replaced"
    _add_out(add("measure", "write the tables", "STUDY"), "DIR", place)
    report = add("report", "write the tables and the pages", "STUDY")
    _add_out(report, "DIR", place)
    report.add_argument("--again", action="store_true", help="make all pages anew, those too that nothing changed")
    _add_plan(add("plan", "plan the next wear: finger-sticks, repeats, dates drawn by lot", "STUDY"))
    _add_bring(add("bring", "bring any export's table into a wear", "FILE"))
    share = add("share", "write a page for a professional, without names", "STUDY")
    _add_out(share, "FILE", "an HTML file of at most two printed sides")
    export = add("export", "write readings and figures for a health record", "STUDY")
    export.add_argument("--fhir", required=True, type=Path, metavar="FILE", help="a Bundle of FHIR R4, as JSON")
    _add_many(add("many", "analyse every study in a folder, and write tables over all people", "FOLDER"))
    _add_into(add("reference", "write the reference of the library as one page that opens offline"))
    return parser


def _add_out(one: argparse.ArgumentParser, metavar: str, text: str) -> None:
    one.add_argument("--out", required=True, type=Path, metavar=metavar, help=text)


def _add_into(one: argparse.ArgumentParser) -> None:
    place = Path("reports", "reference")
    one.add_argument("--into", type=Path, default=place, metavar="DIR", help=f"default {place.as_posix()}")


def _add_many(one: argparse.ArgumentParser) -> None:
    _add_out(one, "DIR", "where the tables go, and what is finished is kept: a run that was stopped goes on")
    text = "processes on this computer; default as many as it has processors"
    one.add_argument("--workers", type=_asked(read_count), metavar="N", help=text)
    text = "a Dask cluster instead, such as tcp://10.0.0.5:8786, whose workers see FOLDER under the same path"
    one.add_argument("--scheduler", metavar="ADDRESS", help=text)
    one.add_argument("--again", action="store_true", help="do all studies anew, those too that nothing changed")


def _add_bring(one: argparse.ArgumentParser) -> None:
    one.add_argument("--into", required=True, type=Path, metavar="WEAR", help="STUDY/wear_periods/WEAR")
    one.add_argument("--as", dest="table", metavar="TABLE", help="which table it is; default: told from its columns")
    one.add_argument("--mapping", type=Path, metavar="M.toml", help="which column is what; then nothing is asked")
    one.add_argument("--save-mapping", type=Path, metavar="M.toml", help="write the mapping that was guessed")
    one.add_argument("--sheet", metavar="NAME", help="of a spreadsheet; default the one with most cells")
    text = "an answer where the file has two readings, such as unit=mmol/L; may be given again"
    one.add_argument("--say", metavar="KEY=VALUE", action="append", default=[], help=text)
    one.add_argument("--yes", action="store_true", help="write without asking")


def _add_plan(one: argparse.ArgumentParser) -> None:
    for option, kind, metavar, text in (
        ("start", _asked(read_date), "DATE", "when the next sensor goes on; default tomorrow"),
        ("days", _asked(read_number), "N", "how long it is worn; default as long as the last one was to last"),
        ("trial", str, "NAME", "the experiment; default one that is open, or suggested by the log"),
        ("arms", _asked(read_arms), "A,B", "what is compared in a new experiment; without --dish, two dishes"),
        ("factor", str, "NAME", "in place of --arms: a factor of effects.csv, or a true or false column of days.csv"),
        ("dish", str, "DISH", "the dish that is eaten"),
        ("difference", _asked(read_number), "MG_DL", "difference between the arms that is to be told"),
        ("seed", int, "N", "repeats a lot that was drawn; default a new one"),
        ("out", Path, "DIR", "a new folder for tables, a calendar and rows for trials.csv"),
    ):
        one.add_argument(f"--{option}", type=kind, metavar=metavar, help=text)
    text = "a day or a span without experiment, such as a trip; may be given again"
    one.add_argument("--avoid", type=_asked(parse_span), metavar="DATE[/DATE]", action="append", default=[], help=text)


def _asked(read: Callable[[str], object]) -> Callable[[str], object]:
    """A reader of an option whose refusal argparse prints as it is worded."""

    def read_option(text: str) -> object:
        try:
            return read(text)
        except ValueError as fault:
            raise argparse.ArgumentTypeError(str(fault)) from None

    return read_option

"""Where does it come from? A study folder as one record, with every problem found in it."""

from __future__ import annotations

import os
from pathlib import Path

import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import NothingToDo
from glucolab.reading.files import StudyFiles, show_path
from glucolab.reading.new_wear import start_wear
from glucolab.reading.plausibility import doubt_overlaps
from glucolab.reading.text import UnreadableError, did_you_mean, show
from glucolab.reading.toml_settings import Settings, read_settings
from glucolab.reading.valid_rows import settle_table
from glucolab.reading.wear import WearLeftOutError, read_table, read_wear
from glucolab.record import STUDY_FREE_KEYS, STUDY_KEYS, STUDY_TABLES, ByName, Goal, Person, Study, WearPeriod
from glucolab.units import glucose_to_mg_dl

__all__ = ["read_study", "start_wear"]

WEARS = "wear_periods"
MOST_LETTERS = 60
"""Of a description to hand over [letters]; assumed. Longer ones break the lines of a printed side."""


def read_study(path: str | Path, only: str | None = None, now: pd.Timestamp | None = None) -> Study:
    """Read a study folder.

    Whatever is wrong is reported in `Study.problems` with file, line and column; whatever is sound
    is used. A wear without usable wear.toml or glucose.csv is left out. No file is written to, none
    outside the folder is read.

    Parameters
    ----------
    path : Path
        The study folder.
    only : str, optional
        Name of the one wear to read.
    now : pandas.Timestamp, optional
        When it is read, which tells a wear that is still running from one whose end was not written; default the
        computer's clock. [UTC]

    Returns
    -------
    Study

    Raises
    ------
    NothingToDo
        If there is no such folder, it has no study.toml, or no wear of it (or not the one named) can be used; its
        `problems` hold all that was found.

    Examples
    --------
    >>> import tempfile, glucolab as gl
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     gl.simulate.write_study(gl.simulate.example_study(), folder)
    ...     study = gl.read_study(folder)
    >>> study.wears["wear_2"].unit, len(study.problems)
    ('mg/dL', 0)
    """
    files = StudyFiles(Path(path))
    _want_folder(files.root)
    settings = _read_study_toml(files)
    zone = settings.values["person", "time_zone"]
    now = pd.Timestamp.now("UTC") if now is None else now
    wears, reasons = _read_wears(files, zone, only, now)
    tables = _read_tables(files, zone or "UTC")
    files.hint_at_names("", files.list_folder(""), ["study.toml", WEARS, *(f"{name}.csv" for name in STUDY_TABLES)])
    files.problems += doubt_overlaps(wears, WEARS)
    if not wears:
        raise NothingToDo(f"{path}: {_word_nothing(reasons, only)}", tuple(files.problems))
    unit, numbers = settings.values["show", "unit"], settings.values["show", "numbers"]
    person, goal = _person(files, settings, wears), _goal(files, settings)
    low, high = _range(files, settings)
    described = _describe_columns(files, settings, wears)
    return Study(
        name=os.path.basename(os.path.abspath(files.root)),
        person=person,
        unit=unit,
        numbers=numbers,
        goal=goal,
        range_low_mg_dl=low,
        range_high_mg_dl=high,
        wears=ByName(wears),
        tables=tables,
        problems=tuple(files.problems),
        input_hashes=files.hashes,
        described=described,
    )


def read_home(files: StudyFiles) -> str | None:
    """The study's time zone, None if it does not say; without a study.toml that can be read nothing is done."""
    _want_folder(files.root)
    return _read_study_toml(files).values["person", "time_zone"]


def read_shown(study: Path) -> tuple[str, bool]:
    """The unit in which a study is shown, and whether glucose figures are.

    Raises
    ------
    NothingToDo
        If there is no study.
    """
    values = _read_study_toml(StudyFiles(study)).values
    return values["show", "unit"], values["show", "numbers"]


def _want_folder(root: Path) -> None:
    if not os.path.exists(root):
        raise NothingToDo(f"{show(str(root), most=400)} does not exist")
    if not os.path.isdir(root):
        raise NothingToDo(f"{root} is not a folder: name the study folder")
    if os.path.lexists(root / "wear.toml"):
        raise NothingToDo(f"{root} is the folder of one wear: name the study folder, two levels up")


def _read_study_toml(files: StudyFiles) -> Settings:
    data = files.read("study.toml")
    if data is None:
        why = files.problems[0].text if files.problems else "is missing (glucolab new STUDY WEAR starts a study folder)"
        raise NothingToDo(f"{files.root}: study.toml {why}", tuple(files.problems))
    try:
        settings = read_settings(data, STUDY_KEYS, "study.toml", STUDY_FREE_KEYS)
    except UnreadableError as fault:
        raise NothingToDo(f"{files.root}: study.toml {fault}") from None
    files.problems += settings.problems
    return settings


def _read_wears(
    files: StudyFiles, zone: str | None, only: str | None, now: pd.Timestamp
) -> tuple[list[WearPeriod], list[str]]:
    """The wears that can be used, and why others cannot."""
    wears, reasons = [], []
    if not files.is_folder(WEARS):
        return [], [f"it has no folder {WEARS}"]
    for name in files.list_folder(WEARS):
        if only is not None and name != only:
            continue
        if (files.root / WEARS / name).is_file():
            files.report(f"{WEARS}/{name}", "is a file where folders of wears are expected", left_out=False)
            continue
        try:
            wears.append(read_wear(files, WEARS, name, zone, now))
        except WearLeftOutError as reason:
            files.report(f"{WEARS}/{name}", f"the wear is left out: {reason}")
            reasons.append(f"{show_path(name)}: {reason}")
    return wears, reasons


def _word_nothing(reasons: list[str], only: str | None) -> str:
    if not reasons and only is not None:
        return f'it has no wear "{show(only)}"'
    if not reasons:
        return f"no wear can be used: {WEARS} is empty"
    more = f"; and {len(reasons) - 3} more" if len(reasons) > 3 else ""
    return f"no wear can be used: {'; '.join(reasons[:3])}{more}"


def _read_tables(files: StudyFiles, zone: str) -> dict[str, pd.DataFrame]:
    tables = {}
    for name, table in STUDY_TABLES.items():
        parsed = read_table(files, f"{name}.csv", table)
        if parsed is not None:
            settled = settle_table(parsed, ZoneSpans((zone,)))
            tables[name] = settled.frame
            files.problems += settled.problems
    return tables


def _person(files: StudyFiles, settings: Settings, wears: list[WearPeriod]) -> Person:
    zone = settings.values["person", "time_zone"]
    if zone is None:
        zone = wears[0].zones.names[0]
        files.report("study.toml", f"without a time zone the study's dates are read in {zone}, as {wears[0].name} is")
    truths = {name: settings.values["person", name] for name in ("under_18", "pregnant", "glucose_lowering_medicine")}
    return Person(zone, **truths)


def _goal(files: StudyFiles, settings: Settings) -> Goal:
    values = {name: value for (section, name), value in settings.values.items() if section == "goal"}
    mean, mean_mmol_l = values["mean_mg_dl"], values["mean_mmol_l"]
    line = settings.lines.get(("goal", "mean_mmol_l"))
    if mean is not None and mean_mmol_l is not None:
        files.report("study.toml", "mean_mg_dl and mean_mmol_l are both given: write one; no goal is used", line)
        mean = None
    elif mean_mmol_l is not None:
        mean = glucose_to_mg_dl(mean_mmol_l, "mmol/L")
    start, by = values["start"], values["by"]
    if start and by and by <= start:
        line = settings.lines.get(("goal", "by"))
        files.report("study.toml", f"by {by} is not after start {start} in [goal]: neither is used", line)
        start = by = None
    return Goal(mean, start, by, values["worth_noticing_mg_dl"])


def _describe_columns(files: StudyFiles, settings: Settings, wears: list[WearPeriod]) -> dict[str, str]:
    """The wearer's words for columns of their own; those of no column are reported."""
    columns = list(dict.fromkeys(column for wear in wears for column in wear.days.columns))
    described: dict[str, str] = {}
    for (section, name), text in settings.values.items():
        if section != "describe":
            continue
        line, words = settings.lines.get((section, name)), " ".join(text.split())
        if name not in columns:
            fault = f'[describe] "{show(name)}" is no column of any days.csv{did_you_mean(name, columns)}'
            files.report("study.toml", fault, line, left_out=False)
        elif not 0 < len(words) <= MOST_LETTERS:
            fault = f"[describe] {show(name)} needs 1 to {MOST_LETTERS} letters: it is handed over as an own note"
            files.report("study.toml", fault, line, left_out=False)
        else:
            described[name] = words
    return described


def _range(files: StudyFiles, settings: Settings) -> tuple[float, float]:
    low, high = (settings.values["range", "low_mg_dl"], settings.values["range", "high_mg_dl"])
    if low < high:
        return low, high
    usual = f"{Study.range_low_mg_dl:g} to {Study.range_high_mg_dl:g}"
    text = f"low_mg_dl {low:g} is not below high_mg_dl {high:g} in [range]: {usual} is used"
    files.report("study.toml", text, settings.lines.get(("range", "low_mg_dl")))
    return Study.range_low_mg_dl, Study.range_high_mg_dl

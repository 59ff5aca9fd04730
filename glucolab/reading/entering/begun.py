"""What was typed of a new study, or a new wear: can it be begun so? The text of its settings file, not yet written."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path

import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import Problem
from glucolab.reading.bringing.mapping.times import settle
from glucolab.reading.cells import parse_numbers
from glucolab.reading.entering.entry import RefusedError, read_clock
from glucolab.reading.files import StudyFiles
from glucolab.reading.folder import WEARS, read_home
from glucolab.reading.new_wear import find_name_fault, study_text, wear_text
from glucolab.reading.text import show
from glucolab.reading.toml_settings import read_settings
from glucolab.record import STUDY_KEYS, WEAR_KEYS, Key

GOAL_KEYS = {"mg/dL": "mean_mg_dl", "mmol/L": "mean_mmol_l"}
TRUTHS = ("under_18", "pregnant", "glucose_lowering_medicine")
FREE = ("sensor_model", "meter", "site")
"""What is written of a wear in free text, where it is known."""


def make_study(parent: Path, typed: Mapping[str, str], truths: Mapping[str, bool]) -> tuple[Path, str]:
    """The folder of a new study and the text of its study.toml; nothing is written.

    Parameters
    ----------
    parent : Path
        The folder that it would lie in.
    typed : mapping of str to str
        `name`, `time_zone`, `unit`, `goal`: a mean in that unit, or "".
    truths : mapping of str to bool
        Those of `TRUTHS` that hold.

    Returns
    -------
    Path, str

    Raises
    ------
    RefusedError
        If a field cannot be used, by field.
    """
    name, unit, goal = typed["name"].strip(), typed["unit"], typed["goal"].strip()
    values: dict[str, str | float | bool | date] = {"time_zone": typed["time_zone"].strip(), "unit": unit, **truths}
    faults = _of_name(name, parent / name)
    if goal:
        number, wrong = parse_numbers([goal], "goal")
        faults |= {"goal": wrong[0]} if wrong else {}
        values |= {} if wrong else {GOAL_KEYS[unit]: float(number[0])}
    text = study_text(None, values)
    faults |= _of_settings(text, STUDY_KEYS, {GOAL_KEYS[unit]: "goal"})
    if faults:
        raise RefusedError(faults)
    return parent / name, text


def make_wear(study: Path, typed: Mapping[str, str]) -> tuple[str, str]:
    """The name of a new wear and the text of its wear.toml; nothing is written.

    Parameters
    ----------
    study : Path
    typed : mapping of str to str
        `name` ("" for the day on which it began), `day` and `clock` on which the sensor went on, `end_day` and
        `end_clock` on which it came off or "", `unit`, and those of `FREE` that are known.

    Returns
    -------
    str, str

    Raises
    ------
    RefusedError
        If a field cannot be used, by field.
    NothingToDo
        If there is no study.
    """
    faults: dict[str, str] = {}
    zones = ZoneSpans((read_home(StudyFiles(study)) or "UTC",))
    start = _read_moment(typed, "", zones, faults)
    if start is None and not faults:
        faults["day"] = "is empty: choose the day on which the sensor went on"
    end = _read_moment(typed, "end_", zones, faults)
    if start is not None and end is not None and end <= start:
        faults["end_day"] = "does not lie after the beginning"
    name = typed.get("name", "").strip() or typed.get("day", "")
    faults |= _of_name(name, study / WEARS / name) if name else {}
    values: dict[str, str | float | bool | date] = {"unit": typed["unit"]}
    values |= {key: moment for key, moment in (("start", start), ("end", end)) if moment is not None}
    values |= {key: typed[key].strip() for key in FREE if typed.get(key, "").strip()}
    text = wear_text(values)
    if not faults:
        faults = _of_settings(text, {"": WEAR_KEYS}, {"start": "day", "end": "end_day"})
    if faults:
        raise RefusedError(faults)
    return name, text


def _of_name(name: str, folder: Path) -> dict[str, str]:
    if not name:
        return {"name": "is empty"}
    if fault := find_name_fault(name):
        return {"name": fault}
    filled = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    return {"name": f'"{show(name)}" is already there: choose another name'} if filled else {}


def _read_moment(typed: Mapping[str, str], which: str, zones: ZoneSpans, faults: dict[str, str]) -> datetime | None:
    """A day and a clock as one local time; what is wrong with them goes to `faults`."""
    day, clock = typed.get(f"{which}day", ""), typed.get(f"{which}clock", "").strip()
    if not day and not clock:
        return None
    read = read_clock(clock)
    if not day:
        faults[f"{which}day"] = "is empty: choose the day"
    elif read is None:
        why = f'"{show(clock)}" is not a time of day such as 08:10' if clock else "is empty: write it as 08:10"
        faults[f"{which}clock"] = why
    elif pd.isna(settle([f"{day}T{read}"], zones)[0]):
        faults[f"{which}clock"] = f"{day} {read} does not exist: the spring clock change skips it"
    else:
        return datetime.fromisoformat(f"{day}T{read}:00")
    return None


def _of_settings(text: str, schema: Mapping[str, tuple[Key, ...]], fields: Mapping[str, str]) -> dict[str, str]:
    """What the reader of settings finds wrong, by field."""
    settings = read_settings(text.encode(), schema, "settings")
    return {fields.get(key, key): rest for key, rest in map(_by_key, settings.problems)}


def _by_key(problem: Problem) -> tuple[str, str]:
    key, _, rest = problem.text.partition(" ")
    return key, rest

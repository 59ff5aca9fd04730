"""What happened in one wear? A wear folder as one record, or the reason why it cannot be used."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_utc
from glucolab.conventions import LOGGED_AT
from glucolab.reading import rules
from glucolab.reading.files import StudyFiles
from glucolab.reading.movement_rules import doubt_movement, want_possible_movement
from glucolab.reading.photos import fill_times
from glucolab.reading.plausibility import doubt_logs, doubt_readings, find_wrong_unit
from glucolab.reading.repeated_dishes import doubt_spellings, fill_repeats
from glucolab.reading.second_sensor import find_second_sensor
from glucolab.reading.tables import ParsedTable, parse_table
from glucolab.reading.text import UnreadableError
from glucolab.reading.toml_settings import Settings, read_settings
from glucolab.reading.travel import find_unchanged_clock, find_zones
from glucolab.reading.valid_rows import Rule, settle_table
from glucolab.record import STUDY_TABLES, WEAR_KEYS, WEAR_TABLES, Table, WearPeriod

_TAKEN_NAMES = ("study",)
"""Folders that a report makes beside those of the wears."""

SILENT_AFTER = pd.Timedelta(days=2)
"""A wear without an end whose last reading is as old has ended with it; the contract's. Shorter, a weekend without a
scan ends a wear; longer, a finished one is spoken of as running."""

_WORDS = {"glucose": {"glucose": rules.LIMIT_WORDS}}
_RULES: dict[str, Rule] = {
    "sleep": rules.want_sleep_in_order,
    "notes": rules.want_notes_in_order,
    "days": rules.want_days_once,
    "movement": want_possible_movement,
}
_POSSIBLE: dict[str, Rule] = {"meals": rules.want_possible_nutrients}
_NEEDED = {"meals": ("time",)}


class WearLeftOutError(Exception):
    """A wear cannot be used, and why."""


def read_wear(files: StudyFiles, parent: str, name: str, home: str | None, now: pd.Timestamp) -> WearPeriod:
    """Read one wear folder; every problem goes to `files`, also of a wear that is then left out.

    Parameters
    ----------
    files : StudyFiles
    parent : str
        The folder of the wears, below the study folder.
    name : str
        The wear's folder.
    home : str or None
        The study's time zone.
    now : pandas.Timestamp
        A wear without an end is still running if it had a reading shortly before. [UTC]

    Raises
    ------
    WearLeftOutError
        Without a usable wear.toml and glucose.csv.
    """
    folder = f"{parent}/{name}"
    want_wear_folder(files, folder, name)
    _hint_at_files(files, folder)
    settings = read_wear_toml(files, folder)
    values = {key: value for (_, key), value in settings.values.items()}
    zone = values["time_zone"] or home
    tables, zones, wrong_unit = _read_tables(files, folder, zone or "UTC", values)
    given, end = read_span(files, folder, settings, zones)
    if f"{folder}/wear.toml" not in files.hashes:
        raise WearLeftOutError("it has no wear.toml that can be read")
    start = want_usable(settings, zone, given)
    _want_readings(files, folder, tables, wrong_unit)
    want_one_sensor(tables["glucose"], zones)
    kept: dict[str, Any] = {key: values[key] for key in _PLAIN_KEYS}
    kept |= {key: values[key] or "" for key in ("sensor", "sensor_model", "meter", "site")}
    silent = end is None and _is_silent(tables["glucose"]["time"], now)
    wear = WearPeriod(name=name, start=start, end=end, silent=silent, zones=zones, tables=tables, **kept)
    files.problems += [*doubt_readings(wear, folder), *doubt_logs(wear, folder), *doubt_movement(wear, folder)]
    return wear


_PLAIN_KEYS = (
    "unit", "ended", "life_days", "warm_up_hours", "interval_min", "memory_hours", "reads_from_mg_dl", "reads_to_mg_dl",
)  # fmt: skip


def _is_silent(times: pd.Series, now: pd.Timestamp) -> bool:
    past = times[times <= now]
    return bool(len(past)) and now - past.max() >= SILENT_AFTER


def read_table(files: StudyFiles, file: str, table: Table) -> ParsedTable | None:
    """The cells of one file; None if it is absent or cannot be used, which is reported."""
    data = files.read(file)
    if data is None:
        return None
    try:
        return parse_table(data, table, file, _WORDS.get(table.name))
    except UnreadableError as fault:
        files.report(file, str(fault), fault.line)
        return None


def want_wear_folder(files: StudyFiles, folder: str, name: str) -> None:
    """Refuse what is no folder of a wear."""
    if not files.is_folder(folder):
        raise WearLeftOutError("it is not a folder of this study")
    if not name.isprintable():
        raise WearLeftOutError("its name holds characters that cannot be shown: rename it")
    if name.lower() in _TAKEN_NAMES:
        raise WearLeftOutError(f'reports keep the name "{name}" for themselves: rename it')


def _hint_at_files(files: StudyFiles, folder: str) -> None:
    found = files.list_folder(folder)
    files.hint_at_names(folder, found, ["wear.toml", "photos", *(f"{name}.csv" for name in WEAR_TABLES)])
    for name in found:
        if name in {"study.toml", *(f"{table}.csv" for table in STUDY_TABLES)}:
            files.report(f"{folder}/{name}", "is not read here: it belongs in the study folder", left_out=False)


def read_wear_toml(files: StudyFiles, folder: str) -> Settings:
    """The keys of wear.toml; what is wrong with them is reported."""
    file = f"{folder}/wear.toml"
    data = files.read(file)
    try:
        settings = read_settings(data or b"", {"": WEAR_KEYS}, file)
    except UnreadableError as fault:
        files.report(file, str(fault))
        return read_settings(b"", {"": WEAR_KEYS}, file)
    if data is not None:
        files.problems += settings.problems
    return settings


def _read_tables(
    files: StudyFiles, folder: str, zone: str, values: Mapping[str, Any]
) -> tuple[dict[str, pd.DataFrame], ZoneSpans, str | None]:
    """The tables, the zones that the notes tell of, and what is wrong with the unit."""
    parsed = {name: read_table(files, f"{folder}/{name}.csv", table) for name, table in WEAR_TABLES.items()}
    zones = ZoneSpans((zone,))
    if (notes := parsed["notes"]) is not None:
        travel = find_zones(notes, zone)
        zones, parsed["notes"] = travel.zones, travel.notes
        files.problems += travel.problems
    unit, glucose = values["unit"], parsed["glucose"]
    if glucose is not None and (kept_by := find_unchanged_clock(glucose.times["time"].local, zones)):
        skipped, offset = kept_by
        text = (
            f"the readings run on through the hour after {skipped:%Y-%m-%d %H:%M}, which the clocks of {zone} skip: "
            f"the sensor's clock did not change, and all of the wear is read by the offset it began with, {offset}"
        )
        files.report(f"{folder}/glucose.csv", text, left_out=False)
        zones = ZoneSpans((offset,))
    wrong_unit = find_wrong_unit(np.asarray(glucose.values["glucose"]), unit) if unit and glucose is not None else None
    converts: dict[str, Rule] = {}
    if unit and not wrong_unit:
        limits = values["reads_from_mg_dl"], values["reads_to_mg_dl"]
        converts = {"glucose": rules.convert_readings(unit, *limits), "checks": rules.convert_checks(unit)}
    converts["meals"] = rules.want_time(has_trips=len(zones.names) > 1)
    if (meals := parsed["meals"]) is not None:
        parsed["meals"] = fill_times(meals, files, folder)
    tables = {}
    for name, table in parsed.items():
        if table is not None:
            settled = settle_table(table, zones, rules_of(name, converts), _NEEDED.get(name, ()))
            tables[name] = settled.frame
            files.problems += settled.problems
    if "meals" in tables:
        file = f"{folder}/meals.csv"
        tables["meals"], repeats = fill_repeats(tables["meals"], file)
        files.problems += [*repeats, *doubt_spellings(tables["meals"], file)]
    ahead = pd.Timedelta(minutes=values["log_ahead_min"])
    for name, column in LOGGED_AT.items():
        if name in tables and ahead:
            tables[name][column] = tables[name][column] - ahead
    return tables, zones, wrong_unit


def rules_of(table: str, converts: dict[str, Rule]) -> list[Rule]:
    """What must hold within the rows of a table; `converts` are the rules that depend on the wear's settings."""
    return [rule for rule in ((_RULES | converts).get(table), _POSSIBLE.get(table)) if rule]


def read_span(
    files: StudyFiles, folder: str, settings: Settings, zones: ZoneSpans
) -> tuple[pd.Timestamp | None, pd.Timestamp | None]:
    """Start and end of the wear, None where there is none or it cannot be used."""
    moments: dict[str, pd.Timestamp | None] = {}
    for name in ("start", "end"):
        written = settings.values["", name]
        moments[name] = None if written is None else _settle(written, zones)
        if written is not None and moments[name] is None:
            text = f'{name} "{written}" does not exist: the spring clock change skips it'
            files.report(f"{folder}/wear.toml", text, settings.lines.get(("", name)))
    start, end = moments["start"], moments["end"]
    if start is not None and end is not None and end <= start:
        text = "end is not after start: it is not used, and the wear is read as still running"
        files.report(f"{folder}/wear.toml", text, settings.lines.get(("", "end")))
        end = None
    return start, end


def _settle(written: datetime, zones: ZoneSpans) -> pd.Timestamp | None:
    if written.tzinfo is not None:
        return pd.Timestamp(written).tz_convert("UTC").as_unit("us")
    settled = to_utc(pd.DatetimeIndex([written]), zones)
    return None if settled.skipped[0] else settled.times[0]


def want_usable(settings: Settings, zone: str | None, start: pd.Timestamp | None) -> pd.Timestamp:
    """Refuse a wear whose wear.toml does not say what has to be known; its start."""
    missing = [*settings.missing]
    if start is None and "start" not in missing:
        missing.append("start")
    if start is None or missing:
        raise WearLeftOutError(f"wear.toml gives no {' and no '.join(missing)} that can be used")
    if ("", "time_zone") in settings.spoilt:
        raise WearLeftOutError("its times would be read in the wrong time zone: mend time_zone in wear.toml")
    if zone is None:
        raise WearLeftOutError("its time zone is not known: write time_zone below [person] in study.toml")
    return start


def _want_readings(files: StudyFiles, folder: str, tables: Mapping[str, pd.DataFrame], wrong_unit: str | None) -> None:
    if wrong_unit:
        raise WearLeftOutError(wrong_unit)
    if "glucose" not in tables:
        there = f"{folder}/glucose.csv" in files.hashes
        raise WearLeftOutError("glucose.csv cannot be used" if there else "it has no glucose.csv that can be read")
    if tables["glucose"].empty:
        there = any(problem.file == f"{folder}/glucose.csv" and problem.left_out for problem in files.problems)
        raise WearLeftOutError("no row of glucose.csv can be used" if there else "glucose.csv has no readings yet")


def want_one_sensor(glucose: pd.DataFrame, zones: ZoneSpans) -> None:
    """Refuse readings of two sensors at once, which would be averaged into one that nobody wore.

    Scans by hand are those of the same sensor at other moments and are not judged.
    """
    automatic = glucose[(glucose["taken"] != "by_hand").to_numpy(dtype=bool)]
    readings = pd.Series(automatic["glucose_mg_dl"].to_numpy(), index=pd.DatetimeIndex(automatic["time"]))
    found = find_second_sensor(readings)
    if found is not None:
        lines = " and ".join(str(automatic.index[row]) for row in sorted(found.rows))
        raise WearLeftOutError(
            f"glucose.csv holds the readings of two sensors at once, {found.word_span(zones)}, such as on lines {lines}"
            ": give each sensor a wear of its own"
        )

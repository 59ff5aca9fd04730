"""Can what was typed stand in the study? One entry, judged by the rules of its whole table, and the row it becomes."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.clock import format_times, to_local
from glucolab.reading import rules
from glucolab.reading.bringing.mapping.times import settle
from glucolab.reading.bringing.merging.merge_rows import lies_inside
from glucolab.reading.cells import parse_covariate, parse_numbers
from glucolab.reading.entering.table_edits import Edit, OpenTable, append_row, fill_row, open_table
from glucolab.reading.files import StudyFiles
from glucolab.reading.folder import WEARS
from glucolab.reading.photos import fill_times
from glucolab.reading.tables import parse_table
from glucolab.reading.text import plain, show
from glucolab.reading.valid_rows import find_faults
from glucolab.reading.wear import rules_of
from glucolab.reading.wear_context import Place
from glucolab.record import INPUT_TABLES
from glucolab.units import glucose_from_mg_dl, glucose_to_mg_dl

ENTERED = ("meals", "feelings", "checks", "days", "notes")
"""Tables that are typed into; the others are written by devices."""

DAY_FIELD, CLOCK_FIELD = "day", "clock"
"""What is typed in place of a time: the local day as 2026-03-03, and the clock as 12:40."""

EARLY = pd.Timedelta(minutes=15)
"""A machine's clock may be so far behind the wearer's; later than that is still to come. Common practice, no source."""

MOST_DAYS_OFFERED = 60
"""So many days are offered of a wear that says no end: longer than a sensor lasts. Common practice, no source."""

_CLOCK_TYPED = re.compile(r"([01]?\d|2[0-3])[:.h]?([0-5]\d)", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_OFFSET_WRITTEN = re.compile(r"(Z|[+-]\d\d(:?\d\d)?)$")


class RefusedError(Exception):
    """What was typed cannot stand in the table, and why.

    Attributes
    ----------
    faults : dict of str to str
        By field: a column, `DAY_FIELD` or `CLOCK_FIELD`.
    """

    def __init__(self, faults: Mapping[str, str]):
        super().__init__("; ".join(faults.values()))
        self.faults = dict(faults)


@dataclass(frozen=True)
class Entry:
    """One row that may be written.

    Attributes
    ----------
    table : str
    cells : dict of str to str
        As typed, numbers with a decimal point; glucose in `unit`.
    local : pandas.Timestamp
        When it was, on the wearer's clocks; midnight for a day.
    unit : str
        Of the glucose that was typed.
    edit : Edit
        What the file becomes.
    """

    table: str
    cells: Mapping[str, str]
    local: pd.Timestamp
    unit: str
    edit: Edit


def make_entry(place: Place, table: str, typed: Mapping[str, str], unit: str, now: pd.Timestamp) -> Entry:
    """Judge what was typed, and make the row of it; nothing is written.

    Parameters
    ----------
    place : Place
        The wear.
    table : {"meals", "feelings", "checks", "days", "notes"}
    typed : mapping of str to str
        Texts by column, `DAY_FIELD` and `CLOCK_FIELD` in place of a time. No clock is now, today; a meal with a photo
        and no clock was eaten when the photo was taken.
    unit : {"mg/dL", "mmol/L"}
        Of glucose as it is typed; it is written in the unit of the wear's tables.
    now : pandas.Timestamp
        [UTC]

    Returns
    -------
    Entry

    Raises
    ------
    RefusedError
        If a field cannot be used, by field.
    NothingToDo
        If the table cannot be read or added to.
    """
    texts = {name: text.strip() for name, text in typed.items()}
    cells = {name: text for name, text in texts.items() if text and name not in (DAY_FIELD, CLOCK_FIELD)}
    times, wrong = _timing(place, table, texts, now)
    cells |= times
    moment = _judge(place, table, cells, unit, now, wrong)
    own = {column.name for column in INPUT_TABLES[table].columns if column.kind == "number"}
    strange = set(cells) - set(INPUT_TABLES[table].names)
    cells = {name: _with_point(text) if name in own | strange else text for name, text in cells.items()}
    opened = open_table(place, table)
    edit = _put(opened, cells | _converted(place, table, cells, unit))
    return Entry(table, cells, moment, unit, edit)


def read_clock(text: str) -> str | None:
    """A clock as it is typed (9:05, 09.05, 905) as HH:MM; None if it is none."""
    found = _CLOCK_TYPED.fullmatch(text.strip())
    return f"{int(found[1]):02d}:{found[2]}" if found else None


def _timing(
    place: Place, table: str, texts: Mapping[str, str], now: pd.Timestamp
) -> tuple[dict[str, str], dict[str, str]]:
    """The cells that say when, as ISO 8601, and why they cannot be told."""
    day, clock = texts.get(DAY_FIELD, ""), texts.get(CLOCK_FIELD, "")
    if table == "days":
        return {"date": day}, {}
    if not clock and table == "meals" and texts.get("photo"):
        return {}, {}
    local_now = place.local(now)
    if not clock and day != f"{local_now:%Y-%m-%d}":
        return {}, {CLOCK_FIELD: "write when it was, such as 12:40"}
    start = read_clock(clock) if clock else f"{local_now:%H:%M}"
    if start is None:
        return {}, {CLOCK_FIELD: f'"{show(clock)}" is not a time of day such as 12:40'}
    column = "start" if table == "notes" else "time"
    times = {column: f"{day}T{start}"}
    if table == "notes" and texts.get("end"):
        end = read_clock(texts["end"])
        if end is None:
            return times, {"end": f'"{show(texts["end"])}" is not a time of day such as 13:20'}
        last = pd.Timestamp(day) + pd.Timedelta(days=int(end < start))
        times["end"] = f"{last:%Y-%m-%d}T{end}"
    return times, {}


def _judge(
    place: Place, table: str, cells: Mapping[str, str], unit: str, now: pd.Timestamp, wrong: Mapping[str, str]
) -> pd.Timestamp:
    """The local time of an entry that nothing speaks against; `wrong` is what is known already to be.

    Raises
    ------
    RefusedError
    """
    schema, file = INPUT_TABLES[table], place.name(table)
    out = io.StringIO()
    csv.writer(out).writerows([schema.names, [cells.get(name, "") for name in schema.names]])
    parsed = parse_table(out.getvalue().encode("utf-8", "replace"), schema, file)
    if table == "meals":
        parsed = fill_times(parsed, StudyFiles(place.study), f"{WEARS}/{place.wear}")
    converts = {"checks": rules.convert_checks(unit), "meals": rules.want_time(has_trips=False)}
    columns, found, doubts = find_faults(parsed, place.zones, rules_of(table, converts))
    faults = {fault.column or schema.names[0]: fault.text for fault in reversed([*found, *doubts])}
    for name in set(cells) - set(schema.names):
        found_in = parse_covariate([cells[name]], name, decimal_comma=False)[1]
        faults |= {name: found_in[0]} if found_in else {}
    faults |= _find_bare(table, cells)
    beside = {CLOCK_FIELD if name in ("time", "start") else name: text for name, text in faults.items()}
    if faults or wrong:
        raise RefusedError({**beside, **wrong})
    if table == "days":
        local = pd.Timestamp(cells["date"])
    else:
        time = columns["start" if table == "notes" else "time"][0]
        local = place.local(time)
        _want_inside(place, table, time, now)
    return local


def _find_bare(table: str, cells: Mapping[str, str]) -> dict[str, str]:
    """A fault where an entry says nothing beside its time."""
    said = set(cells) - {"time", "date"}
    if table == "feelings" and not said:
        return {"energy": "write at least one of these, from 0 to 10"}
    if table == "days" and not said:
        return {"stress": "write at least one of these"}
    if table == "notes" and cells.get("kind") == "travel" and "time_zone" not in cells:
        return {"time_zone": "is empty: write the zone that your clocks show from then on, such as Europe/Lisbon"}
    return {}


def _want_inside(place: Place, table: str, time: pd.Timestamp, now: pd.Timestamp) -> None:
    text = format_times(pd.DatetimeIndex([time]), place.zones)[0]
    column = "start" if table == "notes" else "time"
    if not lies_inside(place, table, pd.DataFrame({column: [text]}))[0]:
        end = f"{place.local(place.end):%Y-%m-%d %H:%M}" if place.end is not None else "now"
        span = f"{place.local(place.start):%Y-%m-%d %H:%M} to {end}"
        raise RefusedError({CLOCK_FIELD: f"{place.local(time):%Y-%m-%d %H:%M} lies outside this wear, {span}"})
    if place.end is None and time > now + EARLY:
        raise RefusedError({CLOCK_FIELD: f"{place.local(time):%Y-%m-%d %H:%M} is still to come"})


def _with_point(text: str) -> str:
    return text.replace(",", ".") if _DECIMAL_COMMA.fullmatch(text) else text


def _converted(place: Place, table: str, cells: Mapping[str, str], unit: str) -> dict[str, str]:
    """Glucose in the unit of the wear's tables, as typed where that is the same."""
    if table != "checks" or unit == place.unit:
        return {}
    value = float(parse_numbers([cells["glucose"]], "glucose")[0][0])
    return {"glucose": f"{glucose_from_mg_dl(glucose_to_mg_dl(value, unit), place.unit):.6g}"}


def _put(table: OpenTable, cells: Mapping[str, str]) -> Edit:
    """The row in its table: a day's into the row that the day has already, any other at the end."""
    name = table.schema.name
    if name == "days":
        dates = table.existing.column("date")
        if cells["date"] in dates:
            return _fill_day(table, dates.index(cells["date"]), cells)
        return append_row(table, cells)
    _want_new(table, cells)
    times = {key: _as_others(table, key, cells[key]) for key in ("time", "start", "end") if key in cells}
    return append_row(table, {**cells, **times})


def _fill_day(table: OpenTable, row: int, cells: Mapping[str, str]) -> Edit:
    there = {name: table.existing.column(name)[row] for name in cells}
    line = table.existing.lines[row]
    kept = {name: cell for name, cell in there.items() if name != "date" and cell}
    differing = {name for name, cell in kept.items() if plain(cell) != plain(cells[name])}
    if differing or len(kept) == len(cells) - 1:
        where = f"(days.csv line {line}): change it there, nothing was written"
        raise RefusedError({name: f'is "{show(kept[name])}" already {where}' for name in differing or kept})
    return fill_row(table, row, {name: text for name, text in cells.items() if not there[name]})


def _want_new(table: OpenTable, cells: Mapping[str, str]) -> None:
    """Refuse what stands in the table already: pressed twice, it would count twice."""
    name = table.schema.name
    column = "start" if name == "notes" else "time"
    zones = table.place.zones
    if column not in cells:
        same_time = np.array([photo == cells["photo"] for photo in table.existing.column("photo")], dtype=bool)
    else:
        same_time = np.asarray(settle(table.existing.column(column), zones) == settle([cells[column]], zones)[0])
    said = [one for one in cells if one not in ("time", "start", "end")]
    for row in np.flatnonzero(same_time):
        if all(plain(table.existing.column(one)[row]) == plain(cells[one]) for one in said):
            text = f"this stands in {name}.csv already, on line {table.existing.lines[row]}"
            raise RefusedError({CLOCK_FIELD: text})


def _as_others(table: OpenTable, column: str, text: str) -> str:
    """A local time as the table writes its times: T or a space, with seconds or without, with the offset or without."""
    last = next((cell for cell in reversed(table.existing.column(column)) if cell), "")
    last = last or next((cell for cell in reversed(table.existing.column("start")) if cell), "")
    written = text
    if len(last) > 16 and last[16] == ":":
        written += ":00"
    if _OFFSET_WRITTEN.search(last[16:]):
        zones = table.place.zones
        written += str(format_times(settle([text], zones), zones)[0])[19:]
    return written.replace("T", " ") if last[10:11] == " " else written


def list_days(place: Place, now: pd.Timestamp) -> list[pd.Timestamp]:
    """The local days of a wear, the newest first: up to its end, or while it runs up to today.

    Returns
    -------
    list of pandas.Timestamp
        Midnights; at most `MOST_DAYS_OFFERED`.
    """
    local = to_local(pd.DatetimeIndex([place.start, place.end or max(now, place.start)]), place.zones).normalize()
    last = min(local[1], local[0] + pd.Timedelta(days=MOST_DAYS_OFFERED - 1))
    return list(pd.date_range(local[0], last)[::-1])

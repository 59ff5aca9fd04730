"""What is new in what was brought? Rows set beside those of a wear's table: added, filled in, or already there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

from glucolab.clock import to_local
from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.mapping.times import settle
from glucolab.reading.bringing.merging.existing import Existing, add_columns, as_written, read_existing, write_text
from glucolab.reading.bringing.merging.repeats import join_days, join_readings, word_repeats
from glucolab.reading.rules import NO_READING, word_no_reading
from glucolab.reading.second_sensor import find_second_sensor
from glucolab.reading.tables import count_many
from glucolab.reading.text import plain, restore, show
from glucolab.reading.wear_context import Place
from glucolab.record import INPUT_TABLES
from glucolab.units import glucose_from_mg_dl, glucose_to_mg_dl

_TIMES = {
    "glucose": "time",
    "checks": "time",
    "feelings": "time",
    "meals": "time",
    "activity": "start",
    "movement": "time",
    "sleep": "start",
    "notes": "start",
}
_WORDS = {
    "meals": ("name",),
    "activity": ("kind",),
    "movement": ("source",),
    "sleep": ("source",),
    "notes": ("kind", "note"),
    "labs": ("date", "time", "analyte", "method"),
}
_INSIDE = ("glucose", "checks")
"""Tables whose rows must lie within the wear; of others those of the days on which it began and ended count too."""
_DAY = pd.Timedelta(days=1)
_RowKey = tuple[Hashable, ...]


@dataclass(frozen=True)
class Added:
    """One table with what was brought.

    Attributes
    ----------
    table : str
    text : str
        The whole new text of its file.
    new : pandas.DataFrame
        The rows that are added.
    known, filled, outside : int
        Rows that were there already; cells of them that were empty and are filled; rows outside the wear.
    problems : tuple of Problem
        Cells that stand otherwise already and are kept, and notes.
    digest : str
        SHA-256 of the file that all this holds of; "" where there was none.
    """

    table: str
    text: str
    new: pd.DataFrame
    known: int
    filled: int
    outside: int
    problems: tuple[Problem, ...]
    digest: str

    @property
    def changes(self) -> bool:
        """True if the file would be another."""
        return bool(len(self.new) or self.filled)


def add_rows(place: Place, table: str, rows: pd.DataFrame, file: str) -> Added:
    """Set brought rows beside those of a wear's table. Nothing is written.

    Rows are the same if their time is, and what tells rows of one time apart: a meal's name, an activity's kind, a
    sleep's tracker; days by their date; laboratory values by date, time, analyte and method. Equal rows that stand
    several times are matched one by one, so that bringing a file again adds nothing.

    Parameters
    ----------
    place : Place
    table : str
    rows : pandas.DataFrame
        As in `Brought.tables`.
    file : str
        Where they came from, for messages.

    Returns
    -------
    Added

    Raises
    ------
    NothingToDo
        If the table that is there cannot be read whole: what cannot be read could not be kept; or if two sensors'
        readings would stand in one wear.
    """
    schema = INPUT_TABLES[table]
    existing = read_existing(place, schema)
    rows, problems = _without_codes(rows, file) if table in _INSIDE else (rows, list[Problem]())
    rows = _convert(rows, place.unit) if "unit" in rows and table in _INSIDE else rows
    rows = _localise(rows, place) if "moment" in rows else rows
    if table == "days":
        rows, twice = join_days(rows, partial(_at, rows, file=file))
        problems += twice
    if table == "glucose":
        rows, twice = join_readings(rows, settle(rows["time"].tolist(), place.zones), file)
        problems += twice
    inside = lies_inside(place, table, rows)
    brought = rows[inside]
    keys = _number(_keys(place, table, existing.column, len(existing.rows)))
    where = {key: i for i, key in enumerate(keys) if key is not None}
    mine = _keys(place, table, _columns_of(brought), len(brought))
    problems += word_repeats(brought, mine, file)
    found = [where.get(key) if key else None for key in _number(mine)]
    columns = [name for name in brought.columns if any(brought[name])]
    add_columns(existing, schema, columns)
    keyed = {_TIMES.get(table, "date"), *_WORDS.get(table, ())}
    filled = 0
    for (line, row), there in zip(brought.iterrows(), found, strict=True):
        if there is not None:
            count, differing = _fill(existing, there, row, [name for name in columns if name not in keyed])
            filled += count
            stands = place.name(table), existing.lines[there]
            problems += [_at(rows, line, _word_kept(*stands, *one), file=file) for one in differing]
    new = brought[[there is None for there in found]]
    merged = replace(existing, rows=_insert(place, table, existing, new))
    if table == "glucose":
        _want_one_sensor(place, merged, file)
    text = write_text(merged, merged.rows)
    outside = int((~inside).sum())
    if outside:
        problems.insert(0, Problem(file, _word_outside(place, outside, len(rows)), left_out=False))
    known = len(brought) - len(new)
    return Added(table, text, new, known, filled, outside, tuple(count_many(problems, "cells")), existing.digest)


def _without_codes(rows: pd.DataFrame, file: str) -> tuple[pd.DataFrame, list[Problem]]:
    """Rows of glucose without those that a device had no value for, and a problem for each of these."""
    codes = pd.to_numeric(rows["glucose"], errors="coerce").isin(NO_READING).to_numpy()
    told = [
        _at(rows, line, f"{word_no_reading(cell)}; the row is left out", file=file)
        for line, cell in rows.loc[codes, "glucose"].items()
    ]
    return rows[~codes], told


def _want_one_sensor(place: Place, merged: Existing, file: str) -> None:
    """Refuse readings of a second sensor, in the file or beside those that are there."""
    values = pd.to_numeric(pd.Series(merged.column("glucose")).str.replace(",", "."), errors="coerce")
    times = settle(merged.column("time"), place.zones)
    automatic = np.array([cell.strip().lower() != "by_hand" for cell in merged.column("taken")], dtype=bool)
    readings = pd.Series(glucose_to_mg_dl(values.to_numpy(dtype=float), place.unit), index=times)
    found = find_second_sensor(readings[automatic & times.notna()])
    if found is not None:
        raise NothingToDo(
            f"with {file}, {place.name('glucose')} would hold the readings of two sensors at once, "
            f"{found.word_span(place.zones)}: bring each sensor's into a wear of its own; nothing was written"
        )


def _at(rows: pd.DataFrame, place: object, text: str, *, file: str) -> Problem:
    """A problem at a line of the file, or at an entry of a document."""
    if rows.index.name == "line":
        return Problem(file, text, int(str(place)))
    return Problem(file, f"{rows.index.name} {place}: {text}")


def _columns_of(rows: pd.DataFrame) -> Callable[[str], list[str]]:
    return lambda name: rows[name].tolist() if name in rows else [""] * len(rows)


def _convert(rows: pd.DataFrame, unit: str) -> pd.DataFrame:
    """Glucose in the wear's unit."""
    texts = [_convert_one(text, own, unit) for text, own in zip(rows["glucose"], rows["unit"], strict=True)]
    return rows.assign(glucose=texts).drop(columns="unit")


def _localise(rows: pd.DataFrame, place: Place) -> pd.DataFrame:
    """Date and clock time, as the wearer's clocks showed them, of rows that say a moment."""
    local = to_local(settle(rows["moment"].tolist(), place.zones), place.zones)
    dates = [date if pd.isna(at) else f"{at:%Y-%m-%d}" for at, date in zip(local, rows["date"], strict=True)]
    clocks = ["" if pd.isna(at) else f"{at:%H:%M}" for at in local]
    return rows.assign(date=dates, time=clocks).drop(columns="moment")


def _convert_one(text: str, own: str, unit: str) -> str:
    sign = text[:1] if text[:1] in "<>" else ""
    value = read_amounts([text.removeprefix(sign)], ".").values[0]
    if own == unit or not np.isfinite(value):
        return text
    return f"{sign}{float(glucose_from_mg_dl(glucose_to_mg_dl(value, own), unit)):.6g}"


def lies_inside(place: Place, table: str, rows: pd.DataFrame) -> np.ndarray:
    """True for rows of this wear, shape (n,): glucose within its span, all else up to a day before or after."""
    if table == "labs" or not len(rows):
        return np.ones(len(rows), dtype=bool)
    first, last = place.local(place.start), place.local(place.end) if place.end is not None else pd.Timestamp.max
    if table == "days":
        days = pd.DatetimeIndex(rows["date"])
        return np.asarray((days >= first.normalize() - _DAY) & (days <= last))
    times = settle(rows[_TIMES[table]].tolist(), place.zones)
    spare = pd.Timedelta(0) if table in _INSIDE else _DAY
    return np.asarray(
        (times >= place.start - spare) & (times <= (place.end or pd.Timestamp.max.tz_localize("UTC") - spare) + spare)
    )


def _keys(place: Place, table: str, column: Callable[[str], list[str]], count: int) -> list[_RowKey | None]:
    """What tells a row from all others; None for a row without it."""
    words = (
        list(zip(*(map(plain, column(name)) for name in _WORDS[table]), strict=True))
        if table in _WORDS
        else [()] * count
    )
    if table == "labs":
        return [tuple(word) for word in words]
    if table == "days":
        return [(date,) if date else None for date in column("date")]
    moments = settle(column(_TIMES[table]), place.zones)
    return [None if pd.isna(moment) else (moment.value, *word) for moment, word in zip(moments, words, strict=True)]


def _number(keys: Sequence[_RowKey | None]) -> list[_RowKey | None]:
    """Keys with how often each stood before, so that none stands twice."""
    seen: Counter[_RowKey] = Counter()
    numbered: list[_RowKey | None] = []
    for key in keys:
        if key is None:
            numbered.append(None)
            continue
        numbered.append((*key, seen[key]))
        seen[key] += 1
    return numbered


def _fill(
    existing: Existing, there: int, row: pd.Series, columns: Sequence[str]
) -> tuple[int, list[tuple[str, str, str]]]:
    """Fill what was empty; name what stands otherwise, which is kept."""
    filled, differing = 0, []
    for name in columns:
        place = existing.names.index(name)
        brought, stands = row[name], existing.rows[there][place]
        if brought and not stands:
            existing.rows[there][place] = as_written(existing, brought)
            filled += 1
        elif brought and not _same(stands, brought):
            differing.append((name, stands, brought))
    return filled, differing


def _same(stands: str, brought: str) -> bool:
    if restore(stands).casefold() == brought.casefold():
        return True
    try:
        return bool(np.isclose(float(stands.replace(",", ".")), float(brought), rtol=1e-5, atol=1e-9))
    except ValueError:
        return False


def _word_kept(file: str, line: int, name: str, stands: str, brought: str) -> str:
    return f'{name} "{show(brought)}" is not taken: {file} line {line} says "{show(stands)}", which stays'


def _word_outside(place: Place, outside: int, count: int) -> str:
    first = f"{place.local(place.start):%Y-%m-%d %H:%M}"
    last = f"{place.local(place.end):%Y-%m-%d %H:%M}" if place.end is not None else "today"
    return f"{outside} of {count} rows lie outside this wear, {first} to {last}, and are not brought"


def _insert(place: Place, table: str, existing: Existing, new: pd.DataFrame) -> list[list[str]]:
    """All rows, the new ones among the old ones by their time; the order of the old ones stays."""
    columns = [new[name].tolist() if name in new else [""] * len(new) for name in existing.names]
    texts = [[as_written(existing, cell) for cell in row] for row in zip(*columns, strict=True)]
    name = _TIMES.get(table, "date")
    old, fresh = _instants(place, table, existing.column(name)), _instants(place, table, _columns_of(new)(name))
    order = np.argsort(fresh, kind="stable")
    reached = np.maximum.accumulate(old) if len(old) else old
    after = np.searchsorted(reached, fresh[order], side="right")
    merged: list[list[str]] = []
    done = 0
    for i, before in zip(order, after, strict=True):
        merged += existing.rows[done:before]
        done = max(done, before)
        merged.append(texts[i])
    return merged + existing.rows[done:]


def _instants(place: Place, table: str, cells: list[str]) -> np.ndarray:
    """Times as numbers that sort; those that cannot be read before all others, shape (n,)."""
    if table in _TIMES:
        moments = settle(cells, place.zones)
    else:
        moments = pd.DatetimeIndex(pd.to_datetime(pd.Series(cells, dtype=object), format="%Y-%m-%d", errors="coerce"))
    return np.where(moments.isna(), np.iinfo(np.int64).min, moments.as_unit("us").asi8)

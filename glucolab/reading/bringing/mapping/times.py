"""How does a foreign time become one of ours? Dates, clocks, and nights that have one date for both ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_local, to_utc
from glucolab.reading.bringing.cells import moments
from glucolab.reading.bringing.cells.amounts import clean_number
from glucolab.reading.bringing.cells.moments import Written, date_in, next_day, take_all_apart
from glucolab.reading.bringing.cells.short_dates import take_without_year
from glucolab.reading.bringing.cells.zones import find_zone, from_number, offset_of
from glucolab.reading.bringing.mapping.mapping import LOCAL, Source
from glucolab.reading.cells import Faults, Texts, parse_times, settle_times
from glucolab.reading.text import show
from glucolab.reading.travel import find_unchanged_clock

_NOON, _NIGHT_ENDS_H = 12, 5
"""What is eaten before five belongs to the evening before, in a diary. Assumed. [h]"""


def fill_down(cells: Sequence[str], others: Sequence[str]) -> list[str]:
    """A date that is written once for several rows, in each of them: blank cells beside a filled one take the last."""
    filled, last = [], ""
    for cell, other in zip(cells, others, strict=True):
        last = cell or last
        filled.append(last if other else cell)
    return filled


def read_times(columns: Sequence[Sequence[str]], source: Source, name: str) -> tuple[Texts, Faults]:
    """Times as the contract writes them.

    Parameters
    ----------
    columns : sequence of sequences of str, one or two of shape (n,)
        A moment; or a date and a clock time.
    source : Source
    name : str
        Our column, for the wording.

    Returns
    -------
    texts : list of str, shape (n,)
        "" where a cell is empty or cannot be read.
    faults : dict of int to str
    """
    texts, faults = _read_as_written(columns, source, name)
    return shift_times(texts, source.shift_min), faults


def _read_as_written(columns: Sequence[Sequence[str]], source: Source, name: str) -> tuple[Texts, Faults]:
    if source.since in moments.SINCE_1970:
        per_second = moments.SINCE_1970[source.since]
        return _read_counts(columns[0], lambda value: moments.from_epoch(value, per_second), source.since, name)
    if source.since == moments.SERIAL:
        return _read_counts(columns[0], moments.from_serial, source.since, name)
    days, clocks, offsets, faults = take_columns(columns, source, name)
    texts = [
        moments.local_text(day, clock, offset) if day and clock else ""
        for day, clock, offset in zip(days, clocks, offsets, strict=True)
    ]
    return texts, faults


def shift_times(texts: Texts, minutes: float) -> Texts:
    """Times so many minutes later than they are written."""
    if not minutes:
        return texts
    moved = [datetime.fromisoformat(text) + timedelta(minutes=minutes) if text else None for text in texts]
    return [at.isoformat(timespec="auto" if at.second else "minutes") if at else "" for at in moved]


def take_columns(
    columns: Sequence[Sequence[str]], source: Source, name: str
) -> tuple[list[date | None], list[tuple[int, int, int] | None], list[str], dict[int, str]]:
    """Days, clock times and offsets of every row, None where there is none, and faults."""
    dated = fill_down(columns[0], columns[-1]) if len(columns) == 2 else list(columns[0])
    first, last = _take_days(dated, source), _take_clocks(columns[-1], source)
    days = [_day_of(one, source) for one in first]
    clocks = [one.clock if one else None for one in last]
    if source.late:
        late = set(find_late(days, clocks))
        days = [next_day(day) if day and i in late else day for i, day in enumerate(days)]
    offsets = [one.offset if one and source.zone != LOCAL else "" for one in last]
    faults = {}
    for i, (day, clock) in enumerate(zip(days, clocks, strict=True)):
        if not any(column[i] for column in columns):
            continue
        if day is None:
            cell = dated[i] if len(columns) == 2 else columns[0][i]
            faults[i] = f'{name} "{show(cell)}" {_word_no_day(first[i], source)}'
        elif clock is None:
            why = "is no clock time" if columns[-1][i] else "is empty: the clock time is missing"
            faults[i] = f'{name} "{show(columns[-1][i])}" {why}'
    return days, clocks, offsets, faults


def find_late(days: Sequence[object], clocks: Sequence[tuple[int, int, int] | None]) -> list[int]:
    """Rows soon after midnight that stand below a later time of the same date."""
    found: list[int] = []
    for i in range(1, len(days)):
        here, before = clocks[i], clocks[i - 1]
        if here and before and days[i] == days[i - 1] and here[0] < _NIGHT_ENDS_H and (before > here or i - 1 in found):
            found.append(i)
    return found


def _take_days(cells: Sequence[str], source: Source) -> list[Written | None]:
    if not source.year:
        return take_all_apart(cells)
    return [take_without_year(cell, int(source.year)) for cell in cells]


def _take_clocks(cells: Sequence[str], source: Source) -> list[Written | None]:
    if source.since == moments.DIGITS:
        return [moments.take_digits(cell) for cell in cells]
    if source.since != moments.MINUTES:
        return take_all_apart(cells)
    return [_minute_of_day(cell) for cell in cells]


def _minute_of_day(cell: str) -> Written | None:
    try:
        minutes = float(clean_number(cell).replace(",", "."))
    except ValueError:
        return None
    if not 0 <= minutes < 1440:
        return None
    seconds = round(minutes * 60)
    return Written(None, True, (seconds // 3600, seconds // 60 % 60, seconds % 60), "")


def _day_of(one: Written | None, source: Source) -> date | None:
    if one is None or one.numbers is None:
        return None
    return date_in(one.numbers, "year-month-day" if one.fixed else source.order or "year-month-day")


def _word_no_day(one: Written | None, source: Source) -> str:
    if one is None or one.numbers is None:
        return "is no date that can be read"
    return f"is no day of the calendar, read {source.order or 'year-month-day'}"


def _read_counts(cells: Sequence[str], read: Callable[[float], str], since: str, name: str) -> tuple[Texts, Faults]:
    texts, faults = [], {}
    for i, cell in enumerate(cells):
        try:
            text = read(float(clean_number(cell).replace(",", "."))) if cell else ""
        except ValueError:
            text = ""
        if cell and not text:
            faults[i] = f'{name} "{show(cell)}" is no count of {since}'
        texts.append(text)
    return texts, faults


def place_in_zones(texts: Texts, source: Source, zone_cells: Sequence[str] | None, name: str) -> tuple[Texts, Faults]:
    """Times without an offset by the zone that the file states, for all of them or for each row.

    Parameters
    ----------
    texts : list of str, shape (n,)
        As the contract writes them.
    source : Source
    zone_cells : sequence of str, shape (n,), optional
        Cells of the column that says the zone of each row.
    name : str
        Our column, for the wording.

    Returns
    -------
    texts : list of str, shape (n,)
        With an offset where a zone is stated.
    faults : dict of int to str
    """
    bare = [i for i, text in enumerate(texts) if text and not _has_offset(text)]
    stated = {i: source.zone if zone_cells is None else _zone_in(zone_cells[i]) for i in bare}
    turned, faults = list(texts), {}
    for i in bare:
        if zone_cells is not None and not stated[i]:
            faults[i] = f'{name} "{texts[i]}" has "{show(zone_cells[i])}" for its zone, which is none that is known'
            turned[i] = ""
    for zone in dict.fromkeys(filter(None, stated.values())):
        mine = [i for i in bare if stated[i] == zone]
        if offset := offset_of(zone):
            for i in mine:
                turned[i] = f"{texts[i]}{offset}"
            continue
        settled = to_utc(pd.DatetimeIndex([texts[i] for i in mine], dtype="datetime64[us]"), ZoneSpans((zone,)))
        for i, moment, skipped in zip(mine, settled.times, settled.skipped, strict=True):
            if skipped:
                faults[i] = f'{name} "{texts[i]}" does not exist in {zone}: the spring clock change skips it'
            turned[i] = "" if skipped else moment.isoformat()
    return turned, faults


def _zone_in(cell: str) -> str:
    try:
        return from_number(float(clean_number(cell).replace(",", ".")))
    except ValueError:
        return find_zone(cell)


def _has_offset(text: str) -> bool:
    return "+" in text or "-" in text[10:] or text.endswith("Z")


def keep_clock(texts: Texts, zones: ZoneSpans, name: str) -> tuple[Texts, Faults, str]:
    """Local times that the spring clock change skips, named; all by one offset where the readings run on through it.

    Parameters
    ----------
    texts : list of str, shape (n,)
        As the contract writes them.
    zones : ZoneSpans
        What the wearer's clocks showed.
    name : str
        Our column, for the wording.

    Returns
    -------
    texts : list of str, shape (n,)
    faults : dict of int to str
        Times that do not exist.
    said : str
        The offset by which all are read, in a sentence; "" where the clocks changed.
    """
    local = np.array([text if text and not _has_offset(text) else "NaT" for text in texts], dtype="datetime64[us]")
    skipped = to_utc(pd.DatetimeIndex(local), zones).skipped
    if not skipped.any():
        return texts, {}, ""
    if kept := find_unchanged_clock(local, zones):
        hour, offset = kept
        written = [text if not text or _has_offset(text) else f"{text}{offset.removeprefix('UTC')}" for text in texts]
        said = (
            f"the readings run on through the hour after {hour:%Y-%m-%d %H:%M}, which clocks in {zones.names[0]} skip: "
            f"their clock did not change, and all are read by the offset they began with, {offset}"
        )
        return written, {}, said
    why = "does not exist: the spring clock change skips it"
    faults = {i: f'{name} "{texts[i]}" {why}' for i in np.flatnonzero(skipped).tolist()}
    return ["" if i in faults else text for i, text in enumerate(texts)], faults, ""


def read_night(columns: Sequence[Sequence[str]], source: Source, name: str, is_end: bool) -> tuple[Texts, Faults]:
    """One end of a sleep whose row has one date: that of its evening, or that of its morning.

    A clock time from noon on lies on the evening's day, one before noon on the morning's: sleeps by day that cross
    noon cannot be told so, and need two dates.
    """
    days, clocks, offsets, faults = take_columns(columns, source, name)
    texts = []
    for day, clock, offset in zip(days, clocks, offsets, strict=True):
        if day is None or clock is None:
            texts.append("")
            continue
        late = clock[0] >= _NOON
        if source.night == "evening" and not late:
            day = moments.next_day(day)
        elif source.night == "morning" and late and not is_end:
            day = moments.day_before(day)
        texts.append(moments.local_text(day, clock, offset))
    return texts, faults


def read_dates(cells: Sequence[str], source: Source, name: str) -> tuple[Texts, Faults]:
    """Days as the contract writes them; a clock time beside the date is dropped."""
    found = _take_days(cells, source)
    days = [_day_of(one, source) for one in found]
    faults = {
        i: f'{name} "{show(cell)}" {_word_no_day(found[i], source)}'
        for i, cell in enumerate(cells)
        if cell and days[i] is None
    }
    return [day.isoformat() if day else "" for day in days], faults


def read_clocks(cells: Sequence[str], source: Source, name: str) -> tuple[Texts, Faults]:
    """Clock times HH:MM; a cell with a date alone has none."""
    found = _take_clocks(cells, source)
    texts = [f"{one.clock[0]:02d}:{one.clock[1]:02d}" if one and one.clock else "" for one in found]
    faults = {i: f'{name} "{show(c)}" is no clock time' for i, c in enumerate(cells) if c and found[i] is None}
    return texts, faults


def settle(texts: Sequence[str], zones: ZoneSpans) -> pd.DatetimeIndex:
    """UTC of times as the contract writes them, NaT where there is none, shape (n,)."""
    written, _ = parse_times(texts, "time")
    return settle_times(written, zones, texts, "time").times


def end_after(starts: Sequence[str], minutes: np.ndarray, zones: ZoneSpans) -> Texts:
    """Local times at which what began and lasted so long was over; "" where one of the two is missing."""
    ends = settle(starts, zones) + pd.to_timedelta(minutes, unit="min")
    return ["" if pd.isna(local) else f"{local.isoformat()[:16]}" for local in to_local(ends.round("min"), zones)]


def minutes_between(starts: Sequence[str], ends: Sequence[str], zones: ZoneSpans) -> np.ndarray:
    """Length from start to end, NaN where one of them is missing, shape (n,). [min]"""
    return np.asarray((settle(ends, zones) - settle(starts, zones)) / pd.Timedelta(minutes=1), dtype=float)

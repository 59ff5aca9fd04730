"""Can this be right? Warnings about sound cells that do not fit together; nothing here changes what was read."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_local
from glucolab.errors import Problem
from glucolab.reading.rules import belongs_to_other_unit, other_unit
from glucolab.record import WearPeriod

_LOGS = {
    "meals": "time", "feelings": "time", "checks": "time", "activity": "start", "movement": "time", "sleep": "start",
}  # fmt: skip
_JUDGED = ("meals", "feelings", "checks")
"""Logs whose rows need readings around them."""

_ENOUGH_SHIFTED = 0.8
"""A shift of dates is named if it brings this share of the rows inside; common practice, no source."""

_LONGEST_WEAR_DAYS = 60
"""Longer than a sensor on the skin lasts, so that a date must be wrong; common practice, no source."""


def find_wrong_unit(values: np.ndarray, unit: str) -> str | None:
    """Why the readings of a wear cannot be in `unit`, None if they can."""
    values = values[np.isfinite(values)]
    if not len(values):
        return None
    median = float(np.median(values))
    if not belongs_to_other_unit(np.array([median]), unit)[0]:
        return None
    other = other_unit(unit)
    return f'the readings (median {median:.3g}) plainly are in {other}, not {unit}: write unit = "{other}" in wear.toml'


def doubt_readings(wear: WearPeriod, folder: str) -> list[Problem]:
    """Readings outside the wear: kept, but counted."""
    times = wear.glucose["time"]
    longest = pd.Timedelta(days=_LONGEST_WEAR_DAYS)
    last = wear.start + longest if wear.end is None else wear.end
    before, after = int((times < wear.start).sum()), int((times > last).sum())
    file = f"{folder}/glucose.csv"
    if wear.end is not None and before + after == len(times):
        shift = _word_shift(to_local(times, wear.zones), to_local(pd.DatetimeIndex([wear.start, last]), wear.zones))
        span = _word_span(wear.start, last, wear.zones)
        return [Problem(file, f"{_none(len(times))} between start and end of the wear, {span}{shift}", left_out=False)]
    late = "the end of the wear" if wear.end is not None else f"{_LONGEST_WEAR_DAYS} days of a wear that has no end yet"
    problems = []
    if before:
        problems.append(
            Problem(file, f"{_count(before)} before the start of the wear: check the dates", left_out=False)
        )
    if after:
        problems.append(Problem(file, f"{_count(after)} after {late}: check the dates", left_out=False))
    if wear.end is not None and wear.end - wear.start > max(longest, pd.Timedelta(days=wear.life_days or 0)):
        days = round((wear.end - wear.start) / pd.Timedelta(days=1))
        problems.append(
            Problem(f"{folder}/wear.toml", f"the wear lasts {days} days: check start and end", left_out=False)
        )
    return problems


def doubt_logs(wear: WearPeriod, folder: str) -> list[Problem]:
    """Rows logged before the first reading or after the last, and logs that miss the readings altogether."""
    readings = wear.glucose["time"]
    first, last = readings.min(), readings.max()
    problems = []
    for name, column in _LOGS.items():
        times = wear.table(name)[column].dropna()
        if times.empty:
            continue
        file = f"{folder}/{name}.csv"
        before, after = int((times < first).sum()), int((times > last).sum())
        if before + after == len(times):
            shift = _word_shift(to_local(times, wear.zones), to_local(pd.DatetimeIndex([first, last]), wear.zones))
            between = _word_span(first, last, wear.zones)
            problems.append(Problem(file, f"{_none(len(times))} between {between}{shift}", left_out=False))
        elif name in _JUDGED:
            yet = " yet" if wear.end is None else ""
            if before:
                problems.append(
                    Problem(file, f"{_count(before)} before the first reading and cannot be judged", left_out=False)
                )
            if after:
                problems.append(
                    Problem(file, f"{_count(after)} after the last reading and cannot be judged{yet}", left_out=False)
                )
    return problems + _doubt_days(wear, folder, first, last)


def _doubt_days(wear: WearPeriod, folder: str, first: pd.Timestamp, last: pd.Timestamp) -> list[Problem]:
    dates = pd.DatetimeIndex(wear.days["date"])
    span = to_local(pd.DatetimeIndex([first, last]), wear.zones).normalize()
    if not len(dates) or ((dates >= span[0]) & (dates <= span[1])).any():
        return []
    between = f"{span[0]:%Y-%m-%d} and {span[1]:%Y-%m-%d}"
    text = f"{_none(len(dates))} between {between}{_word_shift(dates, span)}"
    return [Problem(f"{folder}/days.csv", text, left_out=False)]


def find_shift_days(local: pd.DatetimeIndex, span: pd.DatetimeIndex) -> tuple[int, int, int]:
    """The whole-day shifts that bring most rows into a span.

    Parameters
    ----------
    local : DatetimeIndex, shape (n,)
        Local times of the rows.
    span : DatetimeIndex, shape (2,)
        Local first and last time.

    Returns
    -------
    lowest, highest, rows : int
        The smallest and largest of the best shifts [days], and how many rows each brings inside.
    """
    rows = np.sort(local.as_unit("us").asi8)
    start, end = span.as_unit("us").asi8
    day = 86_400_000_000
    shifts = np.arange((start - rows[-1]) // day, (end - rows[0]) // day + 2)
    inside = np.searchsorted(rows, end - shifts * day, side="right") - np.searchsorted(rows, start - shifts * day)
    best = shifts[inside == inside.max()]
    return int(best[0]), int(best[-1]), int(inside.max())


def _word_shift(local: pd.DatetimeIndex, span: pd.DatetimeIndex) -> str:
    low, high, inside = find_shift_days(local, span)
    if inside < _ENOUGH_SHIFTED * len(local):
        return ": check the dates"
    by = f"{low:+d} days" if low == high else f"{low:+d} to {high:+d} days"
    would = "all would" if inside == len(local) else f"{inside} would"
    return f"; shifted by {by} {would}: check the dates"


def doubt_overlaps(wears: Sequence[WearPeriod], folder: str) -> list[Problem]:
    """Wears that overlap although they name the same sensor."""
    never = pd.Timestamp.max.tz_localize("UTC")
    return [
        Problem(
            f"{folder}/{b.name}/wear.toml", f'overlaps {a.name} and names the same sensor, "{a.sensor}"', left_out=False
        )
        for a, b in combinations(wears, 2)
        if a.sensor and a.sensor == b.sensor and a.start < (b.end or never) and b.start < (a.end or never)
    ]


def _none(rows: int) -> str:
    return "its only row does not lie" if rows == 1 else f"none of {rows} rows lies"


def _count(rows: int) -> str:
    return f"{rows} row lies" if rows == 1 else f"{rows} rows lie"


def _word_span(first: pd.Timestamp, last: pd.Timestamp, zones: ZoneSpans) -> str:
    return " and ".join(f"{time:%Y-%m-%dT%H:%M}" for time in to_local(pd.DatetimeIndex([first, last]), zones))

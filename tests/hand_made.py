"""What if every value were known? Wears, clean records and traces made by hand, so that answers fit on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from glucolab.aligning.trace import trace_unknown
from glucolab.aligning.trace_record import DrawnTrace
from glucolab.cleaning.clean import CleanRecord
from glucolab.cleaning.spans import empty_spans
from glucolab.clock import ZoneSpans
from glucolab.record import FLAGS, Goal, Person, Study, WearPeriod, empty_table

UTC = ZoneSpans(("UTC",))
START = pd.Timestamp("2026-02-03T00:00", tz="UTC")
MINUTE = pd.Timedelta(minutes=1)
DAY_POINTS = 288


def at(clock: str, day: int = 0) -> pd.Timestamp:
    """A clock time, HH:MM[:SS], on the n-th day after 2026-02-03. [UTC]"""
    return START + pd.Timedelta(clock if clock.count(":") == 2 else f"{clock}:00") + pd.Timedelta(days=day)


def make_times(count: int, start: pd.Timestamp = START, step_min: float = 5.0) -> pd.DatetimeIndex:
    """Evenly spaced UTC times in microseconds."""
    return (start + pd.to_timedelta(np.arange(count) * step_min, unit="min")).as_unit("us")


def make_series(values: Sequence[float], start: pd.Timestamp = START, step_min: float = 5.0) -> pd.Series:
    """Readings as the flags take them: glucose by time. [mg/dL]"""
    return pd.Series(np.asarray(values, dtype=float), index=make_times(len(values), start, step_min))


def make_table(name: str, *rows: dict[str, Any]) -> pd.DataFrame:
    """An input table from rows, with the reader's types; the first row is line 2 of its file."""
    empty = empty_table(name)
    if not rows:
        return empty
    lines = pd.RangeIndex(2, len(rows) + 2, name="line")
    names = dict.fromkeys([*empty, *(name for row in rows for name in row)])
    typed = {
        name: pd.Series(
            [row.get(name) for row in rows], index=lines, dtype=empty[name].dtype if name in empty else None
        )
        for name in names
    }
    return pd.DataFrame(typed, index=lines)


def make_glucose(
    times: pd.DatetimeIndex, values: Sequence[float], taken: str | Sequence[str] | None = None
) -> pd.DataFrame:
    """glucose.csv as the reader hands it over, a row a reading, in the order given."""
    frame = pd.DataFrame({"time": times, "glucose_mg_dl": np.asarray(values, dtype=float)})
    frame["taken"] = pd.Series(taken if taken is not None else None, index=frame.index, dtype="str")
    frame["limit"] = pd.Series(None, index=frame.index, dtype="str")
    frame.index = pd.RangeIndex(2, len(frame) + 2, name="line")
    return frame


def make_wear(
    name: str = "wear", days: float = 2.0, start: pd.Timestamp = START, running: bool = False, **changes: Any
) -> WearPeriod:
    """A wear in UTC without warm-up: tables by their names (`days_table` is days.csv), all else by the record's."""
    tables = {key.removesuffix("_table"): changes.pop(key) for key in list(changes) if key in _TABLES}
    end = None if running else start + pd.Timedelta(seconds=round(days * 86400))
    usual: dict[str, Any] = {"zones": UTC, "warm_up_hours": 0.0, "interval_min": 5.0}
    return WearPeriod(name, start, end, tables=tables, **(usual | changes))


_TABLES = ("glucose", "meals", "activity", "movement", "sleep", "days_table", "feelings", "checks", "notes")


def make_study(*wears: WearPeriod, **changes: Any) -> Study:
    """A study in UTC with a goal of 95 mg/dL."""
    usual: dict[str, Any] = {"person": Person("UTC"), "goal": Goal(95.0)}
    return Study("study", wears=wears, **(usual | changes))


def make_clean(
    wear: WearPeriod,
    known: Sequence[bool] | np.ndarray,
    start: pd.Timestamp | None = None,
    spans: pd.DataFrame | None = None,
) -> CleanRecord:
    """A record with one usable reading at each five-minute point that is known."""
    begin = start if start is not None else wear.start
    times = make_times(len(known), begin)[np.asarray(known, dtype=bool)]
    readings = pd.DataFrame({"time": times, "glucose_mg_dl": 100.0, "taken": None, "line": np.arange(len(times)) + 2})
    readings["row"] = np.arange(len(times))
    for flag in (*FLAGS, "excluded"):
        readings[flag] = False
    end = wear.end if wear.end is not None else times[-1] + 5 * MINUTE
    share = len(times) * 5 * MINUTE / (end - begin)
    gaps = pd.DataFrame({"start": times[:0], "end": times[:0], "minutes": np.empty(0), "kind": pd.Series(dtype="str")})
    return CleanRecord(readings, empty_spans() if spans is None else spans, gaps, 5.0, begin, end, begin, float(share))


def make_trace(clean: CleanRecord, values: Sequence[float] | np.ndarray, draws: np.ndarray | None = None) -> DrawnTrace:
    """A trace that is certain of its values: every draw is the mean, unless draws are given."""
    values = np.asarray(values, dtype=float)
    known = ~np.isnan(values)
    sampled = np.tile(np.where(known, values, 100.0), (8, 1)) if draws is None else draws
    return replace(
        trace_unknown(clean),
        time=make_times(len(values), clean.start),
        glucose_mg_dl=values,
        se_mg_dl=np.where(known, 0.0, np.nan),
        sd_mg_dl=sampled.std(axis=0),
        sensor_mg_dl=sampled.mean(axis=0),
        draws=sampled,
        sensor_draws=sampled,
        gap_min=np.where(known, 0.0, 600.0),
        level_mg_dl=float(np.nanmean(values)),
    )


def make_pair(
    wear: WearPeriod, values: Sequence[float] | np.ndarray, spans: pd.DataFrame | None = None
) -> tuple[CleanRecord, DrawnTrace]:
    """A clean record and the trace over it: readings wherever the values are known."""
    values = np.asarray(values, dtype=float)
    clean = make_clean(wear, ~np.isnan(values), spans=spans)
    return clean, make_trace(clean, values)


def bump(values: np.ndarray, first: int, heights: Sequence[float]) -> np.ndarray:
    """The same values with heights added from one grid point on."""
    out = np.array(values, dtype=float)
    out[first : first + len(heights)] += heights
    return out


SOUND_STUDY = {
    "study.toml": '[person]\ntime_zone = "Europe/Lisbon"\n[goal]\nmean_mg_dl = 95\n',
    "wear_periods/winter/wear.toml": 'start = 2026-02-03T08:00:00\nend = 2026-02-05T08:00:00\nunit = "mg/dL"\n',
    "wear_periods/winter/glucose.csv": "time,glucose,taken\n"
    + "".join(
        f"2026-02-0{3 + minute // 1440}T{minute // 60 % 24:02d}:{minute % 60:02d}:00,{90 + minute % 7},automatic\n"
        for minute in range(8 * 60, 56 * 60, 15)
    ),
    "wear_periods/winter/meals.csv": "time,name,carbs_g,dish,note\n"
    "2026-02-03T12:30,soup,30.5,soup,\n"
    '2026-02-03T19:00,"rice, fish",62,rice,"two\nhelpings"\n'
    "2026-02-04T12:40,soup,31,soup,\n",
    "wear_periods/winter/days.csv": "date,stress,ill,mood\n2026-02-03,4,false,7\n2026-02-04,6,true,5\n",
    "wear_periods/winter/sleep.csv": "start,end,source\n2026-02-03T23:00,2026-02-04T06:30,watch\n",
    "wear_periods/winter/checks.csv": "time,glucose,source\n2026-02-03T20:00,97,fingerstick\n",
    "wear_periods/winter/notes.csv": "start,kind,end,note\n2026-02-03T15:00,heat,2026-02-03T15:30,sauna\n",
    "labs.csv": "date,analyte,value,unit,time,fasting\n2026-01-20,glucose,91,mg/dL,08:05,true\n",
    "trials.csv": "date,trial,arm,time,dish,note\n2026-02-04,walk,walk,,soup,\n",
}
"""A small study folder in which nothing is wrong, by path; 192 readings a quarter of an hour apart."""

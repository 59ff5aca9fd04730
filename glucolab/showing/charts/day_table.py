"""What happened when, each day? One long table of everything that a drawn day holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from glucolab.clock import Days, ZoneSpans, local_hours
from glucolab.measuring.excursions import ABOVE_MEDIAN_MG_DL
from glucolab.measuring.nights import choose_tracker
from glucolab.showing.words.common import GAP_WORDS

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis

LONG_GAP_MIN = 45.0
LINE_BREAK_MIN = 30.0
_COLUMNS = ["day", "kind", "hour", "hour_end", "value", "part", "text"]


def tabulate_days(result: WearAnalysis) -> pd.DataFrame:
    """Everything that is drawn of a wear's days.

    Parameters
    ----------
    result : WearAnalysis

    Returns
    -------
    DataFrame
        ``day`` (date as text), ``kind`` (trace, rise, aside, asleep, food, movement, stress, gap, check, last),
        ``hour, hour_end`` (local wall time) [h], ``value`` (above the wear's median) [mg/dL], ``part`` (pieces of a
        line), ``text``.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> list(gl.charts.tabulate_days(one))[:3]
    ['day', 'kind', 'hour']
    """
    wear, days = result.wear, result.days
    parts = [
        _trace(result), _rises(result), _set_aside(result), _checks(result),
        _spans(find_sleep(result), "asleep", days, wear.zones),
        _spans(_movement(wear.activity), "movement", days, wear.zones),
        _spans(_movement(wear.found_walks), "movement", days, wear.zones),
        _spans(_named_gaps(result.tables["gaps"]), "gap", days, wear.zones),
        _points(wear.meals["time"], "food", days, wear.zones),
        _points(wear.feelings.loc[wear.feelings["stress"].notna(), "time"], "stress", days, wear.zones),
        _last(result),
    ]  # fmt: skip
    table = pd.concat([p for p in parts if len(p)], ignore_index=True).reindex(columns=_COLUMNS)
    return table.round({"hour": 3, "hour_end": 3, "value": 1})


def median_mg_dl(result: WearAnalysis) -> float:
    """The wear's own median, of its trace. [mg/dL]"""
    glucose = result.trace.glucose_mg_dl
    return float(np.nanmedian(glucose)) if np.isfinite(glucose).any() else float("nan")


def find_sleep(result: WearAnalysis) -> pd.DataFrame:
    """Sleeps of the tracker that the nights are taken from: ``start, end, text``."""
    sleep = result.wear.sleep
    tracker = choose_tracker(sleep, result.days, result.wear.zones)
    return sleep[sleep["source"].fillna("") == (tracker or "")].assign(text="")


def _labels(days: Days) -> np.ndarray:
    return np.asarray(days.dates.strftime("%Y-%m-%d"), dtype=object)


def _points(
    times: pd.Series | pd.DatetimeIndex | list[pd.Timestamp],
    kind: str,
    days: Days,
    zones: ZoneSpans,
    value: object = np.nan,
) -> pd.DataFrame:
    times = pd.DatetimeIndex(times)
    place = days.of(times)
    table = pd.DataFrame({"place": place, "hour": local_hours(times, zones), "value": value})
    table = table[place >= 0]
    return table.assign(day=_labels(days)[table["place"]], kind=kind)


def _spans(spans: pd.DataFrame, kind: str, days: Days, zones: ZoneSpans) -> pd.DataFrame:
    """Spans cut at midnights, ``start, end`` in UTC and ``text``."""
    spans = spans[(spans["end"] > days.edges[0]) & (spans["start"] < days.edges[-1])]
    rows = []
    for start, end, text in zip(spans["start"], spans["end"], spans["text"], strict=True):
        inside = pd.DatetimeIndex([max(start, days.edges[0]), min(end, days.edges[-1]) - pd.Timedelta(seconds=1)])
        first, last = days.of(inside)
        hours = local_hours(inside, zones)
        for place in range(first, last + 1):
            begin, stop = hours[0] if place == first else 0.0, hours[1] if place == last else 24.0
            rows.append((_labels(days)[place], kind, begin, max(begin, stop), text))
    return pd.DataFrame(rows, columns=["day", "kind", "hour", "hour_end", "text"])


def _trace(result: WearAnalysis) -> pd.DataFrame:
    trace = result.trace
    known = np.isfinite(trace.glucose_mg_dl)
    table = _points(
        trace.time[known], "trace", result.days, result.wear.zones, trace.glucose_mg_dl[known] - median_mg_dl(result)
    )
    if len(table):
        jump = np.abs(np.diff(table["hour"] + 24.0 * table["place"], prepend=-99.0)) * 60 > LINE_BREAK_MIN
        back = np.diff(table["hour"], prepend=-1.0) < 0
        table["part"] = np.cumsum(jump | back)
    return table


def _rises(result: WearAnalysis) -> pd.DataFrame:
    """The trace within each excursion, where it stands over the excursion's limit, for the shading."""
    trace, spans = result.trace, result.tables["excursions"]
    place = np.searchsorted(pd.DatetimeIndex(spans["start"]).asi8, trace.time.as_unit("us").asi8, side="right") - 1
    ends = pd.DatetimeIndex(spans["end"]).asi8
    inside = (place >= 0) & np.isfinite(trace.glucose_mg_dl)
    inside &= trace.time.as_unit("us").asi8 <= (ends[np.maximum(place, 0)] if len(ends) else 0)
    value = np.maximum(trace.glucose_mg_dl[inside] - median_mg_dl(result), ABOVE_MEDIAN_MG_DL)
    table = _points(trace.time[inside], "rise", result.days, result.wear.zones, value)
    if len(table):
        which = place[inside][result.days.of(trace.time[inside]) >= 0]
        table["part"] = which * 1000 + table["place"]
    return table


def _set_aside(result: WearAnalysis) -> pd.DataFrame:
    readings = result.tables["readings"]
    aside = readings[readings["glucose_mg_dl"].isna() & readings["glucose_raw_mg_dl"].notna()]
    aside = aside[~aside["time"].dt.floor("5min").duplicated()]  # a dot each five minutes is all that can be seen
    value = aside["glucose_raw_mg_dl"].to_numpy() - median_mg_dl(result)
    return _points(aside["time"], "aside", result.days, result.wear.zones, value)


def _checks(result: WearAnalysis) -> pd.DataFrame:
    checks = result.wear.checks
    return _points(
        checks["time"],
        "check",
        result.days,
        result.wear.zones,
        checks["glucose_mg_dl"].to_numpy() - median_mg_dl(result),
    )


def _movement(activity: pd.DataFrame) -> pd.DataFrame:
    end = activity["start"] + pd.to_timedelta(activity["minutes"], unit="min")
    return pd.DataFrame({"start": activity["start"], "end": end, "text": activity["kind"]})


def _named_gaps(gaps: pd.DataFrame) -> pd.DataFrame:
    long = gaps[(gaps["minutes"] >= LONG_GAP_MIN) & (gaps["kind"] != "flagged")]
    return long[["start", "end"]].assign(text=long["kind"].map(lambda kind: GAP_WORDS.get(kind, kind)))


def _last(result: WearAnalysis) -> pd.DataFrame:
    """The last reading of a wear that is still running."""
    times = result.tables["readings"]["time"].dropna()
    if result.summary["state"] != "running" or not len(times):
        return pd.DataFrame()
    return _points([times.max()], "last", result.days, result.wear.zones)

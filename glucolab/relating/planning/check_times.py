"""When should finger-sticks be taken? At steady half-hours of this person's day, low and high, all over the wear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.clock import ZoneSpans, local_hours, to_utc

_HALF_HOURS = 48
"""Parts of the typical day [1]: finer rests on too few readings, coarser hides steady times between meals."""
_PARTS = 4
"""Parts of the waking day that finger-sticks take turns in [1]; assumed. Fewer put most at one hour, whose own error
passes for the sensor's; more leave parts without any."""
PART_ORDER = (0, 2, 1, 3)
"""In which the parts take turns [1]; assumed: two that follow lie far apart, so that even three sticks are spread. In
the order of the day, few sticks would all be taken in the morning."""
STEADY_SHARE = 0.5
"""Share of each part's half-hours, the steadiest, to choose from [1]; assumed. Larger lets sticks fall where lag
matters, smaller leaves low and high levels too alike to show a gain."""
USUAL_WAKING_H = (7.0, 23.0)
"""Waking hours where no sleep is logged [local hours]; assumed. Too wide plans sticks in sleep, too narrow leaves out
mornings and evenings."""
LEAST_WAKING_H = 8.0
"""A shorter waking day is not believed, and the usual one taken [h]; assumed. Too long overrules logged sleep, too
short plans by naps logged as nights."""
AFTER_WAKING_H, BEFORE_BED_H = 0.25, 0.5
"""Margins of the waking day without finger-sticks [h]; assumed. Too small plans them in sleep, too large loses the
steady fasting hour."""
WAKING_CHECKS, LEAST_WITH_WAKING = 2, 4
"""Finger-sticks that are taken on waking, and how many are planned before any is [1]: two of six bring the error of the
overnight mean from 13.9 to 10.1 mg/dL and that of the mean from 8.9 to 7.1, of blood invented between two real sensors
(tests/known_truth/real_traces). Fewer leave the night unknown, more the day."""
_REACH = 3
"""Grid points to either side over which a slope is taken [5 min]; assumed. Fewer read noise as slope, more smooth a
meal's rise away."""


@dataclass(frozen=True, eq=False)
class TypicalDay:
    """What glucose usually does by half-hour of the local day.

    Attributes
    ----------
    level_mg_dl : numpy.ndarray, shape (48,)
        Median; NaN where nothing was recorded. [mg/dL]
    slope_mg_dl_min : numpy.ndarray, shape (48,)
        Median of its size over half an hour, rising and falling alike. [mg/dL per min]
    wake_h, bed_h : float
        Usual end and begin of the night, `bed_h` over 24 past midnight. [h]
    """

    level_mg_dl: np.ndarray
    slope_mg_dl_min: np.ndarray
    wake_h: float
    bed_h: float


def measure_typical_day(wears: Sequence[tuple[Trace, ZoneSpans, pd.DataFrame]]) -> TypicalDay:
    """The half-hours of all wears together.

    Parameters
    ----------
    wears : sequence of (Trace, ZoneSpans, DataFrame)
        Each with its nights, of :func:`glucolab.measuring.nights.find_nights`.

    Returns
    -------
    TypicalDay
        Waking is taken as 7:00 to 23:00 where no sleep is logged, or what is logged leaves under eight hours.
    """
    parts = []
    for trace, zones, _ in wears:
        glucose = trace.glucose_mg_dl
        slope = np.full(len(glucose), np.nan)
        slope[_REACH:-_REACH] = np.abs(glucose[2 * _REACH :] - glucose[: -2 * _REACH]) / (2 * _REACH * GRID_MIN)
        half_hour = np.floor(2 * local_hours(trace.time, zones)).astype(int)
        parts.append(pd.DataFrame({"half_hour": half_hour, "level": glucose, "slope": slope}))
    typical = pd.concat(parts).groupby("half_hour").median().reindex(range(_HALF_HOURS))
    wake, bed = _waking_hours(wears)
    return TypicalDay(typical["level"].to_numpy(), typical["slope"].to_numpy(), wake, bed)


def _waking_hours(wears: Sequence[tuple[Trace, ZoneSpans, pd.DataFrame]]) -> tuple[float, float]:
    wake, bed = [], []
    for _, zones, nights in wears:
        slept = nights[nights["night_source"] != "clock"]
        wake.append(local_hours(pd.DatetimeIndex(slept["end"]), zones))
        bed.append((local_hours(pd.DatetimeIndex(slept["start"]), zones) - 12) % 24 + 12)
    ends, starts = np.concatenate(wake), np.concatenate(bed)
    if not len(ends) or np.median(starts) - np.median(ends) < LEAST_WAKING_H:
        return USUAL_WAKING_H
    return float(np.median(ends)), float(np.median(starts))


def plan_check_times(day: TypicalDay, dates: pd.DatetimeIndex, checks: int, zones: ZoneSpans) -> pd.DataFrame:
    """When to take each finger-stick.

    Parameters
    ----------
    day : TypicalDay
    dates : DatetimeIndex
        Local days of the next wear that are worn whole, after warm-up.
    checks : int
    zones : ZoneSpans

    Returns
    -------
    DataFrame
        ``time`` [UTC], ``usual_mg_dl``, ``usual_slope_mg_dl_min``, by time. Days are spread evenly. Two of four or more
        are taken on waking: sensors read differently at night, which those by day do not show. Of the others, parts of
        the waking day are gone round, and in each part a steady half-hour where glucose is usually low and one where
        it is usually high take turns: an error that grows with glucose then shows.
    """
    lows, highs = zip(*_steady_half_hours(day), strict=True)
    waking = _choose_waking(checks)
    order = np.cumsum(~waking) - 1
    part = np.array(PART_ORDER)[order % _PARTS]
    round_ = order // _PARTS + part  # each part takes turns between low and high
    half_hour = np.where(round_ % 2 == 0, np.array(lows)[part], np.array(highs)[part])
    half_hour[waking] = round(2 * day.wake_h)
    place = (
        np.rint(np.linspace(0, len(dates) - 1, checks)).astype(int) if checks > 1 else np.full(checks, len(dates) // 2)
    )
    local = dates[place] + pd.to_timedelta(half_hour * 30 + 15, unit="min")
    planned = pd.DataFrame({
        "local": local,
        "usual_mg_dl": day.level_mg_dl[half_hour % _HALF_HOURS],
        "usual_slope_mg_dl_min": day.slope_mg_dl_min[half_hour % _HALF_HOURS],
    }).drop_duplicates("local").sort_values("local", ignore_index=True)  # fmt: skip
    planned.insert(0, "time", to_utc(planned["local"], zones).times)
    return planned.drop(columns="local")


def _choose_waking(checks: int) -> np.ndarray:
    """Which of the finger-sticks, by time, are those on waking, shape (checks,)."""
    waking = np.zeros(checks, bool)
    if checks >= LEAST_WITH_WAKING:
        waking[((np.arange(WAKING_CHECKS) + 0.5) * checks / WAKING_CHECKS).astype(int)] = True
    return waking


def _steady_half_hours(day: TypicalDay) -> list[tuple[int, int]]:
    """For each part of the waking day the steady half-hours with the lowest and the highest usual glucose."""
    first = int(np.ceil(2 * (day.wake_h + AFTER_WAKING_H)))
    last = int(np.floor(2 * (day.bed_h - BEFORE_BED_H)))
    chosen = []
    for mine in np.array_split(np.arange(first, max(last, first + _PARTS)), _PARTS):
        slope, level = day.slope_mg_dl_min[mine % _HALF_HOURS], day.level_mg_dl[mine % _HALF_HOURS]
        slope = np.where(np.isnan(slope), np.inf, slope)
        steady = np.argsort(slope, kind="stable")[: max(int(len(mine) * STEADY_SHARE), 1)]
        by_level = steady[np.argsort(level[steady], kind="stable")]
        known = by_level[np.isfinite(level[by_level])] if np.isfinite(level[by_level]).any() else by_level
        chosen.append((int(mine[known[0]]), int(mine[known[-1]])))
    return chosen

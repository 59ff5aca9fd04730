"""What were the periods? Wears and stretches with their means, the sensors' bias solved together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr

from glucolab.aligning.bias import SideBySide, estimate_bias
from glucolab.aligning.bias_posterior import Bias
from glucolab.aligning.trace_record import Trace
from glucolab.intervals import Z, half_width, normal_half_width
from glucolab.measuring.whole_wear import WearFigures
from glucolab.record import WearPeriod
from glucolab.record.study_outputs import PERIODS

STRETCH_DAYS = 14.0
"""Wears less far apart are one stretch [days]; the contract's. Larger averages over times lived differently, smaller
counts one time as several and finds trends in them."""
LEAST_OVERLAP_HOURS = 6.0
"""Time that two sensors must share before their difference is used [h]; assumed. Too short lets passing noise count as
bias, too long throws away what a wear side by side says of it."""
SIDE_BY_SIDE_FRACTION = 0.02
"""Standard error of that difference, as a share of the level [1]; assumed. Too small makes the intervals of bias and of
changes too narrow, too large leaves two sensors hardly better than one."""
_MOMENT = pd.Timedelta(microseconds=1)
"""Taken off an end, which is exclusive [µs]: otherwise a wear that ends at midnight would be dated a day late."""


@dataclass(frozen=True, eq=False)
class Measured:
    """What the comparison of periods needs of one wear."""

    wear: WearPeriod
    trace: Trace
    figures: WearFigures
    coverage: float
    start: pd.Timestamp
    end: pd.Timestamp
    interval_min: float


@dataclass(frozen=True, eq=False)
class Period:
    """A wear, or a stretch of several, as a weighted set of wears.

    Attributes
    ----------
    weights : numpy.ndarray, shape (wears,)
        Of each wear of the study in the period's mean; they sum to one.
    usual_mg_dl, mean_mg_dl : float
        Means with the jointly estimated bias removed. [mg/dL]
    days_var, hours_var : float
        Variances that are the period's own. [(mg/dL)²]
    df : float
        Degrees of freedom of `days_var`.
    """

    level: str
    name: str
    members: tuple[int, ...]
    weights: np.ndarray
    mean_mg_dl: float
    usual_mg_dl: float
    days_var: float
    hours_var: float
    df: float


def estimate_joint_bias(wears: Sequence[Measured]) -> Bias:
    """Bias of all wears at once: one model's sensors share part of theirs, one meter all of its own.

    Sensors worn side by side for six hours or more add the information in their difference.
    """
    data = [m.trace.check_data for m in wears]
    return estimate_bias(data, find_overlaps(wears))


def find_overlaps(wears: Sequence[Measured]) -> list[SideBySide]:
    """Pairs of wears worn at once, with the mean difference of their sensors."""
    pairs = []
    for i, first in enumerate(wears):
        for j in range(i + 1, len(wears)):
            second = wears[j]
            if second.start >= first.end or first.start >= second.end:
                continue
            a, b = (
                pd.Series(m.trace.sensor_mg_dl, index=m.trace.time)[~np.isnan(m.trace.glucose_mg_dl)]
                for m in (first, second)
            )
            shared = a.index.intersection(b.index)
            if len(shared) * 5 / 60 < LEAST_OVERLAP_HOURS:
                continue
            level = (first.trace.level_mg_dl + second.trace.level_mg_dl) / 2
            pairs.append(SideBySide(i, j, float((a[shared] - b[shared]).mean()), SIDE_BY_SIDE_FRACTION * level))
    return pairs


def build_periods(wears: Sequence[Measured], bias: Bias) -> list[Period]:
    """Every wear as a period, then every stretch: wears less than 14 days apart, taken together."""
    singles = [_as_period("wear", (i,), wears, bias) for i in range(len(wears))]
    return singles + [_as_period("stretch", members, wears, bias) for members in find_stretches(wears)]


def find_stretches(wears: Sequence[Measured]) -> list[tuple[int, ...]]:
    """Indices of wears that belong together, by start; a single wear is a stretch of its own."""
    order = sorted(range(len(wears)), key=lambda i: wears[i].start)
    stretches: list[list[int]] = []
    end = None
    for i in order:
        if end is None or (wears[i].start - end).total_seconds() >= STRETCH_DAYS * 86400:
            stretches.append([])
            end = wears[i].end
        stretches[-1].append(i)
        end = max(end, wears[i].end)
    return [tuple(s) for s in stretches]


def _as_period(level: str, members: tuple[int, ...], wears: Sequence[Measured], bias: Bias) -> Period:
    """Pool wears by the days each brings; days worn twice are counted once, shared between sensors."""
    usable = [i for i in members if np.isfinite(wears[i].figures.usual_mg_dl)]
    name = wears[members[0]].wear.name
    if len(members) > 1:
        name = f"{name} … {wears[members[-1]].wear.name}"
    weights = np.zeros(len(wears))
    if not usable:
        return Period(level, name, members, weights, np.nan, np.nan, np.nan, np.nan, np.nan)
    days = np.array([wears[i].figures.days_used for i in usable])
    share = days / days.sum()
    weights[usable] = share
    # what each wear's own page took off as bias is put back, and the joint estimate taken off
    moved = np.array([wears[i].trace.bias.offsets[0] - bias.offsets[i] for i in usable])
    figures = [wears[i].figures for i in usable]
    distinct = _distinct_days(wears, usable)
    days_var = share**2 @ np.array([f.variances["days"] for f in figures]) * days.sum() / max(distinct, 1e-9)
    return Period(
        level, name, members, weights,
        float(share @ (np.array([f.mean_mg_dl for f in figures]) + moved)),
        float(share @ (np.array([f.usual_mg_dl for f in figures]) + moved)),
        float(days_var),
        float(share**2 @ np.array([f.variances["hours"] for f in figures])),
        float(sum(f.variances["df"] for f in figures)),
    )  # fmt: skip


def _distinct_days(wears: Sequence[Measured], usable: list[int]) -> float:
    """Days' worth of recorded time, counting time that two sensors share once."""
    cells = np.concatenate([wears[i].trace.time[~np.isnan(wears[i].trace.glucose_mg_dl)].asi8 for i in usable])
    return len(np.unique(cells // 300_000_000)) / 288


def tabulate_periods(
    periods: Sequence[Period], wears: Sequence[Measured], bias: Bias, goal_mg_dl: float | None
) -> pd.DataFrame:
    """``periods.csv``: each period's mean with its intervals, and the chance that it met the goal."""
    rows = []
    for period in periods:
        mine = [wears[i] for i in period.members]
        sensor = bias.variance_of(period.weights)
        half = normal_half_width(sensor + period.hours_var)
        usual = half_width([period.days_var, sensor + period.hours_var], [period.df, np.inf])
        offset = float(period.weights @ bias.offsets)
        known = np.isfinite(period.mean_mg_dl)
        local = [m.start.tz_convert(m.wear.zones.names[0]) for m in mine]
        last = max(mine, key=lambda m: m.end)
        rows.append(
            {
                "level": period.level,
                "name": period.name,
                "start": min(local).tz_localize(None).normalize(),
                "end": (last.end - _MOMENT).tz_convert(last.wear.zones.names[-1]).tz_localize(None).normalize(),
                "days": _worn_days(mine),
                "coverage": float(
                    np.average(
                        [m.coverage for m in mine], weights=[(m.end - m.start).total_seconds() + 1 for m in mine]
                    )
                ),
                "mean_mg_dl": period.mean_mg_dl,
                "mean_low_mg_dl": period.mean_mg_dl - half,
                "mean_high_mg_dl": period.mean_mg_dl + half,
                "usual_low_mg_dl": period.usual_mg_dl - usual,
                "usual_high_mg_dl": period.usual_mg_dl + usual,
                **_spread(period, mine),
                "bias_mg_dl": offset if known else np.nan,
                "bias_low_mg_dl": offset - normal_half_width(sensor) if known else np.nan,
                "bias_high_mg_dl": offset + normal_half_width(sensor) if known else np.nan,
                "checks_used": float(sum(len(m.trace.checks) for m in mine)),
                "probability_goal_met": float(ndtr((goal_mg_dl - period.mean_mg_dl) * Z / half))
                if goal_mg_dl and known
                else np.nan,
            }
        )
    return pd.DataFrame(rows, columns=PERIODS.names)


def _worn_days(mine: Sequence[Measured]) -> float:
    """Days from insertion to removal; what two sensors shared counts once."""
    seconds, until = 0.0, None
    for m in sorted(mine, key=lambda m: m.start):
        begin = m.start if until is None else max(m.start, until)
        seconds += max((m.end - begin).total_seconds(), 0.0)
        until = m.end if until is None else max(until, m.end)
    return seconds / 86400


def _spread(period: Period, mine: Sequence[Measured]) -> dict[str, float]:
    """Standard deviation and coefficient of variation, weighed like the mean."""
    weights = [period.weights[i] for i in period.members]
    sds = [m.figures.estimates["sd"]["estimate"] if m.figures.estimates["sd"] else 0.0 for m in mine]
    if not np.isfinite(period.mean_mg_dl):
        return {"sd_mg_dl": np.nan, "cv_percent": np.nan}
    sd = float(np.sqrt(np.average(np.square(sds), weights=weights)))
    return {"sd_mg_dl": sd, "cv_percent": 100 * sd / period.mean_mg_dl}

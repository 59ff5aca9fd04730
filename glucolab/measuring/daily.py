"""How was each day? A row a local day, empty where too little of it was recorded."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.cleaning.clean import CleanRecord
from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import Days, day_starts, days_between
from glucolab.measuring.excursions import measure_excursions
from glucolab.measuring.nights import find_nights
from glucolab.record import Study, WearPeriod
from glucolab.record.inputs import DAYS
from glucolab.record.outputs import DAILY

_LEAST_COVERAGE = 0.7
"""Of a day, and of a night for its mean; the contract's, as the consensus asks of a fortnight (Danne et al. 2017).
Lower, a day's mean is that of the hours recorded; higher, many days stay empty. [0-1]"""
LEAST_BLOCK_COVERAGE = 0.5
"""Of each six-hour block of a day; the contract's. Lower, a day without its night, or its dinner, counts as whole;
higher, many days stay empty. [0-1]"""
BLOCK_HOURS = (0, 6, 12, 18, 24)
"""Edges of the blocks that a day must be covered in; the contract's. Of whoever lives at other hours a block holds part
of the night and part of the day, which costs little here. [local hours]"""
FIGURES = ("mean_mg_dl", "sd_mg_dl", "cv_percent", "overnight_mean_mg_dl", "minutes_below", "minutes_in_range",
           "minutes_above", "excursions")  # fmt: skip


def measure_daily(
    wear: WearPeriod,
    clean: CleanRecord,
    trace: Trace,
    days: Days | None = None,
    nights: pd.DataFrame | None = None,
    excursions: pd.DataFrame | None = None,
    low_mg_dl: float = Study.range_low_mg_dl,
    high_mg_dl: float = Study.range_high_mg_dl,
) -> pd.DataFrame:
    """Figures and covariates of each local day.

    Parameters
    ----------
    wear : WearPeriod
        As :func:`glucolab.add_movement` leaves it.
    clean : CleanRecord
        From :func:`glucolab.clean_wear`.
    trace : Trace, of g points
        From :func:`glucolab.estimate_trace`.
    days : Days, optional
        Default: the local days that the wear touches.
    nights : DataFrame, shape (d, 4), optional
        Default: by the sleep that was logged, else from midnight to six.
    excursions : DataFrame, optional
        Default: those of :func:`glucolab.measure_excursions`.
    low_mg_dl, high_mg_dl : float
        The range; its edges count as within. [mg/dL]

    Returns
    -------
    DataFrame, shape (d, k)
        Columns of ``daily.csv`` (``gl.describe_table("daily")``), then every covariate of ``days.csv`` and what
        movement.csv filled.

    Notes
    -----
    A day has figures where 0.7 of it was recorded and half of each of its six-hour blocks; else they are empty, never
    zero. Mean and SD are those of the five-minute trace, the SD with n - 1 in its denominator; the CV is the SD over
    the mean. Minutes are counted of the trace, and of a day with gaps add up to less than a day.

    References
    ----------
    .. [1] Danne et al., Diabetes Care 2017;40:1631-1640, doi 10.2337/dc17-1600.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> daily = gl.measure_daily(wear, clean, gl.estimate_trace(wear, clean))
    >>> daily.loc[daily["enough"], "mean_mg_dl"].between(80, 130).all()
    np.True_
    """
    days = days_between(clean.start, clean.end, wear.zones) if days is None else days
    nights = find_nights(wear, days) if nights is None else nights
    excursions = measure_excursions(wear, clean, trace) if excursions is None else excursions
    out = pd.DataFrame({"date": days.dates})
    out["coverage"] = clean.minutes_between(days.edges) / days.minutes
    out["enough"] = (out["coverage"] >= _LEAST_COVERAGE).astype("boolean") & _every_block(clean, days, wear)
    day = days.of(trace.time)
    out = out.join(_trace_figures(trace.glucose_mg_dl, day, len(out), low_mg_dl, high_mg_dl))
    out["overnight_mean_mg_dl"] = _overnight_means(trace, nights, clean)
    out["night_source"] = nights["night_source"]
    out["excursions"] = np.bincount(days.of(excursions["start"]), minlength=len(out)).astype(float)
    out.loc[~out["enough"].to_numpy(dtype=bool), list(FIGURES)] = np.nan
    logged = _logged(wear, days)
    for name in logged:
        out[name] = logged[name]
    out["steps_source"] = _steps_source(wear.days, days)
    out["asleep_h"] = nights["asleep_h"]
    covariates = [name for name in logged if name not in DAILY.names]
    return out[[*DAILY.names, *covariates]]


def _every_block(clean: CleanRecord, days: Days, wear: WearPeriod) -> np.ndarray:
    """Every six-hour block of the day covered by at least half."""
    edges = np.concatenate([_hour_edges(days, wear, hour) for hour in BLOCK_HOURS[:-1]])
    edges = np.sort(np.r_[edges, days.edges.asi8[-1]])
    index = pd.DatetimeIndex(pd.to_datetime(edges, unit="us", utc=True)).as_unit("us")
    minutes = clean.minutes_between(index)
    possible = np.diff(edges) / 60e6
    share = minutes / np.maximum(possible, 1e-9)
    # a block that a trip has swallowed asks for nothing
    return np.all(np.where(possible > 0, share, 1.0).reshape(-1, 4) >= LEAST_BLOCK_COVERAGE, axis=1)


def _hour_edges(days: Days, wear: WearPeriod, hour: int) -> np.ndarray:
    if hour == 0:
        return days.edges.asi8[:-1]
    edges = day_starts(days.dates + pd.Timedelta(hours=hour), wear.zones).asi8
    return np.clip(edges, days.edges.asi8[:-1], days.edges.asi8[1:])


def _trace_figures(glucose: np.ndarray, day: np.ndarray, n: int, low: float, high: float) -> pd.DataFrame:
    known = ~np.isnan(glucose) & (day >= 0)
    at, values = day[known], glucose[known]

    def add(weights: np.ndarray) -> np.ndarray:
        return np.bincount(at, weights, minlength=n)

    count = add(np.ones(len(values)))
    safe = np.maximum(count, 1)
    mean = np.where(count > 0, add(values) / safe, np.nan)
    squares = add((values - mean[at]) ** 2)
    sd = np.where(count > 1, np.sqrt(squares / np.maximum(count - 1, 1)), np.nan)
    return pd.DataFrame(
        {
            "mean_mg_dl": mean,
            "sd_mg_dl": sd,
            "cv_percent": 100 * sd / mean,
            "minutes_below": add(values < low) * GRID_MIN,
            "minutes_in_range": add((values >= low) & (values <= high)) * GRID_MIN,
            "minutes_above": add(values > high) * GRID_MIN,
        }
    )


def _overnight_means(trace: Trace, nights: pd.DataFrame, clean: CleanRecord) -> np.ndarray:
    """Mean of the trace over each night that is covered by 0.7 or more."""
    first, last = (np.ceil(trace.cells(nights[side])).astype(int) for side in ("start", "end"))
    g = len(trace.time)
    known = ~np.isnan(trace.glucose_mg_dl)
    sums = np.r_[0.0, np.cumsum(np.where(known, trace.glucose_mg_dl, 0))]
    counts = np.r_[0, np.cumsum(known)]
    a, b = np.clip(first, 0, g), np.clip(last, 0, g)
    count = counts[b] - counts[a]
    enough = count >= _LEAST_COVERAGE * (last - first)
    return np.where(enough & (count > 0), (sums[b] - sums[a]) / np.maximum(count, 1), np.nan)


def _logged(wear: WearPeriod, days: Days) -> dict[str, np.ndarray]:
    """Daily sums of what was logged, and the columns of days.csv, each shape (d,)."""
    n = len(days.dates)
    meal_day = days.of(wear.meals["time"])
    out = {name: _sum_by_day(wear.meals[name], meal_day, n) for name in ("carbs_g", "fiber_g")}
    activity_day = days.of(wear.activity["start"])
    out["exercise_min"] = _sum_by_day(
        wear.activity["minutes"], activity_day, n, empty=0.0 if wear.has("activity") else np.nan
    )
    written = wear.days.set_index("date")
    numeric = written.select_dtypes(["number", "boolean"]).astype(float).reindex(days.dates)
    for name in numeric:
        out[str(name)] = numeric[name].to_numpy()
    for name in ("stress", "relaxation_min", "caffeine_mg"):
        out.setdefault(name, np.full(n, np.nan))
    drunk = _sum_by_day(wear.meals["caffeine_mg"], meal_day, n)
    out["caffeine_mg"] = np.where(np.isnan(out["caffeine_mg"]), drunk, out["caffeine_mg"])
    # a column of the schema that nobody filled is no covariate
    optional = {c.name for c in DAYS.columns} - {"stress", "relaxation_min", "caffeine_mg"}
    return {name: values for name, values in out.items() if name not in optional or not np.isnan(values).all()}


def _steps_source(written: pd.DataFrame, days: Days) -> np.ndarray:
    """Who counted each day's steps: days.csv, or the device of movement.csv; empty where nobody did, shape (d,)."""
    rows = written.set_index("date").reindex(days.dates)
    if "steps" not in rows:
        return np.full(len(rows), "", dtype=object)
    counted = rows["steps"].notna().to_numpy()
    source = rows["steps_source"].fillna("") if "steps_source" in rows else "days"
    return np.where(counted, source, "").astype(object)


def _sum_by_day(values: pd.Series, day: np.ndarray, n: int, empty: float = np.nan) -> np.ndarray:
    """Sum of the values that are known, `empty` on days without any."""
    known = values.notna().to_numpy() & (day >= 0)
    total = np.bincount(day[known], values[known], minlength=n)
    return np.where(np.bincount(day[known], minlength=n) > 0, total, empty)


def in_nights(times: pd.DatetimeIndex, nights: pd.DataFrame) -> np.ndarray:
    """True within any night, shape (g,)."""
    return spans_to_mask(times, nights["start"], nights["end"])

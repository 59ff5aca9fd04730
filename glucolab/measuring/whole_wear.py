"""How was the whole wear? Mean, spread, minutes in range, with days, hours and sensor in the interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from glucolab.aligning.fill import Eaten, day_slots, fill_draws
from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import DrawnTrace, Trace
from glucolab.cleaning.clean import CleanRecord
from glucolab.clock import Days, days_between, local_hours
from glucolab.intervals import (
    Estimate,
    Z,
    as_estimate,
    half_width,
    interval_of_draws,
    interval_of_rate,
    normal_interval_of_draws,
    shortest_interval_of_draws,
)
from glucolab.measuring.daily import in_nights
from glucolab.measuring.days_apart import variance_of_days
from glucolab.measuring.excursions import ABOVE_MEDIAN_MG_DL, find_runs, measure_excursions
from glucolab.measuring.illness import find_ill_days
from glucolab.measuring.meals import measure_meal_responses
from glucolab.measuring.nights import find_nights
from glucolab.measuring.occasions import without_minor
from glucolab.measuring.time_of_day import measure_blocks
from glucolab.record import Study, WearPeriod

LEAST_HOURS = 48.0
"""With less recorded, figures of the whole wear are withheld; assumed. Less, one day would stand for a life, and
nothing tells how days differ; more withholds what a wide interval would say anyway. [h]"""
LEAST_CHECKS_FOR_MINUTES = 2
"""With fewer blood values minutes in and out of the range are withheld: a sensor that nobody checked may read so far
off that they are known to a third of the day either way. Asking for more withholds what six tell. [1]"""
UNCHECKED = (
    "Minutes in and out of the range need at least two blood values beside the sensor: without them it may read too "
    "far off to tell."
)
SHARES = "usual_mean_error_shares"
OF_WHOLE_WEARS = (
    "mean", "mean_without_ill_days", "sd", "cv_percent", "usual_mean", SHARES, "minutes_per_day", "overnight_mean",
    "excursions_per_day", "excursions_per_day_without_exercise", "dips_per_day",
)  # fmt: skip
"""In the order of ``summary.json``."""
_SEED = 20260217
"""Fixed, so that the same input gives the same figures."""


@dataclass(frozen=True, eq=False)
class WearFigures:
    """What one wear says of itself, before wording.

    Attributes
    ----------
    estimates : dict of str to dict or None
        By the names of ``summary.json``; None where withheld.
    withheld : dict of str to str
        A sentence for each figure that is None.
    shares : dict of str to float or None
        Variance of the usual mean by days, hours, sensor.
    variances : dict of str to float
        The same three in (mg/dL)², and ``df`` of the days' part.
    mean_mg_dl, usual_mg_dl : float
        NaN where withheld.
    blocks : numpy.ndarray, shape (days, 4)
        Mean of each six-hour block of each day. [mg/dL]
    days_used : float
        Days' worth of recorded time.
    """

    estimates: dict[str, Any]
    withheld: dict[str, str]
    shares: dict[str, float] | None
    variances: dict[str, float]
    mean_mg_dl: float
    usual_mg_dl: float
    blocks: np.ndarray
    days_used: float


def measure_figures(
    wear: WearPeriod,
    clean: CleanRecord,
    trace: DrawnTrace,
    *,
    days: Days | None = None,
    nights: pd.DataFrame | None = None,
    ill: np.ndarray | None = None,
    excursions: pd.DataFrame | None = None,
    responses: pd.DataFrame | None = None,
    low_mg_dl: float = Study.range_low_mg_dl,
    high_mg_dl: float = Study.range_high_mg_dl,
) -> WearFigures:
    """Every whole-wear figure with its interval: mean, SD, CV, minutes in range, rates.

    Parameters
    ----------
    wear : WearPeriod
    clean : CleanRecord
        From :func:`glucolab.clean_wear`.
    trace : DrawnTrace, of k draws and g points
        From :func:`glucolab.estimate_trace`.
    days : Days, optional
        Default: the d local days that the wear touches.
    nights : DataFrame, shape (d, 4), optional
        Default: by the sleep that was logged, else from midnight to six.
    ill : array of bool, shape (d,), optional
        Days of illness; default: as days.csv and notes.csv say.
    excursions, responses : DataFrame, optional
        Default: those of :func:`glucolab.measure_excursions` and :func:`glucolab.measure_meal_responses`.
    low_mg_dl, high_mg_dl : float
        The range. [mg/dL]

    Returns
    -------
    WearFigures
        ``estimates["mean"]`` is ``{"estimate", "low", "high", "level"}``; ``shares`` says what part of the usual mean's
        variance comes from days, hours and sensor.

    Notes
    -----
    All figures are taken over the same draws of blood, whose long gaps are filled from other days
    at the same hour and, after meals, from other meals. The usual mean weighs the hours of the day
    alike and adds the spread between days, autocorrelated; the sensor's share is the spread that
    removing the bias leaves.
    Limits of validity: two days of readings, all hours of the day recorded at least once. The usual mean's interval is
    Student's t with the degrees of freedom of its three parts taken together (Welch and Satterthwaite).

    References
    ----------
    .. [1] Danne et al., Diabetes Care 2017;40:1631-1640, doi 10.2337/dc17-1600.
    .. [2] Welch, Biometrika 1947;34:28-35, doi 10.1093/biomet/34.1-2.28.
    .. [3] Satterthwaite, Biometrics Bulletin 1946;2:110-114, doi 10.2307/3002019.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> figures = gl.measure_figures(wear, clean, gl.estimate_trace(wear, clean))
    >>> mean = figures.estimates["mean"]
    >>> mean["low"] < mean["estimate"] < mean["high"], mean["level"]
    (True, 0.9)
    >>> round(sum(figures.shares.values()), 6)
    1.0
    """
    days = days_between(clean.start, clean.end, wear.zones) if days is None else days
    nights = find_nights(wear, days) if nights is None else nights
    ill = find_ill_days(wear, days) if ill is None else ill
    excursions = measure_excursions(wear, clean, trace) if excursions is None else excursions
    responses = measure_meal_responses(wear, clean, trace) if responses is None else responses
    hours = local_hours(trace.time, wear.zones)
    slot, day = day_slots(hours, days, trace.time)
    recorded_hours = float((~np.isnan(trace.glucose_mg_dl)).sum() * GRID_MIN / 60)
    blocks = measure_blocks(trace.glucose_mg_dl, hours, np.maximum(day, 0))
    rng, eaten = np.random.default_rng(_SEED), _eaten(trace, responses)
    filled, missing = fill_draws(trace.draws, trace.gap_min, slot, np.maximum(day, 0), eaten, rng)
    too_little = _too_little(recorded_hours, missing, hours)
    if too_little:
        nothing, why = dict.fromkeys(OF_WHOLE_WEARS), dict.fromkeys(OF_WHOLE_WEARS, too_little)
        return WearFigures(nothing, why, None, {}, np.nan, np.nan, blocks, recorded_hours / 24)
    mean = filled.mean(axis=1)
    sd = filled.std(axis=1, ddof=1)
    below, above = (filled < low_mg_dl).mean(axis=1) * 1440, (filled > high_mg_dl).mean(axis=1) * 1440
    minutes = {"below_range": below, "in_range": 1440 - below - above, "above_range": above}
    usual, variances = _usual_mean(filled, trace, hours, np.maximum(day, 0), recorded_hours / 24)
    total = sum(variances[name] for name in ("days", "hours", "sensor"))
    estimates: dict[str, Any] = {
        "mean": normal_interval_of_draws(mean),
        "mean_without_ill_days": _mean_without(filled, ill[np.maximum(day, 0)]),
        "sd": interval_of_draws(sd),
        "cv_percent": interval_of_draws(100 * sd / mean),
        "usual_mean": _usual_interval(usual, variances),
        "minutes_per_day": {name: shortest_interval_of_draws(drawn) for name, drawn in minutes.items()},
    }
    withheld: dict[str, str] = {}
    if len(trace.checks) < LEAST_CHECKS_FOR_MINUTES:
        estimates["minutes_per_day"], withheld["minutes_per_day"] = None, UNCHECKED
    night = in_nights(trace.time, nights)
    estimates["overnight_mean"] = normal_interval_of_draws(filled[:, night].mean(axis=1)) if night.any() else None
    if not night.any():
        withheld["overnight_mean"] = "No night lies within this wear."
    estimates |= _rates(filled, trace, excursions, responses, recorded_hours / 24, withheld)
    shares = {name: variances[name] / total for name in ("days", "hours", "sensor")}
    return WearFigures(estimates, withheld, shares, variances, float(mean.mean()), usual, blocks, recorded_hours / 24)


def _mean_without(filled: np.ndarray, ill: np.ndarray) -> Estimate | None:
    """Mean of the days without illness; None where there is no other kind, or no day is left."""
    return normal_interval_of_draws(filled[:, ~ill].mean(axis=1)) if ill.any() and not ill.all() else None


def _eaten(trace: Trace, responses: pd.DataFrame) -> Eaten:
    """Occasions on the grid that are more than minor."""
    occasions = without_minor(responses)
    cells = np.ceil(trace.cells(occasions["time"]) - 1e-9).astype(int)
    inside = (cells >= 0) & (cells < len(trace.time))
    return Eaten(cells[inside], occasions["carbs_g"].to_numpy(dtype=float)[inside])


def _too_little(recorded_hours: float, missing: np.ndarray, hours: np.ndarray) -> str:
    if recorded_hours < LEAST_HOURS:
        return f"Only {recorded_hours:.0f} hours of readings can be used; a figure of the whole wear needs two days."
    if missing.any():
        never = np.unique(np.floor(hours[missing]).astype(int))
        return f"The time around {never[0]:02d}:00 was never recorded, so a figure of whole days would be a guess."
    return ""


def _usual_mean(
    filled: np.ndarray, trace: DrawnTrace, hours: np.ndarray, day: np.ndarray, days_used: float
) -> tuple[float, dict[str, float]]:
    """Mean with every hour of the day weighing alike, and the three parts of its variance."""
    hour = np.floor(hours).astype(int)
    weight = 1 / np.bincount(hour, minlength=24)[hour]
    weight /= weight.sum()
    drawn = filled @ weight
    # the sensor's part: what the bias draws alone do to the same mean
    sensor_part = (trace.draws - trace.sensor_draws) @ weight
    day_variance, df = variance_of_days(trace, hour, day, days_used)
    sensor = float(np.var(sensor_part, ddof=1))
    hours_part = max(float(np.var(drawn - sensor_part, ddof=1)), 1e-6)
    return float(drawn.mean()), {"days": day_variance, "hours": hours_part, "sensor": sensor, "df": df}


def _usual_interval(usual: float, variances: dict[str, float]) -> Estimate:
    half = half_width([variances[name] for name in ("days", "hours", "sensor")], [variances["df"], np.inf, np.inf])
    return as_estimate(usual, usual - half, usual + half)


def _rates(
    filled: np.ndarray,
    trace: Trace,
    excursions: pd.DataFrame,
    responses: pd.DataFrame,
    days_used: float,
    withheld: dict[str, str],
) -> dict[str, Estimate | None]:
    """Excursions and dips a day."""
    counts = []
    for row in filled[:: max(len(filled) // 30, 1)]:
        counts.append(len(find_runs(row, float(np.median(row)) + ABOVE_MEDIAN_MG_DL)[0]))
    per_day = np.array(counts) / (len(trace.time) * GRID_MIN / 1440)
    found = len(excursions) / days_used
    without = int((~excursions["linked_to"].str.startswith("exercise")).sum())
    spread = np.std(per_day, ddof=1)
    half = Z * np.sqrt(spread**2 + (np.mean(per_day) - found) ** 2)
    share = without / max(len(excursions), 1)
    out: dict[str, Estimate | None] = {
        "excursions_per_day": as_estimate(found, max(found - half, 0.0), found + half),
        "excursions_per_day_without_exercise": as_estimate(
            found * share, max(found - half, 0.0) * share, (found + half) * share
        ),
    }
    # whether another meal follows says something of the dip, so those that one follows are counted too
    eaten = without_minor(responses)
    chance = eaten["dip_chance"].to_numpy(dtype=float)
    judged = ~np.isnan(chance)
    if judged.any():
        chance = chance[judged]
        # occasions whose third hour was not recorded are taken to dip as often as the others
        scale = len(eaten) / judged.sum()
        rate = interval_of_rate(chance.sum(), days_used, float(np.sum(chance * (1 - chance))))
        out["dips_per_day"] = {k: (v * scale if k != "level" else v) for k, v in rate.items()}
    else:
        out["dips_per_day"] = None
        withheld["dips_per_day"] = "No meal has three undisturbed hours after it, so dips cannot be counted."
    return out

"""What would blood have shown? The trace: smoothed, moved back by the lag, bias removed, with draws."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.aligning.bias import estimate_bias
from glucolab.aligning.bias_posterior import OF_HOURS, PARTS, UNKNOWNS, Bias
from glucolab.aligning.bias_prior import CheckData, follows_food
from glucolab.aligning.hour_bias import hour_shapes
from glucolab.aligning.lag import LagNodes, prior_lags, weigh_lags
from glucolab.aligning.smoother import GRID_MIN, Readings, Spreads, smooth
from glucolab.aligning.spreads import estimate_spreads
from glucolab.aligning.trace_record import DrawnTrace, grid_place
from glucolab.cleaning.clean import CleanRecord
from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import local_hours
from glucolab.errors import CannotAnalyse
from glucolab.record import WearPeriod

BRIDGE_MIN = 30.0
"""Nothing is bridged over more than this in the trace; the contract's. Longer, peaks are made up where none was seen;
shorter, one lost reading empties a meal's figures. [min]"""
CHECK_REACH_MIN = 15.0
"""A check further than this from a usable reading is not used; assumed. Longer, glucose has moved meanwhile and the
check tells little; shorter, checks beside a gap are lost. [min]"""
LEAST_USED = 3
"""Usable readings that a trace needs: with fewer there is no spread to tell noise from blood. A whole analysis asks for
more. [readings]"""
_DRAWS = 120
"""Draws that every figure is taken over: six lie beyond each end of an interval. Fewer make its ends jump, more cost
time and memory alone; assumed. [draws]"""
_SEED = 20260203
"""Fixed, so that the same input gives the same figures."""


def estimate_trace(wear: WearPeriod, clean: CleanRecord) -> DrawnTrace:
    """Smooth a wear's usable readings and remove lag and bias: what blood would have shown.

    Parameters
    ----------
    wear : WearPeriod
        For its finger-sticks, sleep, meals, meter and model of sensor.
    clean : CleanRecord
        From :func:`glucolab.clean_wear`, with at least three usable readings.

    Returns
    -------
    DrawnTrace, of k draws and g points
        Every five minutes: ``glucose_mg_dl``, its errors, ``draws`` of shape (k, g) that figures are taken over;
        :meth:`to_frame` gives a table. [mg/dL]

    Raises
    ------
    CannotAnalyse
        With fewer than three usable readings.

    Notes
    -----
    A state-space model: the slope of blood wanders, tissue follows blood with a first-order lag, the sensor adds
    autocorrelated noise; one banded Cholesky factor solves it. The bias relative to the wearer's level, an offset, a
    drift, a gain and what it does by the hour, is a linear-Gaussian solve with a prior of open recordings, and
    finger-sticks move it as far as they can tell. Lags stand in equal shares of their distribution, so that every
    figure taken over the draws has the lag's uncertainty in it. Draws come from a fixed seed: the same input gives the
    same figures.
    Limits of validity: nothing is bridged over more than 30 min in ``glucose_mg_dl``; without finger-sticks the level
    is known to a tenth or so, whatever the sensor shows.

    References
    ----------
    .. [1] Basu et al., Diabetes 2013;62:4083-4087.
    .. [2] Boyne et al., Diabetes 2003;52:2790-2794.
    .. [3] Staal et al., Biosensors 2018;8:93.
    .. [4] Zschornack et al., 2013 (PMC3879745).

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> trace = gl.estimate_trace(wear, clean)
    >>> trace.glucose_mg_dl.shape == trace.time.shape, trace.draws.shape[1] == len(trace.time)
    (True, True)
    >>> list(trace.to_frame())
    ['glucose_mg_dl', 'se_mg_dl', 'sd_mg_dl']
    """
    usable = clean.usable
    if len(usable) < LEAST_USED:
        raise CannotAnalyse(f"only {len(usable)} readings can be used, and a trace needs {LEAST_USED} or more")
    grid = _grid(clean)
    readings = _place_readings(usable, grid, _awake(wear, grid))
    prior = prior_lags()
    spreads = estimate_spreads(readings, float(prior.lag_min[len(prior.lag_min) // 2]))
    gap_min = _gap_lengths(readings, clean.interval_min)
    near = gap_min <= BRIDGE_MIN
    at_checks = _checks_in_reach(wear, usable, grid)
    lag = _lag_from_checks(wear, at_checks, prior, readings, spreads, grid, clean) if len(at_checks) else prior
    sensor_draws, centre = _draw_sensor(readings, spreads, lag)
    level = float(centre[near].mean())
    data = _check_data(wear, at_checks, sensor_draws, grid, clean, level, float(centre[near].std()))
    bias = estimate_bias([data])
    place, shapes = _wear_place(grid, clean), hour_shapes(local_hours(grid, wear.zones))
    drawn = bias.draw(0, np.random.default_rng(_SEED + 1), _DRAWS)
    draws = _remove_bias(sensor_draws, drawn, place, level, shapes)
    known = _remove_bias(centre[None, :], bias.mean, place, level, shapes)[0]
    at_checks = at_checks.assign(sensor_mg_dl=data.sensor_mg_dl, check_mg_dl=data.check_mg_dl, weight=bias.weights[0])
    return DrawnTrace(
        grid, np.where(near, known, np.nan), np.where(near, sensor_draws.std(axis=0), np.nan), draws.std(axis=0),
        sensor_draws.mean(axis=0), gap_min, lag, bias, data, at_checks, level, draws, sensor_draws,
    )  # fmt: skip


def _grid(clean: CleanRecord) -> pd.DatetimeIndex:
    step = pd.Timedelta(minutes=GRID_MIN)
    return pd.date_range(clean.start.floor(step), clean.end.ceil(step), freq=step, unit="us")


def _awake(wear: WearPeriod, grid: pd.DatetimeIndex) -> np.ndarray:
    """Grid points at which glucose may move fast: all but sleep, or but midnight to six."""
    if wear.has("sleep"):
        return ~spans_to_mask(grid, wear.sleep["start"], wear.sleep["end"])
    return local_hours(grid, wear.zones) >= 6


def _place_readings(usable: pd.Series, grid: pd.DatetimeIndex, awake: np.ndarray) -> Readings:
    place = grid_place(pd.DatetimeIndex(usable.index), grid[0])
    # one point more than the trace: blood over a step needs both its ends
    cell = np.clip(np.floor(place).astype(int), 0, len(grid) - 1)
    return Readings(cell, place - cell, usable.to_numpy(dtype=float), np.r_[awake, awake[-1]])


def _gap_lengths(readings: Readings, interval_min: float) -> np.ndarray:
    """Length of the gap each grid point of the trace lies in. [min]"""
    points = np.arange(readings.size - 1)
    place = readings.cell + readings.part
    after = np.searchsorted(place, points)
    last = len(place) - 1
    before = np.where(after > 0, place[np.maximum(after - 1, 0)], -np.inf)
    behind = np.where(after <= last, place[np.minimum(after, last)], np.inf)
    length = (behind - before) * GRID_MIN
    beside = np.minimum(points - before, behind - points) * GRID_MIN <= max(interval_min, GRID_MIN) / 2
    return np.where(beside | (length <= 1.5 * interval_min), 0.0, length)


def _draw_sensor(readings: Readings, spreads: Spreads, lag: LagNodes) -> tuple[np.ndarray, np.ndarray]:
    """Draws over the lags' distribution, and its mean."""
    rng = np.random.default_rng(_SEED)
    share = np.diff(np.round(np.r_[0, np.cumsum(lag.weight)] * _DRAWS).astype(int))
    parts, centre = [], np.zeros(readings.size - 1)
    for lag_min, weight, size in zip(lag.lag_min, lag.weight, share, strict=True):
        mean, sampled = smooth(readings, spreads, float(lag_min), rng, int(size))
        parts.append(sampled)
        centre = centre + weight * mean
    return np.vstack(parts), centre


def _checks_in_reach(wear: WearPeriod, usable: pd.Series, grid: pd.DatetimeIndex) -> pd.DataFrame:
    checks = wear.checks
    checks = checks.assign(line=checks.index)[["time", "line", "glucose_mg_dl", "source"]]
    place = grid_place(pd.DatetimeIndex(checks["time"]), grid[0])
    readings = grid_place(pd.DatetimeIndex(usable.index), grid[0])
    after = np.searchsorted(readings, place)
    before, behind = np.maximum(after - 1, 0), np.minimum(after, len(readings) - 1)
    nearest = np.where(place - readings[before] <= np.abs(readings[behind] - place), before, behind)
    checks = checks.assign(reading_mg_dl=usable.to_numpy(dtype=float)[nearest])
    distance = np.abs(place - readings[nearest])
    near = (distance * GRID_MIN <= CHECK_REACH_MIN) & (place >= 0) & (place <= len(grid) - 1)
    return checks[near].sort_values("time", ignore_index=True)


def _values_at(values: np.ndarray, times: pd.Series, grid: pd.DatetimeIndex) -> np.ndarray:
    """Linear interpolation of rows of grid values, shape (k, n)."""
    place = np.clip(grid_place(pd.DatetimeIndex(times), grid[0]), 0, len(grid) - 1)
    low = np.minimum(np.floor(place).astype(int), len(grid) - 2)
    part = place - low
    return values[:, low] * (1 - part) + values[:, low + 1] * part


def _wear_place(times: pd.DatetimeIndex, clean: CleanRecord) -> np.ndarray:
    length = max((clean.end - clean.warmed_up).total_seconds(), 1.0)
    return np.asarray((times - clean.warmed_up).total_seconds() / length - 0.5)


def _check_data(
    wear: WearPeriod,
    checks: pd.DataFrame,
    values: np.ndarray,
    grid: pd.DatetimeIndex,
    clean: CleanRecord,
    level: float,
    spread: float,
    se: float | None = None,
) -> CheckData:
    at = _values_at(values, checks["time"], grid)
    own_se = at.std(axis=0) if se is None else np.full(at.shape[1], se)
    # noise makes far values look farther: unless it is allowed for, the sensor seems to stretch
    kept = np.maximum(1 - (own_se / spread) ** 2, 0.5)
    return CheckData(
        level_mg_dl=level,
        model=wear.sensor_model,
        meter=wear.meter,
        sensor_mg_dl=level + kept * (at.mean(axis=0) - level),
        sensor_se_mg_dl=own_se,
        check_mg_dl=checks["glucose_mg_dl"].to_numpy(dtype=float),
        place=_wear_place(pd.DatetimeIndex(checks["time"]), clean),
        venous=(checks["source"] == "venous").to_numpy(dtype=bool),
        fed=follows_food(pd.DatetimeIndex(checks["time"]), wear.meals),
        hour=local_hours(pd.DatetimeIndex(checks["time"]), wear.zones),
    )


def _lag_from_checks(
    wear: WearPeriod,
    checks: pd.DataFrame,
    prior: LagNodes,
    readings: Readings,
    spreads: Spreads,
    grid: pd.DatetimeIndex,
    clean: CleanRecord,
) -> LagNodes:
    """The prior's lags weighed by how well each explains the checks: few checks hardly move them."""
    scores = []
    for lag_min in prior.lag_min:
        mean = smooth(readings, spreads, float(lag_min))[0]
        level, spread = float(readings.value.mean()), float(readings.value.std())
        data = _check_data(wear, checks, mean[None, :], grid, clean, level, spread, spreads.slow_noise)
        scores.append(estimate_bias([data]).log_likelihood)
    return weigh_lags(prior, np.array(scores))


def _remove_bias(
    sensor: np.ndarray, bias: np.ndarray, place: np.ndarray, level: float, shapes: np.ndarray
) -> np.ndarray:
    """Blood from the sensor's value and draws of its bias, shape (k, g)."""
    offset, drift, stretch = (bias[:, [i]] for i in range(3))
    blood = sensor * (1 - stretch)
    blood -= offset - stretch * level + drift * place
    blood -= bias[:, OF_HOURS] @ shapes.T
    return blood


def trace_unknown(clean: CleanRecord) -> DrawnTrace:
    """A trace that knows nothing, for a wear with too few usable readings to say anything."""
    grid = _grid(clean)
    nothing = np.full(len(grid), np.nan)
    empty = np.empty(0)
    data = CheckData.unchecked(np.nan, "", "")
    checks = pd.DataFrame({name: empty for name in ("line", "reading_mg_dl", "sensor_mg_dl", "check_mg_dl", "weight")})
    checks.insert(0, "time", grid[:0])
    checks.insert(2, "source", pd.Series(dtype="str"))
    joint = np.full((1, UNKNOWNS, 1, UNKNOWNS), np.nan)
    bias = Bias(np.full((1, PARTS), np.nan), joint, (empty,), 0.0, np.full(1, np.nan))
    return DrawnTrace(
        grid, nothing, nothing, nothing, nothing, np.full(len(grid), np.inf), prior_lags(), bias, data, checks, np.nan,
        nothing[None, :], nothing[None, :],
    )  # fmt: skip

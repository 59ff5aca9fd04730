"""What is the average made of? The level of the night, what food and exercise add to it, and the hours of being up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.aligning.bias_posterior import OF_HOURS, Bias
from glucolab.aligning.hour_bias import mean_shapes
from glucolab.clock import local_hours, to_local
from glucolab.conventions import CLOCK_NIGHT_H, is_exercise
from glucolab.intervals import Z
from glucolab.record.habit_outputs import AVERAGE_PARTS
from glucolab.relating.comparing.periods import Measured, Period
from glucolab.relating.observations.meal_weights import as_floats
from glucolab.relating.observations.wear_tables import WearTables

BIN_MIN = 20
"""Readings are averaged over so long [min]: shorter only costs time, longer blurs where a response begins."""
FOOD_KNOTS_MIN = np.array([0.0, 30, 60, 90, 120, 180, 240, 300])
"""Corners of the response to food, nil at both ends [min after eating]. On invented people of two families five hours
catch most (r .86 with the truth; four .80, seven .82); what acts longer passes for the person's level."""
EXERCISE_KNOTS_MIN = np.array([0.0, 30, 60, 120, 180])
"""The same of exercise [min after it began]; assumed. Longer takes what follows a session by chance for its doing."""
FOOD_SD, EXERCISE_SD, HOUR_SD = 30.0, 12.0, 4.0
"""SD of a response's corners beforehand, to food (and per 50 g) and to half an hour of exercise, and of the wave of the
day [mg/dL]; assumed. Far smaller ones hold responses down, far larger ones let short records run wild."""
DAY_SD, NOISE_SD = 4.0, 9.0
"""SD between days, and of a bin about its day [mg/dL]: as what is left of open recordings once food is taken off. Only
their ratio matters, and it weighs days against hours."""
USUAL_G = 50.0
"""Carbohydrate that a response is told per [g]; any other number changes the prior's meaning alone."""
LATE_LOGS, PART_ERROR = 1.1, 0.25
"""By how much food's part comes out too small, because logs are late and coarse, and its relative error as a part of
what is true [1]: over 48 invented people of two families the truth is 1.13 of the estimate, log SD 0.23. Without the
error the interval held 0.3 of them."""
LEAST_ERROR_MG_DL = 0.15
"""Error of exercise's part whatever its size [mg/dL]: in 24 invented people it missed by 0.2 where it says 0.08. Too
small, sessions too few to tell look as if they told."""
DAYS_TOGETHER = 2
"""Days that err together [days]: readings of a day go together, and an evening's with the next morning's. One makes
intervals a little narrow, a week leaves too few to learn from."""
OCCASIONS_TO_PART, DAYS_TO_PART = 20, 7
"""Occasions, and days, without which nothing is said [1, days]; assumed: a week eaten three times a day. Fewer leave
food and the hours of the day to pass for each other."""
TOO_LITTLE = (
    f"What the average is made of needs {OCCASIONS_TO_PART} meals written down, over {DAYS_TO_PART} days of readings."
)


@dataclass(frozen=True, eq=False)
class _Seen:
    """One wear in bins that have readings, n of them.

    `food`, `exercise` and `hours` are columns of what was eaten, exercised and of the clock, shapes (n, 2f), (n, e) and
    (n, 2); `day` counts days since 1970.
    """

    glucose: np.ndarray
    food: np.ndarray
    exercise: np.ndarray
    hour: np.ndarray
    day: np.ndarray
    occasions: int

    @property
    def columns(self) -> np.ndarray:
        turn = self.hour * (2 * np.pi / 24)
        return np.column_stack([self.food, self.exercise, np.cos(turn), np.sin(turn)])


def estimate_average_parts(
    measured: Sequence[Measured], related: Sequence[WearTables], periods: Sequence[Period], bias: Bias
) -> tuple[pd.DataFrame, str | None]:
    """``average_parts.csv``: the average of the last wear, as a sum; or why it is not taken apart.

    Parameters
    ----------
    measured : sequence of Measured
        With a trace.
    related : sequence of WearTables
        Of the same person; those of the same names are used.
    periods : sequence of Period
        Of `measured`: first each wear.
    bias : Bias
        Of `measured`, jointly.

    Returns
    -------
    table : DataFrame
    reason : str or None

    Notes
    -----
    The trace, averaged over 20 minutes, is regressed on what was eaten (a response of five hours, any shape, as so much
    per occasion and so much per gram of carbohydrate), on exercise and on a wave of the day, every wear with its own
    level and drift and days with random ones: least squares over levels, since smooth noise would let the fit rest on
    sharp corners of a curve that is nobody's. All wears tell what food does, the last one's meals tell how much of it
    there was. `level` is what remains of midnight to six; `rhythm` what the rest of the day has beside food and
    exercise: the body's own hours, being up, stress, and food that nobody logged; `rest` the hours without readings.

    Limits of validity: what food does beyond five hours counts as level. Of 48 invented people of two families the
    interval of food holds 0.94; of exercise, level and rhythm see the calibration. The interval of level is the
    sensor's, as it is at night.
    """
    named = {one.name: one for one in related}
    seen = [_look_at(one, named[one.wear.name]) for one in measured]
    last = max((i for i, one in enumerate(measured) if np.isfinite(periods[i].mean_mg_dl)),
               key=lambda i: measured[i].end, default=None)  # fmt: skip
    days = len(np.unique(np.concatenate([one.day for one in seen]))) if seen else 0
    if last is None or sum(one.occasions for one in seen) < OCCASIONS_TO_PART or days < DAYS_TO_PART:
        return pd.DataFrame(columns=AVERAGE_PARTS.names), TOO_LITTLE
    coefficients, covariance = _regress(seen)
    rows = _take_apart(seen[last], coefficients, covariance, measured[last], periods[last], last, bias)
    table = pd.DataFrame(rows, columns=["part", "mg_dl", "sd"])
    half = table.pop("sd") * Z
    table = table.assign(low_mg_dl=table["mg_dl"] - half, high_mg_dl=table["mg_dl"] + half)
    return table.assign(wear=measured[last].wear.name)[AVERAGE_PARTS.names], None


def _take_apart(
    seen: _Seen, coefficients: np.ndarray, covariance: np.ndarray, one: Measured, period: Period, wear: int, bias: Bias
) -> list[tuple[str, float, float]]:
    """Each part of a wear's average, and its standard error. [mg/dL]"""
    columns, night = seen.columns, (seen.hour >= CLOCK_NIGHT_H[0]) & (seen.hour < CLOCK_NIGHT_H[1])
    of_food = np.arange(columns.shape[1]) < seen.food.shape[1]
    of_exercise = (np.arange(columns.shape[1]) < columns.shape[1] - 2) & ~of_food
    coefficients = coefficients * np.where(of_food, LATE_LOGS, 1.0)
    covariance = covariance * LATE_LOGS**2
    gain = float(bias.gain_covariance[wear, wear])

    def tell(rows: np.ndarray) -> tuple[float, float]:
        """Food and exercise that a weighted mean of bins holds, and its variance."""
        total = rows * (of_food | of_exercise)
        added = float(total @ coefficients)
        return added, float(total @ covariance @ total) + (PART_ERROR**2 + gain) * added**2

    everywhere, at_night = columns.mean(axis=0), columns[night].mean(axis=0) if night.any() else columns.mean(axis=0)
    food, food_var = tell(everywhere * of_food)
    exercise, exercise_var = tell(everywhere * of_exercise)
    of_night, of_night_var = tell(at_night)
    _, apart_var = tell(everywhere - at_night)
    moved = one.trace.bias.mean[0] - bias.mean[wear]
    shapes = mean_shapes(*CLOCK_NIGHT_H)
    night_var = float(bias.hour_variances_of(np.eye(len(bias.mean))[wear], shapes[None, :])[0])
    recorded = float(seen.glucose.mean())
    night_mean = float(seen.glucose[night].mean()) if night.any() else recorded
    level = night_mean - of_night + float(moved[0] + shapes @ moved[OF_HOURS])
    sensor_var = float(bias.offset_covariance[wear, wear])
    rest = period.mean_mg_dl - recorded - float(moved[0])
    rhythm = period.mean_mg_dl - rest - level - food - exercise
    return [
        ("level", level, np.sqrt(sensor_var + night_var + of_night_var)),
        ("food", food, np.sqrt(food_var)),
        ("movement", exercise, np.sqrt(exercise_var + LEAST_ERROR_MG_DL**2)),
        ("rhythm", rhythm, np.sqrt(night_var + apart_var)),
        ("rest", rest, np.sqrt(period.hours_var)),
    ]


def _regress(seen: Sequence[_Seen]) -> tuple[np.ndarray, np.ndarray]:
    """Coefficients of the columns over all wears, and their covariance, shapes (p,) and (p, p).

    Days that lie together err together (Liang & Zeger 1986).
    """
    rows, outcome = zip(*(_within_wear(one) for one in seen), strict=True)
    columns, glucose = np.vstack(rows), np.concatenate(outcome)
    food, exercise = seen[0].food.shape[1], seen[0].exercise.shape[1]
    sd = np.repeat([FOOD_SD, EXERCISE_SD, HOUR_SD], [food, exercise, 2])
    inverse = np.linalg.inv(columns.T @ columns + np.diag((NOISE_SD / sd) ** 2))
    coefficients = inverse @ (columns.T @ glucose)
    left = glucose - columns @ coefficients
    _, together = np.unique(np.concatenate([one.day for one in seen]) // DAYS_TOGETHER, return_inverse=True)
    scores = np.zeros((together.max() + 1, columns.shape[1]))
    np.add.at(scores, together, columns * left[:, None])
    few = len(scores) / max(len(scores) - 1, 1)
    return coefficients, few * inverse @ (scores.T @ scores) @ inverse


def _within_wear(one: _Seen) -> tuple[np.ndarray, np.ndarray]:
    """Columns and glucose, free of the wear's level and drift, days counting as random (Fuller & Battese 1973)."""
    _, day, counts = np.unique(one.day, return_inverse=True, return_counts=True)
    of_mean = 1 - NOISE_SD / np.sqrt(NOISE_SD**2 + counts * DAY_SD**2)
    place = (one.day - one.day.mean()) / max(np.ptp(one.day), 1)
    values = np.column_stack([np.ones(len(day)), place, one.columns, one.glucose])
    sums = np.zeros((len(counts), values.shape[1]))
    np.add.at(sums, day, values)
    values = values - (sums * (of_mean / counts)[:, None])[day]
    level, rest = values[:, :2], values[:, 2:]
    rest = rest - level @ np.linalg.lstsq(level, rest, rcond=None)[0]
    return rest[:, :-1], rest[:, -1]


def _look_at(one: Measured, tables: WearTables) -> _Seen:
    trace = one.trace
    at_min = trace.time.as_unit("us").asi8 / 60e6
    first = at_min[0] // BIN_MIN
    place = (at_min // BIN_MIN - first).astype(int)
    known = ~np.isnan(trace.glucose_mg_dl)
    count = np.bincount(place[known], minlength=place[-1] + 1)
    total = np.bincount(place[known], trace.glucose_mg_dl[known], minlength=len(count))
    middle = (np.arange(len(count)) + first + 0.5) * BIN_MIN
    when = pd.DatetimeIndex((middle * 60e6).astype("datetime64[us]"), tz="UTC")
    kept = count * 2 >= np.median(count[count > 0]) if known.any() else count > 0
    eaten = tables.occasions
    carbs_g = as_floats(eaten["carbs_g"])
    carbs_g = np.where(np.isnan(carbs_g), np.nanmean(carbs_g) if (carbs_g >= 0).any() else USUAL_G, carbs_g)
    size = np.column_stack([np.ones(len(eaten)), carbs_g / USUAL_G])
    sport = tables.activity[is_exercise(tables.activity).to_numpy(bool)]
    lasted = np.nan_to_num(as_floats(sport["minutes"]), nan=30.0)[:, None] / 30
    return _Seen(
        glucose=total[kept] / count[kept],
        food=_responses(eaten["time"], size, FOOD_KNOTS_MIN, middle)[kept],
        exercise=_responses(sport["start"], lasted, EXERCISE_KNOTS_MIN, middle)[kept],
        hour=local_hours(when, tables.zones)[kept],
        day=to_local(when, tables.zones).normalize().as_unit("us").asi8[kept] // 86_400_000_000,
        occasions=len(eaten),
    )


def _responses(starts: pd.Series, size: np.ndarray, knots_min: np.ndarray, middle_min: np.ndarray) -> np.ndarray:
    """Hat functions from the start of each event on, times each of its sizes, summed by bin, shape (n, s * knots).

    Parameters
    ----------
    starts : Series of times, length m
        [UTC]
    size : array, shape (m, s)
    knots_min : array
        Corners; the first and the last are nil.
    middle_min : array, shape (n,)
        Middles of the bins, evenly spaced. [min since 1970]
    """
    at_min = pd.DatetimeIndex(starts).as_unit("us").asi8 / 60e6
    first = np.ceil((at_min - middle_min[0]) / BIN_MIN).astype(int)
    bins = first[:, None] + np.arange(int(knots_min[-1]) // BIN_MIN + 1)
    since = middle_min[0] + bins * BIN_MIN - at_min[:, None]
    hats = np.stack([np.interp(since, knots_min, hat, right=0.0) for hat in np.eye(len(knots_min))[1:-1]], axis=-1)
    each = (size[:, None, :, None] * hats[:, :, None, :]).reshape(*bins.shape, -1)
    inside = (bins >= 0) & (bins < len(middle_min))
    result = np.zeros((len(middle_min), each.shape[-1]))
    np.add.at(result, bins[inside], each[inside])
    return result

"""What is true of a blood trace? The contract's figures, computed here on their own from a value a minute."""

from __future__ import annotations

import numpy as np
import pandas as pd

OCCASION_MIN = 20.0
"""Meal rows so near each other are one occasion [min]; the contract's. Any other number, and the truth is of other
occasions than the estimate."""
EXCURSION_MG_DL = 20.0
"""Height above the median from which an excursion counts [mg/dL]; the contract's. Higher counts fewer true ones than
the estimate means, lower more."""
EXCURSION_MIN = 15
"""Its least length, and the gap that separates two [min]; the contract's. Longer counts fewer true ones than the
estimate means, shorter more."""


def find_true_occasions(times: pd.Series) -> np.ndarray:
    """Number of the occasion each sorted meal time belongs to: rows within 20 min of each other, shape (m,)."""
    gaps = times.diff() > pd.Timedelta(minutes=OCCASION_MIN)
    return gaps.to_numpy().cumsum()


def windows(blood_mg_dl: np.ndarray, at_min: np.ndarray, before: int, after: int) -> np.ndarray:
    """Blood from `before` to `after` minutes around each moment, shape (m, before + after + 1).

    `at_min` are positions on the minute grid; fractions are interpolated, beyond the trace is NaN.
    """
    steps = np.arange(-before, after + 1)
    wanted = np.asarray(at_min, float)[:, None] + steps[None, :]
    return np.interp(wanted, np.arange(len(blood_mg_dl)), blood_mg_dl, left=np.nan, right=np.nan)


def measure_responses(blood_mg_dl: np.ndarray, at_min: np.ndarray) -> pd.DataFrame:
    """True baseline, rise, time to peak, areas and dip after each moment, by contract section 2, shape (m, 6)."""
    around = windows(blood_mg_dl, at_min, 30, 180)
    baseline = around[:, :30].mean(axis=1)
    two, three = around[:, 30:151], around[:, 30:]
    rise = two.max(axis=1) - baseline
    peak = two.argmax(axis=1).astype(float)
    peak[(rise < 10) | (peak == 120) | np.isnan(rise)] = np.nan
    return pd.DataFrame({
        "baseline_mg_dl": baseline, "rise_mg_dl": rise, "time_to_peak_min": peak,
        "iauc_2h_mg_dl_min": area_above(two - baseline[:, None]),
        "iauc_3h_mg_dl_min": area_above(three - baseline[:, None]),
        "dip_mg_dl": np.maximum(baseline - three[:, 120:].min(axis=1), 0.0),
    })  # fmt: skip


def area_above(above_mg_dl: np.ndarray) -> np.ndarray:
    """Area above zero of lines through values a minute apart, triangles at crossings, shape (m,). [mg/dL min]

    FAO Food and Nutrition Paper 66, ISO 26642 (references.md 5.1).
    """
    a, b = above_mg_dl[:, :-1], above_mg_dl[:, 1:]
    high, low = np.maximum(a, b), np.minimum(a, b)
    crossing = (high > 0) & (low < 0)
    triangle = high**2 / (2 * np.where(crossing, high - low, 1.0))
    return np.where(crossing, triangle, np.maximum(a + b, 0) / 2 * (low >= 0)).sum(axis=1)


def count_excursions(blood_mg_dl: np.ndarray) -> int:
    """Times of 15 min or more at 20 mg/dL or more above the median; nearer than 15 min merge."""
    high = blood_mg_dl >= np.median(blood_mg_dl) + EXCURSION_MG_DL
    edges = np.flatnonzero(np.diff(np.concatenate([[0], high.astype(int), [0]])))
    starts, ends = edges[::2], edges[1::2]
    if not len(starts):
        return 0
    apart = np.concatenate([[True], starts[1:] - ends[:-1] >= EXCURSION_MIN])
    first = np.flatnonzero(apart)
    last = np.concatenate([first[1:] - 1, [len(starts) - 1]])
    return int(np.count_nonzero(ends[last] - starts[first] >= EXCURSION_MIN))


def minutes_per_day(blood_mg_dl: np.ndarray, low_mg_dl: float, high_mg_dl: float) -> tuple[float, float, float]:
    """Minutes a day below, in (edges included) and above the range. [min]"""
    below, above = float(np.mean(blood_mg_dl < low_mg_dl)), float(np.mean(blood_mg_dl > high_mg_dl))
    return 1440 * below, 1440 * (1 - below - above), 1440 * above

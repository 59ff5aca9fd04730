"""Are six-hour blocks the means of their readings, as unsure as their days differ? By hand, quantiles by scipy."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import integrate, stats

from glucolab.aligning.bias_posterior import OF_HOURS, PARTS, UNKNOWNS, Bias
from glucolab.clock import ZoneSpans
from glucolab.measuring.time_of_day import measure_block_means, measure_blocks, measure_hour_means

HOURS = np.tile(np.arange(288) / 12, 3)
DAY = np.repeat(np.arange(3), 288)
BLOCKS = np.array([90.0, 100.0, 105.0, 102.0]) + np.random.default_rng(1).normal(0, 4, (7, 4))
"""Of seven days. [mg/dL]"""


def test_blocks_are_six_hours_each():
    glucose = 100 + 10 * np.floor(HOURS / 6) + DAY
    assert measure_blocks(glucose, HOURS, DAY).tolist() == [[100 + d, 110 + d, 120 + d, 130 + d] for d in range(3)]


@pytest.mark.parametrize(("lost", "known"), [(36, True), (37, False)])
def test_half_of_a_block_is_needed(lost, known):
    glucose = np.full(3 * 288, 100.0)
    glucose[288 + 72 : 288 + 72 + lost] = np.nan
    assert np.isnan(measure_blocks(glucose, HOURS, DAY)[1]).tolist() == [False, not known, False, False]


def test_a_wear_that_ends_before_its_last_evening_has_none_there():
    glucose = np.full(3 * 288, 100.0)
    glucose[-72:] = np.nan
    assert np.isnan(measure_blocks(glucose, HOURS, DAY)).tolist() == [[False] * 4, [False] * 4, [False] * 3 + [True]]


def bias_of(variance: float, by_hour: np.ndarray | None = None) -> Bias:
    """Of one wear, whose offset is known so well, and whose hours so well."""
    joint = np.zeros((1, UNKNOWNS, 1, UNKNOWNS))
    joint[0, 0, 0, 0] = variance
    if by_hour is not None:
        joint[0, OF_HOURS, 0, OF_HOURS] = by_hour
    none = np.empty(0)
    return Bias(np.zeros((1, PARTS)), joint, (none,), 0.0, none)


def test_means_and_differences_with_their_intervals():
    """Student's t over days that resemble each other by 0.35; the sensor's variance added to the mean alone."""
    found = measure_block_means(BLOCKS, bias_of(9.0)).set_index("block")
    grown = np.sqrt(1.35 / 0.65)
    apart = BLOCKS - BLOCKS.mean(axis=1, keepdims=True)
    for i, name in enumerate(("night", "morning", "afternoon", "evening")):
        row = found.loc[name]
        half = stats.t.ppf(0.95, 6) * grown * BLOCKS[:, i].std(ddof=1) / np.sqrt(7)
        assert row["mean_mg_dl"] == pytest.approx(BLOCKS[:, i].mean())
        assert row["high_mg_dl"] - row["mean_mg_dl"] == pytest.approx(np.hypot(half, stats.norm.ppf(0.95) * 3))
        half = stats.t.ppf(0.95, 6) * grown * apart[:, i].std(ddof=1) / np.sqrt(7)
        assert row["difference_mg_dl"] == pytest.approx(apart[:, i].mean())
        assert row["difference_mg_dl"] - row["difference_low_mg_dl"] == pytest.approx(half)


def widths(bias: Bias) -> tuple[np.ndarray, np.ndarray]:
    """Half-widths of means and of differences, shape (4,) each, over the normal's 1.645."""
    found = measure_block_means(BLOCKS, bias)
    return tuple(
        (found[end] - found[middle]).to_numpy() / stats.norm.ppf(0.95)
        for end, middle in (("high_mg_dl", "mean_mg_dl"), ("difference_high_mg_dl", "difference_mg_dl"))
    )


SHAPES = ((np.cos, 1), (np.sin, 1), (np.cos, 2), (np.sin, 2))
"""Cosine and sine of a whole and of half a day."""


@pytest.mark.parametrize("part", range(4))
def test_how_the_sensor_differs_by_the_hour_is_in_both(part):
    """One shape of variance 25 alone: its mean over each block, by quadrature, times 5."""
    by_hour = np.zeros((4, 4))
    by_hour[part, part] = 25.0
    shape, turns = SHAPES[part]
    mean = [integrate.quad(lambda t: shape(turns * np.pi * t / 12), 6 * i, 6 * i + 6)[0] / 6 for i in range(4)]
    for before, after in zip(widths(bias_of(9.0)), widths(bias_of(9.0, by_hour)), strict=True):
        assert after == pytest.approx(np.hypot(before, 5 * np.abs(mean)), rel=1e-9)


def test_an_offset_that_goes_with_the_hours_counts_twice_in_means_and_in_no_difference():
    """Offset of variance 9 and the day's cosine of 25, with a covariance of 12: of offset + cosine, 9 + 24 c + 25 c².

    The mean c of the cosine is 2/π from midnight to six and from eighteen on, and -2/π between.
    """
    by_hour = np.diag([25.0, 0, 0, 0])
    apart, joined = bias_of(9.0, by_hour), bias_of(9.0, by_hour)
    joined.joint[0, 0, 0, OF_HOURS.start] = joined.joint[0, OF_HOURS.start, 0, 0] = 12.0
    c = 2 / np.pi * np.array([1, -1, -1, 1])
    days = widths(bias_of(0.0))[0]
    means, differences = widths(joined)
    assert means**2 == pytest.approx(days**2 + 9 + 24 * c + 25 * c**2, rel=1e-9)
    assert widths(apart)[0] ** 2 == pytest.approx(days**2 + 9 + 25 * c**2, rel=1e-9)
    assert differences == pytest.approx(widths(apart)[1], rel=1e-12)


def test_three_days_are_enough_and_two_are_not():
    blocks = np.array([[90.0, 100, 105, 102], [92, 99, 107, 101], [91, 103, 104, 100]])
    assert measure_block_means(blocks, bias_of(1.0))["high_mg_dl"].notna().all()
    assert measure_block_means(blocks[:2], bias_of(1.0))[["mean_mg_dl", "high_mg_dl"]].isna().all(axis=None)
    assert measure_block_means(blocks, bias_of(1.0))["n_days"].tolist() == [3] * 4


def test_hours_are_local_with_the_interval_of_their_days_and_sensor():
    """Student's t over seven days, grown for days that resemble each other by 0.35, and an offset of variance 9."""
    rng = np.random.default_rng(3)
    levels = 90 + np.arange(24)[None, :] + rng.normal(0, 4, (7, 24))
    time = pd.date_range("2026-02-03T00:00", periods=7 * 288, freq="5min", tz="Europe/Lisbon").tz_convert("UTC")
    glucose = np.repeat(levels.ravel(), 12)
    glucose[288 + 5 * 12 : 288 + 5 * 12 + 7] = np.nan  # five points are left of that hour, six are needed
    trace = SimpleNamespace(time=time, glucose_mg_dl=glucose, bias=bias_of(9.0))
    found = measure_hour_means(trace, ZoneSpans(("Europe/Lisbon",)))
    assert found["hour"].tolist() == list(range(24))
    assert found["n_days"].tolist() == [7] * 5 + [6] + [7] * 18
    values = np.delete(levels[:, 5], 1)
    half = stats.t.ppf(0.95, 5) * np.sqrt(1.35 / 0.65) * values.std(ddof=1) / np.sqrt(6)
    row = found.iloc[5]
    assert row["mean_mg_dl"] == pytest.approx(values.mean())
    assert row["high_mg_dl"] - row["mean_mg_dl"] == pytest.approx(np.hypot(half, stats.norm.ppf(0.95) * 3))
    two = SimpleNamespace(time=time[:576], glucose_mg_dl=glucose[:576], bias=bias_of(9.0))
    assert measure_hour_means(two, ZoneSpans(("Europe/Lisbon",)))["mean_mg_dl"].isna().all()

"""Are six-hour blocks the means of their readings, as unsure as their days differ? By hand, quantiles by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.measuring.time_of_day import measure_block_means, measure_blocks

HOURS = np.tile(np.arange(288) / 12, 3)
DAY = np.repeat(np.arange(3), 288)


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


def test_means_and_differences_with_their_intervals():
    """Student's t over days that resemble each other by 0.35; the sensor's variance added to the mean alone."""
    rng = np.random.default_rng(1)
    blocks = np.array([90.0, 100.0, 105.0, 102.0]) + rng.normal(0, 4, (7, 4))
    found = measure_block_means(blocks, 9.0).set_index("block")
    grown = np.sqrt(1.35 / 0.65)
    apart = blocks - blocks.mean(axis=1, keepdims=True)
    for i, name in enumerate(("night", "morning", "afternoon", "evening")):
        row = found.loc[name]
        half = stats.t.ppf(0.95, 6) * grown * blocks[:, i].std(ddof=1) / np.sqrt(7)
        assert row["mean_mg_dl"] == pytest.approx(blocks[:, i].mean())
        assert row["high_mg_dl"] - row["mean_mg_dl"] == pytest.approx(np.hypot(half, stats.norm.ppf(0.95) * 3))
        half = stats.t.ppf(0.95, 6) * grown * apart[:, i].std(ddof=1) / np.sqrt(7)
        assert row["difference_mg_dl"] == pytest.approx(apart[:, i].mean())
        assert row["difference_mg_dl"] - row["difference_low_mg_dl"] == pytest.approx(half)


def test_three_days_are_enough_and_two_are_not():
    blocks = np.array([[90.0, 100, 105, 102], [92, 99, 107, 101], [91, 103, 104, 100]])
    assert measure_block_means(blocks, 1.0)["high_mg_dl"].notna().all()
    assert measure_block_means(blocks[:2], 1.0)[["mean_mg_dl", "high_mg_dl"]].isna().all(axis=None)
    assert measure_block_means(blocks, 1.0)["n_days"].tolist() == [3] * 4

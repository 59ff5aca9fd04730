"""Are missing hours filled so that lost nights do not raise the mean?"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.aligning.fill import fill_draws

DAYS, SLOTS, DRAWS = 14, 288, 40


def days_with_low_nights(seed=0):
    """Nights at 85, days at 105, each day a little different; what is true and draws about it."""
    rng = np.random.default_rng(seed)
    hours = np.tile(np.arange(SLOTS) / 12, DAYS)
    true = np.where(hours < 7, 85.0, 105.0) + np.repeat(rng.normal(0, 4, DAYS), SLOTS)
    draws = true + rng.normal(0, 1, (DRAWS, 1))
    return hours, true, draws, np.tile(np.arange(SLOTS), DAYS), np.repeat(np.arange(DAYS), SLOTS)


def test_lost_nights_raise_the_raw_mean_and_not_the_filled_one():
    raw_errors, filled_errors = [], []
    for seed in range(6):
        hours, true, draws, slot, day = days_with_low_nights(seed)
        lost = (hours < 6) & (day % 2 == 0)
        filled, missing = fill_draws(draws, np.where(lost, 360.0, 0.0), slot, day, np.random.default_rng(seed))
        assert not missing.any()
        assert not np.isnan(filled).any()
        raw_errors.append(true[~lost].mean() - true.mean())
        filled_errors.append(filled.mean() - true.mean())
    assert np.mean(raw_errors) > 1.5
    assert abs(np.mean(filled_errors)) < 0.5
    assert np.sqrt(np.mean(np.square(filled_errors))) < 0.5 * np.sqrt(np.mean(np.square(raw_errors)))


def test_filling_is_uncertain_and_what_was_recorded_is_kept():
    hours, _, draws, slot, day = days_with_low_nights()
    lost = (hours < 6) & (day % 2 == 0)
    filled, _ = fill_draws(draws, np.where(lost, 360.0, 0.0), slot, day, np.random.default_rng(0))
    assert np.array_equal(filled[:, ~lost], draws[:, ~lost])
    assert filled[:, lost].mean(axis=1).std() > draws[:, lost].mean(axis=1).std()


def test_gaps_up_to_90_min_keep_the_smoothers_draws():
    _, _, draws, slot, day = days_with_low_nights()
    gap = np.zeros(len(day))
    gap[100:118] = 90.0
    filled, _ = fill_draws(draws, gap, slot, day, np.random.default_rng(0))
    assert np.array_equal(filled, draws)


def test_an_hour_that_was_never_recorded_is_told_and_left_open():
    hours, _, draws, slot, day = days_with_low_nights()
    lost = (hours >= 2) & (hours < 4)
    filled, missing = fill_draws(draws, np.where(lost, 120.0, 0.0), slot, day, np.random.default_rng(0))
    assert missing.tolist() == lost.tolist()
    assert np.isnan(filled[:, lost]).all()
    assert not np.isnan(filled[:, ~lost]).any()


def test_the_same_seed_gives_the_same():
    hours, _, draws, slot, day = days_with_low_nights()
    gap = np.where((hours < 6) & (day % 2 == 0), 360.0, 0.0)
    one, other = (fill_draws(draws, gap, slot, day, np.random.default_rng(5))[0] for _ in range(2))
    assert np.array_equal(one, other)
    assert draws.std() == pytest.approx(days_with_low_nights()[2].std()), "the draws handed in are left as they were"

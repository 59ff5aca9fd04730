"""Does the lag obey the closed forms of a first-order system? (references.md 7.1, by arithmetic)"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.simulate.filters import box_smooth, lag_first_order, smooth_noise


def test_a_ramp_is_followed_lag_times_slope_behind():
    ramp = 80 + 2.0 * np.arange(200)
    shown = lag_first_order(ramp, 6.0)
    assert ramp[-1] - shown[-1] == pytest.approx(12.0, abs=1e-9)


def test_a_step_is_reached_to_63_percent_after_one_lag():
    step_min = 0.01
    step = np.where(np.arange(6000) * step_min > 0, 1.0, 0.0)
    shown = lag_first_order(step, 6.0, step_min)
    assert shown[600] == pytest.approx(0.63212, abs=1e-3)
    rise = (np.searchsorted(shown, 0.9) - np.searchsorted(shown, 0.1)) * step_min
    assert rise == pytest.approx(13.183, abs=0.02)


@pytest.mark.parametrize(("lag", "gain", "delay"), [(5, 0.8859, 4.606), (6, 0.8467, 5.357), (10, 0.6906, 7.720)])
def test_an_hour_long_sine_is_damped_and_delayed(lag, gain, delay):
    t = np.arange(0, 1200, 0.05)
    shown = lag_first_order(np.sin(2 * np.pi * t / 60), lag, 0.05)
    last = slice(-1200, None)
    assert shown[last].max() == pytest.approx(gain, abs=2e-4)
    peak = t[last][shown[last].argmax()] % 60
    assert peak - 15 == pytest.approx(delay, abs=0.06)


def test_no_lag_shows_blood_itself_and_a_constant_stays():
    blood = np.random.default_rng(1).normal(100, 10, 500)
    np.testing.assert_array_equal(lag_first_order(blood, 0.0), blood)
    np.testing.assert_allclose(lag_first_order(np.full(400, 97.0), 12.0), 97.0)


def test_smooth_noise_has_unit_sd_and_the_time_constant_asked_for():
    noise = smooth_noise(np.random.default_rng(2), 400_000, 60.0, 0.0)
    assert noise.std() == pytest.approx(1.0, abs=0.04)
    lagged = np.corrcoef(noise[:-60], noise[60:])[0, 1]
    assert lagged == pytest.approx(np.exp(-1), abs=0.04)


def test_box_smooth_is_the_moving_mean():
    values = np.random.default_rng(3).normal(size=300)
    smoothed = box_smooth(values, 7)
    assert len(smoothed) == 300
    assert smoothed[150] == pytest.approx(values[147:154].mean())

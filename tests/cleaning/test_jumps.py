"""Is a jump told from noise, steep rises and the tops of meals? Readings put off their course by known amounts."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.cleaning.jumps import flag_jump
from tests.hand_made import START, make_series


def calm(days=3.0, noise=1.5):
    """A slow swing with noise, in whole mg/dL, every five minutes."""
    minutes = np.arange(round(days * 288)) * 5.0
    noisy = 100 + 15 * np.sin(2 * np.pi * minutes / 1440) + np.random.default_rng(0).normal(0, noise, len(minutes))
    return make_series(np.round(noisy))


@pytest.mark.parametrize("height", [30, -30])
@pytest.mark.parametrize("width", [1, 2])
def test_one_or_two_readings_off_the_line(height, width):
    glucose = calm()
    glucose.iloc[400 : 400 + width] += height
    mask = flag_jump(glucose, interval_min=5)
    assert np.flatnonzero(mask).tolist() == list(range(400, 400 + width))


@pytest.mark.parametrize(
    ("interval_min", "width", "limit"),
    [(1.0, 1, 15), (5.0, 1, 15), (15.0, 1, 15), (1.0, 2, 15), (5.0, 2, 15), (10.0, 2, 30)],
)
def test_one_from_15_off_and_two_from_3_a_minute_of_the_interval(interval_min, width, limit):
    """A sensor without noise, so that its own spread sets no limit."""
    for height, suspect in ((limit - 0.5, False), (limit + 0.5, True)):
        for sign in (1, -1):
            values = np.full(60, 100.0)
            values[30 : 30 + width] += sign * height
            found = flag_jump(make_series(values, step_min=interval_min), interval_min=interval_min)
            assert np.flatnonzero(found).tolist() == list(range(30, 30 + width)) * suspect


def test_five_readings_are_enough_to_see_one_and_four_are_not():
    assert np.flatnonzero(flag_jump(make_series([100.0, 100, 150, 100, 100]), interval_min=5.0)).tolist() == [2]
    assert not flag_jump(make_series([100.0, 150, 100, 100]), interval_min=5.0).any()


@pytest.mark.parametrize(("spread", "suspect"), [(6.0, False), (2.0, True)])
def test_a_noisy_sensors_limit_is_five_of_its_own_deviations(spread, suspect):
    """Noise alone lies 1.2 times as far from the line as from its mean: five of that are 37 at 6 mg/dL, 15 at 2."""
    values = 100 + np.random.default_rng(3).normal(0, spread, 400)
    values[200] = values[[199, 201]].mean() + 32
    assert bool(flag_jump(make_series(values), interval_min=5.0).iloc[200]) == suspect


@pytest.mark.parametrize("width", [1, 2])
@pytest.mark.parametrize(("away", "suspect"), [(14.5, False), (15.5, True)])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_line_is_that_between_the_readings_around(width, away, suspect, sign):
    """A climb of 1 mg/dL per min read at uneven times: the line is at each reading's own time."""
    minutes = np.cumsum(np.tile([5.0, 4, 6], 20))
    values = 50 + minutes
    values[30 : 30 + width] += sign * away
    glucose = pd.Series(values, index=pd.DatetimeIndex(START + pd.to_timedelta(minutes, unit="min")).as_unit("us"))
    expected = list(range(30, 30 + width)) if suspect else []
    assert np.flatnonzero(flag_jump(glucose, interval_min=5.0)).tolist() == expected


@pytest.mark.parametrize(("climb", "suspect"), [(8.4, True), (8.6, False), (24.0, False)])
def test_a_step_in_and_one_out_are_half_the_limit_at_least(climb, suspect):
    """16 above a climb of so much a reading: out of it glucose falls by 16 less the climb, 7.5 or more."""
    values = 50 + climb * np.arange(30.0)
    values[15] += 16
    assert np.flatnonzero(flag_jump(make_series(values), interval_min=5.0)).tolist() == [15] * suspect


def test_two_readings_on_either_side_of_the_line_are_no_jump_together():
    """40 above it and 20 below: the first alone leaves the course of its own neighbours."""
    values = np.r_[np.full(30, 100.0), 140, 80, np.full(30, 100.0)]
    assert np.flatnonzero(flag_jump(make_series(values), interval_min=5.0)).tolist() == [30]


@pytest.mark.parametrize(("pause", "suspect"), [(12.4, True), (12.5, False)])
def test_its_neighbours_lie_within_three_and_a_half_intervals(pause, suspect):
    """Five minutes before it, and so long after."""
    minutes = np.r_[np.arange(0, 105, 5), 100 + pause + np.arange(0, 100, 5)]
    values = np.full(len(minutes), 100.0)
    values[20] = 150
    glucose = pd.Series(values, index=pd.DatetimeIndex(START + pd.to_timedelta(minutes, unit="min")).as_unit("us"))
    assert np.flatnonzero(flag_jump(glucose, interval_min=5.0)).tolist() == [20] * suspect


@pytest.mark.parametrize(("away", "suspect"), [(0.98, False), (1.02, True)])
def test_the_limit_is_five_times_1_4826_of_the_median_distance(away, suspect):
    """Up and down by 2.5 about a level: each lies 5 off its line, which the cubic would only lengthen, so that the
    line is kept; its neighbours differ by 0, and those beside them from them by 5: sqrt(50 / 3) of movement."""
    values = 100 + np.tile([2.5, -2.5], 40)
    limit = 5 * np.hypot(1.4826 * 5, 0.3 * np.sqrt(50 / 3))
    values[40] = 97.5 + away * limit
    assert np.flatnonzero(flag_jump(make_series(values), interval_min=5.0)).tolist() == [40] * suspect


@pytest.mark.parametrize("interval_min", [5.0, 15.0])
def test_a_bend_that_all_readings_share_is_no_noise_and_no_jump(interval_min):
    """A swing of 40 within eight readings leaves the line between neighbours by 12, the cubic through four by 3.5."""
    values = 120 + 40 * np.sin(2 * np.pi * np.arange(400) / 8.3)
    assert not flag_jump(make_series(values, step_min=interval_min), interval_min=interval_min).any()
    values[201] += 55
    assert np.flatnonzero(
        flag_jump(make_series(values, step_min=interval_min), interval_min=interval_min)
    ).tolist() == [201]


@pytest.mark.parametrize(("height", "suspect"), [(29, False), (30, True)])
def test_where_glucose_moves_a_jump_must_be_larger(height, suspect):
    """A step of 24 up before its neighbours and 24 down after them: 5 x 0.3 x sqrt(2 x 24² / 3) = 29.4, not 15."""
    values = np.full(60, 100.0)
    values[29:32] = 124, 124 + height, 124
    assert np.flatnonzero(flag_jump(make_series(values), interval_min=5.0)).tolist() == [30] * suspect


def test_two_jumps_near_one_another_are_both_found():
    values = np.full(60, 100.0)
    values[30], values[33] = 160, 50
    assert np.flatnonzero(flag_jump(make_series(values), interval_min=5.0)).tolist() == [30, 33]


def test_a_meal_is_no_jump():
    """3 mg/dL per min for 20 min is fast, and it stays up."""
    glucose = calm()
    glucose.iloc[400:430] += np.interp(np.arange(30), [0, 4, 12, 29], [0, 60, 60, 0])
    assert not flag_jump(glucose, interval_min=5).any()


def test_a_noisy_sensor_is_not_flagged_for_its_noise():
    assert flag_jump(calm(days=14, noise=8), interval_min=5).sum() <= 2


def test_readings_about_a_pause_are_no_jump():
    glucose = calm(days=2)
    glucose.iloc[300:] += 60
    glucose = glucose.drop(glucose.index[294:300])
    assert not flag_jump(glucose, interval_min=5).any()

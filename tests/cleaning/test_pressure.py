"""Is lying on the sensor told from sleep, food and noise? Dips put into quiet nights."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from glucolab.cleaning.pressure import flag_pressure
from glucolab.record import empty_table
from tests.hand_made import UTC, at, make_series, make_table

DAYS = 4
NIGHT = 2 * 1440 + 3 * 60  # 03:00 on the third day [min]


def quiet(interval_min, seed=0, noise=1.2):
    """Four days: a slow swing, correlated noise, whole mg/dL."""
    rng = np.random.default_rng(seed)
    n = round(DAYS * 1440 / interval_min)
    minutes = np.arange(n) * interval_min
    memory = np.exp(-interval_min / 25)
    slow = np.zeros(n)
    for i in range(1, n):
        slow[i] = memory * slow[i - 1] + np.sqrt(1 - memory**2) * rng.normal(0, noise)
    return minutes, 100 + 8 * np.sin(2 * np.pi * minutes / 1440) + slow + rng.normal(0, 0.7, n)


def shape(minutes, kind, depth, length):
    """A dip that begins at 0, downwards."""
    part = minutes / length
    inside = (part >= 0) & (part < 1)
    if kind == "box":
        return np.where(inside, -depth, 0.0)
    if kind == "half_sine":
        return np.where(inside, -depth * np.sin(np.pi * np.clip(part, 0, 1)), 0.0)
    if kind == "slow":
        return np.where(inside, -depth * np.clip(part / 0.7, 0, 1) ** 1.5, 0.0)
    return -depth * np.clip(np.minimum(minutes, length - minutes) / 15, 0, 1) * inside  # ramps of 15 min


def found(interval_min, dip=None, start=NIGHT, seed=0, sleep=None, meals=None, noise=1.2):
    minutes, values = quiet(interval_min, seed, noise)
    low = shape(minutes - start, *dip) if dip else np.zeros(len(minutes))
    mask = flag_pressure(
        make_series(np.round(values + low), step_min=interval_min),
        interval_min=interval_min,
        zones=UTC,
        sleep=empty_table("sleep") if sleep is None else sleep,
        meals=empty_table("meals") if meals is None else meals,
    ).to_numpy()
    deep = low < -0.5 * (dip[1] if dip else 1)
    return mask, deep


SLEEP = make_table("sleep", *({"start": at("23:00", d), "end": at("07:00", d + 1)} for d in range(-1, DAYS)))


@pytest.mark.parametrize("with_sleep", [True, False])
@pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
@pytest.mark.parametrize("dip", [("box", 25, 60), ("ramps", 30, 75), ("box", 40, 120)])
def test_plain_lows_are_found_and_little_else(interval_min, dip, with_sleep):
    recall, false = [], []
    for seed in range(3):
        mask, deep = found(interval_min, dip, seed=seed, sleep=SLEEP if with_sleep else None)
        recall.append(mask[deep].mean())
        false.append((mask & ~deep).sum() * interval_min)
    assert np.mean(recall) >= 0.8
    assert np.mean(false) <= 60, "minutes beside the low"


@pytest.mark.parametrize("dip", [("half_sine", 35, 50), ("half_sine", 25, 90), ("slow", 30, 70), ("slow", 25, 45)])
def test_round_lows_and_slow_ones_are_mostly_found(dip):
    recall = [found(5.0, dip, seed=seed) for seed in range(4)]
    assert np.mean([mask[deep].mean() for mask, deep in recall]) >= 0.75


def test_every_low_of_a_night_is_found_beside_a_fall_that_is_none():
    """A fall that nothing explains, later that night, must not hide two lows before it."""
    minutes, values = quiet(5.0)
    lows = shape(minutes - (NIGHT - 150), "half_sine", 30, 60) + shape(minutes - NIGHT, "slow", 30, 60)
    values = values + lows - 30 * (minutes > NIGHT + 200)
    mask = flag_pressure(
        make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=empty_table("meals")
    ).to_numpy()
    assert mask[(lows < -15) & (minutes < NIGHT - 60)].mean() > 0.75
    assert mask[(lows < -15) & (minutes > NIGHT - 60)].mean() > 0.75
    assert not mask[minutes > NIGHT + 195].any()


@pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
def test_a_quiet_wear_has_none(interval_min):
    for seed in range(4):
        mask, _ = found(interval_min, seed=seed, sleep=SLEEP)
        assert not mask.any(), f"seed {seed}"


def test_the_same_low_by_day_is_glucose():
    mask, _ = found(5.0, ("box", 25, 60), start=2 * 1440 + 13 * 60, sleep=SLEEP)
    assert not mask.any()


def test_logged_sleep_goes_before_the_clock():
    """Someone who sleeps from 09:00 to 17:00 lies on the sensor by day."""
    sleep = make_table("sleep", *({"start": at("09:00", d), "end": at("17:00", d)} for d in range(DAYS)))
    mask, deep = found(5.0, ("box", 25, 60), start=2 * 1440 + 13 * 60, sleep=sleep)
    assert mask[deep].mean() > 0.8


def test_the_tail_of_a_late_supper_is_the_foods():
    """A rise of 45 mg/dL that is gone three hours after, slowly: nothing of it is pressure."""
    minutes, values = quiet(5.0)
    since = np.clip(minutes - (NIGHT - 30), 0, None)
    values = (
        values + 45 * (since / 50) * np.exp(1 - since / 50) - 12 * np.exp(-(((since - 260) / 40) ** 2)) * (since > 0)
    )
    meals = make_table("meals", {"time": at("02:30", 2), "name": "supper"})
    mask = flag_pressure(make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=meals)
    assert not mask.any()


def test_a_fall_that_stays_down_is_no_pressure():
    minutes, values = quiet(5.0)
    values = values - 25 * (minutes > NIGHT)
    mask = flag_pressure(
        make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=empty_table("meals")
    )
    assert not mask.any()


def test_holes_in_the_night_raise_no_warning():
    minutes, values = quiet(5.0)
    values = np.round(values + shape(minutes - NIGHT, "box", 25, 60))
    rng = np.random.default_rng(3)
    for first in rng.integers(0, len(values), 60):
        values[first : first + rng.integers(1, 9)] = np.nan
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        mask = flag_pressure(make_series(values), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=empty_table("meals"))
    assert not mask[np.isnan(values)].any()


@pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
@pytest.mark.parametrize("step", [0.0, 1.0])
def test_nights_of_one_value_or_two_raise_no_warning(interval_min, step):
    """A still night read in whole mg/dL: most neighbours are equal."""
    count = round(DAYS * 1440 / interval_min)
    values = 96 + step * (np.arange(count) // round(240 / interval_min) % 2)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        mask = flag_pressure(
            make_series(values, step_min=interval_min),
            interval_min=interval_min, zones=UTC, sleep=SLEEP, meals=empty_table("meals"),
        )  # fmt: skip
    assert not mask.any()


def eaten(minutes, start, peak):
    """A rise after food and the dip that may follow it."""
    since = np.maximum(minutes - start, 0) / 35
    after = np.exp(-0.5 * ((minutes - start - 150) / 25) ** 2)
    return peak * since**2 * np.exp(2 * (1 - since)) - 0.3 * peak * after


@pytest.mark.parametrize("peak", [30, 50, 70])
@pytest.mark.parametrize("clock", ["06:30", "07:00", "22:30", "23:15"])
def test_food_within_the_clocks_night_is_no_pressure(clock, peak):
    """No sleep logged, but breakfast or supper: its rise is no low, the quiet before it still less."""
    meals = make_table("meals", *({"time": at(clock, d), "name": "food"} for d in range(DAYS)))
    lost = []
    for seed in range(3):
        minutes, values = quiet(5.0, seed)
        for d in range(DAYS):
            values = values + eaten(minutes, d * 1440 + int(clock[:2]) * 60 + int(clock[3:]), peak)
        mask = flag_pressure(
            make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=empty_table("sleep"), meals=meals
        )
        lost.append(mask.sum())
    assert np.mean(lost) <= 2, "readings of four days"


@pytest.mark.parametrize("peak", [30, 50, 70])
@pytest.mark.parametrize("clock", ["06:20", "07:00", "07:30", "22:00"])
def test_nothing_logged_breakfast_and_supper_are_still_no_pressure(clock, peak):
    """A wear with nothing but glucose.csv."""
    lost = []
    for seed in range(3):
        minutes, values = quiet(5.0, seed)
        for d in range(DAYS):
            values = values + eaten(minutes, d * 1440 + int(clock[:2]) * 60 + int(clock[3:]), peak)
        mask = flag_pressure(
            make_series(np.round(values)), interval_min=5.0, zones=UTC,
            sleep=empty_table("sleep"), meals=empty_table("meals"),
        )  # fmt: skip
        lost.append(mask.sum())
    assert np.mean(lost) <= 16, "readings of four days: twenty minutes a day"

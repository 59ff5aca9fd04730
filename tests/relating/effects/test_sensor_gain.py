"""Does what the sensors' gains do to all rises alike stay in the interval, however much was eaten and worn?"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from glucolab.aligning.bias import estimate_bias
from glucolab.aligning.bias_prior import CheckData
from glucolab.clock import days_between
from glucolab.relating.effects.dishes import draw_dish_rises, estimate_dishes, gather_dish_rises, pool_dishes
from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.effects.sensor_gain import allow_for_gains, share_gains
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.fixed_effects import RegressionRows
from tests.hand_made import UTC
from tests.relating.invented import Truth, invent

GAIN_SD = 0.12


def _spread(wears) -> tuple[np.ndarray, np.ndarray]:
    eatings = gather_dish_rises(wears)
    names = sorted(set(eatings["dish"]))
    draws = draw_dish_rises(eatings, names, np.array([wear.gain_errors for wear in wears]))
    return draws.mean(axis=0), draws.std(axis=0)


def test_a_gain_that_is_not_known_widens_every_dish_by_its_share():
    """Of independent parts variances add: rise² x gain² to what was there."""
    wears, _ = invent(np.random.default_rng(4), Truth(), 1)
    plain_mean, plain_sd = _spread(wears)
    mean, sd = _spread([replace(wear, gain_errors=np.array([GAIN_SD])) for wear in wears])
    assert mean == pytest.approx(plain_mean, abs=1.5)
    # the eatings' own errors become a little smaller, since the gain is taken out of them
    assert (sd**2 >= 0.7 * plain_sd**2 + 0.8 * (GAIN_SD * mean) ** 2).all()
    assert (sd**2 <= 1.1 * plain_sd**2 + 1.2 * (GAIN_SD * mean) ** 2).all()


def _half_of_most_eaten(gain_errors: np.ndarray) -> float:
    """Half the interval of the dish eaten most, as a share of its rise; a row of errors a wear."""
    wears, _ = invent(np.random.default_rng(4), Truth(), len(gain_errors))
    own = [replace(wear, gain_errors=errors) for wear, errors in zip(wears, gain_errors, strict=True)]
    most = estimate_dishes(pool_dishes(own)).iloc[0]
    return float((most["high_mg_dl"] - most["low_mg_dl"]) / 2 / most["rise_mg_dl"])


def test_two_sensors_of_their_own_average_part_of_it_out_and_two_alike_nothing():
    of_their_own, alike = _half_of_most_eaten(0.3 * np.eye(2)), _half_of_most_eaten(np.full((2, 1), 0.3))
    assert 1.645 * 0.3 / np.sqrt(2) * 0.8 < of_their_own < 0.9 * 1.645 * 0.3
    assert 0.95 * 1.645 * 0.3 < alike < 1.2 * 1.645 * 0.3


def test_what_one_sensor_of_a_model_shows_of_its_gain_scales_the_rises_of_the_others():
    """Twelve checks of a sensor that stretches blood by 1.2; another of its model has none, and is thought to too."""
    blood = np.linspace(70, 140, 12)
    sensor = 1.2 * blood
    known = CheckData(float(sensor.mean()), "A", "m", sensor, np.full(12, 0.5), blood, np.zeros(12), np.zeros(12, bool),
                      np.zeros(12, bool), np.linspace(7, 23, 12))  # fmt: skip
    nothing = {name: np.empty(0) for name in ("sensor_mg_dl", "sensor_se_mg_dl", "check_mg_dl", "place", "hour")}
    untold = replace(known, **nothing, venous=np.empty(0, bool), fed=np.empty(0, bool))
    checks = {"known": known, "of its model": untold, "of another": replace(untold, model="B")}
    wears = [replace(wear, name=name) for wear, name in zip(invent(np.random.default_rng(6), Truth(), 4)[0],
                                                            [*checks, "without a trace"], strict=True)]  # fmt: skip
    three_hours = {"iauc_3h_mg_dl_min": 0.0, "net_area_3h_mg_dl_min": 0.0, "dip_mg_dl": 0.0}
    wears = [replace(wear, meal_responses=wear.meal_responses.assign(**three_hours)) for wear in wears]
    measured = [
        SimpleNamespace(wear=SimpleNamespace(name=name), trace=SimpleNamespace(bias=estimate_bias([data])))
        for name, data in checks.items()
    ]
    shared = share_gains(wears, measured, estimate_bias(list(checks.values())))
    times = [
        float((after.meal_responses["rise_mg_dl"] / before.meal_responses["rise_mg_dl"]).median())
        for after, before in zip(shared, wears, strict=True)
    ]
    assert times[0] == pytest.approx(1.0, abs=0.03)
    assert 1 / 1.2 - 0.02 < times[1] < 0.95
    assert times[2:] == pytest.approx([1.0, 1.0], abs=0.03)
    assert shared[1].gain_sd < shared[2].gain_sd
    assert shared[3].gain_sd == 0
    for after, before in zip(shared, wears, strict=True):
        assert after.daily["mean_mg_dl"].mean() == pytest.approx(before.daily["mean_mg_dl"].mean())


def test_an_effect_is_as_unsure_as_the_gains_that_its_wears_share():
    """Of independent parts variances add: estimate² x gain² to what was there; a nil effect stays."""
    wears, _ = invent(np.random.default_rng(5), Truth(), 3)
    plain = estimate_effects(wears, 3.0)
    unsure = estimate_effects([replace(wear, gain_errors=np.array([0.2])) for wear in wears], 3.0)
    half = [(table["high"] - table["estimate"]).to_numpy(float) for table in (plain, unsure)]
    estimate = unsure["estimate"].to_numpy(float)
    known = np.isfinite(estimate)
    of_glucose = unsure["unit"].str.startswith("mg/dL").to_numpy()
    expected = np.hypot(half[0], 1.645 * 0.2 * estimate)
    meals = unsure["outcome"].isin(["rise_mg_dl", "iauc_2h_mg_dl_min"]).to_numpy()
    days = known & of_glucose & ~meals
    assert half[1][days] == pytest.approx(expected[days], rel=1e-3)
    assert half[1][known & ~of_glucose] == pytest.approx(half[0][known & ~of_glucose])
    # meals are weighed by errors without the gain, so that theirs moves a little besides
    assert half[1][known & meals] == pytest.approx(expected[known & meals], rel=0.15)
    assert days.sum() >= 5
    assert (known & meals).sum() >= 5


SHOWN = ("rise_mg_dl", "rise_low_mg_dl", "rise_high_mg_dl", "iauc_2h_mg_dl_min", "iauc_3h_mg_dl_min",
         "net_area_3h_mg_dl_min", "dip_mg_dl")  # fmt: skip


def small_wear(name: str) -> WearTables:
    """Two meals and three days; the day in the middle is the mean of all."""
    start = pd.Timestamp("2026-02-03", tz="UTC")
    days = days_between(start, start + pd.Timedelta(days=3), UTC)
    meals = pd.DataFrame({column: [10.0 + i, 20.0 + i] for i, column in enumerate(SHOWN)} | {"baseline_mg_dl": 90.0})
    daily = pd.DataFrame({
        "date": days.dates, "mean_mg_dl": [90.0, 100, 110], "overnight_mean_mg_dl": [80.0, 85, 90],
        "sd_mg_dl": [10.0, 20, 12], "asleep_h": 7.0,
    })  # fmt: skip
    nothing = pd.DataFrame()
    return WearTables(name, days, UTC, daily, meals, nothing, nothing, nothing)


def test_rises_are_scaled_from_nought_and_days_about_their_mean():
    """Alone the sensors were thought to stretch by 1.0 and 1.2, with all wears by 1.1 and 0.9: times 1.1 and 0.75."""
    wears = [small_wear(name) for name in ("first", "second", "without a trace")]
    measured = [
        SimpleNamespace(
            wear=SimpleNamespace(name=name), trace=SimpleNamespace(bias=SimpleNamespace(gains=np.array([own])))
        )
        for name, own in (("first", 1.0), ("second", 1.2))
    ]
    covariance = np.array([[0.04, 0.03], [0.03, 0.09]])
    shared = share_gains(wears, measured, SimpleNamespace(gain_covariance=covariance, gains=np.array([1.1, 0.9])))
    for wear, by in zip(shared, (1.1, 0.75, 1.0), strict=True):
        meals, daily = wear.meal_responses, wear.daily
        for i, name in enumerate(SHOWN):
            assert meals[name].to_numpy() == pytest.approx(np.array([10.0 + i, 20 + i]) * by)
        assert meals["baseline_mg_dl"].tolist() == [90.0, 90.0]
        assert daily["mean_mg_dl"].to_numpy() == pytest.approx(100 + by * np.array([-10, 0, 10]))
        assert daily["overnight_mean_mg_dl"].to_numpy() == pytest.approx(85 + by * np.array([-5, 0, 5]))
        assert daily["sd_mg_dl"].to_numpy() == pytest.approx(by * np.array([10, 20, 12]))
    errors = np.array([wear.gain_errors for wear in shared])
    assert errors @ errors.T == pytest.approx(np.pad(covariance, (0, 1)))
    assert [wear.gain_sd for wear in shared] == pytest.approx([0.2, 0.3, 0])


def test_a_wear_counts_by_what_the_factor_varies_in_it():
    """Squares of 2 in one wear, of 8 in the other, none in a third: of gains known to 0.1 and 0.2 each by its own,
    a fifth and four fifths, √(0.02² + 0.16²) of the effect."""
    wear, factor, none = np.repeat([0, 1, 2], 3), np.array([6.0, 4, 5, 2, -2, 0, 3, 3, 3]), np.empty((9, 0))
    rows = RegressionRows(factor, factor, none, none, wear, np.arange(9), none, np.zeros(9), np.ones(9))
    found = allow_for_gains(5.0, 4.0, 7.0, rows, np.array([[0.1, 0], [0, 0.2], [0.7, 0.7], [0.5, 0.5]]))
    more = 1.6448536 * 5 * np.hypot(0.02, 0.16)
    assert found == pytest.approx((5.0, 5 - np.hypot(1, more), 5 + np.hypot(2, more)))
    assert allow_for_gains(0.0, -1.0, 2.0, rows, np.full((3, 1), 0.3)) == pytest.approx((0, -1, 2))

"""Do invented sensors depart by the hour, drift and differ as two on one body do? And does the truth say so?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.simulate import Sensor, draw_sensor, draw_sensor_model, draw_wearer, simulate_life, simulate_wear
from glucolab.simulate.hours import Hill, departure, draw_model_hills, draw_own_hills, night_departure
from glucolab.simulate.readings import show_readings

START = pd.Timestamp("2026-02-03T08:00Z")
HOME = ZoneSpans(("Europe/Warsaw",))
CALM = {
    "noise_sd_mg_dl": 0.0, "white_sd_mg_dl": 0.0, "pressure_per_night": 0.0, "jumps_per_day": 0.0,
    "stuck_per_day": 0.0, "losses_per_day": 0.0, "first_day_mg_dl": 0.0, "drift_mg_dl_day": 0.0,
}  # fmt: skip
PLATEAU = Hill(middle_h=2.0, long_h=8.0, edge=0.02, height=0.09)
"""From 22 to 6 h by 9 % above the rest; a third of the day."""
HOURS = np.arange(0, 24, 0.05)


def test_models_differ_by_night_as_two_did():
    """Between two models 6.8 ± 3.5 % of the level from midnight to six, over their own day."""
    rng = np.random.default_rng(1)
    pairs = [night_departure(draw_model_hills(rng)) - night_departure(draw_model_hills(rng)) for _ in range(3000)]
    assert np.mean(np.abs(pairs)) == pytest.approx(0.068, rel=0.08)
    assert np.median(np.abs(pairs)) < 0.9 * np.mean(np.abs(pairs)), "heavy tails"


def test_sensors_of_one_model_differ_by_night_as_pairs_of_people_do():
    """By ± 3.5 %, chance of the recordings counted in: a little less here."""
    rng = np.random.default_rng(2)
    pairs = [night_departure(draw_own_hills(rng)) - night_departure(draw_own_hills(rng)) for _ in range(3000)]
    assert 0.028 < np.std(pairs) < 0.035


def test_hills_leave_the_days_mean_and_are_no_two_waves():
    """What is beyond a whole and half a day's waves, by Fourier transform, is a part of what one sensor does."""
    rng = np.random.default_rng(3)
    shapes = np.array([departure(draw_model_hills(rng) + draw_own_hills(rng), HOURS) for _ in range(400)])
    np.testing.assert_allclose(shapes.mean(axis=1), 0, atol=1e-6)
    power = np.abs(np.fft.rfft(shapes, axis=1)) ** 2
    beyond = power[:, 3:].sum(axis=1) / power[:, 1:].sum(axis=1)
    assert np.mean(beyond) > 0.03
    assert np.quantile(beyond, 0.9) > 0.08


def test_a_plateau_of_the_night_is_in_the_readings_and_in_the_truth():
    """8 of 24 h at + 9 %: 6 % above the day's mean inside, 3 % below it outside."""
    rng = np.random.default_rng(4)
    worn = simulate_wear(
        rng, draw_wearer(rng), Sensor(**(CALM | {"hills": (PLATEAU,), "lag_min": 0.0})), START, zones=HOME
    )
    rows = worn.truth.readings
    hour = worn.record.glucose["time"].dt.tz_convert("Europe/Warsaw").dt.hour
    ratio = rows["undisturbed_mg_dl"] / rows["blood_mg_dl"] - 1
    assert ratio[hour.isin([23, 0, 1, 2, 3, 4])].mean() == pytest.approx(0.06, abs=0.001)
    assert ratio[hour.between(7, 20)].mean() == pytest.approx(-0.03, abs=0.001)
    off = rows["undisturbed_mg_dl"] - rows["blood_mg_dl"]
    by_hour = off[~rows["warm_up"]].groupby(hour).mean()
    np.testing.assert_allclose(worn.truth.bias_by_hour_mg_dl, by_hour, atol=0.3)


def test_without_hills_no_hour_is_apart():
    rng = np.random.default_rng(5)
    worn = simulate_wear(rng, draw_wearer(rng), Sensor(**(CALM | {"offset_mg_dl": 7.0, "lag_min": 0.0})), START)
    np.testing.assert_allclose(worn.truth.bias_by_hour_mg_dl, 7.0, atol=1e-9)


@pytest.mark.parametrize("option", ["by_hour", "as_measured"])
def test_an_option_leaves_every_other_draw_as_it_was(option):
    changed = {
        "by_hour": {"hills"},
        "as_measured": {
            "offset_mg_dl",
            "gain",
            "drift_mg_dl_day",
            "first_day_mg_dl",
            "first_day_hours",
            "noise_degrees",
        },
    }[option]
    rngs = [np.random.default_rng(6) for _ in range(2)]
    plain, uneven = draw_sensor(rngs[0]), draw_sensor(rngs[1], **{option: True})
    assert {name for name, value in vars(plain).items() if vars(uneven)[name] != value} <= changed
    assert rngs[0].random() == rngs[1].random()


def test_a_models_night_is_in_all_its_sensors_and_each_has_its_own():
    rng = np.random.default_rng(7)
    model = draw_sensor_model(rng, by_hour=True)
    one, two = (draw_sensor(rng, model, by_hour=True) for _ in range(2))
    assert one.hills[:2] == two.hills[:2] == model.hills
    assert one.hills[2:] != two.hills[2:]


@pytest.fixture(scope="module")
def measured():
    """Sensors of a model without bias, drawn as measured."""
    rng = np.random.default_rng(8)
    model = Sensor()
    return pd.DataFrame([vars(draw_sensor(rng, model, as_measured=True)) for _ in range(4000)])


def test_drift_has_the_measured_size_and_tails(measured):
    """Robustly 0.078 of the level in ten days, RMS 0.114; Student t of three degrees, whose middle half
    lies within 0.765 scales and 95 % within 3.18.
    """
    ten_days = (measured["drift_mg_dl_day"] * 10 / 98).abs()
    assert 1.4826 * ten_days.median() == pytest.approx(0.078, rel=0.06)
    assert ten_days.quantile(0.95) == pytest.approx(3.182 * 0.069, rel=0.09)
    assert np.sqrt((ten_days**2).mean()) == pytest.approx(0.114, rel=0.2)


def test_sensors_of_one_model_differ_as_measured(measured):
    """SD 0.102-0.124 with tails of a Student t of five degrees: median 0.727, 95th 2.571 scales."""
    log = np.log(((measured["offset_mg_dl"] + 98 * measured["gain"]) / 98).clip(lower=0.3)).abs()
    scale = 0.113 * np.sqrt(3 / 5)
    assert log.median() == pytest.approx(0.727 * scale, rel=0.06)
    assert log.quantile(0.95) == pytest.approx(2.571 * scale, rel=0.09)
    assert 0.102 < np.sqrt((log**2).mean()) < 0.124


def test_the_first_day_is_off_in_some_sensors_and_then_lasts(measured):
    off = measured["first_day_hours"] != 8.0
    assert off.mean() == pytest.approx(0.3, abs=3 * np.sqrt(0.21 / 4000))
    assert measured.loc[off, "first_day_mg_dl"].std() == pytest.approx(25, rel=0.07)
    assert measured.loc[off, "first_day_hours"].between(8, 20).all()


def test_a_first_day_goes_with_its_own_time_constant():
    """Of 30 mg/dL with 16 h a third is left after 17.6 h: 30 e^-1.1 = 9.99."""
    rng = np.random.default_rng(9)
    lived = simulate_life(rng, draw_wearer(rng), START, START + pd.Timedelta(days=3), HOME)
    sensor = Sensor(**(CALM | {"first_day_mg_dl": 30.0, "first_day_hours": 16.0, "lag_min": 0.0}))
    rows = show_readings(rng, lived, sensor, START, START + pd.Timedelta(days=3)).rows
    at = (rows["time"] - START - pd.Timedelta(hours=17.6)).abs().idxmin()
    assert rows.loc[at, "undisturbed_mg_dl"] - rows.loc[at, "blood_mg_dl"] == pytest.approx(9.99, abs=0.1)


def test_the_truth_says_how_a_sensor_drifts():
    rng = np.random.default_rng(10)
    worn = simulate_wear(rng, draw_wearer(rng), Sensor(**(CALM | {"drift_mg_dl_day": -0.7, "lag_min": 0.0})), START)
    off = worn.truth.readings["undisturbed_mg_dl"] - worn.truth.readings["blood_mg_dl"]
    days = (worn.record.glucose["time"] - START) / pd.Timedelta(days=1)
    assert np.polyfit(days, off, 1)[0] == pytest.approx(worn.truth.drift_mg_dl_day, abs=0.001)
    assert worn.truth.drift_mg_dl_day == -0.7

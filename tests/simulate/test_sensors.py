"""Does the invented sensor do what it is told, and fail as real ones do?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.simulate import Sensor, draw_sensor, draw_sensor_model, draw_wearer, simulate_life, simulate_wear
from glucolab.simulate.artefacts import pressure_lows, pressure_shape, remembered
from glucolab.simulate.readings import KINDS, show_readings
from glucolab.simulate.sensor import PRESSURE_SHAPES
from glucolab.units import MG_DL_PER_MMOL_L

START = pd.Timestamp("2026-02-03T08:00Z")
END = START + pd.Timedelta(days=14)
CALM = Sensor(
    noise_sd_mg_dl=0, white_sd_mg_dl=0, pressure_per_night=0, jumps_per_day=0,
    stuck_per_day=0, losses_per_day=0, lag_min=8
)  # fmt: skip


@pytest.fixture(scope="module")
def lived():
    rng = np.random.default_rng(1)
    return simulate_life(rng, draw_wearer(rng), START, END, ZoneSpans(("UTC",)))


def _rows(lived, sensor, seed=2):
    return show_readings(np.random.default_rng(seed), lived, sensor, START, END).rows


@pytest.mark.parametrize(("interval", "count"), [(1, 20160), (5, 4032), (15, 1344)])
def test_a_calm_sensor_shows_gain_times_interstitium_plus_offset(lived, interval, count):
    rows = _rows(lived, replace(CALM, interval_min=interval, gain=1.08, offset_mg_dl=-6))
    assert abs(len(rows) - count) <= 1
    assert not rows[list(KINDS[:-1])].any().any()
    np.testing.assert_allclose(rows["glucose_mg_dl"], 1.08 * rows["interstitial_mg_dl"] - 6, atol=0.5001)


def test_readings_are_whole_tenths_of_mmol_l_where_the_sensor_shows_those(lived):
    tenths = _rows(lived, replace(CALM, rounds_to_mmol_l=True))["glucose_mg_dl"] / MG_DL_PER_MMOL_L * 10
    np.testing.assert_allclose(tenths, np.round(tenths), atol=1e-9)


def test_drift_is_nil_in_the_middle_and_the_first_day_fades(lived):
    rows = _rows(lived, replace(CALM, drift_mg_dl_day=0.5, first_day_mg_dl=20))
    off = (rows["glucose_mg_dl"] - rows["interstitial_mg_dl"]).groupby((rows["time"] - START).dt.days).mean()
    assert off[0] > off[1] + 3
    assert off[13] - off[2] == pytest.approx(5.5, abs=0.3)
    assert (off[6] + off[7]) / 2 == pytest.approx(0, abs=0.3)


def test_floor_and_ceiling_are_marked_and_never_passed(lived):
    rows = _rows(lived, replace(CALM, reads_from_mg_dl=85, reads_to_mg_dl=120, words_at_limits=True))
    assert rows["glucose_mg_dl"].between(85, 120).all()
    at_limit = rows["glucose_mg_dl"].isin([85, 120])
    assert (rows["limit"] == at_limit).all()
    assert at_limit.any()
    assert set(rows.loc[at_limit, "word"]) == {"low", "high"}
    assert rows.loc[~at_limit, "word"].isna().all()


def test_whole_error_has_the_published_size():
    """SD 11 mg/dL with lag and bias counted in (Breton & Kovatchev 2008, PMC2740661); without the bias it is less."""
    rng = np.random.default_rng(3)
    errors = []
    for _ in range(12):
        lived = simulate_life(rng, draw_wearer(rng), START, END, ZoneSpans(("UTC",)))
        rows = show_readings(rng, lived, draw_sensor(rng), START, END).rows
        error = rows["undisturbed_mg_dl"] - rows["blood_mg_dl"]
        errors.append((error - error.mean()).std())
    assert 4 < np.mean(errors) < 11


def test_pressure_presses_about_three_percent_of_night_readings_and_mostly_those():
    """About 3 % of readings in more than 1125 nights (Baysal et al., J Diabetes Sci Technol 2014;8:1091)."""
    rng = np.random.default_rng(4)
    shares, asleep = [], []
    for _ in range(40):
        lived = simulate_life(rng, draw_wearer(rng), START, END, ZoneSpans(("UTC",)))
        rows = show_readings(rng, lived, draw_sensor(rng, interval_min=5.0), START, END).rows
        hour = rows["time"].dt.hour
        shares.append(rows["pressure"][(hour >= 23) | (hour < 7)].mean())
        night = pd.arrays.IntervalArray.from_arrays(lived.sleep["start"], lived.sleep["end"] + pd.Timedelta(minutes=20))
        pressed = pd.DatetimeIndex(rows.loc[rows["pressure"], "time"])
        asleep.extend(pd.IntervalIndex(night).get_indexer(pressed) >= 0)
    assert 0.02 < np.mean(shares) < 0.045
    assert np.mean(asleep) > 0.75


@pytest.mark.parametrize("shape", PRESSURE_SHAPES)
def test_every_shape_begins_and_ends_at_nothing_and_presses_between(shape):
    u = np.linspace(-0.5, 3, 701)
    depth = pressure_shape(shape, u)
    assert depth.max() == pytest.approx(1.0, abs=0.01)
    np.testing.assert_allclose(depth[u < 0], 0)
    assert abs(depth[-1]) < 0.01
    assert (depth[u > 1].min() < -0.2) == (shape == "overshoot")


def test_lows_are_as_deep_and_as_many_as_asked():
    sensor = replace(
        CALM, pressure_per_night=5.0, pressure_depth_mg_dl=30, pressure_shapes=("box",), pressure_awake_share=0
    )
    minutes = np.arange(0, 14 * 1440, 1.0)
    nights = np.array([[900 + 1440 * i, 1380 + 1440 * i] for i in range(13)], float)
    lows = pressure_lows(np.random.default_rng(5), sensor, minutes, nights)
    assert -200 < lows.min() < -30
    inside = np.zeros(len(minutes), bool)
    for a, b in nights:
        inside |= (minutes > a - 6) & (minutes < b + 6)
    assert (lows[~inside] == 0).mean() > 0.99


def test_a_pause_longer_than_the_memory_loses_its_beginning():
    """A pause of 11 h, a memory of 8 h, a scan at its end: a hole of 3 h at its start (references.md 12a)."""
    minutes = np.arange(0, 11 * 60 + 1, 15.0)
    kept = remembered(minutes, np.array([0.0, 660.0]), 8)
    assert minutes[~kept].min() == 15
    assert minutes[~kept].max() == 165


def test_scanned_by_hand_rows_double_the_history_and_missed_scans_leave_holes(lived):
    rows = _rows(lived, replace(CALM, interval_min=15, memory_hours=8, evening_scan_share=0.4, scan_gap_hours=3))
    by_hand = rows["taken"] == "by_hand"
    assert 40 < by_hand.sum() < 160
    assert rows["time"].is_monotonic_increasing
    holes = rows["time"].diff() / pd.Timedelta(hours=1)
    assert holes.max() > 0.8
    assert rows.loc[~by_hand, "time"].diff().dropna().min() >= pd.Timedelta(minutes=14)


def test_stuck_runs_repeat_one_value_and_jumps_stand_out(lived):
    rows = _rows(lived, replace(CALM, stuck_per_day=0.6, jumps_per_day=0.6))
    runs = rows[rows["stuck"]]
    assert len(runs) > 10
    before = rows["glucose_mg_dl"].shift()
    assert (runs["glucose_mg_dl"] == before[runs.index]).mean() > 0.95
    off = (rows["glucose_mg_dl"] - rows["undisturbed_mg_dl"]).abs()[rows["jump"] & ~rows["stuck"]]
    assert off.min() > 15


def test_a_peeling_sensor_sinks_and_shakes_before_it_ends(lived):
    rows = _rows(lived, replace(CALM, peeling_hours=24))
    off = rows["glucose_mg_dl"] - rows["undisturbed_mg_dl"]
    hours_left = (END - rows["time"]) / pd.Timedelta(hours=1)
    assert off[hours_left < 2].mean() < -12
    assert off[hours_left > 24].abs().max() <= 0.5
    assert off[hours_left < 4].std() > 3 * off[hours_left.between(20, 24)].std()
    assert rows.loc[rows["loosening"], "time"].min() > END - pd.Timedelta(hours=24)


def test_sensors_of_one_model_share_part_of_their_bias():
    """Between sensors of one model 9 %, between models another 20 % (methods.md 3)."""
    rng = np.random.default_rng(6)
    at_98 = []
    for _ in range(400):
        model = draw_sensor_model(rng)
        at_98.append([s.offset_mg_dl + 98 * s.gain for s in (draw_sensor(rng, model), draw_sensor(rng, model))])
    log = np.log(np.clip(at_98, 20, None) / np.float64(98))
    assert np.std(log[:, 1] - log[:, 0]) / np.sqrt(2) == pytest.approx(0.09, abs=0.015)
    assert np.std(log.mean(axis=1)) == pytest.approx(0.21, abs=0.03)


def test_drawn_lags_cover_the_published_range():
    """2-24 min a sensor (Staal 2018); two in one person 6.7 +- 5.1 min apart (Boyne 2003)."""
    rng = np.random.default_rng(7)
    lags = np.array([draw_sensor(rng).lag_min for _ in range(400)])
    assert lags.min() >= 2
    assert lags.max() <= 20
    assert lags.std() > 2.5


def test_asleep_readings_step_as_those_of_real_people(open_data):
    """Robust SD of steps of 5, 15 and 60 min between 01:00 and 05:00, against 15 people of the open data."""
    real = [
        _night_steps(pd.read_csv(file, usecols=["time", "glucose"], parse_dates=["time"]))
        for folder in ("food_log", "two_sensors")
        for file in sorted(open_data(folder).glob("*/wear_periods/*/glucose.csv"))
        if "sensor_b" not in str(file)
    ]
    rng = np.random.default_rng(8)
    invented = []
    for _ in range(30):
        worn = simulate_wear(
            rng, draw_wearer(rng), draw_sensor(rng, interval_min=5.0), START, 10, zones=ZoneSpans(("UTC",))
        )
        glucose = worn.record.glucose.rename(columns={"glucose_mg_dl": "glucose"})
        invented.append(_night_steps(glucose.assign(time=glucose["time"].dt.tz_localize(None))))
    assert len(real) >= 14
    np.testing.assert_allclose(np.median(invented, axis=0), np.median(real, axis=0), rtol=0.3, atol=0.8)


def _night_steps(readings: pd.DataFrame) -> list[float]:
    """Half the width of the middle 68 % of steps of 5, 15 and 60 min in the small hours. [mg/dL]"""
    series = (
        pd.Series(readings["glucose"].to_numpy(float), index=pd.DatetimeIndex(readings["time"])).resample("5min").mean()
    )
    asleep = series[(series.index.hour >= 1) & (series.index.hour < 5)].asfreq("5min")
    return [float(np.diff(np.nanpercentile(asleep.diff(k), [16, 84]))[0] / 2) for k in (1, 3, 12)]

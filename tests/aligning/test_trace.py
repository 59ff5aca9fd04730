"""Is the trace what blood did, as far as the readings reach and no further?"""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.aligning import trace as trace_module
from glucolab.aligning.bias import estimate_bias
from glucolab.aligning.bias_prior import CheckData
from glucolab.aligning.lag import LagNodes
from glucolab.aligning.smoother import Readings, Spreads
from glucolab.aligning.trace import (
    _awake,
    _check_data,
    _checks_in_reach,
    _draw_sensor,
    _gap_lengths,
    _place_readings,
    _remove_bias,
    _values_at,
    _wear_place,
    estimate_trace,
    trace_unknown,
)
from glucolab.cleaning.clean import clean_wear
from tests.hand_made import (
    MINUTE,
    START,
    at,
    make_clean,
    make_glucose,
    make_pair,
    make_table,
    make_times,
    make_wear,
)

LAG = 8.0


def live(days=5.0, seed=0):
    """Blood each minute: quiet nights, three meals a day; and tissue that trails it by first order."""
    rng = np.random.default_rng(seed)
    minutes = np.arange(round(days * 1440))
    blood = 92 + 4 * np.sin(2 * np.pi * minutes / 1440)
    for day in range(int(np.ceil(days))):
        for hour in (8, 13, 19):
            begin = day * 1440 + hour * 60 + rng.integers(-40, 40)
            since = np.maximum(minutes - begin, 0) / rng.uniform(25, 40)
            blood = blood + rng.uniform(20, 55) * since**2 * np.exp(2 * (1 - since)) * (since > 0) / 1.0
    tissue = np.empty_like(blood)
    tissue[0] = blood[0]
    keep = np.exp(-1 / LAG)
    for i in range(1, len(blood)):
        tissue[i] = keep * tissue[i - 1] + (1 - keep) * blood[i]
    return minutes, blood, tissue


def read(tissue, interval_min=5.0, seed=0, offset=0.0, noise=4.0):
    """Readings in whole mg/dL: noise that fades within 50 min, as between two sensors of one body, and white noise."""
    rng = np.random.default_rng(seed + 100)
    at_minutes = np.arange(0, len(tissue), round(interval_min))
    memory = np.exp(-interval_min / 50)
    slow = np.zeros(len(at_minutes))
    for i in range(1, len(slow)):
        slow[i] = memory * slow[i - 1] + np.sqrt(1 - memory**2) * rng.normal(0, noise)
    return at_minutes, np.round(tissue[at_minutes] + offset + slow + rng.normal(0, 1, len(slow)))


def wear_of(
    seed=0, interval_min=5.0, offset=0.0, days=5.0, keep=None, check_count=0, gross=None, check_error=4.0, **wear
):
    """A wear over a known life, and its blood each minute."""
    minutes, blood, tissue = live(days, seed)
    at_minutes, values = read(tissue, interval_min, seed, offset)
    times = make_times(len(at_minutes), step_min=interval_min)
    kept = np.full(len(times), True) if keep is None else keep(times)
    rng = np.random.default_rng(seed + 7)
    moments = np.sort(rng.choice(minutes[200:-200], check_count, replace=False))
    rows = [
        {"time": START + pd.Timedelta(minutes=int(m)), "glucose_mg_dl": blood[m] + rng.normal(0, check_error)}
        for m in moments
    ]
    if gross is not None:
        rows[gross]["glucose_mg_dl"] += 60.0
    usual = {"interval_min": interval_min, "checks": make_table("checks", *rows), "meter": "m"}
    made = make_wear(days=days, glucose=make_glucose(times[kept], values[kept]), **(usual | wear))
    return made, pd.Series(blood, index=make_times(len(blood), step_min=1.0))


def trace_of(made):
    clean = clean_wear(replace(made))
    return estimate_trace(made, clean), clean


def between(first, last):
    return lambda times: (times < first) | (times >= last)


class TestReach:
    @pytest.mark.parametrize(("minutes", "bridged"), [(20, True), (25, True), (30, True), (35, False), (240, False)])
    def test_gaps_are_bridged_up_to_half_an_hour(self, minutes, bridged):
        """From the last reading before to the first after."""
        first = at("15:05", 2)
        last = at("15:00", 2) + pd.Timedelta(minutes=minutes)
        trace, _ = trace_of(wear_of(keep=between(first, last))[0])
        inside = (trace.time > at("15:00", 2)) & (trace.time < last)
        assert inside.sum() == minutes / 5 - 1
        assert np.isnan(trace.glucose_mg_dl[inside]).all() != bridged
        beside = (trace.time == at("15:00", 2)) | (trace.time == last)
        assert not np.isnan(trace.glucose_mg_dl[beside]).any()

    def test_a_gap_of_33_minutes_is_not_bridged(self):
        keep = between(at("15:01", 0), at("15:33", 0))
        trace, _ = trace_of(wear_of(days=1.0, interval_min=1.0, keep=keep)[0])
        inside = (trace.time > at("15:00")) & (trace.time < at("15:33"))
        assert np.isnan(trace.glucose_mg_dl[inside]).tolist() == [True] * 6

    @pytest.mark.parametrize(("lost", "gap_min"), [(0, 0.0), (1, 30.0)])
    def test_a_step_of_one_interval_is_no_gap_and_of_two_is(self, lost, gap_min):
        """Readings a quarter of an hour apart: points between two lie in no gap, beside a lost one in one of 30 min."""
        trace, _ = trace_of(wear_of(interval_min=15.0, keep=between(at("15:00", 2), at("15:00", 2) + lost * MINUTE))[0])
        between_two = trace.time == at("14:55", 2)
        beside = trace.time == at("15:00", 2)
        assert trace.gap_min[beside][0] == gap_min
        assert trace.gap_min[between_two][0] == gap_min

    def test_a_bridge_is_less_sure_than_its_banks(self):
        bridged, whole = (
            trace_of(wear_of(keep=keep)[0])[0] for keep in (between(at("15:05", 2), at("15:25", 2)), None)
        )
        middle = whole.time == at("15:10", 2)
        assert bridged.se_mg_dl[middle][0] > 1.03 * whole.se_mg_dl[middle][0]

    def test_nothing_is_said_before_the_first_and_after_the_last(self):
        trace, clean = trace_of(wear_of(warm_up_hours=24, keep=lambda t: t < at("12:00", 4))[0])
        known = trace.time[~np.isnan(trace.glucose_mg_dl)]
        assert known.min() == at("00:00", 1)
        assert known.max() == at("11:55", 4)
        assert trace.time[0] == clean.start
        assert trace.time[-1] == clean.end

    @pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
    def test_every_interval_fills_the_grid(self, interval_min):
        trace, _ = trace_of(wear_of(interval_min=interval_min)[0])
        assert (np.diff(trace.time) == pd.Timedelta(minutes=5)).all()
        assert np.isnan(trace.glucose_mg_dl).sum() <= 15 / 5


class TestTruth:
    @pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
    def test_it_is_nearer_to_blood_than_the_readings_are(self, interval_min):
        errors = []
        for seed in range(3):
            made, blood = wear_of(seed, interval_min)
            trace, clean = trace_of(made)
            error = pd.Series(trace.glucose_mg_dl, index=trace.time).dropna().rsub(blood).dropna()
            raw = clean.usable.rsub(blood).dropna()
            errors.append((np.sqrt((error**2).mean()), np.sqrt((raw**2).mean())))
        ours, theirs = np.mean(errors, axis=0)
        assert ours < 0.85 * theirs

    def test_it_is_neither_late_nor_early(self):
        """The lag that shifts it least is within what the prior may miss; a systematic shift is not."""
        best = []
        for seed in range(4):
            made, blood = wear_of(seed)
            trace, _ = trace_of(made)
            known = ~np.isnan(trace.glucose_mg_dl)
            shifts = np.arange(-8, 9)
            misfit = [
                np.nanstd(
                    trace.glucose_mg_dl[known]
                    - blood.reindex(trace.time[known] + pd.Timedelta(minutes=int(s))).to_numpy()
                )
                for s in shifts
            ]
            best.append(shifts[int(np.argmin(misfit))])
        assert abs(np.mean(best)) <= 1.25

    def test_draws_hold_blood_as_often_as_they_say(self):
        """Nine of ten, of single points once the sensor's bias (known to be nil here) is left aside."""
        inside, width = [], []
        for seed in range(4):
            made, blood = wear_of(seed)
            trace, _ = trace_of(made)
            known = ~np.isnan(trace.glucose_mg_dl) & (trace.time < blood.index[-1])
            low, high = np.quantile(trace.sensor_draws[:, known], [0.05, 0.95], axis=0)
            true = blood.reindex(trace.time[known]).to_numpy()
            inside.append(((true >= low) & (true <= high)).mean())
            width.append(np.median(high - low))
        assert 0.82 <= np.mean(inside) <= 0.98
        assert np.mean(width) < 14

    def test_a_sensor_that_reads_high_is_set_right_by_checks(self):
        errors = []
        for seed in range(3):
            made, blood = wear_of(seed, offset=20.0, check_count=10)
            trace, _ = trace_of(made)
            errors.append(np.nanmean(trace.glucose_mg_dl) - blood.mean())
            assert float(trace.bias.offsets[0]) == pytest.approx(20, abs=6)
        assert abs(np.mean(errors)) < 3.5

    def test_without_checks_the_readings_own_level_stays_and_the_interval_is_wide(self):
        made, _ = wear_of(offset=20.0)
        trace, clean = trace_of(made)
        assert np.nanmean(trace.glucose_mg_dl) == pytest.approx(clean.usable.mean(), abs=1)
        means = trace.draws[:, ~np.isnan(trace.glucose_mg_dl)].mean(axis=1)
        assert 1.645 * means.std() == pytest.approx(0.36 * trace.level_mg_dl, rel=0.1)


class TestChecks:
    def test_a_check_far_from_a_reading_is_not_used(self):
        made, _ = wear_of(keep=between(at("10:00", 2), at("16:00", 2)))
        rows = [{"time": at(clock, 2), "glucose_mg_dl": 95.0} for clock in ("10:05", "10:14", "13:00", "15:50")]
        rows += [{"time": at("12:00", -2), "glucose_mg_dl": 95.0}, {"time": at("12:00", 9), "glucose_mg_dl": 95.0}]
        tables = dict(made.tables) | {"checks": make_table("checks", *rows)}
        trace, _ = trace_of(replace(made, tables=tables))
        assert trace.checks["line"].tolist() == [2, 5], "the last reading is 09:55, the next 16:00"

    def test_checks_are_used_within_a_quarter_of_an_hour_of_a_reading_and_know_the_nearest(self):
        """Readings at 10:00 and 11:00 alone, 100 and 110; a wear from 9:50 to 11:10."""
        worn = make_wear(checks=make_table("checks", *(
            {"time": at(clock), "glucose_mg_dl": 95.0}
            for clock in ("09:44", "09:50", "10:10", "10:15", "10:16", "10:44", "10:45", "11:07", "11:10", "11:11")
        )))  # fmt: skip
        usable = pd.Series([100.0, 110.0], index=pd.DatetimeIndex([at("10:00"), at("11:00")]).as_unit("us"))
        found = _checks_in_reach(worn, usable, make_times(17, start=at("09:50")))
        assert found["time"].dt.strftime("%H:%M").tolist() == ["09:50", "10:10", "10:15", "10:45", "11:07", "11:10"]
        assert found["reading_mg_dl"].tolist() == [100, 100, 100, 110, 110, 110]
        assert found["line"].tolist() == [3, 4, 5, 8, 9, 10]

    def test_a_check_is_doubted_under_a_weight_of_035(self):
        """3.2 of its errors off, whose Student's weight is 5 / (4 + 3.2²)."""
        worn = make_wear()
        _, trace = make_pair(worn, np.full(576, 100.0))
        weights = [5 / (4 + off**2) for off in (3.1, 3.2, 3.25)]
        table = pd.DataFrame({"line": [2, 3, 4], "weight": weights})
        assert replace(trace, checks=table).doubted_checks == [4]

    def test_a_gross_check_is_named_by_its_line(self):
        made, _ = wear_of(check_count=9, gross=4)
        trace, _ = trace_of(made)
        assert trace.doubted_checks == [2 + 4]

    def test_sound_checks_are_not_doubted(self):
        assert trace_of(wear_of(check_count=9)[0])[0].doubted_checks == []

    def test_the_lag_stays_mostly_assumed(self):
        """RMSE of a lag learnt from 12 checks is hardly under the prior's."""
        low, high = trace_of(wear_of(check_count=6)[0])[0].lag.interval()[1:]
        assert high - low > 7

    def test_lines_need_not_start_at_two(self):
        made, _ = wear_of(check_count=4)
        shifted = made.checks.set_axis([3, 9, 12, 40])
        trace, _ = trace_of(replace(made, tables=dict(made.tables) | {"checks": shifted}))
        assert sorted(trace.checks["line"]) == [3, 9, 12, 40]


class TestPieces:
    """Of the trace, by hand."""

    def test_awake_is_all_but_logged_sleep_else_from_six_on(self):
        grid = make_times(288)
        sleep = make_table("sleep", {"start": at("01:00"), "end": at("07:30")})
        logged = _awake(make_wear(sleep=sleep), grid)
        assert np.flatnonzero(~logged).tolist() == list(range(12, 90))
        assert np.flatnonzero(~_awake(make_wear(), grid)).tolist() == list(range(72))

    def test_readings_lie_a_part_of_a_step_after_their_grid_point(self):
        times = pd.DatetimeIndex([at("00:00"), at("00:07"), at("00:20")]).as_unit("us")
        placed = _place_readings(
            pd.Series([90.0, 95, 99], index=times), make_times(5), np.array([False, True] * 2 + [True])
        )
        assert placed.cell.tolist() == [0, 1, 4]
        assert placed.part == pytest.approx([0, 0.4, 0])
        assert placed.awake.tolist() == [False, True, False, True, True, True]

    @pytest.mark.parametrize(("interval_min", "minutes", "expected"), [
        (5.0, [10, 15, 40], [np.inf, np.inf, 0, 0, 25, 25, 25, 25, 0, np.inf]),
        (5.0, [12, 17, 42], [np.inf, np.inf, 0, 0, 25, 25, 25, 25, 0, np.inf]),
        (5.0, [13, 18, 43], [np.inf, np.inf, np.inf, 0, 0, 25, 25, 25, 25, 0]),
        (15.0, [10, 25, 40], [np.inf, 0, 0, 0, 0, 0, 0, 0, 0, 0]),
        (15.0, [10, 32, 40], [np.inf, 0, 0, 0, 0, 0, 0, 0, 0, 0]),
        (15.0, [5, 28, 40], [0, 0, 0, 23, 23, 0, 0, 0, 0, 0]),
        (15.0, [0, 45], [0, 0, 45, 45, 45, 45, 45, 45, 0, 0]),
        (1.0, [20, 21], [np.inf, np.inf, np.inf, np.inf, 0, np.inf, np.inf, np.inf, np.inf, np.inf]),
    ])  # fmt: skip
    def test_each_point_knows_the_gap_it_lies_in(self, interval_min, minutes, expected):
        """None within half an interval (two and a half minutes at least) of a reading, nor between two that are at most
        one and a half intervals apart; before the first and after the last it has no end."""
        place = np.array(minutes) / 5
        cell = np.floor(place).astype(int)
        readings = Readings(cell, place - cell, np.full(len(cell), 100.0), np.ones(11, bool))
        assert _gap_lengths(readings, interval_min) == pytest.approx(expected)

    def test_values_between_grid_points_lie_on_the_line(self):
        values = np.array([[10.0, 20, 40], [0, 5, -5]])
        times = pd.Series(
            pd.DatetimeIndex([at("00:00"), at("00:02"), at("00:09"), at("00:10"), at("00:30"), at("23:00", -1)])
        )
        found = _values_at(values, times, make_times(3))
        np.testing.assert_allclose(found, [[10, 14, 36, 40, 40, 10], [0, 2, -3, -5, -5, 0]])

    def test_lags_have_draws_as_they_weigh(self, monkeypatch):
        """Of 120 draws a tenth, six tenths and three tenths; the mean is weighed alike."""
        monkeypatch.setattr(
            trace_module, "smooth",
            lambda readings, spreads, lag, rng, draws: (np.full(9, lag), np.full((draws, 9), lag)),
        )  # fmt: skip
        readings = Readings(np.array([3]), np.zeros(1), np.zeros(1), np.ones(10, bool))
        lags = LagNodes(np.array([2.0, 5, 11]), np.array([0.1, 0.6, 0.3]))
        drawn, centre = _draw_sensor(readings, Spreads(np.ones(10), 1.0, 1.0, np.ones(len(readings.value))), lags)
        assert drawn.shape == (120, 9)
        assert [(drawn == lag).all(axis=1).sum() for lag in (2, 5, 11)] == [12, 72, 36]
        assert centre == pytest.approx(np.full(9, 0.2 + 3 + 3.3))

    def test_a_moment_has_its_place_between_the_ends_of_the_wear(self):
        clean = make_clean(make_wear(days=2.0), np.ones(576, bool))
        clean = replace(clean, warmed_up=at("12:00"))
        times = pd.DatetimeIndex([at("12:00"), at("06:00", 1), at("00:00", 2)])
        assert _wear_place(times, clean) == pytest.approx([-0.5, 0.0, 0.5])

    def test_what_nothing_is_known_of_has_the_shapes_of_one_wear(self):
        """So that its further checks can be asked for, and tell nothing."""
        unknown = trace_unknown(make_clean(make_wear(), np.zeros(576, bool), START))
        assert np.isposinf(unknown.gap_min).all()
        found, none = unknown.bias, np.array([])
        known = estimate_bias(
            [CheckData(100.0, "", "", none, none, none, none, none.astype(bool), none.astype(bool), none)]
        )
        assert found.mean.shape == known.mean.shape
        assert found.joint.shape == known.joint.shape
        assert np.isnan(found.offset_variances(np.ones(1), [0], [8])).all()


class TestSoundness:
    def test_the_same_input_gives_the_same(self):
        made, _ = wear_of(check_count=4)
        one, other = trace_of(made)[0], trace_of(made)[0]
        assert np.array_equal(one.draws, other.draws)
        assert np.array_equal(one.glucose_mg_dl, other.glucose_mg_dl, equal_nan=True)

    @pytest.mark.parametrize("keep", [
        lambda t: t >= at("21:00", 4), lambda t: t < at("03:00"), lambda t: np.arange(len(t)) % 12 == 0,
        lambda t: np.isin(np.arange(len(t)), [3, 500, 501, 1400]),
    ], ids=["last three hours", "first three hours", "one an hour", "four readings"])  # fmt: skip
    def test_thin_wears_give_finite_draws(self, keep):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            trace, clean = trace_of(wear_of(keep=keep)[0])
        near = trace.gap_min <= 30
        assert np.isfinite(trace.glucose_mg_dl[near]).all()
        assert np.isfinite(trace.draws[:, near]).all()
        assert np.abs(trace.glucose_mg_dl[near] - clean.usable.mean()).max() < 150

    def test_all_readings_in_the_last_hours_of_a_long_wear(self):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            trace, _ = trace_of(wear_of(days=4174 / 288, keep=lambda t: t >= at("04:00", 14))[0])
        assert np.isfinite(trace.glucose_mg_dl).sum() >= 90

    def test_one_value_throughout(self):
        times = make_times(576)
        made = make_wear(glucose=make_glucose(times, np.tile([96.0, 97.0], 288)))
        trace, _ = trace_of(made)
        assert np.nanmax(np.abs(trace.glucose_mg_dl - 96.5)) < 2

    def test_readings_between_grid_points(self):
        """The same life read two minutes later differs by the noise only."""
        made, _blood = wear_of()
        moved = made.glucose.assign(time=made.glucose["time"] + pd.Timedelta(minutes=2, seconds=20))
        later, _ = trace_of(replace(made, tables=dict(made.tables) | {"glucose": moved}))
        plain, _ = trace_of(made)
        shifted = np.interp(
            later.time.asi8 / 60e6, plain.time.asi8 / 60e6 + 2 + 1 / 3, np.nan_to_num(plain.glucose_mg_dl, nan=95)
        )
        both = ~np.isnan(later.glucose_mg_dl)
        assert np.sqrt(np.mean((later.glucose_mg_dl - shifted)[both][10:-10] ** 2)) < 1.5


class TestBiasRemoved:
    def test_a_sensor_that_drifts_is_straightened(self):
        """From 10 below to 10 above over five days, forty checks off by 1: what is left differs by under a third."""
        tilts = []
        for seed in range(2):
            drift = np.linspace(-10, 10, 5 * 288)
            made, blood = wear_of(seed, offset=drift, check_count=40, check_error=1.0)
            trace, _ = trace_of(made)
            error = pd.Series(trace.glucose_mg_dl, index=trace.time).sub(blood).dropna()
            days = error.groupby(error.index.normalize()).mean()
            tilts.append(days.iloc[4] - days.iloc[0])
        assert abs(np.mean(tilts)) < 16 / 3, "16 from the first day's mean to the last's in the readings"

    def test_offset_drift_and_stretch_are_taken_off_as_they_were_put_on(self):
        """s - b = offset + drift·u + stretch·(s - level) + h, solved for b by hand at three moments."""
        sensor, place = np.array([[90.0, 100.0, 130.0]]), np.array([-0.5, 0.0, 0.5])
        found = _remove_bias(sensor, np.array([[5.0, 4.0, 0.1, 2.0, 0.0, 0.0, -1.0]]), place, 100.0, np.eye(3, 4))
        expected = [90 - 5 + 2 + 1 - 2, 100 - 5, 130 - 5 - 2 - 3]
        assert found.ravel() == pytest.approx(expected)

    @pytest.mark.parametrize(("noise", "kept"), [(5.0, 0.75), (9.0, 0.5)])
    def test_noisy_readings_at_checks_are_drawn_toward_the_level(self, noise, kept):
        """Of a spread of 10, noise of 5 is a quarter of the variance: 120 stands for 115. Never more than half."""
        made, _ = wear_of(check_count=0, checks=make_table("checks", {"time": at("12:00", 1), "glucose_mg_dl": 99.0}))
        clean = clean_wear(made)
        grid = make_times(5 * 288 + 1)
        draws = np.array([[120.0 - noise], [120.0 + noise]]) + np.zeros((2, len(grid)))
        checks = made.checks.assign(line=2)
        data = _check_data(made, checks, draws, grid, clean, 100.0, 10.0)
        assert data.sensor_mg_dl == pytest.approx([100 + kept * 20])
        assert data.sensor_se_mg_dl == pytest.approx([noise])
        assert data.place == pytest.approx([1.5 / 5 - 0.5])

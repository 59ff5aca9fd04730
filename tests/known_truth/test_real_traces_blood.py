"""Is the blood that is invented on real traces what it is said to be? Its curves, lags and checks by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.hand_made import make_times
from tests.known_truth.invented_curves import make_curve, worn
from tests.known_truth.real_traces.blood import (
    CHECK_SD,
    METER_SD,
    Curve,
    choose_moments,
    draw_curve,
    draw_meter,
    mix,
    run_ahead,
    take_checks,
)


class TestBlood:
    def test_figures_are_those_of_the_points_that_are_known(self):
        values = np.where(np.arange(288) < 72, 60.0, 100.0)
        values[200:220] = np.nan
        found = Curve(make_times(288), values).figures(70, 140)
        assert found["overnight mean"] == 60
        assert found["mean"] == pytest.approx((72 * 60 + 196 * 100) / 268)
        assert found["minutes below"] == pytest.approx(1440 * 72 / 268)
        assert found["minutes in range"] == pytest.approx(1440 * 196 / 268)
        assert found["minutes above"] == 0

    def test_a_rise_is_the_highest_of_two_hours_over_the_half_hour_before(self):
        values = np.full(288, 90.0)
        values[100:106], values[106:110], values[112], values[131] = 80.0, 85.0, 120.0, 200.0
        time = make_times(288)
        rises = Curve(time, values).rises(time[[106, 5]])
        assert rises[0] == 40  # what comes after two hours and five minutes is not of this meal
        assert np.isnan(rises[1])  # the half hour before was not recorded

    def test_hours_weigh_alike(self):
        values = np.where(np.arange(432) % 288 < 72, 60.0, 100.0)  # a day and a half: the night is in it twice
        curve = Curve(make_times(432), values)
        assert curve.mean_of_hours() == 90
        assert curve.figures(70, 140)["mean"] < 87

    def test_a_gap_stays_a_gap(self):
        curve = make_curve(2)
        kept = np.ones(len(curve.time), bool)
        kept[100:130] = False
        drawn = draw_curve(worn(Curve(curve.time[kept], curve.mg_dl[kept])))
        inside = (drawn.time > curve.time[99]) & (drawn.time < curve.time[130])
        assert np.isnan(drawn.mg_dl).tolist() == inside.tolist()
        assert np.abs(drawn.mg_dl - curve.at(drawn.time))[~inside].max() < 1

    def test_a_mixture_lies_at_its_share(self):
        curve = make_curve(2)
        other = Curve(curve.time, curve.mg_dl + 20)
        assert mix(curve, other, 0.25).mg_dl == pytest.approx(curve.mg_dl + 5)

    def test_blood_runs_ahead_by_a_lag_of_either_kind(self):
        ramp = Curve(make_times(100), np.arange(100) * 5.0)
        ahead = [run_ahead(np.random.default_rng(i), ramp).mg_dl[10:80] - ramp.mg_dl[10:80] for i in range(40)]
        assert all(np.ptp(one) < 1e-6 for one in ahead)
        lags = np.array([one[0] for one in ahead])
        assert 4 <= lags.min() < 6
        assert 10 < lags.max() <= 12

    def test_one_kind_of_lag_is_undone(self):
        blood, lag = make_curve(2), 8.0
        under = np.empty(len(blood.mg_dl) * 50)
        fine = np.interp(np.arange(len(under)) / 50, np.arange(len(blood.mg_dl)), blood.mg_dl)
        under[0] = fine[0]
        for i in range(1, len(under)):
            under[i] = under[i - 1] + (fine[i] - under[i - 1]) * 0.1 / lag
        shown = Curve(blood.time, under[::50])

        class Fixed:
            """Draws the first-order lag of 8 min."""

            def uniform(self, low: float, high: float) -> float:
                return lag

            def random(self) -> float:
                return 0.9

        error = run_ahead(Fixed(), shown).mg_dl - blood.mg_dl
        assert np.abs(error[20:-20]).max() < 0.2 * np.abs(shown.mg_dl - blood.mg_dl)[20:-20].max()


class TestChecks:
    def test_they_are_spread_over_the_days_and_taken_by_day(self):
        blood = make_curve(9)
        moments = choose_moments(np.random.default_rng(1), blood, 6)
        hours = moments.hour + moments.minute / 60
        assert len(moments) == 6
        assert ((hours >= 9) & (hours < 22)).all()
        days = np.asarray((moments - blood.time[0]) / pd.Timedelta(days=1.5)).astype(int)
        assert days.tolist() == [0, 1, 2, 3, 4, 5]

    def test_some_are_taken_on_waking(self):
        moments = choose_moments(np.random.default_rng(1), make_curve(9), 6, waking=2)
        hours = moments.hour + moments.minute / 60
        assert np.sum((hours >= 6) & (hours < 7.2)) == 2
        assert np.sum(hours >= 9) == 4

    def test_a_meter_errs_once_and_each_check_anew(self):
        blood = make_curve(9)
        rng = np.random.default_rng(2)
        ratios = []
        for _ in range(40):
            taken = take_checks(rng, blood, blood.time[rng.choice(np.flatnonzero(blood.known), 100)], meter=1.05)
            ratios += (taken["glucose_mg_dl"] / blood.at(pd.DatetimeIndex(taken["time"]))).tolist()
        assert np.mean(ratios) == pytest.approx(1.05, abs=0.004)
        assert np.std(ratios) == pytest.approx(1.05 * CHECK_SD, rel=0.06)
        meters = [draw_meter(rng) for _ in range(3000)]
        assert METER_SD[0] < np.std(meters) < METER_SD[1]

    def test_draws_share_the_meters_of_the_distribution(self):
        rng = np.random.default_rng(4)
        drawn = np.array([[draw_meter(rng, draw, 4) for draw in range(4)] for _ in range(2000)])
        quartiles = [drawn.size, (drawn[:, 0] < 1).sum(), (drawn[:, 3] > 1).sum()]
        assert quartiles == [8000, 2000, 2000]
        assert (drawn[:, 1] < 1).all()
        assert METER_SD[0] < drawn.std() < METER_SD[1]

"""Is a day's row right, and empty where too little was recorded? Hand-made days."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, days_between
from glucolab.measuring.daily import _trace_figures, measure_daily
from glucolab.measuring.excursions import measure_excursions
from glucolab.measuring.nights import find_nights
from glucolab.measuring.time_of_day import measure_blocks
from glucolab.record.outputs import DAILY
from tests.hand_made import START, at, bump, make_pair, make_table, make_wear

FIGURES = ["mean_mg_dl", "sd_mg_dl", "cv_percent", "overnight_mean_mg_dl", "minutes_below", "minutes_in_range",
           "minutes_above", "excursions"]  # fmt: skip


def daily(values, start=START, low=70.0, high=140.0, days_table=None, **wear):
    wear["days_table"] = days_table
    worn = make_wear(days=len(values) / 288, start=start, **wear)
    clean, trace = make_pair(worn, values)
    days = days_between(worn.start, worn.end, worn.zones)
    excursions = measure_excursions(worn, clean, trace)
    return measure_daily(worn, clean, trace, days, find_nights(worn, days), excursions, low, high)


def days_of(*values):
    return np.concatenate([np.full(288, value) for value in values])


class TestFigures:
    def test_mean_sd_cv_and_range(self):
        values = np.r_[np.full(144, 80.0), np.full(144, 120.0), days_of(150)]
        out = daily(values)
        assert list(out.columns) == DAILY.names
        assert out["mean_mg_dl"].tolist() == [100, 150]
        assert out["sd_mg_dl"][0] == pytest.approx(20 * np.sqrt(288 / 287))
        assert out["cv_percent"][0] == pytest.approx(20 * np.sqrt(288 / 287))
        assert out["minutes_in_range"].tolist() == [1440, 0]
        assert out["minutes_above"].tolist() == [0, 1440]
        assert out["overnight_mean_mg_dl"].tolist() == [80, 150]
        assert out["coverage"].tolist() == [1, 1]

    def test_the_edges_of_the_range_are_within(self):
        out = daily(np.r_[np.full(72, 70.0), np.full(72, 69.9), np.full(72, 140.0), np.full(72, 140.1)])
        assert out[["minutes_below", "minutes_in_range", "minutes_above"]].to_numpy().tolist() == [[360, 720, 360]]

    def test_the_range_is_the_studys(self):
        assert daily(days_of(100), low=101, high=120)["minutes_below"][0] == 1440

    def test_excursions_count_for_the_day_they_start_on(self):
        values = bump(days_of(90, 90), 286, [30.0] * 6)  # 23:50 to 00:20
        assert daily(values)["excursions"].tolist() == [1, 0]

    def test_overnight_follows_the_sleep(self):
        values = bump(days_of(90, 90), 276, [20.0] * 12)  # 23:00 to midnight
        sleep = make_table("sleep", {"start": at("23:00"), "end": at("07:00", 1), "source": "ring"})
        out = daily(values, sleep=sleep)
        assert out["overnight_mean_mg_dl"][1] == pytest.approx(90 + 20 / 8)
        assert out["night_source"].tolist() == ["clock", "ring"]
        assert out["asleep_h"][1] == 8
        assert np.isnan(out["asleep_h"][0])


class TestEnough:
    def holed(self, first, count):
        values = days_of(90.0, 90.0)
        values[first : first + count] = np.nan
        return daily(values).iloc[0]

    @pytest.mark.parametrize(("lost", "enough"), [(36, True), (37, False)])
    def test_half_of_each_block(self, lost, enough):
        """72 readings stand for six hours."""
        day = self.holed(80, lost)
        assert bool(day["enough"]) == enough
        assert day[FIGURES].isna().all() != enough
        assert day["coverage"] == pytest.approx(1 - lost / 288)

    @pytest.mark.parametrize("hour", [0, 6, 12, 18])
    def test_a_block_is_six_hours_of_the_day(self, hour):
        """Half of its 72 readings may be missing, wherever they lie in it; of the next, which follows, as many."""
        for first in (hour * 12, hour * 12 + 36):
            assert self.holed(first, 36)["enough"]
        assert not self.holed(hour * 12, 37)["enough"]
        assert not self.holed(hour * 12 + 35, 37)["enough"]
        assert self.holed(hour * 12 + 36, min(72, 288 - hour * 12 - 36))["enough"], "half of each of two blocks"

    @pytest.mark.parametrize(("lost", "enough"), [(86, True), (87, False)])
    def test_seven_tenths_of_the_day(self, lost, enough):
        """288 readings; 202 are 0.701, 201 are 0.698 (contract: coverage of 0.7 or more)."""
        values = days_of(90.0)
        for block in range(3):
            values[72 * block + 10 : 72 * block + 10 + 28] = np.nan
        values[226 : 226 + lost - 84] = np.nan
        day = daily(values).iloc[0]
        assert bool(day["enough"]) == enough
        assert day[FIGURES].notna().any() == enough

    def test_what_was_logged_stays_where_glucose_is_empty(self):
        values = np.r_[days_of(90), np.full(288, np.nan), days_of(90)]
        meals = make_table("meals", {"time": at("12:00", 1), "name": "rice", "carbs_g": 40.0})
        out = daily(values, meals=meals)
        assert np.isnan(out["mean_mg_dl"][1])
        assert out["carbs_g"][1] == 40
        assert out["enough"].tolist() == [True, False, True]

    @pytest.mark.parametrize(("lost", "known"), [(21, True), (22, False)])
    def test_seven_tenths_of_a_night_make_its_mean(self, lost, known):
        """72 points from midnight to six; 51 of them are 0.708, 50 are 0.694."""
        values = days_of(90.0, 90.0)
        values[288 + 10 : 288 + 10 + lost] = np.nan
        assert daily(values)["overnight_mean_mg_dl"].notna().tolist() == [True, known]

    def test_a_sleep_between_two_points_of_the_trace_has_no_mean(self):
        sleep = make_table("sleep", {"start": at("03:01", 1), "end": at("03:04", 1)})
        assert daily(days_of(90.0, 90.0), sleep=sleep)["overnight_mean_mg_dl"].isna().tolist() == [False, True]

    def test_a_day_without_values_has_no_mean_and_one_value_no_spread(self):
        found = _trace_figures(np.array([90.0, np.nan, 80, 100]), np.array([0, 1, 2, 2]), 3, 70.0, 140.0)
        assert found["mean_mg_dl"].fillna(-1).tolist() == [90, -1, 90]
        assert found["sd_mg_dl"].fillna(-1).tolist() == [-1, -1, pytest.approx(np.sqrt(200))]

    def test_a_night_that_is_mostly_missing_has_no_mean(self):
        values = days_of(90.0, 90.0)
        values[0:30] = np.nan
        out = daily(values)
        assert out["enough"][0]
        assert np.isnan(out["overnight_mean_mg_dl"][0]), "42 of 72 readings are 0.58 of the night"


class TestClock:
    @pytest.mark.parametrize(("date", "hours"), [("2026-03-29", 23), ("2026-10-25", 25)])
    def test_days_of_23_and_25_hours(self, date, hours):
        """Lisbon's clock changes of 2026."""
        start = pd.Timestamp(date, tz="Europe/Lisbon").tz_convert("UTC") - pd.Timedelta(days=1)
        values = np.full(288 + hours * 12 + 288, 100.0)
        out = daily(values, start=start, zones=ZoneSpans(("Europe/Lisbon",)))
        assert out["date"].tolist() == [pd.Timestamp(date) + pd.Timedelta(days=d) for d in (-1, 0, 1)]
        assert out["coverage"].tolist() == [1, 1, 1]
        assert out["enough"].all()
        assert out["minutes_in_range"].tolist() == [1440, hours * 60, 1440]

    @pytest.mark.parametrize(("date", "lost", "enough"), [("2026-10-25", 90, True), ("2026-10-25", 91, False)])
    def test_seven_tenths_of_a_long_day_are_counted_of_its_own_length(self, date, lost, enough):
        """300 readings in 25 h; 210 are exactly 0.7. The lost ones are spread thin over the blocks."""
        start = pd.Timestamp(date, tz="Europe/Lisbon").tz_convert("UTC")
        values = np.full(300, 100.0)
        values[np.linspace(0, 299, lost).round().astype(int)] = np.nan
        out = daily(values, start=start, zones=ZoneSpans(("Europe/Lisbon",)))
        assert bool(out["enough"][0]) == enough

    @pytest.mark.parametrize("zone", ["America/Recife", "Asia/Tokyo", "Pacific/Auckland", "America/Los_Angeles"])
    def test_a_trip_leaves_no_time_out_and_counts_none_twice(self, zone):
        zones = ZoneSpans(("Europe/Lisbon", zone), (at("14:00", 2),))
        values = np.full(288 * 6, 100.0)
        out = daily(values, zones=zones)
        total = out[["minutes_below", "minutes_in_range", "minutes_above"]].sum(axis=1)
        assert not out["date"].duplicated().any()
        assert (np.diff(out["date"]) == np.timedelta64(1, "D")).all()
        assert (out["coverage"] <= 1 + 1e-9).all()
        inner = out.iloc[1:-1]
        assert inner["enough"].all(), "every whole day was recorded without a hole"
        assert total.sum() >= 288 * 5 * 5 - 24 * 60
        assert total.max() <= 48 * 60


class TestLogged:
    def test_sums_and_own_columns(self):
        values = days_of(90, 90)
        out = daily(
            values,
            meals=make_table(
                "meals",
                {"time": at("08:00"), "name": "coffee", "caffeine_mg": 80.0},
                {"time": at("12:00"), "name": "rice", "carbs_g": 50.0, "caffeine_mg": 20.0, "fiber_g": 2.0},
                {"time": at("23:59"), "name": "milk", "carbs_g": 10.0},
                {"time": at("00:00", 1), "name": "bread", "carbs_g": 20.0},
            ),
            activity=make_table(
                "activity",
                {"start": at("10:00"), "minutes": 30.0, "kind": "run", "effort": "vigorous"},
                {"start": at("18:00"), "minutes": 15.0, "kind": "walk"},
            ),
        )
        assert out["carbs_g"].tolist() == [60, 20]
        assert out["fiber_g"][0] == 2
        assert np.isnan(out["fiber_g"][1]), "not recorded is never zero"
        assert out["caffeine_mg"][0] == 100
        assert np.isnan(out["caffeine_mg"][1])
        assert out["exercise_min"].tolist() == [45, 0], "with activity logged, a day without any had none"

    def test_without_activity_exercise_is_not_recorded(self):
        assert daily(days_of(90))["exercise_min"].isna().all()

    def test_caffeine_noted_for_the_day_goes_before_the_sum_of_meals(self):
        meals = make_table(
            "meals",
            {"time": at("08:00"), "name": "coffee", "caffeine_mg": 80.0},
            {"time": at("08:00", 1), "name": "coffee", "caffeine_mg": 90.0},
        )
        notes = make_table("days", {"date": pd.Timestamp("2026-02-03"), "caffeine_mg": 200.0})
        out = daily(days_of(90, 90), meals=meals, days_table=notes)
        assert out["caffeine_mg"].tolist() == [200, 90]

    def test_covariates_follow_the_contracts_columns(self):
        notes = make_table(
            "days",
            {
                "date": pd.Timestamp("2026-02-03"),
                "stress": 3.0,
                "steps": 4000.0,
                "ill": False,
                "cold_water_min": 2.0,
                "fasted": True,
            },
            {
                "date": pd.Timestamp("2026-02-04"),
                "stress": 6.0,
                "steps": 9000.0,
                "ill": True,
                "cold_water_min": np.nan,
                "fasted": False,
            },
            {"date": pd.Timestamp("2026-03-04"), "stress": 9.0, "steps": 1.0},
        )
        notes["fasted"] = notes["fasted"].astype("boolean")
        out = daily(days_of(90, 90), days_table=notes)
        assert list(out.columns[: len(DAILY.names)]) == DAILY.names
        assert set(out.columns[len(DAILY.names) :]) == {"steps", "ill", "cold_water_min", "fasted"}
        assert out["stress"].tolist() == [3, 6]
        assert out["steps"].tolist() == [4000, 9000]
        assert out["fasted"].tolist() == [1, 0]
        assert np.isnan(out["cold_water_min"][1])

    def test_a_column_that_nobody_filled_is_no_covariate(self):
        notes = make_table("days", {"date": pd.Timestamp("2026-02-03"), "stress": 3.0})
        assert list(daily(days_of(90), days_table=notes).columns) == DAILY.names


def test_blocks_need_half_of_their_hours():
    hours = np.tile(np.arange(288) / 12, 2)
    day = np.repeat([0, 1], 288)
    values = hours // 6 * 10 + 90
    values[0:36] = np.nan  # half the first night
    values[288:325] = np.nan  # more than half the second
    blocks = measure_blocks(values, hours, day)
    assert blocks[0].tolist() == [90, 100, 110, 120]
    assert np.isnan(blocks[1, 0])
    assert blocks[1, 1:].tolist() == [100, 110, 120]

"""Is the judge made of real traces a fair one? Its parts by hand, on invented wears."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.hand_made import make_study, make_table, make_times
from tests.known_truth.invented_curves import make_curve, worn
from tests.known_truth.real_traces.__main__ import main
from tests.known_truth.real_traces.blood import (
    Curve,
)
from tests.known_truth.real_traces.clocks import (
    LOG,
    UNMOVED,
    allege,
    find_climb_min,
    move_log,
    move_sensor,
    name_alleged,
)
from tests.known_truth.real_traces.halves import cut_in_two
from tests.known_truth.real_traces.joined import find_occasions_of, join_studies, place, write_days, write_walks
from tests.known_truth.real_traces.nil import COVARIATES, TRENDING, WEEKLY, draw_covariates
from tests.known_truth.real_traces.pairs import find_ahead_min, pair_all, pair_sensors
from tests.known_truth.real_traces.planted import raise_days, take_off_rises
from tests.known_truth.real_traces.recordings import Recorded, find_root, read_people, settle, write_mechanics
from tests.known_truth.real_traces.removed import without
from tests.known_truth.real_traces.rows import Row
from tests.known_truth.real_traces.written_more import add_coffees, write_efforts


class TestPeople:
    def test_clocks_that_differ_are_found(self):
        first, second = make_curve(6), make_curve(6)
        noise = np.random.default_rng(5).normal(0, 3, len(second.mg_dl))
        second = Curve(second.time + pd.Timedelta(minutes=45), 0.8 * second.mg_dl + noise)
        assert find_ahead_min(first, second) == 45
        assert find_ahead_min(second, first) == -45
        assert find_ahead_min(first, Curve(first.time + pd.Timedelta(minutes=10), first.mg_dl)) == 0

    def test_sensors_whose_clocks_differ_judge_clocks_alone(self):
        curve = make_curve(6)
        wears = worn(curve, "sensor_a"), worn(Curve(curve.time + pd.Timedelta(minutes=45), curve.mg_dl), "sensor_b")
        one = Recorded("somebody", make_study(*wears), True)
        assert [pair.ahead_min for pair in pair_all([one])] == [45]
        assert pair_sensors([one]) == []

    def test_two_sensors_are_cut_to_what_both_saw_warm(self):
        curve = make_curve(8)
        wears = tuple(
            replace(worn(curve, name), warm_up_hours=hours) for name, hours in (("sensor_a", 24.0), ("sensor_b", 12.0))
        )
        study = make_study(*wears)
        (pair,) = pair_sensors([Recorded("somebody", study, True)])
        for wear in pair.wears:
            assert wear.start == wears[0].start + pd.Timedelta(hours=24)
            assert wear.end == wear.start + pd.Timedelta(days=6)
            assert wear.warm_up_hours == 0
            assert wear.glucose["time"].between(wear.start, wear.end).all()

    def test_a_settled_wear_has_whole_days_and_is_halved_evenly(self):
        wear = settle(replace(worn(make_curve(7.4)), warm_up_hours=24.0))
        assert wear.end - wear.start == pd.Timedelta(days=6)
        first, second = cut_in_two(wear)
        assert (first.end, second.end) == (second.start, wear.end)
        assert first.end - first.start == second.end - second.start == pd.Timedelta(days=3)
        assert not set(first.glucose["time"]) & set(second.glucose["time"])
        assert settle(worn(make_curve(3.5))) is None

    def test_a_long_table_of_two_sensors_is_read(self, tmp_path):
        source = tmp_path / "two_sensors_mechanics"
        source.mkdir()
        times = pd.date_range("2026-03-28T08:00", periods=2000, freq="5min")
        glucose = pd.concat(
            pd.DataFrame({"person": "p9", "sensor": sensor, "time": times, "glucose_mg_dl": level})
            for sensor, level in (("a", 110), ("b", 90))
        )
        glucose.to_csv(source / "glucose.csv.gz", index=False)
        write_mechanics(source, tmp_path / "written")
        (one,) = read_people(tmp_path)
        assert (one.name, one.wearer) == ("two_sensors_mechanics/p9", False)
        assert [wear.sensor_model for wear in one.wears] == ["model a", "model b"]
        assert [len(wear.glucose) for wear in one.wears] == [2000, 2000]
        assert [wear.glucose["glucose_mg_dl"].mean() for wear in one.wears] == [110, 90]

    def test_the_named_folder_is_read_instead(self, monkeypatch, tmp_path, capsys):
        monkeypatch.setenv("GLUCOLAB_REAL_TRACES", str(tmp_path))
        assert find_root() == tmp_path
        assert main([]) == 0
        assert "No recordings of real people" in capsys.readouterr().out


class TestPlanting:
    def test_a_walk_takes_four_tenths_of_what_lies_above(self):
        times = make_times(288)
        bump = np.r_[np.zeros(100), np.linspace(0, 50, 10), np.linspace(50, 10, 30), np.zeros(148)]
        values = 95 + bump
        left = take_off_rises(times, values, times[[100]])
        assert left[:100].tolist() == values[:100].tolist()
        assert (left - 95)[100:124] == pytest.approx(0.6 * bump[100:124])
        assert (values - left)[136:].max() < 1e-9

    def test_days_are_raised_as_asked(self):
        wear = worn(make_curve(4))
        times = pd.DatetimeIndex(wear.glucose["time"])
        by = raise_days(times, wear, np.array([3.0, -5.0, 0.0, 8.0, 0.0]))
        noon = np.asarray(times.hour == 12)
        assert by[noon].reshape(4, -1).mean(axis=1).tolist() == [3, -5, 0, 8]
        assert np.abs(np.diff(by)).max() < 1.2  # no step that could pass for a fault of the sensor

    def test_covariates_are_what_they_are_called(self):
        dates = pd.date_range("2026-02-02", periods=21)
        drawn = [draw_covariates(np.random.default_rng(i), dates, -1.0) for i in range(200)]
        assert tuple(drawn[0]) == COVARIATES
        place = np.arange(21)
        along = [np.corrcoef(place, one[TRENDING])[0, 1] for one in drawn]
        assert np.mean(along) == pytest.approx(-0.9, abs=0.02)
        assert all(one[WEEKLY].sum() == 6 for one in drawn)
        similar = np.array([one["autocorrelated"] for one in drawn])
        assert np.mean(similar[:, 1:] * similar[:, :-1]) == pytest.approx(0.7, abs=0.08)

    def test_rows_within_twenty_minutes_are_one_occasion(self):
        times = make_times(5, step_min=15).append(make_times(1) + pd.Timedelta(minutes=95))
        meals = make_table("meals", *({"time": time, "name": "food"} for time in times))
        assert find_occasions_of(meals).tolist() == [0, 0, 0, 0, 0, 1]

    def test_wears_of_a_study_keep_clock_and_weekday_and_do_not_meet(self):
        wear = worn(make_curve(6))
        placed = [place(wear, slot) for slot in range(3)]
        for one in placed:
            moved = one.start - wear.start
            assert moved % pd.Timedelta(weeks=1) == pd.Timedelta(0)
            assert (one.glucose["time"].to_numpy() - wear.glucose["time"].to_numpy() == moved).all()
        assert placed[1].start - placed[0].end > pd.Timedelta(days=14)
        days = write_days(placed[0], {"x": np.arange(len(pd.date_range(placed[0].start, placed[0].end)))}).days
        assert days["date"].iloc[0] == placed[0].start.tz_localize(None).normalize()

    def test_everybody_takes_part_once_a_round(self):
        study = make_study(worn(make_curve(5)))
        other = make_study(*(replace(worn(make_curve(5), f"sensor_{m}"), sensor_model=m) for m in "ab"))
        people = [Recorded(f"p{i}", study, i < 7) for i in range(9)]
        people += [Recorded(f"q{i}", other, True) for i in range(4)]
        joined = list(join_studies(people, "d", 4))
        assert len({one.seed for one in joined}) == len(joined) == 12
        for number in range(4):
            of_round = joined[3 * number : 3 * number + 3]
            named = [name for one in of_round for name in one.people]
            assert len(set(named)) == 9
            assert not {"p7", "p8"} & set(named)
            assert all(len({wear.sensor_model for wear in one.wears}) == 1 for one in of_round)
        assert {wear.sensor_model for one in joined for wear in one.wears} == {"", "a", "b"}

    def test_removed_hours_are_gone(self):
        wear = worn(make_curve(5))
        left = without(wear, wear.glucose["time"].iloc[[100, 500]], pd.Timedelta(hours=1))
        assert len(wear.glucose) - len(left.glucose) == 24


class TestWriting:
    def test_efforts_are_written_to_every_walk(self):
        wear = write_walks(worn(make_curve(4)), make_times(3, step_min=300))
        efforts = write_efforts(wear).activity["effort"]
        assert efforts.tolist() == ["moderate"] * 3
        assert wear.activity["effort"].isna().all()

    def test_a_coffee_follows_each_lunch_by_an_hour(self):
        days = make_times(1)[0] + pd.to_timedelta([8, 12, 12.1, 14, 19, 36, 60.5, 84, 85.2], unit="h")
        meals = make_table("meals", *({"time": time, "name": "food", "carbs_g": 50.0, "dish": "pie"} for time in days))
        wear = worn(make_curve(4), meals=meals)
        after = add_coffees(wear).meals
        coffees = after[after["name"] == "black coffee"]
        assert coffees["time"].tolist() == (days[[1, 5, 6]] + pd.Timedelta(hours=1)).tolist()
        assert (coffees["carbs_g"] == 0).all()
        assert not coffees["dish"].fillna("").str.len().any()
        assert after.index.is_unique
        assert after["time"].is_monotonic_increasing
        pd.testing.assert_frame_equal(after[after["name"] == "food"], meals)

    def test_clocks_are_moved_as_asked(self):
        meals = make_table("meals", {"time": make_times(1)[0], "name": "food"})
        wear = worn(make_curve(4), meals=meals)
        assert (move_log(wear, 60).meals["time"] - meals["time"]).tolist() == [pd.Timedelta(hours=1)]
        moved = move_sensor(wear, -60)
        assert (moved.glucose["time"] - wear.glucose["time"]).unique().tolist() == [pd.Timedelta(hours=-1)]
        assert moved.start - wear.start == moved.end - wear.end == pd.Timedelta(hours=-1)

    @pytest.mark.parametrize("late", [0, 60])
    def test_a_log_that_is_off_shows_in_the_mean_about_meals(self, late):
        curve = make_curve(6)
        begins = curve.time[np.flatnonzero(np.arange(len(curve.time)) % 97 == 20)]
        bumps = sum(
            50 * np.exp(-((((curve.time - begin) / pd.Timedelta(minutes=1)) - 60) ** 2) / 1000) for begin in begins
        )
        meals = make_table("meals", *({"time": begin, "name": "food"} for begin in begins))
        wear = worn(Curve(curve.time, 90 + np.asarray(bumps)), meals=meals)
        # steepest half an hour less a bit before the peak: exp(-t²/1000) turns at 22 min
        assert find_climb_min(move_log(wear, late)) == pytest.approx(60 - 22 - late, abs=5)

    @pytest.mark.parametrize(
        ("ends", "verdict"),
        [((40, 60, 80), "higher"), ((-80, -60, -40), "lower"), ((-5, 60, 125), "cannot_tell_yet"),
         ((5, 15, 25), "cannot_tell_yet")],
    )  # fmt: skip
    def test_a_clock_is_said_to_be_off_if_it_surely_is(self, ends, verdict):
        assert allege(dict(zip(("low", "estimate", "high"), map(float, ends), strict=True))) == verdict
        row = Row(LOG, UNMOVED, ("p1",), 0, ends[1], ends[0], ends[2], verdict)
        assert name_alleged([row]).startswith(
            f"clocks said to be off unmoved, {int(verdict in ('higher', 'lower'))} of 1"
        )

"""Does each flag find its fault and leave the rest alone? True always means suspect (design 3)."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glucolab.cleaning import flags as f
from glucolab.cleaning.pressure import flag_pressure
from glucolab.record import empty_table
from tests.hand_made import MINUTE, START, UTC, at, make_series, make_table

INTERVALS = (1.0, 5.0, 15.0)
NOTES = make_table("notes", {"start": at("12:00"), "end": at("13:00"), "kind": "heat"})


def flag_by_hand(glucose, interval_min):
    return f.flag_duplicate(glucose, interval_min=interval_min, by_hand=np.zeros(len(glucose), dtype=bool))


FLAGS = {
    "clock": lambda g, i: f.flag_clock(g, start=START, end=START + pd.Timedelta(days=20)),
    "duplicate": flag_by_hand,
    "warm_up": lambda g, i: f.flag_warm_up(g, start=START, warm_up_hours=24),
    "limit": lambda g, i: f.flag_limit(g, floor_mg_dl=40, ceiling_mg_dl=400),
    "jump": lambda g, i: f.flag_jump(g, interval_min=i),
    "stuck": lambda g, i: f.flag_stuck(g, interval_min=i, zones=UTC),
    "loosening": lambda g, i: f.flag_loosening(g, interval_min=i),
    "noted": lambda g, i: f.flag_noted(g, notes=NOTES),
    "pressure": lambda g, i: flag_pressure(
        g, interval_min=i, zones=UTC, sleep=empty_table("sleep"), meals=empty_table("meals")
    ),
}


def calm(days=14.0, interval_min=5.0, noise=1.5, seed=0, swing=15.0):
    """A slow swing with noise, in whole mg/dL."""
    n = round(days * 1440 / interval_min)
    minutes = np.arange(n) * interval_min
    noisy = 100 + swing * np.sin(2 * np.pi * minutes / 1440) + np.random.default_rng(seed).normal(0, noise, n)
    return make_series(np.round(noisy), step_min=interval_min)


@pytest.mark.parametrize("name", FLAGS)
@settings(max_examples=15, deadline=None)
@given(
    values=st.lists(st.one_of(st.just(np.nan), st.integers(30, 420)), max_size=60),
    gaps=st.lists(st.sampled_from([0, 1, 5, 5, 5, 15, 300]), min_size=60, max_size=60),
    interval_min=st.sampled_from(INTERVALS),
)
def test_every_flag_keeps_the_index_changes_nothing_and_never_suspects_what_is_missing(
    name, values, gaps, interval_min
):
    times = START + pd.to_timedelta(np.cumsum(gaps[: len(values)]), unit="min")
    glucose = pd.Series(np.array(values, dtype=float), index=pd.DatetimeIndex(times).as_unit("us"))
    before = glucose.copy(deep=True)
    mask = FLAGS[name](glucose, interval_min)
    assert mask.dtype == bool
    assert mask.index.equals(glucose.index)
    assert len(mask) == len(glucose)
    pd.testing.assert_series_equal(glucose, before)
    assert not mask[glucose.isna()].any()


@pytest.mark.parametrize("name", ["jump", "stuck", "loosening", "pressure", "limit", "duplicate", "clock"])
@pytest.mark.parametrize("interval_min", INTERVALS)
def test_a_quiet_clean_wear_is_left_alone(name, interval_min):
    for seed in range(3):
        for noise in (1.0, 2.0):
            glucose = calm(noise=noise, seed=seed, interval_min=interval_min)
            assert not FLAGS[name](glucose, interval_min).any(), f"seed {seed}, noise {noise}"


class TestJump:
    @pytest.mark.parametrize("height", [30, -30])
    @pytest.mark.parametrize("width", [1, 2])
    def test_one_or_two_readings_off_the_line(self, height, width):
        glucose = calm(days=3)
        glucose.iloc[400 : 400 + width] += height
        mask = f.flag_jump(glucose, interval_min=5)
        assert np.flatnonzero(mask).tolist() == list(range(400, 400 + width))

    @pytest.mark.parametrize(("interval_min", "limit"), [(1.0, 15.0), (5.0, 15.0), (10.0, 30.0)])
    def test_from_15_off_the_line_on_more_where_readings_are_further_apart(self, interval_min, limit):
        """A sensor without noise, so that its own spread sets no limit; a step of as much in as out."""
        for height, suspect in ((limit - 0.5, False), (limit + 0.5, True)):
            for sign in (1, -1):
                values = np.full(60, 100.0)
                values[30] += sign * height
                glucose = make_series(values, step_min=interval_min)
                assert np.flatnonzero(f.flag_jump(glucose, interval_min=interval_min)).tolist() == [30] * suspect

    def test_five_readings_are_enough_to_see_one_and_four_are_not(self):
        assert np.flatnonzero(f.flag_jump(make_series([100.0, 100, 150, 100, 100]), interval_min=5.0)).tolist() == [2]
        assert not f.flag_jump(make_series([100.0, 150, 100, 100]), interval_min=5.0).any()

    @pytest.mark.parametrize(("spread", "suspect"), [(6.0, False), (2.0, True)])
    def test_a_noisy_sensors_limit_is_six_of_its_own_deviations(self, spread, suspect):
        """Distances from the line spread 1.2 times as far as noise: six of them are 44 at 6 mg/dL, 15 at 2."""
        rng = np.random.default_rng(3)
        values = 100 + rng.normal(0, spread, 400)
        values[200] = values[[199, 201]].mean() + 36
        assert bool(f.flag_jump(make_series(values), interval_min=5.0).iloc[200]) == suspect

    def test_a_meal_is_no_jump(self):
        """3 mg/dL per min for 20 min is fast, and it stays up."""
        glucose = calm(days=3)
        glucose.iloc[400:430] += np.interp(np.arange(30), [0, 4, 12, 29], [0, 60, 60, 0])
        assert not f.flag_jump(glucose, interval_min=5).any()

    def test_a_noisy_sensor_is_not_flagged_for_its_noise(self):
        assert f.flag_jump(calm(days=14, noise=8), interval_min=5).sum() <= 2

    def test_readings_about_a_pause_are_no_jump(self):
        glucose = calm(days=2)
        glucose.iloc[300:] += 60
        glucose = glucose.drop(glucose.index[294:300])
        assert not f.flag_jump(glucose, interval_min=5).any()


class TestStuck:
    @pytest.mark.parametrize(("interval_min", "readings"), [(5.0, 12), (1.0, 60)])
    def test_an_hour_of_one_value(self, interval_min, readings):
        glucose = calm(days=7, interval_min=interval_min)
        glucose.iloc[500 : 500 + readings] = 97.0
        glucose.iloc[499], glucose.iloc[500 + readings] = 90.0, 104.0
        assert np.flatnonzero(f.flag_stuck(glucose, interval_min=interval_min, zones=UTC)).tolist() == list(
            range(500, 500 + readings)
        )

    def test_never_at_15_min(self):
        """A run long enough to tell would last hours of plausible quiet."""
        glucose = calm(days=7, interval_min=15)
        glucose.iloc[300:312] = 97.0
        assert not f.flag_stuck(glucose, interval_min=15, zones=UTC).any()

    def test_under_20_min_never_counts(self):
        glucose = calm(days=7, noise=6)
        glucose.iloc[500:504] = 97.0
        assert not f.flag_stuck(glucose, interval_min=5, zones=UTC).any()

    def test_false_runs_stay_as_rare_as_it_says(self):
        """One false run in fifty wears: among 40, three or more would be a surprise of 1 in 100."""
        runs = sum(f.flag_stuck(calm(seed=seed, noise=1.0), interval_min=5, zones=UTC).any() for seed in range(40))
        assert runs <= 3

    @pytest.mark.parametrize(("n", "found"), [(1100, True), (1350, False)])
    def test_what_chance_alone_makes_in_one_wear_of_fifty_is_left(self, n, found):
        """One neighbour in five equal (.207 counted): chance makes eight in a row n * .207^7 times in n readings."""
        values = 100 + np.tile([0.0, 0.0, 1.0, 2.0, 3.0], n)[:n]
        values[1001:1008] = values[1000]
        glucose = make_series(values)
        assert f.flag_stuck(glucose, interval_min=5, zones=UTC).any() == found

    def test_equal_readings_across_a_pause_are_no_run(self):
        glucose = calm(days=3)
        glucose.iloc[300:304] = glucose.iloc[340:344] = 97.0
        kept = glucose.drop(glucose.index[304:340])
        assert not f.flag_stuck(kept, interval_min=5, zones=UTC).any()


class TestLimit:
    def test_at_or_beyond_floor_and_ceiling(self):
        glucose = make_series([39, 40, 41, 399, 400, 401, np.nan])
        assert f.flag_limit(glucose, floor_mg_dl=40, ceiling_mg_dl=400).tolist() == [
            True,
            True,
            False,
            False,
            True,
            True,
            False,
        ]


class TestDuplicate:
    def duplicates(self, minutes, by_hand=None, interval_min=5.0):
        times = pd.DatetimeIndex(START + pd.to_timedelta(minutes, unit="min")).as_unit("us")
        hand = np.zeros(len(times), dtype=bool) if by_hand is None else np.array(by_hand, dtype=bool)
        glucose = pd.Series(100.0, index=times)
        return np.flatnonzero(f.flag_duplicate(glucose, interval_min=interval_min, by_hand=hand)).tolist()

    def test_the_same_moment_twice(self):
        assert self.duplicates([0, 5, 5, 5, 10]) == [2, 3]

    def test_steps_of_the_interval_are_none(self):
        assert self.duplicates([0, 5, 9.2, 14, 19.9]) == []

    @pytest.mark.parametrize(("step", "found"), [(5.9, [1, 3]), (6.0, [])])
    def test_two_fifths_of_the_interval_are_a_step_of_its_own(self, step, found):
        assert self.duplicates([0, step, 15, 15 + step, 30], interval_min=15) == found

    def test_a_scan_gives_way_to_the_history_beside_it(self):
        assert self.duplicates([0, 14, 15, 17, 30, 31], by_hand=[0, 1, 0, 1, 1, 0], interval_min=15) == [1, 3, 4]

    def test_a_scan_far_from_the_history_stays(self):
        assert self.duplicates([0, 40, 60], by_hand=[0, 1, 0], interval_min=15) == []

    def test_two_scans_of_one_moment(self):
        assert self.duplicates([0, 40, 40.3, 60], by_hand=[0, 1, 1, 0], interval_min=15) == [2]

    def test_without_any_history_scans_stand_for_themselves(self):
        assert self.duplicates([0, 30, 90], by_hand=[1, 1, 1], interval_min=15) == []


class TestClock:
    def clock(self, minutes, end_hours=48.0):
        times = pd.DatetimeIndex(START + pd.to_timedelta(np.asarray(minutes, dtype=float), unit="min")).as_unit("us")
        end = START + pd.Timedelta(hours=end_hours)
        return np.flatnonzero(f.flag_clock(pd.Series(100.0, index=times), start=START, end=end)).tolist()

    def test_of_three_readings_the_middle_one_may_be_out_of_step_and_of_two_none(self):
        assert self.clock([0, 300, 10]) == [1]
        assert self.clock([10, 0]) == []

    def test_in_order_is_fine(self):
        assert self.clock(range(0, 300, 5)) == []

    def test_before_insertion_and_after_removal(self):
        assert self.clock([-10, -5, 0, 5, 55, 60, 65], end_hours=1) == [0, 1, 6]

    def test_one_row_out_of_step(self):
        assert self.clock([0, 5, 10, 500, 15, 20, 25]) == [3]
        assert self.clock([300, 305, 310, 20, 315, 320]) == [3]

    def test_of_two_swapped_rows_one_at_least_is_suspect_and_none_besides(self):
        suspect = self.clock([0, 5, 10, 20, 15, 25, 30])
        assert suspect
        assert set(suspect) <= {3, 4}

    def test_scans_listed_below_the_history_are_an_order_not_a_fault(self):
        assert self.clock([*range(0, 1000, 15), *range(7, 1000, 100)]) == []

    def test_several_blocks_that_restart(self):
        assert self.clock([*range(0, 500, 5), *range(100, 300, 50), *range(20, 400, 60)]) == []

    def test_newest_first_is_an_order_too(self):
        assert self.clock(list(range(0, 1000, 5))[::-1]) == []

    def test_newest_first_with_a_row_out_of_step(self):
        minutes = list(range(0, 1000, 5))[::-1]
        minutes[50] = 5000 / 5 + 700
        assert self.clock(minutes) == [50]

    def test_the_same_moment_twice_is_no_fault_of_the_clock(self):
        assert self.clock([0, 5, 5, 10, 10, 15]) == []


class TestWarmUpAndNoted:
    def test_warm_up_is_half_open(self):
        glucose = make_series(np.full(6, 100.0), start=START + 23 * 60 * MINUTE + 50 * MINUTE)
        assert f.flag_warm_up(glucose, start=START, warm_up_hours=24).tolist() == [
            True,
            True,
            False,
            False,
            False,
            False,
        ]

    @pytest.mark.parametrize(("kind", "excludes"), [
        ("pressure", True), ("heat", True), ("knock", True), ("travel", False), ("other", False), ("swim", False),
        ("medicine", False), ("illness", False),
    ])  # fmt: skip
    def test_which_notes_exclude(self, kind, excludes):
        notes = make_table("notes", {"start": at("00:10"), "end": at("00:20"), "kind": kind})
        mask = f.flag_noted(make_series(np.full(6, 100.0)), notes=notes)
        assert mask.tolist() == ([False, False, True, True, False, False] if excludes else [False] * 6)

    def test_a_note_without_an_end_stands_for_an_hour(self):
        notes = make_table("notes", {"start": at("01:00"), "kind": "heat"})
        mask = f.flag_noted(make_series(np.full(48, 100.0)), notes=notes)
        assert np.flatnonzero(mask).tolist() == list(range(12, 24))

    def test_notes_that_overlap(self):
        notes = make_table(
            "notes",
            {"start": at("01:00"), "end": at("02:00"), "kind": "heat"},
            {"start": at("01:30"), "end": at("01:40"), "kind": "knock"},
        )
        assert np.flatnonzero(f.flag_noted(make_series(np.full(48, 100.0)), notes=notes)).tolist() == list(
            range(12, 24)
        )


class TestLoosening:
    @pytest.mark.parametrize("interval_min", INTERVALS)
    def test_noise_that_grows_and_stays_is_noted(self, interval_min):
        glucose = calm(interval_min=interval_min)
        late = glucose.index >= START + pd.Timedelta(days=13)
        glucose[late] += np.random.default_rng(5).normal(0, 12, late.sum())
        mask = f.flag_loosening(glucose, interval_min=interval_min)
        assert mask[late].mean() > 0.95
        assert mask[~late].mean() < 0.02

    def test_noise_that_comes_and_goes_is_not(self):
        glucose = calm()
        rough = slice(2500, 3000)
        glucose.iloc[rough] += np.random.default_rng(5).normal(0, 12, 500)
        assert not f.flag_loosening(glucose, interval_min=5).any()

    def test_noise_from_the_third_day_on_is_how_the_sensor_is(self):
        glucose = calm()
        glucose.iloc[576:] += np.random.default_rng(5).normal(0, 12, len(glucose) - 576)
        assert not f.flag_loosening(glucose, interval_min=5).any()


@pytest.mark.parametrize("seed", range(3))
def test_a_quiet_night_by_the_minute_is_not_stuck(seed):
    """Whole numbers of a glucose with hardly any noise: runs of a quarter of an hour at its turns are its own."""
    rng = np.random.default_rng(seed)
    minutes = np.arange(5 * 1440)
    value = 95 + 14 * np.sin(2 * np.pi * minutes / 360 + rng.uniform(0, 6)) + 0.15 * rng.standard_normal(len(minutes))
    series = make_series(np.round(value), step_min=1.0)
    runs = series.groupby((series.diff() != 0).cumsum()).size()
    assert runs.max() >= 15
    assert not f.flag_stuck(series, interval_min=1.0, zones=UTC).any()
    series.iloc[3000:3150] = series.iloc[3000]
    assert f.flag_stuck(series, interval_min=1.0, zones=UTC).iloc[3000:3150].all()

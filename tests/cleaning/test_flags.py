"""Does each flag find its fault and leave the rest alone? True always means suspect (design 3)."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glucolab.cleaning import flags as f
from glucolab.cleaning.jumps import flag_jump
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
    "jump": lambda g, i: flag_jump(g, interval_min=i),
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

    @pytest.mark.parametrize(("n", "found"), [(1100, True), (1350, False)])
    def test_by_the_minute_it_is_judged_between_readings_five_minutes_apart(self, n, found):
        """The same pattern, each of its values for five minutes: 35 equal minutes are seven equal fives."""
        values = 100 + np.repeat(np.tile([0.0, 0.0, 1.0, 2.0, 3.0], n)[:n], 5)
        values[5005:5040] = values[5000:5005].mean() + 7
        values[5000:5036] = 90.0
        values[5036:5040] = 95.0
        mask = f.flag_stuck(make_series(values, step_min=1.0), interval_min=1.0, zones=UTC)
        assert np.flatnonzero(mask).tolist() == (list(range(5000, 5036)) if found else [])

    @pytest.mark.parametrize(("count", "found"), [(19, False), (20, True)])
    def test_twenty_readings_are_needed(self, count, found):
        """All alike: four of eight count as equal, and .5^10 times 20 is .02."""
        mask = f.flag_stuck(make_series(np.full(count, 97.0)), interval_min=5, zones=UTC)
        assert mask.all() if found else not mask.any()

    @pytest.mark.parametrize(("interval_min", "found"), [(10.0, True), (10.5, False)])
    def test_ten_minutes_apart_is_the_most(self, interval_min, found):
        glucose = make_series(np.full(40, 97.0), step_min=interval_min)
        assert f.flag_stuck(glucose, interval_min=interval_min, zones=UTC).any() == found

    @pytest.mark.parametrize(
        ("interval_min", "count", "found"), [(5.0, 4, False), (5.0, 5, True), (1.0, 20, False), (1.0, 21, True)]
    )
    def test_twenty_minutes_count_where_nothing_else_is_ever_equal(self, interval_min, count, found):
        """Two days in which every reading differs from the last: a single run, from its first to its last reading."""
        values = 100 + np.arange(round(2880 / interval_min)) % 50 * 1.0
        values[505 : 505 + count] = 90.0
        mask = f.flag_stuck(make_series(values, step_min=interval_min), interval_min=interval_min, zones=UTC)
        assert np.flatnonzero(mask).tolist() == (list(range(505, 505 + count)) if found else [])

    def test_the_chance_of_equals_is_that_of_the_stillest_quarter(self):
        """A reading more equal and three more unequal in each quarter, so that few tell little.

        Six in the night, all different; twelve in the morning, every second equal to the last: 6 + 1 of 12 + 4.
        """
        times = pd.DatetimeIndex(
            [at("02:00") + i * 5 * MINUTE for i in range(6)] + [at("08:00") + i * 5 * MINUTE for i in range(12)]
        )
        many = pd.DatetimeIndex(
            [at("13:00") + i * 2 * MINUTE for i in range(100)] + [at("19:00") + i * 2 * MINUTE for i in range(100)]
        )
        values = np.r_[np.arange(6), 50 + np.repeat(np.arange(6), 2), np.arange(200) + 200.0]
        chance = f._chance_of_equals(pd.Series(values, index=times.append(many)), 5.0, UTC)
        assert chance == pytest.approx(7 / 16)

    def test_a_long_run_counts_as_one_of_four(self):
        """Ten alike: three steps equal of the four that are counted, in the night; all else never."""
        times = pd.DatetimeIndex([at("02:00") + i * 5 * MINUTE for i in range(10)])
        many = pd.DatetimeIndex([at("06:00") + i * 5 * MINUTE for i in range(216)])
        glucose = pd.Series(np.r_[np.full(10, 97.0), np.arange(216.0)], index=times.append(many))
        assert f._chance_of_equals(glucose, 5.0, UTC) == pytest.approx(4 / 8)

    def test_it_is_never_under_one_in_fifty(self):
        assert f._chance_of_equals(make_series(np.arange(2880.0), step_min=1.0), 1.0, UTC) == 0.02

    @pytest.mark.parametrize(("pause", "run"), [(12.4, True), (12.5, False)])
    def test_readings_over_two_and_a_half_intervals_apart_are_no_neighbours(self, pause, run):
        equal = f._equal_to_the_last(np.full(3, 97.0), np.array([0.0, 5.0, 5.0 + pause]), 5.0)
        assert equal.tolist() == [False, True, run]

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

    def test_beside_a_reading_that_is_too_near_one_two_fifths_away_still_stays(self):
        assert self.duplicates([0, 5.9, 15, 21, 30], interval_min=15) == [1]

    def test_a_scan_gives_way_to_the_history_beside_it(self):
        assert self.duplicates([0, 14, 15, 17, 30, 31], by_hand=[0, 1, 0, 1, 1, 0], interval_min=15) == [1, 3, 4]

    def test_a_scan_far_from_the_history_stays(self):
        assert self.duplicates([0, 40, 60], by_hand=[0, 1, 0], interval_min=15) == []

    def test_two_scans_of_one_moment(self):
        assert self.duplicates([0, 40, 40.3, 60], by_hand=[0, 1, 1, 0], interval_min=15) == [2]

    @pytest.mark.parametrize(("apart", "found"), [(0.99, [2]), (1.0, [])])
    def test_scans_a_minute_apart_are_two(self, apart, found):
        assert self.duplicates([0, 40, 40 + apart, 60], by_hand=[0, 1, 1, 0], interval_min=15) == found

    @pytest.mark.parametrize(("scan", "found"), [(7.4, [1]), (7.5, []), (22.5, []), (22.6, [1]), (37.4, [1])])
    def test_a_scan_gives_way_within_half_an_interval(self, scan, found):
        """Of the reading before it or after, where the history is 30 apart and the interval 15."""
        order = np.argsort([0, scan, 30])
        by_hand = np.array([0, 1, 0])[order]
        expected = [int(np.flatnonzero(order == 1)[0])] if found else []
        assert self.duplicates(np.array([0, scan, 30])[order], by_hand=by_hand, interval_min=15) == expected

    def test_without_any_history_scans_stand_for_themselves(self):
        assert self.duplicates([0, 30, 90], by_hand=[1, 1, 1], interval_min=15) == []


class TestClock:
    def clock(self, minutes, end_hours=480.0, values=None):
        times = pd.DatetimeIndex(START + pd.to_timedelta(np.asarray(minutes, dtype=float), unit="min")).as_unit("us")
        values = np.arange(len(times)) + 90.0 if values is None else values
        end = START + pd.Timedelta(hours=end_hours)
        return np.flatnonzero(f.flag_clock(pd.Series(values, index=times), start=START, end=end)).tolist()

    def test_in_order_is_fine(self):
        assert self.clock(range(0, 300, 5)) == []

    def test_two_readings_have_no_order(self):
        assert self.clock([10, 0]) == []

    def test_before_insertion_and_after_removal(self):
        assert self.clock([-10, -5, 0, 5, 55, 60, 65], end_hours=1) == [0, 1, 6]

    @pytest.mark.parametrize("wrong", [500, 1440 + 15, 0])
    def test_a_time_written_wrongly_leaves_a_hole_where_its_row_stands(self, wrong):
        assert self.clock([0, 5, 10, wrong, 20, 25, 30]) == [3]

    def test_a_row_that_was_moved_leaves_none_and_is_where_its_time_says(self):
        assert self.clock([0, 5, 10, 500, 15, 20, 25]) == []
        assert self.clock([0, 5, 10, 20, 15, 25, 30]) == []
        assert self.clock([0, 5, 15, 20, 25, 30, 10]) == []

    def test_a_hole_that_another_row_fills_is_none(self):
        assert self.clock([0, 5, 10, 500, 20, 25, 30, 15]) == []

    def test_scans_listed_below_the_history_are_an_order_not_a_fault(self):
        assert self.clock([*range(0, 1000, 15), *range(7, 1000, 100)]) == []
        assert self.clock([*range(0, 1000, 15), *range(7, 1020, 100)]) == [], "the last one beyond the history"

    def test_several_blocks_that_restart(self):
        assert self.clock([*range(0, 500, 5), *range(100, 300, 50), *range(20, 400, 60)]) == []

    def test_a_file_full_of_repeats_still_runs_oldest_first(self):
        minutes = [*np.repeat([0, 5, 10], 4).tolist(), 500, *np.repeat([20, 25, 30], 4).tolist()]
        values = [*np.repeat([90.0, 91, 92], 4).tolist(), 93.0, *np.repeat([94.0, 95, 96], 4).tolist()]
        assert self.clock(minutes, values=values) == [12]

    def test_newest_first_is_an_order_too(self):
        assert self.clock(list(range(0, 1000, 5))[::-1]) == []

    def test_newest_first_with_a_time_written_wrongly(self):
        minutes = list(range(0, 1000, 5))[::-1]
        minutes[50] = 5000 / 5 + 700
        assert self.clock(minutes) == [50]

    def test_the_same_moment_twice_is_no_fault_of_the_clock(self):
        assert self.clock([0, 5, 5, 10, 10, 15]) == []

    @pytest.mark.parametrize("newest_first", [False, True])
    @pytest.mark.parametrize("offset", [0, 2])
    def test_a_clock_set_back_by_an_hour_leaves_two_hours_of_which_nobody_knows(self, newest_first, offset):
        """Read from 0 to 1000, set back to 940, read on: 940 to 1000 is there twice, and both are in doubt."""
        minutes = np.r_[np.arange(0, 1001, 5), np.arange(940 + offset, 2000, 5)]
        doubtful = [i for i, minute in enumerate(minutes) if 940 + offset <= minute <= 1000]
        assert len(doubtful) in (24, 26)
        if newest_first:
            minutes = minutes[::-1]
            doubtful = sorted(len(minutes) - 1 - i for i in doubtful)
        assert self.clock(minutes) == doubtful

    def test_two_downloads_with_the_same_readings_in_both_are_no_clock_set_back(self):
        minutes = np.r_[np.arange(0, 1001, 5), np.arange(500, 2000, 5)]
        assert self.clock(minutes, values=90.0 + minutes % 37) == []

    @pytest.mark.parametrize("seed", range(5))
    def test_shuffled_rows_witness_nothing(self, seed):
        rng = np.random.default_rng(seed)
        assert self.clock(rng.permutation(np.arange(0, 20_000, 5))) == []
        assert self.clock(rng.permutation(np.sort(rng.integers(0, 20_000, 150)))) == [], "scans at any time"


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

    def zigzag(self, blocks, rough, times=3.0, per_block=72, short=0):
        """Readings that go up and down by 1, from one six-hour block on by so many times that."""
        count = blocks * per_block - short
        size = np.where(np.arange(count) >= rough * per_block, times, 1.0)
        glucose = make_series(100 + size * np.tile([1, -1], count)[:count], step_min=360 / per_block)
        return (
            np.flatnonzero(f.flag_loosening(glucose, interval_min=360 / per_block)).tolist(),
            per_block * rough,
            count,
        )

    @pytest.mark.parametrize(("times", "noted"), [(2.4, False), (2.6, True)])
    def test_two_and_a_half_times_as_rough_is_loose(self, times, noted):
        found, first, count = self.zigzag(20, 17, times)
        assert found == (list(range(first, count)) if noted else [])

    @pytest.mark.parametrize(
        ("blocks", "rough", "noted"), [(11, 8, True), (11, 7, False), (21, 16, True), (21, 15, False)]
    )
    def test_only_the_last_fifth_of_the_blocks_can_be_loose(self, blocks, rough, noted):
        """Counted from nought: of ten the eighth and later, of twenty the sixteenth."""
        found, first, count = self.zigzag(blocks, rough)
        assert found == (list(range(first, count)) if noted else [])

    @pytest.mark.parametrize(("blocks", "noted"), [(8, True), (7, False)])
    def test_two_days_of_blocks_are_needed(self, blocks, noted):
        found, first, count = self.zigzag(blocks, blocks - 1)
        assert found == (list(range(first, count)) if noted else [])

    @pytest.mark.parametrize(("short", "noted"), [(16, True), (17, False)])
    def test_two_hundred_readings_are_needed(self, short, noted):
        """A quarter of an hour apart: nine blocks of 24 less so many."""
        found, first, count = self.zigzag(9, 8, 3.0, 24, short)
        assert found == (list(range(first, count)) if noted else [])

    def test_a_wear_without_any_roughness_has_none_to_compare_with(self):
        values = np.full(20 * 72, 100.0)
        values[19 * 72 :] += np.tile([1, -1], 36)
        assert not f.flag_loosening(make_series(values), interval_min=5.0).any()

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

"""Is missing time found, measured and named?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.cleaning.clean import clean_wear
from tests.hand_made import START, at, make_glucose, make_table, make_times, make_wear


def swing(times):
    """A slow swing that no flag minds, with a little noise."""
    minutes = (times - START).total_seconds().to_numpy() / 60
    return np.round(100 + 12 * np.sin(2 * np.pi * minutes / 1440) + np.random.default_rng(1).normal(0, 1.2, len(times)))


def clean(times, *, days=3.0, taken=None, values=None, **wear):
    times = pd.DatetimeIndex(times).as_unit("us")
    glucose = make_glucose(times, swing(times) if values is None else values, taken)
    return clean_wear(make_wear(days=days, glucose=glucose, **wear))


def without(times, first, last):
    return times[(times < first) | (times >= last)]


ALL = {step: make_times(round(3 * 1440 / step), step_min=step) for step in (1.0, 5.0, 15.0)}


def gap_rows(record):
    return [tuple(row) for row in record.gaps[["start", "end", "minutes", "kind"]].itertuples(index=False)]


class TestCoverage:
    @pytest.mark.parametrize("step", [1.0, 5.0, 15.0])
    def test_whole(self, step):
        record = clean(ALL[step], interval_min=step)
        assert record.coverage == pytest.approx(1)
        assert len(record.gaps) == 0

    @pytest.mark.parametrize("step", [1.0, 5.0, 15.0])
    def test_six_hours_lost_of_72(self, step):
        record = clean(without(ALL[step], at("06:00", 1), at("12:00", 1)), interval_min=step)
        assert record.coverage == pytest.approx(66 / 72)
        assert gap_rows(record) == [(at("06:00", 1), at("12:00", 1), 360, "signal_lost")]

    def test_warm_up_is_left_out_of_both_sides(self):
        record = clean(without(ALL[5.0], at("02:00"), at("05:00")), warm_up_hours=24)
        assert record.coverage == pytest.approx(1), "what is missing in the warm-up costs nothing"
        assert record.warmed_up == at("00:00", 1)

    def test_a_minute_counts_once_however_often_it_is_read(self):
        times = ALL[15.0].append(make_times(288, step_min=15.0) + pd.Timedelta(minutes=7)).sort_values()
        record = clean(times, interval_min=15.0)
        assert record.coverage == pytest.approx(1)

    def test_excluded_readings_do_not_count(self):
        notes = make_table("notes", {"start": at("06:00", 1), "end": at("12:00", 1), "kind": "heat"})
        record = clean(ALL[5.0], notes=notes)
        assert record.coverage == pytest.approx(66 / 72)

    def test_minutes_between_edges_add_up(self):
        record = clean(without(ALL[5.0], at("06:00", 1), at("12:00", 1)))
        edges = pd.DatetimeIndex([at("00:00"), at("06:02", 1), at("11:00", 1), at("12:03", 1), at("00:00", 3)])
        assert record.minutes_between(edges).tolist() == [30 * 60, 0, 3, 36 * 60 - 3]

    def test_a_wear_shorter_than_its_warm_up_has_none(self):
        assert clean(ALL[5.0][:36], days=0.25, warm_up_hours=24).coverage == 0


class TestKinds:
    @pytest.mark.parametrize("marked", [True, False])
    def test_a_pause_of_eleven_hours_leaves_three_missing_where_eight_are_remembered(self, marked):
        """Common practice, no source: memory 8 h, a pause of 11 h, a scan at its end."""
        scans = [at("21:00"), at("08:00", 1)]
        times = without(ALL[15.0], scans[0], scans[1] - pd.Timedelta(hours=8))
        taken = pd.Series("automatic", index=times, dtype="str")
        if marked:
            taken = pd.concat(
                [taken, pd.Series("by_hand", index=pd.DatetimeIndex(scans) + pd.Timedelta(minutes=4))]
            ).sort_index()
        record = clean(taken.index, taken=taken.to_numpy() if marked else None, interval_min=15.0, memory_hours=8.0)
        # a scan past the last of the history stands for its own quarter of an hour
        first = at("21:19") if marked else at("21:00")
        assert gap_rows(record) == [(first, at("00:00", 1), (at("00:00", 1) - first).seconds / 60, "missed_scan")]

    def test_a_hole_that_memory_does_not_explain(self):
        """The scan that follows came two hours after the history goes on."""
        times = without(ALL[15.0], at("10:00", 1), at("13:00", 1))
        taken = pd.Series("automatic", index=times, dtype="str")
        taken = pd.concat([taken, pd.Series("by_hand", index=pd.DatetimeIndex([at("15:04", 1)]))]).sort_index()
        record = clean(taken.index, taken=taken.to_numpy(), interval_min=15.0, memory_hours=8.0)
        assert record.gaps["kind"].tolist() == ["unknown"]

    @pytest.mark.parametrize(
        ("late", "kind"), [(40, "missed_scan"), (41, "unknown"), (-40, "missed_scan"), (-41, "unknown")]
    )
    def test_a_scan_explains_a_hole_within_two_readings_and_ten_minutes(self, late, kind):
        """The history goes on at 13:00; a scan eight hours later left it, forty minutes more or less."""
        times = without(ALL[15.0], at("10:00", 1), at("13:00", 1))
        taken = pd.Series("automatic", index=times, dtype="str")
        scan = at("21:00", 1) + pd.Timedelta(minutes=late)
        taken = pd.concat(
            [taken[taken.index != scan], pd.Series("by_hand", index=pd.DatetimeIndex([scan]))]
        ).sort_index()
        record = clean(taken.index, taken=taken.to_numpy(), interval_min=15.0, memory_hours=8.0)
        assert record.gaps["kind"].tolist()[0] == kind

    @pytest.mark.parametrize(("lost", "kind"), [(4, "missed_scan"), (5, "unknown")])
    def test_without_marks_nine_tenths_of_the_memory_must_be_there(self, lost, kind):
        """Eight hours leave 32 readings and the first; nine tenths of 32 are 28.8."""
        times = without(ALL[15.0], at("10:00", 1), at("13:00", 1))
        times = without(times, at("20:00", 1), at("20:00", 1) + lost * pd.Timedelta(minutes=15))
        record = clean(times, interval_min=15.0, memory_hours=8.0)
        assert record.gaps["kind"].tolist()[0] == kind

    def test_a_sensor_that_sends_by_itself_lost_the_signal(self):
        record = clean(without(ALL[5.0], at("10:00", 1), at("10:30", 1)))
        assert gap_rows(record) == [(at("10:00", 1), at("10:30", 1), 30, "signal_lost")]

    def test_flagged_time_is_a_gap_of_its_own_kind(self):
        notes = make_table("notes", {"start": at("10:00", 1), "end": at("11:00", 1), "kind": "heat"})
        assert gap_rows(clean(ALL[5.0], notes=notes)) == [(at("10:00", 1), at("11:00", 1), 60, "flagged")]

    def test_it_ended_early(self):
        record = clean(ALL[5.0][: 288 * 2], ended="fell_off")
        assert gap_rows(record) == [(at("00:00", 2), at("00:00", 3), 1440, "ended_early")]

    def test_a_running_wear_ends_with_its_last_reading(self):
        record = clean(ALL[5.0][:400], running=True)
        assert record.end == ALL[5.0][400]
        assert len(record.gaps) == 0
        assert record.coverage == pytest.approx(1)

    def test_a_late_beginning(self):
        assert gap_rows(clean(ALL[5.0][24:])) == [(at("00:00"), at("02:00"), 120, "signal_lost")]

    def test_one_lost_reading_is_a_gap(self):
        assert gap_rows(clean(ALL[5.0].delete(300))) == [(ALL[5.0][300], ALL[5.0][301], 5, "signal_lost")]

    def test_jitter_of_the_clock_is_none(self):
        jitter = pd.to_timedelta(np.random.default_rng(2).uniform(-10, 10, 864), unit="s")
        record = clean(ALL[5.0] + pd.Timedelta(minutes=2) + jitter)
        assert len(record.gaps) == 0
        assert record.coverage > 0.98

    def test_nothing_at_all(self):
        record = clean(ALL[5.0][:0])
        assert gap_rows(record) == [(at("00:00"), at("00:00", 3), 3 * 1440, "ended_early")]
        assert record.coverage == 0

    def test_where_nothing_was_recorded_no_minute_is_usable(self):
        edges = pd.DatetimeIndex([at("00:00"), at("06:00"), at("12:00")])
        assert clean(ALL[5.0][:0]).minutes_between(edges).tolist() == [0, 0]

    @pytest.mark.parametrize(
        ("late", "kind"), [("12:02:20", "signal_lost"), ("12:02:35", "flagged"), ("12:04:50", "flagged")]
    )
    def test_a_gap_half_of_which_is_flagged_readings_is_flagged(self, late, kind):
        """From 12:05 to 12:15 two readings are missing; one that was noted stands for five of its ten minutes, if it
        came no more than half an interval before 12:05."""
        times = without(ALL[5.0], at("12:05"), at("12:15")).append(pd.DatetimeIndex([at(late)])).sort_values()
        notes = make_table("notes", {"start": at("12:02"), "end": at("12:04:55"), "kind": "heat"})
        record = clean(times, notes=notes)
        assert gap_rows(record)[0] == (at("12:05"), at("12:15"), 10, kind)

    @pytest.mark.parametrize(("lost", "kind"), [(5, "missed_scan"), (6, "unknown")])
    def test_nine_tenths_exactly_are_enough(self, lost, kind):
        """Twelve minutes apart, eight hours leave 40 and the first; nine tenths of 40 are 36."""
        times = make_times(360, step_min=12.0)
        times = without(times, at("10:00", 1), at("13:00", 1))
        times = without(times, at("20:00", 1), at("20:00", 1) + lost * pd.Timedelta(minutes=12))
        record = clean(times, interval_min=12.0, memory_hours=8.0)
        assert record.gaps["kind"].tolist()[0] == kind

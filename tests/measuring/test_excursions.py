"""When does an excursion begin, end, merge, and what is it linked to? Hand-made traces."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.cleaning.spans import make_spans
from glucolab.measuring.excursions import find_runs, measure_excursions
from glucolab.record.outputs import EXCURSIONS
from tests.hand_made import at, bump, make_pair, make_table, make_wear

FLAT = np.full(576, 90.0)
NOON = 144
HIGH = [25.0] * 12  # an hour at 25 above the median


def find(values, spans=None, **wear):
    worn = make_wear(**wear)
    clean, trace = make_pair(worn, values, spans)
    return measure_excursions(worn, clean, trace)


class TestSpans:
    @pytest.mark.parametrize(("points", "found"), [(2, 0), (3, 1), (4, 1)])
    def test_fifteen_minutes_are_needed(self, points, found):
        """Two, three and four readings (computed): n readings stand for n intervals."""
        out = find(bump(FLAT, NOON, [25.0] * points))
        assert len(out) == found
        if found:
            assert out["minutes"][0] == 5 * points
            assert out["start"][0] == at("12:00")
            assert out["end"][0] == at("12:00") + pd.Timedelta(minutes=5 * points)

    @pytest.mark.parametrize(("height", "found"), [(19.9, 0), (20.0, 1)])
    def test_twenty_above_the_wears_median_counts(self, height, found):
        assert len(find(bump(FLAT, NOON, [height] * 6))) == found

    def test_peak_and_rise_are_above_the_median(self):
        out = find(bump(FLAT, NOON, [20, 30, 45, 30, 20]))
        assert out["peak_mg_dl"][0] == 135
        assert out["rise_mg_dl"][0] == 45
        assert out["peak_time"][0] == at("12:10")
        assert list(out.columns) == EXCURSIONS.names

    @pytest.mark.parametrize(("between", "found"), [(2, 1), (3, 2)])
    def test_nearer_than_15_min_merge(self, between, found):
        out = find(bump(FLAT, NOON, [25.0] * 4 + [0.0] * between + [25.0] * 4))
        assert len(out) == found
        assert out["minutes"].sum() == 5 * (8 + (between if found == 1 else 0))

    def test_it_ends_only_after_15_min_back_below(self):
        """Ten minutes below, then one more reading above: that reading still belongs to it."""
        out = find(bump(FLAT, NOON, [25.0] * 4 + [0.0] * 2 + [25.0] + [0.0] * 20))
        assert len(out) == 1
        assert out["end"][0] == at("12:35")

    def test_single_readings_above_do_not_add_up_to_one(self):
        assert len(find(bump(FLAT, NOON, [25.0, 0.0, 0.0] * 8))) == 0

    def test_a_gap_ends_it(self):
        values = bump(FLAT, NOON, [25.0] * 24)
        values[NOON + 8 : NOON + 16] = np.nan
        out = find(values)
        assert list(out["minutes"]) == [40, 40]

    def test_one_that_reaches_the_end_is_kept(self):
        out = find(bump(FLAT, 570, [25.0] * 6))
        assert out["end"][0] == at("00:00", 2)

    def test_nothing_recorded_nothing_found(self):
        first, last = find_runs(np.full(50, np.nan), 100.0)
        assert len(first) == len(last) == 0


class TestLinks:
    def link(self, **kwargs):
        out = find(bump(FLAT, NOON, HIGH), **kwargs)
        assert len(out) == 1
        return out["linked_to"][0], out["linked_row"][0]

    def test_unexplained(self):
        assert self.link() == ("unexplained", "")

    @pytest.mark.parametrize(
        ("clock", "linked"), [("10:59", False), ("11:00", True), ("12:15", True), ("12:16", False)]
    )
    def test_meal_from_an_hour_before_to_a_quarter_after_the_start(self, clock, linked):
        meals = make_table("meals", {"time": at("06:00"), "name": "egg"}, {"time": at(clock), "name": "rice"})
        assert self.link(meals=meals) == (("meal", "meals.csv:3") if linked else ("unexplained", ""))

    @pytest.mark.parametrize(
        ("activity", "linked"),
        [
            ({"start": at("11:00"), "minutes": 29.0, "effort": "moderate"}, False),  # over 31 min before
            ({"start": at("11:00"), "minutes": 40.0, "effort": "moderate"}, True),
            ({"start": at("12:00"), "minutes": 10.0, "effort": "vigorous"}, True),
            ({"start": at("11:40"), "minutes": 40.0, "effort": "light"}, False),
            ({"start": at("11:00"), "minutes": 30.0, "effort": "moderate"}, True),
            ({"start": at("12:25"), "minutes": 10.0, "effort": "vigorous"}, True),  # at the peak
            ({"start": at("12:26"), "minutes": 10.0, "effort": "vigorous"}, False),  # after it
        ],
    )
    def test_exercise_from_half_an_hour_before_to_the_peak(self, activity, linked):
        values = bump(FLAT, NOON, [25, 25, 25, 25, 25, 40, 25, 25, 25, 25, 25])  # peak at 12:25
        out = find(values, activity=make_table("activity", {"kind": "row"} | activity))
        assert (out["linked_to"][0], out["linked_row"][0]) == (
            ("exercise", "activity.csv:2") if linked else ("unexplained", "")
        )

    @pytest.mark.parametrize(
        ("clock", "linked"), [("10:59", False), ("11:00", True), ("13:00", True), ("13:01", False)]
    )
    def test_stress_within_an_hour(self, clock, linked):
        feelings = make_table("feelings", {"time": at(clock), "stress": 7.0})
        assert self.link(feelings=feelings) == (("stress", "feelings.csv:2") if linked else ("unexplained", ""))

    @pytest.mark.parametrize(("stress", "linked"), [(1.0, False), (4.9, False), (5.0, True)])
    def test_from_five_of_ten_on_it_is_stress(self, stress, linked):
        feelings = make_table("feelings", {"time": at("12:00"), "stress": stress})
        assert self.link(feelings=feelings)[0] == ("stress" if linked else "unexplained")

    @pytest.mark.parametrize(("hour", "linked"), [(2, False), (3, True), (7, True), (8, False)])
    def test_early_morning_before_any_food(self, hour, linked):
        out = find(bump(FLAT, hour * 12, HIGH))
        assert out["linked_to"][0] == ("early_morning" if linked else "unexplained")

    def test_early_morning_after_food_is_the_foods(self):
        meals = make_table("meals", {"time": at("05:30"), "name": "toast"})
        assert find(bump(FLAT, 7 * 12, HIGH), meals=meals)["linked_to"][0] == "unexplained"
        assert find(bump(FLAT, 6 * 12, HIGH), meals=meals)["linked_to"][0] == "meal"

    @pytest.mark.parametrize(("clock", "linked"), [
        ("02:59", "early_morning"), ("03:00", "unexplained"), ("05:59", "unexplained"), ("07:00", "meal"),
        ("07:01", "meal;early_morning"),
    ])  # fmt: skip
    def test_food_of_the_morning_is_that_from_three_until_it_begins(self, clock, linked):
        meals = make_table("meals", {"time": at(clock), "name": "toast"})
        assert find(bump(FLAT, 7 * 12, HIGH), meals=meals)["linked_to"][0] == linked

    def test_food_of_the_evening_before_is_no_food_of_the_morning(self):
        meals = make_table("meals", {"time": at("22:00", -1), "name": "supper"})
        assert find(bump(FLAT, 5 * 12, HIGH), meals=meals)["linked_to"][0] == "early_morning"

    def test_order_and_rows_when_several_match(self):
        spans = make_spans(pd.DatetimeIndex([at("12:20")]), pd.DatetimeIndex([at("12:30")]), "noted", "exclude")
        linked = self.link(
            spans=spans,
            notes=make_table("notes", {"start": at("12:20"), "end": at("12:30"), "kind": "heat"}),
            activity=make_table(
                "activity", {"start": at("11:50"), "minutes": 30.0, "kind": "run", "effort": "vigorous"}
            ),
            meals=make_table("meals", {"time": at("11:45"), "name": "rice"}),
            feelings=make_table("feelings", {"time": at("12:10"), "stress": 8.0}),
        )
        assert linked == ("sensor;exercise;meal;stress", "notes.csv:2;activity.csv:2;meals.csv:2;feelings.csv:2")

    @pytest.mark.parametrize(("clock", "row"), [("11:01", "notes.csv:2"), ("10:59", "")])
    def test_a_note_without_an_end_stands_for_an_hour(self, clock, row):
        spans = make_spans(pd.DatetimeIndex([at("12:00")]), pd.DatetimeIndex([at("12:10")]), "noted", "exclude")
        notes = make_table("notes", {"start": at(clock), "kind": "heat"})
        assert self.link(spans=spans, notes=notes) == ("sensor", row)

    def test_a_doubtful_sensor_needs_no_row(self):
        spans = make_spans(pd.DatetimeIndex([at("12:20")]), pd.DatetimeIndex([at("12:30")]), "jump", "exclude")
        assert self.link(spans=spans) == ("sensor", "")

    def test_a_duplicate_reading_puts_nothing_in_doubt(self):
        spans = make_spans(pd.DatetimeIndex([at("12:20")]), pd.DatetimeIndex([at("12:25")]), "duplicate", "exclude")
        assert self.link(spans=spans)[0] == "unexplained"

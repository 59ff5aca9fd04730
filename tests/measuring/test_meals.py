"""Is each figure of a meal the contract's? Shapes whose answers can be worked out on paper."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.cleaning.spans import make_spans
from glucolab.clock import ZoneSpans
from glucolab.measuring.meals import measure_meal_responses
from glucolab.measuring.occasions import find_occasions, without_minor
from glucolab.record.outputs import MEAL_RESPONSES
from tests.hand_made import at, bump, make_clean, make_pair, make_table, make_trace, make_wear

NOON = 144
UP = np.linspace(0, 40, 10)  # 45 min
TRIANGLE = np.r_[UP, np.linspace(40, 0, 10)[1:]]  # back at 90 min
FLAT = np.full(576, 90.0)


def eat(clock="12:00", **columns):
    return {"time": at(clock), "name": "rice", "time_source": "written"} | columns


def respond(values, *meals, spans=None, **wear):
    """The responses of a two-day wear whose trace has these values."""
    worn = make_wear(meals=make_table("meals", *(meals or (eat(),))), **wear)
    clean, trace = make_pair(worn, values, spans)
    return measure_meal_responses(worn, clean, trace)


def one(values, *meals, **kwargs):
    return respond(values, *meals, **kwargs).iloc[0]


class TestOccasions:
    def test_rows_within_20_min_are_one_at_the_first_time_with_nutrients_added(self):
        meals = make_table(
            "meals",
            eat("12:20", name="tea", carbs_g=5.0, dish="tea"),
            eat("12:00", name="rice", carbs_g=50.0, protein_g=7.0, dish="rice"),
            eat("12:41", name="apple", carbs_g=12.0),
        )
        found = find_occasions(meals)
        assert list(found["name"]) == ["rice + tea", "apple"]
        assert list(found["time"]) == [at("12:00"), at("12:41")]
        assert list(found["carbs_g"]) == [55.0, 12.0]
        assert found["protein_g"][0] == 7.0
        assert np.isnan(found["protein_g"][1])
        assert found["fat_g"].isna().all(), "what nobody recorded is not recorded, never zero"
        assert list(found["dish"]) == ["rice + tea", "apple"], "two dishes at once are a third"
        assert list(found["line"]) == [3, 4]

    def test_a_dish_named_on_one_row_only_is_the_occasions(self):
        found = find_occasions(make_table("meals", eat("12:00", dish="rice bowl"), eat("12:10", name="water")))
        assert list(found["dish"]) == ["rice bowl"]

    def test_without_meals_there_are_none(self):
        out = respond(FLAT)
        worn = make_wear()
        clean, trace = make_pair(worn, FLAT)
        empty = measure_meal_responses(worn, clean, trace)
        assert list(empty.columns) == list(out.columns)
        assert len(empty) == 0
        assert list(out.columns) == [*MEAL_RESPONSES.names, "line", "dip_chance"]


class TestBaselineAndRise:
    def test_triangle(self):
        response = one(bump(FLAT, NOON, TRIANGLE))
        assert response["baseline_mg_dl"] == pytest.approx(90)
        assert response["rise_mg_dl"] == pytest.approx(40)
        assert response["time_to_peak_min"] == 45
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(40 * 90 / 2)
        assert response["iauc_3h_mg_dl_min"] == pytest.approx(40 * 90 / 2)
        assert response["dip_mg_dl"] == 0
        assert response["return_min"] == 85  # 40 * (1 - 40/45) = 4.4 above; five minutes before 8.9
        assert response["usable_2h"]
        assert response["usable_3h"]
        assert response["reason"] == ""

    def test_baseline_is_the_half_hour_before_without_the_moment_itself(self):
        values = FLAT.copy()
        values[NOON - 7] = 200.0  # 35 min before
        values[NOON - 6] = 84.0  # 30 min before
        values[NOON] = 150.0
        response = one(values)
        assert response["baseline_mg_dl"] == pytest.approx((84 + 5 * 90) / 6)
        assert response["rise_mg_dl"] == pytest.approx(150 - (84 + 5 * 90) / 6), "the moment itself is in the window"

    @pytest.mark.parametrize(("known", "enough"), [(1, False), (2, True)])
    def test_baseline_needs_two_values(self, known, enough):
        values = FLAT.copy()
        values[NOON - 6 : NOON - known] = np.nan
        response = one(values)
        assert ("no_baseline" not in response["reason"]) == enough
        assert np.isnan(response["baseline_mg_dl"]) != enough
        assert np.isnan(response["rise_mg_dl"]) != enough
        assert bool(response["usable_2h"]) == enough

    def test_baseline_reaches_to_the_first_point_of_the_trace(self):
        """Eaten half an hour in: 84 at the very first point and 90 at the five that follow."""
        values = FLAT.copy()
        values[0] = 84.0
        assert one(values, eat("00:30"))["baseline_mg_dl"] == pytest.approx((84 + 5 * 90) / 6)

    def test_rise_is_not_clipped(self):
        values = FLAT.copy()
        values[NOON:] = 80.0
        response = one(values)
        assert response["rise_mg_dl"] == pytest.approx(-10)
        assert np.isnan(response["time_to_peak_min"])
        assert response["iauc_2h_mg_dl_min"] == 0
        assert response["dip_mg_dl"] == pytest.approx(10)

    @pytest.mark.parametrize(("minutes", "rise"), [(120, 50.0), (125, 0.0)])
    def test_window_ends_with_120_min(self, minutes, rise):
        assert one(bump(FLAT, NOON + minutes // 5, [50]))["rise_mg_dl"] == pytest.approx(rise)

    def test_meal_between_grid_points(self):
        """12:02: baseline from 11:35 on, window to 14:00, peak at 12:45."""
        values = bump(FLAT, NOON, TRIANGLE)
        values[NOON - 6] = 150.0  # 11:30, outside
        values[NOON + 25] = 250.0  # 14:05, outside
        response = one(values, eat("12:02"))
        assert response["baseline_mg_dl"] == pytest.approx(90)
        assert response["rise_mg_dl"] == pytest.approx(40)
        assert response["time_to_peak_min"] == pytest.approx(43)

    def of_draws(self, heights, *meals):
        """Triangles of these heights at noon and at nine in the evening, a draw each."""
        worn = make_wear(meals=make_table("meals", *(meals or (eat(),))))
        clean = make_clean(worn, np.full(576, True))
        shape = bump(bump(np.zeros(576), NOON, TRIANGLE / 40), NOON + 108, TRIANGLE / 40)
        draws = 90 + np.asarray(heights, float)[:, None] * shape
        return measure_meal_responses(worn, clean, make_trace(clean, draws.mean(axis=0), draws))

    @pytest.mark.parametrize("height", [-5.0, 8.0, 40.0, 90.0])
    def test_a_sensor_adds_something_of_6_mg_dl_to_every_rise(self, height):
        """Where all else is certain the interval is that of a normal, whatever the rise; the rise itself stays."""
        response = self.of_draws(np.full(4001, height)).iloc[0]
        half, rise = stats.norm.ppf(0.95) * 6, max(height, 0)
        assert response["rise_mg_dl"] == pytest.approx(rise)
        assert response["rise_low_mg_dl"] == pytest.approx(rise - half, abs=0.01)
        assert response["rise_high_mg_dl"] == pytest.approx(rise + half, abs=0.01)
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(rise * 90 / 2)

    def test_interval_is_that_of_the_draws_and_of_what_a_sensor_adds(self):
        """Heights normal about 40 with SD 8, and an error of SD 6 that has nothing to do with them: 10 in all."""
        response = self.of_draws(stats.norm.ppf((np.arange(4001) + 0.5) / 4001, 40, 8)).iloc[0]
        assert response["rise_mg_dl"] == pytest.approx(40)
        for name, tail in (("rise_low_mg_dl", 0.05), ("rise_high_mg_dl", 0.95)):
            assert response[name] == pytest.approx(stats.norm.ppf(tail, 40, 10), abs=0.02)

    def test_what_is_added_is_one_thing_for_all_meals_of_a_wear(self):
        """Two alike by draws that differ: their intervals are the same to the last digit."""
        found = self.of_draws(np.random.default_rng(1).normal(40, 5, 40), eat(), eat("21:00"))
        assert found["rise_low_mg_dl"].nunique() == found["rise_high_mg_dl"].nunique() == 1


class TestTimeToPeak:
    @pytest.mark.parametrize(("height", "shown"), [(9.9, False), (10.0, True)])
    def test_needs_a_rise_of_10(self, height, shown):
        response = one(bump(FLAT, NOON, TRIANGLE * height / 40))
        assert np.isnan(response["time_to_peak_min"]) != shown

    def test_is_empty_while_still_climbing(self):
        climbing = bump(FLAT, NOON, np.linspace(0, 60, 40))
        assert np.isnan(one(climbing)["time_to_peak_min"])
        climbing[NOON + 24] = climbing[NOON + 23] - 0.1  # the last value of the window a little lower
        assert one(climbing)["time_to_peak_min"] == 115

    def test_is_the_first_of_equal_maxima(self):
        assert one(bump(FLAT, NOON, [0, 10, 20, 15, 20, 10, 0]))["time_to_peak_min"] == 10


class TestArea:
    def test_a_piecewise_line(self):
        """0 to 60 mg/dL in 45 min, back to 0 at 150 min: 4242.857 over 2 h, 4500 in full (computed)."""
        minutes = np.arange(0, 185, 5)
        shape = np.interp(minutes, [0, 45, 150, 185], [0, 60, 0, 0])
        response = one(bump(FLAT, NOON, shape))
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(4242.857, abs=0.01)
        assert response["iauc_3h_mg_dl_min"] == pytest.approx(4500)

    def test_a_plateau_counts_for_two_hours_and_for_three(self):
        """30 above from the meal on, for four hours and more."""
        response = one(bump(FLAT, NOON, [30.0] * 60))
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(30 * 120)
        assert response["iauc_3h_mg_dl_min"] == pytest.approx(30 * 180)

    def test_a_net_area_takes_off_what_falls_below_the_baseline(self):
        """A triangle of 40 over 90 min, 1800; then 20 below for 30 min with ramps of 5 min: 30 x 20 + 5 x 20."""
        minutes = np.arange(0, 185, 5)
        shape = np.interp(minutes, [0, 45, 90, 115, 120, 150, 155, 180], [0, 40, 0, 0, -20, -20, 0, 0])
        response = one(bump(FLAT, NOON, shape))
        assert response["net_area_3h_mg_dl_min"] == pytest.approx(1800 - 700)
        assert response["iauc_3h_mg_dl_min"] == pytest.approx(1800)

    def test_a_hole_just_before_the_meal_takes_nothing_from_its_area(self):
        values = bump(FLAT, NOON, TRIANGLE)
        values[NOON - 1] = np.nan
        assert one(values)["iauc_2h_mg_dl_min"] == pytest.approx(1800)

    def test_a_hole_after_three_hours_spoils_nothing(self):
        values = bump(FLAT, NOON, TRIANGLE)
        values[NOON + 37 : NOON + 60] = np.nan
        response = one(values)
        assert response["iauc_3h_mg_dl_min"] == pytest.approx(1800)
        assert response["dip_mg_dl"] == 0
        assert response["usable_3h"]

    def test_area_beneath_is_ignored_and_crossings_are_triangles(self):
        """+10 to -10 in 5 min crosses half-way: one triangle of 2.5 min x 10 / 2 on each side of a tooth."""
        response = one(bump(FLAT, NOON, [0, 10, -10, 0]))
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(5 * 10 / 2 + 2.5 * 10 / 2)

    def test_a_meal_between_grid_points_has_the_area_from_its_own_moment(self):
        """A rise that begins with the meal at 12:02: within the grid's resolution of the closed form."""
        minutes = np.arange(0, 200, 5) - 2
        shape = np.interp(minutes, [0, 45, 90, 200], [0, 40, 0, 0])
        response = one(bump(FLAT, NOON, shape), eat("12:02"))
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(1800, rel=0.01)

    def test_the_two_hours_begin_at_the_meal_and_not_at_the_next_grid_point(self):
        """Eaten at 12:03, at once 60 above from 12:05 on: 36 at the meal on the straight line there, then 60.

        (36 + 60) / 2 over the first five minutes and 60 over 115: 7140, where the grid's own points would give 7200.
        """
        response = one(bump(FLAT, NOON + 1, [60.0] * 30), eat("12:03"))
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(7140)

    def test_gap_over_30_min_leaves_it_empty(self):
        values = bump(FLAT, NOON, TRIANGLE)
        values[NOON + 4 : NOON + 11] = np.nan
        response = one(values)
        assert np.isnan(response["iauc_2h_mg_dl_min"])
        assert np.isnan(response["rise_mg_dl"])
        assert response["reason"] == "gap"
        assert not response["usable_2h"]
        assert not response["usable_3h"]
        assert np.isnan(response["return_min"]), "without a peak nothing comes back from it"

    @pytest.mark.parametrize(("lost", "usable"), [(4, True), (5, False)])
    def test_coverage_of_eight_tenths_is_needed(self, lost, usable):
        """24 readings stand for two hours: 4 lost leave 0.83, 5 leave 0.79."""
        worn = make_wear(meals=make_table("meals", eat()))
        values = bump(FLAT, NOON, TRIANGLE)
        known = np.full(576, True)
        known[NOON + 2 : NOON + 2 + lost] = False
        response = measure_meal_responses(
            worn, make_clean(worn, known), make_trace(make_clean(worn, known), values)
        ).iloc[0]
        assert response["coverage"] == pytest.approx(1 - lost / 24)
        assert bool(response["usable_2h"]) == usable
        assert np.isnan(response["iauc_2h_mg_dl_min"]) != usable
        assert response["reason"] == ("" if usable else "gap")

    @pytest.mark.parametrize(("lost", "usable"), [(7, True), (8, False)])
    def test_coverage_of_three_hours_is_theirs(self, lost, usable):
        """36 readings stand for three hours: 7 lost in the third leave 0.806, 8 leave 0.778; the fourth is whole."""
        worn = make_wear(meals=make_table("meals", eat()))
        known = np.full(576, True)
        known[NOON + 26 : NOON + 26 + lost] = False
        clean = make_clean(worn, known)
        response = measure_meal_responses(worn, clean, make_trace(clean, bump(FLAT, NOON, TRIANGLE))).iloc[0]
        assert response["coverage"] == 1
        assert bool(response["usable_3h"]) == usable
        assert np.isnan(response["iauc_3h_mg_dl_min"]) != usable
        assert response["reason"] == ("" if usable else "gap")

    def test_eight_tenths_exactly_are_enough(self):
        """Eaten at 12:01: four minutes of the reading at 12:00 and twenty of four others are lost, 24 of 120."""
        worn = make_wear(meals=make_table("meals", eat("12:01")))
        known = np.full(576, True)
        known[[NOON, NOON + 4, NOON + 5, NOON + 6, NOON + 7]] = False
        clean = make_clean(worn, known)
        response = measure_meal_responses(worn, clean, make_trace(clean, FLAT)).iloc[0]
        assert response["coverage"] == 0.8
        assert response["usable_2h"]

    def test_each_meal_is_covered_by_its_own_two_hours(self):
        """Three readings lost after the second of three, which begin within each other's windows."""
        worn = make_wear(meals=make_table("meals", eat("08:00"), eat("12:00"), eat("12:30")))
        known = np.full(576, True)
        known[NOON : NOON + 3] = False
        clean = make_clean(worn, known)
        responses = measure_meal_responses(worn, clean, make_trace(clean, FLAT))
        assert responses["coverage"].tolist() == pytest.approx([1.0, 0.875, 1.0])

    def test_a_hole_in_the_third_hour_spoils_three_hours_only(self):
        values = bump(FLAT, NOON, TRIANGLE)
        values[NOON + 26 : NOON + 34] = np.nan
        response = one(values)
        assert response["usable_2h"]
        assert not response["usable_3h"]
        assert response["reason"] == "gap"
        assert response["iauc_2h_mg_dl_min"] == pytest.approx(1800)
        assert np.isnan(response["iauc_3h_mg_dl_min"])
        assert np.isnan(response["net_area_3h_mg_dl_min"])
        assert np.isnan(response["dip_mg_dl"])


class TestDipAndReturn:
    @pytest.mark.parametrize(("minutes", "dip"), [(115, 0), (120, 30), (180, 30), (185, 0)])
    def test_dip_looks_from_two_to_three_hours(self, minutes, dip):
        assert one(bump(FLAT, NOON + minutes // 5, [-30]))["dip_mg_dl"] == pytest.approx(dip)

    def test_its_chance_is_the_share_of_draws_that_fall_by_ten(self):
        """Falls evenly from 8 to 12, in the third hour: 10 and more in half of them."""
        falls = np.linspace(8, 12, 400)
        draws = np.tile(FLAT, (400, 1))
        draws[:, NOON + 28 : NOON + 34] -= falls[:, None]
        worn = make_wear(meals=make_table("meals", eat()))
        clean = make_clean(worn, np.full(576, True))
        response = measure_meal_responses(worn, clean, make_trace(clean, draws.mean(axis=0), draws)).iloc[0]
        assert response["dip_chance"] == 0.5
        assert response["dip_mg_dl"] == pytest.approx(10)

    def test_return_is_the_first_quarter_of_an_hour_at_or_under_baseline_plus_5(self):
        shape = np.r_[0, 20, 40, 5, 5, 20, 6, 5, 5, 5]
        response = one(bump(FLAT, NOON, shape))
        assert response["return_min"] == 35, "ten minutes at the level, then up again, is no return"

    def test_return_is_five_above_the_baseline_and_no_more(self):
        """A quarter of an hour at 5.5, then one at 5."""
        assert one(bump(FLAT, NOON, [0, 20, 40, 5.5, 5.5, 5.5, 5, 5, 5, 5.5, 20]))["return_min"] == 30

    def test_return_does_not_count_before_the_peak(self):
        shape = np.r_[np.zeros(6), 10, 30, 10, np.zeros(10)]
        assert one(bump(FLAT, NOON, shape))["return_min"] == 45

    @pytest.mark.parametrize(("minutes", "shown"), [(225, True), (230, True), (235, False), (240, False)])
    def test_return_is_empty_where_its_quarter_of_an_hour_does_not_lie_within_240_min(self, minutes, shown):
        shape = np.r_[0, np.full(minutes // 5 - 1, 30.0)]
        response = one(bump(FLAT, NOON, shape))
        assert response["return_min"] == minutes if shown else np.isnan(response["return_min"])

    @pytest.mark.parametrize(("clock", "shown"), [("13:20", False), ("13:25", True)])
    def test_return_is_empty_from_the_next_occasion_on(self, clock, shown):
        response = one(bump(FLAT, NOON, np.r_[np.full(16, 30.0), np.zeros(20)]), eat(), eat(clock))
        assert response["return_min"] == 80 if shown else np.isnan(response["return_min"])


class TestWalkAfter:
    @pytest.mark.parametrize(
        ("activity", "walked"),
        [
            ({"start": at("12:00"), "minutes": 5.0, "kind": "walk"}, True),
            ({"start": at("12:45"), "minutes": 5.0, "kind": "walk"}, True),
            ({"start": at("12:45:01"), "minutes": 20.0, "kind": "walk"}, False),
            ({"start": at("11:59:59"), "minutes": 20.0, "kind": "walk"}, False),
            ({"start": at("12:10"), "minutes": 4.9, "kind": "walk"}, False),
            ({"start": at("12:10"), "minutes": 10.0, "kind": "Walk"}, True),
            ({"start": at("12:10"), "minutes": 10.0, "kind": "cycling", "effort": "light"}, True),
            ({"start": at("12:10"), "minutes": 10.0, "kind": "cycling", "effort": "moderate"}, False),
        ],
    )
    def test_boundaries(self, activity, walked):
        response = one(FLAT, activity=make_table("activity", activity))
        assert bool(response["walk_after"]) == walked

    def test_is_unknown_where_no_activity_is_logged(self):
        assert pd.isna(one(FLAT)["walk_after"])


class TestReasons:
    @pytest.mark.parametrize(("clock", "two", "three", "reason"), [
        ("13:59", False, False, "next_occasion"), ("14:00", True, False, "next_occasion"), ("15:00", True, True, ""),
    ])  # fmt: skip
    def test_next_occasion(self, clock, two, three, reason):
        response = one(bump(FLAT, NOON, TRIANGLE), eat(), eat(clock))
        assert (bool(response["usable_2h"]), bool(response["usable_3h"]), response["reason"]) == (two, three, reason)

    @pytest.mark.parametrize(
        ("activity", "reason"),
        [
            ({"start": at("12:30"), "minutes": 20.0, "kind": "run", "effort": "vigorous"}, "exercise"),
            ({"start": at("12:30"), "minutes": 20.0, "kind": "walk", "effort": "moderate"}, ""),
            ({"start": at("12:30"), "minutes": 20.0, "kind": "cycling", "effort": "moderate"}, "exercise"),
            ({"start": at("12:30"), "minutes": 20.0, "kind": "walk"}, ""),
            ({"start": at("12:30"), "minutes": 20.0, "kind": "yoga", "effort": "light"}, ""),
            ({"start": at("15:30"), "minutes": 20.0, "kind": "run", "effort": "vigorous"}, ""),
            ({"start": at("15:00"), "minutes": 20.0, "kind": "run", "effort": "vigorous"}, ""),
            ({"start": at("14:59"), "minutes": 20.0, "kind": "run", "effort": "vigorous"}, "exercise"),
            ({"start": at("11:00"), "minutes": 30.0, "kind": "run", "effort": "vigorous"}, ""),
            ({"start": at("11:00"), "minutes": 31.0, "kind": "run", "effort": "vigorous"}, "exercise"),
        ],
    )
    def test_exercise(self, activity, reason):
        assert one(FLAT, activity=make_table("activity", activity))["reason"] == reason

    def test_flagged_is_told_from_a_gap(self):
        values = bump(FLAT, NOON, TRIANGLE)
        values[NOON + 4 : NOON + 14] = np.nan
        spans = make_spans(pd.DatetimeIndex([at("12:20")]), pd.DatetimeIndex([at("13:10")]), "pressure", "exclude")
        assert one(values, spans=spans)["reason"] == "flagged"

    def test_a_note_that_excludes_nothing_spoils_nothing(self):
        spans = make_spans(pd.DatetimeIndex([at("12:20")]), pd.DatetimeIndex([at("13:10")]), "noted", "note")
        assert one(FLAT, spans=spans)["usable_3h"]

    @pytest.mark.parametrize(("day", "clock", "two", "three"), [
        (0, "00:29", False, False), (0, "00:30", True, True), (1, "21:55", True, False), (1, "22:01", False, False),
    ])  # fmt: skip
    def test_outside_wear(self, day, clock, two, three):
        response = one(FLAT, {"time": at(clock, day), "name": "rice", "time_source": "written"})
        assert (bool(response["usable_2h"]), bool(response["usable_3h"])) == (two, three)
        assert ("outside_wear" in response["reason"]) == (not three)

    def test_a_meal_days_before_the_wear_gets_a_row_and_a_reason(self):
        response = one(FLAT, {"time": at("12:00", -5), "name": "rice", "time_source": "written"})
        assert "outside_wear" in response["reason"]
        assert not response["usable_2h"]
        assert np.isnan(response["rise_mg_dl"])
        assert np.isnan(response["return_min"])

    @pytest.mark.parametrize(
        ("clock", "doubt"),
        [("07:59", False), ("08:00", True), ("10:00", True), ("13:59", True), ("14:00", False), ("16:00", False)],
    )
    def test_time_uncertain_near_a_change_of_zone(self, clock, doubt):
        zones = ZoneSpans(("UTC", "America/Recife"), (at("11:00"),))
        response = one(FLAT, eat(clock), zones=zones)
        assert ("time_uncertain" in response["reason"]) == doubt

    def test_several_reasons_are_all_named(self):
        run = make_table("activity", {"start": at("12:30"), "minutes": 20.0, "kind": "run", "effort": "vigorous"})
        response = one(FLAT, eat(), eat("13:00"), activity=run)
        assert response["reason"].split(";") == ["next_occasion", "exercise"]


@pytest.mark.parametrize(
    ("row", "minor"),
    [
        ({"name": "nuts", "carbs_g": 4.9}, True), ({"name": "nuts", "carbs_g": 5.0}, False),
        ({"name": "black coffee"}, True), ({"name": "porridge"}, False), ({"name": "coffee", "carbs_g": 12.0}, False),
        ({"name": "coffee", "protein_g": 8.0}, False),  # with milk, its carbohydrate not written
    ],
)  # fmt: skip
def test_under_five_grams_or_a_drink_without_nutrients_is_minor(row, minor):
    assert find_occasions(make_table("meals", eat("12:00", **row)))["minor"].tolist() == [minor]


@pytest.mark.parametrize(("name", "carbs_g", "usable"), [("coffee", 0.0, True), ("juice", 24.0, False)])
def test_a_coffee_ends_no_meals_window_and_is_not_judged_itself(name, carbs_g, usable):
    """An hour after lunch; the next meal that counts is dinner, from which the time of return is told."""
    values = bump(np.full(288, 90.0), 150, [5, 15, 30, 40, 40, 35, 28, 20, 12, 6, 3, 0])
    wear = make_wear(
        days=1, meals=make_table("meals", eat("12:30", carbs_g=60.0), eat("13:30", name=name, carbs_g=carbs_g))
    )
    clean, trace = make_pair(wear, values)
    found = measure_meal_responses(wear, clean, trace)
    assert found["usable_2h"].tolist()[0] == usable
    if usable:
        assert found["reason"].tolist() == ["", "minor"]
        assert not found["usable_2h"].iloc[1]
        assert without_minor(found)["name"].tolist() == ["rice"]
        assert found["return_min"].notna().iloc[0]
    else:
        assert found["reason"].iloc[0] == "next_occasion"


@pytest.mark.parametrize(("kind", "effort", "usable"), [("walk", "moderate", True), ("run", "moderate", False)])
def test_a_brisk_walk_makes_no_meal_unusable(kind, effort, usable):
    activity = make_table("activity", {"start": at("12:40"), "minutes": 30.0, "kind": kind, "effort": effort})
    wear = make_wear(days=1, meals=make_table("meals", eat("12:30", carbs_g=60.0)), activity=activity)
    found = measure_meal_responses(wear, *make_pair(wear, np.full(288, 90.0)))
    assert found["usable_2h"].tolist() == [usable]
    assert found["walk_after"].tolist() == [kind == "walk"]

"""Are walks found where the rule says, and nowhere else? Rows made by hand, whose answers the rule gives on paper."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.measuring.log_clock import move_log
from glucolab.measuring.meals import measure_meal_responses
from glucolab.measuring.walks import add_movement, tabulate_walks
from tests.hand_made import at, make_pair, make_table, make_wear
from tests.measuring.test_movement import wrist

IDLE = np.zeros(1440)


def walk(*spans: tuple[str, int, float], idle: np.ndarray = IDLE) -> np.ndarray:
    """Steps of each minute of a day, with walks of so many minutes at so many a minute."""
    steps = idle.copy()
    for clock, minutes, cadence in spans:
        first = round((at(clock) - at("00:00")).total_seconds() / 60)
        steps[first : first + minutes] = cadence
    return steps


def quarters(steps: np.ndarray) -> np.ndarray:
    return steps.reshape(-1, 15).sum(axis=1)


def find(movement: pd.DataFrame, *activity: dict) -> pd.DataFrame:
    return add_movement(make_wear(movement=movement, activity=make_table("activity", *activity))).found_walks


def logged(clock: str, minutes: float = 20.0, kind: str = "walk") -> dict:
    return {"start": at(clock), "minutes": minutes, "kind": kind}


class TestByTheMinute:
    @pytest.mark.parametrize(
        ("minutes", "cadence", "effort"),
        [
            (5, 80.0, "light"), (20, 99.0, "light"), (20, 100.0, "moderate"), (20, 139.0, "moderate"),
            (4, 110.0, None), (20, 79.0, None), (20, 140.0, None), (20, 160.0, None),
        ],
    )  # fmt: skip
    def test_five_minutes_at_eighty_and_under_a_run(self, minutes, cadence, effort):
        found = find(wrist(walk(("12:30", minutes, cadence))))
        if effort is None:
            assert found.empty
            return
        assert found["start"].tolist() == [at("12:30")]
        assert found["minutes"].tolist() == [minutes]
        assert found["steps"].tolist() == [minutes * cadence]
        assert found["effort"].tolist() == [effort]
        assert found["kind"].tolist() == ["walk"]
        assert found.index.tolist() == [752], "line of 12:30, a header and 750 minutes after midnight"

    def test_a_pause_of_a_minute_belongs_to_the_walk_and_two_do_not(self):
        one = find(wrist(walk(("12:30", 6, 100.0), ("12:37", 6, 100.0))))
        assert one["minutes"].tolist() == [13]
        assert len(find(wrist(walk(("12:30", 6, 100.0), ("12:38", 6, 100.0))))) == 2

    def test_chores_and_errands_are_none(self):
        steps = np.tile(np.r_[np.full(4, 100.0), np.zeros(2), np.full(30, 60.0)], 40)
        assert find(wrist(steps)).empty

    def test_a_heart_rate_alone_and_energy_alone_make_none(self):
        assert find(wrist(IDLE, heart_rate_bpm=150.0, mets=4.0)).empty
        assert find(wrist(np.full(1440, np.nan), heart_rate_bpm=150.0, mets=4.0)).empty

    def test_what_takes_vigorous_energy_is_no_walk(self):
        steps = walk(("12:30", 20, 120.0))
        for mets, count in ((5.9, 1), (6.0, 0)):
            assert len(find(wrist(steps, mets=np.where(steps > 0, mets, 1.0)))) == count


class TestByTheQuarter:
    def test_a_walk_that_fills_its_quarters_is_found_where_it_was(self):
        found = find(wrist(quarters(walk(("12:30", 30, 100.0))), 15))
        assert found["start"].tolist() == [at("12:30")]
        assert found["minutes"].tolist() == [30]
        assert found["effort"].isna().all()

    def test_its_beginning_and_end_lie_in_the_quarters_beside(self):
        """25 min from 12:20: 1,000 steps in the first quarter, 1,500 in the next; both walked whole at 100 a minute."""
        found = find(wrist(quarters(walk(("12:20", 25, 100.0))), 15))
        assert found["start"].tolist() == [at("12:20")]
        assert found["minutes"].tolist() == [25]

    def test_in_a_single_quarter_it_is_put_in_the_middle(self):
        found = find(wrist(quarters(walk(("12:31", 9, 100.0))), 15))
        assert found["start"].tolist() == [at("12:33")]
        assert found["minutes"].tolist() == [9]

    def test_short_ones_are_missed_and_so_are_rows_of_an_hour(self):
        assert find(wrist(quarters(walk(("12:30", 7, 100.0))), 15)).empty
        assert find(wrist(walk(("12:00", 60, 100.0)).reshape(-1, 60).sum(axis=1), 60)).empty

    @pytest.mark.parametrize("offset", range(15))
    def test_a_quarter_of_an_hour_at_a_hundred_and_ten_is_found_wherever_it_begins(self, offset):
        found = find(wrist(quarters(walk((f"12:{15 + offset}", 15, 110.0))), 15))
        assert len(found) == 1
        assert abs((found["start"].iloc[0] - at(f"12:{15 + offset}")).total_seconds()) <= 4 * 60


class TestBesideTheLog:
    @pytest.mark.parametrize(
        ("activity", "count"),
        [
            (logged("12:30"), 0), (logged("12:25"), 0), (logged("12:00", 20), 1), (logged("12:12", 10), 0),
            (logged("13:00"), 1), (logged("12:59"), 0), (logged("12:00", 60, "run"), 0), (logged("18:00"), 1),
        ],
    )  # fmt: skip
    def test_what_is_logged_within_ten_minutes_is_not_found_again(self, activity, count):
        assert len(find(wrist(walk(("12:30", 20, 100.0))), activity)) == count

    def test_the_table_of_walks_says_which_is_which(self):
        movement = wrist(walk(("12:30", 20, 100.0), ("18:00", 10, 90.0)))
        activity = make_table("activity", logged("18:00", 12.0), logged("08:00", 30.0, "run"))
        table = tabulate_walks(add_movement(make_wear(movement=movement, activity=activity)))
        assert table["source"].tolist() == ["found", "logged"]
        assert table["row"].tolist() == ["movement.csv:752", "activity.csv:2"]
        assert table["minutes"].tolist() == [20, 12]

    def test_a_log_moved_to_the_right_clock_meets_its_walks_again(self):
        """By a clock 60 min ahead the logged walk stands beside none; moved, it is the one that was found."""
        movement, activity = wrist(walk(("12:30", 20, 100.0))), make_table("activity", logged("13:30"))
        wear = make_wear(movement=movement, activity=activity)
        assert len(add_movement(wear).found_walks) == 1
        assert add_movement(move_log(wear, 60.0)).found_walks.empty


class TestAfterMeals:
    def respond(self, steps, *activity, step_min=1.0):
        meals = make_table("meals", {"time": at("12:00"), "name": "rice"}, {"time": at("18:00"), "name": "soup"})
        tables = {"activity": make_table("activity", *activity)} if activity else {}
        wear = add_movement(make_wear(meals=meals, movement=wrist(steps, step_min), **tables))
        return measure_meal_responses(wear, *make_pair(wear, np.full(576, 90.0)))

    def test_a_found_walk_counts_as_a_logged_one_and_is_marked(self):
        rows = self.respond(walk(("12:45", 10, 100.0)), logged("18:20"))
        assert rows["walk_after"].tolist() == [True, True]
        assert rows["walk_source"].tolist() == ["found", "logged"]

    def test_a_later_one_does_not(self):
        rows = self.respond(walk(("12:46", 10, 100.0)))
        assert rows["walk_after"].tolist() == [False, False]
        assert rows["walk_source"].tolist() == ["", ""]

    def test_no_walk_is_said_only_where_the_wrist_would_have_shown_it(self):
        steps = walk(("12:10", 10, 100.0))
        steps[18 * 60 + 20 : 18 * 60 + 40] = np.nan
        assert self.respond(steps)["walk_after"].tolist() == [True, pd.NA]
        assert self.respond(steps, logged("20:00"))["walk_after"].tolist() == [True, False]
        assert self.respond(walk().reshape(-1, 60).sum(axis=1), step_min=60)["walk_after"].isna().all()

    def test_a_found_walk_is_no_exercise_and_makes_no_meal_unusable(self):
        rows = self.respond(walk(("12:20", 40, 125.0)))
        assert not rows["reason"].str.contains("exercise").any()

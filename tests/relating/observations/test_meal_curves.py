"""Are the curves after eatings, and the hours of a day, what the trace shows? Does a mean stop where most lines do?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.clock import ZoneSpans
from glucolab.relating.observations.meal_curves import average_eatings, gather_meal_curves, profile_day
from tests.hand_made import START, UTC, at, make_pair, make_wear


def eatings(*curves):
    return pd.concat(
        [
            pd.DataFrame({"dish": "soup", "time": i, "minutes": np.arange(0, 20, 5), "above_mg_dl": curve})
            for i, curve in enumerate(curves)
        ]
    )


def test_where_one_of_two_lines_ends_their_mean_ends_and_does_not_jump():
    mean = average_eatings(eatings([0.0, 10.0, 20.0, 30.0], [0.0, 30.0, np.nan, np.nan]))
    assert mean["minutes"].tolist() == [0, 5]
    assert mean["above_mg_dl"].tolist() == [0.0, 20.0]


def test_one_line_of_four_may_be_missing():
    mean = average_eatings(eatings([0.0] * 4, [4.0] * 4, [8.0] * 4, [0.0, np.nan, np.nan, np.nan]))
    assert mean["minutes"].tolist() == [0, 5, 10, 15]
    assert mean["above_mg_dl"].tolist() == [3.0, 4.0, 4.0, 4.0]


def test_a_curve_is_the_trace_from_half_an_hour_before_to_three_hours_after_from_its_baseline():
    """Glucose rises by 1 mg/dL a grid point all day; eaten at 12:02, between two points, from a baseline of 40."""
    _, trace = make_pair(make_wear(days=1), np.arange(288.0))
    eaten = pd.DataFrame(
        {"dish": ["soup", "soup", "rice"], "name": "", "usable_2h": pd.array([True, False, True], dtype="boolean"),
         "time": [at("12:02"), at("15:00"), at("18:00")], "baseline_mg_dl": 40.0}
    )  # fmt: skip
    curve = gather_meal_curves(trace, eaten, ["soup"])
    assert curve["minutes"].tolist() == list(range(-30, 181, 5))
    assert set(curve["dish"]) == {"soup"}
    assert set(curve["time"]) == {at("12:02")}
    assert curve["above_mg_dl"].to_numpy() == pytest.approx((144.4 + np.arange(-6, 37)) - 40)
    assert not len(gather_meal_curves(trace, eaten, ["tea"]))


def test_before_and_after_the_wear_a_curve_is_blank():
    _, trace = make_pair(make_wear(days=1), np.full(288, 100.0))
    eaten = pd.DataFrame({"dish": ["soup"], "name": "", "usable_2h": pd.array([True], dtype="boolean"),
                          "time": [at("00:10")], "baseline_mg_dl": 100.0})  # fmt: skip
    curve = gather_meal_curves(trace, eaten, ["soup"])
    assert curve["minutes"][curve["above_mg_dl"].isna()].tolist() == [-30, -25, -20, -15]


class TestProfile:
    def profile(self, levels, hole=None):
        values = np.repeat(np.asarray(levels, dtype=float), 288)
        if hole is not None:
            values[hole] = np.nan
        _, trace = make_pair(make_wear(days=len(levels)), values)
        return profile_day(trace, UTC)

    def test_a_half_hours_mean_is_as_unsure_as_its_days_differ(self):
        found = self.profile([90.0, 100.0, 104.0, 110.0])
        assert found["hour"].tolist() == (np.arange(48) / 2 + 0.25).tolist()
        assert found["mean_mg_dl"].to_numpy() == pytest.approx(np.full(48, 101.0))
        half = stats.t.ppf(0.95, 3) * np.std([90, 100, 104, 110], ddof=1) / 2
        assert found["half_mg_dl"].to_numpy() == pytest.approx(np.full(48, half))
        assert set(found["days"]) == {4}

    def test_days_are_those_of_the_clocks_where_it_was_worn(self):
        """Three days from midnight in Kathmandu, 18:15 UTC; UTC's midnight lies within its half hour from 05:30."""
        midnight = START - pd.Timedelta(hours=5, minutes=45)
        _, trace = make_pair(make_wear(days=3, start=midnight), np.repeat([90.0, 100.0, 110.0], 288))
        found = profile_day(trace, ZoneSpans(("Asia/Kathmandu",)))
        assert set(found["days"]) == {3}
        assert found["mean_mg_dl"].to_numpy() == pytest.approx(np.full(48, 100.0))

    def test_two_days_are_too_few_and_three_are_not(self):
        assert self.profile([90.0, 100.0])["mean_mg_dl"].isna().all()
        found = self.profile([90.0, 100.0, 110.0], hole=slice(0, 6))
        assert found["mean_mg_dl"].isna().tolist() == [True] + [False] * 47
        assert found["days"].tolist() == [2] + [3] * 47

"""Does each feeling stand beside the right meal and the right slope?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.measuring.energy import measure_energy
from glucolab.measuring.meals import measure_meal_responses
from glucolab.record.outputs import ENERGY
from tests.hand_made import at, bump, make_pair, make_table, make_wear

FLAT = np.full(576, 90.0)


def energy(values, *feelings, **wear):
    worn = make_wear(feelings=make_table("feelings", *feelings), **wear)
    clean, trace = make_pair(worn, values)
    return measure_energy(worn, measure_meal_responses(worn, clean, trace), trace)


def feel(clock, day=0, **columns):
    return {"time": at(clock, day), "energy": 5.0} | columns


MEALS = make_table("meals", {"time": at("12:00"), "name": "rice"}, {"time": at("16:00"), "name": "cake"})
EATEN = bump(
    bump(FLAT, 144, np.r_[np.linspace(0, 40, 10), np.linspace(40, 0, 10)[1:], np.zeros(6), -12.0, -12.0]),
    192,
    [0, 5, 10, 5],
)


def test_the_last_occasion_before_counts():
    out = energy(EATEN, feel("15:59", energy=4.0, hunger=7.0), feel("16:00"), feel("17:30"), meals=MEALS)
    assert list(out.columns) == ENERGY.names
    assert out["minutes_since_occasion"].tolist() == [239, 0, 90]
    assert out["rise_mg_dl"].tolist() == pytest.approx([40, 10, 10])
    assert out["dip_mg_dl"].tolist() == pytest.approx([12, 0, 0])
    assert out["energy"][0] == 4
    assert out["hunger"][0] == 7
    assert np.isnan(out["focus"][0])


def test_an_occasion_more_than_six_hours_back_is_not_the_last_meals_doing():
    out = energy(EATEN, feel("22:00"), feel("22:01"), feel("11:59"), meals=MEALS)
    assert out["time"].is_monotonic_increasing
    assert out["minutes_since_occasion"].isna().tolist() == [True, False, True]
    assert out["rise_mg_dl"].isna().tolist() == [True, False, True]


def test_slope_is_that_of_the_half_hour_before():
    values = FLAT + np.r_[np.zeros(144), np.arange(432) * 2.5]  # 0.5 mg/dL per min from noon on
    out = energy(values, feel("11:30"), feel("12:30"), feel("00:10"))
    assert np.isnan(out["slope_mg_dl_min"][0]), "half an hour before does not exist yet"
    assert out["slope_mg_dl_min"].tolist()[1:] == pytest.approx([0, 0.5])


def test_the_first_slope_is_half_an_hour_in_and_the_last_at_the_last_point():
    """Two days: the first point is 00:00, the last 23:55 of the second."""
    values = 90 + np.arange(576) * 2.5
    out = energy(values, feel("00:29"), feel("00:30"), feel("23:59", 1), feel("00:00", 2))
    assert out["slope_mg_dl_min"].isna().tolist() == [True, False, False, True]
    assert out["slope_mg_dl_min"].dropna().tolist() == pytest.approx([0.5, 0.5])


def test_no_slope_across_a_gap():
    values = FLAT.copy()
    values[150:160] = np.nan
    assert energy(values, feel("13:00"), feel("13:50"))["slope_mg_dl_min"].isna().tolist() == [True, False]


def test_without_meals_or_feelings():
    assert energy(FLAT, feel("12:00"))["minutes_since_occasion"].isna().all()
    none = energy(FLAT)
    assert len(none) == 0
    assert list(none.columns) == ENERGY.names


def test_times_keep_their_type():
    assert energy(FLAT, feel("12:00"))["time"].dtype == pd.DatetimeTZDtype("us", "UTC")

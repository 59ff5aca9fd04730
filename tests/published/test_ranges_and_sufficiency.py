"""Are minutes in range, events and sufficiency counted as the consensus papers count them?

Danne et al., Diabetes Care 2017;40:1631 (range 70-140 mg/dL, events of 15 min or more); Battelino et al., Diabetes
Care 2019;42:1593 (70 % of the readings of 14 days); Battelino et al., Lancet Diabetes Endocrinol 2023;11:42 (an
event ends after 15 min back; details from memory). Counts and closed forms are computed.
"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.cleaning.clean import clean_wear
from glucolab.clock import days_between
from glucolab.measuring.daily import measure_daily
from glucolab.measuring.excursions import find_runs, measure_excursions
from glucolab.measuring.nights import find_nights
from tests.hand_made import UTC, make_glucose, make_pair, make_times, make_wear


def daily_of(values, **wear):
    worn = make_wear(days=len(values) / 288, **wear)
    clean, trace = make_pair(worn, values)
    days = days_between(worn.start, worn.end, UTC)
    return measure_daily(
        worn, clean, trace, days, find_nights(worn, days), measure_excursions(worn, clean, trace), 70, 140
    )


def test_time_in_range_of_a_sine():
    """100 + 60 sin over a day: 26.772 % above 140, 33.333 % below 70, 39.895 % between (computed)."""
    out = daily_of(100 + 60 * np.sin(2 * np.pi * np.arange(576) / 288))
    for name, percent in (("minutes_above", 26.772), ("minutes_below", 33.333), ("minutes_in_range", 39.895)):
        assert out[name].to_numpy() == pytest.approx(percent / 100 * 1440, abs=10), name
    assert out[["minutes_above", "minutes_below", "minutes_in_range"]].sum(axis=1).tolist() == [1440, 1440]


def test_spread_of_a_sine():
    """100 + 20 sin: SD 20 / sqrt 2 = 14.142, and the same in percent of the mean (computed)."""
    out = daily_of(100 + 20 * np.sin(2 * np.pi * np.arange(288) / 288))
    assert out["sd_mg_dl"][0] == pytest.approx(14.142, abs=0.03)
    assert out["cv_percent"][0] == pytest.approx(14.142, abs=0.03)


@pytest.mark.parametrize(("readings", "events"), [(2, 0), (3, 1), (4, 1)])
def test_an_event_of_three_readings(readings, events):
    """Three readings span ten minutes between stamps and stand for fifteen (computed)."""
    values = np.full(60, 100.0)
    values[20 : 20 + readings] = 130.0
    first, last = find_runs(values, 120.0)
    assert len(first) == events
    assert [b - a for a, b in zip(first, last, strict=True)] == [readings] * events


def worn_with(readings: int, interval_min: float):
    """A 14-day wear that kept the given number of readings, the rest lost at the end of each day."""
    per_day = round(1440 / interval_min)
    times = make_times(14 * per_day, step_min=interval_min)
    kept = np.sort(np.argsort(np.arange(14 * per_day) % per_day, kind="stable")[:readings])
    values = 100 + 10 * np.sin(2 * np.pi * np.arange(len(times)) * interval_min / 400)
    return clean_wear(make_wear(days=14, interval_min=interval_min, glucose=make_glucose(times[kept], values[kept])))


@pytest.mark.parametrize(
    ("interval_min", "readings", "enough"),
    [
        (5.0, 2822, False),
        (5.0, 2823, True),
        (15.0, 940, False),
        (15.0, 941, True),
        (1.0, 14111, False),
        (1.0, 14112, True),
    ],
)
def test_seven_tenths_of_fourteen_days(interval_min, readings, enough):
    """4032 five-minute readings, of which 2823 are 70 %; 1344 and 941 at 15 min; 20160 and 14112 at 1 min."""
    clean = worn_with(readings, interval_min)
    assert clean.coverage == pytest.approx(readings * interval_min / (14 * 1440))
    assert (clean.coverage >= 0.7 - 1e-9) == enough


def test_a_day_needs_seven_tenths_and_half_of_each_quarter():
    """202 of 288 readings; 36 of 72."""
    values = np.full(4 * 288, 100.0)
    values[np.r_[10:38, 82:110, 154:184]] = np.nan  # 86 lost, none of the quarters under half
    values[288 + np.r_[10:38, 82:110, 154:185]] = np.nan  # 87 lost
    values[576 + np.r_[10:46]] = np.nan  # half a quarter
    values[864 + np.r_[10:47]] = np.nan  # more than half a quarter
    out = daily_of(values)
    assert out["enough"].tolist() == [True, False, True, False]
    assert out["mean_mg_dl"].isna().tolist() == [False, True, False, True], "empty, never zero"
    assert out["minutes_in_range"].isna().tolist() == [False, True, False, True]

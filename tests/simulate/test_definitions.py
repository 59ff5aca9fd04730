"""Does the truth follow the contract's definitions? Against closed forms and hand counts."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.simulate.definitions import (
    area_above,
    count_excursions,
    find_true_occasions,
    measure_responses,
    minutes_per_day,
)


def test_area_of_a_triangle_rise():
    """Rise 0 to 60 mg/dL in 45 min, fall to 0 at 150 min: 4242.857 mg/dL min in two hours (references.md 5.2)."""
    t = np.arange(-60, 240)
    curve = 90 + np.interp(t, [0, 45, 150], [0, 60, 0])
    found = measure_responses(curve, np.array([60.0])).iloc[0]
    assert found["iauc_2h_mg_dl_min"] == pytest.approx(4242.857, abs=0.01)
    assert found["iauc_3h_mg_dl_min"] == pytest.approx(4500, abs=0.01)
    assert (found["rise_mg_dl"], found["time_to_peak_min"], found["dip_mg_dl"]) == (60, 45, 0)


def test_area_takes_a_triangle_at_a_crossing():
    assert area_above(np.array([[-1.0, 3.0]]))[0] == pytest.approx(0.5 * 3 * 0.75)
    assert area_above(np.array([[-2.0, -1.0]]))[0] == 0


def test_a_small_or_still_climbing_rise_has_no_time_to_peak():
    climbing = 90 + np.concatenate([np.zeros(60), np.arange(200)])
    small = 90 + np.interp(np.arange(260), [60, 100, 140], [0, 9, 0])
    assert np.isnan(measure_responses(climbing, np.array([60.0]))["time_to_peak_min"][0])
    assert np.isnan(measure_responses(small, np.array([60.0]))["time_to_peak_min"][0])


def test_dip_is_baseline_minus_the_lowest_from_two_to_three_hours():
    curve = np.full(300, 95.0)
    curve[60 + 150] = 80.0
    assert measure_responses(curve, np.array([60.0]))["dip_mg_dl"][0] == 15


def test_minutes_in_range_of_a_sine():
    """100 + 60 sin: 26.772 % above 140, 33.333 % below 70, 39.895 % between (references.md 2.4, closed form)."""
    g = 100 + 60 * np.sin(2 * np.pi * np.arange(0, 1440, 0.1) / 1440)
    below, within, above = minutes_per_day(g, 70, 140)
    assert above / 14.4 == pytest.approx(26.772, abs=0.02)
    assert below / 14.4 == pytest.approx(33.333, abs=0.02)
    assert within / 14.4 == pytest.approx(39.895, abs=0.03)


@pytest.mark.parametrize(
    ("spans", "count"),
    [([(100, 114)], 0), ([(100, 115)], 1), ([(100, 120), (134, 150)], 1), ([(100, 120), (135, 155)], 2)],
)
def test_excursions_last_and_lie_apart_fifteen_minutes(spans, count):
    g = np.full(2000, 100.0)
    for a, b in spans:
        g[a:b] = 120
    assert count_excursions(g) == count


def test_meals_within_twenty_minutes_are_one_occasion():
    times = pd.Series(pd.to_datetime(["2026-01-01T08:00Z", "2026-01-01T08:20Z", "2026-01-01T08:41Z"]))
    assert list(find_true_occasions(times)) == [0, 0, 1]

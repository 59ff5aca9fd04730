"""Is each sensor set beside its own finger-sticks, with intervals that hold, and silence where there are too few?"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from glucolab.record.study_outputs import CHECK_AGREEMENT
from glucolab.relating.comparing.agreement import (
    LEAST_FOR_LIMITS,
    LEAST_FOR_MEAN,
    compare_sensor_with_checks,
    measure_agreement,
)


def worn(reading, check, name="winter", source="capillary"):
    """A wear of which only the pairs are looked at."""
    pairs = pd.DataFrame({"reading_mg_dl": np.asarray(reading, float), "check_mg_dl": np.asarray(check, float)})
    pairs["source"] = pd.Series(source, index=pairs.index, dtype="str")
    wear = SimpleNamespace(name=name, sensor_model="model A", meter="meter 1")
    return SimpleNamespace(wear=wear, trace=SimpleNamespace(checks=pairs))


def drawn(rng, n, bias=8.0, sd=10.0, slope=0.0):
    blood = rng.normal(100, 15, n)
    return worn(blood + bias + slope * (blood - 100) + rng.normal(0, sd, n), blood)


def test_intervals_of_mean_and_limits_hold():
    """1000 wears of eight finger-sticks, normal differences: 0.90 promised, three standard errors are 0.03."""
    rng = np.random.default_rng(0)
    held = []
    for _ in range(1000):
        found = measure_agreement(rng.normal(8, 10, 8), np.zeros(8))
        low, high = found.limit_low_ends, found.limit_high_ends
        held.append([found.low < 8 < found.high, low[0] < 8 - 19.6 < low[1], high[0] < 8 + 19.6 < high[1]])
    assert np.mean(held, axis=0) == pytest.approx([0.9, 0.9, 0.9], abs=0.03)


def test_limits_hold_most_single_differences():
    """Of many pairs 95 in 100, the definition."""
    rng = np.random.default_rng(1)
    found = measure_agreement(rng.normal(8, 10, 20_000), np.zeros(20_000))
    fresh = rng.normal(8, 10, 20_000)
    assert np.mean((fresh > found.limit_low) & (fresh < found.limit_high)) == pytest.approx(0.95, abs=0.01)


def test_a_slope_is_seldom_told_where_there_is_none_and_found_where_it_is_steep():
    rng = np.random.default_rng(2)
    none = [compare_sensor_with_checks([drawn(rng, 12) for _ in range(3)])["slope_told"].any() for _ in range(200)]
    assert np.mean(none) <= 0.1
    noisy_meter = [
        compare_sensor_with_checks([worn(one.trace.checks["check_mg_dl"], one.trace.checks["reading_mg_dl"])])
        for one in (drawn(rng, 12) for _ in range(200))
    ]
    assert np.mean([table["slope_told"].iloc[0] for table in noisy_meter]) <= 0.1
    steep = [compare_sensor_with_checks([drawn(rng, 12, sd=3, slope=0.5)])["slope_told"].iloc[0] for _ in range(50)]
    assert np.mean(steep) > 0.8


def test_few_finger_sticks_are_counted_and_not_judged():
    rng = np.random.default_rng(3)
    wears = [drawn(rng, n) for n in (0, LEAST_FOR_MEAN - 1, LEAST_FOR_MEAN, LEAST_FOR_LIMITS - 1, LEAST_FOR_LIMITS)]
    table = compare_sensor_with_checks(wears)
    assert list(table.columns) == CHECK_AGREEMENT.names
    assert table["n"].tolist() == [0, 2, 3, 7, 8]
    assert table["difference_mg_dl"].notna().tolist() == [False, False, True, True, True]
    assert table["limit_low_mg_dl"].notna().tolist() == [False, False, False, False, True]
    assert table["slope_told"].notna().tolist() == [False, False, False, False, True]


def test_venous_values_are_left_aside():
    one = worn([100, 110, 120, 300], [95, 104, 118, 90])
    one.trace.checks["source"] = pd.Series(["capillary", "capillary", None, "venous"], dtype="str")
    table = compare_sensor_with_checks([one])
    assert table["n"].iloc[0] == 3
    assert table["difference_mg_dl"].iloc[0] == pytest.approx((5 + 6 + 2) / 3)


def test_finger_sticks_at_one_level_and_without_error_have_no_slope():
    same = compare_sensor_with_checks([worn([105] * 9, [100] * 9)]).iloc[0]
    assert same["difference_mg_dl"] == 5
    assert pd.isna(same["slope"])
    assert compare_sensor_with_checks([]).empty


def test_one_pair_cannot_be_judged():
    with pytest.raises(ValueError, match="two pairs"):
        measure_agreement(np.array([100.0]), np.array([90.0]))

"""Is each sensor set beside its own finger-sticks, with intervals that hold, and silence where there are too few?"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.record.study_outputs import CHECK_AGREEMENT
from glucolab.relating.comparing.agreement import (
    LEAST_FOR_LIMITS,
    LEAST_FOR_MEAN,
    _slope,
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


LEVELS = np.array([70.0, 80, 90, 95, 105, 110, 120, 140, 150])
NOISE = np.array([3.0, -5, 1, 6, -2, -6, 4, 2, -3])


@pytest.mark.parametrize("stretch", [0.3, 0.1, -0.02, -0.3])
def test_the_slope_is_least_squares_on_the_mean_of_both(stretch):
    """Its interval is Student's of two degrees less than pairs; p is that on the one whose errors pull it to nought."""
    reading = LEVELS + 5 + stretch * (LEVELS - 100) + NOISE
    on_mean = stats.linregress((reading + LEVELS) / 2, reading - LEVELS)
    half = stats.t.ppf(0.95, 7) * on_mean.stderr
    row = compare_sensor_with_checks([worn(reading, LEVELS)]).iloc[0]
    expected = on_mean.slope, on_mean.slope - half, on_mean.slope + half
    assert tuple(row[["slope", "slope_low", "slope_high"]]) == pytest.approx(expected, rel=1e-9)
    safe = stats.linregress(LEVELS if on_mean.slope > 0 else reading, reading - LEVELS)
    p_value = min(1.0, 2 * stats.t.sf(np.sign(on_mean.slope) * safe.slope / safe.stderr, 7))
    assert _slope(reading, LEVELS)["p_value"] == pytest.approx(p_value, rel=1e-9)


def noise_without_line():
    """What a line on the levels leaves of the noise."""
    fit = stats.linregress(LEVELS, NOISE)
    return NOISE - fit.intercept - fit.slope * LEVELS


def test_a_slope_that_the_safe_side_turns_round_is_no_evidence_at_all():
    """Noise of the sensor alone makes a slope on the mean; on the finger-stick it falls: p is 1, and never more."""
    reading = LEVELS - 0.005 * (LEVELS - 100) + noise_without_line()
    assert stats.linregress((reading + LEVELS) / 2, reading - LEVELS).slope > 0
    assert stats.linregress(LEVELS, reading - LEVELS).slope < 0
    assert _slope(reading, LEVELS)["p_value"] == 1.0


def with_p(p_value, falls=False):
    """A wear whose slope has this p: noise without a line of its own, and as much of one as p asks for."""
    noise, away = noise_without_line(), LEVELS - LEVELS.mean()
    line = stats.t.isf(p_value / 2, 7) * np.sqrt(noise @ noise / 7 / (away @ away)) * away
    return worn(LEVELS, LEVELS + line - noise) if falls else worn(LEVELS + line + noise, LEVELS)


@pytest.mark.parametrize("falls", [False, True])
def test_a_slope_is_told_below_a_p_of_a_tenth_shared_among_the_wears_asked(falls):
    """Wears with too few finger-sticks are not asked, and share nothing."""

    def told(*p_values, more=()):
        table = compare_sensor_with_checks([*(with_p(p, falls) for p in p_values), *more])
        return table["slope_told"].dropna().tolist()

    assert told(0.0999) == [True]
    assert told(0.1001) == [False]
    assert told(0.0499, 0.0501) == [True, False]
    assert told(0.0999, more=[worn(LEVELS[:7], LEVELS[:7] + 1)]) == [True]


def test_a_sensor_that_is_off_by_one_amount_has_no_slope():
    """Nor an interval of it: the same 5 mg/dL at nine levels whose mean is a whole number leave nothing to judge by."""
    row = compare_sensor_with_checks([worn(np.arange(85.0, 130, 5), np.arange(80.0, 125, 5))]).iloc[0]
    assert row["difference_mg_dl"] == 5
    assert row[["slope", "slope_low", "slope_high", "slope_told"]].isna().all()


def test_an_offset_that_rounding_alone_bends_has_no_slope_either():
    """Readings 5 higher than each of nine levels whose mean is no whole number of binary places."""
    row = compare_sensor_with_checks([worn(LEVELS + 5, LEVELS)]).iloc[0]
    assert row["difference_mg_dl"] == 5
    assert row[["slope", "slope_low", "slope_high", "slope_told"]].isna().all()


def test_a_sensor_that_stretches_without_any_error_is_not_told_by_rounding():
    """Readings of half as much again lie on a line; what is left over about it is rounding, or nothing."""
    levels = np.array([148.0, 44, 168, 156, 68, 136, 120, 44, 188])
    assert compare_sensor_with_checks([worn(1.5 * levels, levels)])["slope_told"].fillna(False).tolist() == [False]


def test_two_pairs_are_the_fewest_that_have_an_interval():
    """Differences 2 and 6: mean 4, SD √8, half-width t of one degree (6.314) times √8 / √2."""
    found = measure_agreement(np.array([102.0, 116.0]), np.array([100.0, 110.0]))
    assert (found.n, found.difference, found.sd) == (2, 4.0, pytest.approx(np.sqrt(8)))
    assert found.high - 4 == pytest.approx(2 * stats.t.ppf(0.95, 1), rel=1e-9)
    assert 4 - found.low == pytest.approx(2 * stats.t.ppf(0.95, 1), rel=1e-9)

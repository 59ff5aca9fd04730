"""Are a wear's figures as wide as their errors? Traces made by hand, whose variances are written out.

Matrices and distributions are scipy's and numpy's; no formula is the code's own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.linalg import toeplitz

from glucolab.clock import days_between
from glucolab.measuring import days_apart
from glucolab.measuring.excursions import measure_excursions
from glucolab.measuring.meals import measure_meal_responses
from glucolab.measuring.nights import find_nights
from glucolab.measuring.whole_wear import measure_figures
from tests.hand_made import at, bump, make_clean, make_table, make_trace, make_wear

DRAWS = stats.norm.ppf((np.arange(400) + 0.5) / 400)
"""Four hundred draws of one normal, in order."""
PRIOR_FRACTION, PRIOR_DF, RHO = 0.06, 10.0, 0.35
"""Of days' means: what the code states as assumed."""


def figures(values, draws=None, sensor_draws=None, responses=None, low=70.0, high=140.0, start=None, checks=0, **wear):
    worn = make_wear(days=len(values) / 288, **({"start": start} if start else {}), **wear)
    clean = make_clean(worn, ~np.isnan(values))
    trace = make_trace(clean, values, draws)
    if sensor_draws is not None:
        trace = replace(trace, sensor_draws=sensor_draws)
    if checks:
        trace = replace(trace, checks=trace.checks.reindex(range(checks)))
    days = days_between(worn.start, worn.end, worn.zones)
    excursions = measure_excursions(worn, clean, trace)
    if responses is None:
        responses = measure_meal_responses(worn, clean, trace)
    nights = find_nights(worn, days)
    return measure_figures(
        worn, clean, trace, days=days, nights=nights, ill=np.zeros(len(days.dates), bool), excursions=excursions,
        responses=responses, low_mg_dl=low, high_mg_dl=high,
    )  # fmt: skip


def flat(days: float, level: float = 100.0) -> np.ndarray:
    return np.full(round(days * 288), level)


def days_variance(means: np.ndarray, days: float, rho: float) -> tuple[float, float]:
    """Of the mean of autocorrelated days, and its degrees of freedom, by matrices.

    The sum of squares about the mean of days with correlation matrix R is expected to be the variance times tr(C R), C
    being the matrix that takes the mean off; a prior worth ten days is pooled with it by degrees of freedom.
    """
    n = len(means)
    centring = np.eye(n) - 1 / n
    expected = np.trace(centring @ toeplitz(rho ** np.arange(n)))
    own = float(means @ centring @ means) / expected
    prior = (PRIOR_FRACTION * means.mean()) ** 2
    df = PRIOR_DF + n - 1
    return (PRIOR_DF * prior + (n - 1) * own) / df * (1 + rho) / (1 - rho) / days, df


class TestUsualMean:
    def test_of_a_sensor_that_may_read_off_and_days_alike(self):
        """Bias of SD 4, no noise, four days at 100: the days' prior, shrunk by four days that did not differ."""
        offsets = 4 * DRAWS[:, None]
        found = figures(flat(4), 100 + offsets + np.zeros(4 * 288), np.full((400, 4 * 288), 100.0))
        days = PRIOR_DF * 36 / (PRIOR_DF + 3) * 1.35 / 0.65 / 4
        sensor = float(np.var(4 * DRAWS, ddof=1))
        total = sensor + days
        assert found.shares["days"] == pytest.approx(days / total, rel=1e-3)
        assert found.shares["sensor"] == pytest.approx(sensor / total, rel=1e-3)
        assert sum(found.shares.values()) == pytest.approx(1)
        half = np.sqrt(total) * stats.t.ppf(0.95, total**2 / (days**2 / (PRIOR_DF + 3)))
        usual = found.estimates["usual_mean"]
        assert usual["high"] - usual["estimate"] == pytest.approx(half, rel=1e-3)
        assert usual["estimate"] - usual["low"] == pytest.approx(half, rel=1e-3)
        assert usual["estimate"] == pytest.approx(100, abs=1e-6)
        assert found.usual_mg_dl == pytest.approx(100, abs=1e-6)

    def test_noise_that_no_bias_explains_is_of_the_hours(self):
        wander = 100 + 3 * DRAWS[:, None] + np.zeros(4 * 288)
        found = figures(flat(4), wander, wander)
        assert found.variances["hours"] == pytest.approx(np.var(3 * DRAWS, ddof=1), rel=1e-9)
        assert found.variances["sensor"] == pytest.approx(0, abs=1e-12)

    def test_every_hour_of_the_day_weighs_alike(self):
        """Three mornings at 80, two afternoons at 120: 96 while worn, 100 as lived."""
        values = np.tile(np.r_[np.full(144, 80.0), np.full(144, 120.0)], 3)[: 288 * 5 // 2]
        found = figures(values)
        assert found.mean_mg_dl == pytest.approx(96)
        assert found.usual_mg_dl == pytest.approx(100)

    @pytest.mark.parametrize("means", [
        [90.0, 110.0, 95.0, 105.0, 100.0, 88.0], [90.0, 92, 97, 101, 104, 108, 109], [90.0, 99, 105, 100],
        [96.0, 101, 104, 99, 95, 98, 103, 105, 100],
    ], ids=["none", "all", "four days", "some"])  # fmt: skip
    def test_days_that_differ_widen_it(self, means):
        """By as much as their own correlation, moved to the usual one, lets their mean move."""
        means = np.array(means)
        found = figures(np.repeat(means, 288))
        away = means - means.mean()
        own = float(np.sum(away[1:] * away[:-1]) / np.sum(away**2))
        own = float(np.clip(own + (1 + 3 * own) / len(means), 0.0, 0.7))
        rho = (len(means) * own + 30 * RHO) / (len(means) + 30)
        variance, df = days_variance(means, len(means), rho)
        assert found.variances["days"] == pytest.approx(variance, rel=1e-9)
        assert found.variances["df"] == df

    def test_a_day_counts_from_twelve_recorded_hours_on(self):
        """Of the last day, at 130, eleven hours and 55 minutes or twelve are there."""
        means = np.array([95.0, 105.0, 100.0, 130.0])
        for points, used in ((143, means[:3]), (144, means)):
            values = np.repeat(means, 288)
            values[3 * 288 + points :] = np.nan
            found = figures(values)
            assert found.variances["df"] == PRIOR_DF + len(used) - 1

    def test_of_three_days_the_usual_correlation_is_taken(self):
        means = np.array([90.0, 99, 111])
        variance, df = days_variance(means, 3, RHO)
        found = figures(np.repeat(means, 288)).variances
        assert (found["days"], found["df"]) == pytest.approx((variance, df), rel=1e-9)

    def test_a_day_too_short_to_count_moves_none_of_the_others(self):
        """Of the fourth day, at 130, eleven hours are there: the others lie 5 below, 5 above and in the middle."""
        values = np.repeat([95.0, 105.0, 100.0, 130.0], 288)
        values[3 * 288 + 132 :] = np.nan
        squares = 50 * 2 / np.trace((np.eye(3) - 1 / 3) @ toeplitz(RHO ** np.arange(3)))
        prior = (PRIOR_FRACTION * np.nanmean(values)) ** 2
        expected = (PRIOR_DF * prior + squares) / (PRIOR_DF + 2) * 1.35 / 0.65 / (3 + 132 / 288)
        assert figures(values).variances["days"] == pytest.approx(expected, rel=1e-9)

    def test_a_day_that_lacks_its_mornings_does_not_differ_for_that(self):
        """Mornings at 80 and afternoons at 120 on four days alike, the first from noon on: the prior is all."""
        values = np.tile(np.r_[np.full(144, 80.0), np.full(144, 120.0)], 4)
        values[:144] = np.nan
        prior = (PRIOR_FRACTION * np.nanmean(values)) ** 2
        expected = PRIOR_DF * prior / (PRIOR_DF + 3) * 1.35 / 0.65 / 3.5
        assert figures(values).variances["days"] == pytest.approx(expected, rel=1e-9)

    def test_of_one_day_that_counts_the_prior_is_all(self):
        """One whole day and the thirds of three more."""
        values = flat(4).reshape(4, 288).copy()
        for day in (1, 2, 3):
            values[day, : 96 * (day - 1)] = values[day, 96 * day :] = np.nan
        found = figures(values.ravel()).variances
        assert found["days"] == pytest.approx(36 * 1.35 / 0.65 / 2, rel=1e-9)
        assert found["df"] == PRIOR_DF

    def test_less_than_a_day_counts_as_one(self):
        """Six hours at 100 tell no less than a day of which the prior says all."""
        worn = make_wear(days=0.25)
        trace = make_trace(make_clean(worn, np.full(72, True)), np.full(72, 100.0))
        variance, df = days_apart.variance_of_days(trace, np.arange(72) // 12, np.zeros(72, int), 0.25)
        assert variance == pytest.approx(36 * 1.35 / 0.65)
        assert df == PRIOR_DF

    def test_less_recorded_widens_it_in_proportion(self):
        """Eight days at 100, every second one's last half missing: days differ by nothing, the prior stays."""
        values = flat(8).reshape(8, 288).copy()
        values[1::2, 144:] = np.nan
        found = figures(values.ravel())
        whole = figures(flat(8))
        assert found.variances["days"] == pytest.approx(whole.variances["days"] * 8 / 6, rel=1e-9)


def test_correlation_of_days_follows_a_long_wear():
    """Sixty days of correlation 0.4 outweigh the usual 0.35, which counts as thirty days."""
    rng = np.random.default_rng(5)
    found = []
    for _ in range(400):
        level = rng.normal(size=60)
        for i in range(1, 60):
            level[i] = 0.4 * level[i - 1] + np.sqrt(0.84) * level[i]
        found.append(days_apart.resemblance_of_days(level - level.mean()))
    assert np.mean(found) == pytest.approx((60 * 0.4 + 30 * RHO) / 90, abs=0.006)


@pytest.mark.parametrize(("n", "rho"), [(5, 0.3), (14, 0.35), (14, 0.7)])
def test_degrees_of_autocorrelated_days(n, rho):
    """tr(C R): of the correlation matrix, its mean taken off."""
    expected = np.trace((np.eye(n) - 1 / n) @ toeplitz(rho ** np.arange(n)))
    assert days_apart.degrees_of_days(n, rho) == pytest.approx(expected)


class TestWhileWearing:
    def test_mean_and_overnight_mean_are_as_unsure_as_their_draws(self):
        values = np.tile(np.r_[np.full(72, 80.0), np.full(216, 110.0)], 3)
        found = figures(values, values + 4 * DRAWS[:, None])
        half = stats.norm.ppf(0.95) * np.std(4 * DRAWS, ddof=1)
        for name, centre in (("mean", 102.5), ("overnight_mean", 80.0)):
            of = found.estimates[name]
            assert (of["low"], of["estimate"], of["high"]) == pytest.approx(
                (centre - half, centre, centre + half), rel=1e-6
            )

    def test_spread_of_a_gain_that_may_be_off(self):
        """Two levels ten from their mean; the gain is 1 ± 0.1, so that SD and CV are too."""
        values = np.tile([90.0, 110.0], 3 * 144)
        found = figures(values, 100 + (values - 100) * (1 + 0.1 * DRAWS[:, None]))
        sd = 10 * np.sqrt(864 / 863)
        ends = stats.norm.interval(0.9, loc=sd, scale=0.1 * sd)
        of = found.estimates["sd"]
        assert (of["low"], of["high"]) == pytest.approx(ends, rel=2e-3)
        assert of["estimate"] == pytest.approx(sd, rel=1e-6)
        of = found.estimates["cv_percent"]
        assert (of["low"], of["high"]) == pytest.approx(ends, rel=2e-3)

    def test_minutes_in_range_add_to_a_day(self):
        """A quarter of the time at 60, a half at 100, a quarter at 160; the range's ends are within it."""
        values = np.tile(np.r_[np.full(72, 60.0), np.full(72, 70.0), np.full(72, 140.0), np.full(72, 160.0)], 3)
        found = figures(values, checks=2).estimates["minutes_per_day"]
        assert {name: one["estimate"] for name, one in found.items()} == pytest.approx(
            {"below_range": 360, "in_range": 720, "above_range": 360}
        )
        found = figures(values, low=70.1, high=139.9, checks=2).estimates["minutes_per_day"]
        assert {name: one["estimate"] for name, one in found.items()} == pytest.approx(
            {"below_range": 720, "in_range": 0, "above_range": 720}
        )

    def test_minutes_follow_the_draws(self):
        """At 139 with an offset of ± 1: above 140 in the draws over it alone, all day or not at all."""
        draws = 139 + 2 * DRAWS[:, None] + np.zeros(3 * 288)
        found = figures(flat(3, 139.0), draws, checks=2).estimates["minutes_per_day"]
        share = stats.norm.sf(0.5)
        assert found["above_range"]["estimate"] == pytest.approx(1440 * share, abs=4)
        assert (found["above_range"]["low"], found["above_range"]["high"]) == (0, 1440)

    def test_minutes_need_two_checks(self):
        found = figures(flat(3), checks=1)
        assert found.estimates["minutes_per_day"] is None
        assert "two blood values" in found.withheld["minutes_per_day"]
        assert "minutes_per_day" not in figures(flat(3), checks=2).withheld

    def test_blocks_and_days_used(self):
        found = figures(np.repeat([90.0, 110.0, 100.0], 288))
        assert found.blocks.tolist() == [[90] * 4, [110] * 4, [100] * 4]
        assert found.days_used == 3


class TestRates:
    def test_excursions_a_day(self):
        """One excursion a day, of certain draws: no more, no less, and none of exercise."""
        values = flat(4, 90.0)
        for day in range(4):
            values = bump(values, day * 288 + 150, [40.0] * 12)
        activity = make_table("activity", {"start": at("12:20"), "minutes": 60.0, "kind": "run", "effort": "vigorous"})
        found = figures(values, activity=activity).estimates
        assert found["excursions_per_day"] == {"estimate": 1.0, "low": 1.0, "high": 1.0, "level": 0.9}
        assert found["excursions_per_day_without_exercise"]["estimate"] == 0.75
        assert found["excursions_per_day_without_exercise"]["high"] == 0.75

    def test_excursions_that_draws_do_not_agree_on(self):
        """Half of the draws show it 21 above the median, half 19: 0 or 1 in 2 days; found once."""
        values = flat(2, 90.0)
        high, low = bump(values, 150, [21.0] * 12), bump(values, 150, [19.0] * 12)
        found = figures(high, np.array([high, low] * 15)).estimates["excursions_per_day"]
        counts = np.tile([0.5, 0.0], 15)
        half = stats.norm.ppf(0.95) * np.sqrt(np.var(counts, ddof=1) + (0.25 - 0.5) ** 2)
        assert found["estimate"] == 0.5
        assert found["high"] == pytest.approx(0.5 + half)
        assert found["low"] == 0.0

    def test_without_exercise_the_interval_shrinks_as_the_rate_does(self):
        """Two in two days, one in exercise; one draw in ten shows neither: a mean of 0.9 a day where 1 was found."""
        values = flat(2, 90.0)
        both = bump(bump(values, 150, [40.0] * 12), 438, [40.0] * 12)
        activity = make_table("activity", {"start": at("12:20"), "minutes": 60.0, "kind": "run", "effort": "vigorous"})
        found = figures(both, np.array([both] * 27 + [values] * 3), activity=activity).estimates
        half = stats.norm.ppf(0.95) * np.sqrt(np.var([1.0] * 27 + [0.0] * 3, ddof=1) + 0.1**2)
        of = found["excursions_per_day"]
        assert (of["estimate"], of["low"], of["high"]) == pytest.approx((1.0, 1 - half, 1 + half))
        of = found["excursions_per_day_without_exercise"]
        assert (of["estimate"], of["low"], of["high"]) == pytest.approx((0.5, (1 - half) / 2, (1 + half) / 2))

    def dips(self, *chances, reasons=None):
        """Of occasions that dip with these chances, NaN where that cannot be seen."""
        eaten = pd.DataFrame({"dip_chance": np.array(chances, dtype=float), "carbs_g": 40.0})
        times = [at("08:00", day) for day in range(len(eaten))]
        eaten = eaten.assign(reason=reasons or "", time=pd.DatetimeIndex(times))
        return figures(flat(4), responses=eaten).estimates["dips_per_day"]

    def test_dips_are_counted_over_the_draws(self):
        """One sure, one likely, one hardly: 1.8 in four days. A gamma of that count and a half has a variance of 2.3;
        that nobody knows which adds 0.6 times 0.4 and 0.2 times 0.8."""
        found = self.dips(1.0, 0.6, 0.2, 0.0)
        mean, variance = 2.3, 2.3 + 0.24 + 0.16
        low, high = stats.gamma.ppf([0.05, 0.95], mean**2 / variance, scale=variance / mean) / 4
        assert found["estimate"] == pytest.approx(1.8 / 4)
        assert (found["low"], found["high"]) == pytest.approx((low, high), rel=1e-6)

    def test_occasions_not_judged_are_taken_to_dip_as_often(self):
        found = self.dips(1.0, 0.0, np.nan, np.nan)
        low, high = stats.gamma.ppf([0.05, 0.95], 1.5) / 4 * 2
        assert found["estimate"] == 0.5
        assert (found["low"], found["high"]) == pytest.approx((low, high), rel=1e-6)
        assert found["level"] == 0.9

    def test_minor_occasions_are_neither_judged_nor_counted(self):
        found = self.dips(1.0, 0, np.nan, 1.0, np.nan, reasons=["", "", "gap", "minor", "gap;minor"])
        assert found == self.dips(1.0, 0.0, np.nan)

    def test_without_a_third_hour_nothing_is_said(self):
        assert self.dips(np.nan) is None


class TestWithheld:
    def test_under_two_days(self):
        found = figures(flat(47.9 / 24))
        assert set(found.estimates.values()) == {None}
        assert "Only 48 hours" in found.withheld["mean"] or "two days" in found.withheld["mean"]
        assert found.days_used == pytest.approx(575 / 288)
        assert figures(flat(2)).estimates["mean"] is not None

    def test_an_hour_that_was_never_recorded(self):
        values = flat(4).reshape(4, 288).copy()
        values[:, 156:180] = np.nan
        found = figures(values.ravel())
        assert found.estimates["mean"] is None
        assert "13:00" in found.withheld["mean"]

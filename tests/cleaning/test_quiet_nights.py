"""Are nights put into cells as stated, and are their spreads those that were put in? By hand, by scipy's Bessel
functions and its least squares."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import nnls
from scipy.special import gamma, kv
from scipy.stats import norm, truncnorm

from glucolab.cleaning import quiet_nights as q
from glucolab.clock import ZoneSpans
from glucolab.record import empty_table
from tests.hand_made import START, UTC, at, make_series, make_table

LAGS = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240)
"""Distances at which glucose is compared with itself, as stated. [min]"""
CALM = 1 / truncnorm(0, norm.ppf(0.8)).mean()
"""Standard deviation of a normal over the mean of the smallest three fifths of its sizes."""


def matern(distance, scale, order):
    """The general Matérn covariance by its definition (Rasmussen & Williams 2006, equation 4.14)."""
    scaled = np.sqrt(2 * order) * np.maximum(np.abs(distance) / scale, 1e-9)
    return 2 ** (1 - order) / gamma(order) * scaled**order * kv(order, scaled)


def night_of(minutes, values, restless=None, asleep=None):
    minutes = np.asarray(minutes, dtype=float)
    quiet = np.zeros(len(minutes), bool) if restless is None else np.asarray(restless, bool)
    sleeps = np.ones(len(minutes), bool) if asleep is None else np.asarray(asleep, bool)
    return q.Night(START, minutes, np.asarray(values, dtype=float), sleeps, quiet)


def gathered(step, values=None, meals=(), length=60.0, first=-200, last=400):
    minutes = np.arange(first, last, dtype=float)
    glucose = np.full(len(minutes), 100.0) if values is None else values(minutes)
    return q.Night.gather(minutes, glucose, length, step, START, np.array(meals, dtype=float))


class TestCells:
    def test_a_night_has_an_hour_and_a_half_beside_it(self):
        """Of readings a minute apart those from 90 before to under 90 after are taken, each to its nearest cell."""
        night = gathered(1.0)
        assert (night.minutes[0], night.minutes[-1]) == (-90, 60 + 89)
        assert night.minutes[night.asleep].tolist() == list(range(60))

    def test_a_cell_is_the_mean_of_the_readings_nearest_to_it(self):
        """Readings 3-7 belong to 5: the mean of their values, which is their squares' here, is 5² + 2."""
        night = gathered(5.0, lambda minutes: minutes**2)
        inner = night.minutes[1:-1]
        assert (np.diff(night.minutes) == 5).all()
        assert night.values[1:-1] == pytest.approx(inner**2 + 2)

    def test_a_meal_makes_restless_from_ten_minutes_before_to_two_hundred_after(self):
        night = gathered(1.0, meals=[30.0], length=300.0)
        assert night.minutes[night.restless & night.asleep].tolist() == list(range(20, 231))
        assert night.restless[~night.asleep].all(), "awake is restless"

    @pytest.mark.parametrize(("height", "restless"), [(20.0, []), (20.5, list(range(40, 191)))])
    def test_more_than_twenty_above_the_nights_median_something_was_eaten(self, height, restless):
        """One minute of it at 70: half an hour before and two hours after are restless."""
        night = gathered(1.0, lambda minutes: 100 + height * (minutes == 70), length=300.0)
        assert night.minutes[night.restless & night.asleep].tolist() == restless

    def test_the_median_is_that_of_sleep_alone(self):
        """Evenings at 125 beside a night at 100 are high."""
        night = gathered(1.0, lambda minutes: np.where(minutes < 0, 125.0, 100.0), length=300.0)
        assert night.minutes[night.restless & night.asleep].tolist() == list(range(120))


class TestWhichNights:
    def test_by_the_clock_from_half_past_eleven_to_half_past_six(self):
        times = make_series(np.full(3 * 288, 100.0)).index
        nights = q.find_sleeps(times, UTC, empty_table("sleep"))
        assert nights == [(at("23:30", d - 1), at("06:30", d)) for d in range(3)]

    @pytest.mark.parametrize(("end", "searched"), [("16:29", False), ("16:30", True)])
    def test_two_hours_of_logged_sleep_are_searched(self, end, searched):
        times = make_series(np.full(2 * 288, 100.0)).index
        sleep = make_table("sleep", {"start": at("14:30"), "end": at(end)})
        assert ((at("14:30"), at(end)) in q.find_sleeps(times, UTC, sleep)) == searched

    @pytest.mark.parametrize(
        ("start", "end", "by_clock"),
        [
            ("14:30", "16:30", [0]),  # eight hours after the first night's end; the second begins seven after it
            ("14:29", "16:30", []),
            ("14:30", "15:30", [0, 1]),  # an hour is no sleep
            ("13:00", "15:30", [1]),  # the second begins eight hours after it
            ("13:00", "15:31", []),
        ],
    )
    def test_the_clocks_night_gives_way_to_sleep_within_eight_hours(self, start, end, by_clock):
        times = make_series(np.full(2 * 288, 100.0)).index
        sleep = make_table("sleep", {"start": at(start), "end": at(end)})
        nights = q.find_sleeps(times, UTC, sleep)
        assert [d for d in (0, 1) if (at("23:30", d - 1), at("06:30", d)) in nights] == by_clock

    def test_sleeps_that_overlap_or_touch_are_one(self):
        def joined(*spans):
            table = make_table("sleep", *({"start": at(a), "end": at(b)} for a, b in spans))
            return [(a.strftime("%H:%M"), b.strftime("%H:%M")) for a, b in q._joined(table["start"], table["end"])]

        assert joined(("01:00", "05:00"), ("02:00", "03:00")) == [("01:00", "05:00")]
        assert joined(("01:00", "05:00"), ("05:00", "06:00")) == [("01:00", "06:00")]
        assert joined(("01:00", "05:00"), ("05:01", "06:00")) == [("01:00", "05:00"), ("05:01", "06:00")]

    @pytest.mark.parametrize(("count", "nights"), [(5, 0), (6, 1)])
    def test_six_cells_make_a_night(self, count, nights):
        glucose = make_series(np.full(count, 100.0), start=at("02:00"))
        assert len(q.gather_nights(glucose, UTC, empty_table("sleep"), empty_table("meals"), 5.0)) == nights

    def test_its_minutes_count_from_its_begin(self):
        glucose = make_series(np.arange(288.0), start=at("00:00", 1))
        sleep = make_table("sleep", {"start": at("01:00", 1), "end": at("04:30", 1)})
        meals = make_table("meals", {"time": at("03:30", 1), "name": "milk"})
        (night,) = q.gather_nights(glucose, UTC, sleep, meals, 5.0)
        assert night.begin == at("01:00", 1)
        assert night.minutes[0] == -60
        assert night.values[night.minutes == 0].tolist() == [12.0]
        assert night.minutes[night.asleep].tolist() == list(range(0, 210, 5))
        assert night.minutes[night.asleep & night.restless].tolist() == list(range(140, 210, 5))


class TestCovariances:
    def test_matern_of_both_orders_is_what_bessel_functions_say(self):
        distance = np.array([-90.0, 0, 5, 37, 60, 240])
        assert q._matern(distance, 60.0) == pytest.approx(matern(distance, 60.0, 1.5), rel=1e-6)
        assert q._smooth_matern(distance, 45.0) == pytest.approx(matern(distance, 45.0, 2.5), rel=1e-6)

    def test_a_night_is_the_sum_of_its_parts(self):
        """Level of 40, wandering of 180 and 60 min, the way to food of 25 within 60 min, noise of 25 min and white.

        Quiet until 20: away from it by 10, 20, 30 and 60 min, a third, two thirds, and all of it from 30 on. A louder
        night has both noises so much larger, and no more of glucose.
        """
        minutes = np.array([0.0, 10, 20, 30, 40, 50, 80])
        night = night_of(minutes, np.full(7, 100.0), restless=minutes > 20)
        away = 25 * np.array([0, 0, 0, 1 / 3, 2 / 3, 1, 1])
        apart = minutes[:, None] - minutes[None, :]
        expected = (
            1600
            + 36 * matern(apart, 180.0, 1.5)
            + 49 * matern(apart, 60.0, 1.5)
            + np.outer(away, away) * matern(apart, 60.0, 2.5)
            + (1.5 * 3) ** 2 * np.exp(-np.abs(apart) / 25)
            + (1.5 * 2) ** 2 * np.eye(7)
        )
        found = q.night_covariance(night, np.array([7.0, 3.0, 2.0, 6.0]), 1.5)
        np.testing.assert_allclose(found, expected, rtol=1e-6)

    def test_a_night_without_quiet_is_away_from_it_throughout(self):
        night = night_of([0.0, 5, 10], [100.0] * 3, restless=[True] * 3)
        of_food = q.night_covariance(night, np.zeros(4), 1.0) - 1600
        assert np.diag(of_food).tolist() == pytest.approx([625] * 3)


class TestCalm:
    def test_it_is_the_standard_deviation_of_a_normal(self):
        middles = norm.ppf((np.arange(20_000) + 0.5) / 20_000)
        assert q._calm_sd(3 * middles) == pytest.approx(3, rel=2e-4)

    def test_it_looks_at_the_smallest_three_fifths_alone(self):
        """Of 1 … 10 at 1 … 6, whose mean is 3.5; of eleven the seventh too (6.6 rounded up)."""
        assert q._calm_sd(np.array([7.0, -1, 2, -3, 100, 5, 6, 90, -4, 80])) == pytest.approx(3.5 * CALM)
        assert q._calm_sd(np.arange(1.0, 12)) == pytest.approx(4 * CALM)


def pairs(lag, variance, count=24):
    """Nights of two cells so far apart, whose differences have that variogram: half the square of their size."""
    size = np.sqrt(2 * variance) / CALM
    return [night_of([0.0, lag], [100.0, 100.0 + (-1) ** i * size]) for i in range(count)]


def parts_at(lags):
    h = np.asarray(lags, dtype=float)
    return np.column_stack([1 - matern(h, 60.0, 1.5), 1 - np.exp(-h / 25), np.ones(len(h)), 1 - matern(h, 180.0, 1.5)])


class TestSpreads:
    def test_spreads_that_make_a_variogram_are_read_off_it(self):
        true = np.array([7.0, 3.0, 2.0, 9.0])
        nights = [n for lag, seen in zip(LAGS, parts_at(LAGS) @ true**2, strict=True) for n in pairs(lag, seen)]
        assert q.estimate_night_spreads(nights, 1.0) == pytest.approx(true, rel=1e-5)

    @pytest.mark.parametrize("seed", range(8))
    def test_they_are_the_least_squares_of_all_distances_none_below_nil(self, seed):
        """A variogram that no four spreads make; relative errors, by scipy's own. Every distance must tell."""
        rng = np.random.default_rng(seed)
        seen = parts_at(LAGS) @ np.array([60.0, 9.0, 4.0, 80.0]) * np.exp(rng.normal(0, 0.25, len(LAGS)))
        nights = [n for lag, value in zip(LAGS, seen, strict=True) for n in pairs(lag, value)]
        squares = nnls(parts_at(LAGS) / seen[:, None], np.ones(len(LAGS)))[0]
        expected = np.maximum(np.sqrt(squares), [2.5, 1.0, 0.7, 4.0])
        assert q.estimate_night_spreads(nights, 1.0) == pytest.approx(expected, rel=1e-5)

    def test_cells_of_a_quarter_of_an_hour_have_no_shorter_distance(self):
        """5 and 10 of the distances are none or one cell, 20 is one, 30 two, and so on."""
        lags = [15, 30, 45, 60, 90, 120, 180, 240]
        seen = np.array([5.0, 30, 20, 40, 55, 60, 90, 80])
        nights = [n for lag, value in zip(lags, seen, strict=True) for n in pairs(lag, value)]
        squares = nnls(parts_at(lags) / seen[:, None], np.ones(len(lags)))[0]
        expected = np.maximum(np.sqrt(squares), [2.5, 1.0, 0.7, 4.0])
        assert q.estimate_night_spreads(nights, 15.0) == pytest.approx(expected, rel=1e-5)

    def test_no_distance_shows_less_than_a_tenth(self):
        """Neighbours are equal throughout, as glucose in whole mg/dL may be: a variogram of nil would be all that
        counts, and of 0.2 would be called white noise."""
        seen = parts_at(LAGS) @ np.array([8.0, 0.0, 0.0, 30.0])
        seen[0] = 0.1
        nights = [n for lag, value in zip(LAGS, np.r_[0.0, seen[1:]], strict=True) for n in pairs(lag, value)]
        squares = nnls(parts_at(LAGS) / seen[:, None], np.ones(len(LAGS)))[0]
        found = q.estimate_night_spreads(nights, 1.0)
        assert found[[0, 3]] == pytest.approx(np.sqrt(squares)[[0, 3]], rel=1e-5)
        assert found[0] > 2.51

    def test_a_still_wear_has_the_least_spreads(self):
        nights = [n for lag in LAGS for n in pairs(lag, 0.0)]
        assert q.estimate_night_spreads(nights, 1.0).tolist() == [2.5, 1.0, 0.7, 4.0]

    @pytest.mark.parametrize(("lags", "count", "judged"), [(3, 21, True), (2, 21, False), (3, 20, False)])
    def test_three_distances_of_more_than_twenty_pairs_can_be_judged(self, lags, count, judged):
        """White noise of 3 and nothing else shows the same at every distance; else the usual spreads are taken."""
        nights = [n for lag in LAGS[:lags] for n in pairs(lag, 9.0, count)]
        expected = [2.5, 1.0, 3.0, 4.0] if judged else [6.0, 2.5, 1.5, 6.0]
        assert q.estimate_night_spreads(nights, 1.0) == pytest.approx(expected, rel=1e-6)

    def test_only_quiet_cells_so_far_apart_are_compared(self):
        minutes = np.array([0.0, 5, 10, 20, 25, 40])
        night = night_of(minutes, [1.0, 2, 4, 8, 16, 32], restless=minutes == 10)
        assert q._differences(night, 5.0).tolist() == [1, 8]
        assert q._differences(night, 15.0).tolist() == [6, 16]
        assert q._differences(night, 40.0).tolist() == [31]
        assert q._differences(night, 50.0).tolist() == []


class TestLoudness:
    def loudness(self, size, count=13, step=5.0):
        values = 100 + size * np.cumsum(np.r_[0, np.tile([1, -1], count)[: count - 1]])
        return q.estimate_loudness(night_of(np.arange(count) * step, values), np.array([9.0, 3.0, 2.0, 9.0]), step)

    def test_it_is_the_nights_usual_step_over_that_of_the_others(self):
        """Two readings five minutes apart with noise of 3 over 25 min and 2 white differ by the root of twice that."""
        expected = np.sqrt(2 * (9 * (1 - np.exp(-0.2)) + 4))
        assert self.loudness(1.7 * expected / CALM) == pytest.approx(1.7)
        expected = np.sqrt(2 * (9 * (1 - np.exp(-0.6)) + 4))
        assert self.loudness(2.9 * expected / CALM, step=15.0) == pytest.approx(2.9)

    def test_it_is_never_under_one_nor_over_three(self):
        assert self.loudness(0.1) == 1.0
        assert self.loudness(40.0) == 3.0

    @pytest.mark.parametrize(("count", "loud"), [(12, False), (13, True)])
    def test_twelve_steps_are_needed(self, count, loud):
        assert (self.loudness(40.0, count) > 1) == loud
        assert self.loudness(0.1, count) == 1.0


def test_nights_follow_the_zone():
    """In a zone three hours behind, half past eleven is half past two."""
    times = pd.DatetimeIndex(make_series(np.full(288, 100.0), start=at("12:00")).index)
    nights = q.find_sleeps(times, ZoneSpans(("America/Recife",)), empty_table("sleep"))
    assert nights == [(at("02:30", d), at("09:30", d)) for d in (0, 1)]

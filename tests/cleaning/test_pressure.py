"""Is lying on the sensor told from sleep, food and noise? Dips put into quiet nights."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from numpy.polynomial import Legendre
from scipy.stats import multivariate_normal, norm

from glucolab.cleaning.pressure import (
    _basis,
    _evidence,
    _fall_evidence,
    _find_lows,
    _find_spans,
    _parts,
    _probability_inside,
    flag_pressure,
)
from glucolab.cleaning.quiet_nights import Night, estimate_loudness, night_covariance
from glucolab.record import empty_table
from tests.hand_made import MINUTE, START, UTC, at, make_series, make_table

DAYS = 4
NIGHT = 2 * 1440 + 3 * 60  # 03:00 on the third day [min]


def quiet(interval_min, seed=0, noise=1.2):
    """Four days: a slow swing, correlated noise, whole mg/dL."""
    rng = np.random.default_rng(seed)
    n = round(DAYS * 1440 / interval_min)
    minutes = np.arange(n) * interval_min
    memory = np.exp(-interval_min / 25)
    slow = np.zeros(n)
    for i in range(1, n):
        slow[i] = memory * slow[i - 1] + np.sqrt(1 - memory**2) * rng.normal(0, noise)
    return minutes, 100 + 8 * np.sin(2 * np.pi * minutes / 1440) + slow + rng.normal(0, 0.7, n)


def shape(minutes, kind, depth, length):
    """A dip that begins at 0, downwards."""
    part = minutes / length
    inside = (part >= 0) & (part < 1)
    if kind == "box":
        return np.where(inside, -depth, 0.0)
    if kind == "half_sine":
        return np.where(inside, -depth * np.sin(np.pi * np.clip(part, 0, 1)), 0.0)
    if kind == "slow":
        return np.where(inside, -depth * np.clip(part / 0.7, 0, 1) ** 1.5, 0.0)
    return -depth * np.clip(np.minimum(minutes, length - minutes) / 15, 0, 1) * inside  # ramps of 15 min


def found(interval_min, dip=None, start=NIGHT, seed=0, sleep=None, meals=None, noise=1.2):
    minutes, values = quiet(interval_min, seed, noise)
    low = shape(minutes - start, *dip) if dip else np.zeros(len(minutes))
    mask = flag_pressure(
        make_series(np.round(values + low), step_min=interval_min),
        interval_min=interval_min,
        zones=UTC,
        sleep=empty_table("sleep") if sleep is None else sleep,
        meals=empty_table("meals") if meals is None else meals,
    ).to_numpy()
    deep = low < -0.5 * (dip[1] if dip else 1)
    return mask, deep


SLEEP = make_table("sleep", *({"start": at("23:00", d), "end": at("07:00", d + 1)} for d in range(-1, DAYS)))


@pytest.mark.parametrize("with_sleep", [True, False])
@pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
@pytest.mark.parametrize("dip", [("box", 25, 60), ("ramps", 30, 75), ("box", 40, 120)])
def test_plain_lows_are_found_and_little_else(interval_min, dip, with_sleep):
    recall, false = [], []
    for seed in range(3):
        mask, deep = found(interval_min, dip, seed=seed, sleep=SLEEP if with_sleep else None)
        recall.append(mask[deep].mean())
        false.append((mask & ~deep).sum() * interval_min)
    assert np.mean(recall) >= 0.8
    assert np.mean(false) <= 60, "minutes beside the low"


@pytest.mark.parametrize("dip", [("half_sine", 35, 50), ("half_sine", 25, 90), ("slow", 30, 70), ("slow", 25, 45)])
def test_round_lows_and_slow_ones_are_mostly_found(dip):
    recall = [found(5.0, dip, seed=seed) for seed in range(4)]
    assert np.mean([mask[deep].mean() for mask, deep in recall]) >= 0.75


def test_every_low_of_a_night_is_found_beside_a_fall_that_is_none():
    """A fall that nothing explains, later that night, must not hide two lows before it."""
    minutes, values = quiet(5.0)
    lows = shape(minutes - (NIGHT - 150), "half_sine", 30, 60) + shape(minutes - NIGHT, "slow", 30, 60)
    values = values + lows - 30 * (minutes > NIGHT + 200)
    mask = flag_pressure(
        make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=empty_table("meals")
    ).to_numpy()
    assert mask[(lows < -15) & (minutes < NIGHT - 60)].mean() > 0.75
    assert mask[(lows < -15) & (minutes > NIGHT - 60)].mean() > 0.75
    assert not mask[minutes > NIGHT + 195].any()


@pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
def test_a_quiet_wear_has_none(interval_min):
    for seed in range(4):
        mask, _ = found(interval_min, seed=seed, sleep=SLEEP)
        assert not mask.any(), f"seed {seed}"


def test_the_same_low_by_day_is_glucose():
    mask, _ = found(5.0, ("box", 25, 60), start=2 * 1440 + 13 * 60, sleep=SLEEP)
    assert not mask.any()


def test_logged_sleep_goes_before_the_clock():
    """Someone who sleeps from 09:00 to 17:00 lies on the sensor by day."""
    sleep = make_table("sleep", *({"start": at("09:00", d), "end": at("17:00", d)} for d in range(DAYS)))
    mask, deep = found(5.0, ("box", 25, 60), start=2 * 1440 + 13 * 60, sleep=sleep)
    assert mask[deep].mean() > 0.8


def test_the_tail_of_a_late_supper_is_the_foods():
    """A rise of 45 mg/dL that is gone three hours after, slowly: nothing of it is pressure."""
    minutes, values = quiet(5.0)
    since = np.clip(minutes - (NIGHT - 30), 0, None)
    values = (
        values + 45 * (since / 50) * np.exp(1 - since / 50) - 12 * np.exp(-(((since - 260) / 40) ** 2)) * (since > 0)
    )
    meals = make_table("meals", {"time": at("02:30", 2), "name": "supper"})
    mask = flag_pressure(make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=meals)
    assert not mask.any()


def test_a_fall_that_stays_down_is_no_pressure():
    minutes, values = quiet(5.0)
    values = values - 25 * (minutes > NIGHT)
    mask = flag_pressure(
        make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=empty_table("meals")
    )
    assert not mask.any()


def test_holes_in_the_night_raise_no_warning():
    minutes, values = quiet(5.0)
    values = np.round(values + shape(minutes - NIGHT, "box", 25, 60))
    rng = np.random.default_rng(3)
    for first in rng.integers(0, len(values), 60):
        values[first : first + rng.integers(1, 9)] = np.nan
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        mask = flag_pressure(make_series(values), interval_min=5.0, zones=UTC, sleep=SLEEP, meals=empty_table("meals"))
    assert not mask[np.isnan(values)].any()


@pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
@pytest.mark.parametrize("step", [0.0, 1.0])
def test_nights_of_one_value_or_two_raise_no_warning(interval_min, step):
    """A still night read in whole mg/dL: most neighbours are equal."""
    count = round(DAYS * 1440 / interval_min)
    values = 96 + step * (np.arange(count) // round(240 / interval_min) % 2)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        mask = flag_pressure(
            make_series(values, step_min=interval_min),
            interval_min=interval_min, zones=UTC, sleep=SLEEP, meals=empty_table("meals"),
        )  # fmt: skip
    assert not mask.any()


def eaten(minutes, start, peak):
    """A rise after food and the dip that may follow it."""
    since = np.maximum(minutes - start, 0) / 35
    after = np.exp(-0.5 * ((minutes - start - 150) / 25) ** 2)
    return peak * since**2 * np.exp(2 * (1 - since)) - 0.3 * peak * after


@pytest.mark.parametrize("peak", [30, 50, 70])
@pytest.mark.parametrize("clock", ["06:30", "07:00", "22:30", "23:15"])
def test_food_within_the_clocks_night_is_no_pressure(clock, peak):
    """No sleep logged, but breakfast or supper: its rise is no low, the quiet before it still less."""
    meals = make_table("meals", *({"time": at(clock, d), "name": "food"} for d in range(DAYS)))
    lost = []
    for seed in range(3):
        minutes, values = quiet(5.0, seed)
        for d in range(DAYS):
            values = values + eaten(minutes, d * 1440 + int(clock[:2]) * 60 + int(clock[3:]), peak)
        mask = flag_pressure(
            make_series(np.round(values)), interval_min=5.0, zones=UTC, sleep=empty_table("sleep"), meals=meals
        )
        lost.append(mask.sum())
    assert np.mean(lost) <= 2, "readings of four days"


@pytest.mark.parametrize("peak", [30, 50, 70])
@pytest.mark.parametrize("clock", ["06:20", "07:00", "07:30", "22:00"])
def test_nothing_logged_breakfast_and_supper_are_still_no_pressure(clock, peak):
    """A wear with nothing but glucose.csv."""
    lost = []
    for seed in range(3):
        minutes, values = quiet(5.0, seed)
        for d in range(DAYS):
            values = values + eaten(minutes, d * 1440 + int(clock[:2]) * 60 + int(clock[3:]), peak)
        mask = flag_pressure(
            make_series(np.round(values)), interval_min=5.0, zones=UTC,
            sleep=empty_table("sleep"), meals=empty_table("meals"),
        )  # fmt: skip
        lost.append(mask.sum())
    assert np.mean(lost) <= 16, "readings of four days: twenty minutes a day"


# Against plain Gaussian processes: every span, low and covariance written out, for a night of few cells.

LOW_MEAN, LOW_SD = np.array([8.0, 8.0, 0.0, 0.0, -18.0]), np.array([8.0, 8.0, 7.0, 6.0, 12.0])
"""A low's first and last cell, tilt, bow and depth, as stated. [mg/dL]"""


def spans_by_hand(minutes, asleep, step):
    """Half-open ranges of cells: in sleep, bordered by readings within half an hour, a quarter of one to four hours
    long, from one hour on every second length, from two hours on every fourth."""
    found = []
    for first in range(1, len(minutes)):
        for last in range(first + 1, len(minutes)):
            length = minutes[last - 1] - minutes[first] + step
            every = 1 if length <= 60 else 2 if length <= 120 else 4
            near = max(minutes[first] - minutes[first - 1], minutes[last] - minutes[last - 1]) <= 30
            if asleep[first:last].all() and near and 15 <= length <= 240 and round(length / step) % every == 0:
                found.append((first, last))
    return found


def shape_of(minutes, first, last, step):
    """Columns of what a low adds: its ends, Legendre's first and second polynomial of unit size, its depth."""
    out = np.zeros((len(minutes), 5))
    length = minutes[last - 1] - minutes[first] + step
    x = 2 * (minutes[first:last] - minutes[first] + step / 2) / length - 1
    out[first, 0] = out[last - 1, 1] = 1
    out[first:last, 2] = np.sqrt(3) * Legendre([0, 1])(x)
    out[first:last, 3] = np.sqrt(5) * Legendre([0, 0, 1])(x)
    out[first:last, 4] = 1
    return out


def evidence_by_hand(values, covariance, shape, mean, sd):
    """Log of how much likelier values are with normal parts of that shape added; mean and covariance of the parts."""
    with_it = covariance + shape @ np.diag(sd**2) @ shape.T
    log_factor = multivariate_normal(shape @ mean, with_it).logpdf(values) - multivariate_normal(
        np.zeros(len(values)), covariance
    ).logpdf(values)
    gain = np.diag(sd**2) @ shape.T @ np.linalg.inv(with_it)
    return log_factor, mean + gain @ (values - shape @ mean), np.diag(sd**2) - gain @ shape @ np.diag(sd**2)


def probability_by_hand(minutes, values, covariance, asleep, noise, step):
    """Each span's low against none and every other (half a low a night, only if 4 deep), then against what else it
    may be (a bump of 1.5 noises, 0.3 a night; a fall of 20 that stays, 0.05 a night); a cell is lowered by 4."""
    ones = np.ones(len(minutes))
    weight = np.linalg.solve(covariance, ones)
    values = values - weight @ values / weight.sum()
    spans = spans_by_hand(minutes, asleep, step)
    odds, otherwise, inside = np.zeros(len(spans)), np.zeros(len(spans)), np.zeros((len(spans), len(minutes)))
    for i, (first, last) in enumerate(spans):
        shape = shape_of(minutes, first, last, step)
        low, parts, of_parts = evidence_by_hand(values, covariance, shape, LOW_MEAN, LOW_SD)
        if parts[4] < -4:
            odds[i] = np.exp(low) * norm.cdf(-4, parts[4], np.sqrt(of_parts[4, 4])) * 0.25 / len(spans)
        bump = evidence_by_hand(values, covariance, shape, np.zeros(5), np.full(5, 1.5 * noise))[0]
        step_down = (np.arange(len(minutes)) >= first)[:, None].astype(float)
        fall = evidence_by_hand(values, covariance, step_down, np.zeros(1), np.array([20.0]))[0]
        otherwise[i] = np.exp(bump) * 0.3 / len(spans) + np.exp(fall) * 0.05 / len(minutes)
        lowered, spread = shape @ parts, np.sqrt(np.einsum("ij,jk,ik->i", shape, of_parts, shape))
        inside[i, first:last] = norm.cdf(-4, lowered[first:last], spread[first:last])
    share = odds / (1 + odds.sum())
    share = np.where(share > 1e-3, share, 0.0)
    return (share * odds / np.where(odds > 0, odds + otherwise, 1.0)) @ inside, share


def night_of(minutes, values, asleep=None):
    minutes = np.asarray(minutes, dtype=float)
    sleeps = np.ones(len(minutes), bool) if asleep is None else np.asarray(asleep, bool)
    return Night(START, minutes, np.asarray(values, dtype=float), sleeps, ~sleeps)


def wandering(minutes):
    """A level of 30, an hour's wandering of 5, white noise of 2."""
    apart = np.abs(minutes[:, None] - minutes[None, :])
    return 900 + 25 * np.exp(-((apart / 60) ** 2) / 2) + 4 * np.eye(len(minutes))


def some_night(depth, count=18, first=6, last=12, step=5.0, seed=0, slope=0.0):
    """A low between two cells in a night that wanders a little."""
    minutes = 20 + np.arange(count) * step
    values = 100 + np.random.default_rng(seed).normal(0, 2, count) + slope * np.arange(count)
    values[first:last] -= depth
    return minutes, values


class TestByHand:
    @pytest.mark.parametrize("asleep", ["all", "middle", "broken", "end"])
    def test_spans_are_those_that_the_limits_leave(self, asleep):
        minutes = np.r_[np.arange(0, 300, 5), 330, np.arange(335, 400, 5), 430.1, 435, 440, 445, 450].astype(float)
        sleeps = np.ones(len(minutes), bool)
        if asleep == "middle":
            sleeps[:7] = sleeps[70:] = False
        elif asleep == "broken":
            sleeps[[20, 21, 40]] = False
        elif asleep == "end":
            sleeps[:40] = False
        spans = _find_spans(minutes, sleeps, 5.0)
        expected = spans_by_hand(minutes, sleeps, 5.0)
        assert sorted(zip(spans.first.tolist(), spans.last.tolist(), strict=True)) == sorted(expected)
        assert spans.begin.tolist() == (minutes[spans.first] - 2.5).tolist()
        assert spans.length.tolist() == (minutes[spans.last - 1] - minutes[spans.first] + 5).tolist()

    @pytest.mark.parametrize("step", [6.0, 10.0, 15.0])
    def test_longer_spans_are_tried_by_whole_cells(self, step):
        minutes = np.arange(30) * step
        spans = _find_spans(minutes, np.ones(30, bool), step)
        expected = spans_by_hand(minutes, np.ones(30, bool), step)
        assert sorted(zip(spans.first.tolist(), spans.last.tolist(), strict=True)) == sorted(expected)

    @pytest.mark.parametrize(("gap", "bordered"), [(30.0, True), (31.0, False)])
    def test_a_border_may_lie_half_an_hour_away(self, gap, bordered):
        """Four cells, the first or the last so far from the others."""
        for minutes in (np.r_[0, gap + np.arange(4) * 5], np.r_[np.arange(4) * 5, 15 + gap]):
            spans = _find_spans(minutes, np.ones(5, bool), 5.0)
            assert ((1, 4) in zip(spans.first.tolist(), spans.last.tolist(), strict=True)) == bordered

    def test_nobody_asleep_no_spans(self):
        assert len(_find_spans(np.arange(20) * 5.0, np.zeros(20, bool), 5.0).first) == 0

    def test_parts_of_a_low_are_legendres(self):
        u = np.array([0.05, 0.3, 0.5, 0.8])
        tilt, bow = np.sqrt(3) * Legendre([0, 1], [0, 1])(u), np.sqrt(5) * Legendre([0, 0, 1], [0, 1])(u)
        expected = np.column_stack([[1, 0, 0, 0], [0, 0, 0, 1], tilt, bow, np.ones(4)])
        np.testing.assert_allclose(_basis(u), expected, atol=1e-12)

    def test_sums_over_spans_are_those_of_whole_matrices(self):
        """The precision and the pull of each span's parts: their shape on both sides."""
        rng = np.random.default_rng(4)
        minutes = np.r_[np.arange(0, 60, 5), np.arange(70, 140, 5)].astype(float) + 500
        root = rng.normal(size=(26, 26))
        precision, pulled = root @ root.T, rng.normal(size=26)
        asleep = np.arange(26) >= 3
        spans = _find_spans(minutes, asleep, 5.0)
        size, pull = _parts(precision, pulled, minutes, spans)
        assert len(size) > 100
        for i, (first, last) in enumerate(zip(spans.first, spans.last, strict=True)):
            shape = shape_of(minutes, first, last, 5.0)
            np.testing.assert_allclose(size[i], shape.T @ precision @ shape, rtol=1e-7, atol=1e-7)
            np.testing.assert_allclose(pull[i], shape.T @ pulled, rtol=1e-7, atol=1e-7)

    def test_evidence_is_the_ratio_of_two_normal_densities(self):
        minutes, values = some_night(15.0)
        covariance = wandering(minutes)
        precision = np.linalg.inv(covariance)
        shapes = [shape_of(minutes, first, last, 5.0) for first, last in ((6, 12), (2, 17), (9, 12))]
        size = np.array([shape.T @ precision @ shape for shape in shapes])
        pull = np.array([shape.T @ precision @ (values - 100) for shape in shapes])
        mean, sd = np.array([3.0, -2, 1, 4, -9]), np.array([5.0, 6, 7, 8, 10])
        found = _evidence(size, pull, mean, sd)
        for i, shape in enumerate(shapes):
            log_factor, parts, of_parts = evidence_by_hand(values - 100, covariance, shape, mean, sd)
            assert [part[i] for part in found] == pytest.approx(
                [log_factor, parts[4], np.sqrt(of_parts[4, 4])], rel=1e-6
            )

    def test_a_fall_that_stays_is_a_step_of_20(self):
        minutes, values = some_night(0.0, slope=-1.0)
        covariance = wandering(minutes)
        precision = np.linalg.inv(covariance)
        found = _fall_evidence(precision, precision @ (values - 100))
        expected = [
            evidence_by_hand(
                values - 100, covariance, (np.arange(18) >= i)[:, None].astype(float), np.zeros(1), np.array([20.0])
            )[0]
            for i in range(18)
        ]
        assert found == pytest.approx(expected, rel=1e-6)

    @pytest.mark.parametrize(("seed", "depth", "slope", "noise"), [
        (7, 6.0, 0.0, 2.0), (2, 7.0, 0.0, 2.0), (3, 12.0, 0.0, 2.0), (7, 8.0, -1.0, 2.0), (0, 25.0, 0.0, 2.0),
        (0, -12.0, 0.5, 5.0),
    ])  # fmt: skip
    def test_chances_are_those_of_every_span_written_out(self, seed, depth, slope, noise):
        minutes, values = some_night(depth, count=14, first=5, last=10, seed=seed, slope=slope)
        asleep = np.arange(14) != 12
        covariance = wandering(minutes)
        expected, _ = probability_by_hand(minutes, values, covariance, asleep, noise, 5.0)
        found = _probability_inside(night_of(minutes, values, asleep), np.arange(14), covariance, noise, 5.0)
        np.testing.assert_allclose(found, expected, rtol=1e-6, atol=1e-9)

    @pytest.mark.parametrize(("seed", "depth"), [(0, 9.3), (0, 10.0), (2, 9.6), (2, 10.0), (3, 11.0), (3, 12.0)])
    def test_a_cell_is_taken_out_from_a_chance_of_two_fifths_on(self, seed, depth):
        """Lows that are told from noise just so: chances of 0.3 to 0.55, each pass without what was found before."""
        minutes, values = some_night(depth, count=14, first=5, last=10, seed=seed)
        night, spreads = night_of(minutes, values), np.array([3.0, 1.5, 1.0, 4.0])
        louder = estimate_loudness(night, spreads, 5.0)
        covariance, kept = night_covariance(night, spreads, louder), np.arange(14)
        while True:
            chance, _ = probability_by_hand(
                minutes[kept], values[kept], covariance[np.ix_(kept, kept)], np.ones(len(kept), bool),
                louder * np.sqrt(1.5**2 + 1.0**2), 5.0,
            )  # fmt: skip
            if not (chance > 0.4).any():
                break
            kept = kept[chance <= 0.4]
        expected = [START + MINUTE * m for m in np.delete(minutes, kept)]
        assert _find_lows(night, spreads, 5.0) == expected

    def test_a_night_is_searched_five_times(self):
        """Of six lows, each so much deeper than the next that one search finds one, the last stays in."""
        minutes = np.arange(0, 480, 5.0)
        values = 100 + np.random.default_rng(0).normal(0, 1, 96)
        begins = [8 + 14 * k for k in range(6)]
        for begin, depth in zip(begins, (70, 58, 47, 37, 28, 20), strict=True):
            values[begin : begin + 6] -= depth
        lows = _find_lows(night_of(minutes, values), np.array([3.0, 1.5, 1.0, 4.0]), 5.0)
        assert lows == [START + MINUTE * 5 * (begin + i) for begin in begins[:5] for i in range(6)]
        values[begins[0] : begins[0] + 6] += 70
        lows = _find_lows(night_of(minutes, values), np.array([3.0, 1.5, 1.0, 4.0]), 5.0)
        assert lows == [START + MINUTE * 5 * (begin + i) for begin in begins[1:] for i in range(6)]

    def test_six_readings_are_enough_to_see_one(self):
        """A quarter of an hour 20 lower between one reading and two."""
        night = night_of(np.arange(6) * 5, [100.0, 80, 80, 80, 100, 100])
        assert _find_lows(night, np.array([3.0, 1.5, 1.0, 4.0]), 5.0) == [START + MINUTE * m for m in (5, 10, 15)]


class TestWhichReadings:
    @pytest.mark.parametrize("interval_min", [1.0, 5.0, 15.0])
    def test_a_low_takes_out_the_readings_of_its_cells(self, interval_min):
        """An hour 40 lower, from half a cell before a cell of the night to half a cell before another."""
        step = max(interval_min, 5.0)
        minutes = np.arange(0, 510, interval_min)
        since_begin = minutes - 45
        low = (since_begin >= 180 - step / 2) & (since_begin < 240 - step / 2)
        values = 100 + np.random.default_rng(1).normal(0, 1, len(minutes)) - 40 * low
        mask = flag_pressure(
            make_series(values, start=at("22:45"), step_min=interval_min),
            interval_min=interval_min, zones=UTC, sleep=empty_table("sleep"), meals=empty_table("meals"),
        )  # fmt: skip
        assert minutes[mask].tolist() == minutes[low].tolist()

    @pytest.mark.parametrize(("count", "found"), [(23, []), (24, list(range(9, 15)))])
    def test_two_hours_of_readings_are_needed(self, count, found):
        values = np.full(count, 100.0)
        values[9:15] -= 30
        mask = flag_pressure(
            make_series(values, start=at("02:00")), interval_min=5.0, zones=UTC,
            sleep=empty_table("sleep"), meals=empty_table("meals"),
        )  # fmt: skip
        assert np.flatnonzero(mask).tolist() == found

"""Does the bias come from what blood values tell, and is it as uncertain as it should be?

Priors: sensors of one model differ by 9 % of the level, models by another 20 % (open two-sensor recordings); meters
stay within 15 mg/dL of 100 in 95 of 100 checks (ISO 15197:2013).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.aligning.bias import OUTLIER_WEIGHT, SideBySide, _observe_checks, estimate_bias
from glucolab.aligning.bias_fit import Fit
from glucolab.aligning.bias_posterior import OF_CHECKS, OF_HOURS, PARTS, UNKNOWNS, Bias
from glucolab.aligning.bias_prior import CheckData, build_prior, follows_food, widen_stretch
from glucolab.aligning.hour_bias import hour_shapes, own_hour_variance, shared_hour_variance

LEVEL = 100.0


def checks(
    offset=0.0,
    count=0,
    seed=0,
    model="",
    meter="",
    venous=False,
    error=5.0,
    gain=1.0,
    sensor_se=2.0,
    level=LEVEL,
    hour=None,
):
    """Checks over a wear whose sensor reads `gain` times blood plus `offset`."""
    rng = np.random.default_rng(seed)
    blood = rng.normal(95, 12, count)
    return CheckData(
        level_mg_dl=level,
        model=model,
        meter=meter,
        sensor_mg_dl=gain * blood + offset + rng.normal(0, sensor_se, count),
        sensor_se_mg_dl=np.full(count, sensor_se),
        check_mg_dl=blood + rng.normal(0, error, count),
        place=rng.uniform(-0.5, 0.5, count),
        venous=np.full(count, venous),
        fed=np.zeros(count, bool),
        hour=np.full(count, hour) if hour is not None else rng.uniform(7, 23, count),
    )


def sd(bias, wear=0):
    return float(np.sqrt(bias.offset_covariance[wear, wear]))


def test_without_checks_it_is_nil_give_or_take_38_percent():
    """1.645 times the square root of 0.11² + 0.20²."""
    bias = estimate_bias([checks()])
    assert bias.offsets[0] == 0
    assert 1.645 * sd(bias) == pytest.approx(0.3755 * LEVEL, abs=0.1)


@pytest.mark.parametrize("offset", [-20.0, 0.0, 20.0])
def test_checks_recover_an_offset(offset):
    found = [estimate_bias([checks(offset, 12, seed)]) for seed in range(30)]
    assert np.mean([b.offsets[0] for b in found]) == pytest.approx(offset, abs=2)
    inside = [abs(b.offsets[0] - offset) < 1.645 * sd(b) for b in found]
    assert np.mean(inside) >= 0.85


def test_a_gain_is_a_bias_at_the_wearers_level():
    """Gain 1.15 at a blood mean of 95 reads 14 mg/dL high there."""
    found = [estimate_bias([checks(0.0, 12, seed, gain=1.15)]).offsets[0] for seed in range(30)]
    assert np.mean(found) == pytest.approx(14, abs=3)


def test_more_checks_narrow_it_and_the_meters_own_error_stays():
    widths = [
        np.mean([sd(estimate_bias([checks(10, n, seed, meter="m")])) for seed in range(8)])
        for n in (0, 1, 2, 6, 12, 80)
    ]
    assert (np.diff(widths) < 0).all()
    assert widths[-1] > 0.03 * LEVEL, (
        "a meter that reads high all study long cannot be told from a sensor that reads low"
    )


def test_noisy_checks_widen_it():
    calm = np.mean([sd(estimate_bias([checks(10, 10, seed, error=4)])) for seed in range(10)])
    wild = np.mean([sd(estimate_bias([checks(10, 10, seed, error=15)])) for seed in range(10)])
    assert wild > 1.15 * calm


@pytest.mark.parametrize("gross", [-50.0, 50.0, 90.0])
def test_one_gross_check_moves_little_and_is_named(gross):
    moved = []
    for seed in range(8):
        data = checks(10.0, 10, seed)
        plain = estimate_bias([data])
        data.check_mg_dl[4] += gross
        spoilt = estimate_bias([data])
        moved.append(abs(spoilt.offsets[0] - plain.offsets[0]))
        assert np.flatnonzero(spoilt.weights[0] < OUTLIER_WEIGHT).tolist() == [4]
    assert np.mean(moved) < 2.5, "a plain mean would have moved by a tenth of it, 5 or more"
    assert max(moved) < 4


def test_sound_checks_are_seldom_doubted():
    doubted = [(estimate_bias([checks(10.0, 10, seed)]).weights[0] < OUTLIER_WEIGHT).mean() for seed in range(60)]
    assert np.mean(doubted) < 0.02


def test_the_laboratory_tells_more_than_a_meter():
    finger = np.mean([sd(estimate_bias([checks(10, 4, seed, error=3)])) for seed in range(10)])
    venous = np.mean([sd(estimate_bias([checks(10, 4, seed, error=3, venous=True)])) for seed in range(10)])
    assert venous < 0.75 * finger


class TestTogether:
    def test_sensors_of_one_model_share_part_of_it(self):
        told, untold = checks(30.0, 12, 1, model="A", meter="m"), checks(model="A")
        shared = estimate_bias([told, untold])
        apart = estimate_bias([told, checks(model="B")])
        assert shared.offsets[1] > 15
        assert apart.offsets[1] == pytest.approx(0, abs=1e-9)
        assert sd(shared, 1) < 0.75 * sd(apart, 1)
        assert sd(shared, 1) > 0.11 * LEVEL, "the single sensor's own part stays"

    def test_nameless_models_and_meters_are_each_of_their_own(self):
        bias = estimate_bias([checks(30.0, 12, 1), checks()])
        assert bias.offsets[1] == pytest.approx(0, abs=1e-9)
        assert bias.offset_covariance[0, 1] == pytest.approx(0, abs=1e-9)

    def test_one_meters_error_is_shared_so_it_drops_out_of_the_difference(self):
        def difference_sd(meter_b):
            bias = estimate_bias([checks(10, 40, 1, "A", "m"), checks(10, 40, 2, "A", meter_b)])
            contrast = np.array([-1.0, 1.0])
            return float(np.sqrt(contrast @ bias.offset_covariance @ contrast))

        assert difference_sd("m") < 0.6 * difference_sd("other")

    def test_side_by_side_ties_two_sensors(self):
        wears = [checks(0.0, 12, 1, model="A", meter="m"), checks(model="B")]
        tied = estimate_bias(wears, [SideBySide(0, 1, -25.0, 2.0)])
        assert tied.offsets[1] - tied.offsets[0] == pytest.approx(25, abs=2)
        assert sd(tied, 1) < 0.5 * sd(estimate_bias(wears), 1)

    def test_the_order_of_wears_changes_nothing(self):
        a, b = checks(20.0, 6, 1, "A", "m"), checks(5.0, 4, 2, "A", "m")
        assert estimate_bias([a, b]).offsets == pytest.approx(estimate_bias([b, a]).offsets[::-1])


class TestGains:
    def test_what_is_gain_in_one_sensor_of_a_model_is_gain_in_the_others(self):
        def alike(*models):
            found = estimate_bias([checks(-30.0, 8, seed, model, f"m {seed}") for seed, model in enumerate(models)])
            covariance = found.gain_covariance
            return covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])

        assert alike("A", "A") > 0.6
        assert alike("A", "B") == pytest.approx(0, abs=1e-6)

    def test_the_mean_gain_of_a_model_is_as_unsure_as_it_is_wrong(self):
        """Eight wears of one model whose bias is all gain, or all offset, by a coin: the prior's own two worlds."""
        rng = np.random.default_rng(17)
        share, z = np.full(8, 1 / 8), []
        for study in range(120):
            of_model, is_gain = rng.normal(0, 0.20), rng.random() < 0.45
            total = of_model + rng.normal(0, 0.09, 8)
            ratios = 1 + total * is_gain
            offsets = np.where(is_gain, 0.0, 95 * total)
            wears = [
                checks(offset, 6, [study, i], "A", "m", gain=gain, sensor_se=0.3, level=95 * gain + offset)
                for i, (offset, gain) in enumerate(zip(offsets, ratios, strict=True))
            ]
            found = estimate_bias(wears)
            error = share @ (found.gains * ratios - 1)
            z.append(error / np.sqrt(share @ found.gain_covariance @ share))
        assert np.mean(np.abs(z) < 1.645) >= 0.8
        assert np.std(z) == pytest.approx(1.0, abs=0.25)


class TestPlanning:
    def test_further_checks_are_worth_about_what_they_turn_out_to_be_worth(self):
        promised = np.mean(
            [np.sqrt(estimate_bias([checks(10, 2, s)]).offset_variances(np.ones(1), [0], [8])[0]) for s in range(40)]
        )
        kept = np.mean([sd(estimate_bias([checks(10, 10, s)])) for s in range(40)])
        assert promised == pytest.approx(kept, rel=0.2)

    def test_they_never_widen_it(self):
        bias = estimate_bias([checks(10, 3, 1, "A", "m"), checks(5, 3, 2, "A", "m")])
        steps = np.array([bias.offset_variances(one, [0], [0, 1, 5, 20]) for one in np.eye(2)])
        np.testing.assert_allclose(steps[:, 0], np.diag(bias.offset_covariance))
        assert (np.diff(steps, axis=1) <= 1e-9).all()

    def test_they_count_as_a_solve_of_all_unknowns_says(self):
        """The information of each check added to the inverse of the whole covariance, which is then inverted back.

        Checks are taken evenly from 7 to 23 o'clock: each counts as one of the mean of the shapes over those hours.
        """
        awake = hour_shapes(np.linspace(7, 23, 16_001)).mean(axis=0)
        bias = estimate_bias([checks(10, 3, 1, "A", "m"), checks(5, 3, 2, "A", "m"), checks(0, 4, 3, "B", "n")])
        information, change = np.linalg.inv(bias.joint.reshape(3 * UNKNOWNS, -1)), np.array([-1.0, 0.0, 1.0])
        for i in (0, 2):
            for place in (-0.4, -0.2, 0.0, 0.2, 0.4):
                row = np.zeros((3, UNKNOWNS))
                row[i, [0, 1, OF_CHECKS]] = 1.0, place, -1.0
                row[i, OF_HOURS] = awake
                information += np.outer(row, row) / bias.check_error_mg_dl[i] ** 2
        offsets = np.linalg.inv(information)[::UNKNOWNS, ::UNKNOWNS]
        assert bias.offset_variances(change, [0, 2], [5])[0] == pytest.approx(change @ offsets @ change, rel=1e-4)


def test_draws_have_the_mean_and_covariance_they_stand_for():
    bias = estimate_bias([checks(15, 6, 1)])
    drawn = bias.draw(0, np.random.default_rng(0), 2000)
    assert drawn.mean(axis=0) == pytest.approx(bias.mean[0], abs=1e-6)
    apart = np.linalg.solve(np.linalg.cholesky(bias.covariance[0, :, 0, :]), (drawn - bias.mean[0]).T)
    assert np.cov(apart) == pytest.approx(np.eye(PARTS), abs=0.001)


def test_sensors_worn_at_once_are_tied_whichever_they_are():
    """The second and third of three, the third 12 above the second and each unchecked: half of it is each's, but that
    the first's checks tell nothing of them."""
    told = checks(20.0, 12, 1)
    bias = estimate_bias([told, checks(), checks()], [SideBySide(1, 2, -12.0, 0.1)])
    alone = estimate_bias([told])
    assert bias.offsets[0] == pytest.approx(alone.offsets[0], abs=0.1)
    assert bias.offsets[2] - bias.offsets[1] == pytest.approx(12, abs=0.05)
    assert bias.offsets[1] == pytest.approx(-6, abs=0.05)


class TestPrior:
    """Variances as stated: 0.20 of the level between models, 0.11 between sensors, 0.45 of it gain."""

    RELATIVE = 0.20**2 + 0.11**2

    def whole(self, *wears):
        """Prior covariance of all unknowns, shape (wears, 8, wears, 8)."""
        prior = build_prior(wears)
        cov = np.einsum("aps,bqs->apbq", prior.shared, prior.shared)
        for i, own in enumerate(prior.own):
            cov[i, :, i] += own
        return cov

    def test_without_checks_all_is_as_stated(self):
        """Offset and stretch of one wear at 100, its drift of 8, its hours, its meter's 5 and strips' 2; nothing else
        goes together."""
        expected = np.zeros((UNKNOWNS, UNKNOWNS))
        expected[np.arange(3), np.arange(3)] = 1e4 * self.RELATIVE, 64, 0.45 * self.RELATIVE
        expected[0, 2] = expected[2, 0] = 100 * 0.45 * self.RELATIVE
        expected[OF_HOURS, OF_HOURS] = 1e4 * (own_hour_variance() + shared_hour_variance())
        expected[OF_CHECKS, OF_CHECKS] = 29
        np.testing.assert_allclose(estimate_bias([checks()]).joint[0, :, 0], expected, atol=1e-9)

    def test_at_another_level_it_is_as_much_of_that(self):
        found = estimate_bias([checks(level=80.0)])
        assert found.offset_covariance[0, 0] == pytest.approx(6400 * self.RELATIVE)
        assert found.covariance[0, 2, 0, 2] == pytest.approx(0.45 * self.RELATIVE)
        assert found.covariance[0, 1, 0, 1] == pytest.approx(40.96)

    def test_a_sensor_that_reads_above_its_checks_stretches_less(self):
        """Checks at 80 where the sensor's mean is 100: an offset is a share of 80, a stretch four fifths of it."""
        of_checks, nothing, no = np.array([75.0, 85.0]), np.zeros(2), np.zeros(2, bool)
        prior = self.whole(CheckData(100.0, "", "", of_checks, nothing, of_checks, nothing, no, no, nothing))[0, :, 0]
        assert prior[0, 0] == pytest.approx(6400 * self.RELATIVE)
        assert prior[0, 2] == prior[2, 0] == pytest.approx(64 * 0.45 * self.RELATIVE)
        assert prior[2, 2] == pytest.approx(0.64 * 0.45 * self.RELATIVE)

    def test_two_of_one_model_and_meter_share_what_is_theirs(self):
        """Of wears at 100 and 80: the model's offset, gain and hours, the meter's error; not the sensor's own."""
        found = self.whole(checks(model="A", meter="m"), checks(model="A", meter="m", level=80.0))[0, :, 1]
        expected = np.zeros((UNKNOWNS, UNKNOWNS))
        expected[0, 0], expected[2, 2] = 8000 * 0.04, 0.45 * 0.04
        expected[0, 2], expected[2, 0] = 100 * 0.45 * 0.04, 80 * 0.45 * 0.04
        expected[OF_HOURS, OF_HOURS] = 8000 * shared_hour_variance()
        expected[OF_CHECKS, OF_CHECKS] = 8000 * 0.05**2
        np.testing.assert_allclose(found, expected, atol=1e-9)

    @pytest.mark.parametrize("names", [("A", "B"), ("", "")])
    def test_other_models_and_meters_share_nothing(self, names):
        first, second = (checks(model=name, meter=name) for name in names)
        assert not self.whole(first, second)[0, :, 1].any()

    def test_a_check_errs_by_six_in_a_hundred_grown_by_its_tails(self):
        """Student's errors with four degrees of freedom tell five sevenths of what normal ones of that size do."""
        assert estimate_bias([checks(level=90.0)]).check_error_mg_dl == pytest.approx([5.4 * np.sqrt(7 / 5)])

    @pytest.mark.parametrize(("venous", "fed", "spread", "meter"), [
        (False, False, 5.4, -1.0), (False, True, 5.4, -1.0), (True, False, 2.7, 0.0), (True, True, 15.241, 0.0),
    ])  # fmt: skip
    def test_what_a_check_is_seen_with(self, venous, fed, spread, meter):
        """6 of a check's hundred; 3 of the laboratory's, which knows no meter, and 15 mg/dL after food. The sensor's
        own error beside it."""
        data = CheckData(
            100.0, "", "", np.array([112.0]), np.array([3.0]), np.array([90.0]), np.array([0.25]), np.array([venous]),
            np.array([fed]), np.array([6.0]),
        )  # fmt: skip
        unknowns, design, seen, fixed, spreads, soft = _observe_checks(data, 2)
        assert unknowns.tolist() == [list(range(16, 24))]
        assert design[0] == pytest.approx([1.0, 0.25, 12.0, 0, 1, -1, 0, meter])
        assert (seen.tolist(), fixed.tolist(), soft.tolist()) == ([22.0], [3.0], [True])
        assert spreads == pytest.approx([spread], abs=1e-3)

    def test_two_sensors_side_by_side_share_their_difference(self):
        """Of 30 ± 2 and two that each may read 22.8 off: so much of it is each one's, one above, one below."""
        variance = 1e4 * self.RELATIVE
        found = estimate_bias([checks(), checks()], [SideBySide(0, 1, 30.0, 2.0)])
        each = 30 * variance / (2 * variance + 4)
        assert found.offsets == pytest.approx([each, -each])

    @pytest.mark.parametrize(("mean", "variance", "more"), [(25.0, 56.0, 160.0), (5.0, 16.0, 0.0)])
    def test_a_bias_larger_than_expected_may_be_gain_as_much_as_before(self, mean, variance, more):
        """Its square and variance, 681, beyond the 521 expected: of the surplus 0.45 · 0.55 is the stretch's."""
        data = checks()
        prior = build_prior([data])
        cov = np.zeros((1, UNKNOWNS, 1, UNKNOWNS))
        cov[0, 0, 0, 0] = variance
        fit = Fit(np.array([[mean, *np.zeros(UNKNOWNS - 1)]]), cov, np.ones(1), 1.0, 0.0)
        expected = prior.own.copy()
        expected[0, 2, 2] += 0.45 * 0.55 * more / 1e4
        np.testing.assert_allclose(widen_stretch([data], prior, fit).own, expected, rtol=1e-9)

    def test_two_of_one_model_may_be_gain_together(self):
        """Both 30 off at 100: the squares seen beyond those expected lie along both alike."""
        wears = [checks(model="A"), checks(model="A")]
        cov = np.zeros((2, UNKNOWNS, 2, UNKNOWNS))
        fit = Fit(np.array([[30.0, *np.zeros(UNKNOWNS - 1)]] * 2), cov, np.ones(1), 1.0, 0.0)
        prior = build_prior(wears)
        wider = widen_stretch(wears, prior, fit)
        added = (wider.shared @ wider.shared[:, :, :].swapaxes(1, 2))[:, 2, 2] - 0.45 * 0.04
        size = 2 * 900 - (2 * 0.04 + 0.11**2) * 1e4  # along (1, 1) / √2
        assert added == pytest.approx([0.45 * 0.55 * size / 2 / 1e4] * 2)
        assert (wider.own == prior.own).all()


class TestGainsOfABias:
    def bias(self, stretch, variance):
        """Of one wear whose stretch is known so well."""
        joint = np.zeros((1, UNKNOWNS, 1, UNKNOWNS))
        joint[0, 2, 0, 2] = variance
        none = np.array([])
        return Bias(np.array([[0.0, 0.0, stretch, *np.zeros(PARTS - 3)]]), joint, (none,), 0.0, none)

    def test_a_rise_is_what_the_stretch_leaves_and_a_tenth_at_least(self):
        assert self.bias(0.3, 0.01).gains.tolist() == pytest.approx([0.7])
        assert self.bias(0.89, 0.01).gains.tolist() == pytest.approx([0.11])
        assert self.bias(0.95, 0.01).gains.tolist() == pytest.approx([0.1])

    def test_its_variance_is_a_share_of_it(self):
        assert self.bias(0.5, 0.01).gain_covariance[0, 0] == pytest.approx(0.04)


@pytest.mark.parametrize(("minutes", "carbs_g", "fed"), [
    (0, 40.0, True), (150, 40.0, True), (151, 40.0, False), (-1, 40.0, False), (60, 4.9, False), (60, np.nan, True),
])  # fmt: skip
def test_a_draw_follows_food_for_two_and_a_half_hours(minutes, carbs_g, fed):
    eaten = pd.Timestamp("2026-02-04T07:00", tz="UTC")
    meals = pd.DataFrame({"time": [eaten], "carbs_g": [carbs_g]})
    assert follows_food(pd.DatetimeIndex([eaten + pd.Timedelta(minutes=minutes)]), meals).tolist() == [fed]

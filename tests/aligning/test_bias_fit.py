"""Is the fit below the biases the one of whole covariances, and its weights Student's? By numpy's and scipy's own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm, t

from glucolab.aligning.bias_fit import Observed, Prior, fit_bias

KNOWN = np.array([[400.0, 30, 0, 0], [30, 25, 0.3, 0], [0, 0.3, 0.04, 0], [0, 0, 0, 20]])
PRIOR = Prior(KNOWN[None], np.zeros((1, 4, 0)))
"""Of one wear, that has nothing in common with any."""


def rows_of(seen, fixed=2.0, spread=6.0, soft=True, seed=0):
    """Rows that touch the four unknowns, the third of them in tens."""
    n = len(seen)
    rng = np.random.default_rng(seed)
    design = np.column_stack([np.ones(n), rng.uniform(-0.5, 0.5, n), rng.normal(0, 10, n), -np.ones(n)])
    return Observed(
        np.tile(np.arange(4), (n, 1)), design, np.asarray(seen, dtype=float), np.full(n, fixed), np.full(n, spread),
        np.full(n, soft),
    )  # fmt: skip


def quantiles(of, count):
    """Values at the middles of equal shares, shuffled."""
    return of.ppf((np.random.default_rng(1).permutation(count) + 0.5) / count)


def whole(rows, noise):
    """Mean and covariance of the unknowns, by conditioning a normal vector on what was seen."""
    return condition(rows.design, rows.seen, noise, KNOWN)


def condition(design, seen, noise, prior):
    along = design @ prior
    gain = np.linalg.solve(along @ design.T + np.diag(noise), along).T
    return gain @ seen, prior - gain @ along


class TestNormal:
    def test_rows_with_fixed_errors_are_conditioned_on(self):
        rows = rows_of([12.0, 7, -3, 20, 9], fixed=3.0, soft=False)
        fit = fit_bias(PRIOR, rows)
        mean, cov = whole(rows, np.full(5, 9.0))
        assert fit.mean[0] == pytest.approx(mean, rel=1e-8)
        np.testing.assert_allclose(fit.cov[0, :, 0], cov, atol=1e-8)
        assert fit.weight.tolist() == [1.0] * 5
        assert fit.scale == 1.0

    def test_its_likelihood_is_the_density_of_what_was_seen(self):
        rows = rows_of([12.0, 7, -3, 20, 9], fixed=3.0, soft=False)
        density = multivariate_normal(np.zeros(5), rows.design @ KNOWN @ rows.design.T + 9 * np.eye(5))
        expected = density.logpdf(rows.seen) + 2.5 * np.log(2 * np.pi)
        assert fit_bias(PRIOR, rows).log_likelihood == pytest.approx(expected, rel=1e-8)

    def test_rows_touch_only_their_own_unknowns(self):
        """The first two of four, the other way about: the difference of the offsets of two that share nothing."""
        rows = Observed(
            np.array([[0, 3, 1, 1]]), np.array([[1.0, -1, 0, 0]]), np.array([10.0]), np.array([2.0]), np.zeros(1),
            np.zeros(1, bool),
        )  # fmt: skip
        fit = fit_bias(Prior(np.diag([16.0, 1, 1, 4])[None], np.zeros((1, 4, 0))), rows)
        assert fit.mean[0] == pytest.approx([160 / 24, 0, 0, -40 / 24])
        assert fit.cov[0, 0, 0, 0] == pytest.approx(16 - 256 / 24)


class TestWears:
    """Five wears of three unknowns, two common parts; second and last worn side by side, the fourth without rows."""

    WEAR = np.array([0, 0, 1, 2, 2, 2, 4])

    def rows(self):
        rng = np.random.default_rng(4)
        design, n = rng.normal(0, 1, (8, 3)), len(self.WEAR)
        touched = np.vstack([3 * self.WEAR[:, None] + np.arange(3), [[3, 12, 3]]])
        design[n] = [1, -1, 0]
        return Observed(
            touched, design, rng.normal(0, 10, n + 1), np.full(n + 1, 3.0), np.zeros(n + 1), np.zeros(n + 1, bool)
        )

    def prior(self):
        rng = np.random.default_rng(5)
        root = rng.normal(0, 2, (5, 3, 3))
        return Prior(root @ root.mT, rng.normal(0, 3, (5, 3, 2)))

    def dense(self):
        """The whole covariance of fifteen unknowns, and the rows over them."""
        prior, rows = self.prior(), self.rows()
        shared = prior.shared.reshape(15, 2)
        whole = shared @ shared.T
        for i in range(5):
            whole[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] += prior.own[i]
        design = np.zeros((8, 15))
        for row, (unknowns, weights) in enumerate(zip(rows.unknowns, rows.design, strict=True)):
            for unknown, weight in zip(unknowns, weights, strict=True):
                design[row, unknown] += weight
        return whole, design, rows

    def test_they_are_solved_as_all_unknowns_at_once(self):
        whole, design, rows = self.dense()
        mean, cov = condition(design, rows.seen, np.full(8, 9.0), whole)
        fit = fit_bias(self.prior(), rows)
        assert fit.mean.ravel() == pytest.approx(mean, rel=1e-8)
        np.testing.assert_allclose(fit.cov.reshape(15, 15), cov, atol=1e-8)

    def test_their_likelihood_is_that_of_all_rows_at_once(self):
        whole, design, rows = self.dense()
        expected = multivariate_normal(np.zeros(8), design @ whole @ design.T + 9 * np.eye(8)).logpdf(rows.seen)
        found = fit_bias(self.prior(), rows).log_likelihood
        assert found == pytest.approx(expected + 4 * np.log(2 * np.pi), rel=1e-8)

    def test_what_is_unsure_of_a_row_weighs_it(self):
        """A soft row's weight is five over four and its expected square, the fit's own variance of it with it."""
        whole, design, rows = self.dense()
        rows.soft[3], rows.spread[3] = True, 6.0
        fit = fit_bias(self.prior(), rows)
        noise = np.full(8, 9.0)
        noise[3] += (6 * fit.scale) ** 2 / fit.weight[3]
        mean, cov = condition(design, rows.seen, noise, whole)
        off = (rows.seen[3] - design[3] @ mean) ** 2 + design[3] @ cov @ design[3]
        assert fit.weight[3] == pytest.approx(5 / (4 + off / (9 + (6 * fit.scale) ** 2)), rel=0.01)


class TestChecks:
    @pytest.mark.parametrize("seen", [
        10 + 9 * quantiles(norm, 20), 10 + 8 * quantiles(t(3), 15), 10 + 6 * quantiles(t(4), 40),
    ], ids=["a poor meter", "with tails", "many"])  # fmt: skip
    def test_weights_scale_and_mean_agree_with_each_other(self, seen):
        """Student's errors with 4 degrees of freedom: a weight is 5 over 4 plus the squared error, what the fit leaves
        unsure counted with it; the scale is such that weighted squares come to their number, as the prior's eight do;
        and the mean is that of errors so weighted."""
        rows = rows_of(seen)
        fit = fit_bias(PRIOR, rows)
        noise = 4 + (fit.scale * 6) ** 2 / fit.weight
        mean, cov = whole(rows, noise)
        assert fit.mean[0] == pytest.approx(mean, abs=6e-3)
        np.testing.assert_allclose(np.diag(fit.cov[0, :, 0]), np.diag(cov), rtol=2e-3)
        unsure = np.einsum("ni,ij,nj->n", rows.design, cov, rows.design)
        squared = ((rows.seen - rows.design @ mean) ** 2 + unsure) / (4 + (fit.scale * 6) ** 2)
        assert fit.weight == pytest.approx(5 / (4 + squared), rel=5e-3)
        assert np.sum(fit.weight * squared) == pytest.approx(len(seen), rel=0.01)
        density = multivariate_normal(np.zeros(len(seen)), rows.design @ KNOWN @ rows.design.T + np.diag(noise))
        expected = density.logpdf(rows.seen) + len(seen) / 2 * np.log(2 * np.pi)
        assert fit.log_likelihood == pytest.approx(expected, abs=0.02)

    def test_checks_that_agree_narrow_their_spread_by_a_quarter_at_most(self):
        assert fit_bias(PRIOR, rows_of(np.full(20, 5.0))).scale == 0.75

    def test_checks_that_do_not_widen_it_threefold_at_most(self):
        assert fit_bias(PRIOR, rows_of(np.tile([-80.0, 80, -50, 50], 6))).scale == 3.0

    def test_two_sensors_side_by_side_tell_nothing_of_a_checks_spread(self):
        """A row with a fixed error beside checks: its weight is one, however far it lies off."""
        rows = rows_of(np.r_[np.linspace(2, 22, 12), 300.0])
        rows.soft[-1] = False
        assert fit_bias(PRIOR, rows).weight[-1] == 1.0

"""Is the fit below the biases the one of whole covariances, and its weights Student's? By numpy's and scipy's own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm, t

from glucolab.aligning.bias_fit import Observed, fit_bias

PRIOR = np.array([[400.0, 30, 0, 0], [30, 25, 0.3, 0], [0, 0.3, 0.04, 0], [0, 0, 0, 20]])


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
    along = rows.design @ PRIOR
    gain = np.linalg.solve(along @ rows.design.T + np.diag(noise), along).T
    return gain @ rows.seen, PRIOR - gain @ along


class TestNormal:
    def test_rows_with_fixed_errors_are_conditioned_on(self):
        rows = rows_of([12.0, 7, -3, 20, 9], fixed=3.0, soft=False)
        fit = fit_bias(PRIOR, rows)
        mean, cov = whole(rows, np.full(5, 9.0))
        assert fit.mean == pytest.approx(mean, rel=1e-8)
        np.testing.assert_allclose(fit.cov, cov, atol=1e-8)
        assert fit.weight.tolist() == [1.0] * 5
        assert fit.scale == 1.0

    def test_its_likelihood_is_the_density_of_what_was_seen(self):
        rows = rows_of([12.0, 7, -3, 20, 9], fixed=3.0, soft=False)
        density = multivariate_normal(np.zeros(5), rows.design @ PRIOR @ rows.design.T + 9 * np.eye(5))
        expected = density.logpdf(rows.seen) + 2.5 * np.log(2 * np.pi)
        assert fit_bias(PRIOR, rows).log_likelihood == pytest.approx(expected, rel=1e-8)

    def test_rows_touch_only_their_own_unknowns(self):
        """The first two of four, the other way about: the difference of the offsets of two that share nothing."""
        rows = Observed(
            np.array([[0, 3, 1, 1]]), np.array([[1.0, -1, 0, 0]]), np.array([10.0]), np.array([2.0]), np.zeros(1),
            np.zeros(1, bool),
        )  # fmt: skip
        fit = fit_bias(np.diag([16.0, 1, 1, 4]), rows)
        assert fit.mean == pytest.approx([160 / 24, 0, 0, -40 / 24])
        assert fit.cov[0, 0] == pytest.approx(16 - 256 / 24)


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
        assert fit.mean == pytest.approx(mean, abs=6e-3)
        np.testing.assert_allclose(np.diag(fit.cov), np.diag(cov), rtol=2e-3)
        unsure = np.einsum("ni,ij,nj->n", rows.design, cov, rows.design)
        squared = ((rows.seen - rows.design @ mean) ** 2 + unsure) / (4 + (fit.scale * 6) ** 2)
        assert fit.weight == pytest.approx(5 / (4 + squared), rel=5e-3)
        assert np.sum(fit.weight * squared) == pytest.approx(len(seen), rel=0.01)
        density = multivariate_normal(np.zeros(len(seen)), rows.design @ PRIOR @ rows.design.T + np.diag(noise))
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

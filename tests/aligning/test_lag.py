"""Is the lag's prior that of the sources, and is it moved only as far as checks can tell?

Prior 8.7 ± 5.2 min: Basu et al. 2013 (5-6 min, tracers), Boyne et al. 2003 (4-10), Staal et al. 2018 (2-24 per sensor),
as quoted in the source; lag of one wear cannot be learnt from six or twelve checks.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.aligning.lag import prior_lags, weigh_lags


def test_the_prior_lies_within_what_was_published():
    mean, low, high = prior_lags().interval()
    assert 5 < mean < 10
    assert 2 < low < 5
    assert 15 < high < 24


@pytest.mark.parametrize("nodes", [3, 5, 9])
def test_how_many_lags_stand_for_it_hardly_matters(nodes):
    assert prior_lags(nodes).interval() == pytest.approx(prior_lags(25).interval(), rel=0.02)


def test_weights_add_to_one_and_follow_the_likelihood():
    prior = prior_lags()
    same = weigh_lags(prior, np.full(5, -1e4))
    assert same.weight == pytest.approx(prior.weight)
    late = weigh_lags(prior, np.array([-1e4, -1e4, -1e4, 0.0, 3.0]))
    assert late.weight.sum() == pytest.approx(1)
    assert (late.weight[:3] == 0).all()
    assert late.interval()[0] > prior.interval()[0]


def test_the_priors_interval_is_that_of_its_log_normal():
    """Median 7.5 min and 0.55 of its logarithm, as stated: scipy's own."""
    of = stats.lognorm(0.55, scale=7.5)
    assert prior_lags().interval() == pytest.approx((of.mean(), *of.interval(0.9)), rel=1e-9)


def test_weights_narrow_the_interval_in_proportion():
    """All weight on two lags: the spread of their logarithms, grown by what midpoints of shares miss of the prior's."""
    prior = prior_lags()
    two = weigh_lags(prior, np.array([-1e5, 0.0, -1e5, 0.0, -1e5]))
    logs = np.log(prior.lag_min[[1, 3]])
    missed = np.var(stats.norm.ppf((np.arange(5) + 0.5) / 5))
    spread = np.std(logs) / np.sqrt(missed)
    of = stats.lognorm(spread, scale=np.exp(logs.mean()))
    assert two.interval() == pytest.approx((of.mean(), *of.interval(0.9)), rel=1e-9)


def test_checks_weigh_half_their_word():
    """A likelihood e² times another's makes its lag e times as believable."""
    prior = prior_lags()
    moved = weigh_lags(prior, np.array([0.0, 0.0, 2.0, 0.0, 0.0])).weight
    assert moved[2] / moved[1] == pytest.approx(np.e)

"""Is the lag's prior that of the sources, and is it moved only as far as checks can tell?

Prior 8.7 ± 5.2 min: Basu et al. 2013 (5-6 min, tracers), Boyne et al. 2003 (4-10), Staal et al. 2018 (2-24 per sensor),
as quoted in the source; lag of one wear cannot be learnt from six or twelve checks.
"""

from __future__ import annotations

import numpy as np
import pytest

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

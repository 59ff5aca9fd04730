"""Is the prior of how days differ what the open recordings say of people whom the judge does not cut in two?"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.measuring.days_apart import DAY_FRACTION, DAY_PRIOR_DF
from tests.known_truth.real_traces.day_prior import LONG_DAYS, Spread, learn, measure_spread
from tests.known_truth.real_traces.recordings import MISSING, find_root, read_people


def test_the_prior_is_what_people_say_who_are_not_judged_by_it():
    people = read_people(find_root())
    if not people:
        pytest.skip(MISSING.format(root=find_root()))
    spreads = [spread for spread in map(measure_spread, people) if 2 < spread.days < LONG_DAYS]
    fraction, df = learn(spreads)
    assert len(spreads) >= 12
    assert fraction == pytest.approx(DAY_FRACTION, rel=0.03)
    assert df == pytest.approx(DAY_PRIOR_DF, rel=0.05)


def test_learning_finds_the_spread_of_invented_people():
    """Two thousand of eight days: variances scaled inverse chi-squared about 0.05 squared, worth six days."""
    rng = np.random.default_rng(8)
    own = 6 * 0.05**2 / rng.chisquare(6, 2000)
    fraction, df = learn([Spread(8, one * rng.chisquare(7) / 7) for one in own])
    assert fraction == pytest.approx(0.05, rel=0.03)
    assert df == pytest.approx(6, rel=0.2)

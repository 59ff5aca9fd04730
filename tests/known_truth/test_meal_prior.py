"""Is what people's meals share what the open recordings say, and does it help a person it was not learnt from?"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.relating.predicting.meal_prior import CURVE_SCATTER_MG_DL, LOG_COLUMNS, SCATTER_MG_DL
from tests.known_truth.real_traces.meal_prior import LEARNT, Eaten, gather_eaten, learn
from tests.known_truth.real_traces.recordings import MISSING, find_root, read_people


@pytest.fixture(scope="module")
def eaten() -> list[Eaten]:
    people = [one for one in read_people(find_root()) if one.wearer]
    if not people:
        pytest.skip(MISSING.format(root=find_root()))
    return gather_eaten(people)


def test_the_prior_is_what_the_open_recordings_say(eaten):
    found = learn(eaten)
    held = np.array([[LOG_COLUMNS[name].rise, *LOG_COLUMNS[name].curve] for name in LEARNT])
    np.testing.assert_allclose(held, found.mean, rtol=0.02, atol=0.1)
    np.testing.assert_allclose([LOG_COLUMNS[name].spread for name in LEARNT], found.spread, atol=0.006)
    np.testing.assert_allclose([SCATTER_MG_DL, *CURVE_SCATTER_MG_DL], found.scatter, rtol=0.03)


def test_what_others_share_predicts_whoever_was_left_out(eaten):
    """Without a meal of their own: nearer than the mean of the others' meals, in most people and on average."""
    nearer = []
    for one in eaten:
        others = [other for other in eaten if other is not one]
        predicted = one.columns @ learn(others).mean
        usual = np.vstack([other.outcomes for other in others]).mean(axis=0)
        errors = [np.sqrt(np.mean((one.outcomes - values) ** 2)) for values in (predicted, usual)]
        nearer.append(errors[0] / errors[1])
    assert len(nearer) == 14
    assert np.mean(np.array(nearer) < 1) >= 0.9
    assert np.mean(nearer) < 0.9


def test_learning_finds_what_invented_people_share():
    """Thirty people of sixty meals whose coefficients scatter about known means."""
    rng = np.random.default_rng(12)
    p, scatter = len(LEARNT), 15.0
    mean = rng.normal(0, 10, (p, 7))
    people = []
    for _ in range(30):
        own = mean + 0.3 * scatter * rng.standard_normal((p, 7))
        columns = rng.standard_normal((60, p))
        people.append(Eaten(columns, columns @ own + scatter * rng.standard_normal((60, 7))))
    found = learn(people)
    assert np.sqrt(np.mean((found.mean - mean) ** 2)) < 1.5
    assert found.spread == pytest.approx(np.full(p, 0.3), abs=0.06)
    assert found.scatter == pytest.approx(np.full(7, scatter), rel=0.1)

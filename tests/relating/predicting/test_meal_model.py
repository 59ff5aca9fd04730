"""Is the model the textbook's, and does each column of the log hold what it says?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import Ridge

from glucolab.relating.predicting.meal_model import (
    begin,
    expect,
    expected_curves,
    expected_rises,
    fit,
    tabulate_groups,
    tabulate_log,
)
from glucolab.relating.predicting.meal_prior import CURVE_MIN, LOG_COLUMNS, USUAL_MISSES

NAMES = list(LOG_COLUMNS)
USUAL = {
    "hour": 12.0, "carbs_g": 45.0, "baseline_mg_dl": 95.0, "carbs_before_g": 0.0, "fat_g": 20.0, "protein_g": 20.0,
    "fiber_g": 5.0, "carbs_after_g": 0.0, "exercised": 0.0, "walk_after": 0.0, "protein_first": 0.0, "eaten_out": 0.0,
}  # fmt: skip


def row(level: float = 95.0, **changed) -> dict[str, float]:
    found = tabulate_log(pd.DataFrame([USUAL | changed]), np.array([level]))[0]
    return dict(zip(NAMES, found, strict=True))


def test_a_usual_meal_at_noon_is_nothing_but_a_meal():
    found = row()
    assert found.pop("one") == 1
    assert found.pop("midnight") == pytest.approx(-1)
    assert list(found.values()) == pytest.approx([0.0] * len(found))


@pytest.mark.parametrize(
    ("changed", "name", "value"),
    [
        ({"carbs_g": 90.0}, "carbs", np.log(120 / 75)), ({"carbs_g": 0.0}, "carbs", -np.log(2.5)),
        ({"baseline_mg_dl": 105.0}, "baseline", 0.5), ({"carbs_before_g": 30.0}, "carbs_before", np.log(2)),
        ({"hour": 6.0}, "morning", 1.0), ({"hour": 0.0}, "midnight", 1.0), ({"fat_g": 50.0}, "fat", 1.5),
        ({"protein_g": 0.0}, "protein", -1.0), ({"fiber_g": 12.5}, "fibre", 1.5),
        ({"carbs_after_g": 15.0}, "carbs_after", 0.5), ({"exercised": 1.0}, "exercised", 1.0),
        ({"walk_after": 1.0}, "walk_after", 1.0), ({"protein_first": 1.0}, "protein_first", 1.0),
        ({"eaten_out": 1.0}, "eaten_out", 1.0),
    ],
)  # fmt: skip
def test_each_column_moves_as_it_says(changed, name, value):
    assert row(**changed)[name] == pytest.approx(value)


@pytest.mark.parametrize("name", ["carbs_g", "fat_g", "protein_g", "fiber_g", "walk_after", "protein_first"])
def test_what_is_not_written_says_nothing(name):
    written, column = row(), {"carbs_g": "carbs", "fat_g": "fat", "protein_g": "protein", "fiber_g": "fibre"}
    assert row(**{name: np.nan})[column.get(name, name)] == 0
    assert row(**{name: np.nan}) == pytest.approx(written)


def test_where_nobody_knows_the_level_the_baseline_says_nothing():
    assert row(level=np.nan, baseline_mg_dl=140.0)["baseline"] == 0


def test_the_posterior_is_ridge_regression_toward_the_prior():
    """scikit-learn's Ridge on columns scaled by the prior's SDs, of what the prior leaves unexplained."""
    rng = np.random.default_rng(3)
    prior = expect(np.hstack([expected_rises(), expected_curves()[:, :2]]), 2, 1)
    columns, outcomes = rng.standard_normal((25, 17)), 30 * rng.standard_normal((25, 3))
    spread = prior.precision**-0.5
    ridge = Ridge(alpha=1.0, fit_intercept=False).fit(columns * spread, outcomes - columns @ prior.mean)
    model = fit(columns.T @ columns, columns.T @ outcomes, prior)
    np.testing.assert_allclose(model.mean, prior.mean + (ridge.coef_ * spread).T, rtol=1e-8)
    new = rng.standard_normal((4, 17))
    mean, wider = model.predict(new)
    np.testing.assert_allclose(mean, new @ model.mean)
    covariance = np.linalg.inv(columns.T @ columns + np.diag(1 / spread**2))
    np.testing.assert_allclose(wider, [np.sqrt(1 + one @ covariance @ one) for one in new])


def test_without_meals_the_prior_stands():
    prior = expect(expected_rises(), 1, 1)
    model = fit(np.zeros((16, 16)), np.zeros((16, 1)), prior)
    np.testing.assert_allclose(model.mean, prior.mean)
    assert prior.mean[:, 0].tolist() == [one.rise for one in LOG_COLUMNS.values()] + [0.0, 0.0]
    np.testing.assert_allclose(prior.precision[-2:], [1 / 0.4**2, 1 / 0.15**2])


def test_groups_have_a_column_each():
    found = tabulate_groups(np.array(["a", "", "b", "a"]), np.array(["a", "b"]))
    assert found.tolist() == [[1, 0], [0, 0], [0, 1], [1, 0]]


def test_what_is_expected_beforehand_is_of_every_time_and_sound():
    assert expected_curves().shape == (14, len(CURVE_MIN))
    assert (np.diff(USUAL_MISSES) > 0).all()
    assert -0.1 < USUAL_MISSES.mean() < 0.1
    assert np.mean(USUAL_MISSES**2) == pytest.approx(1.0, abs=0.06)


@pytest.mark.parametrize("parts", [(25,), (0, 25), (3, 0, 1, 21)])
def test_learning_meal_by_meal_is_learning_from_all(parts):
    rng = np.random.default_rng(6)
    prior = expect(expected_rises(), 2, 1)
    columns, rises = rng.standard_normal((25, 17)), 30 * rng.standard_normal((25, 1))
    model, first = begin(prior), 0
    for count in parts:
        model, first = model.learn(columns[first : first + count], rises[first : first + count]), first + count
    at_once = fit(columns.T @ columns, columns.T @ rises, prior)
    np.testing.assert_allclose(model.mean, at_once.mean, rtol=1e-8)
    np.testing.assert_allclose(model.covariance, at_once.covariance, rtol=1e-7, atol=1e-12)

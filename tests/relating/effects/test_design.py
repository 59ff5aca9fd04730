"""Does a question rest on enough? Rows counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.relating.effects.design import rests_on_many
from glucolab.relating.statistics.fixed_effects import RegressionRows


def rows(n: int, adjusted: int = 1, units: float = np.inf) -> RegressionRows:
    """Days of one wear."""
    rng = np.random.default_rng(0)
    none = np.empty((n, 0))
    outcome = rng.normal(size=n)
    return RegressionRows(
        outcome - outcome.mean(), (-1.0) ** np.arange(n), none, rng.normal(size=(n, adjusted)), np.zeros(n, int),
        np.arange(n), none, np.zeros(n), np.ones(n), units,
    )  # fmt: skip


@pytest.mark.parametrize(("n", "adjusted", "enough"), [(6, 1, True), (5, 1, False), (8, 3, True), (7, 3, False)])
def test_three_rows_to_spare_beyond_intercept_factor_and_what_is_adjusted_for(n, adjusted, enough):
    assert rests_on_many(rows(n, adjusted)) == enough


@pytest.mark.parametrize(("units", "enough"), [(3.0, True), (2.9, False)])
def test_three_dishes_to_spare(units, enough):
    assert rests_on_many(rows(30, units=units)) == enough


def test_an_outcome_that_never_differs_and_a_factor_of_one_day_answer_nothing():
    from dataclasses import replace

    assert not rests_on_many(replace(rows(30), outcome=np.zeros(30)))
    assert not rests_on_many(replace(rows(30), factor=np.r_[1.0, np.zeros(29)]))

"""Are wears' intercepts taken off as least squares takes off a column a wear, at the cost of one column?"""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from glucolab.relating.statistics.fixed_effects import RegressionRows, estimate_day_coefficient
from glucolab.relating.statistics.intercepts import WearIntercepts, orthonormal_basis, partial_out

WEAR = np.repeat(np.arange(5), [4, 1, 7, 3, 6])


def least_squares_rest(columns: np.ndarray, values: np.ndarray) -> np.ndarray:
    return values - columns @ np.linalg.lstsq(columns, values, rcond=None)[0]


@pytest.mark.parametrize("shape", [(21,), (21, 3)])
def test_levels_and_columns_beside_them_are_taken_off_as_least_squares_does(shape):
    rng = np.random.default_rng(1)
    values, beside = rng.normal(size=shape), rng.normal(size=(21, 4))
    a_wear_a_column = (WEAR[:, None] == np.arange(5)).astype(float)
    assert partial_out(values, WEAR) == pytest.approx(least_squares_rest(a_wear_a_column, values))
    both = np.column_stack([a_wear_a_column, beside])
    assert partial_out(values, WEAR, beside) == pytest.approx(least_squares_rest(both, values))


def test_levels_in_other_units_keep_to_their_rows():
    rng = np.random.default_rng(2)
    column, values = rng.uniform(0.5, 2, 21), rng.normal(size=(21, 2))
    found = WearIntercepts(column, WearIntercepts.of(WEAR).starts).partial_out(values)
    assert found == pytest.approx(least_squares_rest((WEAR[:, None] == np.arange(5)) * column[:, None], values))


def test_what_levels_make_up_leaves_nothing_not_even_rounding():
    told = np.column_stack([0.1 * WEAR + 1 / 3, np.full(21, 1e6 / 7)])
    assert not partial_out(told, WEAR).any()
    assert orthonormal_basis(WearIntercepts.of(WEAR).partial_out(told)).shape == (21, 0)


def test_two_thousand_wears_take_no_column_each():
    """One each would be 6,000 rows by 2,000 wears for every autocorrelation thought possible: over a gigabyte."""
    rng = np.random.default_rng(3)
    wear, n = np.repeat(np.arange(2000), 3), 6000
    none, outcome, factor = np.empty((n, 0)), *rng.normal(size=(2, n))
    rows = RegressionRows(
        partial_out(outcome, wear), factor, none, none, wear, np.arange(n), none, np.zeros(n), np.ones(n)
    )
    tracemalloc.start()
    try:
        estimate_day_coefficient(rows)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 50e6

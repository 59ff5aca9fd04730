"""Does the exact test agree with Fisher's own example, with counting, and with other software?

Darwin's maize: Fisher, The Design of Experiments, 1935, section 21; differences in eighths of an inch between crossed
and self-fertilised plants of 15 pairs, as in `HistData::ZeaMays`. The counts were enumerated anew.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import permutation_test

from glucolab.relating.trials.results import compare_drawn

MAIZE_EIGHTHS = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48])


def test_darwins_maize():
    """863 of 32768 ways give a sum of 314 or more: two-sided 0.0526733 (ties forgotten: 835)."""
    values = np.column_stack([np.full(15, 100.0), 100.0 + MAIZE_EIGHTHS]).ravel()
    difference, low, high, p_value = compare_drawn(values, np.tile([False, True], 15), np.repeat(np.arange(15), 2))
    assert difference == pytest.approx(314 / 15)
    assert p_value == pytest.approx(2 * 863 / 32768, abs=1e-12)
    assert 0 < low < difference < high  # 0.0527 < 0.10: nil is not in the 90 % interval
    ends = compare_drawn(values, np.tile([False, True], 15), np.repeat(np.arange(15), 2), level=0.95)[1:3]
    assert ends[0] < 0 < ends[1]  # 0.0527 > 0.05: it is in the 95 % one


@pytest.mark.parametrize(("n", "smallest"), [(3, 0.100), (4, 0.02857), (5, 0.00794)])
def test_smallest_p_that_so_few_occasions_can_give(n, smallest):
    values = np.concatenate([np.arange(n), 100.0 + np.arange(n)])
    p_value = compare_drawn(values, np.repeat([False, True], n), np.zeros(2 * n, int))[3]
    assert p_value == pytest.approx(smallest, abs=5e-6)


@pytest.mark.parametrize(("n_a", "n_b"), [(4, 6), (6, 6), (7, 5)])
def test_p_agrees_with_scipy(n_a, n_b):
    rng = np.random.default_rng(n_a)
    a, b = rng.normal(40, 10, n_a), rng.normal(33, 10, n_b)
    in_b = np.repeat([False, True], [n_a, n_b])
    mine = compare_drawn(np.concatenate([a, b]), in_b, np.zeros(n_a + n_b, int))

    def absolute(x, y, axis):
        return np.abs(np.mean(y, axis=axis) - np.mean(x, axis=axis))

    other = permutation_test((a, b), absolute, vectorized=True, n_resamples=np.inf, alternative="greater")
    assert mine[0] == pytest.approx(b.mean() - a.mean())
    assert mine[3] == pytest.approx(other.pvalue, abs=1e-12)


@pytest.mark.parametrize(("n_a", "n_b"), [(6, 6), (7, 5)])
def test_the_interval_ends_where_scipy_starts_to_reject(n_a, n_b):
    """Shifts just inside the interval have p above 0.10, those just outside at most 0.10."""
    rng = np.random.default_rng(8)
    a, b = rng.normal(40, 10, n_a), rng.normal(30, 10, n_b)
    in_b = np.repeat([False, True], [n_a, n_b])
    _, low, high, _ = compare_drawn(np.concatenate([a, b]), in_b, np.zeros(12, int))

    def p_of_shift(shift):
        def absolute(x, y, axis):
            return np.abs(np.mean(y, axis=axis) - np.mean(x, axis=axis))

        data = (a, b - shift)
        return permutation_test(data, absolute, vectorized=True, n_resamples=np.inf, alternative="greater").pvalue

    for inside, outside in ((low + 1e-6, low - 1e-6), (high - 1e-6, high + 1e-6)):
        assert p_of_shift(inside) > 0.10
        assert p_of_shift(outside) <= 0.10


def test_too_many_ways_are_drawn_at_random():
    """12 of 24 can be drawn in 2.7 million ways; p is then near that of all of them, and the same each time."""
    rng = np.random.default_rng(5)
    a, b = rng.normal(40, 10, 12), rng.normal(34, 10, 12)
    in_b = np.repeat([False, True], 12)
    first, again = (compare_drawn(np.concatenate([a, b]), in_b, np.zeros(24, int)) for _ in range(2))
    assert first == again

    def absolute(x, y, axis):
        return np.abs(np.mean(y, axis=axis) - np.mean(x, axis=axis))

    other = permutation_test(
        (a, b),
        absolute,
        vectorized=True,
        n_resamples=99_999,
        batch=5000,
        alternative="greater",
        rng=np.random.default_rng(1),
    )
    assert first[3] == pytest.approx(other.pvalue, abs=0.012)

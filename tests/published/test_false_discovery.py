"""Are q-values those of the paper and of other software?

Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300: the 15 p-values of their example, of which their procedure
rejects 4 at 0.05 and Bonferroni's 3. The held values follow by arithmetic and agree with SciPy and statsmodels.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import false_discovery_control

from glucolab.relating.statistics.claims import adjust_p_values

P_VALUES = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
            0.7590, 1.0000]  # fmt: skip
ADJUSTED = [0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765, 0.486, 0.581182, 0.714875,
            0.753231, 0.813214, 1.0]  # fmt: skip


def test_the_fifteen_of_the_paper():
    q = adjust_p_values(np.array(P_VALUES))
    np.testing.assert_allclose(q, ADJUSTED, atol=5e-7)
    assert np.count_nonzero(q <= 0.05) == 4


@pytest.mark.parametrize("seed", range(5))
def test_as_other_software_in_any_order_with_ties_and_holes(seed):
    rng = np.random.default_rng(seed)
    p = np.round(rng.uniform(0, 1, 40) ** 2, 2)
    missing = rng.random(40) < 0.2
    q = adjust_p_values(np.where(missing, np.nan, p))
    assert np.isnan(q[missing]).all()
    np.testing.assert_allclose(q[~missing], false_discovery_control(p[~missing], method="bh"))


def test_nothing_asked():
    assert np.isnan(adjust_p_values(np.array([np.nan, np.nan]))).all()
    assert adjust_p_values(np.array([])).shape == (0,)


def test_weighted_for_what_is_likelier_eight_of_the_fifteen_are_rejected():
    """Genovese, Roeder & Wasserman, Biometrika 2006;93:509 (from memory): the procedure on p / w, weights of mean 1.

    Worked by hand on the fifteen above: 1.8 on the fifth to eighth and 0.70909 elsewhere, eight fall below 0.05 instead
    of four.
    """
    weights = np.where(np.isin(np.arange(15), [4, 5, 6, 7]), 1.8, 0.70909)
    q = adjust_p_values(np.array(P_VALUES), weights)
    assert np.count_nonzero(q <= 0.05) == 8
    np.testing.assert_allclose(adjust_p_values(np.array(P_VALUES), 7 * weights), q)

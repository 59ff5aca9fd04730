"""Are repeats planned as other software plans them?

The power of the paired t test by statsmodels (noncentral t); differences of pairs spread √2 times as far as eatings. A
permutation test of pairs has the same power but for its coarse p-values, which five pairs feel most: of their 32 ways
only the two furthest stay under 0.10. Fisher 1935, section 21, showed how closely the two agree on one example.
"""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.power import TTestPower

from glucolab.relating.planning.trial_design import SIMULATED, EatingSpread, find_smallest_difference, plan_repeats

SD_MG_DL = 12.0
KNOWN = EatingSpread(np.full(SIMULATED, SD_MG_DL), 0)


@pytest.mark.parametrize("difference_mg_dl", [0.0, 6.0, 12.0, 18.0])
def test_chance_that_repeats_tell_a_difference(difference_mg_dl):
    ours = plan_repeats(difference_mg_dl, KNOWN, seed=1).set_index("repeats")["chance_told"]
    for repeats in (6, 8, 12):
        power = TTestPower().power(difference_mg_dl / SD_MG_DL / np.sqrt(2), nobs=repeats, alpha=0.10)
        assert ours[repeats] == pytest.approx(power, abs=0.08)  # 400 experiments: three standard errors are 0.075


def test_smallest_difference_that_is_told_four_times_out_of_five():
    size = TTestPower().solve_power(nobs=8, alpha=0.10, power=0.8) * np.sqrt(2)
    assert find_smallest_difference(8, 1.0, KNOWN, seed=2) == pytest.approx(size * SD_MG_DL, rel=0.1)


def test_five_pairs_can_tell_at_all_but_not_four():
    """32 ways of drawing five pairs: the smallest two-sided p is 0.0625; of four pairs it is 0.125 (counted)."""
    sure = plan_repeats(1000.0, KNOWN, seed=3)
    assert sure["repeats"].iloc[0] == 5
    assert (sure["chance_told"] == 1.0).all()

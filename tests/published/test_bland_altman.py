"""Do two methods agree as in the paper that said how to ask?

Peak flow of 17 people by two meters, first readings (Bland & Altman, Lancet 1986;i:307-310, its table; the data as
statistics packages carry them in example code). The paper prints a mean difference of -2.1 l/min, an SD of 38.8, a
standard error of the mean of 9.4 and of a limit of 16.3, and limits of -79.7 and 75.5, which are two SD of rounded
numbers: 1.96 SD of the data themselves give -78.097 and 73.862 (computed by hand from them).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import nct

from glucolab.relating.comparing.agreement import measure_agreement

WRIGHT = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


@pytest.fixture
def found():
    return measure_agreement(np.array(WRIGHT), np.array(MINI))


def test_mean_difference_and_spread(found):
    assert found.n == 17
    assert found.difference == pytest.approx(-2.11765, abs=1e-5)
    assert found.sd == pytest.approx(38.76513, abs=1e-5)
    assert round(found.difference, 1) == -2.1
    assert round(found.sd, 1) == 38.8


def test_limits_of_agreement(found):
    assert found.limit_low == pytest.approx(-78.097, abs=1e-3)
    assert found.limit_high == pytest.approx(73.862, abs=1e-3)
    # the paper's own, two of its rounded SD about its rounded mean
    assert found.limit_low == pytest.approx(-79.7, abs=2)
    assert found.limit_high == pytest.approx(75.5, abs=2)


def test_the_mean_s_interval_is_student_s(found):
    """t of 16 degrees of freedom at 0.95 is 1.746 (any table); the standard error is printed as 9.4."""
    assert (found.high - found.low) / 2 == pytest.approx(1.746 * 9.4019, abs=0.01)
    assert (found.high + found.low) / 2 == pytest.approx(found.difference)


def test_the_standard_error_of_a_limit(found):
    assert round(found.limit_se, 1) == 16.3
    assert found.limit_se == pytest.approx(16.285, abs=1e-3)


def test_a_limit_s_interval_is_that_of_a_normal_quantile(found):
    """Noncentral t by scipy.stats, another routine; longer outwards than the paper's symmetric one of 28.4."""
    scale, away = found.sd / np.sqrt(17), 1.96 * np.sqrt(17)
    near, far = (nct.ppf(p, 16, away) * scale for p in (0.05, 0.95))
    assert found.limit_high_ends == pytest.approx((found.difference + near, found.difference + far), abs=1e-6)
    assert found.limit_low_ends == pytest.approx((found.difference - far, found.difference - near), abs=1e-6)
    inner, outer = found.limit_high - found.limit_high_ends[0], found.limit_high_ends[1] - found.limit_high
    assert inner < 1.746 * 16.285 < outer

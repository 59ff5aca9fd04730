"""Is the trend generalised least squares, as wide as its errors and what the fit leaves? Against statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from glucolab.relating.comparing.periods import build_periods
from glucolab.relating.comparing.trend import estimate_trend
from tests.relating.comparing.measured import make_bias, measured

STARTS = np.array([0.0, 40.0, 75.0, 130.0, 170.0])
COV = 4.0 * np.eye(5) + 3.0


def trend(usual):
    wears = [measured(f"w{i}", start, level) for i, (start, level) in enumerate(zip(STARTS, usual, strict=False))]
    bias = make_bias([0.0] * len(wears), COV[: len(wears), : len(wears)])
    return estimate_trend(build_periods(wears, bias), wears, bias)


def by_statsmodels(usual):
    months = (STARTS + 2) / 30
    errors = COV + np.diag(np.full(5, 1.5))
    return sm.GLS(np.asarray(usual), sm.add_constant(months), sigma=errors).fit()


@pytest.mark.parametrize("usual", [[100.0, 99.0, 97.5, 96.0, 94.0], [100.0, 108.0, 90.0, 104.0, 92.0]])
def test_slope_and_width(usual):
    """The errors are known: the scale is 1 unless the fit leaves more; its t has the fit's 3 and 3 more degrees."""
    found, withheld = trend(usual)
    fit = by_statsmodels(usual)
    assert withheld == ""
    assert found["estimate"] == pytest.approx(fit.params[1])
    se = np.sqrt(fit.normalized_cov_params[1, 1] * max(fit.scale, 1.0))
    assert found["high"] - found["estimate"] == pytest.approx(stats.t.ppf(0.95, 3 + 3) * se)
    assert found["estimate"] - found["low"] == pytest.approx(stats.t.ppf(0.95, 3 + 3) * se)


def test_three_stretches_are_too_few():
    found, withheld = trend([100.0, 99.0, 98.0])
    assert found is None
    assert withheld == "A trend needs four separate periods; you have 3."
    assert trend([100.0, 99.0, 98.0, 97.0])[0] is not None

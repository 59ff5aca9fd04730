"""Is HOMA-IR what is printed?

Formula: Matthews et al., Diabetologia 1985;28:412-419 (seen on formula pages). Cases: computed from it by hand; 4.5
mmol/L and 5 mIU/L is the normalising one. HOMA-IR and QUICKI (Katz et al., J Clin Endocrinol Metab 2000;85:2402-2410)
are one another: 1/QUICKI = log10(405.35 HOMA-IR); the values of QUICKI are those of its own formula.
"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.relating.labs.analytes import ANALYTES
from glucolab.relating.labs.insulin_resistance import HOMA_IR, homa_ir

MG_DL = 18.0156
"""Molar mass of glucose 180.156 g/mol."""


@pytest.mark.parametrize(
    ("mmol_l", "miu_l", "expected", "quicki"),
    [(4.5, 5, 1.0, 0.3835), (5.0, 6, 1.3333, 0.3659), (5.0, 10, 2.2222, 0.3385), (5.5, 12, 2.9333, 0.3252)],
)
def test_printed_cases(mmol_l, miu_l, expected, quicki):
    value = homa_ir(mmol_l * MG_DL, miu_l)
    assert value == pytest.approx(expected, abs=1e-4)
    assert 1 / np.log10(405.35 * value) == pytest.approx(quicki, abs=1e-4)


def test_the_form_in_mg_dl_differs_by_the_factor_alone():
    """Glucose in mg/dL times insulin over 405 takes 18 for 18.016: 0.09 % apart."""
    assert homa_ir(90, 8) == pytest.approx(90 * 8 / 405, rel=1e-3)


def test_one_draw_fixes_it_about_as_loosely_as_its_insulin():
    """Insulin's CV 28.4 % and 5 %, glucose's 5 % and 2 %: 29.3 % if they vary apart, 33.8 % if always together."""
    total = np.hypot(HOMA_IR.cv_within_percent, HOMA_IR.cv_assay_percent)
    assert 29.3 < total < 33.8
    assert HOMA_IR.cv_within_percent > ANALYTES["insulin"].cv_within_percent


@pytest.mark.parametrize("correlation", [0.0, 0.5, 1.0])
def test_its_interval_holds_whatever_the_correlation(correlation):
    """Draws about a fixed level, log-normal, analytes independent in the laboratory: made for a correlation
    of 0.2, it holds 0.91, 0.88 and 0.86 by the normal distribution."""
    rng = np.random.default_rng(5)
    cv = {name: (ANALYTES[name].cv_within_percent / 100, ANALYTES[name].cv_assay_percent / 100)
          for name in ("glucose", "insulin")}  # fmt: skip
    sigma = {name: np.sqrt(np.log1p(np.square(pair))) for name, pair in cv.items()}
    shared, own = rng.standard_normal((2, 100_000))
    glucose = sigma["glucose"][0] * shared + sigma["glucose"][1] * rng.standard_normal(100_000)
    insulin = sigma["insulin"][0] * (correlation * shared + np.sqrt(1 - correlation**2) * own)
    insulin += sigma["insulin"][1] * rng.standard_normal(100_000)
    reach = 1.645 * np.sqrt(np.log1p((HOMA_IR.cv_within_percent**2 + HOMA_IR.cv_assay_percent**2) / 1e4))
    held = {0.0: 0.911, 0.5: 0.884, 1.0: 0.859}[correlation]
    assert np.mean(np.abs(glucose + insulin) < reach) == pytest.approx(held, abs=0.004)

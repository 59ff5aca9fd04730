"""Do mg/dL and mmol/L agree with the molar mass and with what guidelines print?

Molar mass of glucose 180.156 g/mol (C6H12O6). Printed pairs: international consensus on glucose monitoring, Danne
et al., Diabetes Care 2017;40:1631, table 1, and the diagnostic cut-offs of the American Diabetes Association's
standards.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from glucolab.units import MG_DL_PER_MMOL_L, glucose_from_mg_dl, glucose_to_mg_dl

PRINTED = {54: 3.0, 63: 3.5, 70: 3.9, 100: 5.6, 126: 7.0, 140: 7.8, 180: 10.0, 200: 11.1, 250: 13.9}
TO_THREE_DECIMALS = {
    54: 2.997,
    63: 3.497,
    70: 3.886,
    100: 5.551,
    126: 6.994,
    140: 7.771,
    180: 9.991,
    200: 11.101,
    250: 13.877,
}
"""Computed with 18.0156."""


def test_the_factor_is_the_molar_mass():
    carbon, hydrogen, oxygen = 12.011, 1.008, 15.999  # standard atomic weights
    assert pytest.approx((6 * carbon + 12 * hydrogen + 6 * oxygen) / 10, abs=1e-4) == MG_DL_PER_MMOL_L


@pytest.mark.parametrize(("mg_dl", "mmol_l"), PRINTED.items())
def test_printed_pairs_agree_to_their_one_decimal(mg_dl, mmol_l):
    assert glucose_from_mg_dl(float(mg_dl), "mmol/L") == pytest.approx(mmol_l, abs=0.0501)


@pytest.mark.parametrize(("mg_dl", "mmol_l"), TO_THREE_DECIMALS.items())
def test_the_exact_value(mg_dl, mmol_l):
    assert glucose_from_mg_dl(float(mg_dl), "mmol/L") == pytest.approx(mmol_l, abs=5e-4)


def test_printed_thresholds_are_not_the_same_threshold():
    """3.9 mmol/L is 70.26 mg/dL: 70 mg/dL is within a range from 70 and below one from 3.9 (computed)."""
    assert glucose_to_mg_dl(3.9, "mmol/L") == pytest.approx(70.26, abs=0.005)
    assert glucose_to_mg_dl(7.8, "mmol/L") == pytest.approx(140.52, abs=0.005)


@given(st.floats(0, 1000))
def test_there_and_back(value):
    assert glucose_to_mg_dl(glucose_from_mg_dl(value, "mmol/L"), "mmol/L") == pytest.approx(value, rel=1e-12)
    assert glucose_from_mg_dl(value, "mg/dL") == value


def test_shapes_are_kept():
    values = np.array([[90.0, 180.156]])
    assert glucose_from_mg_dl(values, "mmol/L")[0, 1] == pytest.approx(10)


@pytest.mark.parametrize("unit", ["mg", "mmol", "MG/DL", ""])
def test_another_unit_is_refused_by_name(unit):
    with pytest.raises(ValueError, match="mg/dL, mmol/L"):
        glucose_to_mg_dl(90.0, unit)

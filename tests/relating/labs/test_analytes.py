"""Are values turned into one unit by molar masses, and changes judged by how far printed variations take them?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.relating.labs.analytes import ANALYTES, read_values, reference_change_percent
from glucolab.relating.labs.changes import compare_labs
from tests.hand_made import make_table

CARBON, HYDROGEN, OXYGEN = 12.011, 1.008, 15.999
CHOLESTEROL_G = 27 * CARBON + 46 * HYDROGEN + OXYGEN
"""Molar mass of C27H46O [g/mol]."""
GLUCOSE_G = 6 * CARBON + 12 * HYDROGEN + 6 * OXYGEN
"""Of C6H12O6 [g/mol]."""
TRIOLEIN_G = 57 * CARBON + 104 * HYDROGEN + 6 * OXYGEN
"""Of C57H104O6, the fat whose mass stands for all triglycerides [g/mol]."""


def lab(value, analyte="glucose", unit="mg/dL", date="2026-02-10", **more):
    return {"date": pd.Timestamp(date), "analyte": analyte, "value": value, "unit": unit, "fasting": True, **more}


def read(*rows):
    values, problems = read_values(make_table("labs", *rows))
    return values["value"].tolist(), [(problem.line, problem.text) for problem in problems]


@pytest.mark.parametrize(
    ("analyte", "unit", "of_one"),
    [
        ("glucose", "mg/dL", 1), ("glucose", "mmol/L", GLUCOSE_G / 10), ("glucose", "g/L", 100),
        ("triglycerides", "mg/dL", 1), ("triglycerides", "mmol/L", TRIOLEIN_G / 10), ("triglycerides", "g/L", 100),
        *((f"{kind}_cholesterol", unit, factor) for kind in ("hdl", "ldl", "total")
          for unit, factor in (("mg/dL", 1), ("mmol/L", CHOLESTEROL_G / 10), ("g/L", 100))),
        ("insulin", "mIU/L", 1), ("insulin", "mU/L", 1), ("insulin", "µIU/mL", 1), ("insulin", "µU/mL", 1),
        ("hba1c", "%", 1), ("hs_crp", "mg/L", 1), ("hs_crp", "mg/dL", 10), ("hs_crp", "µg/mL", 1),
    ],
)  # fmt: skip
def test_a_value_in_another_unit_is_the_same_amount(analyte, unit, of_one):
    """A mmol a litre is a tenth of the molar mass in mg a dL; the other factors are what the prefixes say."""
    assert read(lab(3.0, analyte, unit))[0] == pytest.approx([3 * of_one], rel=5e-4)


def test_six_picomoles_of_insulin_are_a_thousandth_of_a_unit():
    """Clin Biochem 2017;50:408 (abstract): 6.00 pmol a mIU; the common 6.945 makes a seventh less of it."""
    assert read(lab(42.0, "insulin", "pmol/L"))[0] == pytest.approx([7.0])


def test_hba1c_in_mmol_a_mol_by_the_line_of_the_two_networks():
    """0.09148 a mmol/mol, and 2.152: 0 and 100 mmol/mol make 2.152 and 11.3 %."""
    value, _ = read(lab(100.0, "hba1c", "mmol/mol"), lab(1e-9, "hba1c", "mmol/mol", date="2026-03-10"))
    assert value == pytest.approx([11.3, 2.152], abs=1e-6)


VARIATIONS = {
    "glucose": (5.0, 2.0), "insulin": (28.4, 5.0), "hba1c": (1.2, 2.0), "triglycerides": (22.6, 3.0),
    "hdl_cholesterol": (7.4, 3.0), "ldl_cholesterol": (9.5, 3.0), "total_cholesterol": (6.1, 3.0),
    "hs_crp": (42.2, 5.0),
}  # fmt: skip
"""Within a person, from the sources named in the table of analytes, and in a good routine laboratory [%]."""


def ratio_of_unchanged(cv: float):
    """Of two values of one person, log-normal of that variation; their logarithms differ by √2 of what one's do."""
    sigma = np.sqrt(np.log(1 + cv**2))
    one = stats.lognorm(sigma)
    assert one.std() / one.mean() == pytest.approx(cv)
    return stats.lognorm(np.sqrt(2) * sigma)


@pytest.mark.parametrize("analyte", VARIATIONS)
def test_a_change_is_noise_up_to_where_one_of_forty_unchanged_pairs_lies(analyte):
    """Both variations add as variances; beyond either end lie 2.5 % of the log-normal ratios (scipy's quantiles)."""
    ratio = ratio_of_unchanged(np.hypot(*VARIATIONS[analyte]) / 100)
    unit = ANALYTES[analyte].unit
    for factor, far in ((0.3, 1 - ratio.ppf(0.025)), (4.0, ratio.ppf(0.975) - 1)):
        rows = lab(50.0, analyte, unit), lab(50 * factor, analyte, unit, "2026-06-10")
        values, _ = read_values(make_table("labs", *rows))
        row = compare_labs(values).iloc[0]
        assert row["reference_change_percent"] == pytest.approx(100 * far, rel=1e-6)
        assert row["change_percent"] == pytest.approx(100 * (factor - 1))


def test_every_analyte_is_held_by_its_variation():
    assert set(VARIATIONS) == set(ANALYTES)


def test_a_value_that_did_not_change_stands_beside_the_noise_upward():
    values, _ = read_values(make_table("labs", lab(90.0), lab(90.0, date="2026-06-10")))
    row = compare_labs(values).iloc[0]
    assert (row["change_percent"], row["verdict"]) == (0.0, "cannot_tell_yet")
    assert row["reference_change_percent"] == pytest.approx(reference_change_percent(5.0, 2.0)[1])
    assert row["reference_change_percent"] > reference_change_percent(5.0, 2.0)[0]


@pytest.mark.parametrize(("mmol_l", "one"), [(1.0199, True), (1 / 1.0199, True), (1.0201, False), (1 / 1.0201, False)])
def test_one_result_in_two_units_may_differ_by_two_in_a_hundred(mmol_l, one):
    """90 mg/dL, and that in mmol/L, off by a little less or more."""
    found, problems = read(lab(90.0), lab(90 * mmol_l / (GLUCOSE_G / 10), unit="mmol/L"))
    assert (len(found), len(problems)) == ((1, 0) if one else (0, 1))


def test_in_one_unit_only_the_last_digits_of_a_spreadsheet_may_differ():
    assert read(lab(90.0), lab(90.0 + 1e-11)) == ([90.0], [])
    assert read(lab(90.0 + 1e-11), lab(90.0)) == ([90.0 + 1e-11], [])
    assert read(lab(90.0), lab(90.001))[0] == []


def test_the_smallest_value_above_nothing_is_one_and_nothing_is_none():
    assert read(lab(1e-6))[0] == [1e-6]
    found, problems = read(lab(0.0), lab(90.0, date="2026-03-10"), lab(91.0, date="2026-03-10"))
    assert found == []
    assert [line for line, _ in problems] == [2, 4], "problems of rows and of repeats, in the order of lines"

"""Are reference change values and laboratory units those that are printed?

Formula: Fraser & Harris 1983; logarithmic form: Fokkema et al., Clin Chem 2006;52:1602 (both from memory). Limits below
are computed from CV_I of the sources named in `ANALYTES`. Worked example: Li W et al. 2014,
doi 10.3969/j.issn.1674-9081.2014.03.005 (abstract).
"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.relating.labs.analytes import ANALYTES, read_values, reference_change_percent
from glucolab.relating.labs.changes import compare_labs
from tests.hand_made import make_table

UP_AND_DOWN = {
    "glucose": (16.1, 13.9), "hba1c": (6.7, 6.3), "insulin": (119, 54), "triglycerides": (87, 46),
    "hdl_cholesterol": (25, 20), "ldl_cholesterol": (32, 24), "hs_crp": (209, 68),
}  # fmt: skip
"""References 8.3, insulin's by the same form for 28.4 % beside an assay of 5; [%]."""


@pytest.mark.parametrize("analyte", UP_AND_DOWN)
def test_limits_of_each_analyte(analyte):
    about = ANALYTES[analyte]
    down, up = reference_change_percent(about.cv_within_percent, about.cv_assay_percent)
    assert up == pytest.approx(UP_AND_DOWN[analyte][0], abs=0.55 if up > 17 else 0.06)
    assert down == pytest.approx(UP_AND_DOWN[analyte][1], abs=0.55 if up > 17 else 0.06)


@pytest.mark.parametrize(("cv_within", "printed"), [(1.49, 4.45), (1.32, 4.02)])
def test_worked_example_of_hba1c(cv_within, printed):
    """Men and women, CV_A 0.6 %, 95 %; at so small a variation both directions are the printed one but for a tenth."""
    down, up = reference_change_percent(cv_within, 0.6)
    assert (down + up) / 2 == pytest.approx(printed, abs=0.01)
    assert down < printed < up < printed + 0.11


def test_unchanged_people_lie_beyond_it_five_times_in_a_hundred():
    """Two values of people who have not changed, CV 25 %, log-normal: 2.5 % in each direction."""
    rng = np.random.default_rng(3)
    sigma = np.sqrt(np.log1p(0.25**2))
    change = 100 * np.expm1(sigma * (rng.standard_normal(200_000) - rng.standard_normal(200_000)))
    down, up = reference_change_percent(25.0, 0.0)
    assert np.mean(change > up) == pytest.approx(0.025, abs=0.0015)
    assert np.mean(change < -down) == pytest.approx(0.025, abs=0.0015)


@pytest.mark.parametrize(
    ("analyte", "value", "unit", "expected", "within"),
    [
        ("glucose", 5.551, "mmol/L", 100, 0.01),  # molar mass 180.156 g/mol
        ("HbA1c", 48, "mmol/mol", 6.54, 0.005),  # the line of the IFCC network, references 3.4
        ("HbA1c", 39, "mmol/mol", 5.72, 0.005),
        ("triglycerides", 1.7, "mmol/L", 150, 1.0),  # pairs printed in guidelines, from memory
        ("LDL cholesterol", 2.6, "mmol/L", 100, 1.0),
        ("HDL-C", 1.03, "mmol/L", 40, 0.5),
        ("total cholesterol", 5.2, "mmol/L", 200, 2.0),
        ("insulin", 60, "pmol/L", 10, 0.01),  # 6.0 pmol a mIU, from memory
        ("hs-CRP", 0.2, "mg/dL", 2, 1e-9),  # from here on by what the prefixes say
        ("hs-CRP", 2, "µg/mL", 2, 1e-9),
        ("glucose", 0.95, "g/L", 95, 1e-9),
        ("triglycerides", 1.5, "g/L", 150, 1e-9),
        ("LDL cholesterol", 1.2, "g/L", 120, 1e-9),
        ("insulin", 8, "mU/L", 8, 1e-9),
        ("insulin", 8, "µIU/mL", 8, 1e-9),
        ("insulin", 8, "µU/mL", 8, 1e-9),
    ],
)
def test_units_become_one(analyte, value, unit, expected, within):
    table = make_table("labs", *(
        {"date": day, "analyte": analyte, "value": value, "unit": unit} for day in ("2026-01-10", "2026-05-10")
    ))  # fmt: skip
    values, problems = read_values(table)
    assert problems == []
    assert compare_labs(values)["value_b"].tolist() == pytest.approx([expected], abs=within)

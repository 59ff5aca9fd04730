"""When is a laboratory value a clinician's? Bands: ADA standards of care, as in references.md 3.5 (seen)."""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.relating.labs.analytes import read_values
from glucolab.relating.labs.cautions import find_lab_cautions
from tests.hand_made import make_table


def labs(analyte: str, value: float, unit: str, fasting: bool):
    row = {"date": pd.Timestamp("2026-02-10"), "analyte": analyte, "value": value, "unit": unit, "fasting": fasting}
    return read_values(make_table("labs", row))[0]


@pytest.mark.parametrize(
    ("row", "count"),
    [
        (("glucose", 99.0, "mg/dL", True), 0),
        (("glucose", 100.0, "mg/dL", True), 1),
        (("glucose", 5.6, "mmol/L", True), 1),
        (("glucose", 150.0, "mg/dL", False), 0),
        (("glucose", 200.0, "mg/dL", False), 1),
        (("hba1c", 5.6, "%", True), 0),
        (("hba1c", 5.7, "%", True), 1),
    ],
)
def test_a_band_of_the_standards_sends_to_a_clinician(row, count):
    found = find_lab_cautions(labs(*row))
    assert len(found) == count
    assert all("clinician" in sentence for sentence in found)


def test_no_labs_no_sentence():
    assert find_lab_cautions(labs("glucose", 90.0, "mg/dL", True).iloc[:0]) == []

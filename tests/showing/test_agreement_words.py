"""Do the sentences on sensor and finger-stick say what the table supports, and no more?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.record.study_outputs import CHECK_AGREEMENT
from glucolab.showing.display import Display
from glucolab.showing.words.findings.agreement import say_agreement

MG, MMOL, HIDDEN = Display("mg/dL", True), Display("mmol/L", True), Display("mg/dL", False)
FULL = {
    "wear": "2026-02_winter", "sensor_model": "A", "meter": "M", "n": 12, "difference_mg_dl": 9.0, "low_mg_dl": 5.0,
    "high_mg_dl": 13.0, "sd_mg_dl": 8.0, "limit_low_mg_dl": -6.7, "limit_low_low_mg_dl": -16.0,
    "limit_low_high_mg_dl": -2.0, "limit_high_mg_dl": 24.7, "limit_high_low_mg_dl": 20.0,
    "limit_high_high_mg_dl": 34.0, "slope": 0.2, "slope_low": 0.1, "slope_high": 0.3, "slope_told": True,
}  # fmt: skip


def row(**changes) -> pd.Series:
    return pd.Series(FULL | changes, dtype=object).reindex(CHECK_AGREEMENT.names)


def few(n: int) -> pd.Series:
    known = {"wear": "w", "n": n} | ({} if n < 3 else {"difference_mg_dl": 9.0, "low_mg_dl": 5.0, "high_mg_dl": 13.0})
    return pd.Series(dict.fromkeys(CHECK_AGREEMENT.names, np.nan) | known, dtype=object)


def test_average_limits_and_level_are_said():
    said = say_agreement(row(), MG)
    assert "2026-02 winter: as measured, this sensor read 9\N{NO-BREAK SPACE}mg/dL above your meter" in said
    assert "(5 to 13), in 12 finger-sticks" in said
    assert "between −7 and +25\N{NO-BREAK SPACE}mg/dL" in said
    assert "as far out as −16 and +34" in said
    assert "The higher glucose was, the higher it read against the meter" in said


def test_below_is_said_in_positive_figures():
    said = say_agreement(row(difference_mg_dl=-9.0, low_mg_dl=-13.0, high_mg_dl=-5.0, slope_told=False), MG)
    assert "read 9\N{NO-BREAK SPACE}mg/dL below your meter on average (5 to 13)" in said
    assert "against the meter" not in said


def test_an_interval_across_nought_takes_no_side():
    said = say_agreement(row(low_mg_dl=-2.0, high_mg_dl=20.0), MG)
    assert "cannot tell above from below" in said
    assert " above your meter" not in said


@pytest.mark.parametrize(("n", "words"), [(0, "0 finger-sticks"), (1, "one finger-stick "), (2, "two finger-sticks")])
def test_too_few_say_how_many_are_needed(n, words):
    said = say_agreement(few(n), MG)
    assert words in said.replace("zero", "0").replace("no finger", "0 finger")
    assert "an average needs three" in said


def test_an_average_without_limits_says_how_many_more():
    assert "takes three more to say" in say_agreement(few(5), MG)
    assert "takes one more to say" in say_agreement(few(7), MG)


def test_hidden_numbers_and_the_other_unit():
    hidden = say_agreement(row(), HIDDEN)
    assert "mg/dL" not in hidden
    assert "9" not in hidden.replace("2026-02", "")
    assert "above your meter" in hidden
    said = say_agreement(row(), MMOL)
    assert "0.5\N{NO-BREAK SPACE}mmol/L above" in said
    assert "mg/dL" not in said

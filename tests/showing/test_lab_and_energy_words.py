"""Do the sentences on the laboratory and on energy say what their tables say, without figures where none are wanted?"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from glucolab.showing.display import Display
from glucolab.showing.words.findings.energy import CAUTION, say_energy
from glucolab.showing.words.findings.labs import HOMA_MEANS, WRITE_IT_DOWN, say_lab_checks, say_lab_indices

MG, MMOL, WORDS_ONLY = Display(), Display("mmol/L"), Display(numbers=False)
CHECK = {
    "date": pd.Timestamp("2026-02-10"), "time": "07:30", "wear": "2026-02_winter", "value_mg_dl": 87.0,
    "raw_mg_dl": 101.0, "sensor_mg_dl": 96.0, "low_mg_dl": 85.0, "high_mg_dl": 107.0, "difference_mg_dl": 9.0,
    "difference_low_mg_dl": -3.0,
    "difference_high_mg_dl": 21.0, "verdict": "cannot_tell_yet", "check_line": np.nan, "reason": "",
}  # fmt: skip
INDEX = {"date": pd.Timestamp("2026-02-10"), "value": 1.48, "low": 0.93, "high": 2.36, "reason": ""}
ROW = {"feeling": "energy", "estimate": -0.2, "low": -0.6, "high": 0.2, "n": 27, "n_days": 18, "needed": np.nan,
       "range_from": 12.0, "range_to": 46.0, "range_estimate": -0.7, "range_low": -2.0, "range_high": 0.7}  # fmt: skip


def said(display=MG, **changes):
    return say_lab_checks(pd.DataFrame([CHECK | changes]), display)


def test_a_draw_beside_the_sensor():
    sentence, advice = said()
    assert "10 Feb 2026, 07:30, during 2026-02 winter: laboratory 87 mg/dL" in sentence
    assert "96 (85 to 107), its reading as measured 101" in sentence
    assert "+9\u00a0mg/dL (\u22123 to +21), as close as expected." in sentence
    assert advice == WRITE_IT_DOWN
    assert "laboratory 4.8 mmol/L" in said(MMOL)[0]
    assert "higher than the laboratory" in said(verdict="higher")[0]


def test_a_draw_that_is_a_check_already_is_no_test_and_needs_no_advice():
    (sentence,) = said(check_line=5.0)
    assert "checks.csv, line 5" in sentence
    assert "no test" in sentence


def test_a_draw_without_time_or_reading_says_why():
    (sentence,) = said(time="", reason="no_time", sensor_mg_dl=np.nan)
    assert "write it into labs.csv" in sentence
    assert "no usable reading" in said(reason="no_reading", sensor_mg_dl=np.nan)[0]


def test_no_figures_where_none_are_wanted():
    assert not re.search(r"\b(8[57]|9[0-9]|10[17]|mg/dL)\b", said(WORDS_ONLY)[0])
    assert say_lab_indices(pd.DataFrame([INDEX]), WORDS_ONLY) == []
    rows = pd.DataFrame([ROW | {"factor": "dip_mg_dl", "verdict": "lower"}])
    assert "mg/dL" not in " ".join(say_energy(rows, WORDS_ONLY)[1])


def test_homa_with_its_interval_or_its_reason():
    rows = say_lab_indices(pd.DataFrame([INDEX, INDEX | {"value": np.nan, "reason": "not_fasting"}]), MG)
    assert rows[0] == HOMA_MEANS
    assert "was 1.5; from one draw, your usual level may lie anywhere from 0.9 to 2.4." in rows[1]
    assert "not both marked as fasting" in rows[2]


def energy(rise, dip, **changes):
    rows = [ROW | {"factor": "rise_mg_dl", "verdict": rise}, ROW | {"factor": "dip_mg_dl", "verdict": dip} | changes]
    return say_energy(pd.DataFrame(rows), MG)


def test_energy_in_words():
    small, unknown = "too_small_to_matter", "cannot_tell_yet"
    assert energy(small, small)[0] == (
        "Energy goes with neither the rise after eating nor the later dip by enough to matter."
    )
    assert energy(unknown, unknown)[0] == (
        "Whether energy goes with the rise after eating or the later dip is not clear yet."
    )
    assert energy(small, "lower")[0] == (
        "Energy was lower after a deeper dip. Energy differs with the rise after eating by too little to matter."
    )
    assert say_energy(pd.DataFrame([ROW]).iloc[:0], MG) == ("", [])


def test_energys_figures_and_what_would_tell():
    lead, rows = energy("cannot_tell_yet", "cannot_tell_yet", needed=14)
    assert (
        "\u22120.7 points (\u22122.0 to +0.7) from one of 12 to one of 46\u00a0mg/dL, 27 notes on 18 days." in rows[1]
    )
    assert rows[1].endswith("About 14 more notes two to four hours after eating may answer it.")
    assert rows[-1] == CAUTION
    few = energy("cannot_tell_yet", "not_enough_data", low=np.nan)[1][1]
    assert "on eight days" in few
    for text in (lead, *rows):
        assert "causes" not in text
        assert "effect" not in text

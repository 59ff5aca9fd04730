"""Are the written tables what the contract says, and can a spreadsheet open them safely?"""

from __future__ import annotations

import csv
import json
import re

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.record import STUDY_OUTPUTS, STUDY_SUMMARY_KEYS, WEAR_OUTPUTS, WEAR_SUMMARY_KEYS
from glucolab.running.report import measure_into
from glucolab.running.tables import (
    format_column,
    format_numbers,
    neutralize_texts,
    read_output_table,
    write_summary,
    write_tables,
)

WITH_OFFSET = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d")


@pytest.fixture
def measured(make_study, tmp_path):
    out = tmp_path / "report"
    measure_into(make_study(), out, lambda text: None)
    return out


def cells(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize("name", WEAR_OUTPUTS)
def test_columns_of_a_wear_are_the_contracts(measured, name):
    header = cells(measured / "winter" / f"{name}.csv")[0]
    assert header[: len(WEAR_OUTPUTS[name].names)] == WEAR_OUTPUTS[name].names
    assert header[len(WEAR_OUTPUTS[name].names) :] == (["ill", "mood"] if name == "daily" else [])


@pytest.mark.parametrize("name", STUDY_OUTPUTS)
def test_columns_of_the_study_are_the_contracts(measured, name):
    assert cells(measured / "study" / f"{name}.csv")[0] == STUDY_OUTPUTS[name].names


def test_summaries_hold_every_key_of_the_contract(measured):
    for place, keys in (("winter", WEAR_SUMMARY_KEYS), ("study", STUDY_SUMMARY_KEYS)):
        summary = json.loads((measured / place / "summary.json").read_text(encoding="utf-8"))
        assert set(summary) >= {key.name for key in keys}


def test_every_reading_is_written_in_its_order_with_local_offset(measured, sound_study):
    given = sound_study["wear_periods/winter/glucose.csv"].splitlines()[1:]
    written = cells(measured / "winter" / "readings.csv")[1:]
    assert len(written) == len(given)
    for line, row in zip(given, written, strict=True):
        time, glucose, _ = line.split(",")
        assert row[0] == f"{time}+00:00"  # Lisbon in February
        assert float(row[1]) == float(glucose)


def test_times_dates_and_truths_are_written_in_one_way(measured):
    for place, schema in (("winter", WEAR_OUTPUTS), ("study", STUDY_OUTPUTS)):
        for name, table in schema.items():
            head, *rows = cells(measured / place / f"{name}.csv")
            for column in table.columns:
                at = head.index(column.name)
                for row in rows:
                    if row[at] == "":
                        continue
                    if column.kind == "time":
                        assert WITH_OFFSET.fullmatch(row[at])
                    if column.kind == "date":
                        assert re.fullmatch(r"\d{4}-\d\d-\d\d", row[at])
                    if column.kind == "true_false":
                        assert row[at] in ("true", "false")
                    if column.kind in ("number", "count"):
                        assert np.isfinite(float(row[at]))


def test_covariates_are_written_as_they_were_noted(measured):
    head, *rows = cells(measured / "winter" / "daily.csv")
    assert [row[head.index("mood")] for row in rows[:2]] == ["7", "5"]


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1", "-cmd", "@SUM(A1)", "\tx", "two\nlines", "\n=1", "'=1+1", "''=x", "'quoted'", "plain", "", "a=b"],
)
def test_formula_cells_are_neutral_in_the_file_and_exact_when_read_back(tmp_path, text):
    written = neutralize_texts(np.array([text], dtype=object))[0]
    assert not written.startswith(("=", "+", "-", "@", "\t", "\r"))
    table = pd.DataFrame(
        {"dish": [text], "n": [1.0], "n_alone": [1.0], "rise_mg_dl": [1.0], "low_mg_dl": [0.0], "high_mg_dl": [2.0]}
    )
    write_tables(tmp_path, {"dishes": table}, {"dishes": STUDY_OUTPUTS["dishes"]}, ZoneSpans(("UTC",)))
    assert read_output_table(tmp_path / "dishes.csv")["dish"].tolist() == [text]


def test_a_meal_named_like_a_formula_reaches_no_spreadsheet_as_one(make_study, tmp_path):
    meals = 'time,name,note\n2026-02-03T12:30,"=HYPERLINK(""x"")",\n'
    measure_into(make_study({"wear_periods/winter/meals.csv": meals}), tmp_path / "out", lambda text: None)
    head, row = cells(tmp_path / "out" / "winter" / "meal_responses.csv")
    assert row[head.index("name")] == '\'=HYPERLINK("x")'


@pytest.mark.parametrize(
    ("number", "decimals", "text"),
    [
        (97.0, 2, "97"),
        (97.284, 2, "97.28"),
        (-0.001, 2, "0"),
        (0.1, None, "0.1"),
        (float("nan"), 2, ""),
        (1234567.5, None, "1234567.5"),
    ],
)
def test_numbers_are_short_and_lose_nothing_that_is_read(number, decimals, text):
    assert format_numbers(np.array([number]), decimals) == [text]


def test_dates_and_truths_that_are_missing_are_empty_cells():
    zone = ZoneSpans(("UTC",))
    dates = pd.Series(pd.to_datetime(["2026-03-01", None]))
    assert list(format_column(dates, "date", "date", zone)) == ["2026-03-01", ""]
    truths = pd.Series([True, None, False], dtype="boolean")
    assert list(format_column(truths, "true_false", "enough", zone)) == ["true", "", "false"]


def test_times_keep_their_instant_across_the_clock_change(tmp_path):
    times = pd.Series(pd.date_range("2026-10-25T00:00", periods=6, freq="30min", tz="UTC").as_unit("us"))
    text = format_column(times, "time", "time", ZoneSpans(("Europe/Lisbon",)))
    assert text[0] == "2026-10-25T01:00:00+01:00"
    assert text[2] == "2026-10-25T01:00:00+00:00"  # the hour that is told twice
    assert pd.to_datetime(pd.Series(text), format="ISO8601", utc=True).tolist() == times.tolist()


def test_a_summary_with_nan_is_never_written(tmp_path):
    with pytest.raises(ValueError, match="Out of range"):
        write_summary(tmp_path, {"mean": {"estimate": float("nan")}})


def test_a_lone_carriage_return_breaks_no_row(tmp_path):
    table = pd.DataFrame(
        {"dish": ["\r=1", "a\r\nb"], "n": 1.0, "n_alone": 1.0, "rise_mg_dl": 1.0, "low_mg_dl": 0.0, "high_mg_dl": 2.0}
    )
    write_tables(tmp_path, {"dishes": table}, {"dishes": STUDY_OUTPUTS["dishes"]}, ZoneSpans(("UTC",)))
    assert read_output_table(tmp_path / "dishes.csv")["dish"].tolist() == ["\n=1", "a\nb"]

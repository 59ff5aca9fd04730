"""Are laboratory changes claimed only beyond noise, conflicts told, and nothing turned into what it is not?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import days_between
from glucolab.record.study_outputs import LAB_CHANGES, LABS_AND_SENSOR, PERIODS
from glucolab.relating.labs.analytes import ANALYTES, read_values
from glucolab.relating.labs.changes import compare_labs, set_labs_beside
from glucolab.relating.observations.wear_tables import WearTables
from tests.hand_made import UTC, make_table

EMPTY = pd.DataFrame()


def lab(date, value, analyte="glucose", unit="mg/dL", **more):
    return {"date": date, "analyte": analyte, "value": value, "unit": unit, "fasting": True, **more}


def changes_of(*rows):
    values, problems = read_values(make_table("labs", *rows))
    assert [str(p) for p in problems] == []
    return compare_labs(values)


def test_no_values():
    values, problems = read_values(make_table("labs"))
    changes = compare_labs(values)
    assert (len(changes), problems) == (0, [])
    assert list(changes.columns) == LAB_CHANGES.names
    beside = set_labs_beside(values, pd.DataFrame(columns=PERIODS.names), [])
    assert len(beside) == 0
    assert list(beside.columns) == LABS_AND_SENSOR.names


@pytest.mark.parametrize(
    ("analyte", "unit", "a", "b", "verdict"),
    [
        ("glucose", "mg/dL", 90, 103, "cannot_tell_yet"),  # + 14.4 %, noise + 16.1
        ("glucose", "mg/dL", 90, 105, "higher"),
        ("glucose", "mg/dL", 100, 85, "lower"),  # - 15 %, noise - 13.9
        ("hba1c", "%", 5.5, 5.4, "cannot_tell_yet"),
        ("hba1c", "%", 5.7, 5.3, "lower"),  # - 7.0 %, noise - 6.3
        ("insulin", "mIU/L", 6, 11, "cannot_tell_yet"),  # + 83 %, noise + 103
        ("insulin", "mIU/L", 11, 5, "lower"),  # - 55 %, noise - 51: down and up differ
        ("triglycerides", "mmol/L", 1.0, 1.9, "higher"),  # + 90 %, noise + 87
        ("hs-CRP", "mg/L", 0.8, 2.2, "cannot_tell_yet"),  # + 175 %, noise + 209
    ],
)
def test_a_change_is_claimed_beyond_its_noise_only(analyte, unit, a, b, verdict):
    row = changes_of(lab("2026-01-10", a, analyte, unit), lab("2026-06-10", b, analyte, unit)).iloc[0]
    assert row["verdict"] == verdict
    assert row["change_percent"] == pytest.approx(100 * (b / a - 1))
    assert (abs(row["change_percent"]) > row["reference_change_percent"]) == (verdict != "cannot_tell_yet")


def test_rows_follow_each_other_by_date_whatever_the_files_order():
    changes = changes_of(lab("2026-09-01", 93), lab("2025-01-01", 91), lab("2026-01-01", 92))
    assert changes["date_a"].dt.strftime("%Y-%m").tolist() == ["2025-01", "2026-01"]
    assert changes[["value_a", "value_b"]].to_numpy().tolist() == [[91, 92], [92, 93]]


@pytest.mark.parametrize("name", ["HbA1c", "HBA1C", "Hb A1c", "hb_a1c", "hb-a1c", "A1C", "glycated haemoglobin"])
def test_spellings_of_one_analyte(name):
    changes = changes_of(lab("2026-01-10", 5.5, "hba1c", "%"), lab("2026-06-10", 36, name, "mmol / mol"))
    assert changes["analyte"].tolist() == ["hba1c"]
    assert changes["value_b"][0] == pytest.approx(5.445, abs=0.001)


@pytest.mark.parametrize("unit", ["mIU/L", "mU/l", "µIU/mL", "μIU/ml", "uU/mL"])
def test_spellings_of_one_unit(unit):
    assert changes_of(lab("2026-01-10", 6, "insulin", unit), lab("2026-06-10", 6, "insulin", "mIU/L"))[
        "change_percent"
    ].tolist() == [0]


def test_every_name_and_unit_belongs_to_one_analyte_alone():
    names = [name.casefold() for about in ANALYTES.values() for name in about.names]
    assert len(names) == len(set(names))
    for analyte, about in ANALYTES.items():
        for name in (analyte, *about.names):
            changes = changes_of(*(lab(d, 5.0, name, about.unit) for d in ("2026-01-10", "2026-06-10")))
            assert changes["analyte"].tolist() == [analyte], name


@pytest.mark.parametrize(("analyte", "unit"), [("glucose", "mg/dL"), ("insulin", "mIU/L"), ("triglycerides", "mg/dL")])
@pytest.mark.parametrize("state", [False, None])
def test_only_fasting_values_are_judged_where_food_matters(analyte, unit, state):
    row = changes_of(lab("2026-01-10", 90, analyte, unit), lab("2026-06-10", 300, analyte, unit, fasting=state)).iloc[0]
    assert row["verdict"] == "not_enough_data"
    assert row[["change_percent", "reference_change_percent"]].isna().all()
    assert row["value_b"] == 300


def test_fasting_does_not_matter_for_hba1c():
    row = changes_of(lab("2026-01-10", 5.2, "HbA1c", "%"), lab("2026-06-10", 5.7, "HbA1c", "%", fasting=None)).iloc[0]
    assert row["verdict"] == "higher"


def test_a_name_may_say_that_it_was_fasting():
    row = changes_of(
        *(lab(d, v, "Fasting glucose", fasting=None) for d, v in (("2026-01-10", 90), ("2026-06-10", 110)))
    ).iloc[0]
    assert row["verdict"] == "higher"


def test_of_one_morning_the_fasting_value_counts():
    """A glucose drink: the value two hours later is no change against the first."""
    changes = changes_of(
        lab("2026-01-10", 90, time="08:00"),
        lab("2026-06-10", 150, time="07:30", fasting=False),
        lab("2026-06-10", 92, time="09:30"),
    )
    assert changes["value_b"].tolist() == [92]


@pytest.mark.parametrize("column", ["method", "laboratory"])
def test_another_method_is_not_a_change(column):
    changes = changes_of(
        lab("2026-01-10", 60, "LDL", **{column: "calculated"}), lab("2026-03-10", 130, "LDL", **{column: "direct"}),
        lab("2026-06-10", 120, "LDL", **{column: "calculated"}),
    )  # fmt: skip
    assert changes["verdict"].tolist() == ["not_enough_data", "higher"]
    assert changes["value_a"].tolist() == [60, 60]  # the third is set against the first, by the same method
    assert np.isnan(changes["change_percent"][0])


def test_a_conflict_is_told_and_neither_value_used():
    table = make_table(
        "labs", lab("2026-01-10", 90), lab("2026-06-10", 91, time="08:00"), lab("2026-06-10", 120, time="08:00")
    )
    values, problems = read_values(table)
    assert len(compare_labs(values)) == 0
    assert [(p.file, p.line, p.left_out) for p in problems] == [("labs.csv", 4, True)]
    assert "line 3" in problems[0].text


def test_equal_repeats_are_one_even_in_two_units():
    changes = changes_of(
        lab("2026-01-10", 90), lab("2026-01-10", 90), lab("2026-01-10", 5.0, unit="mmol/L"), lab("2026-06-10", 91)
    )
    assert changes[["value_a", "value_b"]].to_numpy().tolist() == [[90, 91]]


def test_another_time_or_method_is_no_conflict():
    table = make_table("labs", lab("2026-06-10", 91, time="08:00"), lab("2026-06-10", 99, time="10:00"),
                       lab("2026-06-10", 105, time="08:00", method="meter"))  # fmt: skip
    assert read_values(table)[1] == []


def test_what_is_not_known_is_told_with_its_line_and_the_rest_used():
    table = make_table(
        "labs", lab("2026-01-10", 90), lab("2026-01-10", 3, "ferritin"), lab("2026-01-10", 5, "HbA1c", "mg/dL"),
        lab("2026-01-10", 0, "insulin", "mIU/L"), lab("2026-06-10", 91),
    )  # fmt: skip
    values, problems = read_values(table)
    assert len(compare_labs(values)) == 1
    assert [(p.line, p.left_out) for p in problems] == [(4, True), (5, True)]
    assert "mmol/mol" in problems[0].text
    assert "above zero" in problems[1].text


def worn(start="2026-02-03", n_days=14, name="winter", mean=100.0, night=88.0):
    first = pd.Timestamp(start, tz="UTC")
    days = days_between(first, first + pd.Timedelta(days=n_days), UTC)
    daily = pd.DataFrame({"date": days.dates, "mean_mg_dl": mean, "overnight_mean_mg_dl": night + np.arange(n_days)})
    return WearTables(name, days, UTC, daily, EMPTY, EMPTY, EMPTY, EMPTY)


def period(start="2026-02-03", end="2026-02-17", name="winter", level="wear"):
    return {
        "level": level, "name": name, "start": pd.Timestamp(start), "end": pd.Timestamp(end),
        "mean_mg_dl": 94.0, "mean_low_mg_dl": 90.0,
        "mean_high_mg_dl": 98.0, "usual_low_mg_dl": 88.0, "usual_high_mg_dl": 99.0,
    }  # fmt: skip


def beside(*labs, periods=(), wears=None):
    table = pd.DataFrame([*periods] or [period(), period(level="stretch")], columns=PERIODS.names)
    return set_labs_beside(read_values(make_table("labs", *labs))[0], table, [worn()] if wears is None else wears)


def test_fasting_glucose_beside_its_night_with_the_sensors_interval():
    """Night of the fifth day 4 above 88, that is 8 under the wear's days of 100; on a mean of 94 (90 to 98)."""
    row = beside(lab("2026-02-07", 5.0, unit="mmol/L")).iloc[0]
    assert row["value"] == pytest.approx(90.078)
    assert (row["unit"], row["period"], row["sensor_figure"]) == ("mg/dL", "winter", "overnight_mean_mg_dl")
    assert row[["low", "sensor_value", "high"]].tolist() == [82.0, 86.0, 90.0]


@pytest.mark.parametrize(
    ("day", "night"),
    [("2026-02-25", 13), ("2026-03-02", 13), ("2026-01-20", 0), ("2026-03-03", None), ("2026-01-19", None)],
)
def test_the_nearest_night_within_a_fortnight(day, night):
    rows = beside(lab(day, 90))
    assert rows["sensor_value"].tolist() == ([] if night is None else [82.0 + night])


def test_a_night_that_is_not_known_is_passed_over():
    wear = worn()
    wear.daily.loc[4, "overnight_mean_mg_dl"] = np.nan
    assert beside(lab("2026-02-07", 90), wears=[wear])["sensor_value"].tolist() == [85.0]


def test_glucose_after_food_stands_beside_nothing():
    assert len(beside(lab("2026-02-07", 90, fasting=False), lab("2026-02-08", 90, fasting=None))) == 0


@pytest.mark.parametrize(
    ("day", "shown"), [("2026-02-04", True), ("2026-02-02", False), ("2026-05-18", True), ("2026-05-19", False)]
)
def test_hba1c_beside_the_usual_mean_of_the_three_months_before(day, shown):
    rows = beside(lab(day, 36, "HbA1c", "mmol/mol"))
    assert len(rows) == shown
    if shown:
        assert rows.loc[0, ["low", "sensor_value", "high"]].tolist() == [88.0, 93.5, 99.0]
        assert rows.loc[0, "value"] == pytest.approx(5.445, abs=0.001)
        assert (rows.loc[0, "unit"], rows.loc[0, "sensor_figure"]) == ("%", "usual_mean_mg_dl")


@pytest.mark.parametrize(("day", "shown"), [("2026-02-03", True), ("2026-02-02", False)])
def test_hba1c_beside_a_wear_that_ends_up_to_a_fortnight_later(day, shown):
    """The wear ends on 17 February; it has begun on the day of the draw."""
    assert len(beside(lab(day, 36, "HbA1c", "mmol/mol"), periods=[period(start="2026-01-20")])) == shown


def test_a_wear_without_a_mean_stands_beside_nothing():
    unknown = {
        **period(),
        **dict.fromkeys(
            ("mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl", "usual_low_mg_dl", "usual_high_mg_dl"), np.nan
        ),
    }
    assert len(beside(lab("2026-02-07", 90), lab("2026-02-07", 5.4, "HbA1c", "%"), periods=[unknown])) == 0


def test_a_conflicting_value_stands_beside_nothing():
    assert len(beside(lab("2026-02-07", 90), lab("2026-02-07", 99))) == 0

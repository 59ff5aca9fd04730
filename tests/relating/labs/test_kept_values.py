"""Is every analyte with a unit kept, never mixed over units, and a fast doubted that a meal broke?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, days_between
from glucolab.record import OUTPUT_TABLES
from glucolab.relating.labs.analytes import read_values
from glucolab.relating.labs.changes import compare_labs
from glucolab.relating.labs.kept_values import tabulate_lab_values
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.showing.words.findings.labs import say_fasting_doubts
from tests.hand_made import make_table

LISBON = ZoneSpans(("Europe/Lisbon",))
START = pd.Timestamp("2026-07-06T00:00", tz="Europe/Lisbon").tz_convert("UTC")  # an hour ahead of UTC
NONE = pd.DataFrame()


def lab(value, analyte="ferritin", unit="µg/L", date="2026-07-07", **more):
    return {"date": pd.Timestamp(date), "analyte": analyte, "value": value, "unit": unit, **more}


def read(*rows):
    values, problems = read_values(make_table("labs", *rows))
    return values, [str(problem) for problem in problems]


def wear(*meals: tuple[str, str, float]) -> WearTables:
    """A wear of four days with these meals: local time, name, carbohydrate."""
    table = pd.DataFrame(columns=OUTPUT_TABLES["meal_responses"].names, index=range(len(meals)))
    times = [pd.Timestamp(f"2026-07-{text}", tz="Europe/Lisbon").tz_convert("UTC") for text, _, _ in meals]
    table["time"], table["name"] = pd.DatetimeIndex(times).as_unit("us"), [name for _, name, _ in meals]
    table["carbs_g"] = [float(carbs) for _, _, carbs in meals]
    table["reason"] = pd.Series(["minor" if carbs < 5 else "" for _, _, carbs in meals], dtype="str")
    days = days_between(START, START + pd.Timedelta(days=4), LISBON)
    return WearTables("wear", days, LISBON, NONE, table, NONE, NONE, NONE)


def test_an_unknown_analyte_is_kept_as_written_and_only_drawn():
    values, said = read(lab(45.0), lab(60.0, "Ferritin", "ug / L", "2026-09-01"), lab(-1.5, "base excess", "mmol/L"))
    assert said == []
    table = tabulate_lab_values(values, [])
    assert table["analyte"].tolist() == ["ferritin", "base excess", "ferritin"]
    assert table["unit"].tolist() == ["µg/L", "mmol/L", "µg/L"], "one unit, spelled in two ways"
    assert table["value"].tolist() == [45.0, -1.5, 60.0]
    assert not table["compared"].any()
    (change,) = compare_labs(values).to_dict("records")
    assert (change["value_a"], change["value_b"], change["verdict"]) == (45.0, 60.0, "not_enough_data")
    assert np.isnan([change["change_percent"], change["reference_change_percent"]]).all()


def test_a_known_analyte_is_compared_under_any_of_its_names():
    values, _ = read(lab(5.5, "A1c", "%"), lab(39.0, "HbA1c", "mmol/mol", "2026-10-01"))
    table = tabulate_lab_values(values, [])
    assert table["analyte"].tolist() == ["hba1c", "hba1c"]
    assert table["unit"].tolist() == ["%", "%"]
    assert table["compared"].all()


def test_two_units_of_an_unknown_analyte_are_never_mixed_and_it_is_said():
    values, said = read(lab(45.0), lab(101.0, unit="pmol/L", date="2026-09-01"), lab(50.0, date="2026-11-01"))
    assert said == [
        "labs.csv line 3: ferritin stands in µg/L and pmol/L, none of which is turned into another: drawn apart, never "
        "compared"
    ]
    changes = compare_labs(values)
    assert changes[["value_a", "value_b", "unit"]].to_numpy().tolist() == [[45.0, 50.0, "µg/L"]]


def test_an_unknown_unit_of_a_known_analyte_is_refused_in_words():
    values, said = read(lab(5.0, "glucose", "grains"))
    assert len(values) == 0
    assert said[0].startswith('labs.csv line 2: unit "grains" is not known for glucose; write one of mg/dL')


def test_repeats_and_conflicts_of_unknown_analytes_are_those_of_all():
    assert len(read(lab(45.0), lab(45.0))[0]) == 1
    values, said = read(lab(45.0), lab(46.0), lab(0.0, "antibodies", "IU/mL"), lab(0.0, "antibodies", "IU/mL"))
    assert values["analyte"].tolist() == ["antibodies"]
    assert "ferritin of 2026-07-07 has another value in line 2" in said[0]


@pytest.mark.parametrize(
    ("meal", "minutes"),
    [
        (("07T07:12", "porridge", 45), 28), (("07T07:40", "porridge", 45), 0), (("06T23:41", "dinner", 80), 479),
        (("06T23:40", "dinner", 80), None), (("07T07:41", "porridge", 45), None),
        (("07T07:12", "black coffee", 0), None),
    ],
)  # fmt: skip
def test_a_fast_is_doubted_by_a_meal_within_eight_hours(meal, minutes):
    values, _ = read(lab(95.0, "glucose", "mg/dL", time="07:40", fasting=True))
    row = tabulate_lab_values(values, [wear(meal)]).iloc[0]
    if minutes is None:
        assert np.isnan(row["minutes_since_meal"])
        assert (row["meal_time"], row["meal"]) == ("", "")
    else:
        assert (row["meal_time"], row["meal"], row["minutes_since_meal"]) == (meal[0][3:], meal[1], minutes)


@pytest.mark.parametrize("more", [{"fasting": False, "time": "07:40"}, {"fasting": True}, {"time": "07:40"}])
def test_what_is_not_called_fasting_or_has_no_time_is_not_doubted(more):
    values, _ = read(lab(95.0, "glucose", "mg/dL", **more))
    assert tabulate_lab_values(values, [wear(("07T07:12", "porridge", 45))])["minutes_since_meal"].isna().all()


def test_the_last_meal_of_all_wears_counts_and_a_draw_is_said_once():
    rows = [lab(v, a, u, time="07:40", fasting=True) for v, a, u in ((95, "glucose", "mg/dL"), (6, "insulin", "mIU/L"))]
    values, _ = read(*rows)
    wears = [wear(("07T00:30", "supper", 60)), wear(("07T07:12", "porridge", 45)), wear()]
    table = tabulate_lab_values(values, wears)
    assert table["minutes_since_meal"].tolist() == [28, 28]
    assert say_fasting_doubts(table) == [
        "The blood of 7 Jul 2026, 07:40, is marked as fasting, but a meal was logged at 07:12, 28 min before "
        "(porridge). If that is right, write fasting = false in labs.csv: comparisons with fasting blood then leave it "
        "out."
    ]

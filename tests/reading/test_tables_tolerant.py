"""Are tables read right in every usual dialect, and are doubtful cells refused rather than guessed?"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.reading.rules import want_time
from glucolab.reading.tables import parse_table
from glucolab.reading.text import UnreadableError
from glucolab.reading.valid_rows import settle_table
from glucolab.record import INPUT_TABLES, empty_table

LISBON = ZoneSpans(("Europe/Lisbon",))


def read(name: str, text: str | bytes, zones: ZoneSpans = LISBON, **more):
    data = text if isinstance(text, bytes) else text.encode()
    settled = settle_table(parse_table(data, INPUT_TABLES[name], f"{name}.csv"), zones, **more)
    return settled.frame, [str(problem) for problem in settled.problems]


MEALS = pd.DataFrame(
    {"name": ["soup", "rice, fish"], "carbs_g": [30.5, math.nan]}, index=pd.Index([2, 3], name="line")
)  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        'time,name,carbs_g\n2026-02-03T12:30,soup,30.5\n2026-02-03T19:00,"rice, fish",\n',
        "time;name;carbs_g\n2026-02-03T12:30;soup;30,5\n2026-02-03T19:00;rice, fish;\n",
        "time\tname\tcarbs_g\n2026-02-03T12:30\tsoup\t30,5\n2026-02-03T19:00\trice, fish\n",
        'time,name,carbs_g\n2026-02-03T12:30,soup,"30,5"\n2026-02-03T19:00,"rice, fish",\n',
        '\ufefftime,name,carbs_g\n2026-02-03T12:30,soup,30.5\n2026-02-03T19:00,"rice, fish",\n',
        'time,name,carbs_g\r\n2026-02-03T12:30,soup,30.5\r\n2026-02-03T19:00,"rice, fish",\r\n',
        'time,name,carbs_g\r2026-02-03T12:30,soup,30.5\r2026-02-03T19:00,"rice, fish",\r',
        'time,name,carbs_g\n2026-02-03T12:30,soup,30.5\n2026-02-03T19:00,"rice, fish"',
        ' Time , NAME,Carbs G\n 2026-02-03T12:30 , soup, 30.5\n2026-02-03 19:00, "rice, fish" ,\n',
        'time,name,carbs_g,,\n2026-02-03T12:30,soup,30.5,,\n2026-02-03T19:00,"rice, fish",,,,,\n',
        'carbs_g,name,time\n3.05e1,soup,2026-02-03T12:30Z\n,"rice, fish",2026-02-03T20:00+01:00\n',
    ],
    ids=[
        "commas",
        "semicolons",
        "tabs",
        "quoted",
        "BOM",
        "CRLF",
        "CR",
        "no last end",
        "spaces",
        "blank cells",
        "offsets",
    ],
)
def test_dialects_read_alike(text):
    if text.startswith(" Time"):
        text = text.replace('" ,', '",')  # a space after a closing quotation mark is no dialect but a fault
    frame, problems = read("meals", text)
    assert problems == []
    pd.testing.assert_frame_equal(frame[["name", "carbs_g"]], MEALS)
    assert [str(t) for t in frame["time"]] == ["2026-02-03 12:30:00+00:00", "2026-02-03 19:00:00+00:00"]


@pytest.mark.parametrize("name", INPUT_TABLES)
def test_a_header_alone_is_a_table_without_rows(name):
    frame, problems = read(name, ",".join(INPUT_TABLES[name].names) + "\n")
    assert problems == []
    assert frame.empty
    expected = empty_table(name)
    shared = [column for column in expected.columns if column not in ("limit", "time_source")]
    pd.testing.assert_series_equal(frame.dtypes[shared], expected.dtypes[shared])


def test_lines_are_those_an_editor_counts():
    text = 'start,kind,note\n\n2026-02-03T12:30,heat,"one\ntwo\n\nthree"\n , ,\n2026-02-03T13:30,knock,\n'
    frame, problems = read("notes", text)
    assert problems == []
    assert list(frame.index) == [3, 8]
    assert frame.loc[3, "note"] == "one\ntwo\n\nthree"


def test_absent_columns_are_there_and_empty():
    frame, _ = read("days", "date\n2026-02-03\n")
    assert list(frame.columns) == INPUT_TABLES["days"].names
    assert frame.drop(columns="date").isna().all(axis=None)
    assert frame["ill"].dtype == "boolean"


def test_empty_is_not_recorded_and_never_zero():
    frame, _ = read("meals", "time,name,carbs_g,note\n2026-02-03T12:30,soup,,\n2026-02-03T13:30,tea,0,\n")
    assert frame["carbs_g"].isna().tolist() == [True, False]
    assert frame["note"].isna().all()


@pytest.mark.parametrize("cell", ["1,234", "12,345,678", "+1,000"])
def test_a_comma_that_may_group_thousands_is_refused(cell):
    frame, (problem,) = read("meals", f'time,name,carbs_g\n2026-02-03T12:30,soup,"{cell}"\n')
    assert frame["carbs_g"].isna().all()
    assert problem.startswith(f'meals.csv line 2: carbs_g "{cell}" may mean')


@pytest.mark.parametrize(("cell", "value"), [("0,125", 0.125), ("12,5", 12.5), ("1234,567", 1234.567), (",5", 0.5)])
def test_a_comma_that_can_only_be_decimal_is_read(cell, value):
    frame, problems = read("meals", f"time;name;energy_kcal\n2026-02-03T12:30;soup;{cell}\n")
    assert problems == []
    assert frame["energy_kcal"].tolist() == [value]


def test_a_point_may_group_thousands_where_commas_are_decimal():
    text = "time;name;carbs_g;energy_kcal\n2026-02-03T12:30;soup;30,5;1.234\n2026-02-03T13:30;soup;30,5;320\n"
    frame, (problem,) = read("meals", text)
    assert problem.startswith('meals.csv line 2: energy_kcal "1.234" may mean 1.234 or 1234')
    assert frame["energy_kcal"].isna().tolist() == [True, False]
    frame, problems = read("meals", text.replace("30,5", "30.5"))
    assert problems == []
    assert frame["energy_kcal"].tolist() == [1.234, 320]


@pytest.mark.parametrize(
    "cell", ["12o", "1 200", "1_000", "0x10", "--5", "NA", "None", "12.5.1", "1e", "٣", "5 g", "−4"]
)
def test_what_is_no_number_is_named(cell):
    frame, (problem,) = read("meals", f"time,name,carbs_g\n2026-02-03T12:30,soup,{cell}\n")
    assert problem == f'meals.csv line 2: carbs_g "{cell}" is not a number'
    assert frame["carbs_g"].isna().all()
    assert frame["name"].tolist() == ["soup"]


def test_times_with_and_without_offset_in_one_column():
    text = (
        "time,name\n2026-07-03T12:30,a\n2026-07-03T12:30Z,b\n2026-07-03T12:30:15.5+05:30,c\n"
        "2026-07-03 12:30-0300,d\n2026-07-03T12:30+02,e\n"
    )
    frame, problems = read("meals", text)
    assert problems == []
    assert [f"{t:%H:%M:%S.%f}"[:10] for t in frame["time"]] == [
        "11:30:00.0",
        "12:30:00.0",
        "07:00:15.5",
        "15:30:00.0",
        "10:30:00.0",
    ]


def test_the_autumn_hour_is_told_apart_by_the_order_of_rows():
    local = pd.date_range("2026-10-25T00:00", "2026-10-25T05:00", freq="5min", tz="UTC").tz_convert("Europe/Lisbon")
    text = "time,glucose\n" + "".join(f"{t:%Y-%m-%dT%H:%M:%S},100\n" for t in local)
    assert len(set(text.splitlines())) < len(text.splitlines())  # some local times stand twice
    frame, problems = read("glucose", text)
    assert problems == []
    assert np.array_equal(frame["time"], local.tz_convert("UTC"))


def test_a_single_time_of_the_autumn_hour_is_the_first():
    frame, _ = read("meals", "time,name\n2026-10-25T01:10,soup\n")
    assert str(frame["time"].iloc[0]) == "2026-10-25 00:10:00+00:00"


def test_a_time_that_a_trip_jumps_over_is_kept_and_told():
    eastward = ZoneSpans(("Europe/Lisbon", "Asia/Tbilisi"), (pd.Timestamp("2026-02-04T12:00", tz="UTC"),))
    frame, (problem,) = read("meals", "time,name\n2026-02-04T13:30,soup\n", eastward)
    assert str(frame["time"].iloc[0]) == "2026-02-04 13:30:00+00:00"
    assert 'time "2026-02-04T13:30" was never shown' in problem


def test_further_columns_of_days_become_numbers_where_they_are():
    text = (
        "date,Sauna,coffee cups,weather,mixed\n2026-02-03,true,2,rain,1\n"
        '2026-02-04,FALSE,"1,5",sun,x\n2026-02-05,,3,,3\n'
    )
    frame, problems = read("days", text)
    assert frame["sauna"].tolist()[:2] == [1.0, 0.0]
    assert math.isnan(frame["sauna"].iloc[2])
    assert frame["coffee_cups"].tolist() == [2, 1.5, 3]
    assert frame["weather"].tolist()[:2] == ["rain", "sun"]
    assert frame["mixed"].tolist()[::2] == [1, 3]
    assert problems == [
        'days.csv line 2: weather "rain" is not a number; the column is kept as text and is no covariate',
        'days.csv line 3: mixed "x" is not a number',
    ]


@pytest.mark.parametrize("name", ["mean_mg_dl", "carbs_g", "coverage", "Excursions", "line"])
def test_a_further_column_named_like_an_output_is_refused(name):
    frame, (problem,) = read("days", f"date,{name}\n2026-02-03,5\n")
    assert "has a name of the tool's own and is not read: rename it" in problem
    assert list(frame.columns) == INPUT_TABLES["days"].names


def test_unknown_columns_of_other_tables_are_kept_as_text():
    frame, problems = read("meals", "time,name,percent_eaten\n2026-02-03T12:30,soup,100.0\n")
    assert problems == []
    assert frame["percent_eaten"].tolist() == ["100.0"]


def test_words_are_read_in_any_case_and_held_in_one():
    frame, problems = read("activity", "start,minutes,kind,effort\n2026-02-03T12:30,20,Walk,LIGHT\n")
    assert problems == []
    assert frame.loc[2, ["kind", "effort"]].tolist() == ["Walk", "light"]


def test_a_bad_optional_cell_costs_the_cell_and_a_bad_required_one_the_row():
    text = "start,minutes,kind,effort\n2026-02-03T12:30,20,walk,brisk\n2026-02-03T13:30,long,walk,light\n"
    frame, problems = read("activity", text)
    assert frame.index.tolist() == [2]
    assert frame["effort"].isna().all()
    assert problems == [
        'activity.csv line 2: effort "brisk" is none of light, moderate, vigorous',
        'activity.csv line 3: minutes "long" is not a number; the row is left out',
    ]


def test_a_meal_without_time_and_photo_is_left_out():
    text = "time,name\n,soup\n2026-02-03T12:30,rice\n"
    frame, problems = read("meals", text, rules=[want_time(has_trips=False)], needed=["time"])
    assert problems == ["meals.csv line 2: neither time nor photo; the row is left out"]
    assert frame["time_source"].tolist() == ["written"]


def test_a_row_whose_cells_have_moved_is_left_out_whole():
    text = "time,name,carbs_g,dish,note\n2026-02-03T12:30,rice, fish,62,rice,\n2026-02-03T13:30,soup,30,soup,,\n"
    frame, (problem,) = read("meals", text)
    assert problem.startswith("meals.csv line 2: 6 cells, 5 expected (a comma inside a cell needs quotation marks")
    assert frame.index.tolist() == [3]


def test_two_trackers_are_both_kept():
    text = "start,end,source\n2026-02-03T23:00,2026-02-04T06:30,watch\n2026-02-03T23:10,2026-02-04T06:20,ring\n"
    frame, problems = read("sleep", text)
    assert problems == []
    assert frame["source"].tolist() == ["watch", "ring"]


@pytest.mark.parametrize("title", ["glucos", "Glucose mg dL", "glucose_mg_dl", "glukose"])
def test_a_missing_column_is_named_with_the_one_that_was_meant(title):
    with pytest.raises(UnreadableError) as fault:
        read("glucose", f"time,{title}\n2026-02-03T12:30,90\n")
    assert str(fault.value).startswith("column glucose is missing; ")
    assert str(fault.value).endswith(": did you mean glucose?")
    assert fault.value.line == 1

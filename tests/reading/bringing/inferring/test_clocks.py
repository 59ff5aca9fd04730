"""Which clock wrote the times? Zones of a column, clocks of twelve hours, times as one number, spans in a cell."""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from tests.reading.bringing.inferring.test_movement_tables import write  # noqa: F401  (a fixture)
from tests.reading.bringing.tables import bring, guess

FIVES = [f"{8 + i // 12:02d}:{i * 5 % 60:02d}" for i in range(30)]


@pytest.mark.parametrize(
    "header", ["local time,utc_offset", "Zeit (Ortszeit),Zeitverschiebung", "Fecha y hora local,Zona horaria"]
)
@pytest.mark.parametrize("offset", ["-03:00", "UTC-3", "America/Sao_Paulo"])
def test_a_column_of_offsets_holds_for_local_times_too(write, header, offset):  # noqa: F811
    # Sao Paulo is three hours behind UTC in February (tz database: no summer time since 2019)
    path = write(f"{header},Glucose (mg/dL)", [f"2026-02-04 {t},{offset},{100 + i}" for i, t in enumerate(FIVES)])
    _, rows, _ = bring(path)
    assert pd.Timestamp(rows["time"].iloc[1]) == pd.Timestamp("2026-02-04T11:05Z")


def test_offsets_that_change_on_a_journey_hold_row_by_row(write):  # noqa: F811
    rows = [f"2026-02-04T{t},{'-03:00' if i < 15 else '+01:00'},{100 + i}" for i, t in enumerate(FIVES)]
    _, brought, _ = bring(write("local time,offset,sensor glucose mg/dL", rows))
    assert brought["time"].iloc[[0, 29]].tolist() == ["2026-02-04T08:00-03:00", "2026-02-04T10:25+01:00"]


def test_local_times_beside_a_column_of_utc_are_asked(write):  # noqa: F811
    rows = [f"2026-02-04T{t},UTC,{100 + i}" for i, t in enumerate(FIVES)]
    with pytest.raises(UnsettledError, match="zone=local"):
        guess(write("local time,zone,sensor glucose mg/dL", rows))


@pytest.mark.parametrize(
    ("letters", "offsets"),
    [
        ("IST", {"+05:30", "+02:00", "+01:00"}),  # India, Israel, Ireland
        ("CST", {"-06:00", "+08:00", "-05:00"}),  # North America, China, Cuba
        ("BST", {"+01:00", "+06:00"}),  # Britain in summer, Bangladesh
        ("ast", {"-04:00", "+03:00"}),  # Atlantic, Arabia
    ],
)
@pytest.mark.parametrize("header", ["Zone", "Zeitzone", "where"])
def test_letters_of_several_zones_are_asked_with_each_of_them(write, letters, offsets, header):  # noqa: F811
    path = write(
        f"Time,{header},Sensor glucose (mg/dL)", [f"2026-02-04 {t},{letters},{90 + i}" for i, t in enumerate(FIVES)]
    )
    with pytest.raises(UnsettledError) as asked:
        guess(path)
    (question,) = asked.value.questions
    assert {answer for answer, _ in question.choices} == {"local", "UTC", *offsets}
    assert set(bring(path, zone=min(offsets))[1]["time"].str[-6:]) == {min(offsets)}


@pytest.mark.parametrize(
    "header",
    ["Time (12 h)", "Time (12-hour)", "Uhrzeit (12 Stunden)", "Heure 12h", "Hora (12 horas)", "Time (AM/PM)"],
)
def test_a_header_of_twelve_hours_wants_the_half_of_the_day_in_each_cell(write, header):  # noqa: F811
    rows = [
        f"2026-02-0{d},{t},{n},40" for d in (4, 5) for t, n in (("7:30", "oats"), ("1:15", "soup"), ("6:40", "rice"))
    ]
    with pytest.raises(NothingToDo, match="does not say which half of the day"):
        guess(write(f"Date,{header},Food,Carbs (g)", rows))
    whole = [row.replace(":15,", ":15 PM,").replace(":30,", ":30 AM,").replace(":40,", ":40 PM,") for row in rows]
    assert bring(write(f"Date,{header},Food,Carbs (g)", whole))[1]["time"].iloc[1] == "2026-02-04T13:15"
    of_24 = [row.replace(",1:15", ",13:15").replace(",6:40", ",18:40").replace(",7:30", ",0:30") for row in rows]
    assert bring(write(f"Date,{header},Food,Carbs (g)", of_24))[1]["time"].iloc[1] == "2026-02-04T13:15"


def test_halves_in_some_cells_or_in_a_column_of_their_own_are_no_guess(write):  # noqa: F811
    some = ["2026-02-04,7:30 AM,oats,40", "2026-02-04,1:15,soup,40", "2026-02-05,6:40 PM,rice,40"]
    with pytest.raises(NothingToDo, match='"1:15" does not say'):
        guess(write("Date,Time,Food,Carbs (g)", some))
    apart = ["2026-02-04,7:30,AM,oats,40", "2026-02-04,1:15,PM,soup,40", "2026-02-05,6:40,PM,rice,40"]
    with pytest.raises(NothingToDo, match='write "AM" of "Half" into its cell'):
        guess(write("Date,Time,Half,Food,Carbs (g)", apart))


@pytest.mark.parametrize("header", ["Datum,Uhrzeit", "date,time", "fecha,hora"])
def test_a_clock_as_one_number_is_told_by_its_zeros_or_by_its_size(write, header):  # noqa: F811
    zeros = [f"202602{d:02d},{t.replace(':', '')},{100 + i}" for d in (4, 5) for i, t in enumerate(FIVES)]
    assert bring(write(f"{header},glucose mg/dL", zeros))[1]["time"].iloc[1] == "2026-02-04T08:05"
    late = [f"202602{d:02d},{h}{m:02d}00,{100 + h}" for d in (4, 5) for h in range(8, 24) for m in (0, 15, 30, 45)]
    assert bring(write(f"{header},glucose mg/dL", late))[1]["time"].iloc[1] == "2026-02-04T08:15"


def test_a_clock_as_one_number_that_may_be_minutes_is_asked(write):  # noqa: F811
    rows = [f"20260204,{h}{m:02d},{100 + h}" for h in range(8, 13) for m in range(0, 60, 10)]
    path = write("date,time,glucose mg/dL", rows)
    with pytest.raises(UnsettledError, match=r"12:50, hours and minutes.*20:50, minutes since midnight"):
        guess(path)
    assert bring(path, clock="digits")[1]["time"].iloc[1] == "2026-02-04T08:10"
    assert bring(path, clock="minutes")[1]["time"].iloc[1] == "2026-02-04T13:30"  # 810 = 13 * 60 + 30


@pytest.mark.parametrize("dash", ["-", " - ", "–", " bis ", " to ", " à "])
@pytest.mark.parametrize("ends", [("07:29", "12:40", "19:51"), ("08:00", "13:00", "20:00")])
def test_a_beginning_and_an_end_in_one_cell_are_no_time_with_an_offset(write, dash, ends):  # noqa: F811
    begins = ("07:00", "12:15", "19:26")
    rows = [f"2026-02-0{d},{a}{dash}{b},soup {d},40" for d in (4, 5) for a, b in zip(begins, ends, strict=True)]
    with pytest.raises(NothingToDo, match="a beginning and an end in one cell"):
        guess(write("Date,Time,Meal,Carbs (g)", rows))


def test_one_span_among_clock_times_is_named_and_left_out(write):  # noqa: F811
    rows = [f"2026-02-0{d},{t},soup {d},40" for d in (4, 5) for t in ("07:00", "12:15", "19:26")]
    _, brought, everything = bring(write("Date,Time,Meal,Carbs (g)", [*rows, "2026-02-06,12:00-13:00,rice,50"]))
    assert len(brought) == 6
    assert any("12:00-13:00" in str(problem) and problem.line == 8 for problem in everything.problems)

"""Tables that lie otherwise than a row a moment: days or clock times across, headings of days, two columns in turn."""

from __future__ import annotations

import pytest

from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from tests.reading.bringing.tables import bring

HOURS = [f"{8 + i // 4:02d}:{15 * (i % 4):02d}" for i in range(16)]
READ = [f"{hour},{95 + i}" for i, hour in enumerate(HOURS)]
DAYS = ["2026-02-03", "2026-02-04", "2026-02-05"]


def lay(*lines: object) -> str:
    return "\n".join(",".join(map(str, line)) if isinstance(line, list) else str(line) for line in lines) + "\n"


LAYOUTS = {
    "a column a clock time": (
        lay(["mg/dL", *HOURS], *([day, *(90 + i for i in range(16))] for day in DAYS)),
        "glucose", 48, {"time": "2026-02-03T08:00", "glucose": "90"},
    ),
    "a column a day": (
        lay(["Glucose (mg/dL)", *DAYS], *([hour, 90, "", 92] for hour in HOURS)),
        "glucose", 32, {"time": "2026-02-03T08:00", "glucose": "90"},
    ),
    "steps by hours": (
        lay(["Steps", *HOURS], *([day, *(i * 7 % 16 for i in range(16))] for day in DAYS)),
        "movement", 48, {"time": "2026-02-03T08:00", "steps": "0"},
    ),
    "a column an analyte": (
        lay(["Date", "Lab", "Ferritin (µg/L)", "HbA1c (%)", "CRP (mg/L)"], ["2025-03-04", "north", 60, 5.4, ""]),
        "labs", 2, {"date": "2025-03-04", "analyte": "Ferritin", "value": "60", "unit": "µg/L"},
    ),
    "a column a date of laboratory values": (
        lay(["Test", "Unit", "2023-03-04", "2024-03-04", "2025-03-04"], ["Ferritin", "µg/L", 60, 61, 62]),
        "labs", 3, {"date": "2023-03-04", "analyte": "Ferritin", "value": "60", "unit": "µg/L"},
    ),
    "a table on its side": (
        lay(["", *DAYS], ["Stress (0-10)", 3, 4, 5], ["Steps", 9000, 8000, 7000]),
        "days", 3, {"date": "2026-02-03", "stress": "3", "steps": "9000"},
    ),
    "headings of days": (
        lay("time,glucose mg/dL", *(f"{day},\n" + "\n".join(READ) for day in DAYS)),
        "glucose", 48, {"time": "2026-02-03T08:00", "glucose": "95"},
    ),
    "two columns in turn": (
        lay("time,automatic glucose mg/dL,scan glucose mg/dL",
            *([f"2026-02-03 {hour}", *((95, "") if i % 5 else ("", 99))] for i, hour in enumerate(HOURS))),
        "glucose", 16, {"glucose": "99", "taken": "by_hand"},
    ),
    "keys above the table": (
        lay("Made,2026-02-20 21:14", "Unit,mmol/L", "Wearer,nobody", "", "Stamp,Reading",
            *([f"2026-02-03 {hour}", 5.2 + i / 10] for i, hour in enumerate(HOURS))),
        "glucose", 16, {"time": "2026-02-03T08:00", "glucose": "5.2"},
    ),
    "days of a spreadsheet": (
        lay("Date,glucose mg/dL", *([f"{46056 + i / 96:.6f}", 95 + i % 5] for i in range(32))),
        "glucose", 32, {"time": "2026-02-03T00:00", "glucose": "95"},  # serial 46056, ECMA-376 part 1, 18.17.4.1
    ),
    "midnight ends the day": (
        lay("time,glucose mg/dL", "2026-02-03 23:45,95", "2026-02-03 24:00,96", "2026-02-04 00:15,97",
            *([f"2026-02-04 {hour}", 95] for hour in HOURS)),
        "glucose", 19, {"time": "2026-02-03T23:45", "glucose": "95"},
    ),
    "dates with a midnight that is none": (
        lay("date,clock,glucose mg/dL", *([f"{DAYS[0]} 00:00:00", hour, 95 + i] for i, hour in enumerate(HOURS))),
        "glucose", 16, {"time": "2026-02-03T08:00", "glucose": "95"},
    ),
    "units in the cells": (
        lay("When,Level",
            *([f"2026-02-03 {hour}", "5.4 mmol/L" if i > 8 else "98 mg/dL"] for i, hour in enumerate(HOURS))),
        "glucose", 16, {"glucose": "98"},
    ),
    "exchanges that are defined above": (
        lay("1 KE = 10 g", "", "time,food,KE", *([f"2026-02-03 {hour}", "rice", 4] for hour in HOURS)),
        "meals", 16, {"carbs_g": "40"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_table_that_lies_otherwise_comes_in_right(tmp_path, name):
    text, table, count, row = LAYOUTS[name]
    path = tmp_path / "file.csv"
    path.write_text(text, encoding="utf-8")
    found, rows, _ = bring(path)
    assert (found, len(rows)) == (table, count)
    assert rows.iloc[0][list(row)].to_dict() == row


def test_midnight_at_the_end_of_a_day_is_the_next_one(tmp_path):
    text, *_ = LAYOUTS["midnight ends the day"]
    path = tmp_path / "file.csv"
    path.write_text(text)
    assert bring(path)[1]["time"].tolist()[1] == "2026-02-04T00:00"


def test_a_column_in_a_unit_of_glucose_that_no_word_calls_glucose_is_asked(tmp_path):
    path = tmp_path / "file.csv"
    path.write_text(lay("time,Lactate (mmol/L)", *([f"2026-02-03 {hour}", 5 + i % 3] for i, hour in enumerate(HOURS))))
    with pytest.raises(UnsettledError, match="no word says that it is glucose"):
        bring(path)


def test_dates_between_points_have_the_day_first(tmp_path):
    path = tmp_path / "file.csv"
    path.write_text("Datum;Test;Wert;Einheit\n05.04.2025;Ferritin;60;µg/L\n", encoding="utf-8")
    assert bring(path)[1]["date"].tolist() == ["2025-04-05"]
    path.write_text("Datum;Test;Wert;Einheit\n05/04/2025;Ferritin;60;µg/L\n", encoding="utf-8")
    with pytest.raises(UnsettledError, match="more than one day"):
        bring(path)


def test_a_night_is_of_the_day_on_which_its_column_says_that_one_woke(tmp_path):
    path = tmp_path / "file.csv"
    path.write_text("Woke on,to bed,got up\n2026-02-04,23:40,07:10\n2026-02-06,00:25,08:20\n")
    assert bring(path)[1]["start"].tolist() == ["2026-02-03T23:40", "2026-02-06T00:25"]


@pytest.mark.parametrize(
    ("header", "row", "table", "expected"),
    [
        ("התאריך,שעה,סוכר בדם (mg/dL)", "{d},{t},9{i}", "glucose", {"glucose": "90"}),
        ("التاريخ,الساعة,الجلوكوز (ملغ/دل)", "{d},{t},٩{i}", "glucose", {"glucose": "90"}),
        ("Початок,Вправа,Тривалість", "{d} {t},плавання,1 год 1{i} хв", "activity", {"minutes": "70"}),
        ("Aloitus,Laji,Toteutunut (min)", "{d} klo {t},uinti,3{i}", "activity", {"minutes": "30"}),
        ("Dato,Start,Aktivitet,Varighed (t:mm)", "{d},{t},løb,0:5{i}", "activity", {"minutes": "50"}),
        (
            "ngày,số bước,nhịp tim lúc nghỉ",
            "2026-02-1{i},500{i},6{i}",
            "days",
            {"steps": "5000", "resting_hr_bpm": "60"},
        ),
        ("when,dish,carbs (g)", "{d} {t},stew,4{i}", "meals", {"name": "stew", "carbs_g": "40"}),
    ],
    ids=["hebrew", "arabic_digits", "ukrainian_lengths", "finnish", "danish_length_as_a_clock", "vietnamese", "dish"],
)
def test_words_of_further_languages_name_columns(tmp_path, header, row, table, expected):
    rows = [row.format(d="2026-02-05", t=f"{9 + i // 4:02d}:{15 * (i % 4):02d}", i=i) for i in range(6)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    name, brought, _ = bring(path, table=table)
    assert (name, len(brought)) == (table, 6)
    assert brought.iloc[0][list(expected)].to_dict() == expected


def test_units_in_cyrillic_are_written_as_labs_csv_writes_them(tmp_path):
    path = tmp_path / "labs.csv"
    rows = ["2026-01-15;Глюкоза;5,1;ммоль/л", "2026-01-15;Креатинін;77;мкмоль/л", "2026-01-15;Гемоглобін;141;г/л"]
    path.write_text("\n".join(["Дата;Показник;Результат;Одиниці", *rows]) + "\n", encoding="utf-8")
    assert bring(path)[1]["unit"].tolist() == ["mmol/L", "µmol/L", "g/L"]

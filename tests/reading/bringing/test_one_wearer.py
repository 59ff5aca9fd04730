"""Does one file bring what one sensor on one person read, and only what took place?

What a table may hold beside that, each in two forms that differ from one another, with a table beside it that looks
alike and is in order.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.preview import bring_file
from tests.reading.bringing.tables import bring
from tests.reading.bringing.test_exports import wear_for  # noqa: F401  (a fixture)

START = datetime(2026, 2, 3, 8)
AUTUMN = {"zone": "Europe/Berlin", "unit": "mg/dL", "start": "2026-10-20", "end": "2026-11-02"}
WINTER = {"zone": "Europe/Berlin", "unit": "mg/dL", "start": "2026-02-02", "end": "2026-02-16"}


def write(path: Path, header: str, rows: list[str]) -> Path:
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def readings(step_min: int, count: int, mark: str, first: int, later_min: int = 0) -> list[tuple[datetime, str]]:
    """Rows of one sensor, with the time they are sorted by."""
    times = [START + timedelta(minutes=later_min + step_min * i) for i in range(count)]
    return [(time, f"{time:%Y-%m-%d %H:%M},{mark},{first + i % 7}") for i, time in enumerate(times)]


def in_order(*series: list[tuple[datetime, str]]) -> list[str]:
    return [row for _, row in sorted(row for one in series for row in one)]


@pytest.mark.parametrize(
    ("header", "rows", "answer", "count"),
    [
        ("time,Sensor ID,glucose mg/dL", in_order(readings(1, 300, "7", 90), readings(15, 20, "8", 99, 7)), "8", 20),
        ("time,q,glucose mg/dL", in_order(readings(5, 60, "u", 90), readings(5, 60, "v", 101, 2)), "u", 60),
        ("time,Gerät,glucose mg/dL", in_order(readings(15, 40, "alt", 90), readings(15, 40, "n", 95, 4000)), "n", 40),
        ("time,Person,glucose mg/dL", in_order(readings(15, 40, "Ana", 90), readings(15, 40, "Rui", 99)), "Rui", 40),
    ],
    ids=["two_speeds", "no_word_of_it", "one_after_the_other", "at_equal_times"],
)  # fmt: skip
def test_two_series_of_glucose_are_asked_which_it_is(tmp_path, header, rows, answer, count):
    path = write(tmp_path / "readings.csv", header, rows)
    with pytest.raises(UnsettledError) as asked:
        bring(path)
    assert [question.key for question in asked.value.questions] == ["series"]
    table, brought, told = bring(path, series=answer)
    assert (table, len(brought)) == ("glucose", count)
    assert any(f"in {len(rows) - count} rows" in str(problem) for problem in told.problems)


@pytest.mark.parametrize(
    ("header", "rows"),
    [
        ("time,food,carbs (g),Member", [f"2026-02-0{3 + i // 2} 12:0{i % 2},rice,{i},{'AB'[i % 2]}" for i in range(8)]),
        ("date,test,value,unit,Patient", [f"2025-03-0{3 + i},ferritin,{40 + i},µg/L,{'AB'[i % 2]}" for i in range(4)]),
    ],
    ids=["meals", "labs"],
)  # fmt: skip
def test_two_persons_are_asked_in_any_table(tmp_path, header, rows):
    path = write(tmp_path / "log.csv", header, rows)
    with pytest.raises(UnsettledError, match="series=A"):
        bring(path)
    assert len(bring(path, series="A")[1]) == len(rows) // 2


@pytest.mark.parametrize("marks", [["up", "flat", "down"], ["ok"] * 9 + ["late"], ["day", "day", "night"]])
def test_a_trend_or_a_mark_is_no_second_sensor(tmp_path, marks):
    rows = [
        row.replace(",m,", f",{marks[(i * i + i // 3) % len(marks)]},")
        for i, row in enumerate(in_order(readings(5, 200, "m", 90)))
    ]
    assert len(bring(write(tmp_path / "readings.csv", "time,trend,glucose mg/dL", rows))[1]) == 200


@pytest.mark.parametrize(
    ("header", "rows", "kept"),
    [
        ("start,minutes,sport,Status", ["2026-02-03 18:00,30,run,done", "2026-02-04 18:00,30,run,abgesagt"], ["run"]),
        ("time,food,carbs (g),Eaten", ["2026-02-03 12:00,rice,50,yes", "2026-02-04 12:00,soup,20,no"], ["rice"]),
        ("time,food,carbs (g),Übersprungen", ["2026-02-03 12:00,rice,50,", "2026-02-04 12:00,soup,20,x"], ["rice"]),
    ],
    ids=["cancelled", "not_eaten", "skipped"],
)  # fmt: skip
def test_what_never_was_is_left_out_and_named(tmp_path, header, rows, kept):
    table, brought, told = bring(write(tmp_path / "log.csv", header, rows))
    assert brought[{"activity": "kind", "meals": "name"}[table]].tolist() == kept
    assert ["in 1 rows, lines 3 to 3: not brought" in str(problem) for problem in told.problems] == [True]


def test_rows_that_a_comma_has_moved_are_named_and_a_file_of_them_is_refused(tmp_path):
    rows = [row.replace(",m,", ",") for row in in_order(readings(15, 30, "m", 90))]
    header = "time,glucose mg/dL,note"
    few = [f"{row},{'late, after tea' if i in (4, 9) else ''}" for i, row in enumerate(rows)]
    _, brought, told = bring(write(tmp_path / "few.csv", header, few))
    assert (len(brought), [problem.line for problem in told.problems]) == (28, [6, 11])
    both = [f"2026-02-03 {8 + i // 4:02d}:{15 * (i % 4):02d},5,{i % 9},1,5" for i in range(30)]
    with pytest.raises(NothingToDo, match=r"more cells than its header has names, as 30 of 30"):
        bring(write(tmp_path / "all.csv", "time,glucose mmol/L,insulin (U)", both))


@pytest.mark.parametrize(
    ("header", "end", "asks"),
    [
        ("Local time,glucose mg/dL", "Z", True),
        ("Time (Europe/Berlin),glucose mg/dL", "+00:00", True),
        ("Time (UTC),glucose mg/dL", "Z", False),
        ("Local time,glucose mg/dL", "+01:00", False),
    ],
)
def test_an_offset_that_the_header_speaks_against_is_asked(tmp_path, header, end, asks):
    rows = [f"2026-02-03T{8 + i // 4:02d}:{15 * (i % 4):02d}:00{end},{90 + i % 5}" for i in range(30)]
    path = write(tmp_path / "readings.csv", header, rows)
    if not asks:
        assert bring(path)[1]["time"].iloc[0].endswith(end.replace("Z", "+00:00"))
        return
    with pytest.raises(UnsettledError, match="says UTC"):
        bring(path)
    assert bring(path, zone="local")[1]["time"].iloc[0] == "2026-02-03T08:00"
    assert bring(path, zone="UTC")[1]["time"].iloc[0] == "2026-02-03T08:00+00:00"


@pytest.mark.parametrize(
    ("header", "column", "words"),
    [
        ("time,food,At home", "setting", ["home", "out"]),
        ("time,food,Fora de casa", "setting", ["out", "home"]),
        ("time,fingerstick mg/dL,venous", "source", ["venous", "fingerstick"]),
    ],
)
def test_yes_below_the_name_of_one_of_two_choices_is_that_choice(tmp_path, header, column, words):
    cells = ("101", "88") if "mg/dL" in header else ("pasta", "rice")
    rows = [f"2026-02-03 12:00,{cells[0]},yes", f"2026-02-04 13:00,{cells[1]},no"]
    _, brought, _ = bring(write(tmp_path / "log.csv", header, rows))
    assert brought[column].tolist() == words
    assert brought.get("name", brought.get("glucose")).tolist() == list(cells)


@pytest.mark.parametrize(
    ("called", "category", "table"), [("Sleep", "", "sleep"), ("", "CATEGORIES:Food", "meals"), ("Work", "", "notes")]
)
def test_events_are_of_the_table_that_their_calendar_or_category_names(tmp_path, wear_for, called, category, table):  # noqa: F811
    name = [f"X-WR-CALNAME:{called}"] if called else []
    event = [
        "BEGIN:VEVENT",
        "UID:1@x",
        "DTSTAMP:20260201T000000Z",
        "DTSTART:20260203T220000Z",
        "DTEND:20260204T060000Z",
    ]
    event += ["SUMMARY:whatever it was", *filter(None, [category]), "END:VEVENT"]
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//x//EN", *name, *event, "END:VCALENDAR"]
    path = tmp_path / "events.ics"
    path.write_text("\r\n".join(lines) + "\r\n")
    (added,) = bring_file(path, wear_for(WINTER)).added
    assert (added.table, len(added.new)) == (table, 1)


def autumn(step_min: int) -> list[tuple[str, str]]:
    """Clock time in Berlin and value over 25 October 2026, when 02:00 to 03:00 comes twice (Directive 2000/84/EC)."""
    first = datetime(2026, 10, 24, 22)  # UTC
    moments = [first + timedelta(minutes=step_min * i) for i in range(360 // step_min)]
    change = datetime(2026, 10, 25, 1)
    return [
        (f"{m + timedelta(hours=2 if m < change else 1):%Y-%m-%d %H:%M}", str(90 + i)) for i, m in enumerate(moments)
    ]


@pytest.mark.parametrize("order", ["sorted", "shuffled"])
def test_the_repeated_hour_is_not_guessed_where_no_order_tells_it(tmp_path, wear_for, order):  # noqa: F811
    rows = autumn(20)
    rows = sorted(rows) if order == "sorted" else [rows[i * 7 % len(rows)] for i in range(len(rows))]
    path = write(tmp_path / "readings.csv", "time,glucose mg/dL", [",".join(row) for row in rows])
    bringing = bring_file(path, wear_for(AUTUMN))
    named = {problem.line for problem in bringing.problems if "does not tell which" in str(problem)}
    assert named == {i for i, (time, _) in enumerate(rows, start=2) if time[11:13] == "02"}
    assert len(bringing.added[0].new) == len(rows) - 6


def test_steps_of_the_repeated_hour_are_not_guessed_either(tmp_path, wear_for):  # noqa: F811
    rows = [f"{time},{i % 5}" for i, (time, _) in enumerate(sorted(autumn(1)))]
    bringing = bring_file(write(tmp_path / "steps.csv", "time,steps", rows), wear_for(AUTUMN))
    assert len(bringing.added[0].new) < len(rows)
    assert any("does not tell which" in str(problem) for problem in bringing.problems)


def test_rows_of_one_time_are_counted_by_whether_they_say_the_same(tmp_path, wear_for):  # noqa: F811
    times = [f"2026-02-03 {8 + i // 4:02d}:{15 * (i % 4):02d}" for i in range(30)]
    rows = [f"{time},{90 + i}" for i, time in enumerate(times)]
    rows += [f"{times[3]},93", f"{times[5]},70", f"{times[6]},71"]
    bringing = bring_file(write(tmp_path / "readings.csv", "time,glucose mg/dL", rows), wear_for(WINTER))
    told = [str(problem) for problem in bringing.problems]
    assert len(bringing.added[0].new) == 32  # a sensor reads once at a time
    assert "1 reading stands there twice, such as that of 2026-02-03T08:45: each is brought once" in told[0]
    assert "2 rows are of the same time as ones before, with other values" in told[1]


def test_a_day_in_two_rows_is_one_day(tmp_path, wear_for):  # noqa: F811
    days = [f"2026-02-{4 + i:02d},{i % 10}," for i in range(10)]
    days.insert(3, "2026-02-06,9,160")
    path = write(tmp_path / "days.csv", "date,stress (0-10),caffeine (mg)", days)
    bringing = bring_file(path, wear_for(WINTER))
    (added,) = bringing.added
    assert len(added.new) == 10
    assert added.new.set_index("date").loc["2026-02-06"].tolist() == ["2", "160"]
    (problem,) = bringing.problems
    assert (problem.line, 'stress "9" is not taken' in str(problem)) == (5, True)


def test_ranges_and_estimates_cost_their_cells_and_not_the_column(tmp_path):
    cells = ["48", "60-70", "58", "~80", "?", "ca. 30", "42", "27", "39"]
    rows = [f"2026-02-{3 + i:02d} 12:00,rice {i},{cell}" for i, cell in enumerate(cells)]
    _, brought, told = bring(write(tmp_path / "meals.csv", "time,food,carbs (g)", rows))
    assert brought["carbs_g"].tolist() == ["48", "", "58", "", "", "", "42", "27", "39"]
    assert {problem.line for problem in told.problems} == {3, 5, 7}

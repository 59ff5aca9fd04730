"""Is what a wrist writes by the minute told from days, workouts and a sensor's readings, by how its rows stand?"""

from __future__ import annotations

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from tests.reading.bringing.tables import bring, guess


@pytest.fixture
def write(tmp_path):
    """A function that writes a header and rows as a file and gives its path."""

    def write_lines(header: str, rows: list[str], name: str = "export.csv"):
        path = tmp_path / name
        path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
        return path

    return write_lines


def clocks(step_min: int, count: int = 40) -> list[str]:
    return [f"{8 + i * step_min // 60:02d}:{i * step_min % 60:02d}" for i in range(count)]


@pytest.mark.parametrize("step_min", [1, 5, 15])
def test_steps_by_the_minute_or_the_quarter_are_movement(write, step_min):
    rows = [f"2026-02-04 {clock},{i % 7}" for i, clock in enumerate(clocks(step_min))]
    table, brought, _ = bring(write("Zeitpunkt,Schritte", rows))
    assert table == "movement"
    assert brought["time"].iloc[1] == f"2026-02-04T08:{step_min:02d}"
    assert brought["steps"].tolist()[:3] == ["0", "1", "2"]


def test_date_and_clock_may_stand_apart_beside_heart_rate_and_energy(write):
    rows = [f"04.02.2026;{clock};{i % 7};72;1,4" for i, clock in enumerate(clocks(1))]
    table, brought, _ = bring(write("Datum;Uhrzeit;Schritte;Puls;MET", rows))
    assert table == "movement"
    assert brought.iloc[3][["time", "steps", "heart_rate_bpm", "mets"]].tolist() == [
        "2026-02-04T08:03",
        "3",
        "72",
        "1.4",
    ]


def test_seconds_since_1970(write):
    rows = [f"{1770192000 + 60 * i},{i % 7},70" for i in range(40)]
    table, brought, _ = bring(write("timestamp,steps,heart rate", rows))
    assert table == "movement"
    assert len(brought) == 40


def test_a_row_a_day_is_days(write):
    days = [f"2026-02-{d:02d},{4000 + 100 * d},58" for d in range(3, 17)]
    assert guess(write("date,steps,resting heart rate", days)).mapping.table == "days"
    midnights = [row.replace(",", " 00:00,", 1) for row in days]
    assert guess(write("date,steps,resting heart rate", midnights)).mapping.table == "days"


def test_workouts_with_steps_are_activity(write):
    rows = [f"2026-02-{d:02d} 17:00,2026-02-{d:02d} 17:40,walk,4200" for d in range(3, 17)]
    assert guess(write("start,end,activity,steps", rows)).mapping.table == "activity"


def test_a_sensors_file_with_steps_beside_it_stays_glucose(write):
    rows = [f"2026-02-04 {clock},{100 + i},{i % 7},70" for i, clock in enumerate(clocks(5))]
    assert guess(write("time,glucose (mg/dL),steps,heart rate", rows)).mapping.table == "glucose"
    assert guess(write("time,glucose (mg/dL),steps,heart rate", rows), table="movement").mapping.table == "movement"


def test_numbers_without_a_name_for_them_are_no_movement(write):
    rows = [f"2026-02-04 {clock},{i}" for i, clock in enumerate(clocks(1))]
    with pytest.raises((NothingToDo, UnsettledError)):
        guess(write("time,count of something", rows))


@pytest.mark.parametrize(
    "header", ["time,steps", "Zeit,Schritte", "heure,pas", "time,steps today so far", "Zeit,Schritte (kumuliert)"]
)
@pytest.mark.parametrize("backwards", [False, True])
def test_a_running_total_of_steps_is_asked(write, header, backwards):
    rows = [f"2026-02-0{d} {clock},{17 * i + i % 7}" for d in (4, 5, 6) for i, clock in enumerate(clocks(15))]
    path = write(header, rows[::-1] if backwards else rows)
    with pytest.raises(UnsettledError, match="running=leave_out"):
        guess(path)
    with pytest.raises(NothingToDo, match="is a running total"):
        guess(path, running="leave_out")
    assert len(bring(path, running="each")[1]) == 120


def test_a_running_total_may_be_left_out_beside_heart_rate(write):
    rows = [f"2026-02-04 {clock},{30 * i},{70 + i % 5}" for i, clock in enumerate(clocks(15))]
    _, brought, _ = bring(write("time,steps,heart rate", rows), running="leave_out")
    assert "steps" not in brought
    assert brought["heart_rate_bpm"].tolist()[:2] == ["70", "71"]


def test_a_word_of_the_header_tells_a_running_total_of_few_rises(write):
    rows = [f"2026-02-04 {clock},{i // 10}" for i, clock in enumerate(clocks(1))]
    with pytest.raises(UnsettledError, match="running=leave_out"):
        guess(write("time,steps cumulative", rows))

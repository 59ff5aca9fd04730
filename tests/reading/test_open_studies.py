"""Are the studies recorded from real people read whole, and their known faults found?

Sources: BIG IDEAs Lab Glycemic Variability and Wearable Device Data 1.1 (PhysioNet; Bent et al., npj Digital Medicine
2021) and CGMacros 1.0.0 (PhysioNet, doi 10.13026/3z8q-x658). The counts are those of the lines of the files.
"""

from __future__ import annotations

import pytest

from glucolab.reading.folder import read_study

FOOD_LOG = ["p01", "p02", "p03", "p05", "p07", "p08", "p10", "p14"]
TWO_SENSORS = ["p001", "p002", "p004", "p006", "p019", "p027", "p033"]
FIBER_OF_P019 = [4, 7, 10, 15, 19, 22, 26, 31, 34, 37, 38, 40, 44, 47, 48]
IMPOSSIBLE = {
    "p10": {("wear_1", 9)},
    "p019": {(sensor, line) for sensor in ("sensor_a", "sensor_b") for line in FIBER_OF_P019},
}
"""Cells that cannot be: 161 g of fat in 161 kcal; fibre from 100 to 2,300 g in 15 of 48 meals, counted in the file."""


def lines_of(path) -> int:
    return len(path.read_text().splitlines()) - 1


@pytest.mark.parametrize(
    ("folder", "person"), [("food_log", p) for p in FOOD_LOG] + [("two_sensors", p) for p in TWO_SENSORS]
)
def test_every_row_is_read(open_data, folder, person):
    root = open_data(folder) / person
    study = read_study(root)
    assert len(study.wears) == (1 if folder == "food_log" else 2)
    named = {(problem.file.split("/")[-2], problem.line) for problem in study.problems if problem.left_out}
    assert named == IMPOSSIBLE.get(person, set())
    for wear in study.wears:
        files = root / "wear_periods" / wear.name
        assert len(wear.glucose) == lines_of(files / "glucose.csv")
        assert len(wear.meals) == lines_of(files / "meals.csv")
        inside = wear.glucose["time"].between(wear.start, wear.end)
        assert inside.all()
    if folder == "two_sensors":
        assert len(study.labs) == lines_of(root / "labs.csv")


def test_the_food_log_off_by_150_days_is_told(open_data):
    # the release's own fault, named in the data's description
    (problem,) = read_study(open_data("food_log") / "p07").problems
    assert str(problem) == (
        "wear_periods/wear_1/meals.csv: none of 36 rows lies between 2020-03-14T12:42 and 2020-03-22T11:06; "
        "shifted by +150 days all would: check the dates"
    )
    assert not problem.left_out


def test_foods_before_the_first_reading_are_counted(open_data):
    # p02's first reading is at 11:08 on 21 Feb 2020; two foods were logged at 10:09 and 10:11
    problems = read_study(open_data("food_log") / "p02").problems
    assert [str(problem) for problem in problems] == [
        "wear_periods/wear_1/meals.csv: 2 rows lie before the first reading and cannot be judged"
    ]

"""Does a new wear begin as a folder that is easy to fill, and is nothing ever overwritten?"""

from __future__ import annotations

import pytest

from glucolab.clock import is_zone
from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study, start_wear
from glucolab.reading.new_wear import study_text


def test_a_new_study_and_wear(tmp_path):
    made = start_wear(tmp_path / "mine", "2026-02_winter_1")
    names = sorted(str(path.relative_to(tmp_path / "mine")) for path in made)
    tables = ["activity", "checks", "days", "feelings", "glucose", "meals", "movement", "notes", "sleep"]
    assert names == sorted(
        ["study.toml", "wear_periods/2026-02_winter_1/wear.toml"]
        + [f"wear_periods/2026-02_winter_1/{name}.csv" for name in tables]
    )
    assert all(path.is_file() for path in made)


def test_a_new_folder_says_only_what_is_to_be_filled(tmp_path):
    start_wear(tmp_path, "winter")
    with pytest.raises(NothingToDo) as nothing:
        read_study(tmp_path)
    assert [str(problem) for problem in nothing.value.problems] == [
        "wear_periods/winter/wear.toml line 2: start has no value yet",
        "wear_periods/winter/wear.toml line 3: unit has no value yet",
        "wear_periods/winter: the wear is left out: wear.toml gives no start and no unit that can be used",
    ]


def test_a_new_folder_that_is_filled_reads_without_a_problem(tmp_path):
    start_wear(tmp_path, "winter")
    toml = tmp_path / "wear_periods/winter/wear.toml"
    filled = toml.read_text().replace("start = ", "start = 2026-02-03T08:00:00").replace("unit = ", 'unit = "mg/dL"', 1)
    toml.write_text(filled)
    with open(tmp_path / "wear_periods/winter/glucose.csv", "a") as table:
        table.write("2026-02-03T08:05:00,90,automatic\n")
    study = read_study(tmp_path)
    assert study.problems == ()
    assert len(study.wears[0].glucose) == 1
    assert is_zone(study.person.time_zone)


def test_every_key_that_is_commented_out_is_one_that_is_read(tmp_path):
    start_wear(tmp_path, "winter")
    for file in ("study.toml", "wear_periods/winter/wear.toml"):
        path = tmp_path / file
        lines = [line.removeprefix("# ") if " = " in line else line for line in path.read_text().splitlines()]
        path.write_text("\n".join(line for line in lines if not line.startswith("mean_mmol_l")))
    toml = tmp_path / "wear_periods/winter/wear.toml"
    toml.write_text(
        toml.read_text().replace("start = ", "start = 2026-02-03T08:10:00", 1).replace("unit = ", 'unit = "mg/dL"', 1)
    )
    (tmp_path / "wear_periods/winter/glucose.csv").write_text("time,glucose\n2026-02-03T09:00,90\n")
    study = read_study(tmp_path)
    assert study.problems == ()
    assert study.wears[0].sensor == "spare A"
    assert study.goal.mean_mg_dl == 95


def test_nothing_is_overwritten(make_study):
    root = make_study()
    before = {path: path.read_bytes() for path in root.rglob("*") if path.is_file()}
    with pytest.raises(NothingToDo, match="is already there"):
        start_wear(root, "winter")
    made = start_wear(root, "summer")
    assert root / "study.toml" not in made
    assert {path: path.read_bytes() for path in before} == before


@pytest.mark.parametrize(
    "name", ["", ".", "..", ".hidden", "a/b", "../out", "a\\b", "two\nlines", " x", "x" * 200, "study", "Study"]
)
def test_names_that_no_wear_can_have(tmp_path, name):
    with pytest.raises(NothingToDo, match="cannot be the name of a wear"):
        start_wear(tmp_path / "mine", name)
    assert not (tmp_path / "mine").exists()


def test_a_place_where_nothing_can_be_made(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(NothingToDo, match="cannot be made"):
        start_wear(tmp_path / "file", "winter")


@pytest.mark.parametrize(("zone", "said"), [("Europe/Lisbon", "as this machine is set"), (None, "write yours")])
def test_the_zone_is_the_machines_or_to_be_written(zone, said):
    (line,) = [line for line in study_text(zone).splitlines() if line.startswith("time_zone")]
    assert line.startswith(f'time_zone = "{zone or "UTC"}"')
    assert said in line

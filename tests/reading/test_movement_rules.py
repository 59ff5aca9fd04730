"""Is what no wrist can have written named by file and line, and left out; and what may be doubted, noted?"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.reading.folder import read_study

FILE = "wear_periods/winter/movement.csv"


@pytest.fixture
def read(make_study, sound_study):
    """A function that reads the sound study with these rows: the wear's movement, and what is said of its file."""
    folder = next(name.rpartition("/")[0] for name in sound_study if name.endswith("glucose.csv"))

    def read_rows(rows, header="time,steps,heart_rate_bpm,mets"):
        study = read_study(make_study({f"{folder}/movement.csv": "\n".join([header, *rows]) + "\n"}))
        said = [str(p).removeprefix(f"{folder}/") for p in study.problems if "movement.csv" in p.file]
        return study.wears[0].movement, said

    return read_rows


def minutes(steps, first: int = 8 * 60, more: str = ",60,1.5", step_min: int = 1) -> list[str]:
    """Rows from 08:00 on 4 February on, one every `step_min`."""
    clocks = [divmod(first + i * step_min, 60) for i in range(len(steps))]
    return [f"2026-02-04T{h:02d}:{m:02d},{s}{more}" for (h, m), s in zip(clocks, steps, strict=True)]


def test_sound_rows_are_read_and_nothing_is_said(read):
    movement, said = read(minutes([0, 5, 110, 300, ""]))
    assert said == []
    assert movement["steps"].tolist()[:4] == [0, 5, 110, 300]
    assert np.isnan(movement["steps"].iloc[4])
    assert movement["heart_rate_bpm"].tolist() == [60] * 5
    assert movement["mets"].tolist() == [1.5] * 5
    assert movement.index.tolist() == [2, 3, 4, 5, 6]


def test_more_steps_than_anybody_makes_are_left_out(read):
    movement, said = read(minutes([10, 301, 10, 10]))
    assert said == ['movement.csv line 3: steps "301" are more than anybody makes in 1 min']
    assert movement["steps"].isna().tolist() == [False, True, False, False]
    movement, said = read(minutes([10, 4500, 4501, 10], step_min=15))
    assert len(said) == 1
    assert said[0].startswith("movement.csv line 4")


@pytest.mark.parametrize("cell", ["-5", "15001", "many"])
def test_cells_that_are_no_steps_are_named(read, cell):
    movement, said = read(minutes([10, cell, 10]))
    assert len(movement) == 3
    assert said[0].startswith(f'movement.csv line 3: steps "{cell}"')


@pytest.mark.parametrize("more", [",0,1.5", ",251,1.5", ",60,26"])
def test_hearts_and_energy_no_body_has_are_emptied(read, more):
    movement, said = read([*minutes([10] * 6), *minutes([10], first=9 * 60, more=more)])
    assert len(said) == 1
    assert said[0].startswith("movement.csv line 8: ")
    assert movement.loc[8, ["heart_rate_bpm", "mets"]].isna().sum() == 1


def test_rows_within_one_another_are_left_out_and_two_devices_suspected(read):
    rows = minutes([10] * 30)
    movement, said = read([*rows, rows[3], "2026-02-04T08:04:40,200,60,1.5"])
    assert len(movement) == 30
    assert movement["steps"].sum() == 300
    assert [text[:26] for text in said] == ["movement.csv line 32: time", "movement.csv line 33: time"]
    assert "lies within the row of line 5: if two devices wrote it, name them in source" in said[0]


def test_named_devices_may_overlap(read):
    both = [f"{row},{name}" for name in ("watch", "phone") for row in minutes([10] * 20)]
    movement, said = read(both, "time,steps,heart_rate_bpm,mets,source")
    assert said == []
    assert len(movement) == 40


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ([f"2026-02-04T08:00:{s:02d},1,60,1.5" for s in range(0, 60, 10)],
         "a row every 10 s is neither a minute nor a quarter of an hour, and none is used: sum them to minutes"),
        ([f"2026-02-{d:02d}T00:00,9000,60,1.5" for d in (3, 4, 5)],
         "a row every 24 h is neither a minute nor a quarter of an hour, and none is used: the sum of a day belongs in "
         "days.csv"),
    ],
)  # fmt: skip
def test_rows_of_another_length_are_another_table(read, rows, text):
    movement, said = read(rows)
    assert f"movement.csv line 2: {text}" in said
    assert movement[["steps", "heart_rate_bpm", "mets"]].isna().all(axis=None)


def test_energy_in_tenths_is_left_out_as_a_column(read):
    movement, said = read([*minutes([0] * 8, more=",60,10"), *minutes([90] * 4, first=9 * 60, more=",90,38")])
    assert movement["mets"].isna().all()
    assert any("0 of 12 cells of mets are under 3" in text and "whole column" in text for text in said)
    movement, said = read([*minutes([0] * 8, more=",60,1"), *minutes([90] * 4, first=9 * 60, more=",90,3.8")])
    assert movement["mets"].notna().all()
    assert said == []


def test_uneven_steps_and_long_gaps_are_notes(read):
    clocks = ["08:00", "08:01", "08:02", "08:03", "08:04:20", "08:05:40", "08:07", "10:00", "10:01", "10:02"]
    movement, said = read([f"2026-02-04T{clock},10,60,1.5" for clock in clocks])
    assert len(movement) == 10
    assert said == [
        "movement.csv: 3 of 10 rows do not keep the step of 1 min, which each stands for at most",
        "movement.csv: 1 gap of more than an hour, 2 h in all: not worn, or not written",
    ]


def test_a_table_of_other_days_is_doubted_as_others_are(read):
    _, said = read([row.replace("2026-02-04", "2027-02-04") for row in minutes([10] * 5)])
    assert any("none of 5 rows lies between" in text for text in said)

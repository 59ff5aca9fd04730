"""Does a study begun by hand read back as what was typed, and is what cannot be refused by its field?"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.entering.begun import make_study, make_wear
from glucolab.reading.entering.entry import RefusedError
from glucolab.reading.folder import read_study
from glucolab.reading.new_wear import start_study, start_wear
from tests.running.test_cli import hashes

STUDY = {"name": "mine", "time_zone": "Europe/Lisbon", "unit": "mmol/L", "goal": "5,3"}
WEAR = {"name": "", "day": "2026-03-01", "clock": "8:10", "end_day": "", "end_clock": "", "unit": "mmol/L",
        "sensor_model": 'model "A"', "meter": "", "site": " arm "}  # fmt: skip


def begin(folder: Path, study=STUDY, wear=WEAR, **truths: bool):
    path, text = make_study(folder, study, truths)
    start_study(path, text)
    name, text = make_wear(path, wear)
    start_wear(path, name, text=text)
    (path / "wear_periods" / name / "glucose.csv").write_text("time,glucose\n2026-03-01T09:00,5.1\n")
    return read_study(path)


def test_what_was_typed_is_what_is_read(tmp_path):
    study = begin(tmp_path, pregnant=True)
    assert study.problems == ()
    assert (study.name, study.unit, study.person.time_zone) == ("mine", "mmol/L", "Europe/Lisbon")
    assert study.person.pregnant
    assert not study.person.under_18
    assert study.goal.mean_mg_dl == pytest.approx(5.3 * 18.0156)
    wear = study.wears[0]
    assert (wear.name, wear.unit, wear.sensor_model, wear.site) == ("2026-03-01", "mmol/L", 'model "A"', "arm")
    assert wear.start == pd.Timestamp("2026-03-01T08:10", tz="Europe/Lisbon")
    assert wear.end is None


def test_an_end_and_no_goal(tmp_path):
    study = begin(tmp_path, STUDY | {"goal": ""}, WEAR | {"end_day": "2026-03-14", "end_clock": "07:40"})
    assert study.goal.mean_mg_dl is None
    assert study.wears[0].end == pd.Timestamp("2026-03-14T07:40", tz="Europe/Lisbon")


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"name": ""}, {"name": "is empty"}),
        ({"name": "a/b"}, {"name": "it holds a path separator"}),
        ({"time_zone": "Lisbon"}, {"time_zone": '"Lisbon" is not a time zone such as Europe/Lisbon'}),
        ({"goal": "low"}, {"goal": 'goal "low" is not a number'}),
        ({"goal": "95"}, {"goal": '"95" is outside 2.8 to 16.7'}),
    ],
)
def test_a_study_that_cannot_be(tmp_path, changed, why):
    with pytest.raises(RefusedError) as refused:
        make_study(tmp_path, STUDY | changed, {})
    assert {name: text.split(" (")[0] for name, text in refused.value.faults.items()} == why


def test_a_study_that_is_there_is_left_as_it_is(tmp_path):
    begin(tmp_path)
    before = hashes(tmp_path)
    with pytest.raises(RefusedError, match="already there"):
        make_study(tmp_path, STUDY, {})
    with pytest.raises(NothingToDo, match="already there"):
        start_study(tmp_path / "mine", "")
    assert hashes(tmp_path) == before


@pytest.mark.parametrize(
    ("changed", "field", "why"),
    [
        ({"day": "", "clock": ""}, "day", "is empty"),
        ({"clock": ""}, "clock", "is empty"),
        ({"clock": "8 o'clock"}, "clock", "is not a time of day"),
        ({"day": "2026-03-29", "clock": "01:30"}, "clock", "spring clock change"),
        ({"end_day": "2026-02-01", "end_clock": "08:00"}, "end_day", "does not lie after"),
        ({"end_clock": "08:00"}, "end_day", "is empty"),
        ({"name": "study"}, "name", "reports keep that name"),
    ],
)
def test_a_wear_that_cannot_be(tmp_path, changed, field, why):
    path, text = make_study(tmp_path, STUDY, {})
    start_study(path, text)
    with pytest.raises(RefusedError) as refused:
        make_wear(path, WEAR | changed)
    assert why in refused.value.faults[field]

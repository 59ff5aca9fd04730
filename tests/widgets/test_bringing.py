"""Does the desk of bring_your_data show and ask before it writes, and write only when its button is pressed?"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from glucolab.running.bringing import write_brought
from glucolab.showing.widgets import explore_bringing
from tests.conftest import REPOSITORY
from tests.running.test_cli import hashes

WEAR = "wear_periods/2026-10_autumn"
EXAMPLE = REPOSITORY / "notebooks" / "example_files" / "afternoon_notes.csv"


@pytest.fixture
def study(tmp_path):
    return shutil.copytree(REPOSITORY / "sample_data", tmp_path / "study")


def test_the_example_is_shown_and_written_once_by_the_button(study):
    before = hashes(study)
    desk = explore_bringing(EXAMPLE, study / WEAR, write_brought)
    assert repr(desk) == f"afternoon_notes.csv would bring 7 new rows into {WEAR}/feelings.csv. Nothing is written yet."
    assert "17/10/2026 is 17 October 2026" in desk.shown.value
    assert "line 12" in desk.shown.value, "the row of means is told as left out"
    assert hashes(study) == before
    assert desk.button.description == "write 7 new rows"
    desk.button.click()
    assert repr(desk) == f"Written into {WEAR}/feelings.csv. Bringing the same file again adds nothing."
    assert desk.button.disabled
    changed = {name for name, old in before.items() if hashes(study)[name] != old}
    assert set(map(Path, changed)) == {study / WEAR / "feelings.csv"}
    again = explore_bringing(EXAMPLE, study / WEAR, write_brought)
    assert "is in the study already" in repr(again)
    assert again.button.disabled


def test_what_has_two_readings_is_asked_and_nothing_is_chosen_beforehand(study, tmp_path):
    file = tmp_path / "nights.csv"
    nights = ["18/10/2026,23:50,06:40", "19/10/2026,23:20,06:55", "20/10/2026,23:35,07:05"]
    file.write_text("\n".join(["date,bedtime,wake up", *nights]) + "\n", "utf-8")
    desk = explore_bringing(file, study / WEAR, write_brought)
    assert "answer the 1 question below first" in repr(desk)
    assert desk.button.disabled
    (asked,) = desk.answers.values()
    assert asked.value is None
    readings = dict(asked.options)
    assert len(readings) == 2
    asked.value = next(answer for answer in readings.values() if "even" in answer)
    assert repr(desk).startswith(f"nights.csv would bring 3 new rows into {WEAR}/sleep.csv")
    desk.button.click()
    assert "2026-10-18T23:50,2026-10-19T06:40" in (study / WEAR / "sleep.csv").read_text("utf-8")


def test_what_cannot_be_brought_is_said_and_the_study_stays(study, tmp_path):
    before = hashes(study)
    absent = explore_bringing(tmp_path / "none.csv", study / WEAR, write_brought)
    assert repr(absent).startswith("Nothing was brought: ")
    elsewhere = explore_bringing(EXAMPLE, study, write_brought)
    assert "is not the folder of a wear" in repr(elsewhere)
    assert absent.button.disabled
    assert elsewhere.button.disabled
    assert "path of a file" in repr(explore_bringing("", study / WEAR, write_brought))
    assert hashes(study) == before


def test_a_full_disk_is_said_and_the_study_stays(study):
    def write(bringing):
        raise OSError(28, "No space left on device")

    before = hashes(study)
    desk = explore_bringing(EXAMPLE, study / WEAR, write)
    desk.button.click()
    assert "No space left on device" in repr(desk)
    assert hashes(study) == before


def test_cells_of_a_file_are_text_and_never_markup(study, tmp_path):
    file = tmp_path / "x.csv"
    file.write_text(EXAMPLE.read_text("utf-8").replace("slept well", "<script>alert(1)</script>"), "utf-8")
    desk = explore_bringing(file, study / WEAR, write_brought)
    assert "<script" not in desk.shown.value

"""Do a hundred broken folders and files end in words? The first cases of ``python -m tests.faults.fuzz``."""

from __future__ import annotations

import numpy as np
import pytest

from tests.faults.breaking import break_study
from tests.faults.fuzz import find_silent, judge_words, picture, run, run_cases, write_sound

IN_CI, AT_ONCE = 100, 25


@pytest.mark.parametrize("first", range(0, IN_CI, AT_ONCE))
def test_broken_folders_and_files_end_in_words(first):
    found = {number: wrong for number, wrong in run_cases(first, AT_ONCE) if wrong}
    assert not found


@pytest.mark.parametrize("number", [953, 2284])
def test_what_further_cases_found_stays_mended(number):
    """A single reading in milliseconds, a reading in whose own unit nothing is written."""
    assert list(run_cases(number, 1)) == [(number, [])]


def test_the_harness_sees_a_fault_a_changed_input_and_a_lost_row(tmp_path, monkeypatch):
    """Else everything above would pass on anything."""
    write_sound(tmp_path / "study")
    before = picture(tmp_path, tmp_path / "out")
    monkeypatch.setattr("glucolab.reading.folder.read_study", lambda path: 1 / 0)
    ended = run("check", str(tmp_path / "study"))
    assert any("a fault in glucolab" in text for text in judge_words(ended))
    (tmp_path / "study" / "labs.csv").write_text("date,analyte\n")
    assert picture(tmp_path, tmp_path / "out") != before
    lost = "time,name\n2026-02-03T12:30,soup\n2026-02-03T12:30,soup\n"
    (tmp_path / "study" / "wear_periods" / "winter" / "meals.csv").write_text(lost)
    monkeypatch.setattr("tests.faults.fuzz.count_rows", lambda path: 10**9)
    assert list(find_silent(tmp_path / "study"))


def test_every_way_of_breaking_is_tried(tmp_path):
    done = set()
    for number in range(300):
        root = tmp_path / str(number) / "study"
        write_sound(root)
        done |= {text.split("(")[0] for text in break_study(np.random.default_rng(number), root)}
    assert done >= {f"break_{name}" for name in ("bytes", "rows", "columns", "cells", "toml", "files", "folders")}

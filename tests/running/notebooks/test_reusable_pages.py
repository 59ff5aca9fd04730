"""Is a page made again when, and only when, it would come out otherwise?"""

from __future__ import annotations

import nbformat
import pytest
from nbformat import v4

from glucolab.running.notebooks import pages
from glucolab.running.report import report_into

SUMMER = {
    "wear_periods/summer/wear.toml": 'start = 2026-07-03T08:00:00\nend = 2026-07-05T08:00:00\nunit = "mg/dL"\n',
    "wear_periods/summer/glucose.csv": "time,glucose\n"
    + "".join(f"2026-07-{3 + m // 1440:02d}T{m // 60 % 24:02d}:{m % 60:02d},{95 + m % 7}\n"
              for m in range(480, 480 + 2 * 1440, 15)),
}  # fmt: skip
ALL = ["page of summer: done", "page of study, all wears: done", "page of winter: done"]


@pytest.fixture
def report(make_study, tmp_path, monkeypatch):
    """A function that makes the report of a study of two wears, from a small notebook, and returns what was told."""
    parameters = "study = ''\nwear = ''\nout = ''\n"
    small = v4.new_notebook(
        cells=[v4.new_code_cell(parameters, metadata={"tags": ["parameters"]}), v4.new_code_cell("print(wear)")],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}},
    )
    nbformat.write(small, tmp_path / "small.ipynb")
    monkeypatch.setattr(pages, "find_notebook", lambda name: tmp_path / "small.ipynb")
    make_study(SUMMER)

    def make(again: bool = False) -> list[str]:
        told: list[str] = []
        _, left_out, paths = report_into(tmp_path / "study", tmp_path / "out", told.append, again)
        assert (left_out, len(paths)) == ([], 3)
        assert all(path.is_file() and (path.parent / "notebook.ipynb").is_file() for path in paths)
        return sorted(text for text in told if text.startswith(("page", "unchanged")))

    return make


def test_nothing_changed_so_no_page_is_made(report, tmp_path):
    assert report() == sorted(ALL)
    before = (tmp_path / "out" / "winter" / "report.html").read_bytes()
    assert report() == ["unchanged pages: 3"]
    assert (tmp_path / "out" / "winter" / "report.html").read_bytes() == before
    assert report(again=True) == sorted(ALL)


def test_a_wear_that_changed_and_the_study_are_made_again(report, tmp_path):
    report()
    meals = tmp_path / "study" / "wear_periods" / "summer" / "meals.csv"
    meals.write_text("time,name\n2026-07-03T12:30,soup\n")
    assert report() == ["page of study, all wears: done", "page of summer: done", "unchanged pages: 1"]


def test_another_person_makes_every_page_again(report, tmp_path):
    report()
    (tmp_path / "study" / "study.toml").write_text('[person]\ntime_zone = "Europe/Lisbon"\n[show]\nnumbers = false\n')
    assert report() == sorted(ALL)


@pytest.mark.parametrize("damage", [
    lambda folder: (folder / "report.html").write_text("half"),
    lambda folder: (folder / "report.html").unlink(),
    lambda folder: (folder / "notebook.ipynb").write_text("{"),
    lambda folder: (folder / "notebook.ipynb").write_text("{}"),
    lambda folder: (folder / "notebook.ipynb").write_bytes(b"\xff"),
])  # fmt: skip
def test_a_damaged_page_is_made_again(report, tmp_path, damage):
    report()
    damage(tmp_path / "out" / "winter")
    assert report() == ["page of winter: done", "unchanged pages: 2"]


def test_another_version_of_the_program_makes_every_page_again(report, monkeypatch):
    report()
    monkeypatch.setattr("glucolab.running.notebooks.fingerprint._program", lambda: "another")
    assert report() == sorted(ALL)

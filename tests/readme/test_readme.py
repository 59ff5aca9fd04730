"""Does the README show what its commands answer, on one page, with links that lead somewhere?"""

from __future__ import annotations

import re

import pandas as pd

from tests.conftest import REPOSITORY
from tests.readme.running import PAGE, answer_all, find_answers

TEXT = PAGE.read_text(encoding="utf-8")
EXAMPLES = REPOSITORY / "notebooks" / "example_files"
WINTER = REPOSITORY / "sample_data" / "wear_periods" / "2026-02_winter"
PAGES_OF_FIGURES = ("calibration", "speed", "limits")
MOST_WORDS = 950
"""One page; a limit that the project set itself."""


def test_every_answer_is_what_the_command_says(tmp_path):
    answers = answer_all(TEXT, tmp_path)
    assert answers.keys() == {"sample", "first wear", "finger-sticks"}
    assert answers == find_answers(TEXT), "python -m tests.readme prints them anew"
    assert (tmp_path / "my_report" / "first_wear" / "report.html").is_file()


def test_it_is_one_page():
    assert len(TEXT.split()) <= MOST_WORDS
    assert TEXT.count("![") == 1


def test_every_link_leads_to_a_file():
    for name in [
        "README.md",
        "reports/commands.md",
        "DEVELOPERS.md",
        *(f"reports/{page}.md" for page in PAGES_OF_FIGURES),
    ]:
        file = REPOSITORY / name
        for target in re.findall(r"\]\(([^)#]+)\)", file.read_text(encoding="utf-8")):
            assert (file.parent / target).exists(), f"{name}: {target}"


def test_the_example_files_are_the_samples_winter_in_another_form():
    for export, table, skipped, column in (("sensor_export", "glucose", 2, "Sensor glucose (mg/dL)"),
                                           ("finger_sticks", "checks", 0, "Finger-stick (mg/dL)")):  # fmt: skip
        shown, kept = pd.read_csv(EXAMPLES / f"{export}.csv", skiprows=skipped), pd.read_csv(WINTER / f"{table}.csv")
        kept = kept[kept["source"] == "fingerstick"] if table == "checks" else kept
        assert shown[column].astype(str).to_list() == kept["glucose"].astype(str).to_list()
        times = pd.to_datetime(shown["Date"] + " " + shown["Time"], format="%d/%m/%Y %H:%M")
        assert times.to_list() == pd.to_datetime(kept["time"].str.slice(0, 16)).to_list()


def test_each_page_of_figures_says_first_how_to_read_it():
    for page in PAGES_OF_FIGURES:
        first = (REPOSITORY / "reports" / f"{page}.md").read_text(encoding="utf-8").split("\n\n")[1]
        assert len(re.findall(r"[.:] |\.$", first)) >= 3, page

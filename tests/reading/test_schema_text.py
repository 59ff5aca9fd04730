"""Do the README files teach every key, table and column that the schema has?"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from glucolab.reading.schema_text import report_folder_text, study_folder_text
from glucolab.record import (
    INPUT_TABLES,
    OUTPUT_TABLES,
    STUDY_FREE_KEYS,
    STUDY_KEYS,
    STUDY_SUMMARY_KEYS,
    WEAR_KEYS,
    WEAR_SUMMARY_KEYS,
)

REPOSITORY = Path(__file__).resolve().parents[2]
MADE_BY = "made by python -m glucolab.reading.schema_text"


@pytest.mark.parametrize(
    ("file", "text"), [("sample_data/README.md", study_folder_text), ("reports/README.md", report_folder_text)]
)
def test_the_readme_in_the_repository_is_the_one_the_schema_gives(file, text):
    assert (REPOSITORY / file).read_text(encoding="utf-8") == text(), MADE_BY


def section(text: str, title: str) -> str:
    """The part of a Markdown text below a heading of the third level."""
    return re.split(r"^##+ ", text.split(f"### {title}\n")[1], flags=re.MULTILINE)[0]


@pytest.mark.parametrize("name", INPUT_TABLES)
def test_every_input_column_is_taught(name):
    rows = re.findall(r"^\| `(\w+)` \| (.*?) \|", section(study_folder_text(), f"{name}.csv"), flags=re.MULTILINE)
    assert [row[0] for row in rows] == INPUT_TABLES[name].names
    assert ["required" in row[1] for row in rows] == [column.required for column in INPUT_TABLES[name].columns]


@pytest.mark.parametrize("name", OUTPUT_TABLES)
def test_every_output_column_is_taught(name):
    rows = re.findall(r"^\| `(\w+)` \|", section(report_folder_text(), f"{name}.csv"), flags=re.MULTILINE)
    assert rows == OUTPUT_TABLES[name].names


def test_every_key_is_taught_in_toml_that_can_be_read():
    study, wear = (
        tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", study_folder_text(), flags=re.DOTALL)
    )
    assert {name: list(keys) for name, keys in study.items()} == {
        name: [key.name for key in keys] for name, keys in STUDY_KEYS.items()
    } | {section: [key.name] for section, key in STUDY_FREE_KEYS.items()}
    assert list(wear) == [key.name for key in WEAR_KEYS]


def test_every_key_of_the_summaries_is_taught():
    wear, study = report_folder_text().split("## summary.json of the study")
    for text, keys in ((wear, WEAR_SUMMARY_KEYS), (study, STUDY_SUMMARY_KEYS)):
        assert all(f"| `{key.name}` |" in text for key in keys)


# Contract, section 1, written out here so that the schema is held to it and not to itself.
CONTRACT = {
    "glucose": ("time glucose", "taken"),
    "meals": (
        "name",
        "time carbs_g fiber_g protein_g fat_g energy_kcal alcohol_g caffeine_mg eaten_first setting dish photo note",
    ),
    "activity": ("start minutes kind", "effort note"),
    "sleep": ("start end", "source asleep_min awakenings quality"),
    "days": ("date", "stress caffeine_mg relaxation_min steps resting_hr_bpm hrv_ms ill"),
    "feelings": ("time", "energy focus hunger stress note"),
    "checks": ("time glucose", "source note"),
    "notes": ("start kind", "end time_zone note"),
    "labs": ("date analyte value unit", "time fasting method laboratory low high"),
    "trials": ("date trial arm", "time dish note block"),
    "movement": ("time", "steps heart_rate_bpm mets source"),
}


@pytest.mark.parametrize("name", CONTRACT)
def test_the_schema_is_the_contracts(name):
    required, optional = (set(names.split()) for names in CONTRACT[name])
    columns = INPUT_TABLES[name].columns
    assert {column.name for column in columns if column.required} == required
    assert {column.name for column in columns if not column.required} == optional

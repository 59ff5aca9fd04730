"""Are the publisher's own examples read, and its invalid ones refused with a reason?

github openmhealth/schemas @36078a8, Apache 2.0; found beside the repository, or through GLUCOLAB_STANDARDS.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.any_file import read_grid
from glucolab.reading.standards import read_standard
from tests.conftest import REPOSITORY

ROOT = (
    Path(os.environ.get("GLUCOLAB_STANDARDS", REPOSITORY.parent / "shared" / "standards")) / "open_mhealth" / "examples"
)

READ = {
    "blood-glucose/4.0/valid/with-date-time-time-frame": (
        "checks", {"time": "2013-02-05T07:25:00Z", "glucose": "95", "unit": "mg/dL"}),
    "blood-glucose/4.0/valid/with-temporal-relationship-to-meal": ("checks", {"glucose": "95", "note": "fasting"}),
    "blood-glucose/4.0/valid/with-temporal-relationship-to-sleep": (
        "checks", {"glucose": "95", "note": "before sleeping"}),
    "sleep-duration/2.0/valid/valid-sleep-duration": (
        "sleep",
        {"start": "2016-02-05T20:35:00Z", "end": "2016-02-06T06:35:00Z", "asleep_min": "450"},
    ),
    "sleep-episode/1.1/valid/valid-sleep-episode": (
        "sleep",
        {"start": "2016-02-05T21:35:00Z", "end": "2016-02-06T06:35:00+00:00", "asleep_min": "510", "awakenings": "1"},
    ),
    "physical-activity/1.2/valid/with-calories-burned": (
        "activity",
        {"start": "2015-02-06T06:25:00Z", "minutes": "60", "kind": "walking", "note": "3.1 mi, 160 kcal"},
    ),
}  # fmt: skip
NEITHER = "neither of a standard that is known here nor a list of records"
REFUSED = {
    "blood-glucose/4.0/valid/with-descriptive-statistic": r"is over a time \(minimum\), so it is no reading",
    "blood-glucose/4.0/valid/with-everything": r"is over a time \(minimum\), so it is no reading",
    "blood-glucose/4.0/invalid/empty-document": NEITHER,
    "blood-glucose/4.0/invalid/invalid-descriptive-statistic": 'descriptive_statistic "minmum" is none',
    "blood-glucose/4.0/invalid/invalid-specimen-source": 'specimen_source "fluid" is none',
    "blood-glucose/4.0/invalid/invalid-temporal-relationship-to-meal": '"fsting" is none',
    "blood-glucose/4.0/invalid/invalid-temporal-relationship-to-sleep": '"bfore sleeping" is none',
    "blood-glucose/4.0/invalid/invalid-time-interval": "stands for a span of time",
    "blood-glucose/4.0/invalid/missing-time-frame": "it has no time",
    "data-point/1.0/invalid/empty-document": NEITHER,
    "data-point/1.0/invalid/invalid-header": "its header has no id",
    "data-point/1.0/invalid/missing-body": NEITHER,
    "data-point/1.0/invalid/missing-header": NEITHER,
    "data-point/1.0/valid/empty-body": "data points of other kinds",
    "data-point/1.0/valid/valid-data-point": "it has a day and no clock time",
    "sleep-duration/2.0/invalid/empty-document": NEITHER,
    "sleep-duration/2.0/invalid/invalid-unit": "its length is not in",
    "sleep-duration/2.0/invalid/sleep-duration-only": "it has no start and end",
    "sleep-duration/2.0/invalid/with-date-time": "it has no start and end",
    "sleep-duration/2.0/valid/with-descriptive-statistic": r"is over a time \(average\)",
}


def example(name: str) -> Path:
    path = ROOT / f"{name}.json"
    if not ROOT.is_dir():
        pytest.skip("the examples of Open mHealth (github openmhealth/schemas @36078a8) are not here")
    return path


def read_any(path: Path):
    """As bringing does: what is of no standard may be a table."""
    return read_standard(path) or read_grid(path)


def test_every_example_that_is_here_is_in_these_tests():
    if not ROOT.is_dir():
        pytest.skip("the examples of Open mHealth (github openmhealth/schemas @36078a8) are not here")
    found = {path.relative_to(ROOT).with_suffix("").as_posix() for path in ROOT.rglob("*.json")}
    assert found == {*READ, *REFUSED}


@pytest.mark.parametrize("name", READ)
def test_a_published_example_is_read(name):
    brought = read_standard(example(name))
    table, cells = READ[name]
    (row,) = brought.tables[table].to_dict("records")
    assert cells.items() <= row.items()


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_invalid_or_no_reading_is_refused_with_the_reason(name):
    with pytest.raises(NothingToDo, match=REFUSED[name]):
        read_any(example(name))


def point(minute: int, **more: object) -> dict:
    return {
        "blood_glucose": {"unit": "mmol/L", "value": 5.40},
        "effective_time_frame": {"date_time": f"2026-02-03T08:{minute:02d}:00+01:00"},
        **more,
    }


def test_values_go_where_their_specimen_says_and_close_ones_to_the_sensor(tmp_path):
    (tmp_path / "a.json").write_text(
        json.dumps(
            [
                *(point(m) for m in (0, 5, 10, 15)),
                point(3, specimen_source="capillary blood"),
                point(4, specimen_source="tears"),
            ]
        )
    )
    brought = read_standard(tmp_path / "a.json")
    assert (len(brought.tables["glucose"]), len(brought.tables["checks"])) == (4, 1)
    assert [str(p) for p in brought.problems] == [
        "a.json: entry 6: glucose of tears tells nothing of blood that could be used here"
    ]
    assert (
        "4 values that do not say their specimen stand as close as only a sensor's do: they go to glucose.csv"
        in brought.said
    )
    (tmp_path / "lines.json").write_text("\n".join(json.dumps(point(m)) for m in (0, 5, 10, 15)))
    assert len(read_standard(tmp_path / "lines.json").tables["glucose"]) == 4


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('{"blood_glucose": {"unit": "mg/dL", "value": 95', "is no sound JSON"),
        ('{"a": NaN}', "NaN is no number of JSON"),
        ('{"a": 1, "a": 2}', '"a" stands twice in one record'),
        ("[" * 200_000, "is nested too deeply"),
        ("[1, 2]", NEITHER),
        ('[{"resourceType": "Patient"}]', "nothing that can be brought: passed over: 1 of Patient"),
    ],
)
def test_broken_and_hostile_json_is_one_sentence(tmp_path, text, why):
    (tmp_path / "a.json").write_text(text)
    with pytest.raises(NothingToDo, match=why) as refused:
        read_any(tmp_path / "a.json")
    assert "\n" not in str(refused.value)

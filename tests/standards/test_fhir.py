"""Are FHIR resources read by their codes and units? The guide's and the specification's own examples."""

from __future__ import annotations

import json

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.standards import read_standard
from glucolab.running.cli import main

LABORATORY = {
    "coding": [{"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "laboratory"}]
}


def observation(loinc: str, value: object, unit: str, **more: object) -> dict:
    return {
        "resourceType": "Observation",
        "status": "final",
        "category": [LABORATORY],
        "code": {"coding": [{"system": "http://loinc.org", "code": loinc}]},
        "subject": {"reference": "Patient/p"},
        "effectiveDateTime": "2024-05-02T10:15:00Z",
        "valueQuantity": {"value": value, "unit": unit, "system": "http://unitsofmeasure.org", "code": unit},
    } | more


# HL7 continuous glucose monitoring guide 1.0.0: its examples of a reading in each unit, and of a mean
MASS = observation("99504-3", 120, "mg/dL")
MOLAR = observation("105272-9", 6.7, "mmol/L", effectiveDateTime="2024-05-02T10:30:00Z")
MEAN = observation("97507-8", 145, "mg/dL", effectivePeriod={"start": "2024-05-01", "end": "2024-05-31"})

# FHIR R4 (4.0.1), example Observation/f001: glucose in blood
F001 = {
    "resourceType": "Observation",
    "id": "f001",
    "status": "final",
    "code": {
        "coding": [{"system": "http://loinc.org", "code": "15074-8", "display": "Glucose [Moles/volume] in Blood"}]
    },
    "subject": {"reference": "Patient/f001"},
    "effectivePeriod": {"start": "2013-04-02T09:30:10+01:00"},
    "valueQuantity": {"value": 6.3, "unit": "mmol/l", "system": "http://unitsofmeasure.org", "code": "mmol/L"},
}


def read(tmp_path, *resources: dict, bundle: bool = True):
    found = {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": r} for r in resources]}
    (tmp_path / "a.json").write_text(json.dumps(found if bundle else list(resources)))
    return read_standard(tmp_path / "a.json")


def test_the_guides_readings_in_both_units_and_no_summary(tmp_path):
    brought = read(tmp_path, MASS, MOLAR, MEAN)
    assert brought.tables["glucose"].to_dict("records") == [
        {"time": "2024-05-02T10:15:00Z", "glucose": "120", "unit": "mg/dL"},
        {"time": "2024-05-02T10:30:00Z", "glucose": "6.7", "unit": "mmol/L"},
    ]
    assert "passed over: 1 of figures over a time, which are no readings" in brought.said
    assert len(read(tmp_path, MASS, MOLAR, bundle=False).tables["glucose"]) == 2


def test_the_specifications_own_example_is_a_venous_check(tmp_path):
    (row,) = read(tmp_path, F001).tables["checks"].to_dict("records")
    assert (row["time"], row["glucose"], row["unit"], row["source"]) == (
        "2013-04-02T09:30:10+01:00",
        "6.3",
        "mmol/L",
        "venous",
    )


def test_capillary_values_and_a_laboratory_panel(tmp_path):
    brought = read(
        tmp_path,
        observation("41653-7", 101, "mg/dL"),
        observation("2345-7", 93, "mg/dL", referenceRange=[{"low": {"value": 70}, "high": {"value": 99}}]),
        observation("4548-4", 5.1, "%"),
        observation("9999-9", 1.5, "U/L", code={"text": "something rare"}),
        observation("2339-0", 95, "g/L"),
        observation("41653-7", 95, "mg/dL", status="entered-in-error"),
        observation("99504-3", 0, "mg/dL", valueQuantity=None, dataAbsentReason={"text": "sensor off"}),
    )
    assert brought.tables["checks"]["source"].tolist() == ["fingerstick"]
    labs = brought.tables["labs"]
    assert labs[["date", "moment", "analyte", "value", "unit"]].to_numpy().tolist() == [
        ["2024-05-02", "2024-05-02T10:15:00Z", "glucose", "93", "mg/dL"],
        ["2024-05-02", "2024-05-02T10:15:00Z", "HbA1c", "5.1", "%"],
        ["2024-05-02", "2024-05-02T10:15:00Z", "something rare", "1.5", "U/L"],
    ]
    assert labs[["low", "high"]].iloc[0].tolist() == ["70", "99"]
    assert [problem.text for problem in brought.problems] == [
        'entry 5: its unit "g/L" is neither mg/dL nor mmol/L',
        'entry 6: its status is "entered-in-error": only final, amended and corrected ones are read',
    ]
    assert "passed over: 1 of observations whose value is absent" in brought.said


def test_a_laboratory_value_stands_with_the_wearers_own_date_and_clock(tmp_path, make_study):
    study = make_study()
    late = observation("2345-7", 93, "mg/dL", effectiveDateTime="2026-02-01T23:30:00-03:00")
    (tmp_path / "a.json").write_text(json.dumps(late))
    assert main(["bring", str(tmp_path / "a.json"), "--into", str(study / "wear_periods/winter"), "--yes"]) == 0
    # 23:30 at UTC-3 is 02:30 of the next day in Lisbon, which is at UTC in winter
    assert "2026-02-02,glucose,93,mg/dL,02:30," in (study / "labs.csv").read_text()


def test_two_peoples_data_is_refused(tmp_path):
    with pytest.raises(NothingToDo, match="observations of 2 people"):
        read(tmp_path, MASS, observation("99504-3", 121, "mg/dL", subject={"reference": "Patient/q"}))


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"effectiveDateTime": "2024-05-02"}, "has no clock time"),
        ({"effectiveDateTime": None}, "it has no effectiveDateTime"),
        (
            {
                "effectiveDateTime": None,
                "effectivePeriod": {"start": "2024-05-02T10:00:00Z", "end": "2024-05-02T11:00:00Z"},
            },
            "span",
        ),
        ({"valueQuantity": None, "valueString": "high"}, r"its value is no quantity \(valueString\)"),
        ({"valueQuantity": {"value": "120", "unit": "mg/dL"}}, "its quantity has no number"),
    ],
)
def test_what_is_no_reading_says_why(tmp_path, more, why):
    with pytest.raises(NothingToDo, match=why):
        read(tmp_path, MASS | more)


@pytest.mark.parametrize("code", ["41653-7", "32016-8", "41604-0", "14770-2", "2340-8"])
def test_capillary_codes_are_finger_sticks(tmp_path, code):
    """By glucometer or test strip, also fasting: value set of HL7's LIVD guide (2024Jan, test-code mappings)."""
    brought = read(tmp_path, observation(code, 101, "mg/dL"))
    assert brought.tables["checks"]["source"].tolist() == ["fingerstick"]


def test_glucose_of_cerebrospinal_fluid_is_no_finger_stick(tmp_path):
    """14744-7, in the same value set: moles of glucose in cerebrospinal fluid, about two thirds of that of blood."""
    with pytest.raises(NothingToDo, match="observations of other kinds"):
        read(tmp_path, observation("14744-7", 3.3, "mmol/L", category=[]))

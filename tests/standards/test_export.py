"""Does the exported Bundle validate, come back exactly, and hold no figure that is withheld and no name?"""

from __future__ import annotations

import json

import pandas as pd
import pytest
from fhir.resources.R4B.bundle import Bundle

from glucolab.reading.folder import read_study
from glucolab.reading.standards import read_standard
from glucolab.running.cli import main

SECRET = "zebrafinch"


def make(make_study, unit: str, days: int = 4):
    """A study whose texts are all one word that must not come out."""
    value = (lambda i: f"{90 + i % 23}") if unit == "mg/dL" else (lambda i: f"{5 + i % 23 / 10:.1f}")
    rows = [
        f"2026-02-{3 + m // 1440:02d}T{m // 60 % 24:02d}:{m % 60:02d}:07,{value(m // 5)}"
        for m in range(0, days * 1440, 5)
    ]
    if days > 2:
        rows[400], rows[500] = rows[400].split(",")[0] + ",LO", rows[500].split(",")[0] + ",HI"
    toml = (
        f'start = 2026-02-03T00:00:00\nend = 2026-02-{3 + days:02d}T00:00:00\nunit = "{unit}"\n'
        f'sensor = "{SECRET}"\nsensor_model = "{SECRET}"\nmeter = "{SECRET}"\nsite = "{SECRET}"\n'
    )
    return make_study(
        {
            "wear_periods/winter/wear.toml": toml,
            "wear_periods/winter/glucose.csv": "time,glucose\n" + "\n".join(rows) + "\n",
            "wear_periods/winter/checks.csv": "time,glucose\n",
            "wear_periods/winter/meals.csv": f"time,name,note\n2026-02-04T12:30,{SECRET},{SECRET}\n",
        }
    )


def export(study, tmp_path, code: int = 0) -> dict:
    assert main(["export", str(study), "--fhir", str(tmp_path / "a.json")]) == code
    return json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("unit", ["mg/dL", "mmol/L"])
def test_the_bundle_validates_and_the_readings_come_back_exactly(make_study, tmp_path, unit):
    study = make(make_study, unit)
    found = export(study, tmp_path)
    Bundle.model_validate(found)  # fhir.resources, R4B: Bundle, Observation and Patient as in R4 for what is used here
    assert SECRET not in json.dumps(found)
    back = read_standard(tmp_path / "a.json").tables["glucose"]
    lines = (study / "wear_periods/winter/glucose.csv").read_text().splitlines()[1:]
    written = pd.DataFrame([line.split(",") for line in lines], columns=["time", "glucose"])
    zone = read_study(study).wears[0].zones.names[0]
    local = pd.to_datetime(back["time"], utc=True).dt.tz_convert(zone).dt.strftime("%Y-%m-%dT%H:%M:%S")
    assert local.tolist() == written["time"].tolist()
    assert set(back["unit"]) == {unit}
    numbers = ~written["glucose"].isin(["LO", "HI"])
    assert (
        back["glucose"][numbers.to_numpy()].astype(float).tolist() == written["glucose"][numbers].astype(float).tolist()
    )
    floor = "<40" if unit == "mg/dL" else "<2.22029796"  # 40 / 18.0156
    assert back["glucose"].iloc[400] == floor
    assert back["glucose"].iloc[500].startswith(">")


def test_figures_are_those_of_the_summary_and_withheld_ones_absent(make_study, tmp_path):
    study = make(make_study, "mg/dL")
    found = export(study, tmp_path)
    assert main(["measure", str(study), "--out", str(tmp_path / "out")]) == 0
    summary = json.loads((tmp_path / "out" / "winter" / "summary.json").read_text())
    figures = {
        one["resource"]["code"]["coding"][0]["code"]: one["resource"]
        for one in found["entry"]
        if "effectivePeriod" in one["resource"]
    }
    # codes of the HL7 continuous glucose monitoring guide 1.0.0
    assert set(figures) == {"104636-6", "104637-4", "97507-8", "104638-2"}
    assert figures["97507-8"]["valueQuantity"]["value"] == pytest.approx(summary["mean"]["estimate"], abs=0.005)
    assert figures["104637-4"]["valueQuantity"]["value"] == pytest.approx(100 * summary["coverage"], abs=0.01)
    assert "90 % interval" in figures["97507-8"]["note"][0]["text"]
    short = export(make(make_study, "mg/dL", days=1), tmp_path)
    codes = [one["resource"].get("code", {}).get("coding", [{}])[0].get("code") for one in short["entry"]]
    assert "97507-8" not in codes
    assert "104637-4" in codes


def test_only_an_earlier_bundle_is_replaced(make_study, tmp_path, capsys):
    study = make(make_study, "mg/dL", days=1)
    (tmp_path / "a.json").write_text('{"mine": 1}')
    assert main(["export", str(study), "--fhir", str(tmp_path / "a.json")]) == 2
    assert "is there already and is no FHIR Bundle" in capsys.readouterr().err
    assert (tmp_path / "a.json").read_text() == '{"mine": 1}'
    assert main(["export", str(study), "--fhir", str(study / "a.json")]) == 2
    assert "would lie in the study itself" in capsys.readouterr().err
    (tmp_path / "a.json").unlink()
    export(study, tmp_path)
    first = (tmp_path / "a.json").read_bytes()
    export(study, tmp_path)
    assert (tmp_path / "a.json").read_bytes() == first

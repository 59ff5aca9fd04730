"""How does a study leave for a health record? Readings and figures as a Bundle of FHIR Observations.

After the HL7 continuous glucose monitoring guide 1.0.0 (FHIR 4.0.1). Its panel is not made: it asks for a glucose
management indicator, which is not stated for people without diabetes, and for times in ranges that are not this
person's; so single observations stand in a Bundle of type collection.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, format_times, to_local
from glucolab.errors import NothingToDo, Problem
from glucolab.reading.folder import read_study
from glucolab.running.output_file import replace_text, want_target
from glucolab.units import glucose_from_mg_dl

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis

BEGINS = '{"resourceType": "Bundle"'
READING = {"mg/dL": "99504-3", "mmol/L": "105272-9"}
_MEAN = {"mg/dL": "97507-8", "mmol/L": "105273-7"}
CV, _DAYS, ACTIVE = "104638-2", "104636-6", "104637-4"
_LOINC, _UCUM = "http://loinc.org", "http://unitsofmeasure.org"
_LABORATORY = {
    "coding": [{"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "laboratory"}]
}
_NAMES = uuid.UUID("6ba7b811-9dad-11d1-80b4-00c04fd430c8")
"""Namespace of URLs, RFC 9562 (UUIDs), so that the same wear gives the same names every time."""
_DIGITS = 8
"""More than any reading has, fewer than a conversion of units blurs."""


def export_into(study: Path, file: Path, progress: Callable[[str], None]) -> tuple[int, Sequence[Problem]]:
    """Write a study as one FHIR Bundle.

    Readings stand as measured, every one, in the wear's unit; one that is not used says why in its note.
    Figures are those of ``summary.json``: the estimated mean and CV of blood, days of wear, share of it with usable
    readings. A figure that is withheld is absent.

    Parameters
    ----------
    study : Path
        The study folder.
    file : Path
        The file; an earlier Bundle there is replaced.
    progress : callable

    Returns
    -------
    readings : int
    left_out : sequence of Problem

    Raises
    ------
    NothingToDo
        If nothing can be analysed, or the file must not be written.
    """
    from glucolab.analysis import analyse_study

    want_target(file, study, BEGINS, "FHIR Bundle")
    progress(f"reading {study}")
    analysis = analyse_study(read_study(study), progress)
    if not analysis.wears:
        raise NothingToDo(f"{study}: no wear could be analysed", analysis.left_out)
    bundle = make_bundle(analysis.wears)
    replace_text(file, json.dumps(bundle, ensure_ascii=False, allow_nan=False))
    return sum(len(one.tables["readings"]) for one in analysis.wears), analysis.left_out


def make_bundle(wears: Sequence[WearAnalysis]) -> dict[str, Any]:
    """A Bundle of type collection: a person without a name, readings and figures of every wear.

    Parameters
    ----------
    wears : sequence of WearAnalysis

    Returns
    -------
    dict
        JSON of FHIR R4.
    """
    person = _name("person")
    entries = [{"fullUrl": person, "resource": {"resourceType": "Patient"}}]
    for number, one in enumerate(wears, start=1):
        resources = [*_figures(one), *_readings(one)]
        entries += [
            {"fullUrl": _name(f"{number}/{one.wear.start.isoformat()}/{i}"), "resource": _complete(resource, person)}
            for i, resource in enumerate(resources)
        ]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


def _name(text: str) -> str:
    return f"urn:uuid:{uuid.uuid5(_NAMES, f'glucolab/{text}')}"


def _complete(resource: dict[str, Any], person: str) -> dict[str, Any]:
    """An Observation with what all of them carry."""
    return {
        "resourceType": "Observation",
        "status": "final",
        "category": [_LABORATORY],
        "subject": {"reference": person},
    } | resource


def _observe(code: str, value: float, unit: str, **more: Any) -> dict[str, Any]:
    number = int(value) if float(value).is_integer() else value
    quantity = {"value": number, "unit": unit, "system": _UCUM, "code": unit}
    return {"code": {"coding": [{"system": _LOINC, "code": code}]}, "valueQuantity": quantity} | more


def _readings(one: WearAnalysis) -> list[dict[str, Any]]:
    """Every reading as it was measured."""
    table, unit = one.tables["readings"], one.wear.unit
    values = np.round(glucose_from_mg_dl(table["glucose_raw_mg_dl"].to_numpy(dtype=float), unit), _DIGITS)
    limits = one.wear.glucose["limit"].fillna("").to_numpy(dtype=object)
    found = []
    for time, value, flags, limit in zip(
        exact_times(table["time"], one.wear.zones), values.tolist(), table["flags"].fillna(""), limits, strict=True
    ):
        more: dict[str, Any] = {"effectiveDateTime": time}
        if flags:
            more["note"] = [{"text": f"left out or noted: {flags.replace(';', ', ')}"}]
        reading = _observe(READING[unit], value, unit, **more)
        if limit:
            reading["valueQuantity"]["comparator"] = "<" if limit == "low" else ">"
        found.append(reading)
    return found


def exact_times(times: pd.Series, zones: ZoneSpans) -> list[str]:
    """ISO 8601 text with the local offset, to the microsecond where there are any, shape (n,)."""
    parts = pd.DatetimeIndex(times).as_unit("us").asi8 % 1_000_000
    texts = format_times(times, zones)
    return [f"{text[:19]}.{part:06d}{text[19:]}" if part else text for text, part in zip(texts, parts, strict=True)]


def _figures(one: WearAnalysis) -> list[dict[str, Any]]:
    """The figures of a wear that are not withheld."""
    summary, unit = one.summary, one.wear.unit
    edges = to_local(pd.DatetimeIndex([one.clean.start, one.clean.end]), one.wear.zones)
    period = dict(zip(("start", "end"), (f"{edge:%Y-%m-%d}" for edge in edges), strict=True))
    found = [
        _observe(_DAYS, round(summary["days"], 2), "d"),
        _observe(ACTIVE, round(100 * summary["coverage"], 2), "%"),
    ]
    if (mean := summary["mean"]) is not None:
        low, estimate, high = (
            round(float(glucose_from_mg_dl(mean[key], unit)), 2) for key in ("low", "estimate", "high")
        )
        found.append(_observe(_MEAN[unit], estimate, unit, note=_note(low, high, unit)))
    if (cv := summary["cv_percent"]) is not None:
        low, estimate, high = (round(cv[key], 2) for key in ("low", "estimate", "high"))
        found.append(_observe(CV, estimate, "%", note=_note(low, high, "%")))
    return [figure | {"effectivePeriod": period} for figure in found]


def _note(low: float, high: float, unit: str) -> list[dict[str, str]]:
    text = (
        f"Estimate for blood over this wear, lag and bias of the sensor taken out; 90 % interval {low:g} to {high:g} "
        f"{unit}. Not a diagnosis, and never for dosing a medicine."
    )
    return [{"text": text}]

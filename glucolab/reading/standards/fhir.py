"""What do FHIR resources say? Observations of glucose and of the laboratory, by their LOINC codes and UCUM units.

Source of the structure: HL7 FHIR R4 (4.0.1), Observation and Bundle; sensor codes from the HL7 continuous glucose
monitoring guide 1.0.0. Codes of glucose in serum, plasma and blood: the value set of HL7's LIVD guide
(hl7.org/fhir/uv/livd/2024Jan/ValueSet-testcode-mappings-livd.html). Those of other analytes are from memory.
"""

from __future__ import annotations

from typing import Any

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.amounts import find_unit
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS
from glucolab.reading.standards.entries import Entries, LeftOutError, need_time
from glucolab.reading.standards.parts import NumberText, dig
from glucolab.reading.text import show
from glucolab.units import GLUCOSE_UNITS

LOINC = "http://loinc.org"
SENSOR = ("99504-3", "105272-9")
CAPILLARY = ("41653-7", "32016-8", "41604-0", "14743-9", "14770-2", "2340-8")
"""Capillary blood, also fasting, by a glucometer or test strip, mass and moles; 14743-9 is read differently in public
copies of LOINC, and taken as capillary. Their moles in cerebrospinal fluid, 14744-7, are none of these."""
VENOUS_BLOOD = ("2339-0", "15074-8")
_ANALYTES = {
    "2345-7": "glucose", "14749-6": "glucose", "1558-6": "glucose", "14771-0": "glucose",
    "4548-4": "HbA1c", "17856-6": "HbA1c", "59261-8": "HbA1c",
    "2093-3": "total cholesterol", "14647-2": "total cholesterol",
    "2085-9": "HDL cholesterol", "14646-4": "HDL cholesterol",
    "13457-7": "LDL cholesterol", "18262-6": "LDL cholesterol", "2089-1": "LDL cholesterol",
    "22748-8": "LDL cholesterol",
    "2571-8": "triglycerides", "14927-8": "triglycerides", "20448-7": "insulin", "1884-6": "ApoB",
    "1988-5": "CRP", "30522-7": "CRP", "1742-6": "ALT", "2160-0": "creatinine", "14682-9": "creatinine",
    "2276-4": "ferritin", "3016-3": "TSH", "1989-3": "vitamin D", "62292-8": "vitamin D", "3084-1": "uric acid",
}  # fmt: skip
"""Laboratory codes as the names that labs.csv knows; others come under their own text."""
FASTING = ("1558-6", "14771-0")
SUMMARIES = ("97507-8", "105273-7", "104638-2", "104636-6", "104637-4", "106793-3", "107931-8", "97506-0")
"""Figures over a time, of the same guide: no readings."""
_READ = ("final", "amended", "corrected")


def is_fhir(entry: dict[str, Any]) -> bool:
    """True for a FHIR resource."""
    return isinstance(entry.get("resourceType"), str)


def read_fhir(entries: list[dict[str, Any]], file: str) -> Brought:
    """Observations out of Bundles, or standing alone.

    Sensor readings go to glucose, capillary values and venous whole blood to checks; glucose of serum or plasma and all
    else of the laboratory to labs, from where it checks the sensor, too.

    Parameters
    ----------
    entries : list of dict
        Resources.
    file : str

    Returns
    -------
    Brought

    Raises
    ------
    NothingToDo
        If the observations are of two people, or nothing can be brought.
    """
    resources = [resource for entry in entries for resource in _unpack(entry)]
    _want_one_person(resources, file)
    gathered = Entries(file, "FHIR resources")
    for place, resource in enumerate(resources, start=1):
        kind = resource.get("resourceType")
        if kind != "Observation":
            gathered.pass_over(show(str(kind)))
            continue
        try:
            _read_observation(resource, place, gathered)
        except LeftOutError as why:
            gathered.leave_out(place, str(why))
    return gathered.finish(*_say(gathered))


def _say(gathered: Entries) -> list[str]:
    said = []
    if "labs" in gathered.rows:
        said.append("laboratory values go to labs.csv, also glucose of serum or plasma")
    return said


def _unpack(entry: dict[str, Any]) -> list[dict[str, Any]]:
    if entry.get("resourceType") != "Bundle":
        return [entry]
    found = [dig(one, "resource") for one in entry.get("entry") or []]
    return [resource for resource in found if isinstance(resource, dict)]


def _want_one_person(resources: list[dict[str, Any]], file: str) -> None:
    people = {
        dig(r, "subject", "reference") for r in resources if r.get("resourceType") == "Observation" and r.get("subject")
    } - {None}
    if len(people) > 1:
        raise NothingToDo(f"{file} holds observations of {len(people)} people: bring one person's file at a time")


def _read_observation(resource: dict[str, Any], place: int, gathered: Entries) -> None:
    codes = [str(dig(c, "code")) for c in dig(resource, "code", "coding") or [] if dig(c, "system") in (LOINC, None)]
    if set(codes) & set(SUMMARIES):
        gathered.pass_over("figures over a time, which are no readings")
        return
    status = resource.get("status")
    if status not in _READ:
        raise LeftOutError(f'its status is "{show(str(status))}": only final, amended and corrected ones are read')
    if resource.get("dataAbsentReason") is not None and resource.get("valueQuantity") is None:
        gathered.pass_over("observations whose value is absent")
        return
    if set(codes) & set(SENSOR):
        value, unit = _glucose(resource)
        gathered.add(place, "glucose", time=_time(resource), glucose=value, unit=unit)
    elif set(codes) & {*CAPILLARY, *VENOUS_BLOOD}:
        value, unit = _glucose(resource)
        source = "fingerstick" if set(codes) & set(CAPILLARY) else "venous"
        gathered.add(
            place, "checks", time=_time(resource), glucose=value, unit=unit, source=source, note=_note(resource)
        )
    elif set(codes) & set(_ANALYTES) or _is_laboratory(resource):
        _read_laboratory(resource, codes, place, gathered)
    else:
        gathered.pass_over("observations of other kinds")


def _is_laboratory(resource: dict[str, Any]) -> bool:
    categories = resource.get("category") or []
    coded = {dig(c, "code") for one in categories for c in dig(one, "coding") or []}
    return "laboratory" in coded and resource.get("valueQuantity") is not None


def _quantity(resource: dict[str, Any]) -> tuple[str, str, str]:
    """Comparator, digits and unit of the value."""
    quantity = resource.get("valueQuantity")
    if quantity is None:
        kinds = [key for key, found in resource.items() if key.startswith("value") and found is not None]
        raise LeftOutError(f"its value is no quantity ({kinds[0]})" if kinds else "it has no value")
    value = dig(quantity, "value")
    if not isinstance(value, NumberText):
        raise LeftOutError("its quantity has no number")
    return dig(quantity, "comparator") or "", str(value), dig(quantity, "code") or dig(quantity, "unit") or ""


def _glucose(resource: dict[str, Any]) -> tuple[str, str]:
    comparator, value, unit = _quantity(resource)
    known = find_unit(str(unit), GLUCOSE_UNIT_WORDS)
    if not known or GLUCOSE_UNIT_WORDS[known] not in GLUCOSE_UNITS:
        raise LeftOutError(f'its unit "{show(str(unit))}" is neither mg/dL nor mmol/L')
    return comparator[:1] + value, GLUCOSE_UNIT_WORDS[known]


def _time(resource: dict[str, Any]) -> str:
    start, end = (dig(resource, "effectivePeriod", edge) for edge in ("start", "end"))
    if end not in (None, start):
        raise LeftOutError("it stands for a span of time, so it is no reading")
    moment = resource.get("effectiveDateTime") or resource.get("effectiveInstant") or start
    return need_time(moment, "effectiveDateTime")


def _note(resource: dict[str, Any]) -> str:
    texts = [dig(one, "text") for one in resource.get("note") or []]
    return " ".join(" ".join(text.split()) for text in texts if isinstance(text, str))


def _read_laboratory(resource: dict[str, Any], codes: list[str], place: int, gathered: Entries) -> None:
    comparator, value, unit = _quantity(resource)
    if comparator:
        raise LeftOutError(f'its value "{comparator}{value}" is a limit and no number')
    moment = resource.get("effectiveDateTime") or dig(resource, "effectivePeriod", "start")
    if not isinstance(moment, str) or len(moment) < 10:
        raise LeftOutError("it has no day")
    if len(moment) > 10:
        need_time(moment, "effectiveDateTime")
    named = next((_ANALYTES[code] for code in codes if code in _ANALYTES), None)
    analyte = named or dig(resource, "code", "text") or dig(resource, "code", "coding", 0, "display")
    if not isinstance(analyte, str):
        raise LeftOutError("it does not say what was measured")
    reference = dig(resource, "referenceRange", 0)
    bounds = {bound: str(dig(reference, bound, "value") or "") for bound in ("low", "high")}
    gathered.add(
        place,
        "labs",
        date=moment[:10],
        moment=moment if len(moment) > 10 else "",
        analyte=analyte,
        value=value,
        unit=str(unit),
        fasting="true" if set(codes) & set(FASTING) else "",
        method=str(dig(resource, "method", "text") or ""),
        **bounds,
    )

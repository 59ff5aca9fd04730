"""What do Open mHealth data points say? Blood glucose, sleep and physical activity.

Source: schemas blood-glucose 4.0, sleep-episode 1.1, sleep-duration 2.0, physical-activity 1.2 and data-point 1.0 of
Open mHealth, the basis of IEEE 1752.1-2021.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.standards.entries import Entries, LeftOutError, need_time
from glucolab.reading.standards.parts import NumberText, dig
from glucolab.reading.text import show

_SLEEP_KEYS = ("total_sleep_time", "latency_to_sleep_onset", "number_of_awakenings", "is_main_sleep", "sleep_duration")
_KINDS = ("blood_glucose", *_SLEEP_KEYS, "activity_name")
_SPECIMENS = ("breath", "capillary blood", "interstitial fluid", "saliva", "sweat", "tears", "urine")
_TO_MEAL = (
    "fasting", "not fasting", "before meal", "after meal", "before breakfast", "after breakfast", "before lunch",
    "after lunch", "before dinner", "after dinner", "2 hours postprandial", "with meal", "with food",
)  # fmt: skip
_TO_SLEEP = ("before sleeping", "during sleep", "on waking")
_STATISTICS = (
    "average", "count", "maximum", "median", "minimum", "standard deviation", "sum", "variance", "20th percentile",
    "80th percentile", "lower quartile", "upper quartile", "quartile deviation", "1st quintile", "2nd quintile",
    "3rd quintile", "4th quintile",
)  # fmt: skip
_MINUTES = {"sec": 1 / 60, "min": 1.0, "h": 60.0, "d": 1440.0}
_HEADER = ("id", "creation_date_time", "schema_id")
_SENSORS_STEP_MIN = 61.0
"""Values nearer than this, on the median, come from a sensor, whatever they say; common practice, no source."""
_LONGEST_SLEEP = pd.Timedelta(hours=24)


def is_open_mhealth(entry: dict[str, Any]) -> bool:
    """True for a data point, or the body of one; a plain record whose blood_glucose is a number is none."""
    if "blood_glucose" in entry and not isinstance(entry["blood_glucose"], dict):
        return False
    return ("header" in entry and "body" in entry) or any(key in entry for key in _KINDS)


def read_open_mhealth(entries: list[dict[str, Any]], file: str) -> Brought:
    """Data points, or their bodies.

    Parameters
    ----------
    entries : list of dict
    file : str

    Returns
    -------
    Brought

    Raises
    ------
    NothingToDo
        If nothing can be brought.
    """
    gathered = Entries(file, "Open mHealth data points")
    unnamed: list[tuple[int, dict[str, str]]] = []
    for place, entry in enumerate(entries, start=1):
        try:
            body, source = _open(entry)
            if "blood_glucose" in body:
                _read_glucose(body, place, gathered, unnamed)
            elif "activity_name" in body:
                _read_activity(body, place, gathered)
            elif any(key in body for key in _SLEEP_KEYS):
                _read_sleep(body, source, place, gathered)
            else:
                gathered.pass_over("data points of other kinds")
        except LeftOutError as why:
            gathered.leave_out(place, str(why))
    return gathered.finish(*_place_unnamed(unnamed, gathered))


def _open(entry: dict[str, Any]) -> tuple[dict[str, Any], str]:
    """The body of a data point, and the name of its source."""
    if "body" not in entry:
        return entry, ""
    header, body = entry.get("header"), entry["body"]
    missing = [key for key in _HEADER if dig(header, key) is None]
    if missing or not isinstance(body, dict):
        raise LeftOutError(f"its header has no {missing[0]}" if missing else "it has no body")
    return body, str(dig(header, "acquisition_provenance", "source_name") or "")


def _want_one_of(body: dict[str, Any], key: str, known: tuple[str, ...]) -> str:
    found = body.get(key)
    if found is not None and found not in known:
        raise LeftOutError(f'its {key} "{show(str(found))}" is none that the standard knows')
    return found or ""


def _read_glucose(
    body: dict[str, Any], place: int, gathered: Entries, unnamed: list[tuple[int, dict[str, str]]]
) -> None:
    value, unit = dig(body, "blood_glucose", "value"), dig(body, "blood_glucose", "unit")
    if not isinstance(value, NumberText) or unit not in ("mg/dL", "mmol/L"):
        raise LeftOutError("its blood_glucose is no number in mg/dL or mmol/L")
    specimen = _want_one_of(body, "specimen_source", _SPECIMENS)
    meal = _want_one_of(body, "temporal_relationship_to_meal", _TO_MEAL)
    sleep = _want_one_of(body, "temporal_relationship_to_sleep", _TO_SLEEP)
    if statistic := _want_one_of(body, "descriptive_statistic", _STATISTICS):
        raise LeftOutError(f"it is over a time ({statistic}), so it is no reading")
    frame = body.get("effective_time_frame")
    if dig(frame, "time_interval") is not None:
        raise LeftOutError("it stands for a span of time, so it is no reading")
    cells = {"time": need_time(dig(frame, "date_time"), "time"), "glucose": str(value), "unit": unit}
    if meal or sleep:
        cells["note"] = "; ".join(filter(None, (meal, sleep)))
    if specimen == "capillary blood":
        gathered.add(place, "checks", **cells, source="fingerstick")
    elif specimen == "interstitial fluid":
        gathered.add(place, "glucose", **cells)
    elif specimen:
        raise LeftOutError(f"glucose of {specimen} tells nothing of blood that could be used here")
    else:
        unnamed.append((place, cells))


def _place_unnamed(unnamed: list[tuple[int, dict[str, str]]], gathered: Entries) -> list[str]:
    """Values that do not say where they were taken: a sensor's if they stand as close as only a sensor's do."""
    if not unnamed:
        return []
    moments = pd.to_datetime([cells["time"] for _, cells in unnamed], utc=True, format="ISO8601").sort_values()
    steps = np.diff(moments.as_unit("us").asi8) / 60e6
    table = "glucose" if len(steps) > 1 and float(np.median(steps)) <= _SENSORS_STEP_MIN else "checks"
    for place, cells in unnamed:
        gathered.add(place, table, **cells)
    why = "stand as close as only a sensor's do" if table == "glucose" else "are too few for a sensor's"
    return [f"{len(unnamed)} values that do not say their specimen {why}: they go to {table}.csv"]


def _read_interval(body: dict[str, Any]) -> tuple[str, str]:
    """Start and end."""
    interval = dig(body, "effective_time_frame", "time_interval")
    if interval is None:
        raise LeftOutError("it has no start and end")
    start, end = dig(interval, "start_date_time"), dig(interval, "end_date_time")
    length = _minutes(interval.get("duration")) if isinstance(interval, dict) else None
    if start is None and end is None:
        raise LeftOutError("it has a day and no clock time")
    if length is not None and (start is None or end is None):
        known = pd.Timestamp(need_time(start or end, "time"))
        other = (known + pd.Timedelta(minutes=length * (1 if end is None else -1))).isoformat()
        start, end = (start, other) if end is None else (other, end)
    start, end = need_time(start, "start"), need_time(end, "end")
    if _length(start, end) <= pd.Timedelta(0):
        raise LeftOutError("it ends before it begins")
    return start, end


def _length(start: str, end: str) -> pd.Timedelta:
    first, last = pd.Timestamp(start), pd.Timestamp(end)
    if (first.tzinfo is None) != (last.tzinfo is None):
        raise LeftOutError("its start and its end are not on the same clock")
    return last - first


def _minutes(quantity: Any) -> float | None:
    value, unit = dig(quantity, "value"), dig(quantity, "unit")
    if quantity is None:
        return None
    if not isinstance(value, NumberText) or unit not in _MINUTES:
        raise LeftOutError(f"its length is not in {', '.join(_MINUTES)}")
    return float(value) * _MINUTES[unit]


def _read_activity(body: dict[str, Any], place: int, gathered: Entries) -> None:
    name = body["activity_name"]
    if not isinstance(name, str) or not name.strip():
        raise LeftOutError("its activity_name is empty")
    effort = _want_one_of(body, "reported_activity_intensity", ("light", "moderate", "vigorous"))
    start, end = _read_interval(body)
    minutes = _length(start, end) / pd.Timedelta(minutes=1)
    notes = [
        f"{dig(body, key, 'value')} {dig(body, key, 'unit')}" for key in ("distance", "kcal_burned") if key in body
    ]
    gathered.add(
        place, "activity", start=start, minutes=f"{minutes:.6g}", kind=name, effort=effort, note=", ".join(notes)
    )


def _read_sleep(body: dict[str, Any], source: str, place: int, gathered: Entries) -> None:
    if statistic := _want_one_of(body, "descriptive_statistic", _STATISTICS):
        raise LeftOutError(f"it is over a time ({statistic}), so it is no night")
    asleep = _minutes(body.get("total_sleep_time", body.get("sleep_duration")))
    start, end = _read_interval(body)
    if _length(start, end) > _LONGEST_SLEEP:
        raise LeftOutError("it lasts longer than a day, so it is no night")
    awakenings = body.get("number_of_awakenings")
    gathered.add(
        place,
        "sleep",
        start=start,
        end=end,
        source=source,
        asleep_min="" if asleep is None else f"{asleep:.6g}",
        awakenings=str(awakenings) if isinstance(awakenings, NumberText) else "",
    )

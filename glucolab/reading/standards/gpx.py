"""What does a recorded route say? Start, minutes and kind of a GPX 1.1 track; its places are not kept.

Source: GPX 1.1 schema, www.topografix.com/GPX/1/1.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pandas as pd

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.standards.entries import Entries, LeftOutError, need_time
from glucolab.reading.text import show

NAMESPACE = "http://www.topografix.com/GPX/1/1"
_EARTH_KM = 6371.0
_FASTEST_WALK_KM_H = 7.5
"""Faster than people walk for long; common practice, no source."""
_LONGEST = pd.Timedelta(hours=48)


def read_gpx(data: bytes, file: str) -> Brought:
    """Tracks as activity.

    Parameters
    ----------
    data : bytes
    file : str

    Returns
    -------
    Brought

    Raises
    ------
    NothingToDo
        If it is broken or hostile XML, no GPX, another version of it, or has no track with times.
    """
    gathered = Entries(file, "a GPX file; of its places nothing is kept")
    said: list[str] = []
    for place, track in enumerate(_read_tracks(data, file), start=1):
        try:
            start, minutes, speed = _measure(track)
            kind = _kind(track, speed)
            said += (
                []
                if track["type"]
                else [f"track {place} does not say its kind: by its {speed:.1f} km/h it is a {kind}"]
            )
            gathered.add(place, "activity", start=start, minutes=f"{minutes:.4g}", kind=kind)
        except LeftOutError as why:
            gathered.leave_out(place, str(why))
    return gathered.finish(*said)


def _read_tracks(data: bytes, file: str) -> list[dict[str, Any]]:
    """Type, times and places of every track."""
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import ParseError, iterparse

    tracks: list[dict[str, Any]] = []
    root = None
    try:
        for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
            space, _, name = element.tag.rpartition("}")
            if root is None:
                root = element
                _want_root(space.lstrip("{"), name, file)
            if event == "start" and name == "trk":
                tracks.append({"type": "", "times": [], "places": []})
            elif event == "end" and tracks:
                _take(tracks[-1], element, name)
            if event == "end" and name in ("trkpt", "wpt", "rtept", "extensions"):
                element.clear()
    except DefusedXmlException:
        raise NothingToDo(f"{file} defines entities, as hostile XML does: it is not read") from None
    except ParseError as fault:
        raise NothingToDo(f"{file} is broken or cut-off XML: {show(str(fault), most=100)}") from None
    return tracks


def _want_root(space: str, name: str, file: str) -> None:
    if name != "gpx":
        raise NothingToDo(f"{file} is XML, but not GPX")
    if space != NAMESPACE:
        raise NothingToDo(f'{file} is GPX, but not of version 1.1 (namespace "{show(space)}")')


def _take(track: dict[str, Any], element: Any, name: str) -> None:
    if name == "trkpt":
        time = element.find(f"{{{NAMESPACE}}}time")
        if time is not None and time.text:
            track["times"].append(time.text.strip())
            track["places"].append((element.get("lat"), element.get("lon")))
    elif name == "type" and not track["type"] and element.text and not element.text.strip().isdigit():
        track["type"] = " ".join(element.text.split())[:60]


def _measure(track: dict[str, Any]) -> tuple[str, float, float]:
    """Start, length [min] and mean speed [km/h] of a track."""
    if not track["times"]:
        raise LeftOutError("the track has no times, so it is a plan and no walk")
    times = [need_time(text, "time") for text in track["times"]]
    moments = pd.to_datetime(times, utc=True, format="ISO8601")
    length = moments.max() - moments.min()
    if length <= pd.Timedelta(0) or length > _LONGEST:
        raise LeftOutError("the times of the track do not span between a moment and two days")
    minutes = length / pd.Timedelta(minutes=1)
    return times[int(np.argmin(moments.asi8))], minutes, _way_km(track["places"]) / (minutes / 60)


def _way_km(places: list[tuple[str, str]]) -> float:
    """Length of a way over points, as the haversine of a sphere gives it. [km]"""
    try:
        lat, lon = np.radians(np.array(places, dtype=float)).T
    except (TypeError, ValueError):
        raise LeftOutError("a point of the track has no latitude or longitude") from None
    half = np.sin(np.diff(lat) / 2) ** 2 + np.cos(lat[:-1]) * np.cos(lat[1:]) * np.sin(np.diff(lon) / 2) ** 2
    return float(2 * _EARTH_KM * np.arcsin(np.sqrt(half)).sum())


def _kind(track: dict[str, Any], speed_km_h: float) -> str:
    return track["type"] or ("walk" if speed_km_h < _FASTEST_WALK_KM_H else "movement")

"""How does a new wear begin? Folders to fill, made from the schema; nothing is ever overwritten."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from glucolab.clock import is_zone
from glucolab.errors import NothingToDo
from glucolab.reading.meals_from_photos import PhotoRows, copy_photos
from glucolab.record import STUDY_KEYS, WEAR_KEYS, WEAR_TABLES, Key

SettingValues = Mapping[str, str | float | bool | date]
"""Keys of a settings file whose values are known."""


def start_wear(
    study_path: Path, wear_name: str, photos: PhotoRows | None = None, text: str | None = None
) -> list[Path]:
    """Make the folder of a new wear, and study.toml where there is none yet.

    Parameters
    ----------
    study_path : Path
        The study folder; made if it is not there.
    wear_name : str
        Name of the wear's folder.
    photos : PhotoRows, optional
        Photos that meals.csv begins with; they are copied.
    text : str, optional
        Of wear.toml, where it is known already what it says; else one to fill.

    Returns
    -------
    list of Path
        The files made, all still to be filled: wear.toml and tables that have a header only.

    Raises
    ------
    NothingToDo
        If the name cannot be that of a folder, the wear is already there, or nothing can be written.
    """
    study = Path(study_path)
    if why := find_name_fault(wear_name):
        raise NothingToDo(f"{wear_name!r} cannot be the name of a wear: {why}")
    folder = study / "wear_periods" / wear_name
    if os.path.lexists(folder):
        raise NothingToDo(f"{folder} is already there, and is left as it is")
    contents = {folder / "wear.toml": wear_text() if text is None else text}
    contents |= {folder / f"{name}.csv": ",".join(table.names) + "\n" for name, table in WEAR_TABLES.items()}
    if photos is not None:
        contents[folder / "meals.csv"] = photos.text
    if not os.path.lexists(study / "study.toml"):
        contents = {study / "study.toml": study_text(find_machine_zone()), **contents}
    try:
        folder.mkdir(parents=True)
        for path, text in contents.items():
            with open(path, "x", encoding="utf-8") as file:
                file.write(text)
        copied = [] if photos is None else [copy_photos(photos, folder)]
    except OSError as fault:
        raise NothingToDo(f"{folder} cannot be made: {(fault.strerror or 'it went wrong').lower()}") from None
    return [*contents, *copied]


def start_study(study_path: Path, text: str) -> Path:
    """Make the folder of a new study with its study.toml.

    Parameters
    ----------
    study_path : Path
        Must not be there, or be an empty folder.
    text : str
        Of study.toml.

    Returns
    -------
    Path
        The file made.

    Raises
    ------
    NothingToDo
        If something is there already, or nothing can be written.
    """
    study = Path(study_path)
    path = study / "study.toml"
    try:
        if os.path.lexists(study) and (not study.is_dir() or any(study.iterdir())):
            raise NothingToDo(f"{study} is already there, and is left as it is")
        study.mkdir(parents=True, exist_ok=True)
        with open(path, "x", encoding="utf-8") as file:
            file.write(text)
    except OSError as fault:
        raise NothingToDo(f"{study} cannot be made: {(fault.strerror or 'it went wrong').lower()}") from None
    return path


def find_name_fault(name: str) -> str:
    """Why a name cannot be that of a wear or a study; "" if it can."""
    fault = ""
    if not name or name.startswith(".") or not name.isprintable() or name != name.strip() or len(name.encode()) > 100:
        fault = "it must be short and printable, and start with neither a point nor a space"
    elif "/" in name or "\\" in name:
        fault = "it holds a path separator"
    elif name.lower() == "study":
        fault = "reports keep that name for themselves"
    return fault


def find_machine_zone() -> str | None:
    """IANA name of the zone this machine is set to, None if it does not tell."""
    linked = os.path.realpath("/etc/localtime").partition("zoneinfo/")[2]
    for name in (os.environ.get("TZ", ""), linked):
        if "/" in name and not name.startswith("Etc/") and is_zone(name):
            return name
    return None


def study_text(zone: str | None, values: SettingValues | None = None) -> str:
    """A study.toml to fill: the zone as found, what is known already, every other key commented out."""
    found = (
        "as this machine is set; change it if you live elsewhere" if zone else "this machine does not tell: write yours"
    )
    known = {"time_zone": zone or "UTC", **(values or {})}
    lines = ["# One person. Take the # away, and write your value, where something else holds."]
    for section, keys in STUDY_KEYS.items():
        lines += ["", f"[{section}]"]
        for key in keys:
            after = f"; {found}" if key.name == "time_zone" and "time_zone" not in (values or {}) else ""
            lines.append(_toml_line(key, known) + after)
    return "\n".join(lines) + "\n"


def wear_text(values: SettingValues | None = None) -> str:
    """A wear.toml to fill: what is known, required keys without a value else, all others commented out."""
    known = values or {}
    bare = [key for key in WEAR_KEYS if key.required and key.name not in known]
    required = [f"{key.name} =   # {key.text}, such as {toml_value(key)}" for key in bare]
    given = [_toml_line(key, known) for key in WEAR_KEYS if key.name in known]
    optional = [_toml_line(key, known) for key in WEAR_KEYS if not key.required and key.name not in known]
    first = f"# One sensor on the skin.{' Two keys to fill in:' if bare else ''}"
    last = "# Take the # away, and write your value, where you know more:"
    return "\n".join([first, *required, *given, "", last, *optional]) + "\n"


def _toml_line(key: Key, known: SettingValues) -> str:
    """A key with its value, or commented out with an example."""
    if key.name in known:
        return f"{key.name} = {write_toml(known[key.name])}  # {key.text}"
    return f"# {key.name} = {toml_value(key)}  # {key.text}"


def toml_value(key: Key) -> str:
    """The default of a key as TOML writes it, or an example where it has none."""
    return write_toml(key.example if key.default is None else key.default)


def write_toml(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date):
        return value.isoformat()
    # a basic string of TOML 1.0 escapes as JSON does
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else f"{value:g}"

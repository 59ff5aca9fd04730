"""How does a new wear begin? Folders to fill, made from the schema; nothing is ever overwritten."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

from glucolab.clock import is_zone
from glucolab.errors import NothingToDo
from glucolab.reading.meals_from_photos import PhotoRows, copy_photos
from glucolab.record import STUDY_KEYS, WEAR_KEYS, WEAR_TABLES, Key


def start_wear(study_path: Path, wear_name: str, photos: PhotoRows | None = None) -> list[Path]:
    """Make the folder of a new wear, and study.toml where there is none yet.

    Parameters
    ----------
    study_path : Path
        The study folder; made if it is not there.
    wear_name : str
        Name of the wear's folder.
    photos : PhotoRows, optional
        Photos that meals.csv begins with; they are copied.

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
    _want_name(wear_name)
    folder = study / "wear_periods" / wear_name
    if os.path.lexists(folder):
        raise NothingToDo(f"{folder} is already there, and is left as it is")
    contents = {folder / "wear.toml": wear_text()}
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


def _want_name(name: str) -> None:
    fault = ""
    if not name or name.startswith(".") or not name.isprintable() or name != name.strip() or len(name.encode()) > 100:
        fault = "it must be short and printable, and start with neither a point nor a space"
    elif "/" in name or "\\" in name:
        fault = "it holds a path separator"
    elif name.lower() == "study":
        fault = "reports keep that name for themselves"
    if fault:
        raise NothingToDo(f"{name!r} cannot be the name of a wear: {fault}")


def find_machine_zone() -> str | None:
    """IANA name of the zone this machine is set to, None if it does not tell."""
    linked = os.path.realpath("/etc/localtime").partition("zoneinfo/")[2]
    for name in (os.environ.get("TZ", ""), linked):
        if "/" in name and not name.startswith("Etc/") and is_zone(name):
            return name
    return None


def study_text(zone: str | None) -> str:
    """A study.toml to fill: the zone as found, every other key commented out."""
    found = (
        "as this machine is set; change it if you live elsewhere" if zone else "this machine does not tell: write yours"
    )
    lines = ["# One person. Take the # away, and write your value, where something else holds."]
    for section, keys in STUDY_KEYS.items():
        lines += ["", f"[{section}]"]
        for key in keys:
            if key.name == "time_zone":
                lines.append(f'time_zone = "{zone or "UTC"}"  # {key.text}; {found}')
            else:
                lines.append(f"# {key.name} = {toml_value(key)}  # {key.text}")
    return "\n".join(lines) + "\n"


def wear_text() -> str:
    """A wear.toml to fill: required keys without a value, the others commented out."""
    required = [f"{key.name} =   # {key.text}, such as {toml_value(key)}" for key in WEAR_KEYS if key.required]
    optional = [f"# {key.name} = {toml_value(key)}  # {key.text}" for key in WEAR_KEYS if not key.required]
    first = "# One sensor on the skin. Two keys to fill in:"
    return (
        "\n".join([first, *required, "", "# Take the # away, and write your value, where you know more:", *optional])
        + "\n"
    )


def toml_value(key: Key) -> str:
    """The default of a key as TOML writes it, or an example where it has none."""
    value = key.example if key.default is None else key.default
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date):
        return value.isoformat()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"

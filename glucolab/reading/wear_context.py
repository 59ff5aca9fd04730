"""Where do rows go? The folder of one wear, with what its wear.toml and notes say of unit, span and clocks."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from glucolab.clock import ZoneSpans, to_local
from glucolab.errors import NothingToDo
from glucolab.reading.files import StudyFiles
from glucolab.reading.folder import WEARS, read_home
from glucolab.reading.travel import find_zones
from glucolab.reading.wear import WearLeftOutError, read_span, read_table, read_wear_toml, want_usable, want_wear_folder
from glucolab.record import WEAR_TABLES


@dataclass(frozen=True)
class Place:
    """A wear's folder that rows are brought into.

    Attributes
    ----------
    study, wear : Path, str
        The study's folder, and the name of the wear's.
    zones : ZoneSpans
        What the wearer's clocks showed.
    unit : {"mg/dL", "mmol/L"}
        Of every glucose value in the folder.
    start, end : pandas.Timestamp, pandas.Timestamp or None
        Of the wear; None while it runs. [UTC]
    """

    study: Path
    wear: str
    zones: ZoneSpans
    unit: str
    start: pd.Timestamp
    end: pd.Timestamp | None

    def local(self, moment: pd.Timestamp) -> pd.Timestamp:
        """Local wall time of a moment."""
        return to_local(pd.DatetimeIndex([moment]), self.zones)[0]

    def path(self, table: str) -> Path:
        """The file of one table: laboratory values stand with the study, all others with the wear."""
        folder = self.study / WEARS / self.wear if table in WEAR_TABLES else self.study
        return folder / f"{table}.csv"

    def name(self, table: str) -> str:
        """The same below the study's folder, for messages."""
        return self.path(table).relative_to(self.study).as_posix()


def find_place(folder: Path) -> Place:
    """The wear whose folder this is.

    Parameters
    ----------
    folder : Path
        ``STUDY/wear_periods/WEAR``.

    Returns
    -------
    Place

    Raises
    ------
    NothingToDo
        If it is not such a folder, or its wear.toml does not say yet when the wear began and in which unit it is.
    """
    wear = Path(os.path.abspath(folder))
    if not wear.is_dir():
        raise NothingToDo(f"{folder} is no folder: glucolab new STUDY WEAR makes the folder of a wear")
    if wear.parent.name != WEARS:
        raise NothingToDo(f"{folder} is not the folder of a wear: name STUDY/{WEARS}/WEAR")
    study = wear.parent.parent
    files = StudyFiles(study)
    home = read_home(files)
    try:
        want_wear_folder(files, f"{WEARS}/{wear.name}", wear.name)
        settings = read_wear_toml(files, f"{WEARS}/{wear.name}")
        values = {key: value for (_, key), value in settings.values.items()}
        zone = values["time_zone"] or home
        zones = ZoneSpans((zone or "UTC",))
        notes = read_table(files, f"{WEARS}/{wear.name}/notes.csv", WEAR_TABLES["notes"])
        if notes is not None:
            zones = find_zones(notes, zones.names[0]).zones
        given, end = read_span(files, f"{WEARS}/{wear.name}", settings, zones)
        start = want_usable(settings, zone, given)
    except WearLeftOutError as reason:
        raise NothingToDo(f"{folder}: {reason}; write it first", tuple(files.problems)) from None
    return Place(study, wear.name, zones, values["unit"], start, end)

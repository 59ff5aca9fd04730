"""What is there to choose from? Dishes that were logged before, photos, own columns of days, wears."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.mapping.times import settle
from glucolab.reading.bringing.merging.existing import Existing
from glucolab.reading.cells import parse_covariate
from glucolab.reading.entering.table_edits import open_table
from glucolab.reading.files import StudyFiles
from glucolab.reading.folder import WEARS
from glucolab.reading.meal_names import names_no_dish
from glucolab.reading.photos import SUFFIXES, PhotoError, read_photo_time
from glucolab.reading.text import plain, restore
from glucolab.reading.wear_context import Place, find_place
from glucolab.record import INPUT_TABLES

_REPEATED = (
    "name", "carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal", "alcohol_g", "caffeine_mg", "eaten_first",
    "setting", "dish",
)  # fmt: skip
"""What a repeat takes over; the time, the photo and the note are the eating's own."""
_NUTRIENTS = _REPEATED[1:8]


@dataclass(frozen=True)
class LoggedDish:
    """A dish as it was logged last with its nutrients.

    Attributes
    ----------
    cells : mapping of str to str
        What a repeat takes over, by column of meals.csv; numbers with a decimal point.
    count : int
        How often it was logged in the study.
    """

    cells: Mapping[str, str]
    count: int

    @property
    def name(self) -> str:
        """What it is called."""
        return self.cells["name"]


def find_logged_dishes(places: list[Place]) -> list[LoggedDish]:
    """Dishes of all wears that can be read, those logged most often first, of equal ones the latest.

    Parameters
    ----------
    places : list of Place
        The wears, in the order in which they began.

    Returns
    -------
    list of LoggedDish
        Meals that say only which meal of the day it was are none.
    """
    found: dict[str, LoggedDish] = {}
    for place in places:
        try:
            meals = open_table(place, "meals").existing
        except NothingToDo:
            continue  # what is wrong with it is said where an entry would go into it
        for row in range(len(meals.rows)):
            cells = _repeatable(meals, row)
            key = plain(cells.get("dish", "") or cells.get("name", ""))
            if "name" not in cells or names_no_dish(key):
                continue
            before = found.pop(key, None)
            if before is not None and not any(name in cells for name in _NUTRIENTS):
                cells = dict(before.cells)
            found[key] = LoggedDish(cells, 1 + (before.count if before else 0))
    return sorted(reversed(found.values()), key=lambda dish: -dish.count)


def _repeatable(meals: Existing, row: int) -> dict[str, str]:
    """The cells of one meal that a repeat takes over, filled ones alone."""
    kinds = {column.name: column.kind for column in INPUT_TABLES["meals"].columns}
    cells = {name: meals.column(name)[row] for name in _REPEATED if name in meals.names}
    written = {
        name: cell.replace(",", ".") if kinds[name] == "number" else restore(cell) for name, cell in cells.items()
    }
    return {name: text for name, text in written.items() if text}


def list_photos(place: Place) -> list[str]:
    """Names of the photos in a wear's `photos/` that no meal names yet, sorted."""
    files, folder = StudyFiles(place.study), f"{WEARS}/{place.wear}/photos"
    if not files.is_folder(folder):
        return []
    named = {restore(cell) for cell in open_table(place, "meals").existing.column("photo")}
    return [name for name in files.list_folder(folder) if name.lower().endswith(SUFFIXES) and name not in named]


def find_capture(place: Place, photo: str) -> tuple[pd.Timestamp | None, str]:
    """When a photo of the wear was taken, on the wearer's clocks, or why that cannot be told.

    The photo is read where it lies; nothing of it is kept.
    """
    try:
        taken = read_photo_time(StudyFiles(place.study), f"{WEARS}/{place.wear}", photo)
    except PhotoError as why:
        return None, str(why)
    moment = settle([str(taken)], place.zones)[0]
    if pd.isna(moment):
        return None, "was taken in an hour that the spring clock change skips"
    return place.local(moment), ""


def list_own_columns(place: Place) -> list[str]:
    """Columns of a wear's days.csv that the schema does not name: covariates of the wearer's own."""
    days = open_table(place, "days").existing
    own = [name for name in dict.fromkeys(days.names) if name and name not in INPUT_TABLES["days"].names]
    return [name for name in own if parse_covariate(days.column(name), name, decimal_comma=days.comma)[0] is not None]


def find_places(study: Path) -> tuple[list[Place], list[str]]:
    """The wears of a study that can be written into, in the order in which they began, and why others cannot."""
    places, reasons = [], []
    files = StudyFiles(study)
    names = files.list_folder(WEARS) if files.is_folder(WEARS) else []
    for name in names:
        if files.is_folder(f"{WEARS}/{name}"):
            try:
                places.append(find_place(study / WEARS / name))
            except NothingToDo as reason:
                reasons.append(str(reason))
    return sorted(places, key=lambda place: place.start), reasons

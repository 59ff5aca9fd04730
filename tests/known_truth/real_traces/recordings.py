"""Whose real traces are they? People with one sensor or two, their clocks written as UTC, from a folder of recordings.

The folder is the one that ``GLUCOLAB_REAL_TRACES`` names; it is then used *instead* of the open recordings, so that
people to whom no prior was fitted can judge alone. Without it the open recordings are read, from
``GLUCOLAB_OPEN_DATA``, else ``../shared/open_data`` beside the repository. Either holds any of these:

- ``two_sensors/``: study folders whose two wears were worn at once
- ``two_sensors_mechanics/``: ``glucose.csv.gz`` (person, sensor, time, glucose_mg_dl) and ``meals.csv``, of people with
  diabetes: they tell how two sensors differ and are never taken for wearers
- ``food_log/``: study folders of one wear each

Clocks are written as UTC, for no question here is one of time zones. A wear loses its warm-up where a figure of the
whole wear is judged: what blood was on the first day no sensor saw well.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from glucolab.clock import ZoneSpans, to_local
from glucolab.reading.folder import read_study
from glucolab.record import Person, Study, WearPeriod

REPOSITORY = Path(__file__).resolve().parents[3]
TWO, MECHANICS, ONE = FOLDERS = ("two_sensors", "two_sensors_mechanics", "food_log")
UTC = ZoneSpans(("UTC",))
LEAST_DAYS = 4
MISSING = (
    "No recordings of real people in {root}: it should hold two_sensors, two_sensors_mechanics or food_log. They were "
    "made of CGMacros 1.0.0 (PhysioNet, doi 10.13026/3z8q-x658) and of the BIG IDEAs Lab Glycemic Variability and "
    "Wearable Device Data 1.1 (PhysioNet). GLUCOLAB_REAL_TRACES or GLUCOLAB_OPEN_DATA names the folder."
)


@dataclass(frozen=True, eq=False)
class Recorded:
    """What one person wore.

    Attributes
    ----------
    name : str
        Folder and person.
    study : Study
        One wear, or two worn at once; in UTC.
    wearer : bool
        False for people who only tell how sensors differ.
    """

    name: str
    study: Study
    wearer: bool

    @property
    def wears(self) -> tuple[WearPeriod, ...]:
        """By name, so that sensor a is the first."""
        return tuple(sorted(self.study.wears, key=lambda wear: wear.name))


def find_root() -> Path:
    """The folder that is to be read; it may be absent."""
    named = os.environ.get("GLUCOLAB_REAL_TRACES") or os.environ.get("GLUCOLAB_OPEN_DATA")
    return Path(named) if named else REPOSITORY.parent / "shared" / "open_data"


def read_people(root: Path, most: int | None = None) -> list[Recorded]:
    """Everybody in the folder, or the first `most` of each of its parts; nobody where there is nothing."""
    people = []
    for folder in FOLDERS:
        if (root / folder).is_dir():
            found = _read_mechanics(root, most) if folder == MECHANICS else _read_studies(root / folder, most)
            people += [Recorded(f"{folder}/{study.name}", _in_utc(study), folder != MECHANICS) for study in found]
    return people


def _read_studies(folder: Path, most: int | None) -> list[Study]:
    studies = sorted(path for path in folder.iterdir() if (path / "study.toml").is_file())
    return [read_study(path) for path in studies[:most]]


def _read_mechanics(root: Path, most: int | None) -> list[Study]:
    with tempfile.TemporaryDirectory() as place:
        write_mechanics(root / MECHANICS, Path(place), most)
        return _read_studies(Path(place), None)


def write_mechanics(source: Path, target: Path, most: int | None = None) -> None:
    """People of one long table as study folders, both sensors of each as wears."""
    glucose = pd.read_csv(source / "glucose.csv.gz", parse_dates=["time"])
    eaten = _read_eaten(source)
    for person in sorted(glucose["person"].unique())[:most]:
        for sensor, mine in glucose[glucose["person"] == person].groupby("sensor"):
            folder = target / person / "wear_periods" / f"sensor_{sensor}"
            folder.mkdir(parents=True)
            start, end = (moment.isoformat() for moment in (mine["time"].min(), mine["time"].max()))
            (folder / "wear.toml").write_text(
                f'start = {start}\nend = {end}\nsensor_model = "model {sensor}"\nunit = "mg/dL"\n'
            )
            _write_table(mine.rename(columns={"glucose_mg_dl": "glucose"})[["time", "glucose"]], folder / "glucose.csv")
            meals = eaten[(eaten["person"] == person) & eaten["time"].between(start, end)]
            _write_table(meals.drop(columns="person"), folder / "meals.csv")
        (target / person / "study.toml").write_text('[person]\ntime_zone = "UTC"\n')


def _read_eaten(source: Path) -> pd.DataFrame:
    named = {"meal_type": "name", "kcal": "energy_kcal"}
    columns = ["person", "time", "name", "carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal"]
    path = source / "meals.csv"
    if not path.is_file():
        return pd.DataFrame(columns=columns).astype({"time": "datetime64[us]"})
    return pd.read_csv(path, parse_dates=["time"]).rename(columns=named)[columns]


def _write_table(table: pd.DataFrame, path: Path) -> None:
    table.to_csv(path, index=False, date_format="%Y-%m-%dT%H:%M:%S")


def _in_utc(study: Study) -> Study:
    wears = tuple(_clock_as_utc(wear) for wear in study.wears)
    return replace(study, person=Person("UTC"), wears=wears, tables={}, problems=())


def _clock_as_utc(wear: WearPeriod) -> WearPeriod:
    """What the clock showed, taken for UTC; tables that hold no readings and no meals are left out."""

    def moved(times: pd.Series) -> pd.DatetimeIndex:
        return to_local(times, wear.zones).tz_localize("UTC")

    start, end = moved(pd.Series([wear.start, wear.end or wear.glucose["time"].max()]))
    tables = {name: wear.table(name) for name in ("glucose", "meals")}
    tables = {name: table.assign(time=moved(table["time"])) for name, table in tables.items()}
    return replace(wear, start=start, end=end, zones=UTC, tables=tables)


def cut(wear: WearPeriod, start: pd.Timestamp, end: pd.Timestamp) -> WearPeriod:
    """The part of a wear between two moments, as a wear that is warmed up."""
    tables = {name: table[table["time"].between(start, end)] for name, table in wear.tables.items()}
    return replace(wear, start=start, end=end, warm_up_hours=0.0, tables=tables)


def settle(wear: WearPeriod) -> WearPeriod | None:
    """A wear without its warm-up and cut to whole days; None where that leaves too few."""
    start = wear.start + pd.Timedelta(hours=wear.warm_up_hours)
    days = (_end(wear) - start) // pd.Timedelta(days=1)
    return cut(wear, start, start + days * pd.Timedelta(days=1)) if days >= LEAST_DAYS else None


def _end(wear: WearPeriod) -> pd.Timestamp:
    """The last reading's moment: a folder's end may lie days after it."""
    return min(wear.end, wear.glucose["time"].max())


def first_wears(people: list[Recorded]) -> Iterator[tuple[Recorded, WearPeriod]]:
    """The first sensor of everybody who is a wearer, settled."""
    for one in people:
        settled = settle(one.wears[0]) if one.wearer else None
        if settled is not None:
            yield one, settled

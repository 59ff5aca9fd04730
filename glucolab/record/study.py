"""What is a study, what is a wear? Frozen records that hold what was read and compute nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Protocol, SupportsIndex, TypeVar, overload

import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import Problem
from glucolab.record.inputs import INPUT_TABLES

TIME_DTYPE = "datetime64[us, UTC]"
_DTYPES = {
    "time": TIME_DTYPE, "date": "datetime64[us]", "number": "float64", "count": "float64",
    "text": "str", "choice": "str", "zone": "str", "clock": "str", "true_false": "boolean",
}  # fmt: skip
INSIDE_NAMES = {"glucose": "glucose_mg_dl"}
"""Columns that the reader converts and renames: glucose in the wear's unit becomes mg/dL."""


def empty_table(name: str) -> pd.DataFrame:
    """An input table without rows, as records hold it: typed columns, indexed by line of the file.

    Glucose columns are named ``glucose_mg_dl``; ``meals`` has ``time_source`` and ``time_uncertain``; ``glucose`` has
    ``limit`` ("low" or "high" where the file held words instead of a number).
    """
    return _typed_columns(name).copy(deep=False)


@cache
def _typed_columns(name: str) -> pd.DataFrame:
    columns = {INSIDE_NAMES.get(c.name, c.name): pd.Series(dtype=_DTYPES[c.kind]) for c in INPUT_TABLES[name].columns}
    if name == "meals":
        columns["time_source"] = pd.Series(dtype="str")
        columns["time_uncertain"] = pd.Series(dtype="boolean")
    if name == "glucose":
        columns["limit"] = pd.Series(dtype="str")
    return pd.DataFrame(columns, index=pd.Index([], dtype="int64", name="line"))


class HasName(Protocol):
    """Anything with a name."""

    @property
    def name(self) -> str:
        """What it is called."""
        ...


_Item = TypeVar("_Item", bound=HasName)


class ByName(tuple[_Item, ...]):
    """Things in their order, which may also be asked for by name: ``wears[-1]``, ``wears["2026-10_autumn"]``."""

    @overload
    def __getitem__(self, which: SupportsIndex | str) -> _Item: ...

    @overload
    def __getitem__(self, which: slice) -> ByName[_Item]: ...

    def __getitem__(self, which: SupportsIndex | slice | str) -> _Item | ByName[_Item]:
        if isinstance(which, slice):
            return ByName(super().__getitem__(which))
        if not isinstance(which, str):
            return super().__getitem__(which)
        for one in self:
            if one.name == which:
                return one
        raise KeyError(f"{which!r} is none of {', '.join(map(repr, self.names)) or 'nothing'}")

    def __contains__(self, what: object) -> bool:
        return what in self.names if isinstance(what, str) else super().__contains__(what)

    @property
    def names(self) -> list[str]:
        """What they are called, in order."""
        return [one.name for one in self]


@dataclass(frozen=True)
class Person:
    """What decides which figures may be shown."""

    time_zone: str
    under_18: bool = False
    pregnant: bool = False
    glucose_lowering_medicine: bool = False

    @property
    def describe_only(self) -> bool:
        """True if the tool cleans and describes, and gives no goal, effect, ranking or plan."""
        return self.under_18 or self.pregnant or self.glucose_lowering_medicine


@dataclass(frozen=True)
class Goal:
    """A mean to get below, `mean_mg_dl` None if there is none; the smallest difference worth noticing."""

    mean_mg_dl: float | None = None
    start: date | None = None
    by: date | None = None
    worth_noticing_mg_dl: float = 3.0


@dataclass(frozen=True, eq=False)
class WearPeriod:
    """One sensor on the skin, and what was logged meanwhile.

    Attributes
    ----------
    name : str
        Name of its folder.
    start, end : pandas.Timestamp
        Insertion and removal [UTC]; `end` is None where none is written.
    zones : ZoneSpans
        The zone that the clocks showed, with changes during travel.
    silent : bool
        No end is written, but when the folder was read its last reading was old enough to have been the last.
    tables : mapping of str to pandas.DataFrame
        The input tables by name, indexed by line of the file; use the properties, which hand out
        shallow copies so that the record stays as it was read.
    found_walks : pandas.DataFrame
        Walks that nobody logged, as `activity` has them, with `steps`: empty until
        :func:`glucolab.measuring.walks.add_movement` has looked for them in `movement`.
    """

    name: str
    start: pd.Timestamp
    end: pd.Timestamp | None
    zones: ZoneSpans
    unit: str = "mg/dL"
    ended: str | None = None
    silent: bool = False
    sensor: str = ""
    sensor_model: str = ""
    meter: str = ""
    site: str = ""
    life_days: float | None = None
    warm_up_hours: float = 24.0
    interval_min: float | None = None
    memory_hours: float | None = None
    reads_from_mg_dl: float = 40.0
    reads_to_mg_dl: float = 400.0
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict, repr=False)
    found_walks: pd.DataFrame = field(default_factory=lambda: empty_table("activity").assign(steps=0.0), repr=False)

    @property
    def running(self) -> bool:
        """Whether more readings are to be expected."""
        return self.end is None and not self.silent

    def table(self, name: str) -> pd.DataFrame:
        """The input table `name`, without rows if the folder has none."""
        frame = self.tables.get(name)
        return empty_table(name) if frame is None else frame.copy(deep=False)

    def has(self, name: str) -> bool:
        """True if the folder has this table with at least one row that can be used."""
        frame = self.tables.get(name)
        return frame is not None and len(frame) > 0

    @property
    def glucose(self) -> pd.DataFrame:
        """time, glucose_mg_dl, taken, limit: the readings, in the order of the file."""
        return self.table("glucose")

    @property
    def meals(self) -> pd.DataFrame:
        """Meals, with `time_source` (written or photo) and `time_uncertain` (of a camera that may not travel)."""
        return self.table("meals")

    @property
    def activity(self) -> pd.DataFrame:
        """Activities that were logged."""
        return self.table("activity")

    @property
    def movement(self) -> pd.DataFrame:
        """Steps, heart rate and energy use by the minute or the quarter of an hour, of every device."""
        return self.table("movement")

    @property
    def sleep(self) -> pd.DataFrame:
        """Sleeps of every tracker."""
        return self.table("sleep")

    @property
    def days(self) -> pd.DataFrame:
        """Daily notes and covariates."""
        return self.table("days")

    @property
    def feelings(self) -> pd.DataFrame:
        """Feelings."""
        return self.table("feelings")

    @property
    def checks(self) -> pd.DataFrame:
        """Blood values, in mg/dL."""
        return self.table("checks")

    @property
    def notes(self) -> pd.DataFrame:
        """Noted events."""
        return self.table("notes")


@dataclass(frozen=True, eq=False)
class Study:
    """One person and their wears.

    Attributes
    ----------
    name : str
        Name of the folder.
    wears : ByName of WearPeriod
        By start; any sequence of them may be given, each of a name of its own.
    problems : tuple of Problem
        All that was found wrong or doubtful in the folder.
    input_hashes : mapping of str to str
        SHA-256 of every file read, by path below the folder.
    described : mapping of str to str
        Columns of the wearer's own in days.csv, in words that may be handed over.
    """

    name: str
    person: Person
    unit: str = "mg/dL"
    numbers: bool = True
    goal: Goal = Goal()
    range_low_mg_dl: float = 70.0
    range_high_mg_dl: float = 140.0
    wears: ByName[WearPeriod] = field(default_factory=ByName)
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict, repr=False)
    problems: tuple[Problem, ...] = ()
    input_hashes: Mapping[str, str] = field(default_factory=dict, repr=False)
    described: Mapping[str, str] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        names = [wear.name for wear in self.wears]
        if twice := {name for name in names if names.count(name) > 1}:
            raise ValueError(f"two wears are called {min(twice)!r}: give each a name of its own")
        object.__setattr__(self, "wears", ByName(sorted(self.wears, key=lambda wear: wear.start)))

    def table(self, name: str) -> pd.DataFrame:
        """The input table `name` of the study, without rows if the folder has none."""
        frame = self.tables.get(name)
        return empty_table(name) if frame is None else frame.copy(deep=False)

    @property
    def labs(self) -> pd.DataFrame:
        """Laboratory values."""
        return self.table("labs")

    @property
    def trials(self) -> pd.DataFrame:
        """Planned occasions of self-experiments."""
        return self.table("trials")

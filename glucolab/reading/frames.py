"""How does a table in memory become a wear? A Series or DataFrame, judged by the rules that its file would be."""

from __future__ import annotations

import json
import warnings
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import pandas as pd

from glucolab.clock import is_zone
from glucolab.errors import Problem, UnusableTable
from glucolab.reading.files import HeldFiles
from glucolab.reading.rules import belongs_to_other_unit, other_unit
from glucolab.reading.text import did_you_mean
from glucolab.reading.wear import WearLeftOutError, read_wear
from glucolab.record import WEAR_KEYS, WEAR_TABLES, WearPeriod
from glucolab.units import GLUCOSE_UNITS

_PARENT, _NAME = "wear_periods", "wear"
_OF_THE_CALL = ("start", "end", "unit", "time_zone")
SETTINGS_BY_NAME = tuple(key.name for key in WEAR_KEYS if key.name not in _OF_THE_CALL)
"""Keys of wear.toml that may be given by name."""
_MOST_TOLD = 10
"""Problems named in one message; the exception has all."""
_NO_PLACE = ("UTC", "GMT", "Etc/UTC", "Etc/GMT", "Zulu")
"""Zones in which nobody's nights can be found: whoever means them types them."""


def wear_from_frame(
    glucose: pd.Series | pd.DataFrame,
    *,
    unit: str,
    time_zone: str | None = None,
    name: str = "wear",
    start: str | pd.Timestamp | None = None,
    end: str | pd.Timestamp | None = None,
    meals: pd.DataFrame | None = None,
    activity: pd.DataFrame | None = None,
    movement: pd.DataFrame | None = None,
    sleep: pd.DataFrame | None = None,
    days: pd.DataFrame | None = None,
    feelings: pd.DataFrame | None = None,
    checks: pd.DataFrame | None = None,
    notes: pd.DataFrame | None = None,
    **settings: str | float | None,
) -> WearPeriod:
    """One sensor's readings, and what was logged meanwhile, as a wear: what every stage starts from.

    Parameters
    ----------
    glucose : Series or DataFrame, shape (n,) or (n, k)
        Readings by time. A Series has a DatetimeIndex; a DataFrame has a column ``time``, or else such an index, and
        either a column ``glucose`` or a single column of numbers; a column ``taken`` may say automatic or by_hand. Rows
        without a reading (NaN) are not recorded time. [`unit`]
    unit : {"mg/dL", "mmol/L"}
        Of the readings and of `checks`. It is never guessed.
    time_zone : str, optional
        IANA name of the zone in which the wearer lives, ``"Europe/Lisbon"``: days and nights are local. Needed where
        the times have no zone of their own, or UTC, which is nobody's clock.
    name : str, optional
        What the wear is called in tables.
    start, end : str or Timestamp, optional
        When the sensor went on and came off. Default: the first reading; and that it is still worn if the last reading
        is under two days old, else that it ended with it.
    meals, activity, movement, sleep, days, feelings, checks, notes : DataFrame, optional
        What was logged, with the columns of the file of that name (``gl.describe_table("meals")`` lists them). Times
        may be text, datetimes or the index.
    **settings
        Further keys of ``wear.toml``, such as ``warm_up_hours`` (default 24: readings of the first day are flagged and
        not used), ``interval_min``, ``sensor_model``, ``meter``, ``life_days``, ``reads_to_mg_dl``.

    Returns
    -------
    WearPeriod
        Glucose in mg/dL, times in UTC. `line` of its tables counts as in the CSV that each would be.

    Raises
    ------
    UnusableTable
        A ValueError: what cannot be used, row by row, and what to type instead.
    TypeError
        If a setting is not known.

    Warns
    -----
    UserWarning
        Of what is used but doubtful, such as readings outside the wear.

    Notes
    -----
    The tables go through the reader of study folders, so that rules, limits and messages are the same. A table is taken
    whole or not at all: a row that the reader of a folder would leave out is an error here.

    Examples
    --------
    Two days of readings every five minutes:

    >>> import numpy as np, pandas as pd, glucolab as gl
    >>> times = pd.date_range("2026-02-03 08:00", periods=576, freq="5min", tz="Europe/Lisbon")
    >>> readings = pd.Series(100 + 15 * np.sin(np.arange(576) / 20), times)
    >>> wear = gl.wear_from_frame(readings, unit="mg/dL", warm_up_hours=0)
    >>> len(wear.glucose), wear.zones.names
    (576, ('Europe/Lisbon',))

    A wrong unit is told, not guessed:

    >>> gl.wear_from_frame(readings / 18, unit="mg/dL")
    Traceback (most recent call last):
    glucolab.errors.UnusableTable: the readings (median 5.56) plainly are in mmol/L, not mg/dL: type unit="mmol/L"
    """
    readings = _as_glucose(glucose)
    _want_unit(readings, unit)
    zone = _find_zone(readings, time_zone)
    tables = {
        "glucose": readings, "meals": meals, "activity": activity, "movement": movement, "sleep": sleep,
        "days": days, "feelings": feelings, "checks": checks, "notes": notes,
    }  # fmt: skip
    texts = {table: _write_table(table, frame, zone) for table, frame in tables.items() if frame is not None}
    begin = readings["time"].min() if start is None else start
    toml = _write_settings(settings) + f"unit = {json.dumps(unit)}\nstart = {_write_moment(begin, 'start')}\n"
    toml += "" if end is None else f"end = {_write_moment(end, 'end')}\n"
    files = HeldFiles(held={f"{_PARENT}/{_NAME}/wear.toml": toml.encode()})
    files.held |= {f"{_PARENT}/{_NAME}/{table}.csv": text.data for table, text in texts.items()}
    try:
        wear = read_wear(files, _PARENT, _NAME, zone, pd.Timestamp.now("UTC"))
    except WearLeftOutError as reason:
        raise _refuse([str(reason)], files.problems, texts) from None
    wrong = [problem for problem in files.problems if problem.left_out]
    if wrong:
        raise _refuse([], wrong, texts)
    for doubt in files.problems:
        warnings.warn(_word(doubt, texts), stacklevel=2)
    return replace(wear, name=name)


@dataclass(frozen=True)
class _Written:
    """A table as its file would be; `lines` are those on which rows begin, `rows` their places in what was given."""

    data: bytes
    lines: np.ndarray
    rows: np.ndarray


def _as_glucose(given: pd.Series | pd.DataFrame) -> pd.DataFrame:
    """Columns ``time, glucose`` and perhaps ``taken``, indexed by the row's place; rows without a reading are gone."""
    if isinstance(given, pd.Series):
        given = given.to_frame("glucose")
    if not isinstance(given, pd.DataFrame):
        raise UnusableTable(f"glucose is a {type(given).__name__}: give a Series with a DatetimeIndex, or a DataFrame")
    frame = _with_time_column(given, "time", "glucose")
    if "glucose" not in frame:
        numeric = list(frame.select_dtypes("number"))
        if len(numeric) != 1:
            which = f"there are {', '.join(map(str, numeric))}" if numeric else "there is no column of numbers"
            example = numeric[0] if numeric else "my_column"
            raise UnusableTable(
                f'which column holds glucose? {which}: type frame.rename(columns={{"{example}": "glucose"}})'
            )
        frame = frame.rename(columns={numeric[0]: "glucose"})
    frame = frame[[column for column in ("time", "glucose", "taken") if column in frame]]
    known = frame["glucose"].notna()
    if not known.any():
        raise UnusableTable("glucose has no readings: every value is missing")
    return frame[known]


def _with_time_column(given: pd.DataFrame, column: str, table: str) -> pd.DataFrame:
    """The frame with its times in a column, rows numbered; a column of that name counts before the index."""
    twice = given.columns[given.columns.duplicated()]
    if len(twice):
        raise UnusableTable(f"{table} has more than one column called {twice[0]}: keep the one that is meant")
    if column in given:
        return given.reset_index(drop=True)
    if isinstance(given.index, pd.DatetimeIndex):
        return given.reset_index(drop=True).assign(**{column: given.index})
    raise UnusableTable(
        f"{table} has no times: its index holds {given.index.dtype} and no column is called {column}; type "
        f'frame.index = pd.to_datetime(...), or frame.rename(columns={{"my_time": "{column}"}})'
    )


def _want_unit(glucose: pd.DataFrame, unit: str) -> None:
    if unit not in GLUCOSE_UNITS:
        known = " or ".join(f'unit="{one}"' for one in GLUCOSE_UNITS)
        raise UnusableTable(f"unit {unit!r} is not known: type {known}")
    median = pd.to_numeric(glucose["glucose"], errors="coerce").median()
    if belongs_to_other_unit(np.array([median]), unit)[0]:
        other = other_unit(unit)
        raise UnusableTable(
            f'the readings (median {median:.3g}) plainly are in {other}, not {unit}: type unit="{other}"'
        )


def _find_zone(glucose: pd.DataFrame, given: str | None) -> str:
    """The wearer's zone: as given, else that of the times where it is a place's."""
    if given is not None:
        if not is_zone(given):
            raise UnusableTable(f'time_zone {given!r} is not known: type one such as time_zone="Europe/Lisbon"')
        return given
    times = glucose["time"]
    own = str(times.dt.tz) if isinstance(times.dtype, pd.DatetimeTZDtype) else ""
    if own in _NO_PLACE or not is_zone(own):
        what = f"are in {own}" if own else "have no time zone"
        raise UnusableTable(
            f'the times {what}, and nights are local: type the wearer\'s own, such as time_zone="Europe/Lisbon"'
        )
    return own


def _write_moment(moment: str | pd.Timestamp, name: str) -> str:
    """A moment in ISO 8601; text is read by that alone, since 03/06 has two readings."""
    try:
        stamp = datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    except ValueError:
        stamp = None
    if not isinstance(stamp, datetime) or pd.isna(stamp):
        raise UnusableTable(f'{name} {moment!r} is not a time: type one such as {name}="2026-02-03 08:10"')
    known = pd.Timestamp(stamp)
    return str((known if known.tz is None else known.tz_convert("UTC")).floor("s").isoformat())


def _write_settings(settings: Mapping[str, str | float | None]) -> str:
    """Keys of wear.toml with their values; None is not given."""
    for name in settings:
        if name not in SETTINGS_BY_NAME:
            raise TypeError(
                f'wear_from_frame() has no argument "{name}"{did_you_mean(name, SETTINGS_BY_NAME)}; settings of a '
                f"wear are {', '.join(SETTINGS_BY_NAME)}"
            )
    return "".join(
        f"{name} = {json.dumps(value, ensure_ascii=False) if isinstance(value, str) else float(value)!r}\n"
        for name, value in settings.items()
        if value is not None
    )


def _write_table(table: str, given: pd.DataFrame, zone: str) -> _Written:
    """The table as its file would be: times in ISO 8601, in UTC where they have a zone, dates in the wearer's."""
    moment = next((c for c in WEAR_TABLES[table].columns if c.kind in ("time", "date")), None)
    frame = given
    if table != "glucose" and moment is not None and (moment.required or isinstance(given.index, pd.DatetimeIndex)):
        frame = _with_time_column(given, moment.name, table)
    places = frame.index.to_numpy() if table == "glucose" else np.arange(len(frame))
    kinds = {column.name: column.kind for column in WEAR_TABLES[table].columns}
    written = frame.assign(**{
        str(name): _write_times(frame[name], zone if kinds.get(str(name)) == "date" else None)
        for name in frame.select_dtypes(["datetime", "datetimetz"])
    })  # fmt: skip
    text = written.to_csv(index=False, lineterminator="\n")
    breaks = np.zeros(len(written), dtype=int)
    for name in written.select_dtypes(["object", "string"]):
        breaks += written[name].astype("str").str.count("\n").fillna(0).to_numpy(dtype=int)
    lines = 2 + np.arange(len(written)) + np.r_[0, np.cumsum(breaks)[:-1]] if len(written) else np.empty(0, dtype=int)
    return _Written(text.encode(errors="surrogateescape"), lines, places)


def _write_times(times: pd.Series, zone_of_dates: str | None) -> pd.Series:
    """Times as text, or where a zone is given the dates that they are there."""
    zoned = isinstance(times.dtype, pd.DatetimeTZDtype)
    if zone_of_dates is not None:
        return (times.dt.tz_convert(zone_of_dates) if zoned else times).dt.strftime("%Y-%m-%d")
    plain = (times.dt.tz_convert("UTC").dt.tz_localize(None) if zoned else times).dt.as_unit("us")
    whole = bool((plain.dropna().dt.microsecond == 0).all())
    text = np.datetime_as_string(plain.to_numpy(), unit="s" if whole else "us").astype(object)
    text = text + ("Z" if zoned else "")
    return pd.Series(np.where(plain.isna(), "", text), index=times.index)


def _refuse(reasons: list[str], problems: list[Problem], texts: Mapping[str, _Written]) -> UnusableTable:
    """One exception of everything that is wrong."""
    told = [*reasons, *(_word(problem, texts) for problem in problems)]
    more = f"; and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    return UnusableTable("; ".join(told[:_MOST_TOLD]).replace(" in wear.toml", "") + more, tuple(problems))


def _word(problem: Problem, texts: Mapping[str, _Written]) -> str:
    """A problem by table and row instead of file and line."""
    table = problem.file.rpartition("/")[2].removesuffix(".csv")
    text = problem.text.removesuffix("; the row is left out")
    if table not in texts:
        return text
    if problem.line is None or problem.line < 2:
        return f"{table}: {text}"
    place = int(np.searchsorted(texts[table].lines, problem.line, side="right")) - 1
    return f"{table} row {texts[table].rows[place]}: {text}"

"""How do results become files? Tables as CSV, summaries as JSON, and back again."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, format_times
from glucolab.errors import NothingToDo
from glucolab.reading.text import neutralize, restore
from glucolab.record import OUTPUT_TABLES, REPORT_OUTPUTS, SO_FAR_OUTPUTS, STUDY_OUTPUTS, WEAR_OUTPUTS, Table

if TYPE_CHECKING:
    from glucolab.results import StudyAnalysis, WearAnalysis
    from glucolab.so_far import SoFar

STUDY_FOLDER = "study"
SO_FAR_FOLDER = "so_far"
"""In a wear's folder: the study as it was known with that wear."""
SUMMARY = "summary.json"
DECIMALS = (
    dict.fromkeys(("iauc_2h_mg_dl_min", "iauc_3h_mg_dl_min", "net_area_3h_mg_dl_min"), 1)
    | dict.fromkeys(("coverage", "slope_mg_dl_min", "estimate", "low", "high", "difference", "error_ratio"), 4)
    | dict.fromkeys(("share_days", "share_hours", "share_sensor"), 4)
    | dict.fromkeys(
        ("probability_goal_met", "probability_lower", "probability_a_higher", "chance_told", "chance_goal_told"), 4
    )
    | dict.fromkeys(("p_value", "q_value", "p_exact"), 5)
    | dict.fromkeys(("value", "value_a", "value_b"))
)
"""Decimals of numbers by column; 2 elsewhere (mg/dL, minutes, grams: ten times finer than any of them is known); None
writes a number as it was read."""
SUMMARY_DECIMALS = 4


def write_tables(
    folder: Path, tables: Mapping[str, pd.DataFrame], schema: Mapping[str, Table], zones: ZoneSpans
) -> None:
    """Write tables as CSV, a file each: UTF-8, comma, LF, header in the contract's order.

    Times are ISO 8601 with the wearer's local offset, dates YYYY-MM-DD, truth ``true`` and ``false``, missing an empty
    cell. A text that a spreadsheet would run as a formula is written with an apostrophe before it.

    Parameters
    ----------
    folder : Path
        Must exist.
    tables : dict of str to DataFrame
        By name of `schema`; ``daily`` may hold covariates beyond its columns.
    schema : dict of str to Table
    zones : ZoneSpans
        What the wearer's clocks showed.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    for name, table in schema.items():
        extra = _extra(tables[name], table)
        header = [*table.names, *neutralize_texts(np.array(extra, dtype=object))]
        with open(folder / f"{name}.csv", "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(header)
            writer.writerows(format_rows(tables[name], table, zones))


def format_rows(frame: pd.DataFrame, table: Table, zones: ZoneSpans) -> Iterator[tuple[str, ...]]:
    """The rows of a table as text: the schema's columns in its order, then covariates."""
    columns = [*table.names, *_extra(frame, table)]
    cells = [format_column(frame[c], _kind(table, c, frame), c, zones) for c in columns]
    return zip(*cells, strict=True)


def _extra(frame: pd.DataFrame, table: Table) -> list[str]:
    return [column for column in frame.columns if column not in table.names]


def _kind(table: Table, name: str, frame: pd.DataFrame) -> str:
    """Kind of a column: the schema's, or for a covariate what it holds."""
    if name in table.names:
        return table[name].kind
    return "true_false" if frame[name].dtype in ("boolean", "bool") else "covariate"


def format_column(values: pd.Series, kind: str, name: str, zones: ZoneSpans) -> np.ndarray | list[str]:
    """The cells of one column as text, shape (n,)."""
    if not len(values):
        return []
    if kind == "time":
        return format_times(values, zones)
    if kind == "date":
        dates = pd.DatetimeIndex(values)
        return dates.strftime("%Y-%m-%d").where(dates.notna(), "").to_numpy(object)
    if kind == "true_false":
        return values.astype("boolean").map({True: "true", False: "false"}).fillna("").to_numpy(object)
    if kind in ("number", "count", "covariate"):
        numbers = values.to_numpy(dtype=float, na_value=np.nan)
        return format_numbers(numbers, 0 if kind == "count" else None if kind == "covariate" else DECIMALS.get(name, 2))
    codes, texts = pd.factorize(values.fillna("").astype(str))  # most texts stand in many rows
    return neutralize_texts(texts.to_numpy(object))[codes]


def format_numbers(values: np.ndarray, decimals: int | None) -> list[str]:
    """Numbers as short text: rounded, without trailing zeros, empty for NaN, shape (n,)."""
    rounded = values if decimals is None else np.round(values, decimals) + 0.0
    return ["" if number != number else repr(number).removesuffix(".0") for number in rounded.tolist()]


def neutralize_texts(texts: np.ndarray) -> np.ndarray:
    """An apostrophe before every text that a spreadsheet would run as a formula; line breaks as LF, shape (n,)."""
    plain = (text.replace("\r\n", "\n").replace("\r", "\n") for text in texts)
    return np.array([neutralize(text) for text in plain], dtype=object)


def write_summary(folder: Path, summary: dict[str, Any], name: str = SUMMARY) -> None:
    """Write ``summary.json``, or another name: numbers to four decimals; what is not a number is null, never NaN.

    Raises
    ------
    ValueError
        If a number is NaN or infinite.
    OSError
        If the file cannot be written.
    """
    text = json.dumps(_plain(summary), ensure_ascii=False, allow_nan=False, indent=2)
    (folder / name).write_text(text + "\n", encoding="utf-8", newline="\n")


def _plain(value: Any) -> Any:
    """Numpy's numbers as Python's, floats rounded."""
    if isinstance(value, dict):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, np.generic):
        value = value.item()
    return round(value, SUMMARY_DECIMALS) if isinstance(value, float) else value


def write_wear(folder: Path, analysis: WearAnalysis) -> None:
    """Write one wear's tables and summary into a folder that exists."""
    write_tables(folder, analysis.tables, WEAR_OUTPUTS, analysis.wear.zones)
    write_summary(folder, analysis.summary)


def write_study_tables(folder: Path, analysis: StudyAnalysis) -> None:
    """Write the study's tables and summary into a folder that exists."""
    write_tables(folder, analysis.tables, STUDY_OUTPUTS, ZoneSpans((analysis.study.person.time_zone,)))
    write_summary(folder, analysis.summary)


def write_prediction(folder: Path, analysis: StudyAnalysis, table: pd.DataFrame) -> None:
    """Write what `report` adds to the study's tables into a folder that exists."""
    zones = ZoneSpans((analysis.study.person.time_zone,))
    write_tables(folder, {"log_prediction": table}, REPORT_OUTPUTS, zones)


def write_so_far(wear_folder: Path, so_far: SoFar, zones: ZoneSpans) -> None:
    """Write the tables that a wear's page speaks from into a folder of their own inside the wear's."""
    folder = wear_folder / SO_FAR_FOLDER
    folder.mkdir()
    write_tables(folder, so_far.tables, SO_FAR_OUTPUTS, zones)
    write_summary(folder, {"fault": so_far.fault})


def read_so_far(folder: Path | str) -> SoFar:
    """Read them back.

    Raises
    ------
    NothingToDo
        If there are none.
    """
    from glucolab.so_far import SoFar  # whoever only writes tables does without

    folder = Path(folder)
    if not (folder / SUMMARY).is_file():
        raise NothingToDo(f"{folder} holds no tables: glucolab report writes them, or leave so_far empty")
    tables = {name: read_output_table(folder / f"{name}.csv") for name in SO_FAR_OUTPUTS}
    return SoFar(tables, json.loads((folder / SUMMARY).read_text(encoding="utf-8"))["fault"])


@dataclass(frozen=True, eq=False)
class Report:
    """The tables of a report folder's study, read back.

    Attributes
    ----------
    tables : dict of str to DataFrame
        The study's tables by name, and ``energy``: that of every wear, with a column ``wear``. Those of
        :data:`glucolab.record.REPORT_OUTPUTS` are without rows where `measure` alone has run.
    summary : dict
        The study's.
    """

    tables: dict[str, pd.DataFrame]
    summary: dict[str, Any]


def read_report(out: Path | str) -> Report:
    """Read back the study's tables of a report folder.

    Raises
    ------
    NothingToDo
        If the folder holds no report.
    """
    study = Path(out) / STUDY_FOLDER
    if not (study / SUMMARY).is_file():
        raise NothingToDo(f"{out} holds no tables yet: run glucolab measure first")
    tables = {name: read_output_table(study / f"{name}.csv") for name in STUDY_OUTPUTS}
    for name, table in REPORT_OUTPUTS.items():
        path = study / f"{name}.csv"
        tables[name] = read_output_table(path) if path.is_file() else pd.DataFrame(columns=table.names)
    wears = [
        name
        for name, level in zip(tables["periods"]["name"], tables["periods"]["level"], strict=True)
        if level == "wear"
    ]
    energy = [read_output_table(Path(out) / name / "energy.csv").assign(wear=name) for name in wears]
    schema = pd.DataFrame(columns=[*OUTPUT_TABLES["energy"].names, "wear"])
    tables["energy"] = pd.concat(energy, ignore_index=True) if energy else schema
    return Report(tables, json.loads((study / SUMMARY).read_text(encoding="utf-8")))


def read_output_table(path: Path) -> pd.DataFrame:
    """Read one written table: times in UTC, dates, numbers, nullable truth, text without its apostrophe."""
    frame = pd.read_csv(path, dtype="str", keep_default_na=False, encoding="utf-8")
    for column in OUTPUT_TABLES[path.stem].columns:
        frame[column.name] = _parse(frame[column.name], column.kind)
    return frame


def _parse(cells: pd.Series, kind: str) -> pd.Series:
    if kind == "time":
        return pd.to_datetime(cells.where(cells != ""), format="ISO8601", utc=True).astype("datetime64[us, UTC]")
    if kind == "date":
        return pd.to_datetime(cells.where(cells != ""), format="%Y-%m-%d").astype("datetime64[us]")
    if kind in ("number", "count"):
        return pd.to_numeric(cells.where(cells != "")).astype(float)
    if kind == "true_false":
        return cells.map({"true": True, "false": False}).astype("boolean")
    return cells.map(restore, na_action="ignore")

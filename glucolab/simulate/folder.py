"""How is an invented study written down? A study folder by the contract, from the records in memory."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, format_times, to_local, to_utc
from glucolab.errors import NothingToDo
from glucolab.record import INPUT_TABLES, Study, WearPeriod
from glucolab.record.study import INSIDE_NAMES
from glucolab.units import glucose_from_mg_dl

_LIMIT_WORDS = {"low": "LO", "high": "HI"}
_DECIMALS = {"mg/dL": 0, "mmol/L": 1}
"""Decimals written in each unit [1], as sensors do; common practice, no source. Fewer lose what the sensor showed."""


def write_study(study: Study, path: Path) -> None:
    """Write a study folder that reads back as `study`.

    Parameters
    ----------
    study : Study
    path : Path
        A folder that does not exist, or holds nothing but a README.md.

    Raises
    ------
    NothingToDo
        If there is something else in it.

    Examples
    --------
    >>> import tempfile, glucolab as gl
    >>> study = gl.simulate.example_study()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     gl.simulate.write_study(study, folder)
    ...     gl.read_study(folder).wears.names == study.wears.names
    True
    """
    path = Path(path)
    if path.exists() and any(p.name != "README.md" for p in path.iterdir()):
        raise NothingToDo(f"{path} is not empty; name a new folder")
    path.mkdir(parents=True, exist_ok=True)
    _write(path / "study.toml", _study_toml(study))
    home = ZoneSpans((study.person.time_zone,))
    for name, table in study.tables.items():
        _write(path / f"{name}.csv", _csv(name, table, home, "mg/dL"))
    for wear in study.wears:
        folder = path / "wear_periods" / wear.name
        folder.mkdir(parents=True)
        _write(folder / "wear.toml", _wear_toml(wear, study.person.time_zone))
        for name, table in wear.tables.items():
            _write(folder / f"{name}.csv", _csv(name, table, wear.zones, wear.unit))


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _study_toml(study: Study) -> str:
    person, goal = study.person, study.goal
    parts: dict[str, dict[str, object]] = {
        "person": {
            "time_zone": person.time_zone, "under_18": person.under_18, "pregnant": person.pregnant,
            "glucose_lowering_medicine": person.glucose_lowering_medicine,
        },
        "show": {"unit": study.unit, "numbers": study.numbers},
        "goal": {
            "mean_mg_dl": goal.mean_mg_dl, "start": goal.start, "by": goal.by,
            "worth_noticing_mg_dl": goal.worth_noticing_mg_dl,
        },
        "range": {"low_mg_dl": study.range_low_mg_dl, "high_mg_dl": study.range_high_mg_dl},
    }  # fmt: skip
    return "\n".join(f"[{name}]\n{_keys(values)}" for name, values in parts.items())


def _wear_toml(wear: WearPeriod, home: str) -> str:
    moments = pd.DatetimeIndex([wear.start, wear.end if wear.end is not None else pd.NaT], tz="UTC").as_unit("us")
    start, end = _time_texts(moments, wear.zones)
    values = {
        "start": _Raw(start), "end": _Raw(end) if end else None, "ended": wear.ended, "unit": wear.unit,
        "sensor": wear.sensor, "sensor_model": wear.sensor_model, "meter": wear.meter, "site": wear.site,
        "life_days": wear.life_days, "warm_up_hours": wear.warm_up_hours, "interval_min": wear.interval_min,
        "memory_hours": wear.memory_hours, "reads_from_mg_dl": wear.reads_from_mg_dl,
        "reads_to_mg_dl": wear.reads_to_mg_dl,
        "time_zone": wear.zones.names[0] if wear.zones.names[0] != home else None,
    }  # fmt: skip
    return _keys(values)


class _Raw(str):
    """Text that TOML takes without quotes, as a time."""


def _keys(values: Mapping[str, object]) -> str:
    return "".join(
        f"{key} = {_toml_value(value)}\n" for key, value in values.items() if value is not None and value != ""
    )


def _toml_value(value: object) -> str:
    if isinstance(value, _Raw):
        return str(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float | int):
        return f"{value:g}"
    return json.dumps(value, ensure_ascii=False)


def _csv(name: str, table: pd.DataFrame, zones: ZoneSpans, unit: str) -> str:
    """The text of a table; optional columns without any value are left out."""
    schema = INPUT_TABLES[name]
    known = {INSIDE_NAMES.get(c.name, c.name): c for c in schema.columns}
    written = {}
    trips = np.asarray(table["time_zone"].notna()) if "time_zone" in table.columns else np.zeros(len(table), bool)
    for column in [
        *known,
        *(c for c in table.columns if c not in known and c not in ("time_source", "time_uncertain", "limit")),
    ]:
        if column not in table.columns:
            continue
        kind = known[column].kind if column in known else "number"
        texts = _glucose_texts(table, unit) if column == "glucose_mg_dl" else _texts(table[column], kind, zones, trips)
        required = column in known and known[column].required
        if required or any(texts):
            written[known[column].name if column in known else column] = texts
    return pd.DataFrame(written).to_csv(index=False, lineterminator="\n")


def _glucose_texts(table: pd.DataFrame, unit: str) -> list[str]:
    values = glucose_from_mg_dl(table["glucose_mg_dl"].to_numpy(float), unit)
    texts = ["" if np.isnan(v) else f"{v:.{_DECIMALS[unit]}f}" for v in values]
    words = table["limit"] if "limit" in table.columns else pd.Series(None, index=table.index, dtype="str")
    return [
        _LIMIT_WORDS.get(word, text) if isinstance(word, str) else text for word, text in zip(words, texts, strict=True)
    ]


def _texts(values: pd.Series, kind: str, zones: ZoneSpans, trips: np.ndarray) -> list[str]:
    if kind == "time":
        return _time_texts(pd.DatetimeIndex(values), zones, trips)
    if kind == "date":
        return list(values.dt.strftime("%Y-%m-%d").fillna(""))
    if kind == "true_false" or values.dtype == "boolean" or values.dtype == bool:
        return ["" if pd.isna(v) else "true" if v else "false" for v in values]
    if kind in ("number", "count"):
        return ["" if np.isnan(v) else f"{v:.10g}" for v in values.to_numpy(float)]
    return ["" if pd.isna(v) else str(v) for v in values]


def _time_texts(times: pd.DatetimeIndex, zones: ZoneSpans, with_offset: np.ndarray | None = None) -> list[str]:
    """Local wall times; with their offset where asked, and where without it they would read as another moment."""
    with_offset = np.zeros(len(times), bool) if with_offset is None else with_offset.copy()
    local = to_local(times, zones)
    for _ in range(len(zones.names) + 2):
        read = to_utc(pd.DatetimeIndex(local.where(~with_offset)), zones).times
        wrong = ~with_offset & np.asarray(times.notna()) & np.asarray(read != times)
        if not wrong.any():
            break
        with_offset |= wrong
    plain = local.strftime("%Y-%m-%dT%H:%M:%S")
    full = format_times(times, zones)
    return ["" if none else f if o else p for none, f, o, p in zip(times.isna(), full, with_offset, plain, strict=True)]

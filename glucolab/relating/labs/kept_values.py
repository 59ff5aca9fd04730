"""Which values does labs.csv hold, and was what is called fasting drawn after a meal? Every value as it is used."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from glucolab.clock import to_local, to_utc
from glucolab.record.study_outputs import LAB_VALUES
from glucolab.relating.observations.wear_tables import WearTables

FASTING_H = 8.0
"""Without food for so long, blood is fasting [h]: as labs.csv says, and the American Diabetes Association's standards.
Shorter lets a late breakfast pass, longer doubts a draw after a late dinner."""


def tabulate_lab_values(values: pd.DataFrame, wears: Sequence[WearTables]) -> pd.DataFrame:
    """``lab_values.csv``: every value that is used, and the last meal logged in the hours before a fasting one.

    Parameters
    ----------
    values : DataFrame
        Of :func:`glucolab.relating.labs.analytes.read_values`.
    wears : sequence of WearTables
        Whose meals tell, minor ones left out.

    Notes
    -----
    A meal before a draw doubts the word "fasting" and changes no figure: the clock of either may be wrong. Without a
    time of the draw there is nothing to look at.
    """
    table = values.sort_values(["date", "time", "line"], kind="stable")
    meals = [_find_meal(value, wears) if value["fasting"] and value["time"] else None for _, value in table.iterrows()]
    found = pd.DataFrame([meal or ("", "", float("nan")) for meal in meals],
                         columns=["meal_time", "meal", "minutes_since_meal"], index=table.index)  # fmt: skip
    return (
        table.join(found)
        .rename(columns={"known": "compared"})[LAB_VALUES.names]
        .reset_index(drop=True)
        .astype({"fasting": "boolean", "compared": "boolean"})
    )


def _find_meal(value: pd.Series, wears: Sequence[WearTables]) -> tuple[str, str, float] | None:
    """Local time, name and minutes before the draw of the last meal within the hours of a fast, if one was logged."""
    last = None
    for wear in wears:
        if not len(eaten := wear.occasions):
            continue
        drawn = to_utc(pd.DatetimeIndex([value["date"] + pd.Timedelta(_as_length(value["time"]))]), wear.zones).times[0]
        before = (drawn - eaten["time"]).dt.total_seconds() / 60
        near = before[(before >= 0) & (before < FASTING_H * 60)]
        if len(near) and (last is None or near.min() < last[2]):
            row = eaten.loc[near.idxmin()]
            clock = to_local(pd.DatetimeIndex([row["time"]]), wear.zones)[0]
            last = (f"{clock:%H:%M}", str(row["name"]), float(near.min()))
    return last


def _as_length(clock: str) -> str:
    return f"{clock}:00" if clock.count(":") == 1 else clock

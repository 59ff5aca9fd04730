"""How is a log wrong? A clock that is off, points and units that slip, a date of the day beside; and what was meant."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from glucolab.simulate.log_keeping import Logs
from glucolab.simulate.logs import as_table

NUTRIENTS = ("carbs_g", "fiber_g", "protein_g", "fat_g")
SLIP_COLUMNS = ["table", "line", "column", "kind", "written", "meant"]
_KINDS, _SHARES = ("point", "unit", "date"), (0.55, 0.35, 0.1)
"""Which slips there are, and how often each among them [1]; assumed, a wrong date rarely. Other shares try other
guards of the tool harder."""
_POINTS = (10.0, 100.0)
"""What a misplaced point multiplies by [1]: 2830 g for 28.3, seen in an open log, is a hundred. A hundred is always
beyond what can be eaten, ten often is not."""
_KJ_PER_KCAL = 4.184
"""Kilojoules in a kilocalorie [1], by definition; written down as kilocalories from the other line of a label."""
_G_PER_OUNCE = 28.35
"""Grams in an ounce [g]; by definition. Written as grams, 57 g become 2."""
_ENERGY_SHARE = 0.5
"""Unit slips that are of energy, the others of a nutrient [1]; assumed. Energy shapes no figure, it guards the rest."""
_WHERE_TIMES = {"meals": "time", "activity": "start", "feelings": "time"}
"""Tables written by the log's clock; trackers and meters have clocks of their own."""


@dataclass(frozen=True, eq=False)
class LogErrors:
    """What is wrong with a log.

    Attributes
    ----------
    clock_min : float
        By how much its clock is ahead in meals, activity and feelings, below 0 behind. [min]
    slips : pandas.DataFrame
        A row a slip: table, line, column, kind (point, unit, date), written, meant.
    """

    clock_min: float = 0.0
    slips: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=SLIP_COLUMNS))


def make_errors(
    rng: np.random.Generator, tables: dict[str, pd.DataFrame], logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> tuple[dict[str, pd.DataFrame], LogErrors]:
    """A log as it should be with the errors of `logs` in it, and what they are; rows outside the wear are lost."""
    spoiled = dict(tables)
    if logs.clock_min:
        off = pd.Timedelta(minutes=logs.clock_min)
        for name, column in _WHERE_TIMES.items():
            if name in tables:
                moved = tables[name].assign(**{column: tables[name][column] + off})
                spoiled[name] = as_table(name, moved[moved[column].between(start, end)])
    slips = pd.DataFrame(columns=SLIP_COLUMNS)
    if logs.slip_share and "meals" in spoiled:
        spoiled["meals"], slips = _slip(rng, spoiled["meals"], logs.slip_share, start, end)
    return {name: table for name, table in spoiled.items() if len(table)}, LogErrors(logs.clock_min, slips)


def _slip(
    rng: np.random.Generator, meals: pd.DataFrame, share: float, start: pd.Timestamp, end: pd.Timestamp
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Meals with slips in a share of their rows, and the slips by their lines afterwards."""
    wrong, rows = meals.copy(), []
    as_meant: dict[int, dict[str, Any]] = meals.to_dict("index")  # type: ignore[assignment]
    for line in meals.index[rng.random(len(meals)) < share]:
        kind = str(rng.choice(_KINDS, p=_SHARES))
        column, written = _slip_date(rng, as_meant[line]) if kind == "date" else _slip_amount(rng, as_meant[line], kind)
        meant = as_meant[line][column]
        if pd.isna(written) or written == meant or (kind == "date" and not start <= written <= end):
            continue
        wrong.loc[line, column] = written
        rows.append((line, column, kind, written, meant))
    order = wrong["time"].argsort(kind="stable").to_numpy()
    line_after = pd.Series(np.arange(2, 2 + len(order)), index=wrong.index[order])
    slips = [("meals", int(line_after[line]), *rest) for line, *rest in rows]
    return as_table("meals", wrong, "time"), pd.DataFrame(slips, columns=SLIP_COLUMNS)


def _slip_date(rng: np.random.Generator, meal: dict[str, Any]) -> tuple[str, Any]:
    """The same time on the day before or after."""
    return "time", meal["time"] + pd.Timedelta(days=int(rng.choice([-1, 1])))


def _slip_amount(rng: np.random.Generator, meal: dict[str, Any], kind: str) -> tuple[str, Any]:
    """An amount with its point misplaced or in another unit: column and what is written."""
    column = str(rng.choice(NUTRIENTS))
    if kind == "point":
        return column, meal[column] * float(rng.choice(_POINTS))
    if rng.random() < _ENERGY_SHARE:
        return "energy_kcal", round(meal["energy_kcal"] * _KJ_PER_KCAL, 0)
    return column, round(meal[column] / _G_PER_OUNCE, 1)

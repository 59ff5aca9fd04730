"""What does everything written down go with? Every covariate against the day's mean and SD and the night after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.relating.effects.one_pair import DayRelation, list_covariates, relate_days
from glucolab.relating.effects.questions import ADJUSTED_FOR
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import LOOKS, adjust_p_values, decide_verdict, worth_noticing

GRID_OUTCOMES = ("mean_mg_dl", "sd_mg_dl", "overnight_mean_mg_dl")
"""Of the same day, the night that of the evening after it: a day acts on what follows."""
_OF_EFFECTS = ["range_from", "range_to", "range_estimate", "range_low", "range_high", "p_value", "q_value", "verdict"]


@dataclass(frozen=True, eq=False)
class DayGrid:
    """Every covariate against every figure of `GRID_OUTCOMES`.

    Attributes
    ----------
    cells : DataFrame
        A row a cell, covariates with the largest difference of the day's mean first: ``covariate, outcome, in_effects``
        (effects.csv asks it too: its figures, q and verdict), ``range_from, range_to`` [unit of the covariate],
        ``range_estimate, range_low, range_high, plain`` (adjusted for place in the wear alone) [mg/dL], ``days``,
        ``worth`` (worth noticing) [mg/dL], ``p_value, q_value, verdict``.
    relations : mapping of (str, str) to DayRelation
        The days behind each cell, by covariate and outcome.
    """

    cells: pd.DataFrame
    relations: Mapping[tuple[str, str], DayRelation]

    @property
    def asked(self) -> int:
        """How many cells have an estimate: so many links have been looked at once the grid has been."""
        return int(self.cells["p_value"].notna().sum())


def is_next_day(outcome: str) -> bool:
    """True for what the grid looks for in the night that follows."""
    return outcome == "overnight_mean_mg_dl"


def usual_adjustment(covariates: Sequence[str]) -> list[str]:
    """What effects.csv adjusts questions of days for, of the covariates that are there."""
    return [name for name in ADJUSTED_FOR["day"] if name in covariates]


def relate_all_days(wears: Sequence[WearTables], effects: pd.DataFrame, worth_noticing_mg_dl: float) -> DayGrid:
    """Every covariate of days against the day's mean, its SD and the night that follows, over the own range.

    Parameters
    ----------
    wears : sequence of WearTables
        Those that effects.csv was made of.
    effects : DataFrame
        effects.csv's table.
    worth_noticing_mg_dl : float
        Smallest difference of a mean that matters. [mg/dL]

    Returns
    -------
    DayGrid

    Notes
    -----
    One estimator, that of effects.csv (:func:`~glucolab.relating.effects.one_pair.relate_days`, adjusted alike). A
    question that effects.csv asks keeps the answer it has there. The q of any other is over all cells of the grid
    (Benjamini & Hochberg), times `LOOKS` because a grid too is looked at again after every wear; so it is judged among
    what is on the screen, and effects.csv loses nothing by it.
    """
    names = list_covariates(wears)
    adjust = usual_adjustment(names)
    pairs = [(name, outcome) for name in names for outcome in GRID_OUTCOMES]
    relations = {
        (name, outcome): relate_days(wears, name, outcome, next_day=is_next_day(outcome), adjust=adjust)
        for name, outcome in pairs
    }
    cells = pd.DataFrame([_cell(*pair, relation) for pair, relation in relations.items()])
    if not len(cells):
        return DayGrid(cells, relations)
    cells["worth"] = [worth_noticing(name, worth_noticing_mg_dl) for name in cells["outcome"]]
    cells["q_value"] = adjust_p_values(np.minimum(LOOKS * cells["p_value"].to_numpy(float), 1.0))
    ends = zip(cells["range_low"], cells["range_high"], cells["worth"], cells["q_value"], strict=True)
    cells["verdict"] = [decide_verdict(*row) for row in ends]
    return DayGrid(_in_order(_take_over(cells, effects)), relations)


def _cell(covariate: str, outcome: str, relation: DayRelation) -> dict[str, object]:
    told: dict[str, object] = {"covariate": covariate, "outcome": outcome, **relation.over_range}
    return told | {"plain": relation.plain, "days": len(relation.points), "p_value": relation.p_value}


def _take_over(cells: pd.DataFrame, effects: pd.DataFrame) -> pd.DataFrame:
    """Cells with the answers of effects.csv where it asks the same."""
    there = effects[["factor", "outcome", *_OF_EFFECTS]].assign(
        covariate=effects["factor"].str.removeprefix("covariate:")
    )
    merged = cells.merge(there, on=["covariate", "outcome"], how="left", suffixes=("", "_there"))
    cells = cells.assign(in_effects=merged["factor"].notna())
    for name in _OF_EFFECTS:
        cells[name] = merged[f"{name}_there"].where(cells["in_effects"], cells[name])
    return cells


def _in_order(cells: pd.DataFrame) -> pd.DataFrame:
    of_mean = cells[cells["outcome"] == GRID_OUTCOMES[0]]
    size = pd.Series(of_mean["range_estimate"].abs().fillna(-1.0).to_numpy(), of_mean["covariate"])
    order = cells.assign(size=cells["covariate"].map(size)).sort_values("size", ascending=False, kind="stable")
    return order.drop(columns="size").reset_index(drop=True)

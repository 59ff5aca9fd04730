"""What was eaten together? Occasions: meal rows near each other, their dish, and which are minor."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.conventions import MINOR_UNDER_G
from glucolab.reading.meal_names import is_drink_without, name_dishes

SAME_OCCASION = pd.Timedelta(minutes=20)
"""The contract's. Longer, two meals count as one; shorter, a dessert spoils the main course as the next meal. [min]"""
_NUTRIENTS = ("carbs_g", "fiber_g", "protein_g", "fat_g")
_ALL_NUTRIENTS = (*_NUTRIENTS, "energy_kcal", "alcohol_g")


def find_occasions(meals: pd.DataFrame) -> pd.DataFrame:
    """Meal rows within 20 min of each other, taken together.

    Parameters
    ----------
    meals : DataFrame
        Indexed by line of the file.

    Returns
    -------
    DataFrame
        A row an occasion by time: ``time, time_source, name, dish``, nutrients added (missing only
        where every row misses it), ``setting, eaten_first`` (empty where rows disagree), ``time_uncertain``,
        ``minor`` (hardly any carbohydrate), ``line`` of its first row. ``dish`` is the name where none is written
        and the name says more than which meal of the day it was.
    """
    ordered = meals.assign(line=meals.index).sort_values("time", kind="stable", ignore_index=True)
    begins = np.flatnonzero(~(ordered["time"].diff() <= SAME_OCCASION).to_numpy())  # the first has no step before it
    rows = np.split(np.arange(len(ordered)), begins[1:]) if len(begins) else []
    out = ordered.loc[begins, ["time", "line"]].reset_index(drop=True)
    for column, join in (("name", " + ".join), ("time_source", _one_word), ("dish", _one_word), ("setting", _one_word),
                         ("eaten_first", _one_word)):  # fmt: skip
        words = ordered[column].fillna("").to_numpy(dtype=object)
        out[column] = pd.Series([join(words[mine]) for mine in rows], index=out.index, dtype="str")
    doubtful = ordered["time_uncertain"].fillna(False).to_numpy(dtype=bool)
    out["time_uncertain"] = np.array([doubtful[mine].any() for mine in rows], dtype=bool)
    for column in _ALL_NUTRIENTS:
        values = ordered[column].to_numpy(dtype=float)
        known = ~np.isnan(values)
        out[column] = [values[mine][known[mine]].sum() if known[mine].any() else np.nan for mine in rows]
    nothing_written = out[list(_ALL_NUTRIENTS)].isna().all(axis=1).to_numpy()
    without = is_drink_without(ordered["name"])
    drinks = np.array([without[mine].all() for mine in rows], dtype=bool)
    out["minor"] = (out["carbs_g"] < MINOR_UNDER_G).to_numpy() | (nothing_written & drinks)
    out["dish"] = name_dishes(out["dish"], out["name"])
    return out


def _one_word(words: np.ndarray) -> str:
    """The word that all rows which have one agree on, else nothing."""
    found = set(words) - {""}
    return found.pop() if len(found) == 1 else ""


def without_minor(responses: pd.DataFrame) -> pd.DataFrame:
    """Rows of ``meal_responses`` that are more than a minor occasion."""
    return responses[~responses["reason"].fillna("").str.split(";").map(set).map({"minor"}.issubset).astype(bool)]

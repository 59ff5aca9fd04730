"""A wear with meals and a plan of trial dates, by hand, for the tests of experiments."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.clock import days_between
from glucolab.record import OUTPUT_TABLES
from glucolab.relating.observations.wear_tables import WearTables
from tests.hand_made import UTC, at, make_table

EMPTY = pd.DataFrame()


def eaten(time, dish="porridge", rise=40.0, reason="", walk=None, first="", name="breakfast"):
    """One occasion; `reason` as in meal_responses.csv, empty if it can be used."""
    return {
        "time": time, "name": name, "dish": dish, "rise_mg_dl": rise, "iauc_2h_mg_dl_min": 60.0 * rise,
        "net_area_3h_mg_dl_min": 75.0 * rise, "carbs_g": 50.0,
        "usable_2h": reason == "", "reason": reason, "walk_after": walk, "eaten_first": first,
    }  # fmt: skip


def worn(meals, name="wear", zones=UTC, first_day=0, n_days=16, running=False):
    """A wear of these occasions."""
    names = OUTPUT_TABLES["meal_responses"].names
    table = pd.DataFrame(meals, columns=list(dict.fromkeys([*names, *eaten(at("08:00"))])))
    table["time"] = pd.to_datetime(table["time"], utc=True).astype("datetime64[us, UTC]")
    for column in ("usable_2h", "walk_after"):
        table[column] = table[column].astype("boolean")
    table = table.astype(dict.fromkeys(("name", "dish", "setting", "eaten_first", "reason"), "str"))
    days = days_between(at("00:00", first_day), at("00:00", first_day + n_days), zones)
    return WearTables(name, days, zones, EMPTY, table, EMPTY, EMPTY, EMPTY, running=running)


def plan(arms, first_day=0, **columns):
    """One arm a day."""
    return make_table("trials", *(
        {"date": at("00:00", i).tz_localize(None), "trial": "walk", "arm": arm, "dish": "porridge", **columns}
        for i, arm in enumerate(arms, start=first_day)
    ))  # fmt: skip


def drawn(rng: np.random.Generator, n: int) -> np.ndarray:
    """Half of n dates drawn for the second arm."""
    return rng.permutation(np.repeat([False, True], n // 2))

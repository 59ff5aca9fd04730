"""Is sweet food after a short night told from a short night alone? Truth set by the test; seeds are fixed.

500 single wears where a short night raised every meal alike held 0.90.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.observations.wear_tables import WearTables
from tests.relating.invented import Truth, invent

RAISED_MG_DL = 8.0
"""What a short night adds to every meal, whatever it holds: no interaction, and not to be taken for one."""


def raise_after_short_nights(wear: WearTables, per_50_g_mg_dl: float) -> WearTables:
    """About one night in four is short; a meal after it rises by a fixed part and by a part that grows with it."""
    asleep_h, meals = wear.daily["asleep_h"] - 0.5, wear.meal_responses
    after = (asleep_h < 6).to_numpy()[meals["day"]]
    more = after * (RAISED_MG_DL + per_50_g_mg_dl * (meals["carbs_g"] - 55) / 50)
    rises = {name: meals[name] + more for name in ("rise_mg_dl", "rise_low_mg_dl", "rise_high_mg_dl")}
    return replace(wear, daily=wear.daily.assign(asleep_h=asleep_h), meal_responses=meals.assign(**rises))


def ask(seed: int, n_wears: int, per_50_g_mg_dl: float, n_days: int = 14) -> pd.Series:
    wears, _ = invent(np.random.default_rng([41, seed]), Truth(), n_wears, n_days)
    table = estimate_effects([raise_after_short_nights(wear, per_50_g_mg_dl) for wear in wears], 3.0)
    return table[table["factor"] == "carbs_after_short_night"].squeeze()


def held(rows: pd.DataFrame, truth: float) -> float:
    return float(((rows["low"] <= truth) & (truth <= rows["high"])).mean())


@pytest.mark.parametrize("n_wears", [1, 2])
def test_a_short_night_that_raises_all_meals_alike_is_no_interaction(n_wears):
    rows = pd.DataFrame([ask(i, n_wears, 0.0) for i in range(30)]).dropna(subset=["low"])
    assert len(rows) >= 18
    assert held(rows, 0.0) >= 0.85
    assert rows["verdict"].isin(["lower", "higher"]).mean() <= 0.10


def test_a_rise_that_grows_after_short_nights_is_held_and_mostly_found():
    rows = pd.DataFrame([ask(100 + i, 3, 20.0) for i in range(20)])
    assert 0.83 <= held(rows, 20.0) <= 0.98
    assert (rows["verdict"] == "higher").mean() >= 0.6
    assert set(rows["unit"]) == {"mg/dL per 50 g"}


def test_it_is_counted_by_meals_after_short_nights_and_refused_on_one_or_two():
    row = ask(3, 1, 0.0)
    wear = raise_after_short_nights(invent(np.random.default_rng([41, 3]), Truth(), 1)[0][0], 0.0)
    meals = wear.meal_responses[wear.meal_responses["usable_2h"].astype(bool)]
    after = (wear.daily["asleep_h"] < 6).to_numpy()[meals["day"]]
    assert (row["n_with"], row["n_without"]) == (after.sum(), (~after).sum())
    slept = np.array(wear.daily["asleep_h"].clip(lower=6.5))
    slept[[4, 9]] = 5.0
    twice = estimate_effects([replace(wear, daily=wear.daily.assign(asleep_h=slept))], 3.0)
    twice = twice[twice["factor"] == "carbs_after_short_night"].squeeze()
    assert twice["n_with"] >= 5
    assert twice["verdict"] == "not_enough_data"

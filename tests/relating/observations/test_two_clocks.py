"""Is what two sensors saw at once counted once, where their logs were moved by different minutes?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.relating.effects.dishes import gather_dish_rises
from glucolab.relating.effects.energy import estimate_energy_effects
from glucolab.relating.observations.days_and_meals import gather_days, gather_meals
from glucolab.relating.observations.wear_tables import WearTables
from tests.relating.invented import Truth, invent


def moved(wear: WearTables, by_min: float) -> WearTables:
    """As `analyse_wear` makes `by_right_clock`: meals and notes earlier by so much."""
    by = pd.Timedelta(minutes=by_min)
    meals, energy = (table.assign(time=table["time"] - by) for table in (wear.meal_responses, wear.energy))
    return replace(wear, name=f"twin {by_min}", meal_responses=meals, energy=energy, moved_min=by_min)


@pytest.mark.parametrize("by_min", [(0.0, 60.0), (60.0, 65.0), (-55.0, 62.5)])
def test_a_meal_that_two_logs_hold_at_different_times_is_one_meal(by_min):
    """Counted twice, intervals of effects came out at 0.7 of their width."""
    (wear,) = invent(np.random.default_rng(8), Truth(), 1)[0]
    eaten = wear.meal_responses
    eaten = eaten.assign(time_to_peak_min=45.0, usable_3h=eaten["usable_2h"], dip_mg_dl=eaten["rise_mg_dl"] / 4)
    at = eaten["time"] + pd.Timedelta(minutes=90)
    notes = pd.DataFrame({"time": at, "energy": np.arange(len(at)) % 7.0, "focus": np.nan, "hunger": np.nan})
    wear = replace(wear, meal_responses=eaten, energy=notes)
    twins = [moved(wear, minutes) for minutes in by_min]
    (one, two) = (gather_meals(wears, gather_days(wears)) for wears in ([wear], twins))
    assert len(two) == len(one)
    assert len(gather_dish_rises(twins)) == len(gather_dish_rises([wear]))
    counted = [estimate_energy_effects(wears)["n"].max() for wears in ([wear], twins)]
    assert counted[0] == counted[1] > 20

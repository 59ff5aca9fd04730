"""Are walks found that were walked, and do meals followed by them say what they say where all are logged?

Of invented wearers whose wrist writes steps among errands, chores, runs, an hour on the charger and days without it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import analyse_study
from glucolab.measuring.movement import find_worn
from glucolab.measuring.walks import add_movement
from glucolab.simulate.log_keeping import EXACT_LOGS, Logs
from glucolab.simulate.study import Simulated, simulate_study

FINDING, ASKING = range(8), range(4, 10)


def minutes_of(times: pd.Series) -> np.ndarray:
    return pd.DatetimeIndex(times).as_unit("us").asi8 / 60e6


def look(seed: int, step_min: int) -> pd.DataFrame:
    """Of one wear without logged activity, each true walk that the wrist was worn for, and each found one."""
    logs = replace(EXACT_LOGS, activity_share=0.0, movement_min=step_min)
    one = simulate_study(np.random.default_rng(seed), wears=1, logs=logs).wears[0]
    found, true = add_movement(one.record).found_walks, one.truth.walks
    begin, start = minutes_of(true["start"]), minutes_of(found["start"])
    end, stop = begin + true["minutes"].to_numpy(), start + found["minutes"].to_numpy()
    meets = (begin[:, None] < stop) & (end[:, None] > start)
    worn = find_worn(one.record.movement).covered_min(begin, end) >= true["minutes"].to_numpy() - 1e-6
    late = np.where(meets.any(axis=1), start[meets.argmax(axis=1)] - begin, np.nan)
    walked = pd.DataFrame({"what": "walked", "minutes": true["minutes"], "hit": meets.any(axis=1), "late_min": late})
    return pd.concat([walked[worn], pd.DataFrame({"what": "found", "hit": meets.any(axis=0)})], ignore_index=True)


@pytest.mark.parametrize(("step_min", "caught", "late_min"), [(1, 0.97, 1.0), (5, 0.9, 4.0), (15, 0.9, 6.0)])
def test_walks_are_found_with_few_false_ones(step_min, caught, late_min):
    rows = pd.concat([look(seed, step_min) for seed in FINDING])
    walked, found = rows[rows["what"] == "walked"], rows[rows["what"] == "found"]
    assert len(walked) > 80
    assert walked["hit"].mean() >= caught
    assert (~found["hit"]).sum() / len(found) <= 0.12
    assert (walked["late_min"].dropna().abs() <= late_min).mean() >= 0.9


def study(seed: int, **logs) -> Simulated:
    return simulate_study(np.random.default_rng(seed), wears=2, logs=replace(Logs(), **logs))


def walk_effect(simulated: Simulated) -> pd.Series:
    effects = analyse_study(simulated.study).tables["effects"]
    return effects[(effects["factor"] == "walk_after") & (effects["outcome"] == "rise_mg_dl")].iloc[0]


def test_effects_of_found_walks_are_those_of_logged_ones():
    apart, held = [], 0
    for seed in ASKING:
        simulated = study(seed, activity_share=0.0, movement_min=1)
        truth = simulated.truth.effects.set_index(["factor", "outcome"])["estimate"]["walk_after", "rise_mg_dl"]
        logged, found = walk_effect(study(seed, activity_share=1.0)), walk_effect(simulated)
        apart.append((found["estimate"] - logged["estimate"]) / (logged["high"] - logged["low"]))
        held += found["low"] <= truth <= found["high"]
    assert abs(np.mean(apart)) <= 0.1, "of the interval"
    assert np.median(np.abs(apart)) <= 0.1
    assert held >= len(ASKING) - 2


def test_a_wrist_changes_nothing_else_of_an_invented_life():
    bare, worn = (study(3, movement_min=step).wears[0] for step in (0, 1))
    assert "movement" not in bare.record.tables
    for name in ("meals", "activity", "glucose", "sleep"):
        pd.testing.assert_frame_equal(bare.record.table(name), worn.record.table(name))
    assert worn.record.days["steps"].isna().all(), "steps are left to the wrist"


def test_steps_of_whole_days_are_those_of_the_rows():
    wear = study(3, movement_min=15).wears[0].record
    days = add_movement(wear).days.set_index("date")["steps"].dropna()
    local = wear.movement["time"].dt.tz_convert(wear.zones.names[0]).dt.tz_localize(None).dt.normalize()
    sums = wear.movement["steps"].groupby(local).sum()
    assert len(days) >= 9
    assert days.to_dict() == {day: sums[day] for day in days.index}

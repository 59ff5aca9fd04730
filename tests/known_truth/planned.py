"""Do plans come true? Next wears invented after the plan was made: python -m tests.known_truth.planned."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from glucolab.analysis import analyse_study
from glucolab.errors import NothingToDo
from glucolab.on_request import plan_study
from glucolab.record import Goal
from glucolab.relating.planning.plan import Plan
from glucolab.relating.planning.trial_choice import Wish
from glucolab.relating.planning.trial_design import plan_repeats
from glucolab.relating.trials.results import LEAST_OCCASIONS
from glucolab.results import StudyAnalysis
from glucolab.simulate import (
    Simulated,
    draw_logs,
    draw_meter,
    draw_sensor,
    draw_wearer,
    gather,
    simulate_study,
    simulate_wear,
)
from glucolab.simulate.logs import as_table
from glucolab.simulate.sensor import draw_sensor_model
from glucolab.simulate.usual_level import usual_mean_mg_dl
from tests.known_truth.table import as_text
from tests.known_truth.tables_page import write_plans

EARLIER_CHECKS = 6
WIDTHS = ("mean_half_mg_dl", "usual_half_mg_dl", "change_half_mg_dl")
TOLD = ("lower", "higher", "too_small_to_matter")
CHANCE_EDGES = (0.0, 0.1, 0.3, 0.6, 1.0)
ARMS = ("rest", "walk")
THIRD_START = pd.Timestamp("2026-10-01T07:10:00Z")


def invent(seed: int, sparse: bool) -> tuple[StudyAnalysis, Plan, Simulated] | None:
    """Two wears analysed, the plan they led to, and the study with the third wear that kept to it.

    Life stays as it was. None where nothing could be planned.
    """
    rng = np.random.default_rng([seed, 77])
    wearer, logs, meter = draw_wearer(rng), draw_logs(rng, sparse=sparse), draw_meter(rng)
    level = usual_mean_mg_dl(wearer)
    goal = Goal(mean_mg_dl=level + float(rng.normal(0, 8)))
    model = draw_sensor_model(rng, level_mg_dl=level, interval_min=5.0)
    made = simulate_study(
        rng, wearer=wearer, wears=2, checks=EARLIER_CHECKS, logs=logs, model=model, meter=meter,
        sensor={"interval_min": 5.0}, goal=goal,
    )  # fmt: skip
    before = analyse_study(made.study)
    dishes = before.tables["dishes"]["dish"]
    dish = next((name for name in dishes if name in {one.name for one in wearer.dishes}), "")
    wish = Wish(THIRD_START.date(), arms=ARMS if dish else (), dish=dish, seed=seed)
    try:
        plan = plan_study(before, wish)
    except NothingToDo:
        return None
    worn = draw_sensor(rng, model, level_mg_dl=level, interval_min=5.0)
    third = simulate_wear(
        rng, wearer, worn, THIRD_START, plan.days, name="wear_3", logs=logs, meter=meter,
        check_times=pd.DatetimeIndex(plan.check_times["time"]), plan=_agreed(plan),
    )  # fmt: skip
    tables = {} if plan.trial is None else {"trials": as_table("trials", plan.trial.dates)}
    return before, plan, gather("after", [*made.wears, third], made.study.person, goal=goal, tables=tables)


def _agreed(plan: Plan) -> pd.DataFrame | None:
    """The meals of the experiment, as the simulator takes them: eaten for lunch."""
    if plan.trial is None:
        return None
    dates = plan.trial.dates
    return pd.DataFrame(
        {"date": dates["date"], "slot": "lunch", "dish": dates["dish"], "walk": dates["arm"] == "walk", "first": None}
    )


def score(seed: int, sparse: bool) -> list[tuple[str, float, float]]:
    """Rows of what, what was planned, what came."""
    made = invent(seed, sparse)
    if made is None:
        return []
    before, plan, whole = made
    after = analyse_study(whole.study)
    row = plan.checks[plan.checks["advised"].astype(bool)].iloc[0]
    rows = [(name, float(row[name]), came) for name, came in zip(WIDTHS, _widths(after), strict=True)]
    rows.append(("chance_goal_told", float(row["chance_goal_told"]), float(_settled(after))))
    both = before.tables["next_questions"].merge(
        after.tables["effects"], on=["factor", "outcome"], suffixes=("", "_after")
    )
    rows += [
        ("chance_told", chance, float(verdict in TOLD))
        for chance, verdict in zip(both["chance_told"], both["verdict"], strict=True)
    ]
    return rows + _score_trial(plan, whole, after)


def _score_trial(plan: Plan, whole: Simulated, after: StudyAnalysis) -> list[tuple[str, float, float]]:
    """Occasions that could be judged, and whether they told the true difference, beside what was planned."""
    if plan.trial is None:
        return []
    result, truth = (
        table[table["outcome"] == "rise_mg_dl"].iloc[0] for table in (after.tables["trial_results"], whole.truth.trials)
    )
    judged = result["n_a"] + result["n_b"]
    planned = 2 * plan.trial.each * plan.trial.usable
    rows = [("occasions judged", planned, float(judged))]
    if min(result["n_a"], result["n_b"]) >= LEAST_OCCASIONS:
        repeats = plan_repeats(abs(truth["difference"]), plan.trial.spread, plan.wish.seed).set_index("repeats")
        chance = repeats["chance_told"].get(round(planned / 2), np.nan)
        rows.append(("trial_told", float(chance), float(result["verdict"] in TOLD)))
        rows.append(("trial_holds", 0.9, float(result["low"] <= truth["difference"] <= result["high"])))
    return rows


def _widths(after: StudyAnalysis) -> tuple[float, float, float]:
    periods = after.tables["periods"]
    last = periods[(periods["level"] == "wear") & (periods["name"] == "wear_3")].iloc[0]
    comparisons = after.tables["comparisons"]
    pair = comparisons[(comparisons["period_a"] == "wear_2") & (comparisons["period_b"] == "wear_3")].iloc[0]
    return (
        float(last["mean_high_mg_dl"] - last["mean_low_mg_dl"]) / 2,
        float(last["usual_high_mg_dl"] - last["usual_low_mg_dl"]) / 2,
        float(pair["high_mg_dl"] - pair["low_mg_dl"]) / 2,
    )


def _settled(after: StudyAnalysis) -> bool:
    periods, goal_mg_dl = after.tables["periods"], after.study.goal.mean_mg_dl or np.nan
    last = periods[(periods["level"] == "wear") & (periods["name"] == "wear_3")].iloc[0]
    return bool(last["mean_low_mg_dl"] > goal_mg_dl or last["mean_high_mg_dl"] < goal_mg_dl)


def summarise(rows: list[tuple[str, float, float]]) -> pd.DataFrame:
    """what, n, planned, came (means), and for widths between which ratios nine in ten of came over planned lie."""
    table = pd.DataFrame(rows, columns=["what", "planned", "came"])
    out = []
    for what, mine in table.groupby("what", sort=False):
        parts = [("all", mine)]
        if str(what).startswith(("chance", "trial_told")):
            cut = pd.cut(mine["planned"], CHANCE_EDGES, include_lowest=True)
            parts += [
                (f"{max(edges.left, 0):.1f}-{edges.right:.1f}", part)
                for edges, part in mine.groupby(cut, observed=True)
            ]
        for name, part in parts:
            ratio = (
                (part["came"] / part["planned"]).quantile([0.05, 0.95])
                if what in (*WIDTHS, "occasions judged")
                else [np.nan, np.nan]
            )
            out.append((what, name, len(part), part["planned"].mean(), part["came"].mean(), *ratio))
    return pd.DataFrame(out, columns=["what", "planned between", "n", "planned", "came", "ratio_low", "ratio_high"])


def main(arguments: list[str] | None = None) -> int:
    """Print what was planned beside what came."""
    parser = argparse.ArgumentParser(prog="python -m tests.known_truth.planned", description=__doc__)
    parser.add_argument("--studies", type=int, default=200)
    parser.add_argument("--sparse", action="store_true", help="logs kept badly")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--into", type=Path, help="also print the table into its page in this folder")
    asked = parser.parse_args(arguments)
    done = Parallel(n_jobs=asked.jobs)(delayed(score)(seed, asked.sparse) for seed in range(asked.studies))
    table = summarise([row for rows in done for row in rows])
    print(as_text(table))
    if asked.into:
        write_plans(asked.into, table)
    return 0


if __name__ == "__main__":
    sys.exit(main())

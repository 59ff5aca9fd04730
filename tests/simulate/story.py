"""What does the sample study show, and which lives show it? Its seed was searched for among many, with this.

`python -m tests.simulate.story FIRST COUNT` looks among COUNT seeds from FIRST on for first two wears that claim what
is not true, and goes on with each until the later two show a goal reached, an experiment decided, and that claim gone.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study, analyse_wear, as_measured
from glucolab.record import Goal, Person, Study
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.relating.study_tables import relate_wears
from glucolab.relating.trials.date_outcomes import find_trial_dates
from glucolab.relating.trials.results import compare_trial_arms
from glucolab.results import WearAnalysis
from glucolab.simulate import Simulated, demo, gather, simulate_demo

PAIR = ["factor", "outcome"]
CHANCE_OF_GOAL = 0.9
"""That the goal was met on the last wear at least, and on the first that it was not [1]."""


def find_proven(results: pd.DataFrame) -> pd.DataFrame:
    """Rows of trial_results.csv whose rise is decided, however often it was looked at."""
    return results[results["outcome"].eq("rise_mg_dl") & results["stop"] & results["verdict"].isin(CLAIMS)]


def find_vanished(study: Study, wears: tuple[WearAnalysis, ...], now: pd.DataFrame) -> pd.DataFrame:
    """Findings of the first wears that are none any more: factor, outcome, of how many wears, verdict then and now.

    Parameters
    ----------
    wears : tuple of WearAnalysis
        All of the study, in order.
    now : DataFrame
        effects.csv of all of them.
    """
    after = now.set_index(PAIR)["verdict"]
    rows = []
    for k in range(2, len(wears)):
        first = replace(study, wears=study.wears[:k])
        related = relate_wears(first, [as_measured(a) for a in wears[:k]], [a.related for a in wears[:k]])
        then = related.tables["effects"].set_index(PAIR)["verdict"]
        gone = [pair for pair in then.index[then.isin(CLAIMS)] if after.get(pair) not in CLAIMS]
        rows += [(*pair, k, then[pair], after[pair]) for pair in gone]
    return pd.DataFrame(rows, columns=[*PAIR, "wears", "then", "now"])


def is_nil(made: Simulated, found: pd.DataFrame) -> pd.Series:
    """True for findings of factors that truly do nothing to that outcome."""
    return found.merge(made.truth.effects, on=PAIR, how="left")["estimate"].eq(0)


def _is_decided(made: Simulated) -> bool:
    """The experiment alone: what is cheap to know comes first."""
    related = [analyse_wear(made.study.wears[2], made.study).related]
    results = compare_trial_arms(find_trial_dates(related, made.study.trials), made.study.goal.worth_noticing_mg_dl)
    return len(find_proven(results)) == 1


def tells_all(made: Simulated) -> bool:
    """A goal reached, a clear fall, an experiment decided, and a finding gone of a factor that truly does nothing."""
    if not _is_decided(made):
        return False
    whole = analyse_study(made.study)
    chances = whole.tables["periods"].query("level == 'wear'")["probability_goal_met"].to_list()
    pairs = whole.tables["comparisons"].query("level == 'wear'").set_index(["period_a", "period_b"])["verdict"]
    if chances[0] > 1 - CHANCE_OF_GOAL or chances[-1] < CHANCE_OF_GOAL:
        return False
    if pairs[made.study.wears[0].name, made.study.wears[-1].name] != "lower":
        return False
    proven = find_proven(whole.tables["trial_results"])
    if len(proven) != 1:
        return False
    row = proven.iloc[0]
    if not row["low"] < made.truth.trials.set_index("outcome")["difference"]["rise_mg_dl"] < row["high"]:
        return False
    return bool(is_nil(made, find_vanished(made.study, whole.wears, whole.tables["effects"])).any())


def begins_with_an_error(seed: int) -> bool:
    """Do the first two wears claim something of a factor that truly does nothing, and the first no goal reached?"""
    rng = np.random.default_rng(seed)
    worn = demo._winter(rng), demo._summer(rng)
    made = gather("begun", worn, Person(demo._HOME), goal=Goal(demo.GOAL_MG_DL))
    whole = analyse_study(made.study)
    effects = whole.tables["effects"]
    claimed = effects.loc[effects["verdict"].isin(CLAIMS), PAIR]
    chance = whole.tables["periods"].query("level == 'wear'")["probability_goal_met"].iloc[0]
    return bool(len(claimed) and is_nil(made, claimed).any() and chance <= 1 - CHANCE_OF_GOAL)


def _search(first: int, count: int) -> Iterator[tuple[int, int]]:
    seeds = range(first, first + count)
    for early in seeds:
        try:
            if not begins_with_an_error(early):
                continue
        except IndexError:  # a life in which nobody lies on the sensor has no low to note
            continue
        for later in seeds:
            demo._SEEDS = early, later
            if tells_all(simulate_demo()):
                yield early, later


if __name__ == "__main__":
    for told in _search(int(sys.argv[1]), int(sys.argv[2])):
        print(*told, flush=True)

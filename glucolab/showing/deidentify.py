"""What may be shared? The tables of a study without a word that the person wrote."""

from __future__ import annotations

import pandas as pd

from glucolab.analysis import StudyAnalysis

OWN_NOTE = "own note"
PLAIN_ARMS = frozenset((
    "walk", "no walk", "rest", "sit", "still", "protein first", "carbs first", "carbohydrate first", "fiber first",
    "fibre first", "vegetables first", "salad first", "mixed", "usual", "home", "out", "early", "late",
))  # fmt: skip
"""Arms in these words tell nothing of the person, and much to the reader."""
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def name_nothing(analysis: StudyAnalysis) -> dict[str, pd.DataFrame]:
    """Periods, comparisons, effects and trial results with numbers and letters in place of names.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    dict of str to DataFrame
        As in the report, wears only: ``periods`` (``Wear 1``, … by their start), ``comparisons``, ``effects``
        (without `contrast`; covariates are own notes, numbered), ``trial_results`` (trials numbered, arms lettered
        unless in plain words).
    """
    tables = analysis.tables
    periods = tables["periods"]
    periods = periods[periods["level"] == "wear"].sort_values("start", kind="stable", ignore_index=True)
    names = {name: f"Wear {i}" for i, name in enumerate(periods["name"], start=1)}
    comparisons = tables["comparisons"]
    comparisons = comparisons[comparisons["level"] == "wear"].reset_index(drop=True)
    return {
        "periods": periods.assign(name=periods["name"].map(names)),
        "comparisons": comparisons.assign(
            period_a=comparisons["period_a"].map(names), period_b=comparisons["period_b"].map(names)
        ),
        "effects": _name_no_covariate(tables["effects"]).drop(columns="contrast"),
        "trial_results": _name_no_arm(tables["trial_results"]),
    }


def _name_no_covariate(effects: pd.DataFrame) -> pd.DataFrame:
    own = [factor for factor in dict.fromkeys(effects["factor"]) if factor.startswith("covariate:")]
    numbered = {factor: f"covariate:{OWN_NOTE} {i}" for i, factor in enumerate(own, start=1)}
    return effects.assign(factor=effects["factor"].map(lambda factor: numbered.get(factor, factor)))


def _name_no_arm(results: pd.DataFrame) -> pd.DataFrame:
    trials = {trial: i for i, trial in enumerate(dict.fromkeys(results["trial"]), start=1)}
    arms: dict[tuple[str, str], str] = {}
    for trial, number in trials.items():
        mine = results[results["trial"] == trial]
        both = dict.fromkeys([*mine["arm_a"], *mine["arm_b"]])
        arms |= {(trial, arm): _name_arm(arm, f"{number}{_LETTERS[i % 26]}") for i, arm in enumerate(both)}
    lettered = {
        column: [arms[pair] for pair in zip(results["trial"], results[column], strict=True)]
        for column in ("arm_a", "arm_b")
    }
    return results.assign(trial=results["trial"].map(trials), **lettered)


def _name_arm(arm: str, letter: str) -> str:
    return arm if arm in PLAIN_ARMS else letter

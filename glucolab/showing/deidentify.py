"""What may be shared? The tables of a study without a word that the person wrote."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from glucolab.record import INPUT_TABLES
from glucolab.relating.labs.analytes import ANALYTES
from glucolab.results import StudyAnalysis
from glucolab.showing.words.common import split_unit

OWN_NOTE = "own note"
PLAIN_ARMS = frozenset((
    "walk", "no walk", "rest", "sit", "still", "protein first", "carbs first", "carbohydrate first", "fiber first",
    "fibre first", "vegetables first", "salad first", "mixed", "usual", "home", "out", "early", "late",
))  # fmt: skip
"""Arms in these words tell nothing of the person, and much to the reader."""
_OF_THE_CONTRACT = frozenset(column.name for column in INPUT_TABLES["days"].columns)
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
        (without `contrast`; covariates in the words of study.toml, else own notes, numbered), ``trial_results``
        (trials numbered, arms lettered unless in plain words), ``lab_values`` and ``lab_changes`` (of blood tests that
        are known here).
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
        "effects": _name_no_covariate(tables["effects"], analysis.study.described).drop(columns="contrast"),
        "trial_results": _name_no_arm(tables["trial_results"]),
        "lab_values": _keep_known(tables["lab_values"]),
        "lab_changes": _keep_known(tables["lab_changes"]),
    }


def _name_no_covariate(effects: pd.DataFrame, described: Mapping[str, str]) -> pd.DataFrame:
    """Columns of the wearer's own by what may be handed over, else numbered; the contract's keep their names."""
    own = [factor for factor in dict.fromkeys(effects["factor"]) if factor.startswith("covariate:")]
    columns = [column for factor in own if (column := factor.partition(":")[2]) not in _OF_THE_CONTRACT]
    named = {
        f"covariate:{column}": f"covariate:{described.get(column, f'{OWN_NOTE} {i}')}{_keep_unit(column)}"
        for i, column in enumerate(columns, start=1)
    }
    return effects.assign(factor=effects["factor"].map(lambda factor: named.get(factor, factor)))


def _keep_unit(column: str) -> str:
    unit = split_unit(column)[1]
    return f"_{unit}" if unit else ""


def _keep_known(labs: pd.DataFrame) -> pd.DataFrame:
    """Values of blood tests that are known here by name; the name of another is a word of the person."""
    return labs[labs["analyte"].isin([*ANALYTES, "homa_ir"])].reset_index(drop=True)


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

"""What is worth testing next? Effects as sentences, and at most three open questions."""

from __future__ import annotations

import pandas as pd

from glucolab.record import Person
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.display import NO_BREAK, Display, is_known, write_number
from glucolab.showing.words.common import OUTCOME_CHANGES, OUTCOME_WORDS, say_count, say_factor, split_unit

MOST_QUESTIONS = 3
MEAL_OUTCOMES = ("rise_mg_dl", "iauc_2h_mg_dl_min")


def choose_questions(effects: pd.DataFrame, person: Person) -> pd.DataFrame:
    """Open questions that the fewest further occasions would answer, one a factor, at most three.

    Parameters
    ----------
    effects : DataFrame
        effects.csv's table.
    person : Person
        Nobody is advised whom the tool only describes.

    Returns
    -------
    DataFrame
        Rows of `effects`.
    """
    if person.describe_only:
        return effects.iloc[:0]
    open_ones = effects[(effects["verdict"] == "cannot_tell_yet") & effects["needed"].notna()]
    return open_ones.sort_values("needed", kind="stable").drop_duplicates("factor").head(MOST_QUESTIONS)


def choose_findings(effects: pd.DataFrame, person: Person) -> pd.DataFrame:
    """Effects that the intervals support, smallest q first; an area only where its rise is no claim itself."""
    if person.describe_only:
        return effects.iloc[:0]
    claims = effects[effects["verdict"].isin(CLAIMS)].sort_values("q_value", kind="stable")
    risen = claims.loc[claims["outcome"] == "rise_mg_dl", "factor"]
    return claims[~((claims["outcome"] == "iauc_2h_mg_dl_min") & claims["factor"].isin(risen))]


def say_question(row: pd.Series, display: Display) -> tuple[str, str]:
    """An open question with what is known so far, and how many more occasions would tell."""
    noun = "occasion" if row["outcome"] in MEAL_OUTCOMES else "day"
    question = (
        f"Does {say_factor(row['factor'])} go with a difference in {OUTCOME_WORDS.get(row['outcome'], row['outcome'])}?"
    )
    so_far = say_so_far(row, display)
    return f"{question} {so_far}", f"About {say_count(int(row['needed']), f'more {noun}')} would tell."


def say_so_far(row: pd.Series, display: Display) -> str:
    """What the data say so far about an open question: estimate, interval, numbers."""
    counted = _say_numbers(row)
    if not is_known(row["estimate"]):
        return f"Nothing can be said yet, {counted}."
    if not display.numbers and "mg/dL" in str(row["unit"]):
        change = OUTCOME_CHANGES[row["outcome"]][row["estimate"] > 0]
        return f"So far {change}, but the other way is still possible, {counted}."
    return f"So far {say_estimate(row, display)}, {counted}."


def say_finding(row: pd.Series, display: Display) -> str:
    """A supported effect: ``A walk after eating goes with a smaller rise after eating: −9 mg/dL (−14 to −4), …``"""
    factor, change = say_factor(row["factor"]), OUTCOME_CHANGES[row["outcome"]][row["verdict"] == "higher"]
    start = f"{factor[0].upper()}{factor[1:]} goes with {change}"
    if not display.numbers and "mg/dL" in str(row["unit"]):
        return f"{start}, {_say_numbers(row)}."
    return f"{start}: {say_estimate(row, display)}{_say_share(row)}, {_say_numbers(row)}."


def _say_share(row: pd.Series) -> str:
    """``, 40 % of a usual rise (29 to 52)``; empty for what scales no response."""
    if row["outcome"] != "rise_mg_dl" or not is_known(row["share"]) or row["share_low"] * row["share_high"] <= 0:
        return ""  # beside a usual rise that is hardly known, not even its sign is: without signs it would read wrong
    near, far = sorted(abs(100 * float(row[name])) for name in ("share_low", "share_high"))
    return f", {100 * abs(float(row['share'])):.0f}{NO_BREAK}% of a usual rise ({near:.0f} to {far:.0f})"


def say_estimate(row: pd.Series, display: Display) -> str:
    """An effect with its interval: ``−9 mg/dL (−16 to −2)``."""
    unit, ends = str(row["unit"]), [float(row[name]) for name in ("estimate", "low", "high")]
    kind, _, column = str(row["factor"]).partition(":")
    shown = unit.replace("mg/dL", display.unit)
    if kind == "covariate" and " per " in unit and split_unit(column)[1]:
        shown = f"{shown} {split_unit(column)[1]}"
    if unit.startswith("mg/dL") and not unit.startswith("mg/dL min"):
        return display.change(*ends).replace(display.unit, shown, 1)
    ends = [float(display.values(end)) if unit.startswith("mg/dL") else end for end in ends]
    texts = [write_number(end, 0 if ends[2] - ends[1] > 20 else 2) for end in ends]
    return f"{texts[0]} {shown} ({texts[1]} to {texts[2]})"


def _say_numbers(row: pd.Series) -> str:
    many, without = int(row["n_with"]), row["n_without"]
    noun = "occasion" if row["outcome"] in MEAL_OUTCOMES else "day"
    if is_known(without) and int(without) > 0:
        return f"{say_count(many, noun)} with and {int(without)} without"
    return f"over {say_count(many, noun)}"

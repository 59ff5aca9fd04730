"""What is worth testing next? Effects as sentences, and at most three open questions."""

from __future__ import annotations

import pandas as pd

from glucolab.record import Person
from glucolab.relating.effects.questions import KIND_OF
from glucolab.relating.statistics.claims import CLAIMS, worth_noticing
from glucolab.showing.display import NO_BREAK, Display, is_known, write_number, write_signed
from glucolab.showing.words.common import say_chance, say_count, say_will
from glucolab.showing.words.findings.habit_phrases import find_sides, find_verb, is_of_meals

MOST_QUESTIONS = 3


def choose_findings(effects: pd.DataFrame, person: Person) -> pd.DataFrame:
    """Effects that are clear, smallest q first, each factor once for glucose, once for sleep and once for feelings."""
    if person.describe_only:
        return effects.iloc[:0]
    claims = effects[effects["verdict"].isin(CLAIMS)].sort_values("q_value", kind="stable")
    return claims[~claims.assign(kind=claims["outcome"].map(KIND_OF)).duplicated(["factor", "kind"])]


def choose_next(effects: pd.DataFrame, questions: pd.DataFrame, person: Person) -> pd.DataFrame:
    """The questions most worth asking of the next wear, one a factor, at most three, with their chance of an answer.

    Parameters
    ----------
    effects, questions : DataFrame
        The tables of effects.csv and next_questions.csv, whose order it is.
    person : Person
        Nobody is advised whom the tool only describes.

    Returns
    -------
    DataFrame
        Rows of `effects` with ``chance_told``.
    """
    if person.describe_only:
        return effects.iloc[:0].assign(chance_told=0.0)
    first = questions.drop_duplicates("factor").head(MOST_QUESTIONS)[["factor", "outcome", "chance_told"]]
    return first.merge(effects, on=["factor", "outcome"], how="left", validate="one_to_one")


def say_next_question(row: pd.Series, display: Display) -> tuple[str, str]:
    """An open question with what is known so far, and whether the next wear will answer it."""
    figure = f" ({say_chance(row['chance_told'])})" if display.numbers else ""
    return say_so_far(row, display), f"The next wear {say_will(row['chance_told'])} answer it{figure}."


def say_so_far(row: pd.Series, display: Display) -> str:
    """What the data say so far about an open question: the difference, how far it may go either way, numbers.

    ``On your tensest days (stress 7) the day's average was 2 mg/dL higher than on your calmest (2); could be 1 lower
    to 5 higher (24 days).``
    """
    sides, change = find_sides(row), find_verb(row)
    estimate, *ends = _amounts(row, display) if _is_shown(row, display) else ("", "", "")
    word = change.more if row["range_estimate"] > 0 else change.less
    could = f"could be {ends[0]} {change.less} to {ends[1]} {change.more}" if estimate else "could be the other way"
    if estimate and row["range_low"] * row["range_high"] > 0:
        could = f"{ends[0]} to {ends[1]} {word}, but with so many links checked this may be chance"
    amount = f" {estimate}" if estimate else ""
    said = f"{_capital(sides.with_it)}, {change.verb}{amount} {word} than {sides.without}"
    return f"{said}; {could} ({_say_numbers(row)})."


def say_finding(row: pd.Series, worth_noticing_mg_dl: float, display: Display) -> str:
    """A clear effect over the wearer's own range, and for how long it has stood.

    ``After meals with a walk, glucose rose 17 mg/dL less than after similar meals without (12 to 22 less; 33 meals
    with, 71 without). Has held for the last three wears.``
    """
    sides, change = find_sides(row), find_verb(row)
    word = change.more if row["verdict"] == "higher" else change.less
    shown = _is_shown(row, display)
    estimate, near, far = _amounts(row, display) if shown else ("", "", "")
    amount, ends = (f" {estimate}", f"{near} to {far} {word}{_say_share(row)}; ") if shown else ("", "")
    said = f"{_capital(sides.with_it)}, {change.verb}{amount} {word} than {sides.without} ({ends}{_say_numbers(row)})."
    worth = worth_noticing(str(row["outcome"]), worth_noticing_mg_dl)
    small = " That is clear, but small." if max(abs(row["range_low"]), abs(row["range_high"])) <= worth else ""
    return f"{said}{small}{_say_stood(row)}"


def split_finding(row: pd.Series, worth_noticing_mg_dl: float, display: Display) -> tuple[str, str, str]:
    """The same in three: what happened, set against what and how sure, and for how long it has been clear."""
    sides, change = find_sides(row), find_verb(row)
    word = change.more if row["verdict"] == "higher" else change.less
    estimate, near, far = _amounts(row, display) if _is_shown(row, display) else ("", "", "")
    amount, ends = (f" {estimate}", f"{near} to {far} {word}; ") if estimate else ("", "")
    worth = worth_noticing(str(row["outcome"]), worth_noticing_mg_dl)
    small = "Clear, but small. " if max(abs(row["range_low"]), abs(row["range_high"])) <= worth else ""
    return (
        f"{_capital(sides.with_it)}, {change.verb}{amount} {word}",
        f"than {sides.without} ({ends}{_say_numbers(row)}).",
        f"{small}{_say_stood(row)}".strip(),
    )


def _say_stood(row: pd.Series) -> str:
    """For how many wears running it has been clear; empty where that is not counted."""
    if not is_known(row["stood"]):
        return ""
    wears = int(row["stood"])
    if wears == 1:
        return " New this time: wait for the next wear."
    return f" Has held for the last {say_count(wears, 'wear', spell=True)}."


def _say_share(row: pd.Series) -> str:
    """``, which is 29 to 52 % of a usual rise``; empty for what scales no response."""
    if row["outcome"] != "rise_mg_dl" or not is_known(row["share"]) or row["share_low"] * row["share_high"] <= 0:
        return ""  # beside a usual rise that is hardly known, not even its sign is: without signs it would read wrong
    near, far = sorted(abs(100 * float(row[name])) for name in ("share_low", "share_high"))
    return f", which is {near:.0f} to {far:.0f}{NO_BREAK}% of a usual rise"


def say_range_effect(row: pd.Series, display: Display) -> str:
    """An effect over the own range with its interval and signs, for a table: ``−9 mg/dL (−16 to −2)``."""
    ends = [float(row[name]) for name in ("range_estimate", "range_low", "range_high")]
    unit = find_verb(row).unit
    if _is_mg_dl(row):
        return display.change(*ends)
    if not unit:
        ends, unit = [float(display.values(end)) for end in ends], f"{display.unit}{NO_BREAK}min"
    texts = [write_signed(end, 0 if ends[2] - ends[1] > 20 else 1) for end in ends]
    return f"{texts[0]}{NO_BREAK}{unit} ({texts[1]} to {texts[2]})"


def _is_shown(row: pd.Series, display: Display) -> bool:
    return display.numbers or bool(find_verb(row).unit)


def _is_mg_dl(row: pd.Series) -> bool:
    return str(row["outcome"]).endswith("_mg_dl")


def _amounts(row: pd.Series, display: Display) -> tuple[str, str, str]:
    """Sizes without signs: the estimate with its unit, then both ends, the nearer to nil first; those on either side
    of nil lower end first.
    """
    estimate, low, high = (abs(float(row[f"range_{name}"])) for name in ("estimate", "low", "high"))
    half = (float(row["range_high"]) - float(row["range_low"])) / 2
    first, last = sorted((low, high)) if row["range_low"] * row["range_high"] > 0 else (low, high)
    if _is_mg_dl(row):
        texts = [display.size(size, half) for size in (estimate, first, last)]
        return f"{texts[0]}{NO_BREAK}{display.unit}", texts[1], texts[2]
    unit, digits = find_verb(row).unit, 0 if half > 10 else 1
    sizes = (estimate, first, last) if unit else tuple(display.values(size) for size in (estimate, first, last))
    texts = [write_number(float(size), digits) for size in sizes]
    return f"{texts[0]}{NO_BREAK}{unit or f'{display.unit}{NO_BREAK}min'}", texts[1], texts[2]


def _say_numbers(row: pd.Series) -> str:
    many, without = int(row["n_with"]), row["n_without"]
    noun = "meal" if is_of_meals(row) else "day"
    if is_known(without) and int(without) > 0:
        return f"{say_count(many, noun)} with, {int(without)} without"
    return f"all {say_count(many, noun)}"  # also those between the thirds that are drawn


def _capital(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"

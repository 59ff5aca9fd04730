"""How much of the spread between days goes with what? Sentences from spread_shares.csv."""

from __future__ import annotations

import pandas as pd

from glucolab.showing.display import is_known
from glucolab.showing.words.common import OUTCOME_WORDS, join_words, say_count

ALL = "together"
WRITTEN_WHERE = {
    "sleep": "sleep (sleep.csv)",
    "stress": "stress (days.csv)",
    "food": "carbohydrate (meals.csv)",
    "movement": "movement (activity.csv)",
}
_MEANS = (
    "Each share is of what the others leave, so they need not add up. A link is not a cause, and what acts only "
    "now and then, or was written down wrongly, stays in the rest."
)


def say_shares(shares: pd.DataFrame) -> str:
    """What all groups together go with, for each figure of days, or what it takes to tell.

    Parameters
    ----------
    shares : DataFrame
        spread_shares.csv's table.
    """
    if not shares["made_of"].ne("").any():
        return f"To split the differences between days, write down {join_words(list(WRITTEN_WHERE.values()))}."
    together = shares[shares["group"] == ALL]
    known = together[together["share"].notna()]
    if not len(known):
        return _say_too_few(together.iloc[int(together["n_days"].to_numpy(int).argmax())])
    said = [f"{say_share(row)} of how {OUTCOME_WORDS[row['outcome']]} differs" for _, row in known.iterrows()]
    names = join_words(list_groups(shares))
    verb = "go" if " and " in names else "goes"
    lead = f"Between the days of a wear, {names} together {verb} with {join_words(said)}."
    return f"{lead} The rest is chance, what was not written down, and the sensor. {_MEANS}"


def _say_too_few(row: pd.Series) -> str:
    days, more = say_count(int(row["n_days"]), "day"), say_count(int(row["days_needed"]), "more day")
    return (
        f"How much of the differences between days sleep, stress, food and movement go with cannot be told from {days} "
        f"on which all of it is known; {more} would give a first answer."
    )


def list_groups(shares: pd.DataFrame) -> list[str]:
    """Groups that were written down, in order."""
    written = shares[shares["made_of"].ne("") & shares["group"].ne(ALL)]
    return list(dict.fromkeys(written["group"]))


def say_share(row: pd.Series) -> str:
    """A share with its interval: ``about 12 % (0 to 38 %)``; empty where there is none."""
    if not is_known(row["share"]):
        return ""
    share, low, high = (f"{100 * row[name]:.0f}" for name in ("share", "low", "high"))
    return f"about {share}\N{NO-BREAK SPACE}% ({low} to {high}\N{NO-BREAK SPACE}%)"


def say_days_needed(row: pd.Series) -> str:
    """What would tell: ``9 more days``; empty where nothing is wanting."""
    return say_count(int(row["days_needed"]), "more day") if is_known(row["days_needed"]) else ""

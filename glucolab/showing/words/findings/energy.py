"""What does energy go with after eating? Sentences from energy_effects.csv."""

from __future__ import annotations

import pandas as pd

from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.display import NO_BREAK, Display, is_known, write_signed
from glucolab.showing.words.common import VERDICT_WORDS, join_words, say_count

_FACTORS = {"rise_mg_dl": "the rise after eating", "dip_mg_dl": "the later dip"}
AFTER = {"rise_mg_dl": "after a larger rise", "dip_mg_dl": "after a deeper dip"}
WANTED = {
    "rise_mg_dl": "noted within four hours of eating, from the peak on",
    "dip_mg_dl": "noted two to four hours after eating",
}
CAUTION = (
    "A link is not a cause: whoever feels weary may move less or eat sooner, and what was eaten acts in other ways "
    "than through glucose."
)


def say_energy(effects: pd.DataFrame, display: Display) -> tuple[str, list[str]]:
    """What each feeling goes with in one sentence, and the figures behind it.

    Parameters
    ----------
    effects : DataFrame
        energy_effects.csv's table.
    display : Display

    Returns
    -------
    lead : str
    rows : list of str
    """
    if not len(effects):
        return "", []
    leads = [_say_feeling(str(feeling), mine) for feeling, mine in effects.groupby("feeling", sort=False)]
    return " ".join(leads), [*(_say_row(row, display) for _, row in effects.iterrows()), CAUTION]


def _say_feeling(feeling: str, rows: pd.DataFrame) -> str:
    name = feeling.capitalize()
    said = [f"was {row['verdict']} {AFTER[row['factor']]}" for _, row in rows.iterrows() if row["verdict"] in CLAIMS]
    small = [_FACTORS[f] for f in rows.loc[rows["verdict"] == "too_small_to_matter", "factor"]]
    unknown = [_FACTORS[f] for f in rows.loc[rows["verdict"].isin(["cannot_tell_yet", "not_enough_data"]), "factor"]]
    if len(small) == len(rows):
        return f"{name} goes with neither {' nor '.join(small)} by enough to matter."
    parts = [f"{name} {' and '.join(said)}."] if said else []
    parts += [f"{name} differs with {join_words(small)} by too little to matter."] if small else []
    parts += [f"Whether {feeling} goes with {' or '.join(unknown)} is not clear yet."] if unknown else []
    return " ".join(parts)


def _say_row(row: pd.Series, display: Display) -> str:
    start = f"{row['feeling'].capitalize()} and {_FACTORS[row['factor']]}"
    counted = f"{say_count(int(row['n']), 'note')} on {say_count(int(row['n_days']), 'day')}"
    if not is_known(row["low"]):
        return (
            f"{start}: not enough data yet, {counted}. It takes {row['feeling']} {WANTED[row['factor']]} on eight days."
        )
    figure = ""
    if display.numbers:
        start, to = display.level(row["range_from"]), f"{display.level(row['range_to'])}{NO_BREAK}{display.unit}"
        ends = [write_signed(row[f"range_{name}"], 1) for name in ("estimate", "low", "high")]
        figure = f" {ends[0]} points ({ends[1]} to {ends[2]}) from one of {start} to one of {to},"
    more = ""
    if is_known(row["needed"]):
        more = f" About {say_count(int(row['needed']), 'more note')} {WANTED[row['factor']].removeprefix('noted ')}"
        more += " may answer it."
    return f"{start}: {VERDICT_WORDS[row['verdict']]},{figure} {counted}.{more}"

"""Does the log predict meals better than the own average? The sentence of log_prediction.csv."""

from __future__ import annotations

import pandas as pd

from glucolab.relating.predicting.log_prediction import FEWEST_DAYS_TO_PREDICT, FEWEST_MEALS
from glucolab.showing.display import NO_BREAK, Display
from glucolab.showing.words.common import say_count

WHETHER = "Whether your log predicts a meal's rise better than your average for that wear"
NOT_ASKED = f"{WHETHER} is not in these tables: glucolab report works it out."


def say_prediction(table: pd.DataFrame, display: Display) -> str:
    """One sentence on how the errors of the log compare with those of the wearer's own average.

    Parameters
    ----------
    table : DataFrame
        log_prediction.csv's; without rows where it was not worked out.
    display : Display
    """
    if not len(table):
        return NOT_ASKED
    row = table.iloc[0]
    tried = f"{say_count(int(row['n_meals']), 'usable meal')} on {say_count(int(row['n_days']), 'day')}"
    if row["verdict"] == "not_enough_data":
        needed = f"it takes at least {FEWEST_MEALS} on {FEWEST_DAYS_TO_PREDICT} days, and rises that differ"
        return f"{WHETHER} cannot be tried on {tried}: {needed}."
    if row["verdict"] == "cannot_tell_yet":
        return f"{WHETHER} cannot be said yet from {tried}: it may miss by {_say_ends(row)}."
    how = f"tried on {tried}, each day kept from both while they learn"
    if row["verdict"] == "no_better":
        no_better = "Your log predicts a meal's rise hardly better, if at all, than your average for that wear"
        return f"{no_better}: {how}, it misses {_say_at_best(row)}."
    better = "Your log predicts a meal's rise better than your average for that wear"
    return f"{better}: {how}, it misses by {_say_errors(row, display)}."


def _say_ends(row: pd.Series) -> str:
    """``30 % less to 5 % more``; the interval holds 1."""
    more = round(100 * (row["high"] - 1))
    return f"anything from {_say_less(row['low'])} less to {f'{more}{NO_BREAK}% more' if more else 'as much'}"


def _say_at_best(row: pd.Series) -> str:
    return f"by at most {_say_less(row['low'])} less" if round(100 * (1 - row["low"])) > 0 else "by no less"


def _say_errors(row: pd.Series, display: Display) -> str:
    """``about 15 mg/dL where the average misses by 24, 37 % less (26 to 47 %)``; the shares alone without figures."""
    least, most = (f"{100 * (1 - row[name]):.0f}" for name in ("high", "low"))
    share = f"{_say_less(row['error_ratio'])} less ({least} to {most}{NO_BREAK}%)"
    if not display.numbers:
        return share
    log, average = (display.size(row[name]) for name in ("error_log_mg_dl", "error_average_mg_dl"))
    return f"about {log}{NO_BREAK}{display.unit} where the average misses by {average}, {share}"


def _say_less(ratio: float) -> str:
    return f"{100 * (1 - ratio):.0f}{NO_BREAK}%"

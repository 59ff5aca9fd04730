"""Did meals do what earlier ones predicted? The sentences of forecasts.csv."""

from __future__ import annotations

from typing import Any

import pandas as pd

from glucolab.relating.predicting.forecasts import score_forecasts
from glucolab.relating.predicting.meal_prior import REPEATED_R
from glucolab.showing.display import NO_BREAK, Display, write_number, write_percent
from glucolab.showing.words.common import say_count

FEWEST_TO_SCORE = 20
"""Forecasts that a score needs [forecasts]; assumed. Fewer score chance, more withhold what one wear can say. It moves
a sentence, no figure."""
WORTH_CALLING_LESS = 0.05
"""Share by which errors must shrink to be called smaller [1]; as in log_prediction.csv. It moves a word, no figure."""


def say_forecasts(table: pd.DataFrame, display: Display) -> str:
    """Whether predicting this person's meals works, in a sentence or two.

    Parameters
    ----------
    table : DataFrame
        forecasts.csv's.
    display : Display
    """
    if len(table) < FEWEST_TO_SCORE:
        seen = say_count(len(table), "meal") if len(table) else "No meal"
        was = "was" if len(table) < 2 else "were"
        return (
            f"{seen} {was} predicted from the meals of earlier days: it takes {FEWEST_TO_SCORE} to say how well that "
            f"works for you."
        )
    score = score_forecasts(table)
    smaller = 1 - score["error_mg_dl"] / score["usual_error_mg_dl"] if score["usual_error_mg_dl"] else 0.0
    tried = f"Each of {score['n']:.0f} meals was predicted from those of earlier days and from your glucose before it"
    if smaller < WORTH_CALLING_LESS:
        return f"{tried}: that did no better than expecting your usual rise. Predicting your meals does not work yet."
    missed = ""
    if display.numbers:
        errors = [display.size(score[name]) for name in ("error_mg_dl", "usual_error_mg_dl")]
        missed = f" ({errors[0]} instead of {errors[1]}{NO_BREAK}{display.unit})"
    repeated = f"two eatings of one meal correlated by {write_number(REPEATED_R, 2)} in a trial of repeated meals"
    return (
        f"{tried}: that missed by {100 * smaller:.0f}{NO_BREAK}% less than expecting your usual rise{missed}. "
        f"Predicted and actual rises correlate by {write_number(score['r'], 2)}; {repeated}. "
        f"{write_percent(score['held'])} of the rises lay within their interval, where 90 % should."
    )


def say_beside_forecast(row: Any, display: Display) -> str:
    """What came beside what was predicted, in a sentence that calls neither good nor bad.

    Parameters
    ----------
    row : row of forecasts.csv
    display : Display
    """
    ends = ""
    if display.numbers:
        low, high = (display.signed(value) for value in (row.low_mg_dl, row.high_mg_dl))
        ends = f" ({low} to {high}{NO_BREAK}{display.unit})"
    if row.held:
        return f"That is within what your earlier meals predicted{ends}."
    more = "more" if row.rise_mg_dl > row.high_mg_dl else "less"
    often = "one meal in ten lies outside, so a single one says little"
    return f"That is {more} than your earlier meals predicted{ends}; {often}."

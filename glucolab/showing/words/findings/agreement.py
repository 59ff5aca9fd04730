"""How does the sensor agree with the meter? Sentences from check_agreement.csv."""

from __future__ import annotations

import pandas as pd

from glucolab.relating.comparing.agreement import LEAST_FOR_LIMITS, LEAST_FOR_MEAN
from glucolab.showing.display import NO_BREAK, Display, is_known, write_signed
from glucolab.showing.words.common import NUMBER_WORDS, say_count, say_title

MEAN = ["difference_mg_dl", "low_mg_dl", "high_mg_dl"]
MEANS = (
    "This is sensor against meter, not sensor against blood: what a meter reads too high or too low is in all its "
    "finger-sticks alike. And it is as measured, before anything was corrected: the sensor runs behind blood, so that "
    "finger-sticks taken while glucose moves lie further from it. What is known of a sensor against blood, the meter’s "
    "own error counted in, stands on its wear’s page."
)
NOTHING = (
    f"No wear has a finger-stick with a usable reading within 15 minutes. {NUMBER_WORDS[LEAST_FOR_MEAN].capitalize()} "
    "in one wear, in checks.csv, say how far its sensor read from your meter on average, "
    f"{NUMBER_WORDS[LEAST_FOR_LIMITS]} how far single readings lie from it."
)


def say_agreement(row: pd.Series, display: Display) -> str:
    """One wear: the average difference, how far single readings lie, and whether it goes with the level."""
    n, name = int(row["n"]), say_title(row["wear"])
    if n < LEAST_FOR_MEAN:
        return (
            f"{name}: {say_count(n, 'finger-stick', spell=True)} with a usable reading within 15 minutes; an average "
            f"needs {NUMBER_WORDS[LEAST_FOR_MEAN]}."
        )
    said = [f"{name}: {_say_mean(row, display)}", _say_limits(row, display), _say_slope(row, display)]
    return " ".join(text for text in said if text)


def _say_mean(row: pd.Series, display: Display) -> str:
    middle, low, high = row[MEAN]
    counted = say_count(int(row["n"]), "finger-stick", spell=True)
    if low <= 0 <= high:
        figure = f"{display.change(middle, low, high)} against" if display.numbers else "near"
        return f"as measured, this sensor read {figure} your meter on average; {counted} cannot tell above from below."
    side = "above" if low > 0 else "below"
    if not display.numbers:
        return f"as measured, this sensor read {side} your meter on average, in {counted}."
    half = (high - low) / 2
    size, *ends = (display.size(value, half) for value in (middle, *sorted((low, high), key=abs)))
    return (
        f"as measured, this sensor read {size}{NO_BREAK}{display.unit} {side} your meter on average "
        f"({ends[0]} to {ends[1]}), in {counted}."
    )


def _say_limits(row: pd.Series, display: Display) -> str:
    if not is_known(row["limit_low_mg_dl"]):
        more = say_count(LEAST_FOR_LIMITS - int(row["n"]), "more", "more", spell=True)
        return f"How far single readings lie from a finger-stick takes {more} to say."
    if not display.numbers:
        return "Single readings lie further off than that, to either side."
    inner = [display.signed(row[name]) for name in ("limit_low_mg_dl", "limit_high_mg_dl")]
    outer = [display.signed(row[name]) for name in ("limit_low_low_mg_dl", "limit_high_high_mg_dl")]
    return (
        f"Of 100 single readings about 95 lie between {inner[0]} and {inner[1]}{NO_BREAK}{display.unit} from a "
        f"finger-stick; so few leave these ends loose, and they may lie as far out as {outer[0]} and {outer[1]}."
    )


def _say_slope(row: pd.Series, display: Display) -> str:
    if not is_known(row["slope_told"]) or not row["slope_told"]:
        return ""
    way = "higher" if row["slope"] > 0 else "lower"
    figure = f", {say_slope(row)}" if display.numbers else ""
    return f"The higher glucose was, the {way} it read against the meter{figure}: one average does not fit all levels."


def say_slope(row: pd.Series) -> str:
    """How the difference goes with the level, the same in every unit: ``+1.5 in every 10 (+0.2 to +2.8)``."""
    if not is_known(row["slope"]):
        return ""
    value, low, high = (write_signed(10 * row[name], 1) for name in ("slope", "slope_low", "slope_high"))
    return f"{value} in every 10 ({low} to {high})"


def say_between(row: pd.Series, display: Display) -> str:
    """The limits of agreement: ``−19 to +1 mg/dL``; empty where there are none."""
    if not is_known(row["limit_low_mg_dl"]):
        return ""
    low, high = (display.signed(row[name]) for name in ("limit_low_mg_dl", "limit_high_mg_dl"))
    return f"{low} to {high}{NO_BREAK}{display.unit}"

"""What does the laboratory say? Changes over their noise, draws beside the sensor, HOMA-IR, in sentences."""

from __future__ import annotations

import pandas as pd

from glucolab.showing.display import Display, is_known, write_number, write_signed
from glucolab.showing.words.common import say_analyte, say_count, say_day, say_duration, say_title

CHECK_WORDS = {
    "lower": "the estimate is lower than the laboratory by more than is to be expected of nine draws in ten",
    "higher": "the estimate is higher than the laboratory by more than is to be expected of nine draws in ten",
    "too_small_to_matter": "as good as equal",
    "cannot_tell_yet": "as close as expected",
}
NO_CHECK_WORDS = {
    "no_time": "without the time of the draw it cannot be set beside the sensor; write it into labs.csv",
    "no_reading": "the sensor has no usable reading near it",
}
NO_INDEX_WORDS = {
    "not_fasting": "glucose and insulin are not both marked as fasting",
    "no_glucose": "labs.csv holds no glucose of the same draw",
    "several_glucose": "several glucose values could belong to its insulin; write the time of each draw",
}
ONLY_DRAWN = (
    "Drawn, not judged: how far these values differ from draw to draw without a cause is not known here. Each line has "
    "its own scale."
)
HOW_DRAWN = "Each bar is how far one value differs from the next on its own; a dot outside it is more."
NO_CONVERSION = (
    "Beside what the sensor saw around it. HbA1c and the sensor’s average are two measurements: neither is turned into "
    "the other."
)
WRITE_IT_DOWN = (
    "Written into the wear’s checks.csv too, in the wear’s unit and with source venous, a draw narrows what is not "
    "known of that sensor’s error."
)
HOMA_MEANS = (
    "HOMA-IR is fasting glucose times fasting insulin of one draw: roughly, how much insulin holds fasting glucose "
    "where it is. One draw fixes it loosely, and insulin measured by another laboratory is not comparable, so no "
    "limit is drawn here."
)


def say_lab_changes(changes: pd.DataFrame, display: Display) -> list[str]:
    """Changes that are more than normal, each in a sentence, and how many of the others are not."""
    told = changes[changes["verdict"].isin(["lower", "higher"])]
    sentences = [_say_lab_change(row, display) for _, row in told.iterrows()]
    within = int((changes["verdict"] == "cannot_tell_yet").sum())
    if within:
        which = {True: f"All {within} changes are" if within > 1 else "The one change is"}.get(
            within == len(changes), f"{say_count(within, 'change')} {'is' if within == 1 else 'are'}"
        )
        sentences.append(f"{which} within the normal change between tests.")
    unknown = int((changes["verdict"] == "not_enough_data").sum())
    if unknown:
        sentences.append(
            f"For {say_count(unknown, 'change', spell=True)} the normal change between tests is not known."
        )
    return sentences


def _say_lab_change(row: pd.Series, display: Display) -> str:
    name, day = say_analyte(row["analyte"]), say_day(row["date_b"], weekday=False, year=True)
    change = f": {write_signed(row['change_percent'])} %" if display.numbers else ""
    return f"{name}, {day}, is {row['verdict']} than at the test before by more than the normal change{change}."


def say_fasting_doubts(values: pd.DataFrame) -> list[str]:
    """Draws marked as fasting before which a meal was logged, a sentence each."""
    doubted = values[values["minutes_since_meal"].notna()].drop_duplicates(["date", "time", "meal_time"])
    return [_say_fasting_doubt(row) for _, row in doubted.iterrows()]


def _say_fasting_doubt(row: pd.Series) -> str:
    day = say_day(row["date"], weekday=False, year=True)
    return (
        f"The blood of {day}, {row['time'][:5]}, is marked as fasting, but a meal was logged at {row['meal_time']}, "
        f"{say_duration(row['minutes_since_meal'])} before ({row['meal']}). If that is right, write fasting = false in "
        "labs.csv: comparisons with fasting blood then leave it out."
    )


def say_lab_checks(checks: pd.DataFrame, display: Display) -> list[str]:
    """Each laboratory glucose beside the sensor at the minute of the draw, and what to do with it."""
    sentences = [_say_lab_check(row, display) for _, row in checks.iterrows()]
    known = checks["sensor_mg_dl"].notna()
    return [*sentences, WRITE_IT_DOWN] if (known & checks["check_line"].isna()).any() else sentences


def _say_lab_check(row: pd.Series, display: Display) -> str:
    when = say_day(row["date"], weekday=False, year=True)
    when = f"{when}, {row['time'][:5]}" if is_known(row["time"]) and row["time"] else when
    start = f"Glucose drawn {when}, during {say_title(row['wear'])}"
    if is_known(row["reason"]) and row["reason"]:
        return f"{start}: {NO_CHECK_WORDS[row['reason']]}."
    verdict = CHECK_WORDS[row["verdict"]]
    used = ""
    if is_known(row["check_line"]):
        used = f" It stands in checks.csv, line {int(row['check_line'])}: the estimate leans on it, so this is no test."
    if not display.numbers:
        return f"{start}: {verdict}.{used}"
    level, unit = display.level, display.unit
    estimate = f"{level(row['sensor_mg_dl'])} ({level(row['low_mg_dl'])} to {level(row['high_mg_dl'])})"
    ends = ("difference_mg_dl", "difference_low_mg_dl", "difference_high_mg_dl")
    return (
        f"{start}: laboratory {level(row['value_mg_dl'])} {unit}; the sensor’s estimate of blood then {estimate}, its "
        f"reading as measured {level(row['raw_mg_dl'])}. Estimate minus laboratory: "
        f"{display.change(*row[list(ends)])}, {verdict}.{used}"
    )


def say_lab_indices(indices: pd.DataFrame, display: Display) -> list[str]:
    """HOMA-IR of each draw with how far one draw fixes it, or why there is none."""
    if not display.numbers or not len(indices):
        return []
    return [HOMA_MEANS, *(_say_lab_index(row) for _, row in indices.iterrows())]


def _say_lab_index(row: pd.Series) -> str:
    day = say_day(row["date"], weekday=False, year=True)
    if not is_known(row["value"]):
        return f"No HOMA-IR of {day}: {NO_INDEX_WORDS[row['reason']]}."
    value, low, high = (write_number(row[name], 1) for name in ("value", "low", "high"))
    return f"HOMA-IR of {day} was {value}; from one draw, your usual level may lie anywhere from {low} to {high}."

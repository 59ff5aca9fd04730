"""Which words stand for which name? Flags, gaps, links, verdicts, dates, durations, counts."""

from __future__ import annotations

from bisect import bisect_right
from typing import Any

import pandas as pd

from glucolab.showing.display import NO_BREAK, Display, write_number

FLAG_WORDS = {
    "warm_up": "the sensor's first hours",
    "pressure": "lying on the sensor",
    "jump": "steps too fast to be glucose",
    "stuck": "the same value for too long",
    "limit": "at the sensor's floor or ceiling",
    "duplicate": "a second reading for one moment",
    "clock": "time unclear",
    "loosening": "the sensor's last days",
    "noted": "noted by you",
}
FLAG_LANES = {
    "warm_up": "first hours",
    "pressure": "lying on it",
    "jump": "steps too fast",
    "stuck": "stuck value",
    "limit": "floor or ceiling",
    "duplicate": "second reading",
    "clock": "time unclear",
    "loosening": "last days, still used",
    "noted": "noted by you",
}
GAP_WORDS = {
    "missed_scan": "not scanned in time",
    "signal_lost": "signal lost",
    "between_wears": "no sensor on",
    "ended_early": "ended early",
    "flagged": "set aside",
    "unknown": "not recorded",
}
LINK_WORDS = {
    "sensor": "the sensor itself",
    "exercise": "exercise",
    "meal": "a meal",
    "stress": "stress noted",
    "early_morning": "early morning",
    "unexplained": "nothing noted",
}
BLOCK_WORDS = {
    "night": "night, 0–6",
    "morning": "morning, 6–12",
    "afternoon": "afternoon, 12–18",
    "evening": "evening, 18–24",
}
VERDICT_WORDS = {
    "lower": "lower",
    "higher": "higher",
    "too_small_to_matter": "too small to matter",
    "cannot_tell_yet": "not clear yet",
    "not_enough_data": "not enough data yet",
}
REASON_WORDS = {
    "no_baseline": "no readings just before",
    "gap": "readings missing",
    "flagged": "readings set aside",
    "next_occasion": "ate again too soon",
    "exercise": "exercise meanwhile",
    "outside_wear": "outside the wear",
    "time_uncertain": "time uncertain",
    "minor": "hardly any carbohydrate",
}
OUTCOME_WORDS = {
    "mean_mg_dl": "the day's average",
    "sd_mg_dl": "the swing within a day",
    "overnight_mean_mg_dl": "the night's average",
    "next_mean_mg_dl": "the next day's average",
    "rise_mg_dl": "the rise after eating",
    "iauc_2h_mg_dl_min": "the area under the rise",
    "net_area_3h_mg_dl_min": "the area over three hours",
    "energy": "energy",
    "asleep_h": "time asleep",
}
OUTCOME_LABELS = {
    "mean_mg_dl": "day",
    "overnight_mean_mg_dl": "night",
    "next_mean_mg_dl": "next day",
    "sd_mg_dl": "swing",
    "rise_mg_dl": "rise",
}
"""Beside a bar, where room is short."""
FACTOR_WORDS = {
    "asleep_h": "longer sleep the night before",
    "stress": "more stress",
    "caffeine_mg": "more caffeine",
    "relaxation_min": "more relaxation",
    "morning_exercise": "exercise before 11:00",
    "walk_after": "a walk after eating",
    "protein_first": "protein eaten first",
    "fiber_g": "more fibre",
    "protein_g": "more protein",
    "fat_g": "more fat",
    "carbs_g": "more carbohydrate",
    "carbs_after_short_night": "extra carbohydrate after a night under six hours",
    "evening_meal": "eating after 18:00",
    "eaten_out": "the same dish eaten out",
    "short_night": "a night under six hours",
    "last_meal_to_sleep_h": "longer from the last meal to sleep",
}
ANALYTE_WORDS = {
    "hba1c": "HbA1c",
    "homa_ir": "HOMA-IR",
    "hs_crp": "hs-CRP",
    "hdl_cholesterol": "HDL cholesterol",
    "ldl_cholesterol": "LDL cholesterol",
}
"""Names of analytes that are not simply words."""
SHORT_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
NUMBER_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


COLUMN_UNITS = ("min", "h", "g", "mg", "ml", "km", "kg", "bpm", "ms")
"""With which the name of a column may end, as the contract's own do."""


def say_title(name: str) -> str:
    """A column or folder name as words: ``2026-02_winter_1`` becomes ``2026-02 winter 1``."""
    return " ".join(name.replace("_", " ").split()) or name


def say_analyte(analyte: str) -> str:
    """An analyte of labs.csv as it is usually written."""
    return ANALYTE_WORDS.get(analyte, say_title(analyte))


def split_unit(column: str) -> tuple[str, str]:
    """A column of the wearer's own as words, and the unit that its name ends in: ``late_screen_min``; empty if none."""
    words, _, unit = column.rpartition("_")
    return (say_title(words), unit) if words and unit in COLUMN_UNITS else (say_title(column), "")


_WRIST_WORDS = {
    "steps": "more steps",
    "resting_hr_bpm": "a higher resting heart rate",
    "hrv_ms": "a higher heart rate variability",
}


def say_factor(factor: str) -> str:
    """A factor of effects.csv as words."""
    kind, _, name = factor.partition(":")
    if kind != "covariate":
        return FACTOR_WORDS.get(factor, say_title(factor))
    return _WRIST_WORDS.get(name, f"more of “{split_unit(name)[0]}”")


def say_count(n: int, one: str, many: str = "", spell: bool = False) -> str:
    """A count with its noun: ``1 meal``, ``12 meals``; spelled up to ten on request: ``three meals``."""
    number = NUMBER_WORDS[n] if spell and 0 <= n <= 10 else str(n)
    return f"{number} {one if n == 1 else many or one + 's'}"


def say_day(date: pd.Timestamp, weekday: bool = True, year: bool = False) -> str:
    """A date: ``Mon 7 Sep``."""
    text = f"{date.day} {SHORT_MONTHS[date.month - 1]}"
    text = f"{WEEKDAYS[date.weekday()]} {text}" if weekday else text
    return f"{text} {date.year}" if year else text


def say_moment(local: pd.Timestamp) -> str:
    """A local time: ``Mon 7 Sep 08:10``."""
    return f"{say_day(local)} {local:%H:%M}"


def say_span(start: pd.Timestamp, end: pd.Timestamp) -> str:
    """Two dates as a span: ``7 – 21 September 2026``."""
    last = f"{end.day} {MONTHS[end.month - 1]} {end.year}"
    if (start.year, start.month, start.day) == (end.year, end.month, end.day):
        return last
    if (start.year, start.month) == (end.year, end.month):
        return f"{start.day} – {last}"
    first = f"{start.day} {MONTHS[start.month - 1]}"
    return f"{first} – {last}" if start.year == end.year else f"{first} {start.year} – {last}"


def say_duration(minutes: float) -> str:
    """A length of time: ``45 min``, ``3 h 20 min``, ``2.5 days``."""
    whole = round(float(minutes))
    if whole < 60:
        return f"{whole} min"
    if whole < 24 * 60:
        hours, rest = divmod(whole, 60)
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    days = write_number(minutes / 1440, 1).removesuffix(".0")
    return "1 day" if days == "1" else f"{days} days"


CHANCE_STEPS = (0.05, 0.2, 0.4, 0.6, 0.8, 0.95)
"""Where one word for a probability ends and the next begins."""


def say_likelihood(probability: float) -> str:
    """A probability in words, without its figure."""
    words = ("very unlikely", "unlikely", "less likely than not", "as likely as not", "more likely than not", "likely",
             "very likely")  # fmt: skip
    return words[bisect_right(CHANCE_STEPS, probability)]


def say_will(probability: float) -> str:
    """A probability as what something will do: ``very likely won't``."""
    words = ("almost certainly won't", "very likely won't", "probably won't", "may or may not", "will probably",
             "will very likely", "will almost certainly")  # fmt: skip
    return words[bisect_right(CHANCE_STEPS, probability)]


def say_whether(probability: float, what: str) -> str:
    """A probability as a sentence about what may have been: ``Probably not below your goal``."""
    if CHANCE_STEPS[2] <= probability < CHANCE_STEPS[3]:
        return f"{what[0].upper()}{what[1:]}? It could go either way"
    words = ("almost certainly not", "very likely not", "probably not", "", "probably", "very likely",
             "almost certainly")  # fmt: skip
    return f"{words[bisect_right(CHANCE_STEPS, probability)].capitalize()} {what}"


def say_chance(probability: float) -> str:
    """A probability as a count of a hundred, never nought or a hundred."""
    if probability < 0.01:
        return f"under 1{NO_BREAK}in{NO_BREAK}100"
    if probability > 0.99:
        return f"over 99{NO_BREAK}in{NO_BREAK}100"
    return f"{100 * probability:.0f}{NO_BREAK}in{NO_BREAK}100"


def say_hundred(probability: float) -> str:
    """A probability as chances, never nought or a hundred: ``31 chances in 100``."""
    if not 0.01 <= probability <= 0.99:
        return f"{'under 1 chance' if probability < 0.5 else 'over 99 chances'} in{NO_BREAK}100"
    return f"{say_count(round(100 * probability), 'chance')} in{NO_BREAK}100"


def say_reasons(reason: str) -> str:
    """Why a meal response may not be used, in words."""
    return ", ".join(REASON_WORDS.get(r, r) for r in reason.split(";") if r)


def say_rise(row: Any, display: Display) -> str:
    """The rise after a meal with its interval: ``rise 32 mg/dL (20 to 44)``."""
    ends = [display.signed(v).removeprefix("+") for v in (row.rise_mg_dl, row.rise_low_mg_dl, row.rise_high_mg_dl)]
    return f"rise {ends[0]}{NO_BREAK}{display.unit} ({ends[1]} to {ends[2]})"


def cut_text(text: str, longest: int) -> str:
    """Text cut to a length with an ellipsis, for places that cannot wrap."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def join_words(words: list[str]) -> str:
    """A list as words: ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""

"""What does one pair of columns say? A sentence with its interval, and what having tried many pairs does to it."""

from __future__ import annotations

from glucolab.relating.statistics.claims import CLAIMS
from glucolab.relating.effects.one_pair import DayRelation
from glucolab.showing.display import NO_BREAK, Display, is_known, write_signed
from glucolab.showing.words.common import VERDICT_WORDS, join_words, say_count, split_unit
from glucolab.showing.words.findings.habit_phrases import write_ends

COVARIATE_WORDS = {
    "asleep_h": ("time asleep the night before", "h"), "stress": ("stress", "points of 10"),
    "caffeine_mg": ("caffeine", "mg"), "relaxation_min": ("relaxation", "min"), "exercise_min": ("exercise", "min"),
    "carbs_g": ("carbohydrate", "g"), "fiber_g": ("fibre", "g"), "steps": ("steps", ""),
    "resting_hr_bpm": ("resting heart rate", "beats/min"), "hrv_ms": ("heart rate variability", "ms"),
}  # fmt: skip
_OUTCOME_WORDS = {
    "mean_mg_dl": "the day's average",
    "sd_mg_dl": "the swing within a day (SD)",
    "cv_percent": "the swing over the average (CV)",
    "overnight_mean_mg_dl": "the night's average",
}
WHEN = {
    ("overnight_mean_mg_dl", False): "in the night that ended that morning",
    ("overnight_mean_mg_dl", True): "in the night that follows",
}


def say_covariate(name: str) -> str:
    """A covariate with its unit, as an axis or a list names it."""
    words, unit = COVARIATE_WORDS.get(name, split_unit(name))
    return f"{words} [{unit}]" if unit else words


def say_outcome(name: str, display: Display) -> str:
    """An outcome with its unit."""
    return f"{_OUTCOME_WORDS[name]} [{'%' if name == 'cv_percent' else display.unit}]"


def say_when(relation: DayRelation) -> str:
    """When the outcome is looked at."""
    return WHEN.get((relation.outcome, relation.next_day), "the day after" if relation.next_day else "the same day")


def say_relation(relation: DayRelation, worth_noticing_mg_dl: float, display: Display, tried: int) -> str:
    """What one pair says, with its interval, days and verdict, and how many pairs have been tried.

    Parameters
    ----------
    relation : DayRelation
    worth_noticing_mg_dl : float
        [mg/dL]
    display : Display
    tried : int
        Pairs looked at in this sitting, this one counted.
    """
    n, wears = len(relation.points), relation.points["wear"].nunique()
    counted = f"{say_count(n, 'day')} of {say_count(wears, 'wear')}"
    if not is_known(relation.estimate):
        return f"Too little to draw a line through: {counted}. Eight days are needed, on which it was not the same."
    verdict = relation.verdict(worth_noticing_mg_dl, tried)
    goes = f"{_say_more(relation)} goes with {_say_difference(relation, display)} {say_when(relation)}"
    held = f", adjusted for {join_words([_short(name) for name in relation.adjusted])}" if relation.adjusted else ""
    held += f" ({_say_plain(relation, display)} without)" if is_known(relation.plain) else ""
    said = f"{goes}{held}: {VERDICT_WORDS[verdict]}. {counted}, each against its own wear."
    return f"{said} {say_tried(relation, worth_noticing_mg_dl, tried)}"


def say_tried(relation: DayRelation, worth_noticing_mg_dl: float, tried: int) -> str:
    """How many pairs have been looked at, and what that does to a claim."""
    if tried <= 1:
        return "It is the first pair looked at in this sitting."
    alone, among = (relation.verdict(worth_noticing_mg_dl, count) for count in (1, tried))
    start = f"You have looked at {tried} pairs in this sitting"
    if alone in CLAIMS and among not in CLAIMS:
        return f"{start}: alone this one would stand out, among {tried} it may be chance. Ask it of the next wear."
    if among in CLAIMS:
        return f"{start}: it stands out among all of them."
    chance = 100 * (1 - 0.9**tried)
    return f"{start}: with nothing behind any of them, one or more would seem to stand out {chance:.0f} times in 100."


def _short(name: str) -> str:
    return COVARIATE_WORDS.get(name, split_unit(name))[0]


def _say_more(relation: DayRelation) -> str:
    words, unit = COVARIATE_WORDS.get(relation.covariate, split_unit(relation.covariate))
    words = words if relation.covariate in COVARIATE_WORDS else f"“{words}”"
    if not relation.step:
        return f"A day with {words}"
    start, to = write_ends(relation.over_range["range_from"], relation.over_range["range_to"], "")
    unit = {"points of 10": ""}.get(unit, unit)
    end = f"{to}{NO_BREAK}{unit}" if unit else to
    return f"{words[0].upper()}{words[1:]} from {start} to {end}, your own range,"


def _say_plain(relation: DayRelation, display: Display) -> str:
    """The difference adjusted for nothing, without its unit."""
    if relation.outcome == "cv_percent":
        return write_signed(relation.plain, 1)
    return display.signed(relation.plain) if display.numbers else "less" if relation.plain < 0 else "more"


def _say_difference(relation: DayRelation, display: Display) -> str:
    ends = [relation.over_range[f"range_{name}"] for name in ("estimate", "low", "high")]
    if relation.outcome == "cv_percent":
        estimate, low, high = (write_signed(end, 1) for end in ends)
        change = f"{estimate} percentage points ({low} to {high})"
    elif display.numbers:
        change = display.change(*ends)
    else:
        change = "less" if relation.estimate < 0 else "more"
    return f"{change} in {_OUTCOME_WORDS[relation.outcome]}"

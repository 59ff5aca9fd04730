"""What does one link of days say? A sentence with its interval, and among how many links it is judged."""

from __future__ import annotations

import pandas as pd

from glucolab.relating.effects.day_grid import DayGrid
from glucolab.relating.effects.one_pair import DayRelation
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.display import NO_BREAK, Display, is_known, write_number
from glucolab.showing.words.common import join_words, say_count, split_unit
from glucolab.showing.words.findings.habit_phrases import CHANGES, SIDES, Change, Sides, find_sides, write_ends

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
GRID_HEADS = {
    "mean_mg_dl": "the day's average",
    "sd_mg_dl": "ups and downs in a day (SD)",
    "overnight_mean_mg_dl": "the night after",
}
"""Over the columns of the grid."""
_SIDES_OF_DAYS = {
    "exercise_min": Sides("on days with the most exercise ({to})", "on those with the least ({start})"),
    "carbs_g": Sides("on days with the most carbohydrate ({to})", "on those with the least ({start})"),
    "fiber_g": Sides("on days with the most fibre ({to})", "on those with the least ({start})"),
}
"""Of what the contract sums over a day; the same names stand for meals in effects.csv."""
_CHANGES_OF_DAYS = {
    ("overnight_mean_mg_dl", False): Change("the average of the night that ended that morning was", "higher", "lower"),
    ("mean_mg_dl", True): CHANGES["next_mean_mg_dl"],
    ("sd_mg_dl", True): Change("the next day's ups and downs (SD) were", "larger", "smaller"),
    ("cv_percent", False): Change("the ups and downs over the average (CV) were", "larger", "smaller"),
    ("cv_percent", True): Change("the next day's ups and downs over its average (CV) were", "larger", "smaller"),
}
"""By outcome and whether it is of the day after, where effects.csv has no such question."""
_FOUND = {
    "lower": "Clear.",
    "higher": "Clear.",
    "too_small_to_matter": "Too small to matter.",
    "cannot_tell_yet": "Not clear yet.",
}
NO_CAUSE = "A link is not a cause."


def say_covariate(name: str) -> str:
    """A covariate with its unit, as an axis or a list names it."""
    words, unit = COVARIATE_WORDS.get(name, split_unit(name))
    return f"{words} [{unit}]" if unit else words


def name_covariate(name: str) -> str:
    """A covariate without its unit."""
    return COVARIATE_WORDS.get(name, split_unit(name))[0]


def say_outcome(name: str, display: Display) -> str:
    """An outcome with its unit."""
    return f"{_OUTCOME_WORDS[name]} [{'%' if name == 'cv_percent' else display.unit}]"


def say_when(relation: DayRelation) -> str:
    """When the outcome is looked at."""
    return WHEN.get((relation.outcome, relation.next_day), "the day after" if relation.next_day else "the same day")


def say_range(cell: pd.Series) -> str:
    """The own range of a row of the grid: ``2 → 7``; empty where there is none."""
    if not is_known(cell["range_from"]):
        return ""
    unit = COVARIATE_WORDS.get(cell["covariate"], split_unit(cell["covariate"]))[1].removesuffix("points of 10")
    start, to = write_ends(cell["range_from"], cell["range_to"], "")
    return f"{start} → {to}{NO_BREAK}{unit}" if unit else f"{start} → {to}"


def say_cell(cell: pd.Series, display: Display) -> str:
    """One cell of the grid, for those who hear it and as what stands over it."""
    change = CHANGES[str(cell["outcome"])]
    amount = _say_amount(cell, change, display)
    name = f"{name_covariate(cell['covariate'])}, {GRID_HEADS[str(cell['outcome'])]}"
    return f"{name}: {amount}; {int(cell['days'])} days. {_FOUND[str(cell['verdict'])]}"


def say_relation(relation: DayRelation, verdict: str, judged: str, display: Display) -> str:
    """What one link says, with its interval, days and verdict.

    Parameters
    ----------
    relation : DayRelation
    verdict : str
        In the contract's words.
    judged : str
        Among what it is judged, a sentence.
    display : Display
    """
    n, wears = len(relation.points), relation.points["wear"].nunique()
    counted = f"{say_count(n, 'day')} of {say_count(wears, 'wear')}"
    if not is_known(relation.estimate):
        return f"Too little to draw a line through: {counted}. Eight days are needed, on which it was not the same."
    sides, change = _find_sides(relation), _find_change(relation)
    row = pd.Series(relation.over_range)
    size, could = _say_amount(row, change, display, relation.outcome).split("; ")
    adjusted = f", adjusted for {join_words([name_covariate(name) for name in relation.adjusted])}"
    adjusted = adjusted if relation.adjusted else ""
    without = f"; {_say_size(relation.plain, change, display, relation.outcome)} without adjusting"
    without = without if is_known(relation.plain) else ""
    said = f"{sides.with_it[0].upper()}{sides.with_it[1:]}, {change.verb} {size} than {sides.without}"
    return f"{said}; {could} ({counted}{adjusted}{without}). {_FOUND[verdict]} {judged} {NO_CAUSE}"


def say_judged(in_effects: bool, asked: int) -> str:
    """Among what a cell of the grid is judged."""
    if in_effects:
        return "The table of effects asks the same, and judges it among all its questions."
    return f"The table of effects does not ask this: it is judged among the {asked} links of this grid."


def say_tried(alone: str, among: str, grid: DayGrid, tried: int) -> str:
    """How many links have been looked at where one is asked in a way of one's own, and what that does to a claim.

    Parameters
    ----------
    alone, among : str
        Verdicts of this one alone, and among all that have been looked at.
    grid : DayGrid
    tried : int
        Asked in a way of one's own in this sitting, this one counted.
    """
    start = f"Asked in your own way: with the {grid.asked} of the grid you have looked at {grid.asked + tried} links."
    if alone in CLAIMS and among not in CLAIMS:
        return f"{start} Alone this one would be clear, among so many it may be chance: ask it of the next wear."
    return f"{start} It is clear among all of them." if among in CLAIMS else start


def _find_sides(relation: DayRelation) -> Sides:
    """Both ends of the own range in words, as effects.csv's questions have them."""
    name, measured = relation.covariate, relation.step != 0
    ends = {key: relation.over_range[key] for key in ("range_from", "range_to")}
    if name in _SIDES_OF_DAYS:
        start, to = write_ends(ends["range_from"], ends["range_to"], split_unit(name)[1])
        return Sides(*(text.format(start=start, to=to) for text in _SIDES_OF_DAYS[name]))
    factor = name if name in SIDES else f"covariate:{name}"
    return find_sides(pd.Series(ends | {"factor": factor, "unit": " per " if measured else ""}))


def _find_change(relation: DayRelation) -> Change:
    return _CHANGES_OF_DAYS.get((relation.outcome, relation.next_day)) or CHANGES[relation.outcome]


def _say_amount(row: pd.Series, change: Change, display: Display, outcome: str = "") -> str:
    """``3 mg/dL lower; could be 8 lower to 2 higher``; without figures where they are hidden."""
    estimate, low, high = (float(row[f"range_{name}"]) for name in ("estimate", "low", "high"))
    word = change.more if estimate > 0 else change.less
    apart = low * high > 0
    if not display.numbers and outcome != "cv_percent":
        return f"{word}; {'by itself not the other way' if apart else 'could be the other way'}"
    half = (high - low) / 2
    near, far = sorted((abs(low), abs(high))) if apart else (abs(low), abs(high))
    first, last = (_write(size, half, display, outcome) for size in (near, far))
    ends = f"{first} to {last} {word}" if apart else f"{first} {change.less} to {last} {change.more}"
    return f"{_say_size(estimate, change, display, outcome, half)}; could be {ends}"


def _say_size(
    estimate: float, change: Change, display: Display, outcome: str = "", half: float = float("inf")
) -> str:
    """``3 mg/dL lower``, or the word alone where figures are hidden."""
    word = change.more if estimate > 0 else change.less
    if outcome == "cv_percent":
        return f"{write_number(abs(estimate), 1)} percentage points {word}"
    return f"{_write(abs(estimate), half, display, outcome)}{NO_BREAK}{display.unit} {word}" if display.numbers else word


def _write(size: float, half: float, display: Display, outcome: str) -> str:
    return write_number(size, 1) if outcome == "cv_percent" else display.size(size, half)

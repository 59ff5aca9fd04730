"""What does a word mean here? One meaning each, for whoever points at a word or opens the list at a page's end."""

from __future__ import annotations

import re
from functools import cache

from markupsafe import Markup, escape

TERMS = {
    "average": (
        "your average|true average",
        "Mean of blood glucose as estimated from the sensor: its lag and its bias taken off, hours that are missing "
        "filled in from the same hours of other days and, after meals, from other meals.",
    ),
    "give or take": ("give[ -]or[ -]take", "Half the width of a range that is meant to hold the truth 9 times in 10."),
    "90 % interval": ("90\N{NO-BREAK SPACE}?[ ]?% interval", "A range that is meant to hold the truth 9 times in 10."),
    "time recorded": (
        "of the time recorded",
        "Minutes that a usable reading stands for, of all from the end of the sensor's first hours to the end of the "
        "wear.",
    ),
    "variance": ("variance", "The square of how far a figure may lie from the truth: in it, separate doubts add up."),
    "median": ("median", "Half of this wear's glucose lies above it, half below."),
    "set aside": ("set aside", "Not used for any figure, but kept in the tables with the reason."),
    "rise after eating": (
        "rise after eating|(?<=, )rise(?= \\d)|rise(?= \\(90)",
        "The highest estimate within two hours of the first bite, less the mean of the half hour before.",
    ),
    "area under the rise": (
        "area under the rise",
        "Area above the half hour before, over two hours; what lies below is left out (FAO, ISO 26642).",
    ),
    "to the peak": (
        "to the peak",
        "From the first bite to the highest point; empty where the rise is small or goes on.",
    ),
    "back down after": (
        "back down after",
        "From the first bite until glucose stayed near the half hour before for a quarter of an hour.",
    ),
    "later dip": (
        "later dip",
        "How far glucose fell below the half hour before eating, in the third hour after it.",
    ),
    "the night's average": (
        "the night's average",
        "Over the longest sleep that ended between 3:00 and 14:00; from midnight to six where none was logged.",
    ),
    "swing": ("the swing within a day", "Standard deviation of a day: how far its glucose usually lies from its mean."),
    "standard deviation": ("standard deviation", "How far single values usually lie from their mean."),
    "occasion": ("occasions?", "Whatever was eaten within 20 minutes counts as one occasion."),
    "stretch": ("stretch(?:es)?", "Wears less than 14 days apart, taken together."),
    "goes with": (
        "goes? with",
        "Seen together, within a wear, more than luck explains. Which causes which, or whether a third thing causes "
        "both, is not known.",
    ),
    "too small to matter": (
        "too small to matter",
        "The whole interval lies within what study.toml calls worth noticing.",
    ),
    "not clear yet": (
        "not clear yet",
        "The interval holds differences that would matter and others that would not: more days may tell.",
    ),
    "exact p": (
        "exact p",
        "Of all the ways in which the lot could have fallen, the share that gives a difference as large.",
    ),
    "q": ("\\bq\\b", "Of all claims as strong as this one, the share that luck alone would make."),
}
"""By the word: how it stands in a text, and what it means."""


@cache
def _pattern() -> re.Pattern[str]:
    parts = (f"(?P<t{i}>{pattern})" for i, (pattern, _) in enumerate(TERMS.values()))
    return re.compile("|".join(parts), re.IGNORECASE)


def explain(text: object) -> Markup:
    """A text as markup, escaped, the first of each of its terms with its meaning for whoever points at it."""
    if isinstance(text, Markup):
        return text
    done: set[str] = set()
    meanings = [meaning for _, meaning in TERMS.values()]
    pieces, at = [], 0
    for found in _pattern().finditer(str(text)):
        group = str(found.lastgroup)
        if group not in done:
            done.add(group)
            meaning = meanings[int(group[1:])]
            pieces += [
                escape(str(text)[at : found.start()]),
                Markup('<abbr title="{}">{}</abbr>').format(meaning, found[0]),
            ]
            at = found.end()
    return Markup("").join([*pieces, escape(str(text)[at:])])

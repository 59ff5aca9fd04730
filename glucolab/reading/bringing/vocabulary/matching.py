"""Which words mean the same? Names of a foreign header, and foreign words in cells, matched to our own."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from glucolab.reading.text import plain

EXACT, CONTAINED, INSIDE = 1.0, 0.7, 0.5
_SHORTEST_INSIDE = 5
_SHORTEST_SIGNS = 2
_LESS = 0.97
"""What a name counts for what is not needed, so that of two that it fits equally it is what is; more than words count
less that come later in a list. Assumed."""

SAME_NAME = 0.1
"""Columns whose likeness to our word differs by no more are called so alike [1]. Assumed: less lets the first of two
counters pass for the only one, more asks about columns that are something else."""


def likeness(name: str, words: Sequence[str]) -> float:
    """How much a name is one of the words: the whole of it, whole words in it, or a part of a compound.

    Longer words count a little more, and so do earlier ones in the list, so that "sleep start" is a start of sleep
    before it is a sleep.
    """
    text = plain(name)
    if not text:
        return 0.0
    parts = f" {text} "
    best = 0.0
    for place, word in enumerate(words):
        if text == word:
            worth = EXACT
        elif f" {word} " in parts:
            worth = CONTAINED * (0.75 + 0.25 * len(word) / len(text))
        elif word in text and len(word) >= (_SHORTEST_SIGNS if _has_signs(word) else _SHORTEST_INSIDE):
            worth = INSIDE * (0.75 + 0.25 * len(word) / len(text))
        else:
            continue
        best = max(best, worth - 1e-4 * place)
    return best


def _has_signs(word: str) -> bool:
    """True for scripts in which words are not parted by spaces."""
    return any(ord(c) > 0x3000 for c in word)


def match_columns(
    names: Sequence[str], wanted: Mapping[str, Sequence[str]], allowed: np.ndarray, needed: Collection[str] = ()
) -> dict[str, int]:
    """The best one-to-one match between columns of a file and what is wanted.

    Parameters
    ----------
    names : sequence of str, shape (c,)
    wanted : mapping of str to sequence of str
        The words of each column that is wanted, w of them.
    allowed : numpy.ndarray of bool, shape (w, c)
        Whether a column's cells can be what is wanted.
    needed : collection of str
        Of what is wanted: it comes first where a name fits two things equally.

    Returns
    -------
    dict of str to int
        Position of the column that was found for each; those without a match are absent.
    """
    from scipy.optimize import linear_sum_assignment

    if not names or not wanted:
        return {}
    worth = np.array([[likeness(name, words) for name in names] for words in wanted.values()]) * allowed
    worth *= np.array([1.0 if name in needed or not needed else _LESS for name in wanted])[:, None]
    rows, columns = linear_sum_assignment(-worth)
    keys = list(wanted)
    return {keys[r]: int(c) for r, c in zip(rows, columns, strict=True) if worth[r, c] > 0}


def find_word(cell: str, choices: Mapping[str, Sequence[str]]) -> str | None:
    """The one of our words that a foreign cell means; None if none, or two equally, are meant."""
    scores = {choice: likeness(cell, words) for choice, words in choices.items()}
    best = max(scores.values(), default=0.0)
    found = [choice for choice, score in scores.items() if score == best]
    return found[0] if best and len(found) == 1 else None


def find_truth(cell: str, words: Mapping[str, Sequence[str]]) -> str | None:
    """true or false for a foreign word of truth, by the whole word alone."""
    text = plain(cell) or cell.strip()
    return next((truth for truth, known in words.items() if text in known or cell.strip() in known), None)


_BRACKETS = re.compile(r"[\(\[（【]([^\)\]）】]*)[\)\]）】]")


def split_name(name: str) -> tuple[str, tuple[str, ...]]:
    """A header's name without what stands in brackets, and that: units, scales, formats."""
    inside = tuple(part.strip() for part in _BRACKETS.findall(name))
    return " ".join(_BRACKETS.sub(" ", name).split()), inside

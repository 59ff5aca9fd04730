"""Was this eaten before? Nutrients of a dish that is logged again by its word alone, and words that may be one dish."""

from __future__ import annotations

import difflib
import re
from itertools import combinations

import numpy as np
import pandas as pd

from glucolab.errors import Problem
from glucolab.reading.text import plain, show

_NUTRIENTS = ("carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal", "alcohol_g", "caffeine_mg")
_ALIKE = 0.86
"""One letter of seven; common practice, no source."""
_SHORTEST = 5
_MOST_NAMED = 10
_MOST_WORDS = 200


def fill_repeats(meals: pd.DataFrame, file: str) -> tuple[pd.DataFrame, list[Problem]]:
    """Nutrients of meals that name a dish and none of them, from the dish's last row before.

    Only rows of the same wear are looked at: a wear's figures never change because another was added.

    Parameters
    ----------
    meals : DataFrame
        As the record holds it.
    file : str
        For the notes.

    Returns
    -------
    meals : DataFrame
    notes : list of Problem
        A note for each dish that was filled in.
    """
    amounts = meals[list(_NUTRIENTS)].to_numpy(dtype=float, na_value=np.nan, copy=True)
    words = meals["dish"].to_numpy(object)
    written = ~np.isnan(amounts).all(axis=1)
    last: dict[str, int] = {}
    lines: dict[tuple[str, int], list[int]] = {}
    known = np.flatnonzero(meals["dish"].notna() & meals["time"].notna())
    for row in known[np.argsort(meals["time"].to_numpy()[known], kind="stable")].tolist():
        key = plain(words[row])
        if written[row]:
            last[key] = row
        elif key in last:
            amounts[row] = amounts[last[key]]
            lines.setdefault((words[row], meals.index[last[key]]), []).append(meals.index[row])
    filled = meals.assign(**dict(zip(_NUTRIENTS, amounts.T, strict=True)))
    notes = [
        Problem(file, f'dish "{show(dish)}" has no nutrients on {_word_lines(where)}: those of line {source} are taken',
                where[0], left_out=False)
        for (dish, source), where in lines.items()
    ]  # fmt: skip
    return filled, notes


def _word_lines(lines: list[int]) -> str:
    return f"line {lines[0]}" if len(lines) == 1 else f"lines {', '.join(map(str, lines))}"


def doubt_spellings(meals: pd.DataFrame, file: str) -> list[Problem]:
    """Words that may be one dish, written in two ways: offered for merging, never merged."""
    words = meals["dish"].fillna(meals["name"]).dropna()
    first = {word: line for line, word in reversed(list(words.items()))}
    bare = {word: plain(word) for word in first}
    notes = [
        Problem(file, f'"{show(a)}" and "{show(b)}" (line {first[b]}) are two dishes here: if they are one, write '
                "the same word in dish", first[a], left_out=False)
        for a, b in combinations(sorted(first, key=first.__getitem__)[:_MOST_WORDS], 2)
        if _are_alike(bare[a], bare[b])
    ]  # fmt: skip
    return notes[:_MOST_NAMED]


def _are_alike(one: str, other: str) -> bool:
    """One word, plain, but for spaces or a letter; numbers in it make it another."""
    if re.findall(r"\d+", one) != re.findall(r"\d+", other):
        return False
    bare = one.replace(" ", ""), other.replace(" ", "")
    if bare[0] == bare[1]:
        return True
    if min(map(len, bare)) < _SHORTEST or abs(len(bare[0]) - len(bare[1])) > 2:
        return False
    matcher = difflib.SequenceMatcher(None, *bare, autojunk=False)
    return matcher.quick_ratio() >= _ALIKE and matcher.ratio() >= _ALIKE

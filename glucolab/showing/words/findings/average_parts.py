"""What is the average made of? A sentence from average_parts.csv."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.showing.display import NO_BREAK, Display
from glucolab.showing.words.common import join_words

ON_TOP = {"food": "food", "rhythm": "being up", "movement": "exercise"}
"""What stands on top of the level of the night."""


def say_average_parts(parts: pd.DataFrame, display: Display) -> str:
    """``At night you are at about 83; food adds 7 (4 to 11) and being up 7 (1 to 13).``; empty without the table.

    Parameters
    ----------
    parts : DataFrame
        average_parts.csv's table.
    display : Display
    """
    if not len(parts):
        return ""
    if not display.numbers:
        return "Most of your average is the level of your nights; food and being up come on top."
    told = parts.set_index("part")[["mg_dl", "low_mg_dl", "high_mg_dl"]]
    on_top = told.loc[list(ON_TOP)].sort_values("mg_dl", ascending=False, kind="stable")
    clear = on_top["low_mg_dl"].mul(on_top["high_mg_dl"]) > 0
    pieces = [
        _say_part(str(name), row, display)
        for name, row in zip(on_top.index[clear], on_top[clear].to_numpy(), strict=True)
    ]
    unclear = " or ".join(ON_TOP[name] for name in on_top.index[~clear])
    night = f"At night you are at about {display.level(told['mg_dl']['level'])}{NO_BREAK}{display.unit}"
    added = f"; {join_words(pieces)}" if pieces else ""
    return f"{night}{added}." + (f" Whether {unclear} changes it is not clear yet." if unclear else "")


def _say_part(name: str, ends: np.ndarray, display: Display) -> str:
    estimate, low, high = (float(value) for value in ends)
    half = (high - low) / 2
    size, *told = (display.size(abs(value), half) for value in (estimate, low, high))
    near, far = told if estimate > 0 else told[::-1]
    return f"{ON_TOP[name]} {'adds' if estimate > 0 else 'takes off'} {size} ({near} to {far})"

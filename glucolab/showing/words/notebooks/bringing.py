"""What would a file bring into a wear, and what came of it? Sentences for the notebook that asks before it writes."""

from __future__ import annotations

import pandas as pd

from glucolab.reading.bringing.preview import Bringing
from glucolab.showing.words.common import say_count

NAME_FILE = "Write the path of a file between the quotes after file in the second cell, and run the cells again."
MOST_LISTED = 12


def say_would_bring(bringing: Bringing) -> str:
    """What would be written, in a sentence."""
    if not bringing.changes:
        return f"Everything in {bringing.brought.file} is in the study already: there is nothing to write."
    parts = [
        f"{_say_new(one.new, one.filled)} into {bringing.place.name(one.table)}"
        for one in bringing.added
        if one.changes
    ]
    known = sum(one.known for one in bringing.added)
    there = f" {say_count(known, 'row')} of it {'is' if known == 1 else 'are'} there already." if known else ""
    return f"{bringing.brought.file} would bring {'; '.join(parts)}.{there} Nothing is written yet."


def _say_new(new: pd.DataFrame, filled: int) -> str:
    said = [say_count(len(new), "new row")] if len(new) else []
    said += [f"{say_count(filled, 'cell')} that {'was' if filled == 1 else 'were'} empty"] if filled else []
    return " and ".join(said)


def say_open_questions(file: str, count: int) -> str:
    """That a file has several readings."""
    return f"{file} can be read in more than one way: answer the {say_count(count, 'question')} below first."


def say_refused(reason: Exception) -> str:
    """Why nothing can be brought."""
    return f"Nothing was brought: {reason}"


def say_written(bringing: Bringing) -> str:
    """What was written, and that a second time does no harm."""
    if not bringing.changes:
        return f"Everything in {bringing.brought.file} came into the study meanwhile: nothing was written."
    names = " and ".join(bringing.place.name(one.table) for one in bringing.added if one.changes)
    return f"Written into {names}. Bringing the same file again adds nothing."


def say_button(bringing: Bringing | None) -> str:
    """What the button does."""
    rows = sum(len(one.new) for one in bringing.added) if bringing is not None else 0
    return f"write {say_count(rows, 'new row')}" if rows else "write"

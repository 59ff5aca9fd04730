"""How far has a folder of one's own come? Sentences for the first notebook."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.errors import Problem
from glucolab.showing.words.common import say_count

NAME_ONE = (
    "Write the path of a folder of your own between the quotes after own in the second cell, such as "
    '"../my_study", and run the cells again. It need not be there yet.'
)
FILL_FIRST = (
    "Fill in two files: wear.toml (two keys: start, when the sensor went on, and unit) and glucose.csv (two columns: "
    "time and glucose). Everything else is for later. Each table has its columns in its first line. Then run this cell "
    "again."
)
BRING = "A file that another program exported is brought into these tables by the notebook bring_your_data."
NO_PROBLEM = "No problem was found: every file of the study can be read."
_MOST_LISTED = 12


def say_made(folder: str, files: int) -> list[str]:
    """A folder that was made just now, and what to fill in."""
    return [f"{folder} was made, with {say_count(files, 'file')} to fill.", FILL_FIRST, BRING]


def say_problems(problems: Sequence[Problem]) -> list[str]:
    """What was found in the files, the first of them where there are many."""
    listed = [str(problem) for problem in problems[:_MOST_LISTED]]
    more = len(problems) - len(listed)
    return [*listed, *([f"{say_count(more, 'more problem')}: glucolab check lists them all."] if more else [])]


def say_go_on(folder: str) -> str:
    """Where to go from a folder that can be analysed."""
    return (
        f'Open deep_dive and write study = "{folder}" in its second cell: the widgets then show your own days. The '
        "command glucolab report makes pages of it."
    )

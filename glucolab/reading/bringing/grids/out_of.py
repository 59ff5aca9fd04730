"""Is a mark written with its highest, as 7/10? Such a column of marks as numbers, and the scale in its name."""

from __future__ import annotations

import re

from glucolab.reading.bringing.vocabulary.matching import likeness, split_name
from glucolab.reading.bringing.vocabulary.words import COLUMNS, SCALED

_OUT_OF = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(?:/|out of|of|von|sur|de|sobre|su|van|z|ze|av|af|из|の)\s*(5|10|20|100)", re.IGNORECASE
)
_FIVE = 5.0
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)?)\s*%")
_BARE = re.compile(r"\d+(?:[.,]\d+)?|\d*[½¼¾]")
_MIXED = 0.7
"""So many of the cells of a column must be out of 10 or more, or bare numbers, for those to be out of 10. Assumed."""
_MARKS = tuple(
    word for columns in COLUMNS.values() for name, words in columns.items() if name in SCALED for word in words
)


def take_marks(names: list[str], rows: list[list[str]]) -> tuple[list[str], list[list[str]], tuple[str, ...]]:
    """Names and rows with marks such as 7/10 as 7, below a name that says from 0 to 10.

    Only where each filled cell of a column that is named for a mark is out of the same number; below another name
    3/10 may be a day. Where cells are out of several numbers, each is turned into one out of 10, and bare numbers
    beside them are out of 10. Out of 5 only where a 0 stands among them, since others begin at 1.

    Returns
    -------
    names : list of str
    rows : list of list of str
    said : tuple of str
    """
    named = [place for place, name in enumerate(names) if likeness(split_name(name)[0], _MARKS) > 0]
    names, said = list(names), []
    for place in named:
        found = {row[place]: _OUT_OF.fullmatch(row[place]) for row in rows if row[place]}
        tops = {match[2] for match in found.values() if match}
        if len(tops) != 1 or not all(found.values()):
            mixed = _read_mixed([row[place] for row in rows])
            if mixed:
                said.append(f'"{names[place]}" is out of several numbers: each mark is turned into one out of 10')
                names[place] = f"{names[place]} (0-10)"
                rows = [[*row[:place], mixed.get(row[place], row[place]), *row[place + 1 :]] for row in rows]
            continue
        top, marks = tops.pop(), {cell: match[1] for cell, match in found.items() if match}
        if top == "5" and "0" not in marks.values():
            continue  # of 5 marks begin at 0 or at 1, and as text they are left out by name
        said.append(f'"{names[place]}" is out of {top}')
        names[place] = f"{names[place]} (0-{top})"
        rows = [[*row[:place], marks.get(row[place], ""), *row[place + 1 :]] for row in rows]
    return names, rows, tuple(said)


def _read_mixed(cells: list[str]) -> dict[str, str]:
    """Marks out of several numbers as numbers out of 10, by cell; empty where few say out of what they are."""
    marks = {cell: _out_of_ten(cell) for cell in set(cells)}
    filled = [cell for cell in cells if cell]
    told = [cell for cell in filled if marks[cell] or _BARE.fullmatch(cell.strip())]
    if not any(marks.values()) or len(told) < _MIXED * len(filled):
        return {}
    return {cell: mark for cell, mark in marks.items() if mark}


def _out_of_ten(cell: str) -> str:
    if match := _OUT_OF.fullmatch(cell.strip()):
        mark, top = float(match[1].replace(",", ".")), float(match[2])
    elif match := _PERCENT.fullmatch(cell.strip()):
        mark, top = float(match[1].replace(",", ".")), 100.0
    else:
        return ""
    return f"{10 * mark / top:.4g}" if mark <= top and top > _FIVE else ""

"""How much is it? Foreign cells as numbers with the unit that some carry, and as lengths of time."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from glucolab.reading.bringing.vocabulary.units import UNIT_FACTORS

_SPACES = re.compile(r"[\s\u00a0\u202f'’]+")
_NUMBER = re.compile(r"(?P<sign>[+-]?)(?P<digits>\d[\d.,]*|[.,]\d+)(?P<rest>.*)", re.DOTALL)
_SHARES = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3, "⅔": 2 / 3}
_WITH_SHARE = re.compile(rf"(?P<sign>[+-]?)(?P<whole>\d*)(?P<share>[{''.join(_SHARES)}])(?P<rest>\D*)", re.DOTALL)
_ONE_MARK = re.compile(r"(\d{0,3})([.,])(\d+)")


def find_unit(text: str, known: Collection[str]) -> str:
    """The unit out of `known` that a text is or ends in, as written there; "" if none."""
    cleaned = _SPACES.sub("", text.lower().replace("μ", "µ").replace("／", "/")).strip(".[]()")
    if cleaned in known:
        return cleaned
    last = re.split(r"[\s,;:_\-\(\[]+", text.lower().strip(" ])."))[-1]
    return last if last in known else ""


@dataclass(frozen=True)
class Amounts:
    """Cells as numbers.

    Attributes
    ----------
    values : numpy.ndarray of float, shape (n,)
        NaN where a cell is empty or no number.
    units : list of str
        What follows each number, small letters.
    bad : numpy.ndarray of bool, shape (n,)
        Something stands there that is no number.
    """

    values: np.ndarray
    units: list[str]
    bad: np.ndarray


def clean_number(cell: str) -> str:
    """A cell without spaces and with plain minus signs."""
    return _SPACES.sub("", cell).replace("−", "-").replace("–", "-").replace("．", ".").replace("，", ",")


def find_marks(cells: Sequence[str]) -> set[str]:
    """Which decimal marks the cells prove: ".", "," or both; empty if they prove none.

    A mark proves to be decimal where two, or more than three, or fewer than three digits follow the only one; or where
    both occur, the last.
    """
    found = set()
    for cell in set(cells):
        match = _NUMBER.match(clean_number(cell))
        if match is None:
            continue
        digits = match["digits"].rstrip(".,")
        if "." in digits and "," in digits:
            found.add(max(".,", key=digits.rfind))
        elif (one := _ONE_MARK.fullmatch(digits)) and (len(one[3]) != 3 or one[1] in ("", "0")):
            found.add(one[2])
        elif digits.count(".") > 1:
            found.add(",")
        elif digits.count(",") > 1:
            found.add(".")
    return found


def has_open_mark(cells: Sequence[str]) -> bool:
    """True if a number such as 1.234 or 1,234 stands there, which has two readings."""
    return any(
        (m := _NUMBER.match(clean_number(c))) and re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", m["digits"])
        for c in set(cells)
    )


def read_amounts(cells: Sequence[str], mark: str) -> Amounts:
    """Numbers with their units.

    Parameters
    ----------
    cells : sequence of str, shape (n,)
    mark : {".", ","}
        The decimal mark; the other one groups digits.

    Returns
    -------
    Amounts
    """
    other = "," if mark == "." else "."
    seen: dict[str, tuple[float, str, bool]] = {}
    for cell in set(cells):
        text = clean_number(cell)
        if share := _WITH_SHARE.fullmatch(text):
            value = int(share["whole"] or 0) + _SHARES[share["share"]]
            seen[cell] = (-value if share["sign"] == "-" else value, share["rest"].lower().strip("."), False)
            continue
        match = _NUMBER.fullmatch(text)
        if match is None:
            seen[cell] = (np.nan, "", bool(text) and text not in "-—?/")
            continue
        digits = match["digits"]
        grouped = other not in digits or re.fullmatch(rf"\d{{1,3}}(\{other}\d{{3}})+(\{mark}\d*)?", digits)
        plain = digits.replace(other, "").replace(mark, ".")
        fits = bool(grouped) and plain.count(".") <= 1 and not re.search(r"\d", match["rest"].replace("/100ml", ""))
        value = float(match["sign"] + plain) if fits else np.nan
        seen[cell] = (value, match["rest"].lower().strip("."), not fits)
    found = [seen[cell] for cell in cells]
    return Amounts(
        np.array([f[0] for f in found], dtype=float), [f[1] for f in found], np.array([f[2] for f in found], dtype=bool)
    )


_CLOCKED = re.compile(r"(\d+):([0-5]\d)(?::([0-5]\d)(?:[.,]\d+)?)?")
_ISO = re.compile(r"pt(?:(\d+)h)?(?:(\d+)m)?(?:(\d+(?:\.\d+)?)s)?")
_PART = r"(\d+(?:[.,]\d+)?)([^\d.,:]*)"
_WORDED = re.compile(rf"(\d+(?:[.,]\d+)?)([^\d.,:]+)(?:{_PART})?(?:{_PART})?")


def is_clocked(cell: str) -> bool:
    """True for a length such as 1:20, which may be hours and minutes or minutes and seconds."""
    return _CLOCKED.fullmatch(clean_number(cell)) is not None


def read_length(cell: str, parts: str = "h:m") -> float | None:
    """Minutes of a length of time that is written in parts; None if it is not.

    Parameters
    ----------
    cell : str
        ``1:20``, ``1:20:30``, ``1 h 20 min``, ``45 min``, ``PT1H20M``.
    parts : {"h:m", "m:s"}
        What ``1:20`` means.
    """
    text = re.sub(r"(?<!\d)\.|\.(?!\d)", "", clean_number(cell).lower())
    if match := _CLOCKED.fullmatch(text):
        first, second, third = int(match[1]), int(match[2]), int(match[3] or 0)
        if match[3] is None and parts == "m:s":
            return first + second / 60
        return first * 60 + second + third / 60
    if (match := _ISO.fullmatch(text)) and any(match.groups()):
        return 60 * float(match[1] or 0) + float(match[2] or 0) + float(match[3] or 0) / 60
    match = _WORDED.fullmatch(text)
    if match is None:
        return None
    minutes, last = 0.0, 0.0
    for number, unit in zip(match.groups()[::2], match.groups()[1::2], strict=True):
        if number is None:
            break
        factor = UNIT_FACTORS["min"].get(unit.strip(".")) if unit else last / 60
        if not factor:
            return None
        minutes, last = minutes + float(number.replace(",", ".")) * factor, factor
    return minutes

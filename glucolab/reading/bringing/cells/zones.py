"""Which zone does a text name? UTC, an offset from it, an IANA name; letters such as CET mean more than one thing."""

from __future__ import annotations

import re

from glucolab.clock import is_zone

LETTERS: dict[str, tuple[str, ...]] = {
    "CET": ("+01:00",), "CEST": ("+02:00",), "MEZ": ("+01:00",), "MESZ": ("+02:00",), "EET": ("+02:00",),
    "EEST": ("+03:00",), "WET": ("+00:00",), "WEST": ("+01:00",), "BST": ("+01:00", "+06:00"),
    "IST": ("+05:30", "+02:00", "+01:00"), "MSK": ("+03:00",), "EST": ("-05:00", "+10:00"), "EDT": ("-04:00",),
    "CST": ("-06:00", "+08:00", "-05:00"), "CDT": ("-05:00", "-04:00"), "MST": ("-07:00", "+08:00"),
    "MDT": ("-06:00",), "PST": ("-08:00", "+08:00"), "PDT": ("-07:00",), "AST": ("-04:00", "+03:00"),
    "ADT": ("-03:00",), "NST": ("-03:30",), "NDT": ("-02:30",), "AKST": ("-09:00",), "AKDT": ("-08:00",),
    "HST": ("-10:00",), "GST": ("+04:00", "-02:00"), "PKT": ("+05:00",), "NPT": ("+05:45",), "WIB": ("+07:00",),
    "SGT": ("+08:00",), "HKT": ("+08:00",), "PHT": ("+08:00",), "AWST": ("+08:00",), "JST": ("+09:00",),
    "KST": ("+09:00",), "ACST": ("+09:30",), "AEST": ("+10:00",), "AEDT": ("+11:00",), "NZST": ("+12:00",),
    "NZDT": ("+13:00",), "BRT": ("-03:00",), "SAST": ("+02:00",), "HNEC": ("+01:00",),
}  # fmt: skip
"""What letters for a zone stand for, most often first. Some say them all year round, and several stand for two zones
or three (IST is India, Israel, Ireland): they are asked."""
_UTC = re.compile(
    r"(?<![^\W_])(?:[Uu][Tt][Cc]|[Gg][Mm][Tt]|[Zz]ulu|TU|UT)(?![^\W\d_])\s*"
    r"(?:(?P<sign>[+\-−–])\s*(?P<hour>\d{1,2})(?::?(?P<minute>\d\d))?(?!\d))?"
)
_OFFSET = re.compile(r"(?P<sign>[+\-−–])(?P<hour>\d{1,2})(?::?(?P<minute>\d\d))?(?::00)?")
_NAME = re.compile(r"[A-Za-z]+(?:/[A-Za-z_+\-\d]+){1,2}")
_FARTHEST_H = 14
"""No zone is further ahead of UTC (Kiritimati)."""


def find_zone(text: str) -> str:
    """The zone that a text names: "UTC", an offset such as "+05:30", or an IANA name; "" for none.

    Parameters
    ----------
    text : str
        Of a header or of a cell.
    """
    bare = text.strip()
    if match := _OFFSET.fullmatch(bare):
        return _offset(match)
    for name in _NAME.findall(bare):
        if is_zone(name):
            return str(name)
    if bare.upper() == "Z":
        return "UTC"
    match = _UTC.search(bare)
    if match is None:
        return ""
    return _offset(match) if match["sign"] else "UTC"


def _offset(match: re.Match[str]) -> str:
    hour, minute = int(match["hour"]), int(match["minute"] or 0)
    if hour > _FARTHEST_H or minute > 59:
        return ""
    return f"{'+' if match['sign'] == '+' else '-'}{hour:02d}:{minute:02d}"


def find_letters(text: str) -> str:
    """Letters such as CET that a text names a zone by; "" for none."""
    return next((word for word in re.findall(r"[^\W_]+", text) if word in LETTERS), "")


def is_letters(cell: str) -> bool:
    """True for a cell that is such letters and nothing else."""
    return cell.strip().upper() in LETTERS


def from_number(value: float) -> str:
    """An offset that is written as a number of hours, of minutes or of seconds; "" for none.

    Hours reach to 14; offsets in minutes are whole quarters of an hour from 30 min on, in seconds from half an hour on.
    """
    size = abs(value)
    if size <= _FARTHEST_H:
        minutes = size * 60
    elif size <= _FARTHEST_H * 60:
        minutes = size
    else:
        minutes = size / 60
    if minutes > _FARTHEST_H * 60 or minutes % 15:
        return ""
    return f"{'-' if value < 0 else '+'}{int(minutes) // 60:02d}:{int(minutes) % 60:02d}"


def offset_of(zone: str) -> str:
    """The offset that a zone is, if it is one; "" for an IANA name other than UTC."""
    if zone == "UTC":
        return "+00:00"
    return zone if zone[:1] in ("+", "-") else ""

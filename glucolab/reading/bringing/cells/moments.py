"""When was it? Dates, clock times and both at once, in the ways people and programs write them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import numpy as np

from glucolab.reading.cells import FIRST_YEAR, LAST_YEAR

_DAY_H = 24
"""The hour that ends a day. [h]"""
_LAST_SERIAL = 2_958_466
"""31 December 9999, the last day of spreadsheets, and one. [days]"""
ORDERS = {
    "year-month-day": (0, 1, 2),
    "day-month-year": (2, 1, 0),
    "month-day-year": (2, 0, 1),
}
"""Where year, month and day stand among three numbers."""
SINCE_1970 = {"seconds since 1970": 1, "milliseconds since 1970": 1000}
SERIAL = "days since 1899-12-30"
"""How spreadsheets count local time inside."""
MINUTES = "minutes since midnight"
DIGITS = "hours and minutes as one number"

_SIGNS = str.maketrans("０１２３４５６７８９：／．－年月\u00a0\u202f　", "0123456789:/.---   ", "日")
NUMBERED_DATE = re.compile(
    r"(\d{1,4})\s*[-./ ]\s*(\d{1,2})\s*[-./ ]\s*(\d{1,4})\.?(?=$|[\st,])|(\d{4})(\d\d)(\d\d)(?=$|[\st,])"
)
_CLOCK = re.compile(
    r"(?P<before>[ap]m\s*)?(?P<hour>\d{1,2})(?:\s*[:.h時]\s*(?P<minute>\d\d)(?:\s*[:.分]\s*(?P<second>\d\d)(?:[.,]\d+)?)?|\s*h)?"
    r"\s*(?P<half>[ap]m)?\s*(?P<offset>z|utc|gmt|tu\b|(?:utc|gmt)?\s*[+-]\d\d:?(?:\d\d)?)?"
)
_HALVES = (
    (re.compile(r"\ba\s*\.?\s*m\b\.?|午前|上午|오전|\böö\b|\bf\.?m\.?\b|π\.?μ\.?"), "am"),
    (re.compile(r"\bp\s*\.?\s*m\b\.?|午後|下午|오후|\bös\b|\be\.?m\.?\b|μ\.?μ\.?"), "pm"),
)
_H_MIN = re.compile(r"(\d{1,2})\s*h\s*(\d\d)(?:\s*min)?(?:\s*\d\d\s*s\b)?")
_UHR = re.compile(r"(\d{1,2})\s*uhr\b\s*(\d\d)?")
_COMPACT = re.compile(r"^(\d{8})t?\s*(\d\d)(\d\d)(\d\d)?(?=$|z|[+-])")
_SPAN = re.compile(
    r"(?P<date>[\d./-]{8,10}[ T])?\d{1,2}[:.]\d\d\s*"
    r"(?P<dash>[-–—~～〜]|to|until|till|bis|à|a|hasta|até|alle|tot|do|til)\s*(?P<end>\d{1,2}[:.]\d\d)(?:\s*(?:h|uhr))?",
    re.IGNORECASE,
)
_FARTHEST_WEST_H, _FARTHEST_EAST_H = 12, 14
"""Zones lie no further from UTC (Baker Island, Kiritimati). [h]"""
_NAMED_ZONE = re.compile(r"(z|[+-]\d\d:?\d\d)\s*\[[a-z_/+\-\d]+\]$")
"""A zone's name behind an offset says no more (RFC 9557)."""
_CLOCK_WORDS = re.compile(
    r"\b(?:um|at|à|a las|às|alle|om|o|kl|kl\.|hrs|saat|klo)\b\.?|(?<=\d)\s*分|o'clock", re.UNICODE
)


@dataclass(frozen=True)
class Written:
    """One cell, taken apart: three numbers of a date, of which a name fixes the month, and a clock time.

    Attributes
    ----------
    numbers : tuple of int, or None
        As they stand, or year, month and day where `fixed`.
    fixed : bool
        Their order needs no settling.
    clock : tuple of int, or None
        Hour, minute and second.
    offset : str
        As ISO 8601 writes it; "" where none stands.
    """

    numbers: tuple[int, int, int] | None
    fixed: bool
    clock: tuple[int, int, int] | None
    offset: str


_LANGUAGES = (
    "en", "de", "de_AT", "fr", "fr_CA", "es", "pt", "it", "nl", "pl", "cs", "sv", "da",
    "nb", "fi", "tr", "ro", "hu", "el", "ru", "uk", "sk",
)  # fmt: skip


@cache
def month_names() -> dict[str, int]:
    """Months by their names in Unicode's locale data; a name that is another month elsewhere stands for none."""
    from babel.dates import get_month_names

    found: dict[str, set[int]] = {}
    for language in _LANGUAGES:
        for width in ("wide", "abbreviated"):
            for context in ("format", "stand-alone"):
                for number, name in get_month_names(width, context, language).items():
                    found.setdefault(name.lower().strip("."), set()).add(number)
    return {name: numbers.pop() for name, numbers in found.items() if len(numbers) == 1 and not name.isdigit()}


@cache
def _day_names() -> re.Pattern[str]:
    """Names of the days of the week, which are passed over beside a date."""
    from babel.dates import get_day_names

    names = {
        name.lower().strip(".")
        for language in _LANGUAGES
        for width in ("wide", "abbreviated", "short")
        for context in ("format", "stand-alone")
        for name in get_day_names(width, context, language).values()
    }
    return re.compile(rf"(?<![^\W\d_])({one_of(names)})\b\.?,?|\([^)]*\)|\b[гр]\.|[月火水木金土日]曜日?")


def one_of(names: Iterable[str]) -> str:
    """A pattern of any of these names, longer ones first."""
    return "|".join(map(re.escape, sorted(names, key=len, reverse=True)))


@cache
def named_dates() -> tuple[re.Pattern[str], ...]:
    """Patterns of dates that name their month."""
    month = rf"(?<![^\W\d_])(?P<month>{one_of(month_names())})\.?(?![^\W\d_])"
    return (
        re.compile(
            rf"(?<!\d)(?P<day>\d{{1,2}})(?:\.|er|º|o|st|nd|rd|th)?\s*(?:de |of )?[-./ ]*{month}[-./, ]*(?:de |of )?"
            r"(?P<year>\d{4}|\d{2}(?![:\d]))"
        ),
        re.compile(rf"{month}[-./ ]*(?P<day>\d{{1,2}})(?:st|nd|rd|th)?[,./ -]+(?P<year>\d{{4}})"),
        re.compile(rf"(?P<year>\d{{4}})[-./ ]*{month}[-./ ]*(?P<day>\d{{1,2}})"),
    )


def take_apart(cell: str) -> Written | None:
    """Read one cell as a date, a clock time or both; None if it is neither."""
    text = tidy_moment(cell)
    if not text:
        return None
    numbers, fixed, rest = _take_date(text)
    rest = rest.strip(" ,t") if numbers else rest
    if not rest:
        return Written(numbers, fixed, None, "") if numbers else None
    match = _CLOCK.fullmatch(rest)
    clock = _clock_of(match) if match and (numbers or not rest.isdigit()) else None
    offset = _offset_of(match["offset"] or "") if match else ""
    if clock is None or (not numbers and _SPAN.fullmatch(text)):
        return None
    return Written(numbers, fixed, clock, offset)


def tidy_moment(cell: str) -> str:
    """A cell in small letters, with plain digits and marks, and without words that only lead to a time."""
    text = _NAMED_ZONE.sub(r"\1", cell.translate(_SIGNS).lower())
    for pattern, half in _HALVES:
        text = pattern.sub(f" {half} ", text)
    text = _COMPACT.sub(lambda found: f"{found[1]} {found[2]}:{found[3]}:{found[4] or '00'}", text)
    text = _H_MIN.sub(r"\1:\2", text)
    text = _UHR.sub(lambda found: f"{found[1]}:{found[2] or '00'}", text)
    return " ".join(_CLOCK_WORDS.sub(" ", text).split())


def _take_date(text: str) -> tuple[tuple[int, int, int] | None, bool, str]:
    """Three numbers of a date, whether their order is fixed, and what else stands there."""
    if re.search(r"[^\W\d_]{3}", text) and (named := _take_named(text)):
        return (*named[:1], True, named[1])
    match = NUMBERED_DATE.search(text)
    if match is None:
        return None, False, text
    rest = without_day_name(f"{text[: match.start()]} {text[match.end() :]}")
    if match[4]:
        return (int(match[4]), int(match[5]), int(match[6])), True, rest
    numbers = (int(match[1]), int(match[2]), int(match[3]))
    return numbers, len(match[1]) == 4, rest


def _take_named(text: str) -> tuple[tuple[int, int, int], str] | None:
    """Year, month and day of a date that names its month, and what else stands there."""
    for form in named_dates():
        if found := form.search(text):
            rest = without_day_name(f"{text[: found.start()]} {text[found.end() :]}")
            numbers = _full_year(int(found["year"])), month_names()[found["month"]], int(found["day"])
            return numbers, rest
    return None


def without_day_name(text: str) -> str:
    """A text without the name of a day of the week."""
    return " ".join(_day_names().sub(" ", text).split()).strip(" .,t").removeprefix("- ").strip()


def _full_year(year: int) -> int:
    return 2000 + year if year < 100 else year


def _clock_of(match: re.Match[str]) -> tuple[int, int, int] | None:
    hour, minute, second = (int(match[part] or 0) for part in ("hour", "minute", "second"))
    half = (match["half"] or match["before"] or "").strip()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    elif match["minute"] is None and not re.search(r"h", match[0]):
        return None
    is_midnight = (hour, minute, second) == (24, 0, 0)  # the end of a day (ISO 8601-1:2019, 5.3.1.2 allows it again)
    return (hour, minute, second) if is_midnight or (hour < 24 and minute < 60 and second < 60) else None


def _offset_of(text: str) -> str:
    bare = text.replace("utc", "").replace("gmt", "").replace(" ", "")
    if not text:
        return ""
    if bare in ("", "z", "tu"):
        return "+00:00"
    digits = bare[1:].replace(":", "").ljust(4, "0")
    return f"{bare[0]}{digits[:2]}:{digits[2:]}"


def _is_offset(text: str) -> bool:
    """True for an offset of a zone today: whole quarters of an hour, from -12:00 to +14:00 (tz database)."""
    minutes = 60 * int(text[1:3]) + int(text[4:6])
    return minutes % 15 == 0 and minutes <= 60 * (_FARTHEST_WEST_H if text[0] == "-" else _FARTHEST_EAST_H)


def names_half(cell: str) -> bool:
    """True where a cell says which half of the day it means, in the words of many languages."""
    return any(pattern.search(cell.translate(_SIGNS).lower()) for pattern, _ in _HALVES)


def holds_spans(cells: Sequence[str]) -> bool:
    """True where half of the cells go from one clock time to another, as 07:04-07:29: no time with an offset.

    Beside a date, what stands behind a dash must be no offset that a zone has.
    """
    distinct = set(cells)
    spans = [match for cell in distinct if (match := _SPAN.fullmatch(cell.strip()))]
    dated = [match for match in spans if match["date"] and match["dash"] == "-"]
    if 2 * len(spans) < len(distinct) or not spans:
        return False
    return len(dated) < len(spans) or not all(_is_offset(f"-{match['end'].zfill(5)}") for match in dated)


def take_digits(cell: str) -> Written | None:
    """A clock time that is written as one number: 805 or 0805, 80500 or 080500; None if it is none."""
    text = cell.strip()
    if not re.fullmatch(r"\d{1,6}", text):
        return None
    digits = text.zfill(4) if len(text) <= 4 else text.zfill(6)
    hour, minute, second = int(digits[:2]), int(digits[2:4]), int(digits[4:] or 0)
    return Written(None, True, (hour, minute, second), "") if hour < 24 and minute < 60 and second < 60 else None


def take_all_apart(cells: Sequence[str]) -> list[Written | None]:
    """`take_apart` of every cell, equal cells once, shape (n,)."""
    seen = {cell: take_apart(cell) for cell in set(cells)}
    return [seen[cell] for cell in cells]


def date_in(numbers: tuple[int, int, int], order: str) -> date | None:
    """The day that three numbers mean in an order; None if there is no such day."""
    year, month, day = (numbers[place] for place in ORDERS[order])
    if order != "year-month-day" and len(str(year)) == 3:
        return None
    try:
        found = date(_full_year(year), month, day)
    except ValueError:
        return None
    return found if FIRST_YEAR <= found.year < LAST_YEAR else None


def local_text(day: date, clock: tuple[int, int, int], offset: str = "") -> str:
    """A time as the contract writes it; 24:00 is 00:00 of the next day."""
    if clock[0] == _DAY_H:
        day, clock = next_day(day), (0, *clock[1:])
    seconds = f":{clock[2]:02d}" if clock[2] else ""
    return f"{day.isoformat()}T{clock[0]:02d}:{clock[1]:02d}{seconds}{offset}"


def from_epoch(value: float, per_second: int) -> str:
    """UTC time, as the contract writes it, of a count since 1970; "" outside the years that calendars hold."""
    seconds = value / per_second
    if not np.isfinite(seconds) or not -2.2e9 < seconds < 4.1e9:
        return ""
    moment = np.datetime64("1970-01-01", "s") + np.timedelta64(round(seconds), "s")
    return f"{moment}+00:00"


def from_serial(value: float) -> str:
    """Local time, as the contract writes it, of a spreadsheet's count of days; "" for none. [days]"""
    if not np.isfinite(value) or not 0 < value < _LAST_SERIAL:
        return ""
    return str(np.datetime64("1899-12-30", "m") + np.timedelta64(round(value * 24 * 60), "m"))


def next_day(day: date) -> date:
    """The day after."""
    return day + timedelta(days=1)


def day_before(day: date) -> date:
    """The day before."""
    return day - timedelta(days=1)

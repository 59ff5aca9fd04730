"""What was asked for in words? Dates, spans, arms and numbers, as the command line and the notebooks take them."""

from __future__ import annotations

from datetime import date

LARGEST = 400.0


def read_date(text: str) -> date:
    """A local day, written 2026-12-01.

    Raises
    ------
    ValueError
        If it is none, worded for whoever wrote it.
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f'"{text}" is not a date like 2026-12-01') from None


def parse_span(text: str) -> tuple[date, date]:
    """A day, or the first and last of several: 2026-12-06/2026-12-07.

    Raises
    ------
    ValueError
        If it is none, or ends before it begins.
    """
    first, _, last = text.partition("/")
    span = read_date(first), read_date(last or first)
    if span[1] < span[0]:
        raise ValueError(f'"{text}" ends before it begins')
    return span


def read_number(text: str) -> float:
    """A number above 0 and up to 400.

    Raises
    ------
    ValueError
        If it is none.
    """
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not 0 < number <= LARGEST:
        raise ValueError(f'"{text}" is not a number above 0 and up to {LARGEST:g}')
    return number


def read_count(text: str) -> int:
    """A whole number from 1 to 400.

    Raises
    ------
    ValueError
        If it is none.
    """
    number = int(text) if text.isdecimal() else 0
    if not 1 <= number <= LARGEST:
        raise ValueError(f'"{text}" is not a whole number from 1 to {LARGEST:g}')
    return number


def read_arms(text: str) -> tuple[str, ...]:
    """The arms of an experiment: walk,rest.

    Raises
    ------
    ValueError
        If there are not two.
    """
    arms = tuple(dict.fromkeys(arm.strip() for arm in text.split(",") if arm.strip()))
    if len(arms) < 2:
        raise ValueError(f'"{text}" names no two arms: give them as walk,rest')
    return arms

"""What does a calendar say? Workouts of an iCalendar file as activity, meals and sleep by its name, else notes.

Source: RFC 5545, sections 3.3.5 (times), 3.6.1 (events) and 3.8.5 (recurrence).
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any

from glucolab.errors import NothingToDo, is_own_fault
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.bringing.vocabulary.cautions import names_food
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import COLUMNS, KINDS_OF_ROW, MOVEMENTS
from glucolab.reading.meal_names import MEALS_OF_THE_DAY
from glucolab.reading.standards.entries import Entries, LeftOutError
from glucolab.reading.text import plain, show

_CARBS = re.compile(r"\((\d+(?:[.,]\d+)?)\s*g\s+([^\W\d_]+)\)\s*$")
_MOST_REPEATS = 5000
_TOO_OFTEN = ("SECONDLY", "MINUTELY", "HOURLY")
"""Frequencies of RFC 5545, section 3.3.10, at which nothing in a person's life repeats."""
_MOST_A_DAY = 24
"""The same said by lists of hours, minutes or seconds; assumed. More lets thousands of rows in, fewer loses reminders.
[repeats]"""
_LAST = datetime(2100, 1, 1)


def read_calendar(data: bytes, file: str, answers: Answers) -> Brought:
    """Events of a calendar.

    An event whose summary or categories name a kind of movement is an activity; one whose categories, calendar or file
    name food a meal, or sleep a sleep; any other a note of kind other. Where events are called breakfast or dinner, it
    is asked whether they are meals. Events that repeat are laid out, each with the exceptions that the file names, and
    it is asked whether they took place each time. Times keep their zone as an offset.

    Parameters
    ----------
    data : bytes
    file : str
    answers : Answers

    Returns
    -------
    Brought

    Raises
    ------
    UnsettledError
        If it is to be asked what events are, or whether they took place.
    NothingToDo
        If it is no sound calendar, or has no event that can be brought.
    """
    gathered = Entries(file, "an iCalendar file")
    events = _events(data, file)
    changed = [event for event, _ in events if "RECURRENCE-ID" in event]
    moved = {(str(event.get("UID")), _bare(event["RECURRENCE-ID"].dt)) for event in changed}
    are_meals = _settle_meals(events, answers)
    of_sport = _is_of_sport(events, file)
    took_place = _settle_repeats(events, answers)
    answers.want_none_open()
    for place, (event, called) in enumerate(events, start=1):
        hints = (called, file.rsplit(".", 1)[0], *(("meal",) if are_meals and _names_meal(event) else ()))
        hints += ("exercise",) if of_sport else ()
        try:
            if "RRULE" in event and not took_place:
                raise LeftOutError("it repeats, and did not take place each time")
            for start, end in _lay_out(event, moved):
                _add(event, hints, start, end, place, gathered)
        except LeftOutError as why:
            gathered.leave_out(place, str(why))
    return gathered.finish(
        "events that name a kind of movement are activity, those of a calendar of food or of sleep are meals or sleep, "
        "others are notes"
    )


def _settle_meals(events: list[tuple[Any, str]], answers: Answers) -> bool:
    """True if events that are called after meals of the day are meals, as the wearer says."""
    named = [event for event, _ in events if _names_meal(event)]
    if not named:
        return False
    text = f'{len(named)} events are called such as "{show(_summary(named[0]))}"'
    choices = (("meals", "they are what was eaten"), ("notes", "they are appointments, and come as notes"))
    return answers.ask(Question("table", text, choices)) == "meals"


def _is_of_sport(events: list[tuple[Any, str]], file: str) -> bool:
    """True for a calendar that is called after movement, and half of whose events are: the others are classes too."""
    called = {file.rsplit(".", 1)[0], *(name for _, name in events)}
    moving = sum(likeness(_summary(event), MOVEMENTS) > 0.5 for event, _ in events)
    return 2 * moving >= len(events) and any(likeness(name, MOVEMENTS) > 0.5 for name in called)


def _settle_repeats(events: list[tuple[Any, str]], answers: Answers) -> bool:
    """True if what repeats took place each time: being in a calendar is not having been there."""
    repeated = [event for event, _ in events if "RRULE" in event]
    if not repeated:
        return False
    text = f'{len(repeated)} events repeat, such as "{show(_summary(repeated[0]))}"'
    choices = (("done", "they took place each time"), ("not_done", "they did not: these events are left out"))
    return answers.ask(Question("planned", text, choices)) == "done"


def _summary(event: Any) -> str:
    return " ".join(str(event.get("SUMMARY", "")).split())


def _names_meal(event: Any) -> bool:
    """True for an event whose name begins with a meal of the day, and says more: what was eaten."""
    first, _, rest = _summary(event).partition(":")
    return plain(first) in MEALS_OF_THE_DAY and bool(rest.strip())


def _events(data: bytes, file: str) -> list[tuple[Any, str]]:
    """Every event, with what its calendar is called."""
    from icalendar import Calendar

    try:
        calendars = Calendar.from_ical(data, multiple=True)
        events = [(event, _called(calendar)) for calendar in calendars for event in calendar.walk("VEVENT")]
    except Exception as fault:  # a broken calendar fails anywhere in the library that reads it, with any error
        if is_own_fault(fault):
            raise
        raise NothingToDo(f"{file} is no sound iCalendar file: {show(str(fault), most=100)}") from None
    if not events:
        raise NothingToDo(f"{file} is a calendar without events")
    return events


def _called(calendar: Any) -> str:
    """The name of a calendar (RFC 7986, section 5.1, and what was usual before it)."""
    return str(calendar.get("NAME") or calendar.get("X-WR-CALNAME") or "")


def _bare(moment: date | datetime) -> datetime:
    """A date or time without its zone, by which repeats are told apart."""
    return (
        moment.replace(tzinfo=None) if isinstance(moment, datetime) else datetime(moment.year, moment.month, moment.day)
    )


def _lay_out(event: Any, moved: set[tuple[str, datetime]]) -> list[tuple[date | datetime, date | datetime | None]]:
    """Start and end of an event, every time that it takes place."""
    if str(event.get("STATUS", "")).upper() == "CANCELLED":
        raise LeftOutError("the event was cancelled")
    try:
        start = event["DTSTART"].dt
        end = event["DTEND"].dt if "DTEND" in event else None
        length = event["DURATION"].dt if "DURATION" in event else None
        starts = [start] if "RRULE" not in event else _repeat(event, start, moved)
    except LeftOutError:
        raise
    except (KeyError, AttributeError, TypeError, ValueError) as fault:
        raise LeftOutError(f"its times cannot be read ({type(fault).__name__}: {show(str(fault), most=60)})") from None
    if end is None and length is not None:
        end = start + length
    return [(one, None if end is None else one + (end - start)) for one in starts]


def _repeat(event: Any, start: date | datetime, moved: set[tuple[str, datetime]]) -> list[date | datetime]:
    """Every start of an event that repeats, its exceptions and the ones that were moved left out."""
    from dateutil.rrule import rrulestr

    if "RDATE" in event or not isinstance(event["RRULE"], dict):
        raise LeftOutError("it repeats by a list or by several rules, which is not read")
    rule: Any = event["RRULE"]
    if str(rule.get("FREQ", [""])[0]).upper() in _TOO_OFTEN:
        raise LeftOutError(f'it repeats "{show(str(rule["FREQ"][0]).lower())}", which no event of a day does')
    until = [_bare(one) for one in rule.get("UNTIL", [])]
    text = ";".join(part for part in rule.to_ical().decode().split(";") if not part.startswith("UNTIL="))
    zone = start.tzinfo if isinstance(start, datetime) else None
    last = min([*until, _LAST])
    if until and zone is not None and rule["UNTIL"][0].__class__ is datetime and rule["UNTIL"][0].tzinfo is not None:
        last = _bare(rule["UNTIL"][0].astimezone(zone))
    excluded = {_bare(one.dt) for listed in _as_list(event.get("EXDATE")) for one in listed.dts}
    excluded |= {moment for uid, moment in moved if uid == str(event.get("UID"))}
    found: list[date | datetime] = []
    for bare in rrulestr(text, dtstart=_bare(start)):
        if bare > last:
            break
        if len(found) >= _MOST_REPEATS:
            break
        if len(found) == _MOST_A_DAY and bare < _bare(start) + timedelta(days=1):
            raise LeftOutError(f"it repeats more than {_MOST_A_DAY} times within a day, which no event of a day does")
        if bare not in excluded:
            found.append(bare.replace(tzinfo=zone) if isinstance(start, datetime) else bare.date())
    return found


def _as_list(found: Any) -> list[Any]:
    if found is None:
        return []
    return found if isinstance(found, list) else [found]


def _add(
    event: Any, hints: tuple[str, ...], start: date | datetime, end: date | datetime | None, place: int,
    gathered: Entries,
) -> None:  # fmt: skip
    summary = _summary(event)
    categories = [str(one) for listed in _as_list(event.get("CATEGORIES")) for one in getattr(listed, "cats", [listed])]
    described = " ".join(str(event.get("DESCRIPTION", "")).split())
    all_day = not isinstance(start, datetime)
    sport = "exercise" in hints and end is not None
    if (sport or max(likeness(text, MOVEMENTS) for text in (summary, *categories)) > 0.5) and not all_day:
        if end is None or end <= start:
            raise LeftOutError(f'"{show(summary)}" has no length')
        kind = summary or categories[0]
        minutes = (end - start) / timedelta(minutes=1)
        gathered.add(place, "activity", start=_text(start), minutes=f"{minutes:.6g}", kind=kind, note=described)
        return
    last = "" if end is None else _text(end)
    if any(map(names_food, (*categories, *hints))) and not all_day and summary:
        name, carbs = _read_meal(summary)
        gathered.add(place, "meals", time=_text(start), name=name, carbs_g=carbs, note=described)
        return
    if any(likeness(text, KINDS_OF_ROW["sleep"]) > 0.5 for text in (*categories, *hints)) and not all_day and last:
        gathered.add(place, "sleep", start=_text(start), end=last)
        return
    note = ": ".join(filter(None, (summary, described)))
    gathered.add(place, "notes", start=_text(start), kind="other", end=last, note=note)


def _read_meal(summary: str) -> tuple[str, str]:
    """The dish that an event names, and the grams of carbohydrate that stand in brackets behind it."""
    first, colon, rest = summary.partition(":")
    dish = rest.strip() if colon and plain(first) in MEALS_OF_THE_DAY else summary
    match = _CARBS.search(dish)
    if match is None or likeness(match[2], COLUMNS["meals"]["carbs_g"]) <= 0.5:
        return dish, ""
    return dish[: match.start()].strip(), match[1].replace(",", ".")


def _text(moment: date | datetime) -> str:
    return moment.isoformat() if isinstance(moment, datetime) else f"{moment.isoformat()}T00:00"

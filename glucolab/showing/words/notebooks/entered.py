"""What does the form say? Names of its fields, what was added, why an entry is refused."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from glucolab.errors import Problem
from glucolab.measuring.cautions import ANY_LIMIT_MG_DL, HIGH_CHECK
from glucolab.reading.entering.begun import TRUTHS
from glucolab.reading.entering.entry import CLOCK_FIELD, DAY_FIELD, Entry
from glucolab.reading.text import show
from glucolab.showing.words.common import MONTHS, cut_text, join_words, say_count, say_day, say_title, split_unit
from glucolab.units import glucose_to_mg_dl

FIELD_WORDS = {
    DAY_FIELD: "day", CLOCK_FIELD: "time", "name": "what it was", "carbs_g": "carbohydrate [g]", "fiber_g": "fibre [g]",
    "protein_g": "protein [g]", "fat_g": "fat [g]", "energy_kcal": "energy [kcal]", "alcohol_g": "alcohol [g]",
    "caffeine_mg": "caffeine [mg]", "eaten_first": "eaten first", "setting": "where", "dish": "dish", "photo": "photo",
    "note": "note", "energy": "energy, 0–10", "focus": "focus, 0–10", "hunger": "hunger, 0–10",
    "stress": "stress, 0–10", "glucose": "glucose", "source": "from", "relaxation_min": "relaxation [min]",
    "steps": "steps", "resting_hr_bpm": "resting heart rate [beats/min]", "hrv_ms": "heart rate variability [ms]",
    "ill": "ill", "kind": "what happened", "end": "until", "time_zone": "time zone", "unit": "unit",
    "goal": "goal: average below", "sensor_model": "sensor model", "meter": "finger-stick meter",
    "site": "where on the body", "end_day": "came off, day", "end_clock": "came off, time",
    "file": "path of the file",
}  # fmt: skip
"""What a field is called where it is typed."""
HINTS = {
    CLOCK_FIELD: "empty: now", "name": "lentil soup", "carbs_g": "45", "end": "13:20", "end_clock": "07:40",
    "goal": "none", "time_zone": "Europe/Lisbon", "sensor_model": "model A", "meter": "kitchen meter",
    "site": "left upper arm", "file": "~/Downloads/export.csv", "dish": "its name",
}  # fmt: skip
"""What stands greyed in an empty field."""
ANSWERS = {
    "carbs": "carbohydrate", "protein": "protein", "fiber": "fibre or salad", "mixed": "all together",
    "home": "at home", "out": "eaten out", "fingerstick": "a finger", "venous": "a vein",
    "true": "yes", "false": "no", "pressure": "lay on the sensor", "heat": "heat, sauna", "knock": "knocked the sensor",
    "swim": "swam", "travel": "travelled", "medicine": "medicine", "illness": "illness", "other": "something else",
}  # fmt: skip
"""Words for the values of a choice."""
SECTIONS = {
    "meals": "Meal", "feelings": "Feeling", "checks": "Finger-stick", "days": "Day", "notes": "Note",
    "file": "Sensor’s file", "wear": "New wear", "report": "Report",
}  # fmt: skip
"""What is typed or done, as the form's buttons name it."""
NEW_STUDY = "a new study …"
TRUTH_WORDS = dict(
    zip(TRUTHS, ("under 18", "pregnant", "on medicine that lowers glucose"), strict=True)
)  # fmt: skip
ABOUT_YOU = "If one of these holds, glucolab describes and gives no advice:"
AGAIN = "Log again, as it was last time, at the day and time above:"
NOTHING_YET = "Nothing is written before you save."
STUDY, WEAR = "study", "wear"
NAME_OF_STUDY, SHOWN_IN = "name of the study", "show glucose in"
DAY_ON, WENT_ON, UNIT_OF_FILES = "went on, day", "went on, time", "unit of its file"
NAME_OF_WEAR, EMPTY_FIRST_DAY = "name of the wear", "empty: its first day"
BEGIN_STUDY, BEGIN_WEAR, READ_FILE, MAKE_PAGES = "Begin the study", "Begin the wear", "Read the file", "Make the pages"
NO_FILE = "is empty: write the path of the file that your sensor’s program exported"
UNDO, MORE, FEWER = "Undo", "More fields", "Fewer fields"
_KINDS = {"meals": "a meal", "feelings": "how you felt", "checks": "a finger-stick", "notes": "a note"}
_UNITS = {"carbs_g": "g of carbohydrate", "protein_g": "g of protein", "fat_g": "g of fat", "fiber_g": "g of fibre",
          "energy_kcal": "kcal", "alcohol_g": "g of alcohol", "caffeine_mg": "mg of caffeine"}  # fmt: skip


def say_field(name: str, unit: str = "") -> str:
    """What a field is called, glucose with its unit; a column of the wearer's own in its words."""
    if name in ("glucose", "goal"):
        return f"{FIELD_WORDS[name]} [{unit}]"
    if name in FIELD_WORDS:
        return FIELD_WORDS[name]
    words, own = split_unit(name)
    return f"{words} [{own}]" if own else words


def say_beside(name: str, text: str) -> str:
    """Why a field cannot be used, as it stands beside it."""
    text = text.removeprefix(f"{name} ").removeprefix("time ").removeprefix("start ")
    if text == "is empty":
        return "This is needed."
    for column, words in FIELD_WORDS.items():
        if "_" in column:
            text = re.sub(rf"\b{column}\b", words.partition(" [")[0], text)
    return f"{text[0].upper()}{text[1:]}."


def say_faults(faults: Mapping[str, str], fields: Sequence[str]) -> str:
    """That nothing was written, and what has to be mended; the reason itself where no field of the form is to blame."""
    beside = [_bare(name) for name in fields if name in faults]
    rest = [f"{text[0].upper()}{text[1:]}." for name, text in faults.items() if name not in fields]
    mend = [f"Please look at: {join_words(beside)}."] if beside else []
    return " ".join(["Nothing was written.", *mend, *rest])


def _bare(name: str) -> str:
    """What a field is called, without its unit or scale."""
    return (FIELD_WORDS.get(name) or say_field(name)).partition(" [")[0].removesuffix(", 0–10")


def say_added(entry: Entry, numbers: bool = True) -> str:
    """What a saved entry changed: ``Added a meal at 12:40 on 3 March: lentil soup, 45 g of carbohydrate.``

    With the caution that goes with a high finger-stick.
    """
    high = entry.table == "checks" and (
        glucose_to_mg_dl(float(entry.cells["glucose"]), entry.unit) >= ANY_LIMIT_MG_DL
    )
    return f"Added {say_entry(entry, numbers)}.{f' {HIGH_CHECK}' if high else ''}"


def say_undone(entry: Entry, numbers: bool = True) -> str:
    """That the last entry is out again."""
    return f"Taken back: {say_entry(entry, numbers)}."


def say_entry(entry: Entry, numbers: bool = True) -> str:
    """An entry in words, glucose only where figures are shown."""
    said = _SAYERS[entry.table](entry, numbers)
    date = _date(entry.local)
    if entry.table == "days":
        return f"to {date}: {said}"
    when = f"{_KINDS[entry.table]} at {entry.local:%H:%M} on {date}"
    return f"{when}: {said}" if said else when


def _date(local: pd.Timestamp) -> str:
    return f"{local.day} {MONTHS[local.month - 1]}"


def _say_meal(entry: Entry, numbers: bool) -> str:
    cells = entry.cells
    amounts = [f"{cells[name]} {unit}" for name, unit in _UNITS.items() if name in cells]
    beside = [ANSWERS[cells["setting"]]] if cells.get("setting") == "out" else []
    return ", ".join([cells["name"], *amounts, *beside, *_quoted(cells)])


def _say_feeling(entry: Entry, numbers: bool) -> str:
    rated = [f"{name} {entry.cells[name]}" for name in ("energy", "focus", "hunger", "stress") if name in entry.cells]
    return ", ".join([*rated, *_quoted(entry.cells)])


def _say_check(entry: Entry, numbers: bool) -> str:
    figure = [f"{entry.cells['glucose']} {entry.unit}"] if numbers else []
    vein = ["from a vein"] if entry.cells.get("source") == "venous" else []
    return ", ".join([*figure, *vein, *_quoted(entry.cells)])


def _say_of_day(entry: Entry, numbers: bool) -> str:
    said = []
    for name, text in entry.cells.items():
        if name != "date":
            unit = say_field(name).partition(" [")[2].rstrip("]")
            said.append(f"{_bare(name)} {ANSWERS.get(text.lower(), text)} {unit}".rstrip())
    return ", ".join(said)


def _say_note(entry: Entry, numbers: bool) -> str:
    cells = entry.cells
    until = [f"until {pd.Timestamp(cells['end']):%H:%M}"] if "end" in cells else []
    zone = [cells["time_zone"]] if "time_zone" in cells else []
    return ", ".join([ANSWERS[cells["kind"].lower()], *until, *zone, *_quoted(cells)])


def _quoted(cells: Mapping[str, str]) -> list[str]:
    return [f"“{cells['note']}”"] if "note" in cells else []


_SAYERS = {
    "meals": _say_meal, "feelings": _say_feeling, "checks": _say_check, "days": _say_of_day, "notes": _say_note,
}  # fmt: skip


def say_dish(cells: Mapping[str, str]) -> str:
    """A dish on the button that logs it again."""
    carbs = f", {cells['carbs_g']} g" if "carbs_g" in cells else ""
    return f"{cut_text(cells['name'], 34)}{carbs}"


def say_unwritten(reason: Exception) -> str:
    """Why nothing could be written."""
    return f"Nothing was written: {reason}."


def say_not_undone(entry: Entry, reason: Exception, numbers: bool = True) -> str:
    """Why the last entry stays."""
    return f"Not taken back: {reason}. It stands on line {entry.edit.line}."


def no_such_file(path: Path) -> str:
    """That a path leads to no file."""
    return f'"{show(str(path), most=200)}" is no file that is there'


def say_out(out: Path) -> str:
    """Where the pages will go."""
    return f"The pages go into {out}; nothing of the study is changed."


def say_listed_day(day: pd.Timestamp, today: pd.Timestamp) -> str:
    """A day as a list offers it."""
    return f"today, {say_day(day)}" if day == today else say_day(day, year=day.year != today.year)


def say_photo(taken: pd.Timestamp | None, why: str) -> str:
    """When a photo was taken, beside it."""
    if taken is None:
        return f"It {why}: write the time of the meal."
    return f"Taken at {taken:%H:%M} on {_date(taken)} {taken.year}. With the time left empty, that is the meal’s."


def say_study_here(study: str, wears: int) -> str:
    """What is open."""
    return f"{study}: {say_count(wears, 'wear')} to write into. {NOTHING_YET}"


def say_no_wear(reasons: Sequence[str]) -> str:
    """That a study has no wear to write into yet."""
    return " ".join(["This study has no wear yet: begin one when the sensor goes on.", *(f"{one}." for one in reasons)])


def say_begun_study(study: Path) -> str:
    """A study that was made just now."""
    return f"The study {study.name} was begun. Now its first wear: when did the sensor go on?"


def say_begun_wear(wear: str) -> str:
    """A wear that was made just now."""
    return f"The wear {say_title(wear)} was begun. Meals, feelings and finger-sticks can be written, and its file brought."


def say_making(step: str) -> str:
    """How far the pages are."""
    return f"Making the pages: {step} …"


def say_made_pages(pages: Sequence[Path], problems: Sequence[Problem]) -> str:
    """Where the pages are."""
    if not pages:
        return "No page could be made; what was found stands below."
    found = f" {say_count(len(problems), 'thing')} left out or doubtful, listed below." if problems else ""
    return f"{say_count(len(pages), 'page')} made. Open this one in a browser: {pages[-1]}.{found}"


def say_no_report(reason: Exception) -> str:
    """Why there is no page."""
    return f"No page was made: {reason}"

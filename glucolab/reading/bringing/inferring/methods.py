"""Did a sensor read it, or a finger's blood in a meter? By words and by how often a day; None where both can be."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.kinds import Cadence
from glucolab.reading.bringing.vocabulary.cautions import names_blood, names_sensor
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import CHOICES, COLUMNS, KINDS_OF_ROW

_MOST_STICKS = 12
"""Values of a finger a day, in threes too or over a glucose tolerance test, are no more; a sensor has them within one
hour to three. Assumed. [values a day]"""
_FEW_A_DAY = 4
"""So many values of blood a day are finger-sticks; more may be scans of a sensor. Assumed."""
_HALF = 0.5
"""So like a word must be to stand for it, which a part of a compound is not. Assumed."""
_FINGERS = (
    *(word for word in COLUMNS["checks"]["glucose"] if word not in COLUMNS["glucose"]["glucose"]),
    *KINDS_OF_ROW["checks"],
    *CHOICES["source"]["fingerstick"],
)


def find_method(f: Facts, source: Facts | None, hints: Sequence[str], cadence: Cadence) -> str | None:
    """ "glucose" for a sensor's values, "checks" for finger-sticks; None where both are possible.

    Parameters
    ----------
    f : Facts
        The column of glucose.
    source : Facts or None
        A column that may say where blood was drawn.
    hints : sequence of str
        Name of the file and the lines above the table.
    cadence : Cadence
    """
    texts = [f.name, *hints, *(set(source.filled) if source is not None and not source.is_number else ())]
    finger = any(likeness(text, (*_FINGERS, *CHOICES["source"]["venous"])) >= _HALF for text in texts)
    sensor = any(names_sensor(text) for text in texts)
    if cadence.is_surely_sensor and not finger:
        return "glucose"
    if finger and not sensor and cadence.per_day <= _MOST_STICKS:
        return "checks"
    if cadence.is_dense:
        return "glucose" if sensor or not finger else None
    if finger != sensor:
        return "checks" if finger else "glucose"
    blood = any(names_blood(text) for text in texts)
    return "checks" if not finger and blood and cadence.per_day <= _FEW_A_DAY else None


def find_finger(texts: Sequence[str]) -> str:
    """The text that says that blood was drawn from a finger; "" where none does, or one names a vein."""
    if any(likeness(text, CHOICES["source"]["venous"]) >= _HALF for text in texts):
        return ""
    return next((text for text in texts if likeness(text, _FINGERS) >= _HALF), "")

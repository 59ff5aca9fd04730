"""In which unit, with figures or without? How a study wants its glucose shown."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pandas as pd

from glucolab.record import Study
from glucolab.units import Values, glucose_from_mg_dl

MINUS = "\u2212"
NO_BREAK = "\u00a0"


@dataclass(frozen=True)
class Display:
    """How glucose is written.

    Attributes
    ----------
    unit : {"mg/dL", "mmol/L"}
    numbers : bool
        False: words and shapes only. Asking for a figure is then an error, so that none slips through.
    """

    unit: str = "mg/dL"
    numbers: bool = True

    def values(self, mg_dl: Values) -> Values:
        """Glucose in the shown unit, for the positions of a chart. [`unit`]"""
        return glucose_from_mg_dl(mg_dl, self.unit)

    def level(self, mg_dl: float) -> str:
        """A level without its unit: ``94``, ``5.2``."""
        return self._write(mg_dl, 0 if self.unit == "mg/dL" else 1)

    def size(self, mg_dl: float, half_width_mg_dl: float = math.inf) -> str:
        """The size of a difference without sign or unit, one digit more where its interval is narrow."""
        return self._write(abs(mg_dl), self._digits(half_width_mg_dl))

    def signed(self, mg_dl: float, half_width_mg_dl: float = math.inf) -> str:
        """A difference with its sign, without unit."""
        return _with_plus(self._write(mg_dl, self._digits(half_width_mg_dl)))

    def change(self, estimate: float, low: float, high: float) -> str:
        """A difference with unit and interval: ``−5 mg/dL (−9 to −1)``. [mg/dL in]"""
        half = (high - low) / 2
        texts = [self.signed(value, half) for value in (estimate, low, high)]
        return f"{texts[0]}{NO_BREAK}{self.unit} ({texts[1]} to {texts[2]})"

    def average(self, estimate: float, low: float, high: float) -> str:
        """A level with unit and half its interval: ``94 mg/dL, give or take 4``. [mg/dL in]"""
        half = (high - low) / 2
        return f"{self.level(estimate)}{NO_BREAK}{self.unit}, give or take{NO_BREAK}{self.size(half)}"

    def _digits(self, half_width_mg_dl: float) -> int:
        few = 0 if self.unit == "mg/dL" else 1
        return few + 1 if half_width_mg_dl < 3 else few

    def _write(self, mg_dl: float, digits: int) -> str:
        if not self.numbers:
            raise ValueError("this study shows no glucose figures")
        return write_number(float(self.values(mg_dl)), digits)


USUAL = Display()
"""How a chart writes glucose unless it is told otherwise."""


def display_of(study: Study) -> Display:
    """How a study wants its glucose shown.

    Parameters
    ----------
    study : Study

    Returns
    -------
    Display
        Its unit, and whether figures are shown at all; charts take it as ``display``.

    Examples
    --------
    >>> import glucolab as gl
    >>> gl.display_of(gl.simulate.example_study())
    Display(unit='mg/dL', numbers=True)
    """
    return Display(study.unit, study.numbers)


def write_number(value: float, digits: int = 0) -> str:
    """A number with a true minus sign, and never minus zero."""
    text = f"{value:.{digits}f}"
    if text.startswith("-"):
        text = text[1:] if not text.strip("-0.") else MINUS + text[1:]
    return text


def write_signed(value: float, digits: int = 0) -> str:
    """A number with its sign, whichever it is."""
    return _with_plus(write_number(value, digits))


def _with_plus(text: str) -> str:
    return text if text.startswith(MINUS) or not text.strip("0.") else f"+{text}"


def write_percent(fraction: float) -> str:
    """A fraction as per cent, never 0 or 100 unless it is: ``93 %``, ``under 1 %``."""
    if 0 < fraction < 0.01:
        return "under 1 %"
    if 0.99 < fraction < 1:
        return "over 99 %"
    return f"{100 * fraction:.0f} %"


def is_known(value: Any) -> bool:
    """True if a cell or an estimate holds something."""
    return isinstance(value, dict) or not pd.isna(value)

"""What may stand in labs.csv? Analytes, their names, units and noise, and the values that can be used."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.errors import Problem
from glucolab.units import MG_DL_PER_MMOL_L

FILE = "labs.csv"
Z_TWO_SIDED_95 = 1.959964
"""Of the reference change value, two-sided 95 % [SD] (Fraser & Harris 1983, from memory). Smaller claims more changes
that are noise, larger misses more that are not."""
SAME_IN_TWO_UNITS = 0.02
"""How far one result printed in two units differs by rounding, relative [1]; assumed. Too small reports conflicts
where there are none, too large takes two results for one."""


@dataclass(frozen=True)
class Analyte:
    """One analyte: how it is written, and how far it varies without a cause.

    Attributes
    ----------
    unit : str
        In which its values are handed out.
    names : tuple of str
        Accepted beside its own; case, spaces and ``_-.,()`` do not matter. "fasting" before or after is understood.
    units : mapping of str to (float, float)
        Accepted beside `unit`: the factor and the constant that turn a value into `unit`.
    cv_within_percent, cv_assay_percent : float
        Within-person (CV_I) and analytical (CV_A) variation. [%]
    fasting : bool
        CV_I is that of fasting blood: other draws are not compared.
    """

    unit: str
    names: tuple[str, ...]
    units: Mapping[str, tuple[float, float]]
    cv_within_percent: float
    cv_assay_percent: float
    fasting: bool = False

    def unit_lines(self) -> dict[str, tuple[float, float]]:
        """Factor and constant of every accepted unit, its own among them, by its key."""
        return {_as_key(unit): line for unit, line in {self.unit: (1.0, 0.0), **self.units}.items()}


def _as_key(text: str) -> str:
    """Spelling that does not matter taken out: case, spaces, underscores, hyphens, dots, brackets, kinds of µ."""
    plain = unicodedata.normalize("NFKC", text).casefold().replace("μ", "u")
    return "".join(c for c in plain if c not in " \t_-–.,()")


_CHOLESTEROL = {"mmol/L": (38.67, 0.0), "g/L": (100.0, 0.0)}
"""Factor and constant into mg/dL [mg/dL per unit], by a molar mass of 386.7 g/mol (no source). Wrong, every value in
that unit is off by as much, and a change of unit passes for a change of the person."""

# CV_I with its source; "from memory": not seen in print. Where sources differ the larger is taken: less is claimed.
# CV_A is assumed throughout (common practice, no source): the analytical variation of a good routine laboratory.
ANALYTES: dict[str, Analyte] = {
    # meta-analysis by the EFLM's method (abstract): 5.0 (4.1-12.0)
    "glucose": Analyte("mg/dL", ("fpg", "fbg", "fbs", "plasma glucose", "blood glucose", "blood sugar"),
                       {"mmol/L": (MG_DL_PER_MMOL_L, 0.0), "g/L": (100.0, 0.0)}, 5.0, 2.0, fasting=True),
    # 28.8 with the assay, so 28.4 beside one of 5, in 102 older adults (abstract of doi 10.1210/jc.2017-02437); 25.4 in
    # the EFLM's list, 21.1 in the list of 2014 (both from memory);
    # 6.0 pmol a mIU: Clin Biochem 2017;50:408 (abstract; the common 6.945 is wrong)
    "insulin": Analyte("mIU/L", ("serum insulin",),
                       {"mU/L": (1.0, 0.0), "µIU/mL": (1.0, 0.0), "µU/mL": (1.0, 0.0), "pmol/L": (1 / 6.0, 0.0)},
                       28.4, 5.0, fasting=True),
    # the same meta-analysis: 1.2 (0.3-2.5), applied in %; line of the IFCC network (from memory)
    "hba1c": Analyte("%", ("a1c", "haemoglobin a1c", "hemoglobin a1c", "glycated haemoglobin", "glycated hemoglobin"),
                     {"mmol/mol": (0.09148, 2.152)}, 1.2, 2.0),
    # meta-analysis of 30 studies (abstract); mean molar mass 885.7 g/mol (common practice)
    "triglycerides": Analyte("mg/dL", ("triglyceride", "tg", "trig", "trigs"),
                             {"mmol/L": (88.57, 0.0), "g/L": (100.0, 0.0)}, 22.6, 3.0, fasting=True),
    # Smith et al., Clin Chem 1993;39:1012 (abstract), these three
    "hdl_cholesterol": Analyte("mg/dL", ("hdl", "hdl-c", "cholesterol hdl"), _CHOLESTEROL, 7.4, 3.0),
    "ldl_cholesterol": Analyte("mg/dL", ("ldl", "ldl-c", "cholesterol ldl"), _CHOLESTEROL, 9.5, 3.0),
    "total_cholesterol": Analyte("mg/dL", ("cholesterol", "tc", "cholesterol total"), _CHOLESTEROL, 6.1, 3.0),
    # 42.2: Clin Chem 1997 (abstract), also the list of 2014; EuBIVAS gives about 34 (from memory)
    "hs_crp": Analyte("mg/L", ("crp", "c-reactive protein", "high sensitivity crp",
                                "high sensitivity c-reactive protein"),
                      {"mg/dL": (10.0, 0.0), "µg/mL": (1.0, 0.0)}, 42.2, 5.0),
}  # fmt: skip
"""Every analyte that is understood: the one table of names, units and variations [%], a source a row. Too small a
variation claims changes that are noise, too large misses true ones; a wrong factor shifts all values of that unit."""

_NAMES = {_as_key(name): analyte for analyte, about in ANALYTES.items() for name in (analyte, *about.names)}
_FASTING_NAMES = {"fpg", "fbg", "fbs"}


def reference_change_percent(cv_within_percent: float, cv_assay_percent: float) -> tuple[float, float]:
    """How far two values of one person differ by noise alone: the reference change value, down and up.

    Notes
    -----
    exp(± Z √2 σ) - 1 with σ² = ln(1 + CV_A² + CV_I²), two-sided 95 %: 2.5 % of unchanged pairs lie beyond
    either. The logarithmic form is taken for all: it is right for skewed analytes and all but equals
    √2 Z CV where the variation is small. It holds for one method of one laboratory, one value each.

    References
    ----------
    Fraser & Harris 1983; Fokkema et al., Clin Chem 2006;52:1602.

    Returns
    -------
    down, up : float
        Both positive. [%]
    """
    sigma = np.sqrt(np.log1p((cv_within_percent**2 + cv_assay_percent**2) / 1e4))
    reach = Z_TWO_SIDED_95 * np.sqrt(2) * sigma
    return float(-100 * np.expm1(-reach)), float(100 * np.expm1(reach))


def read_values(labs: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Values that can be used, each analyte in one unit, and what is wrong with the others.

    An analyte that :data:`ANALYTES` does not know is kept as it is written; in two units it is two analytes.

    Parameters
    ----------
    labs : DataFrame
        ``labs.csv`` as read, indexed by line.

    Returns
    -------
    values : DataFrame
        ``line, date, time, analyte, value, unit`` (of the value), ``written`` (the key of the unit as written),
        ``known`` (whether it is one of :data:`ANALYTES`), ``fasting`` (False where not said), ``method, way`` (method
        and laboratory).
    problems : list of Problem
        Conflicts, unknown units of known analytes, values that cannot be: none of them is used. Unknown analytes in
        two units are noted.
    """
    rows, problems = [], []
    spelled: dict[tuple[str, str | None], str] = {}
    text = labs[["analyte", "unit", "time", "method", "laboratory"]].fillna("")
    for line, (_, row), (_, words) in zip(labs.index, labs.iterrows(), text.iterrows(), strict=True):
        name = _as_key(words["analyte"])
        bare = name.removeprefix("fasting").removesuffix("fasting")
        analyte = _NAMES.get(bare)
        wrong = _find_wrong(analyte, words, row["value"])
        if wrong:
            problems.append(Problem(FILE, wrong, int(line)))
            continue
        written = _as_key(words["unit"])
        factor, constant = (1.0, 0.0) if analyte is None else ANALYTES[analyte].unit_lines()[written]
        unit = spelled.setdefault((bare, written), words["unit"].strip()) if analyte is None else ANALYTES[analyte].unit
        own = spelled.setdefault((bare, None), words["analyte"].strip())
        says_fasting = name != bare or bare in _FASTING_NAMES
        method = _as_key(words["method"])
        rows.append({
            "line": int(line), "date": row["date"], "time": words["time"], "analyte": analyte or own,
            "value": factor * row["value"] + constant, "unit": unit, "written": written, "known": analyte is not None,
            "fasting": says_fasting if pd.isna(row["fasting"]) else bool(row["fasting"]),
            "method": method, "way": (method, _as_key(words["laboratory"])),
        })  # fmt: skip
    columns = ["line", "date", "time", "analyte", "value", "unit", "written", "known", "fasting", "method", "way"]
    table = pd.DataFrame(rows, columns=columns)
    values, conflicts = _settle_repeats(table)
    return values, sorted([*problems, *conflicts, *_note_two_units(table)], key=lambda p: p.line or 0)


def _find_wrong(analyte: str | None, words: pd.Series, value: float) -> str:
    """Why a row cannot be used, empty if it can."""
    if analyte is None:
        return "" if np.isfinite(value) else f"value of {words['analyte']} is no number"
    about = ANALYTES[analyte]
    if _as_key(words["unit"]) not in about.unit_lines():
        known = ", ".join((about.unit, *about.units))
        return f'unit "{words["unit"]}" is not known for {analyte}; write one of {known}'
    if not (np.isfinite(value) and value > 0):
        return f"value {value:g} of {analyte} is not above zero"
    return ""


def _settle_repeats(values: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Equal repeats are one; different values of one analyte, date, time and method are a conflict, none used."""
    problems: list[Problem] = []
    dropped: list[int] = []
    for (analyte, _, day, *_), same in values.groupby(["analyte", "unit", "date", "time", "method"], sort=False):
        if len(same) == 1:
            continue
        least, by_unit = same["value"].min(), same.groupby("written")["value"]
        near = same["value"].max() - least <= SAME_IN_TWO_UNITS * abs(least)
        if near and (by_unit.max() - by_unit.min() <= 1e-9 * by_unit.min().abs()).all():
            dropped.extend(same.index[1:])
            continue
        dropped.extend(same.index)
        *others, last = same["line"]
        places = ", ".join(str(line) for line in others)
        text = f"{analyte} of {day:%Y-%m-%d} has another value in line {places}, same time and method; none is used"
        problems.append(Problem(FILE, text, int(last)))
    return values.drop(index=dropped), problems


def _note_two_units(values: pd.DataFrame) -> list[Problem]:
    """That an unknown analyte stands in units of which nobody here knows how one becomes the other."""
    notes = []
    for analyte, mine in values[~values["known"].astype(bool)].groupby("analyte", sort=False):
        units = list(dict.fromkeys(mine["unit"]))
        if len(units) > 1:
            line = int(mine.loc[mine["unit"] == units[1], "line"].iloc[0])
            text = f"{analyte} stands in {', '.join(units[:-1])} and {units[-1]}, none of which is turned into another"
            notes.append(Problem(FILE, f"{text}: drawn apart, never compared", line, left_out=False))
    return notes

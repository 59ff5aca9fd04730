"""What must be said beside any figure? The cautions that apply to a wear, and why figures are missing."""

from __future__ import annotations

import pandas as pd

from glucolab.record import Person, WearPeriod

ALWAYS = (
    "This is not a diagnosis, and no sensor figure diagnoses anything.",
    "Never use these figures to dose a medicine.",
    "Rises after meals and exercise are normal.",
    "Chasing flat glucose can make a diet worse. Whoever has had an eating disorder should ask a professional first, "
    "and can hide the numbers (numbers = false in study.toml).",
    "Local rules and licensed practice come first.",
)
DESCRIBE_ONLY = (
    "Under 18, pregnant, or on glucose-lowering medicine: this tool cleans and describes the record, and gives no "
    "goal, no effect, no ranking and no plan."
)
SEE_CLINICIAN = "{what}: take this to a clinician."
HIGH_CHECK = SEE_CLINICIAN.format(what="A check of 200 mg/dL (11.1 mmol/L) or more was logged")
NIGHT_LOW = (
    "A low at night without symptoms is first a question of pressure on the sensor, then of a finger-stick. "
    "With fainting, confusion or symptoms that sugar relieves, see a clinician."
)
FASTING_LIMIT_MG_DL, ANY_LIMIT_MG_DL = 126.0, 200.0
"""Of finger-sticks, fasting and at any time: the contract's, from the American Diabetes Association's standards. Lower,
a meter's error alone sends healthy people to a clinician; higher, someone who should go is not told. [mg/dL]"""


def find_cautions(wear: WearPeriod, person: Person, meals: pd.DataFrame, lowest_overnight: bool) -> list[str]:
    """Sentences for a wear, those that this wear's own data ask for first.

    Parameters
    ----------
    wear : WearPeriod
    person : Person
    meals : DataFrame
        For telling fasting checks: eight hours or more after the last logged meal.
    lowest_overnight : bool
        The trace lies under 70 mg/dL at night for a quarter of an hour or more.
    """
    found = []
    checks = wear.checks
    if (checks["glucose_mg_dl"] >= ANY_LIMIT_MG_DL).any():
        found.append(HIGH_CHECK)
    fasting = _fasting(checks["time"], meals["time"])
    if (fasting & (checks["glucose_mg_dl"] >= FASTING_LIMIT_MG_DL)).sum() >= 2:
        found.append(
            SEE_CLINICIAN.format(what="Fasting checks of 126 mg/dL (7.0 mmol/L) or more were logged repeatedly")
        )
    if lowest_overnight:
        found.append(NIGHT_LOW)
    if person.describe_only:
        found.append(DESCRIBE_ONLY)
    return [*found, *ALWAYS]


def _fasting(times: pd.Series, meals: pd.Series) -> pd.Series:
    """True where the last meal lies 8-16 hours back: nearer is fed, further is an unlogged day."""
    ordered = times.sort_values()
    last = pd.merge_asof(
        pd.DataFrame({"time": ordered}), pd.DataFrame({"meal": meals.sort_values()}), left_on="time", right_on="meal"
    )
    hours = (last["time"] - last["meal"]).dt.total_seconds() / 3600
    return pd.Series(((hours >= 8) & (hours <= 16)).to_numpy(), index=ordered.index).reindex(times.index)

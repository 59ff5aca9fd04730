"""What is HOMA-IR at each blood test, and how uncertain is it from a single one?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.intervals import CONFIDENCE, Z
from glucolab.record.study_outputs import LAB_CHANGES, LAB_INDICES
from glucolab.relating.labs.analytes import ANALYTES, Analyte
from glucolab.relating.labs.changes import follow_values
from glucolab.units import MG_DL_PER_MMOL_L

NORMALISING = 22.5
"""5 mU/L of insulin times 4.5 mmol/L of glucose, at which the index is 1 [mU mmol/L²] (Matthews et al. 1985). Another
number scales every index, and leaves changes in % as they are."""

WITHIN_CORRELATION = 0.2
"""Of a person's fasting glucose and insulin from draw to draw, in logarithms [1]: what the variations of 102 adults
without diabetes imply, 5.6, 28.8 and of the index 30.4 % (abstract of doi 10.1210/jc.2017-02437). Too large widens the
index's interval, too small narrows it: from 0 to 1 the 90 % interval holds 91 to 86 in a hundred."""


def _combine() -> Analyte:
    """The index as an analyte: how far a product of glucose and insulin varies without a cause."""
    within, assay = (
        [np.sqrt(np.log1p((getattr(ANALYTES[name], kind) / 100) ** 2)) for name in ("glucose", "insulin")]
        for kind in ("cv_within_percent", "cv_assay_percent")
    )
    within_var = np.sum(np.square(within)) + 2 * WITHIN_CORRELATION * np.prod(within)
    cv = [float(100 * np.sqrt(np.expm1(var))) for var in (within_var, np.sum(np.square(assay)))]
    return Analyte("1", (), {}, cv[0], cv[1], fasting=True)


HOMA_IR = _combine()
"""The index with its variation [%], made of both analytes'. Too small a variation claims changes that are noise."""


def homa_ir(glucose_mg_dl: float, insulin_miu_l: float) -> float:
    """HOMA-IR: fasting glucose [mmol/L] times fasting insulin [mIU/L] over 22.5.

    Parameters
    ----------
    glucose_mg_dl : float
        Fasting plasma glucose. [mg/dL]
    insulin_miu_l : float
        Fasting insulin of the same draw. [mIU/L]

    Notes
    -----
    For fasting blood only. Insulin assays differ between makers by far more than one assay varies, so
    values of two laboratories or methods are not comparable, and no limit of one study fits another's assay.

    References
    ----------
    Matthews et al., Diabetologia 1985;28:412-419.
    """
    return glucose_mg_dl / MG_DL_PER_MMOL_L * insulin_miu_l / NORMALISING


def measure_lab_indices(values: pd.DataFrame) -> pd.DataFrame:
    """``lab_indices.csv``: HOMA-IR of every draw that has an insulin, or why it has none.

    Parameters
    ----------
    values : DataFrame
        Of :func:`glucolab.relating.labs.analytes.read_values`.

    Returns
    -------
    DataFrame
        A row an insulin value. The interval says where the person's own fasting level may lie, given this one draw:
        it holds what both analytes vary from draw to draw and in the laboratory, in logarithms. What one
        insulin assay differs from another is not in it.
    """
    draws = _find_draws(values)
    reach = np.exp(Z * np.sqrt(np.log1p((HOMA_IR.cv_within_percent**2 + HOMA_IR.cv_assay_percent**2) / 1e4)))
    draws = draws.assign(
        index="homa_ir", low=draws["value"] / reach, high=draws["value"] * reach,
        level=np.where(draws["value"].notna(), CONFIDENCE, np.nan),
    )  # fmt: skip
    return draws[LAB_INDICES.names]


def compare_lab_indices(values: pd.DataFrame) -> pd.DataFrame:
    """Rows of ``lab_changes.csv``: HOMA-IR of following dates, judged only where methods and laboratory are the same.

    The reference change is that of the product of both analytes, see `WITHIN_CORRELATION`.
    """
    draws = _find_draws(values)
    draws = draws[draws["value"].notna()].sort_values(["date", "time"], kind="stable").assign(fasting=True)
    return pd.DataFrame(
        follow_values("homa_ir", HOMA_IR, draws.drop_duplicates(["date", "way"])), columns=LAB_CHANGES.names
    )


def _find_draws(values: pd.DataFrame) -> pd.DataFrame:
    """A row an insulin value with its glucose, ordered by date: ``date, time, way, value, reason, …``."""
    glucose = values[values["analyte"] == "glucose"]
    rows = []
    for _, insulin in values[values["analyte"] == "insulin"].iterrows():
        partner, reason = _find_partner(insulin, glucose)
        mg_dl = np.nan if partner is None else partner["value"]
        rows.append({
            "date": insulin["date"], "time": insulin["time"], "insulin_miu_l": insulin["value"],
            "glucose_mg_dl": mg_dl, "reason": reason,
            "value": np.nan if reason or partner is None else round(homa_ir(mg_dl, insulin["value"]), 4),
            "way": (insulin["way"], None if partner is None else partner["way"]),
        })  # fmt: skip
    columns = ["date", "time", "insulin_miu_l", "glucose_mg_dl", "reason", "value", "way"]
    return pd.DataFrame(rows, columns=columns).sort_values(["date", "time"], kind="stable", ignore_index=True)


def _find_partner(insulin: pd.Series, glucose: pd.DataFrame) -> tuple[pd.Series | None, str]:
    """The glucose of the same draw, and why no index is made of it, empty if one is.

    Of one draw are values of one date, and of one time and one laboratory where both state it.
    """
    same = glucose[glucose["date"] == insulin["date"]]
    laboratory = insulin["way"][1]
    same = same[[not laboratory or way[1] in ("", laboratory) for way in same["way"]]]
    if insulin["time"] and (same["time"] == insulin["time"]).any():
        same = same[same["time"] == insulin["time"]]
    elif insulin["time"]:
        same = same[same["time"] == ""]
    if not len(same):
        return None, "no_glucose"
    if len(same) > 1:
        return None, "several_glucose"
    partner = same.iloc[0]
    return partner, "" if insulin["fasting"] and partner["fasting"] else "not_fasting"

"""Does a laboratory value belong with a clinician? The bands at which this page must say so."""

from __future__ import annotations

import pandas as pd

FASTING_GLUCOSE_MG_DL, ANY_GLUCOSE_MG_DL, HBA1C_PERCENT = 100.0, 200.0, 5.7
"""Where the bands of prediabetes and diabetes begin [mg/dL], [%]: American Diabetes Association standards, fasting
plasma glucose 100 mg/dL, random 200 mg/dL, HbA1c 5.7 %; other authorities draw them elsewhere. Too low sends healthy
people to a clinician, too high is silent on values that belong there."""


def find_lab_cautions(values: pd.DataFrame) -> list[str]:
    """A sentence for each analyte with a value in a band of the standards, none of them a diagnosis.

    Parameters
    ----------
    values : DataFrame
        Of :func:`glucolab.relating.labs.analytes.read_values`.
    """
    glucose = values[values["analyte"] == "glucose"]
    fasting = glucose["fasting"].astype(bool) & (glucose["value"] >= FASTING_GLUCOSE_MG_DL)
    a1c = values[(values["analyte"] == "hba1c") & (values["value"] >= HBA1C_PERCENT)]
    found = []
    if (fasting | (glucose["value"] >= ANY_GLUCOSE_MG_DL)).any():
        found.append(
            "A laboratory glucose lies in a band that the standards of the American Diabetes Association name "
            "(fasting 100 mg/dL, 5.6 mmol/L, or more; any 200, 11.1, or more): take this to a clinician."
        )
    if len(a1c):
        found.append(
            "A laboratory HbA1c lies in a band that the standards of the American Diabetes Association name "
            "(5.7 %, 39 mmol/mol, or more): take this to a clinician."
        )
    return found

"""Is a laboratory value's change more than noise, and what did the sensor see meanwhile?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.record.study_outputs import LAB_CHANGES, LABS_AND_SENSOR
from glucolab.relating.labs.analytes import ANALYTES, Analyte, reference_change_percent
from glucolab.relating.observations.wear_tables import WearTables

NIGHT_WITHIN = pd.Timedelta(days=14)
"""How far from a fasting draw a night may lie to stand beside it [days]; assumed. Longer compares different weeks,
shorter leaves most draws alone."""
HBA1C_LOOKS_BACK = pd.Timedelta(days=90)
"""Span before a draw that HbA1c reflects [days]: red cells live about 120 days, recent weeks count most (common
practice, no source). Longer sets wears beside it that it no longer shows, shorter leaves out some that it does."""
HBA1C_LOOKS_AHEAD = pd.Timedelta(days=14)
"""How long after the draw such a wear may still end [days]; assumed. Longer sets days beside HbA1c that it cannot show,
shorter drops the wear during which blood was drawn."""


def compare_labs(values: pd.DataFrame) -> pd.DataFrame:
    """``lab_changes.csv``: every analyte's values on following dates, the later against the earlier.

    Parameters
    ----------
    values : DataFrame
        Of :func:`glucolab.relating.labs.analytes.read_values`.

    Returns
    -------
    DataFrame
        A row a value that has one before it. It is set against the last one by the same method and
        laboratory; where there is none, against the last one, and the change is not judged. Of one date
        a fasting value goes before others, then the earliest. Glucose, insulin and triglycerides are
        judged only where both are marked as fasting, and analytes whose variation within a person is not known here
        never. What is not judged has empty figures and "not_enough_data". HbA1c is judged in %.
    """
    rows: list[dict[str, object]] = []
    known = [(name, about.unit) for name, about in ANALYTES.items()]
    found = list(dict.fromkeys(zip(values["analyte"], values["unit"], strict=True)))
    for analyte, unit in dict.fromkeys([*known, *found]):
        about = ANALYTES.get(analyte) or Analyte(unit, (), {}, np.nan, np.nan)
        mine = values[(values["analyte"] == analyte) & (values["unit"] == unit)]
        mine = mine.sort_values(["date", "fasting", "time"], ascending=[True, False, True], kind="stable")
        rows.extend(follow_values(analyte, about, mine.drop_duplicates(["date", "way"])))
    return pd.DataFrame(rows, columns=LAB_CHANGES.names)


def follow_values(name: str, about: Analyte, values: pd.DataFrame) -> list[dict[str, object]]:
    """Rows of ``lab_changes`` of one analyte: ``date, value, fasting, way`` in order of date."""
    rows = []
    for _, later in values.iterrows():
        before = values[values["date"] < later["date"]]
        same_way = before[before["way"] == later["way"]]
        if len(before):
            rows.append(_judge(name, about, (same_way if len(same_way) else before).iloc[-1], later))
    return rows


def _judge(name: str, about: Analyte, earlier: pd.Series, later: pd.Series) -> dict[str, object]:
    change, reference, verdict = np.nan, np.nan, "not_enough_data"
    alike = earlier["way"] == later["way"] and (not about.fasting or (earlier["fasting"] and later["fasting"]))
    if alike and np.isfinite(about.cv_within_percent):
        change = 100 * (later["value"] / earlier["value"] - 1)
        down, up = reference_change_percent(about.cv_within_percent, about.cv_assay_percent)
        reference = down if change < 0 else up
        verdict = "cannot_tell_yet" if abs(change) <= reference else "lower" if change < 0 else "higher"
    return {
        "analyte": name, "date_a": earlier["date"], "date_b": later["date"], "value_a": earlier["value"],
        "value_b": later["value"], "unit": about.unit, "change_percent": change, "reference_change_percent": reference,
        "verdict": verdict,
    }  # fmt: skip


def set_labs_beside(values: pd.DataFrame, periods: pd.DataFrame, wears: Sequence[WearTables]) -> pd.DataFrame:
    """``labs_and_sensor.csv``: laboratory values beside what the sensor saw, neither turned into the other.

    Parameters
    ----------
    values : DataFrame
        Of :func:`glucolab.relating.labs.analytes.read_values`.
    periods : DataFrame
        ``periods.csv``'s table.
    wears : sequence of WearTables

    Returns
    -------
    DataFrame
        Fasting glucose beside the mean of the night nearest the draw, of every wear that has one within
        14 days; HbA1c beside the usual mean of every wear that overlaps the 90 days before the draw
        and ends no later than 14 days after it.

    Notes
    -----
    The night is placed by its height over the days of its wear, in which the sensor's bias cancels, on the
    period's mean, from which the bias is taken off; the interval is that mean's, so that it holds the
    sensor's error. Days without enough readings are not among those days.
    """
    values = values.sort_values(["date", "time", "analyte"], kind="stable")
    singles = periods[periods["level"] == "wear"].set_index("name")
    tables = {wear.name: wear for wear in wears}
    rows = []
    for _, value in values.iterrows():
        for name, period in singles.iterrows():
            figure = None
            if value["analyte"] == "glucose" and value["fasting"] and name in tables:
                figure = _night_beside(value["date"], period, tables[name].daily)
            elif value["analyte"] == "hba1c":
                figure = _usual_beside(value["date"], period)
            if figure is not None and np.isfinite(figure[1:]).all():
                unit = ANALYTES[value["analyte"]].unit
                rows.append((value["date"], value["analyte"], value["value"], unit, name, *figure))
    return pd.DataFrame(rows, columns=LABS_AND_SENSOR.names)


def _night_beside(day: pd.Timestamp, period: pd.Series, daily: pd.DataFrame) -> tuple[str, float, float, float] | None:
    """The night that ends nearest the draw; of two equally near, the earlier."""
    nights = daily[daily["overnight_mean_mg_dl"].notna()]
    away = (nights["date"] - day).abs().reset_index(drop=True)
    if not len(nights) or away.min() > NIGHT_WITHIN:
        return None
    over_days = nights["overnight_mean_mg_dl"].iloc[int(away.argmin())] - daily["mean_mg_dl"].mean()
    low, mean, high = (period[name] + over_days for name in ("mean_low_mg_dl", "mean_mg_dl", "mean_high_mg_dl"))
    return "overnight_mean_mg_dl", mean, low, high


def _usual_beside(day: pd.Timestamp, period: pd.Series) -> tuple[str, float, float, float] | None:
    if period["end"] < day - HBA1C_LOOKS_BACK or period["start"] > day or period["end"] > day + HBA1C_LOOKS_AHEAD:
        return None
    low, high = period["usual_low_mg_dl"], period["usual_high_mg_dl"]
    return "usual_mean_mg_dl", (low + high) / 2, low, high

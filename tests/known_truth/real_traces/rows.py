"""What does it come to, people counting alike? One row a judged figure, summed up by kind and figure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from glucolab.relating.statistics.claims import CLAIMS

Interval = tuple[float, float, float]
"""Estimate, low and high end; NaN where none is given."""
NOTHING: Interval = (np.nan, np.nan, np.nan)
NEXT = "|"
"""Between people in a file."""
Z90 = 1.645
"""Half-width of a normal interval that holds nine times in ten, in standard errors."""


class Row(NamedTuple):
    """One figure beside its truth.

    Attributes
    ----------
    kind, figure : str
    people : tuple of str
        Whose traces it rests on.
    truth, estimate, low, high : float
    verdict : str
        Of a difference or an effect, in the contract's words; empty for other figures.
    """

    kind: str
    figure: str
    people: tuple[str, ...]
    truth: float
    estimate: float
    low: float
    high: float
    verdict: str = ""


def read_estimate(value: dict[str, float] | None) -> Interval:
    """An estimate of ``summary.json``."""
    return NOTHING if value is None else (value["estimate"], value["low"], value["high"])


def write_rows(path: Path, rows: Sequence[Row]) -> None:
    """Every judged interval as CSV, for a closer look and for a run that goes on."""
    named = pd.DataFrame(rows, columns=Row._fields)
    named.assign(people=named["people"].str.join(NEXT)).to_csv(path, index=False)


def read_rows(path: Path) -> list[Row]:
    """What :func:`write_rows` wrote."""
    table = pd.read_csv(path, keep_default_na=False, na_values={name: "" for name in Row._fields[3:7]})
    return [Row(*row[:2], tuple(row[2].split(NEXT)), *row[3:]) for row in table.itertuples(index=False, name=None)]


def subtract(second: Interval, first: Interval) -> Interval:
    """The second minus the first, as independent estimates: squares of the half-widths that face each other are added.

    For normal intervals this is the interval of the summed variances; for lopsided ones Zou & Donner, Stat Med
    2008;27:1693 (from memory).
    """
    difference = second[0] - first[0]
    low = difference - np.hypot(second[0] - second[1], first[2] - first[0])
    high = difference + np.hypot(second[2] - second[0], first[0] - first[1])
    return difference, float(low), float(high)


def summarise(rows: Sequence[Row]) -> pd.DataFrame:
    """A row a kind and figure.

    Columns
    -------
    kind, figure, people, n (intervals), withheld; bias, rmse; hold of 90 % intervals and its standard error; too_high
    and too_low (the whole interval above, or below, the truth); half, the median half-width; of differences and effects
    besides: clear (intervals without 0), claimed (verdict lower or higher) and its standard error, wrong_way (claimed
    against the sign of the truth, nil if that is 0).
    """
    table = pd.DataFrame(rows, columns=Row._fields)
    found = [
        {"kind": kind, "figure": figure} | _sum_up(mine)
        for (kind, figure), mine in table.groupby(["kind", "figure"], sort=False)
    ]
    return pd.DataFrame(found)


def _sum_up(mine: pd.DataFrame) -> dict[str, object]:
    known = keep_known(mine)
    truth, low, high = known["truth"], known["low"], known["high"]
    error, held = known["estimate"] - truth, holds(known)
    judged = known[known["verdict"] != ""]
    claimed = claims(judged)
    wrong = claimed & ((judged["verdict"] == "higher") != (judged["truth"] > 0)) & (judged["truth"] != 0)
    return {
        "people": len({name for people in known["people"] for name in people}), "n": len(known),
        "withheld": len(mine) - len(known), "bias": weigh(known, error), "rmse": np.sqrt(weigh(known, error**2)),
        "hold": weigh(known, held), "se": find_share_error(known, held),
        "too_high": weigh(known, low > truth), "too_low": weigh(known, high < truth),
        "half": float(find_halves(known).median()),
        "clear": weigh(judged, (judged["low"] > 0) | (judged["high"] < 0)),
        "claimed": weigh(judged, claimed), "claimed_se": find_share_error(judged, claimed),
        "wrong_way": weigh(judged, wrong),
    }  # fmt: skip


def find_spread(rows: Sequence[Row]) -> pd.DataFrame:
    """How far off is it in its own standard errors? A row a kind and figure with an interval.

    Columns
    -------
    kind, figure, people, n; of z = 1.645 (estimate - truth) / half-width: z_mean (which way it errs), z_rms (1 if
    intervals are as wide as they should be), z_people (SD of people's own means: what more draws do not average out)
    and z_within (SD about them), where each row rests on one person.
    """
    known = keep_known(pd.DataFrame(rows, columns=Row._fields))
    half = find_halves(known)
    known = known.assign(z=Z90 * (known["estimate"] - known["truth"]) / half.where(half > 0)).dropna(subset=["z"])
    found = []
    for (kind, figure), mine in known.groupby(["kind", "figure"], sort=False):
        of_people, alone = mine.groupby("people")["z"], mine["people"].str.len().max() == 1
        found.append({
            "kind": kind, "figure": figure, "people": len({name for people in mine["people"] for name in people}),
            "n": len(mine),
            "z_mean": weigh(mine, mine["z"]), "z_rms": np.sqrt(weigh(mine, mine["z"] ** 2)),
            "z_people": of_people.mean().std() if alone else np.nan,
            "z_within": np.sqrt(weigh(mine, (mine["z"] - of_people.transform("mean")) ** 2)) if alone else np.nan,
        })  # fmt: skip
    return pd.DataFrame(found)


def find_halves(rows: pd.DataFrame) -> pd.Series:
    """Half of each interval's width."""
    return (rows["high"] - rows["low"]) / 2


def keep_known(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows with a truth and an interval."""
    return rows[rows[["truth", "estimate", "low", "high"]].notna().all(axis=1)]


def holds(rows: pd.DataFrame) -> pd.Series:
    """Whether each interval holds its truth."""
    return rows["truth"].between(rows["low"], rows["high"])


def claims(rows: pd.DataFrame) -> pd.Series:
    """Whether each verdict claims something."""
    return rows["verdict"].isin(CLAIMS)


def weigh(rows: pd.DataFrame, values: pd.Series) -> float:
    """Mean over people: all rows of one person weigh as one, and so does each study of several people."""
    return float(_weights(rows) @ values.to_numpy(dtype=float)) if len(rows) else np.nan


def _weights(rows: pd.DataFrame) -> np.ndarray:
    count = Counter(rows["people"])
    weights = np.array([1 / count[people] if len(people) == 1 else 1.0 for people in rows["people"]])
    return weights / weights.sum()


def find_share_error(rows: pd.DataFrame, true: pd.Series) -> float:
    """Standard error of a share: over people or, if that is larger, binomial over rows.

    Of a handful of people all may be alike by chance, and then nothing is known of how they differ: the binomial one is
    that of Laplace's share, (k + 1) / (n + 2), which is never 0.
    """
    if not len(rows):
        return np.nan
    share = (true.sum() + 1) / (len(rows) + 2)
    return float(np.nanmax([find_error(rows, true), np.sqrt(share * (1 - share) / len(rows))]))


def find_error(rows: pd.DataFrame, values: pd.Series) -> float:
    """Standard error of that mean if other people had been recorded; NaN for fewer than three of them.

    Notes
    -----
    Each person is left out in turn with all that rests on them (jackknife; of a mean over studies of several people,
    a U-statistic: Arvesen, Ann Math Stat 1969;40:2076, from memory). Where few of the possible studies were drawn this
    counts the chance within studies several times: how often follows from who is in which, and the surplus is taken
    off. With one person a row the result is the usual standard error over people.
    """
    names = sorted({name for people in rows["people"] for name in people})
    n = len(names)
    if n < 3:
        return np.nan
    without = np.array([[name not in people for people in rows["people"]] for name in names])
    weights = _weights(rows)
    left = without * weights
    apart = left / left.sum(axis=1, keepdims=True)
    apart = apart - apart.mean(axis=0)
    own = np.sum((weights * (values.to_numpy(dtype=float) - weigh(rows, values))) ** 2)
    surplus = (n - 1) / n * np.sum(apart**2) / np.sum(weights**2) - 1
    variance = (n - 1) / n * np.sum((apart @ values.to_numpy(dtype=float)) ** 2)
    several = max(len(people) for people in rows["people"]) > 1
    return round(float(np.sqrt(max(variance - surplus * own, own) if several else variance)), 9)

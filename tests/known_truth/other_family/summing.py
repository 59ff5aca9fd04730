"""What does it come to? A row a question, and a row a question and kind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from tests.known_truth.other_family.judging import Row

ALL = "all kinds"
"""What stands for the kind where all are taken together."""
CLAIMS = ("lower", "higher")
"""Verdicts that claim something, in the contract's words."""


def summarise(rows: Sequence[Row]) -> pd.DataFrame:
    """A row a question, then a row a question and kind.

    Columns
    -------
    question, kind; of studies in which the factor works: n, answered (with an interval), found (claimed, with the
    right sign), wrong (claimed, with the wrong one), bias and rmse of the estimate, caught (sum of estimates / sum of
    truths), hold of the 90 % intervals, width (their median), share_hold (the same of the effect as a share of a usual
    rise, where it has one); of those in which it does nothing: nil_n, nil_answered,
    nil_claimed (share of answered ones), nil_hold. Shares are of the answered.
    """
    table = pd.DataFrame(rows, columns=Row._fields)
    found = [
        {"question": question, "kind": ALL} | _sum_up(mine) for question, mine in table.groupby("question", sort=False)
    ]
    found += [
        {"question": question, "kind": kind} | _sum_up(mine)
        for (question, kind), mine in table.groupby(["question", "kind"], sort=False)
    ]
    return pd.DataFrame(found)


def _sum_up(mine: pd.DataFrame) -> dict[str, float]:
    works = mine["planted"] != 0
    real, nil = (_keep_answered(mine[chosen]) for chosen in (works, ~works))
    error = real["estimate"] - real["truth"]
    claimed = real["verdict"].isin(CLAIMS)
    right = (real["verdict"] == "higher") == (real["truth"] > 0)
    truths = real["truth"].sum()
    return {
        "n": int(works.sum()), "answered": len(real), "found": (claimed & right).mean(),
        "wrong": (claimed & ~right).mean(), "bias": error.mean(), "rmse": float(np.sqrt((error**2).mean())),
        "caught": real["estimate"].sum() / truths if truths else np.nan,
        "hold": _holds(real).mean(), "width": (real["high"] - real["low"]).median(),
        "share_hold": _hold_shares(real),
        "nil_n": int((~works).sum()), "nil_answered": len(nil), "nil_claimed": nil["verdict"].isin(CLAIMS).mean(),
        "nil_hold": _holds(nil).mean(),
    }  # fmt: skip


def _keep_answered(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[rows[["truth", "estimate", "low", "high"]].notna().all(axis=1)]


def _hold_shares(rows: pd.DataFrame) -> float:
    shared = rows[rows["share"].notna()]
    truth = shared["truth"] / shared["usual"]
    return float(truth.between(shared["share_low"], shared["share_high"]).mean()) if len(shared) else np.nan


def _holds(rows: pd.DataFrame) -> pd.Series:
    return rows["truth"].between(rows["low"], rows["high"])

"""Which effects are clear? q by factor, verdicts over the wearer's own range, and what is still needed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.intervals import Z, z_two_sided
from glucolab.relating.effects.questions import KIND_OF, is_leading
from glucolab.relating.statistics.claims import CLAIM_Q, adjust_by_factor, decide_verdict, worth_noticing

MOST_NEEDED = 200
"""Days or meals beyond which `needed` stays empty [1]; assumed. Higher promises answers years away, lower gives up on
what a few wears would answer."""


def judge_effects(table: pd.DataFrame, worth_noticing_mg_dl: float) -> pd.DataFrame:
    """The questions of a file with `q_value`, `verdict` and `needed`.

    Parameters
    ----------
    table : DataFrame
        effects.csv without these columns, in the order of :data:`glucolab.relating.effects.questions.PAIRS`.
    worth_noticing_mg_dl : float
        [mg/dL of a mean]

    Notes
    -----
    The file is one family of tests, which a factor enters once for glucose, once for sleep and once for feelings.
    """
    table = table.assign(q_value=_adjust(table))
    worth = worths(table, worth_noticing_mg_dl)
    ends = zip(table["range_low"], table["range_high"], worth, table["q_value"], strict=True)
    table["verdict"] = [decide_verdict(*row) for row in ends]
    spans = table[["range_estimate", "range_low", "range_high"]].to_numpy(float)
    rows = (table["n_with"] + table["n_without"]).to_numpy(float)
    needed = count_needed(spans, rows, worth, z_to_stand_out(*count_tests(table)))
    table["needed"] = np.where(table["verdict"].eq("cannot_tell_yet"), needed, np.nan)
    return table


def worths(effects: pd.DataFrame, worth_noticing_mg_dl: float) -> np.ndarray:
    """What is worth noticing of each row's outcome, in its unit, shape (n,)."""
    return np.array([worth_noticing(name, worth_noticing_mg_dl) for name in effects["outcome"]])


def count_tests(effects: pd.DataFrame) -> tuple[int, int]:
    """How many tests the family has, and how many of them are clear."""
    tested = effects[is_leading(effects)]
    smallest = tested.groupby(["factor", tested["outcome"].map(KIND_OF)])["q_value"].min()
    return int(smallest.notna().sum()), int(smallest.le(CLAIM_Q).sum())


def z_to_stand_out(asked: int, clear: float) -> float:
    """How many standard errors from zero one more claim must be, so many being asked (Benjamini-Hochberg)."""
    return max(Z, z_two_sided(CLAIM_Q * (clear + 1) / max(asked, 1)))


def count_needed(spans: np.ndarray, n: np.ndarray, worth: np.ndarray, z: float) -> np.ndarray:
    """How many more days or occasions until a question could be answered, NaN where none under 200 would do.

    If the estimate stayed where it is: until the interval lies within what is worth noticing, or until it stands
    out, whichever comes first. Widths shrink with the root of the number.

    Parameters
    ----------
    spans : array, shape (n, 3)
        Estimate, low and high.
    n, worth : array, shape (n,)
        Rows so far; what is worth noticing.
    z : float
        Standard errors from zero at which a question stands out.
    """
    half, size = (spans[:, 2] - spans[:, 1]) / 2, np.abs(spans[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        more = np.ceil(n * ((half / np.maximum(worth - size, size * Z / z)) ** 2 - 1))
    return np.where(more <= MOST_NEEDED, np.maximum(more, 1), np.nan)


def _adjust(table: pd.DataFrame) -> np.ndarray:
    test, _ = pd.factorize(table["factor"] + "\n" + table["outcome"].map(KIND_OF))
    return adjust_by_factor(table["p_value"].to_numpy(float), test, is_leading(table))

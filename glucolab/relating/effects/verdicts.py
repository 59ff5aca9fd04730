"""Which effects are clear? q by factor, verdicts over the wearer's own range, and what is still needed."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from glucolab.intervals import Z, z_two_sided
from glucolab.relating.effects.questions import KIND_OF, is_leading, weigh
from glucolab.relating.statistics.claims import (
    CLAIM_Q,
    LOOKS,
    adjust_by_factor,
    decide_verdict,
    share_weights,
    worth_noticing,
)
from glucolab.relating.statistics.permutation import N_ORDERS

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
    The file is one family of tests, which a factor enters once for glucose, once for sleep and once for feelings; what
    is likely before weighs more. q counts that the file is asked anew after every wear.
    """
    table = table.assign(q_value=_adjust(table))
    worth = worths(table, worth_noticing_mg_dl)
    ends = zip(table["range_low"], table["range_high"], worth, table["q_value"], strict=True)
    table["verdict"] = [decide_verdict(*row) for row in ends]
    spans = table[["range_estimate", "range_low", "range_high"]].to_numpy(float)
    rows = (table["n_with"] + table["n_without"]).to_numpy(float)
    needed = count_needed(spans, rows, worth, z_to_stand_out(*count_tests(table), share_of_tests(table)))
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


def share_of_tests(effects: pd.DataFrame) -> np.ndarray:
    """What each row's factor weighs among the tests, 1 on average over them, shape (n,)."""
    kind = effects["outcome"].map(KIND_OF)
    first = effects["q_value"].notna() & ~effects["factor"].add(kind).duplicated()
    return share_weights(weigh(effects), is_leading(effects) & first.to_numpy(bool))


def leading_beside(effects: pd.DataFrame) -> np.ndarray:
    """How many questions lead each row's factor into the family, of which the row must be clear, shape (n,)."""
    leads = pd.Series(is_leading(effects) & effects["q_value"].notna().to_numpy(), index=effects.index)
    return (
        leads.groupby([effects["factor"], effects["outcome"].map(KIND_OF)]).transform("sum").to_numpy(float).clip(1.0)
    )


def z_to_stand_out(asked: int, clear: np.ndarray | int, weight: np.ndarray | float = 1.0) -> np.ndarray:
    """How many standard errors from zero one more claim must be, so many being asked at each look (`adjust_by_factor`).

    Parameters
    ----------
    asked : int
        Tests.
    clear : array, shape (n,), or int
        Of them clear already.
    weight : array, shape (n,), or float
        Of the one more, 1 on average over the tests.
    """
    return np.maximum(Z, z_two_sided(level_to_stand_out(asked, clear, weight)))


def level_to_stand_out(asked: int, clear: np.ndarray | int, weight: np.ndarray | float = 1.0) -> np.ndarray:
    """The p-value at which one more is a claim; parameters as of :func:`z_to_stand_out`."""
    return np.asarray(CLAIM_Q / LOOKS * weight * (clear + 1) / max(asked, 1))


def errors_to_stand_out(level: np.ndarray, df: np.ndarray) -> np.ndarray:
    """Standard errors from zero at which the p of so many permutations is under a level as often as not, shape (n,).

    Parameters
    ----------
    level : array, shape (n,)
        Of p. A test of c permutations or fewer that are as extreme is under it, which is as likely as not where c + 2/3
        are to be expected (the median of a gamma distribution is its shape less a third). Where not even none would
        do, no finite distance does.
    df : array, shape (n,)
        Degrees of freedom: permutations of days have the tails of Student's t.
    """
    most = np.floor(level * (N_ORDERS + 1) + 1e-9) - 1
    p = np.maximum(most + 2 / 3, 0.5) / N_ORDERS
    return np.where(most >= 0, np.maximum(Z, -stdtrit(df, p / 2)), np.inf)


def count_needed(spans: np.ndarray, n: np.ndarray, worth: np.ndarray, z: np.ndarray) -> np.ndarray:
    """How many more days or occasions until a question could be answered, NaN where none under 200 would do.

    If the estimate stayed where it is: until the interval lies within what is worth noticing, or until it stands
    out, whichever comes first. Widths shrink with the root of the number.

    Parameters
    ----------
    spans : array, shape (n, 3)
        Estimate, low and high.
    n, worth : array, shape (n,)
        Rows so far; what is worth noticing.
    z : array, shape (n,) or ()
        Standard errors from zero at which a question stands out.
    """
    half, size = (spans[:, 2] - spans[:, 1]) / 2, np.abs(spans[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        more = np.ceil(n * ((half / np.maximum(worth - size, size * Z / z)) ** 2 - 1))
    return np.where(more <= MOST_NEEDED, np.maximum(more, 1), np.nan)


def _adjust(table: pd.DataFrame) -> np.ndarray:
    test, _ = pd.factorize(table["factor"] + "\n" + table["outcome"].map(KIND_OF))
    p_values = np.minimum(LOOKS * table["p_value"].to_numpy(float), 1.0)
    return adjust_by_factor(p_values, test, is_leading(table), weigh(table))

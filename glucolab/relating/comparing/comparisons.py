"""Did it change? Every pair of periods: the difference with its three errors, and what else changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import pandas as pd
from scipy.special import stdtr

from glucolab.aligning.bias_posterior import Bias
from glucolab.intervals import Z, effective_df, half_width, normal_half_width, t_quantile
from glucolab.measuring.time_of_day import BLOCKS, block_shapes
from glucolab.record.study_outputs import BLOCK_CHANGES, COMPARISONS
from glucolab.relating.comparing.periods import Measured, Period
from glucolab.relating.statistics.claims import decide_verdict

LEAST_BLOCK_DAYS = 4
"""Days with all four blocks that each period needs before one is named [days]; assumed. Fewer rest the variance on
chance, more answer "unclear" too often."""
MOST_CHECKS = 40
"""Finger-sticks up to which `checks_needed` is looked for [1]; the contract's. More advises what nobody does, fewer
calls precision out of reach that is not."""
_UNKNOWN = np.full(4, np.nan)
"""For the four blocks of a period with too few such days. [mg/dL]"""
_CIRCUMSTANCES = {"sensor model": "sensor_model", "meter": "meter", "site": "site", "time zone": "zones"}
"""Words of `changed`, and the field of a wear."""


def compare_periods(
    periods: Sequence[Period], wears: Sequence[Measured], bias: Bias, worth_noticing_mg_dl: float
) -> pd.DataFrame:
    """``comparisons.csv``: every pair of one level, the later minus the earlier.

    Notes
    -----
    What the sensors share (model, meter, a side-by-side wear) cancels in the difference through
    the joint covariance of their biases. Days and hours are each period's own. Sensors worn at
    once lived through the same days: the true difference is zero, so none is claimed.
    """
    rows: list[dict[str, object]] = []
    for level in ("wear", "stretch"):
        mine = [_Side.of(p, wears) for p in periods if p.level == level]
        mine.sort(key=lambda side: side.wears[0].start)
        rows.extend(_compare(*pair, bias, worth_noticing_mg_dl) for pair in combinations(mine, 2))
    return pd.DataFrame(rows, columns=COMPARISONS.names)


def compare_blocks(periods: Sequence[Period], wears: Sequence[Measured], bias: Bias) -> pd.DataFrame:
    """``block_changes.csv``: how each quarter of the day changed from every wear to the next.

    The change of the usual mean, and by how much more or less these hours moved than the whole day. The interval adds
    both variances, and what the two sensors may differ by at these hours.

    Notes
    -----
    No row where the wears were worn at once, or where one of them has under four days with all four blocks.
    """
    sides = sorted((_Side.of(p, wears) for p in periods if p.level == "wear"), key=lambda side: side.wears[0].start)
    rows: list[dict[str, object]] = []
    for a, b in pairwise(sides):
        if not _overlap(a, b) and min(a.block_days, b.block_days) >= LEAST_BLOCK_DAYS:
            rows.extend(_block_rows(a, b, bias))
    return pd.DataFrame(rows, columns=BLOCK_CHANGES.names)


def _block_rows(a: _Side, b: _Side, bias: Bias) -> list[dict[str, object]]:
    contrast = b.period.weights - a.period.weights
    days = a.period.days_var + b.period.days_var
    whole = bias.variance_of(contrast) + a.period.hours_var + b.period.hours_var
    df = effective_df([a.period.days_var, b.period.days_var], [a.period.df, b.period.df])
    changes = b.period.usual_mg_dl - a.period.usual_mg_dl + b.blocks - a.blocks
    sensors = bias.hour_variances_of(contrast, block_shapes())
    rows = []
    for i, block in enumerate(BLOCKS):
        variances = [days, a.blocks_var[i], b.blocks_var[i], whole + sensors[i]]
        half = half_width(variances, [df, a.block_days - 1, b.block_days - 1, np.inf])
        ends = dict(
            zip(("change_mg_dl", "low_mg_dl", "high_mg_dl"), changes[i] + half * np.array([0, -1, 1]), strict=True)
        )
        rows.append({"period_a": a.period.name, "period_b": b.period.name, "block": block, **ends})
    return rows


@dataclass(frozen=True, eq=False)
class _Side:
    """A period with what its comparisons ask of it again and again.

    Attributes
    ----------
    period : Period
    wears : tuple of Measured
    block_days : int
        Days with all four blocks.
    blocks, blocks_var : numpy.ndarray, shape (4,)
        Mean over them of each block minus the mean of the day's four, free of the sensor's offset, and its variance;
        NaN for too few.
    circumstances : dict of str to set
        What may differ between two periods beside the life in them.
    """

    period: Period
    wears: tuple[Measured, ...]
    block_days: int
    blocks: np.ndarray
    blocks_var: np.ndarray
    circumstances: dict[str, set[object]]

    @classmethod
    def of(cls, period: Period, wears: Sequence[Measured]) -> _Side:
        mine = tuple(wears[i] for i in period.members)
        blocks = np.vstack([one.figures.blocks for one in mine])
        whole = blocks[~np.isnan(blocks).any(axis=1)]
        apart, n = whole - whole.mean(axis=1, keepdims=True), len(whole)
        mean, var = (apart.mean(axis=0), apart.var(axis=0, ddof=1) / n) if n >= LEAST_BLOCK_DAYS else (_UNKNOWN,) * 2
        circumstances: dict[str, set[object]] = {"sampling interval": {one.interval_min for one in mine}}
        circumstances |= {word: {getattr(one.wear, field) for one in mine} for word, field in _CIRCUMSTANCES.items()}
        return cls(period, mine, n, mean, var, circumstances)


def _overlap(first: _Side, second: _Side) -> bool:
    """True if a wear of the one was worn while one of the other was."""
    return any(x.start < y.end and y.start < x.end for x in first.wears for y in second.wears)


def _compare(first: _Side, second: _Side, bias: Bias, worth: float) -> dict[str, object]:
    a, b = first.period, second.period
    overlapping = _overlap(first, second)
    difference = b.usual_mg_dl - a.usual_mg_dl
    contrast = b.weights - a.weights
    sensor = bias.variance_of(contrast)
    days, hours = a.days_var + b.days_var, a.hours_var + b.hours_var
    df = effective_df([a.days_var, b.days_var], [a.df, b.df]) if np.isfinite(days) else np.nan
    total = days + hours + sensor
    half = half_width([days, hours + sensor], [df, np.inf])
    if not np.isfinite(total):
        verdict = "not_enough_data"
    elif overlapping:
        verdict = "cannot_tell_yet"
    else:
        verdict = decide_verdict(difference - half, difference + half, worth)
    together = effective_df([days, hours + sensor], [df, np.inf]) if np.isfinite(total) else np.nan
    return {
        "level": a.level,
        "period_a": a.name,
        "period_b": b.name,
        "relation": "overlapping" if overlapping else "later",
        "difference_mg_dl": difference,
        "low_mg_dl": difference - half,
        "high_mg_dl": difference + half,
        "probability_lower": float(stdtr(together, -difference / np.sqrt(total))) if np.isfinite(total) else np.nan,
        "verdict": verdict,
        "largest_block": "unclear" if overlapping else _largest_block(first, second, difference, bias),
        "share_days": days / total,
        "share_hours": hours / total,
        "share_sensor": sensor / total,
        "checks_needed": np.nan if overlapping else _checks_needed(contrast, bias, days + hours, half, worth),
        "changed": ";".join(word for word, of in first.circumstances.items() if of != second.circumstances[word]),
    }


def _largest_block(a: _Side, b: _Side, difference: float, bias: Bias) -> str:
    """The block that moved further than the others in the direction of the change, or unclear.

    What sensors of two models show by the hour differs without any change in blood.
    """
    n = min(a.block_days, b.block_days)
    if n < LEAST_BLOCK_DAYS or not np.isfinite(difference):
        return "unclear"
    sensors = bias.hour_variances_of(b.period.weights - a.period.weights, block_shapes())
    moved, se = (b.blocks - a.blocks) * np.sign(difference), np.sqrt(a.blocks_var + b.blocks_var + sensors)
    best = int(np.argmax(moved))
    # four blocks are looked at, so the limit is that of the largest of four
    limit = float(t_quantile(n - 1, tests=len(BLOCKS)))
    return BLOCKS[best] if moved[best] > limit * se[best] else "unclear"


def _checks_needed(contrast: np.ndarray, bias: Bias, other_var: float, half: float, worth: float) -> float:
    """More checks in each wear of the pair until the half-width falls under what is worth noticing.

    NaN where it already is, where over 40 would be needed, or where days, hours or the meter alone
    are too much for it.
    """
    if not np.isfinite(half) or half <= worth or normal_half_width(other_var) >= worth:
        return np.nan
    variances = bias.offset_variances(contrast, np.flatnonzero(contrast).tolist(), range(1, MOST_CHECKS + 1))
    enough = np.flatnonzero(Z * np.sqrt(variances + other_var) <= worth)
    return float(enough[0] + 1) if len(enough) else np.nan

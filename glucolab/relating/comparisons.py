"""Did it change? Every pair of periods: the difference with its three errors, and what else changed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from glucolab.aligning.bias import Bias
from glucolab.measuring.blocks import BLOCKS
from glucolab.record.study_outputs import COMPARISONS
from glucolab.relating.periods import Measured, Period, t_half
from glucolab.relating.verdicts import decide_verdict

LEAST_BLOCK_DAYS = 4
MOST_CHECKS = 40


def compare_periods(
    periods: Sequence[Period], wears: Sequence[Measured], bias: Bias, worth_noticing_mg_dl: float
) -> pd.DataFrame:
    """``comparisons.csv``: every pair of one level, the later minus the earlier.

    Notes
    -----
    What the sensors share (model, meter, a side-by-side wear) cancels in the difference through
    the joint covariance of their biases. Days and hours are each period's own. Sensors worn at
    once lived through the same days: the true difference is nil, so none is claimed.
    """
    rows: list[dict] = []
    for level in ("wear", "stretch"):
        mine = [p for p in periods if p.level == level]
        mine.sort(key=lambda p: wears[p.members[0]].start)
        for i, a in enumerate(mine):
            rows.extend(_compare(a, b, wears, bias, worth_noticing_mg_dl) for b in mine[i + 1 :])
    return pd.DataFrame(rows, columns=COMPARISONS.names)


def _compare(a: Period, b: Period, wears: Sequence[Measured], bias: Bias, worth: float) -> dict:
    first, second = ([wears[i] for i in p.members] for p in (a, b))
    overlapping = any(x.start < y.end and y.start < x.end for x in first for y in second)
    difference = b.usual_mg_dl - a.usual_mg_dl
    contrast = b.weights - a.weights
    sensor = float(contrast @ bias.offset_covariance @ contrast)
    days, hours = a.days_var + b.days_var, a.hours_var + b.hours_var
    df = days**2 / (a.days_var**2 / a.df + b.days_var**2 / b.df) if np.isfinite(days) else np.nan
    total = days + hours + sensor
    half = t_half(days, df, hours + sensor)
    if not np.isfinite(total):
        verdict = "not_enough_data"
    elif overlapping:
        verdict = "cannot_tell_yet"
    else:
        verdict = decide_verdict(difference - half, difference + half, worth)
    together = min(total**2 / max(days**2 / df, 1e-12), 1e6) if np.isfinite(total) else np.nan
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
        "largest_block": "unclear" if overlapping else _largest_block(first, second, difference),
        "share_days": days / total,
        "share_hours": hours / total,
        "share_sensor": sensor / total,
        "checks_needed": np.nan if overlapping else _checks_needed(contrast, bias, days + hours, half, worth),
        "changed": ";".join(_changed(first, second)),
    }


def _changed(first: Sequence[Measured], second: Sequence[Measured]) -> list[str]:
    """What else differs between two periods, as far as their folders say."""
    out = []
    before, after = ({m.interval_min for m in period} for period in (first, second))
    if before != after:
        out.append("sampling interval")
    for word, field in (("sensor model", "sensor_model"), ("meter", "meter"), ("site", "site"), ("time zone", "zones")):
        before, after = ({getattr(m.wear, field) for m in period} for period in (first, second))
        if before != after:
            out.append(word)
    return out


def _block_contrasts(wears: Sequence[Measured]) -> np.ndarray:
    """Each day's blocks minus the mean of its four, days complete only, shape (days, 4): free of bias."""
    blocks = np.vstack([m.figures.blocks for m in wears])
    whole = blocks[~np.isnan(blocks).any(axis=1)]
    return whole - whole.mean(axis=1, keepdims=True)


def _largest_block(first: Sequence[Measured], second: Sequence[Measured], difference: float) -> str:
    """The block that moved further than the others in the direction of the change, or unclear."""
    a, b = _block_contrasts(first), _block_contrasts(second)
    if min(len(a), len(b)) < LEAST_BLOCK_DAYS or not np.isfinite(difference):
        return "unclear"
    moved = (b.mean(axis=0) - a.mean(axis=0)) * np.sign(difference)
    se = np.sqrt(a.var(axis=0, ddof=1) / len(a) + b.var(axis=0, ddof=1) / len(b))
    best = int(np.argmax(moved))
    # four blocks are looked at, so the limit is that of the largest of four
    limit = float(stdtrit(min(len(a), len(b)) - 1, 1 - 0.05 / 4))
    return BLOCKS[best] if moved[best] > limit * se[best] else "unclear"


def _checks_needed(contrast: np.ndarray, bias: Bias, other_var: float, half: float, worth: float) -> float:
    """More checks in each wear of the pair until the half-width falls under what is worth noticing.

    NaN where it already is, where over 40 would be needed, or where days, hours or the meter alone
    are too much for it.
    """
    if not np.isfinite(half) or half <= worth or 1.645 * np.sqrt(other_var) >= worth:
        return np.nan
    variances = bias.offset_variances(contrast, np.flatnonzero(contrast).tolist(), range(1, MOST_CHECKS + 1))
    enough = np.flatnonzero(1.645 * np.sqrt(variances + other_var) <= worth)
    return float(enough[0] + 1) if len(enough) else np.nan

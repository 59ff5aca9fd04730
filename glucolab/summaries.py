"""What goes into summary.json? A wear's and a study's figures under the contract's names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from glucolab.aligning.trace_record import Trace
from glucolab.cleaning.clean import CleanRecord
from glucolab.errors import Problem
from glucolab.intervals import Estimate, as_estimate, normal_half_width
from glucolab.measuring.whole_wear import OF_WHOLE_WEARS, SHARES, WearFigures
from glucolab.record import FLAGS, GAP_KINDS, Study, WearPeriod

CONTRACT = 3
"""Which file contract the summaries follow, for programs that read them; it moves no figure. [number]"""
NO_TRACE = "Too few readings can be used to estimate blood glucose at all."
NEXT_FILES = {
    "checks": "a few finger-sticks tell how far this sensor reads from blood, the largest part of the uncertainty",
    "meals": "with meals logged, rises can be set beside what was eaten",
    "sleep": "with sleep logged, nights are judged by sleep and not by the clock",
    "activity": "with activity logged, rises from exercise are told apart from others",
    "days": "with stress, caffeine and the like noted by day, days can be compared",
    "feelings": "with energy noted at times, it can be set beside glucose",
}
ENOUGH_CHECKS = 6
"""With fewer, finger-sticks are advised first: on invented wears six leave a third of the raw mean's error, twelve a
quarter. Too small, the sensor's bias still rules the interval; it moves advice, no figure. [checks]"""


def summarise_wear(
    wear: WearPeriod,
    clean: CleanRecord,
    trace: Trace,
    figures: WearFigures,
    tables: Mapping[str, pd.DataFrame],
    ill_days: int,
    log_clock: tuple[Estimate | None, str],
    cautions: Sequence[str],
) -> dict[str, Any]:
    """``summary.json`` of a wear, every key of the contract present."""
    withheld = dict(figures.withheld)
    known = np.isfinite(trace.level_mg_dl)
    if not known:
        withheld |= dict.fromkeys(("lag_min", "bias_mg_dl", *withheld), NO_TRACE)
    if log_clock[0] is None:
        withheld["log_clock_min"] = log_clock[1]
    next_file, why = choose_next_file(wear, len(trace.checks))
    of_wear = {name: figures.estimates.get(name) for name in OF_WHOLE_WEARS} | {SHARES: figures.shares}
    return {
        "contract": CONTRACT,
        "wear": wear.name,
        "unit": "mg/dL",
        "state": "running" if wear.running else "ended",
        "coverage": clean.coverage,
        "days": (clean.end - clean.start).total_seconds() / 86400,
        "readings": len(clean.readings),
        "readings_used": int((~clean.readings["excluded"]).sum()),
        "mean": of_wear.pop("mean"),
        "ill_days": ill_days,
        **of_wear,
        "lag_min": as_estimate(*trace.lag.interval()) if known else None,
        "bias_mg_dl": _bias_estimate(trace) if known else None,
        "log_clock_min": log_clock[0],
        "checks_used": len(trace.checks),
        "checks_doubted": [f"checks.csv:{int(line)}" for line in trace.doubted_checks],
        "flag_minutes": {flag: union_minutes(clean.spans[clean.spans["flag"] == flag]) for flag in FLAGS},
        "gap_minutes": {kind: float(clean.gaps.loc[clean.gaps["kind"] == kind, "minutes"].sum()) for kind in GAP_KINDS},
        "next_file": next_file,
        "next_file_why": why,
        "withheld": withheld,
        "cautions": list(cautions),
    }


def choose_next_file(wear: WearPeriod, checks_used: int) -> tuple[str | None, str | None]:
    """The one missing table that would tell most, and why; none where all are there."""
    for name, why in NEXT_FILES.items():
        if not wear.has(name) or (name == "checks" and checks_used < ENOUGH_CHECKS):
            return f"{name}.csv", why
    return None, None


def _bias_estimate(trace: Trace) -> Estimate:
    centre, half = float(trace.bias.offsets[0]), normal_half_width(trace.bias.offset_covariance[0, 0])
    return as_estimate(centre, centre - half, centre + half)


def union_minutes(spans: pd.DataFrame) -> float:
    """Time under any of the spans, overlaps counted once. [min]"""
    if not len(spans):
        return 0.0
    starts, ends = (pd.DatetimeIndex(spans[side]).as_unit("us").asi8 / 60e6 for side in ("start", "end"))
    order = np.argsort(starts)
    reached = np.maximum.accumulate(ends[order])
    begins = np.maximum(starts[order], np.r_[-np.inf, reached[:-1]])
    return float(np.clip(reached - begins, 0, None).sum())


def summarise_study(
    study: Study,
    trend: Estimate | None,
    withheld: Mapping[str, str],
    cautions: Sequence[str],
    problems: Sequence[Problem],
    versions: Mapping[str, str],
) -> dict[str, Any]:
    """``study/summary.json``, every key of the contract present."""
    goal = study.goal
    shown = None
    if goal.mean_mg_dl is not None and not study.person.describe_only:
        shown = {
            "mean_mg_dl": goal.mean_mg_dl,
            "start": goal.start.isoformat() if goal.start else None,
            "by": goal.by.isoformat() if goal.by else None,
            "worth_noticing_mg_dl": goal.worth_noticing_mg_dl,
        }
    return {
        "contract": CONTRACT,
        "goal": shown,
        "trend": trend,
        "versions": dict(versions),
        "input_hashes": dict(study.input_hashes),
        "problems": [str(problem) for problem in problems],
        "withheld": dict(withheld),
        "cautions": list(cautions),
    }

"""Do experiments that are looked at after every date keep their error? python -m tests.known_truth.looks."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from glucolab.intervals import CONFIDENCE
from glucolab.relating.planning.trial_design import draw_trial_dates, judge_pairs, toss_values
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.relating.trials.looks import first_stop
from glucolab.relating.trials.results import compare_trial_arms
from tests.known_truth.table import as_text
from tests.known_truth.tables_page import write_looks

SPREAD_MG_DL = 16.0
"""Of the rise between eatings of one dish. [mg/dL]"""
ARMS = ("rest", "walk")
NEAR = 0.13
"""p at the end, of ways drawn at random, above which the table of results surely claims nothing. [1]"""
FIRST = pd.Timestamp("2026-03-01")

Noise = Callable[[np.random.Generator, int], np.ndarray]
Case = tuple[str, int, float, float]


def _autocorrelated(rng: np.random.Generator, n: int) -> np.ndarray:
    noise = rng.standard_normal(n)
    for i in range(1, n):
        noise[i] = 0.7 * noise[i - 1] + np.sqrt(1 - 0.7**2) * noise[i]
    return noise


NOISES: dict[str, Noise] = {
    "normal": lambda rng, n: rng.standard_normal(n),
    "skewed": lambda rng, n: (np.exp(rng.standard_normal(n)) - np.exp(0.5)) / np.sqrt((np.e - 1) * np.e),
    "heavy-tailed": lambda rng, n: rng.standard_t(2, n) / 1.6,
    "alike from day to day": _autocorrelated,
    "rising over the wear": lambda rng, n: 0.5 * rng.standard_normal(n) + np.linspace(-1.5, 1.5, n),
}
"""What differs from eating to eating, in spreads: SD 1 but for the heavy tails (t of two degrees has none)."""

CASES = [
    *((name, pairs, 0.0, 1.0) for name in NOISES for pairs in (7, 14)),
    ("normal", 14, 0.0, 0.75),
    *(("normal", pairs, effect, 1.0) for effect in (1.0, 2.0) for pairs in (7, 10, 14)),
    *((name, 14, 1.0, 1.0) for name in ("skewed", "heavy-tailed", "alike from day to day")),
    ("normal", 14, 1.0, 0.75),
]
"""Noise, pairs planned, true difference in spreads, and the share of dates that can be judged."""


def live(rng: np.random.Generator, case: Case) -> tuple[pd.DataFrame, np.ndarray]:
    """An experiment that was planned and lived to its end: its dates as ``trial_dates.csv`` has them with ``at``, and
    its rises by pair and arm, shape (pairs, 2).
    """
    name, pairs, effect, usable = case
    free = pd.date_range(FIRST, periods=2 * pairs, freq="D")
    dates = draw_trial_dates(free, ARMS, pairs, int(rng.integers(2**31)))
    second = (dates["arm"] == ARMS[1]).to_numpy()
    rise = 45 + SPREAD_MG_DL * (NOISES[name](rng, len(dates)) + effect * second)
    judged = rng.random(len(dates)) < usable
    rise[~judged] = np.nan
    lived = dates.assign(
        trial="walk", dish="rice", wear="wear", used=judged, reason=np.where(judged, "", "gap"),
        at=dates["date"].dt.tz_localize("UTC"), rise_mg_dl=rise, iauc_2h_mg_dl_min=65 * rise,
    )  # fmt: skip
    by_arm = rise.reshape(-1, 2)[np.arange(pairs)[:, None], second.reshape(-1, 2).argsort(axis=1)]
    return lived, by_arm


def claim_at_end(dates: pd.DataFrame) -> bool:
    """Whether the table of results claims something once all dates are over."""
    return compare_trial_arms(dates, 3.0)["verdict"].iloc[0] in CLAIMS


def summarise(case: Case, trials: int) -> dict[str, object]:
    """A row of the table: many experiments of one kind, looked at whenever a pair is over."""
    name, pairs, effect, usable = case
    lived = [live(np.random.default_rng([seed, CASES.index(case)]), case) for seed in range(trials)]
    values = np.stack([by_arm for _, by_arm in lived])
    rng = np.random.default_rng(1)
    p_values = np.array([judge_pairs(values[:, :over], rng) for over in range(1, pairs + 1)])
    exact = p_values <= 1 - CONFIDENCE + 1e-9
    stop = first_stop(toss_values(values).T)
    claimed = [
        after <= pairs or (p_value <= NEAR and claim_at_end(dates))
        for after, p_value, (dates, _) in zip(stop, p_values[-1], lived, strict=True)
    ]
    return {
        "kind": name,
        "pairs": pairs,
        "effect": effect,
        "usable": usable,
        "n": trials,
        "stopped": np.mean(stop <= pairs),
        "claimed": np.mean(claimed),
        "exact": exact[-1].mean(),
        "naive": exact.any(axis=0).mean(),
        "saved": np.where(stop <= pairs, 1 - stop / pairs, 0.0).mean(),
    }


def main(arguments: list[str] | None = None) -> int:
    """Print how often experiments that were looked at after every date claim something, and what they save."""
    parser = argparse.ArgumentParser(prog="python -m tests.known_truth.looks", description=__doc__)
    parser.add_argument("--trials", type=int, default=400)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--into", type=Path, help="also print the table into its page in this folder")
    asked = parser.parse_args(arguments)
    rows = Parallel(n_jobs=asked.jobs)(delayed(summarise)(case, asked.trials) for case in CASES)
    table = pd.DataFrame(rows)
    print(as_text(table))
    if asked.into:
        write_looks(asked.into, table)
    return 0


if __name__ == "__main__":
    sys.exit(main())

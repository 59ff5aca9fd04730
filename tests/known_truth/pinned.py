"""How wide, how biased, how often right? Each figure's calibration on a few fixed seeds, kept to be compared with.

A mean width over fixed seeds is no chance result: an interval cut or grown by a two-hundredth is seen, while its hold
of nine in ten could not change noticeably in so few wears. `python -m tests.known_truth --pin` writes the table anew;
the difference is read, and its cause belongs in CHANGELOG.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from tests.known_truth.table import run, summarise_figures, summarise_flags

PINNED = Path(__file__).parent / "pinned.csv"
SEED = 1000
WEARS = {"6 checks": 6, "no checks": 6, "missed nights": 6, "15 min": 3, "soft pressure": 3, "heavy, slow noise": 3}
UNCHANGED, LOWER = "no change, 6 checks", "12 lower, 12 checks"
STUDIES = {UNCHANGED: 8, LOWER: 4, "six wears": 1, "habits together": 1}
"""How many of each kind; the same ones serve the tests of calibration."""
COLUMNS = ["kind", "figure", "n", "bias", "width", "hold"]
TOLERANCE = 0.005
"""Of a width, and of a bias in widths; floating point of another machine moves them by less than a thousandth."""


@cache
def run_kind(kind: str) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Figures, flags and claims of the few wears or studies of one kind; made once."""
    return run([kind], (WEARS | STUDIES)[kind], 1, SEED)


def run_few() -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Figures, flags and claims of all of them."""
    parts = [run_kind(kind) for kind in WEARS | STUDIES]
    return tuple(pd.concat([t for t in tables if len(t)], ignore_index=True) for tables in zip(*parts, strict=True))  # type: ignore[return-value]


def tabulate(figures: pd.DataFrame, flags: pd.DataFrame, claims: pd.DataFrame) -> pd.DataFrame:
    """A row a kind and figure as `COLUMNS`; for flags recall stands as bias, precision as width, lost as hold."""
    of_figures = summarise_figures(figures)[COLUMNS]
    judged = claims[claims["what"] != "difference"].dropna(subset=["low", "high"])  # a figure already
    middle = (judged["low"] + judged["high"]) / 2
    judged = judged.assign(
        bias=middle - judged["truth"], width=judged["high"] - judged["low"],
        hold=judged["truth"].between(judged["low"], judged["high"]).astype(float),
    )  # fmt: skip
    of_claims = judged.groupby(["kind", "what"], sort=False).agg(
        n=("width", "size"), bias=("bias", "mean"), width=("width", "mean"), hold=("hold", "mean")
    )
    of_claims = of_claims.reset_index().rename(columns={"what": "figure"})
    of_flags = summarise_flags(flags).rename(
        columns={"flag": "figure", "true": "n", "recall": "bias", "precision": "width", "lost": "hold"}
    )
    of_flags = of_flags.assign(figure="flag " + of_flags["figure"])
    return pd.concat([part[COLUMNS] for part in (of_figures, of_claims, of_flags)], ignore_index=True)


def read_pinned() -> pd.DataFrame:
    """The table that is kept."""
    return pd.read_csv(PINNED)


def write_pinned(table: pd.DataFrame) -> None:
    """Keep a table, to six digits."""
    table.to_csv(PINNED, index=False, float_format="%.6g")


def find_differences(kept: pd.DataFrame, found: pd.DataFrame) -> list[str]:
    """What differs by more than `TOLERANCE`, in words."""
    both = kept.merge(found, on=["kind", "figure"], how="outer", suffixes=("", "_found"), indicator="where")
    said = [f"{row.kind}, {row.figure}: only in {row.where}" for row in both[both["where"] != "both"].itertuples()]
    both = both[both["where"] == "both"]
    scale = both["width"].where(both["width"] > 0, both["bias"].abs()).fillna(both["bias"].abs())
    checks = {
        "n": (both["n"] - both["n_found"]).abs() > 0.01 * both["n"],
        "width": (both["width"] - both["width_found"]).abs() > TOLERANCE * both["width"].abs() + 1e-9,
        "bias": (both["bias"] - both["bias_found"]).abs() > TOLERANCE * scale + 1e-9,
        "hold": (both["hold"] - both["hold_found"]).abs() > 1.5 / both["n"].clip(lower=1),
    }
    for name, wrong in checks.items():
        wrong = wrong | (both[name].isna() != both[f"{name}_found"].isna())
        said += [
            f"{row.kind}, {row.figure}: {name} {getattr(row, f'{name}_found'):.5g} instead of {getattr(row, name):.5g}"
            for row in both[wrong].itertuples()
        ]
    return said


def summarise(differences: list[str]) -> str:
    """The first of many, for a message."""
    more = len(differences) - 20
    return "\n".join(differences[:20] + ([f"and {more} more"] if more > 0 else []))


def as_wide_as(table: pd.DataFrame, by: float) -> pd.DataFrame:
    """A table whose widths are `by` times as large, to try the comparison itself."""
    return table.assign(width=np.where(table["figure"].str.startswith("flag "), table["width"], table["width"] * by))

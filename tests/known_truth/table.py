"""What does it come to? Bias, error ratio, hold and width a figure and kind; recall, precision and claims."""

from __future__ import annotations

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from tests.known_truth.kinds import NOTHING_WORKS, STUDIES, WEARS
from tests.known_truth.scoring import CLAIMS, FIGURE_COLUMNS, score_study, score_wear

NIL = 1e-9
CLAIM_COLUMNS = ["study", "kind", "what", "truth", "low", "high", "verdict"]
FLAG_COLUMNS = ["kind", "flag", "true", "flagged", "both", "faulty"]


def run(kinds: list[str], n: int, jobs: int, first_seed: int = 0) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Figures, flags and claims of `n` invented wears or studies of each kind; seeds are fixed."""
    tasks = [(kind, first_seed + i) for kind in kinds for i in range(n)]
    done = Parallel(n_jobs=jobs)(delayed(_one)(kind, seed) for kind, seed in tasks)
    figures = [row for found, _, _ in done for row in found]
    flags = [row for _, found, _ in done for row in found]
    claims = [row for _, _, found in done for row in found]
    return (
        pd.DataFrame(figures, columns=FIGURE_COLUMNS),
        pd.DataFrame(flags, columns=FLAG_COLUMNS),
        pd.DataFrame(claims, columns=CLAIM_COLUMNS),
    )


def _one(kind: str, seed: int) -> tuple[list, list, list]:
    rng = np.random.default_rng([seed, sum(kind.encode())])
    if kind in WEARS:
        figures, flags = score_wear(kind, WEARS[kind](rng))
        return figures, flags, []
    figures, claims = score_study(kind, STUDIES[kind](rng))
    return figures, [], [(seed, *row) for row in claims]


def summarise_figures(figures: pd.DataFrame) -> pd.DataFrame:
    """kind, figure, n, withheld, bias, rmse, ratio (to the naive figure's), hold (of 90 % intervals), width."""
    rows = []
    for (kind, figure), mine in figures.groupby(["kind", "figure"], sort=False):
        known = mine.dropna(subset=["truth", "estimate"])
        error, naive = known["estimate"] - known["truth"], known["naive"] - known["truth"]
        with_interval = known.dropna(subset=["low", "high"])
        held = with_interval["truth"].between(with_interval["low"], with_interval["high"])
        rows.append({
            "kind": kind, "figure": figure, "n": len(known), "withheld": int(mine["estimate"].isna().sum()),
            "bias": error.mean(), "rmse": _rms(error),
            "ratio": _rms(error) / _rms(naive) if naive.notna().any() else np.nan,
            "hold": held.mean(), "width": (with_interval["high"] - with_interval["low"]).mean(),
        })  # fmt: skip
    return pd.DataFrame(rows)


def summarise_flags(flags: pd.DataFrame) -> pd.DataFrame:
    """kind, flag, true (readings), recall, precision, faulty (share of the flagged that were wrong in any way).

    On the rows `lost`: the share of clean readings taken out.
    """
    total = flags.groupby(["kind", "flag"], sort=False)[["true", "flagged", "both", "faulty"]].sum().reset_index()
    lost = total["flag"] == "lost"
    total["recall"] = (total["both"] / total["true"]).where(~lost)
    total["precision"] = (total["both"] / total["flagged"]).where(~lost & (total["flagged"] > 0))
    total["faulty"] = (total["faulty"] / total["flagged"]).where(~lost)
    total["lost"] = (total["flagged"] / total["true"]).where(lost)
    return total[["kind", "flag", "true", "recall", "precision", "faulty", "lost"]]


def summarise_claims(claims: pd.DataFrame) -> pd.DataFrame:
    """kind, what, n, nil (where nothing is true), claimed_nil, claimed_real, wrong_way, hold.

    Effects pooled over the kinds in which they may be real, and apart where none is.
    """
    rows = []
    effects = claims[claims["what"].str.startswith("effect")]
    pooled = effects.assign(kind=effects["kind"].where(effects["kind"] == NOTHING_WORKS, "any with effects"))
    for (kind, what), mine in pooled.groupby(["kind", "what"], sort=False):
        made = mine["verdict"].isin(CLAIMS)
        nil = mine["truth"].abs() < NIL
        wrong = made & ~nil & ((mine["verdict"] == "higher") != (mine["truth"] > 0))
        rows.append({
            "kind": kind, "what": what, "n": len(mine), "nil": int(nil.sum()), "claimed_nil": made[nil].mean(),
            "claimed_real": made[~nil].mean(), "wrong_way": wrong[~nil].mean(),
            "hold": _held(mine).mean(),
        })  # fmt: skip
    return pd.DataFrame(rows)


def summarise_studies(figures: pd.DataFrame, claims: pd.DataFrame) -> pd.DataFrame:
    """A row a kind of study: what holds, and what is claimed though nothing is true.

    kind, studies; difference (hold), difference_nil (claimed where none is true); effects (hold of all together),
    effects_nil (claimed, of all that are nil), file_nil (studies in which any nil effect is claimed), false_share
    (of the claims of a study those that are nil, 0 where it claims nothing: what q bounds), wrong_way (claimed with
    the wrong sign, of all that are real); dish_rise, dish_pair (hold).
    """
    claims = claims.assign(
        held=_held(claims), made=claims["verdict"].isin(CLAIMS), nil=claims["truth"].abs() < NIL,
        effect=claims["what"].str.startswith("effect"),
    )  # fmt: skip
    figures = figures.assign(held=_held(figures))
    rows = []
    for kind, mine in claims.groupby("kind", sort=False):
        effects, differences = mine[mine["effect"]], mine[~mine["effect"]]
        nil, real = effects[effects["nil"]], effects[~effects["nil"]]
        dishes = figures[figures["kind"] == kind].groupby("figure")["held"].mean()
        rows.append({
            "kind": kind, "studies": mine["study"].nunique(),
            "difference": differences["held"].mean(),
            "difference_nil": differences.loc[differences["nil"], "made"].mean(),
            "effects": effects["held"].mean(), "effects_nil": nil["made"].mean(),
            "file_nil": nil.groupby("study")["made"].any().mean(),
            "false_share": effects[effects["made"]].groupby("study")["nil"].mean().sum() / mine["study"].nunique(),
            "wrong_way": (real["made"] & ((real["verdict"] == "higher") != (real["truth"] > 0))).mean(),
            "dish_rise": dishes.get("dish rise", np.nan), "dish_pair": dishes.get("dish pair", np.nan),
        })  # fmt: skip
    return pd.DataFrame(rows)


def _held(rows: pd.DataFrame) -> pd.Series:
    """1 where the interval holds the truth, 0 where not, NaN where there is none."""
    held = rows["truth"].between(rows["low"], rows["high"]).astype(float)
    return held.where(rows[["truth", "low", "high"]].notna().all(axis=1))


def as_text(table: pd.DataFrame) -> str:
    """The table in plain text, figures short."""
    return table.to_string(index=False, float_format=lambda v: f"{v:.3g}", na_rep="-")


def _rms(error: pd.Series) -> float:
    return float(np.sqrt(np.mean(np.square(error.dropna()))))

"""Which factors go with which outcomes? All questions, within wears, with the false discovery rate controlled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from glucolab.intervals import draw_toward, normal_half_width, widen
from glucolab.record.habit_outputs import EFFECTS
from glucolab.relating.effects.design import build_regression, rests_on_many
from glucolab.relating.effects.measurement_error import LOG_ERROR_LOG_SD, allow_for_errors, error_variance
from glucolab.relating.effects.own_range import OwnRange, own_range
from glucolab.relating.effects.questions import (
    ADJUSTED_FOR,
    ADJUSTED_FOR_BESIDES,
    AREA_PAIRS,
    FACTORS,
    HOURS,
    KIN,
    KIND_OF,
    OUTCOMES,
    PAIRS,
    Factor,
    Outcome,
    Pair,
    covariate_pairs,
    is_leading,
)
from glucolab.relating.effects.sensor_gain import allow_for_gains
from glucolab.relating.effects.verdicts import judge_effects
from glucolab.relating.observations.days_and_meals import (
    OF_THE_WEAR,
    gather_days,
    gather_meals,
    keep_once,
    within_wears,
)
from glucolab.relating.observations.meal_weights import expected_sizes
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.relating.statistics.fixed_effects import estimate_day_coefficient, estimate_meal_coefficient
from glucolab.relating.statistics.intercepts import first_rows_of_days
from glucolab.relating.statistics.permutation import N_ORDERS, deal_orders, permutation_p_value, restrict_orders

FEWEST_EACH = 5
"""Rows with, and rows without, below which nothing is estimated [1]; assumed. Fewer let two odd days make a contrast,
more leave rare habits unanswered."""
FEWEST_DAYS = 8
"""Days below which nothing is estimated [days]; assumed. Fewer give intervals of no use, more refuse short wears."""
FEWEST_DAYS_OF_PRODUCT = 3
"""Days with the yes or no part of a product [days]; assumed. A slope on one or two days is theirs alone; more leave
the product unanswered."""
MOST_STOOD = 3
"""Wears running beyond which `stood` is not counted further [wears]; assumed. More tell little and cost the time of as
many studies, fewer call a claim of years as new as one of a season."""
HOURS_SD, OTHER_HOURS = 0.1, 3
"""How responses differ from one part of the day to another beyond what is adjusted for, SD as a share of a usual one,
and how many parts the evening is set against [1]; assumed: breakfast, lunch and dinner are other dishes eaten in other
haste. Without it the evening's intervals held 0.80 of 40 invented years and 0.81 of 155 studies of the second family;
too large, the evening is never clear."""


def estimate_effects(wears: Sequence[WearTables], worth_noticing_mg_dl: float) -> pd.DataFrame:
    """What goes with what, each estimated within wears so that a sensor's bias drops out.

    Days without enough readings and days of illness are left out, meals whose two hours cannot be used
    too; what two sensors saw at once is counted once. Associations, not causes.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person; one wear alone is allowed.
    worth_noticing_mg_dl : float
        Smallest difference of a mean that matters. [mg/dL]

    Returns
    -------
    pandas.DataFrame
        The contract's ``effects``: a row for every question in :mod:`glucolab.relating.effects.questions`, also
        where nothing can be said yet.
    """
    names = dict.fromkeys(name for wear in wears for name in wear.day_covariates)
    pairs = PAIRS + covariate_pairs(names)
    table = judge_effects(_ask(wears, pairs), worth_noticing_mg_dl)
    table["stood"] = _count_standing(table, pairs, wears, worth_noticing_mg_dl)
    counts = dict.fromkeys(("n_with", "n_without", "n_alone", "n_days", "needed", "stood"), "Int64")
    return table.astype(counts)[EFFECTS.names]


def estimate_area_effects(wears: Sequence[WearTables]) -> pd.DataFrame:
    """What factors of meals do to the area over three hours: rows like effects.csv's, without q and verdict."""
    return _ask(wears, AREA_PAIRS)


def _ask(wears: Sequence[WearTables], pairs: Sequence[Pair]) -> pd.DataFrame:
    days = gather_days(wears)
    tables = {"day": days, "meal": gather_meals(wears, days)}
    gain_errors = np.array([wear.gain_errors for wear in wears])
    asked = {rows: _Asked.of(table, gain_errors) for rows, table in tables.items()}
    return pd.DataFrame([_answer(pair, asked[OUTCOMES[pair.outcome].rows]) for pair in pairs])


def _count_standing(
    table: pd.DataFrame, pairs: Sequence[Pair], wears: Sequence[WearTables], worth_noticing_mg_dl: float
) -> np.ndarray:
    """For how many wears running each claim has been made, NaN where none is, shape (n,).

    The wears up to each earlier one are asked, as they were after it, as far back as a claim still stands: every
    factor's one test, since they make up the family, and the other questions of those that have a claim among these.
    """
    standing = table["verdict"].isin(CLAIMS).to_numpy()
    stood = np.where(standing, 1.0, np.nan)
    leading, kind = is_leading(table), table["factor"] + table["outcome"].map(KIND_OF)
    asked = [pair for pair, kept in zip(pairs, leading | kind.isin(kind[standing & ~leading]), strict=True) if kept]
    in_order = sorted((wear for wear in wears if len(wear.days.dates)), key=lambda wear: wear.days.edges[0])
    key = ["factor", "outcome"]
    for until in range(len(in_order) - 1, max(len(in_order) - MOST_STOOD, 0), -1):
        if not standing.any():
            break
        before = judge_effects(_ask(in_order[:until], asked), worth_noticing_mg_dl)
        then = table[key].merge(before, on=key, how="left")["verdict"]
        standing = standing & then.eq(table["verdict"]).to_numpy(bool)
        stood[standing] += 1
    return stood


@dataclass(frozen=True, eq=False)
class _Asked:
    """A table as plain arrays by column, and the random orders of its rows.

    `restricted` keeps the orders of each choice of rows, which many questions share; `gain_errors` are the wears'.
    """

    columns: dict[str, np.ndarray]
    gain_errors: np.ndarray
    orders: np.ndarray
    restricted: dict[bytes, np.ndarray]

    @classmethod
    def of(cls, table: pd.DataFrame, gain_errors: np.ndarray) -> _Asked:
        columns = {name: table[name].to_numpy() for name in table.columns}
        if not len(table):
            return cls({}, gain_errors, np.empty((0, 0), int), {})
        return cls(columns, gain_errors, deal_orders(columns["wear"], columns["day"], N_ORDERS), {})

    def orders_of(self, keep: np.ndarray) -> np.ndarray:
        key = keep.tobytes()
        if key not in self.restricted:
            self.restricted[key] = restrict_orders(self.orders, keep)
        return self.restricted[key]


def _answer(pair: Pair, asked: _Asked) -> dict[str, object]:
    """The row of one question, before the others are known."""
    outcome = OUTCOMES[pair.outcome]
    keep = _usable(pair, outcome, asked.columns)
    rows = {name: values[keep] for name, values in asked.columns.items()} if keep.any() else {}
    factor = FACTORS[pair.factor] if pair.factor in FACTORS else _covariate(pair.factor, rows)
    adjusted = _adjustments(pair, outcome, rows)
    unit = f"{outcome.unit} per {factor.per}" if factor.per else outcome.unit
    n = int(keep.sum())
    n_with = int(np.count_nonzero(rows[factor.split_by or pair.factor] > 0)) if n and factor.split else n
    n_days = len(first_rows_of_days(rows["wear"], rows["day"])) if n else 0
    answer: dict[str, object] = {
        "factor": pair.factor, "outcome": outcome.name, "contrast": _contrast(factor, outcome, adjusted), "unit": unit,
        "estimate": np.nan, "low": np.nan, "high": np.nan, "p_value": np.nan,
        "share": np.nan, "share_low": np.nan, "share_high": np.nan, "range_from": np.nan, "range_to": np.nan,
        "range_estimate": np.nan, "range_low": np.nan, "range_high": np.nan,
        "n_with": n_with, "n_without": n - n_with, "n_days": n_days,
        "n_alone": np.nan if outcome.rows == "day" else int(np.count_nonzero(rows["alone"])) if n else 0,
    }  # fmt: skip
    if not _enough(answer, factor):
        return answer
    if factor.split_by and _days_with(factor.split_by, rows) < FEWEST_DAYS_OF_PRODUCT:
        return answer
    regression = build_regression(pair, outcome, factor, rows, adjusted)
    if not rests_on_many(regression):
        return answer
    estimate = estimate_day_coefficient if outcome.rows == "day" else estimate_meal_coefficient
    found = estimate(regression)
    p_value = permutation_p_value(found.whitened, asked.orders_of(keep))
    ends = found.estimate, found.low, found.high
    if factor.error_cv or factor.error_sd:
        variance = error_variance(factor, rows[pair.factor], rows.get("dish"))
        ends = allow_for_errors(*ends, regression, variance, LOG_ERROR_LOG_SD)
    if outcome.name in factor.expected:
        ends = draw_toward(*ends, *factor.expected[outcome.name])
    if outcome.of_glucose:
        ends = allow_for_gains(*ends, regression, asked.gain_errors)
    without = rows[outcome.column][rows[pair.factor] == 0]
    if factor.of_hours:
        ends = widen(*ends, HOURS_SD * np.sqrt(1 + 1 / OTHER_HOURS) * abs(float(without.mean())))
    found_here = {"estimate": ends[0], "low": ends[1], "high": ends[2], "p_value": p_value}
    found_here |= _over_own_range(ends, pair, factor, rows)
    if factor.grows:
        size = expected_sizes(rows["carbs_g"], rows[outcome.column])[rows[pair.factor] == 0]
        found_here |= _as_share(*ends, without / size.mean())
    return answer | found_here


def _over_own_range(
    ends: tuple[float, float, float], pair: Pair, factor: Factor, rows: dict[str, np.ndarray]
) -> dict[str, float]:
    """An effect from one end of the wearer's own range to the other; of a yes or no, with it against without."""
    if factor.split and not factor.split_by:
        return OwnRange(0.0, 1.0).tell(ends, 1.0)
    there = rows[factor.split_by] > 0 if factor.split_by else slice(None)
    return own_range(rows[factor.range_of or pair.factor][there]).tell(ends, factor.step)


def _as_share(estimate: float, low: float, high: float, without: np.ndarray) -> dict[str, float]:
    """An effect as a share of the mean response of a usual meal without the factor, whose own error is counted in.

    NaN where that response is not surely above nil, and where more than all of it would be taken off: a share of
    nothing says nothing, and one of more than everything that the two do not fit together.
    """
    usual, error = float(without.mean()), float(without.std(ddof=1) / np.sqrt(len(without)))
    if usual <= normal_half_width(error**2):
        return dict.fromkeys(("share", "share_low", "share_high"), np.nan)
    share = estimate / usual
    if share < -1:
        return dict.fromkeys(("share", "share_low", "share_high"), np.nan)
    ends = widen(share, low / usual, high / usual, abs(share) * error / usual)
    return dict(zip(("share", "share_low", "share_high"), map(float, ends), strict=True))


def _enough(answer: dict[str, Any], factor: Factor) -> bool:
    fewest = min(answer["n_with"], answer["n_without"]) if factor.split else answer["n_with"]
    return fewest >= FEWEST_EACH and answer["n_days"] >= FEWEST_DAYS


def _days_with(name: str, rows: dict[str, np.ndarray]) -> int:
    there = rows[name] > 0
    return len(first_rows_of_days(rows["wear"][there], rows["day"][there]))


def _usable(pair: Pair, outcome: Outcome, columns: dict[str, np.ndarray]) -> np.ndarray:
    """Rows of the table that can answer a question, shape (n,)."""
    if pair.factor not in columns:
        return np.zeros(len(columns.get("wear", ())), bool)
    follows = "night_" if outcome.column.startswith("next_") else ""
    keep = ~np.isnan(columns[pair.factor]) & ~np.isnan(columns[outcome.column]) & ~columns[f"{follows}left_out"]
    if outcome.needs_readings:
        keep = keep & columns[f"{follows}enough"]
    if pair.factor in FACTORS and FACTORS[pair.factor].undisturbed:
        keep = keep & ~columns["digesting"]
    if pair.factor == "eaten_out":
        keep = keep & _eaten_both_ways(columns["dish"], columns["eaten_out"], keep)
    if outcome.rows == "day":
        keep[keep] = keep_once(columns["wear"][keep], columns["day"][keep])
    return keep


def _eaten_both_ways(dish: np.ndarray, out: np.ndarray, keep: np.ndarray) -> np.ndarray:
    """True for eatings of a dish that was eaten at home and out."""
    both = set(dish[keep & (out == 1)]) & set(dish[keep & (out == 0)]) - {""}
    return np.isin(dish, list(both))


def _covariate(name: str, rows: dict[str, np.ndarray]) -> Factor:
    """How a column of the wearer's own is read: with against without if it is 0 or 1, else per SD within wears."""
    own = name.removeprefix("covariate:")
    value = rows.get(name, np.array([]))
    if np.isin(value, [0.0, 1.0]).all():
        return Factor(f"days with {own} against days without")
    step = float(f"{np.sqrt(np.mean(within_wears(value, rows['wear']) ** 2)):.2g}") or 1.0
    return Factor(f"{step:g} more of {own} (one SD of its days)", f"{step:g}", step)


def _adjustments(pair: Pair, outcome: Outcome, rows: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Possible confounders that were written down on most rows, of mean 0 and SD 1 within wears."""
    kin = KIN.get(pair.factor, (pair.factor,))
    adjusted = {}
    for name in ADJUSTED_FOR[outcome.rows] + ADJUSTED_FOR_BESIDES.get((pair.factor, pair.outcome), ()) if rows else ():
        known = ~np.isnan(rows[name])
        if name in kin or known.mean() <= 0.5:
            continue
        value = np.zeros(len(known))
        value[known] = within_wears(rows[name][known], rows["wear"][known])
        spread = np.sqrt(np.mean(value[known] ** 2))
        if spread > 1e-9:
            adjusted[name] = value / spread
    return adjusted


def _contrast(factor: Factor, outcome: Outcome, adjusted: dict[str, np.ndarray]) -> str:
    apart = {*HOURS, *OF_THE_WEAR}
    names = list(dict.fromkeys(name.replace("log_carbs", "carbs_g") for name in adjusted if name not in apart))
    names += ["time of day"] * (not adjusted.keys().isdisjoint(HOURS))
    names += ["place in the wear"] * (not adjusted.keys().isdisjoint(OF_THE_WEAR))
    equal = f", adjusted for {', '.join(names)}" if names else ""
    size = ", for a meal of usual size" if factor.grows else ""
    return f"{factor.contrast}, {outcome.when}{equal}{size}; within wears, days of illness left out"

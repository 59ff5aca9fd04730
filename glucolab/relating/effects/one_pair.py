"""How does a day's figure go with one covariate of the wearer's choice? One pair of columns, within wears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY
from glucolab.intervals import t_quantile
from glucolab.relating.effects.design import rests_on_many
from glucolab.relating.effects.effects import FEWEST_DAYS, FEWEST_EACH
from glucolab.relating.effects.own_range import OwnRange, own_range
from glucolab.relating.effects.sensor_gain import allow_for_gains
from glucolab.relating.observations.days_and_meals import OF_THE_WEAR, keep_once, tell_place, within_wears
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import decide_verdict, worth_noticing
from glucolab.relating.statistics.fixed_effects import AUTOCORRELATION_PRIOR, RegressionRows, estimate_day_coefficient
from glucolab.relating.statistics.intercepts import partial_out
from glucolab.relating.statistics.permutation import N_ORDERS, deal_orders, permutation_p_value

PAIR_OUTCOMES = ("mean_mg_dl", "sd_mg_dl", "cv_percent", "overnight_mean_mg_dl")
COVARIATES = ("asleep_h", "stress", "caffeine_mg", "relaxation_min", "exercise_min", "carbs_g", "fiber_g")
"""Of the contract's daily.csv; the wearer's own columns of days.csv come beside them."""
STEPS = {"asleep_h": 1.0, "stress": 1.0, "caffeine_mg": 100.0, "relaxation_min": 10.0, "exercise_min": 10.0,
         "carbs_g": 10.0, "fiber_g": 10.0}  # fmt: skip
"""How much of a covariate a slope is per, as in effects.csv [unit of the column]; for the wearer's own: one SD of its
days. A larger step makes a slope look larger beside what is worth noticing."""


@dataclass(frozen=True, eq=False)
class DayRelation:
    """What one covariate goes with.

    Attributes
    ----------
    covariate, outcome : str
    next_day : bool
        The outcome is that of the day after.
    adjusted : tuple of str
        Covariates adjusted for.
    points : pandas.DataFrame
        A row a day: wear (name), date (of the covariate), covariate, outcome (as recorded), and outcome_within: the
        outcome less its wear's intercept and what is adjusted for, put back at the mean of all.
    step : float
        The slope is per so much of the covariate; 0 where it is yes or no.
    estimate, low, high : float
        Slope with its 90 % interval, NaN where too few days determine it. [unit of the outcome]
    over_range : dict of str to float
        The same from one end of the wearer's own range to the other: ``range_from``, ``range_to`` [unit of the
        covariate], ``range_estimate``, ``range_low``, ``range_high`` [unit of the outcome]; NaN as above.
    plain : float
        ``range_estimate`` adjusted for nothing; NaN where nothing was adjusted for. [unit of the outcome]
    p_value : float
        Whole days permuted within wears.
    line : pandas.DataFrame
        covariate, fit, low, high: the line and its band; empty where there is no slope.
    """

    covariate: str
    outcome: str
    next_day: bool
    adjusted: tuple[str, ...]
    points: pd.DataFrame
    step: float
    estimate: float
    low: float
    high: float
    over_range: dict[str, float]
    plain: float
    p_value: float
    line: pd.DataFrame

    def verdict(self, worth_noticing_mg_dl: float, tried: int = 1) -> str:
        """What the interval over the own range supports, in the contract's words, one of `tried` pairs looked at.

        A difference is claimed only where its p-value, times the pairs tried, is at most one in ten (Bonferroni).
        """
        worth = worth_noticing(self.outcome, worth_noticing_mg_dl)
        return decide_verdict(self.over_range["range_low"], self.over_range["range_high"], worth, self.p_value * tried)


def list_covariates(wears: Sequence[WearTables]) -> list[str]:
    """Covariates that are written down on enough days to be looked at, the contract's own first."""
    names = [*COVARIATES, *dict.fromkeys(name for wear in wears for name in wear.day_covariates)]
    return [name for name in names if _days_known(wears, name) >= FEWEST_DAYS]


def _days_known(wears: Sequence[WearTables], name: str) -> int:
    return sum(int(wear.daily[name].notna().sum()) for wear in wears if name in wear.daily)


def relate_days(
    wears: Sequence[WearTables],
    covariate: str,
    outcome: str,
    *,
    next_day: bool = False,
    least_coverage: float = 0.7,
    adjust: Sequence[str] = (),
) -> DayRelation:
    """How a figure of days goes with one covariate, within wears.

    Parameters
    ----------
    wears : sequence of WearTables
        Those to be looked at.
    covariate : str
        Column of daily.csv.
    outcome : str
        One of `PAIR_OUTCOMES`.
    next_day : bool
        True: of the day after; for the overnight mean the night that follows.
    least_coverage : float
        Days recorded less are left out; those not good enough for a figure have none anyway. [0-1]
    adjust : sequence of str
        Covariates adjusted for; one written down on half of the days or fewer is not.

    Returns
    -------
    DayRelation

    Notes
    -----
    The same regression as in effects.csv, of each wear's own figures and a choice of the wearer's: choosing among many
    pairs finds something by chance, which :meth:`DayRelation.verdict` counts. Days of illness are left out, what two
    sensors saw at once counts once.
    """
    days = _gather(wears, covariate, outcome, next_day, least_coverage, tuple(adjust))
    value = days["covariate"].to_numpy(float)
    yes_or_no = len(value) > 0 and bool(np.isin(value, [0.0, 1.0]).all())
    step = 0.0 if yes_or_no else _step(covariate, value, days["wear"].to_numpy(int))
    adjusted = [name for name in adjust if name != covariate and days[name].notna().mean() > 0.5]
    columns = _columns(days, [*adjusted, *OF_THE_WEAR])
    intercept = days["outcome"].mean() if len(days) else np.nan
    estimate = low = high = p_value = plain = np.nan
    if _enough(value, len(days), yes_or_no):
        rows = _rows(days, value / (step or 1.0), columns)
        if rests_on_many(rows):
            found = estimate_day_coefficient(rows)
            gain_errors = np.array([wear.gain_errors for wear in wears])
            estimate, low, high = allow_for_gains(found.estimate, found.low, found.high, rows, gain_errors)
            orders = deal_orders(rows.wear, rows.day, N_ORDERS)
            p_value = permutation_p_value(found.whitened, orders)
            if adjusted:
                alone = _rows(days, value / (step or 1.0), _columns(days, OF_THE_WEAR))
                plain = estimate_day_coefficient(alone).estimate
    points = _points(days, _columns(days, adjusted), wears, intercept)
    line = _draw_line(value, points, step or 1.0, intercept, (estimate, low, high))
    ends = estimate, low, high
    mine = OwnRange(0.0, 1.0) if yes_or_no or not np.isfinite(estimate) else own_range(value)
    over_range = mine.tell(ends, step or 1.0)
    plain = mine.tell((plain,) * 3, step or 1.0)["range_estimate"]
    return DayRelation(
        covariate, outcome, next_day, tuple(adjusted), points, step, *ends, over_range, plain, p_value, line
    )


def _gather(
    wears: Sequence[WearTables],
    covariate: str,
    outcome: str,
    next_day: bool,
    least_coverage: float,
    adjust: Sequence[str],
) -> pd.DataFrame:
    """A row a usable day: wear (position), date, day, covariate, outcome and what may be adjusted for."""
    parts = []
    for position, wear in enumerate(wears):
        daily = wear.daily
        if covariate not in daily or not len(daily):
            continue
        dates = pd.DatetimeIndex(daily["date"]).as_unit("us")
        enough = (
            daily["enough"].eq(True).fillna(False).to_numpy(bool) & (daily["coverage"] >= least_coverage).to_numpy()
        )
        values = daily[outcome].to_numpy(dtype=float, na_value=np.nan)
        ill = np.zeros(len(daily), bool) if wear.ill is None else np.asarray(wear.ill, bool)
        figure = pd.Series(np.where(enough & ~ill, values, np.nan), dates)
        part = pd.DataFrame({"wear": position, "date": dates, "day": dates.asi8 // 86_400_000_000, "ill": ill})
        for name in dict.fromkeys((covariate, *adjust)):
            known = daily[name] if name in daily else pd.Series(np.nan, daily.index)
            part[name] = known.to_numpy(dtype=float, na_value=np.nan)
        part["place_in_wear"], part["settling"] = tell_place(len(part))
        part["covariate"] = part[covariate]
        part["outcome"] = figure.reindex(dates + ONE_DAY).to_numpy() if next_day else figure.to_numpy()
        parts.append(part)
    if not parts:
        return pd.DataFrame(columns=["wear", "date", "day", "covariate", "outcome", *OF_THE_WEAR, *adjust])
    days = pd.concat(parts, ignore_index=True)
    days = days[~days["ill"] & days["covariate"].notna() & days["outcome"].notna()]
    once = keep_once(days["wear"].to_numpy(int), days["day"].to_numpy(int)) if len(days) else slice(None)
    return days[once].reset_index(drop=True)


def _step(covariate: str, value: np.ndarray, wear: np.ndarray) -> float:
    if covariate in STEPS or not len(value):
        return STEPS.get(covariate, 1.0)
    return float(f"{np.sqrt(np.mean(within_wears(value, wear) ** 2)):.2g}") or 1.0


def _columns(days: pd.DataFrame, adjusted: Sequence[str]) -> np.ndarray:
    """What is adjusted for, of mean 0 and SD 1 within wears, 0 where not known, shape (n, adjusted)."""
    columns = [np.empty((len(days), 0))]
    for name in adjusted if len(days) else ():
        known = days[name].notna().to_numpy()
        value = np.zeros(len(days))
        value[known] = within_wears(days.loc[known, name].to_numpy(float), days.loc[known, "wear"].to_numpy(int))
        spread = np.sqrt(np.mean(value[known] ** 2))
        columns.append((value / spread)[:, None] if spread > 1e-9 else np.empty((len(days), 0)))
    return np.column_stack(columns)


def _enough(value: np.ndarray, n: int, yes_or_no: bool) -> bool:
    if n < FEWEST_DAYS:
        return False
    return not yes_or_no or min(value.sum(), n - value.sum()) >= FEWEST_EACH


def _rows(days: pd.DataFrame, value: np.ndarray, adjusted: np.ndarray) -> RegressionRows:
    wear, n = days["wear"].to_numpy(int), len(days)
    outcome = partial_out(days["outcome"].to_numpy(float), wear)
    none = np.empty((n, 0))
    return RegressionRows(
        outcome, value - value.mean(), none, adjusted, wear, days["day"].to_numpy(int), none, np.zeros(n), np.ones(n)
    )


def _points(days: pd.DataFrame, adjusted: np.ndarray, wears: Sequence[WearTables], intercept: float) -> pd.DataFrame:
    """The days as they are drawn: each wear's own intercept taken off and that of all put back."""
    table = days[["date", "covariate", "outcome"]].assign(wear=[wears[int(i)].name for i in days["wear"]])
    if not len(days):
        return table.assign(outcome_within=pd.Series(dtype=float), covariate_within=pd.Series(dtype=float))
    within = partial_out(days[["outcome", "covariate"]].to_numpy(float), days["wear"].to_numpy(int), adjusted)
    return table.assign(
        outcome_within=within[:, 0] + intercept, covariate_within=within[:, 1] + days["covariate"].mean()
    )


def _draw_line(
    value: np.ndarray, points: pd.DataFrame, step: float, intercept: float, slope: tuple[float, float, float]
) -> pd.DataFrame:
    """The fit over the range of the days, and the band that holds it: slope and intercept are both uncertain."""
    if not np.isfinite(slope[0]):
        return pd.DataFrame(columns=["covariate", "fit", "low", "high"])
    drawn = points["covariate_within"].to_numpy(float)
    x = np.linspace(drawn.min(), drawn.max(), 25)
    away = (x - value.mean()) / step
    rest = points["outcome_within"].to_numpy(float) - intercept - (drawn - value.mean()) / step * slope[0]
    level_half = _intercept_half(rest, points["wear"].nunique())
    turned = np.sort(away[:, None] * (np.array(slope[1:]) - slope[0]), axis=1)
    half = np.hypot(turned, level_half) * [-1, 1]
    fit = intercept + away * slope[0]
    return pd.DataFrame({"covariate": x, "fit": fit, "low": fit + half[:, 0], "high": fit + half[:, 1]})


def _intercept_half(rest: np.ndarray, wears: int) -> float:
    """Half the interval of the line's intercept, days that follow each other being alike as is thought of slopes."""
    alike = AUTOCORRELATION_PRIOR[0]
    variance = np.sum(rest**2) / max(len(rest) - wears - 1, 1) / len(rest) * (1 + alike) / (1 - alike)
    return float(t_quantile(max(len(rest) - wears - 1, 1)) * np.sqrt(variance))

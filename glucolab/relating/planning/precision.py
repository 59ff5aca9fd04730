"""How precise would the next wear be? Interval widths by number of finger-sticks, and each question's chance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from glucolab.aligning.bias import estimate_bias
from glucolab.aligning.bias_prior import CheckData
from glucolab.intervals import Z, effective_df, half_width, normal_half_width, standard_errors
from glucolab.measuring.days_apart import DAY_PRIOR_DF
from glucolab.record import Goal
from glucolab.record.study_outputs import NEXT_CHECKS, NEXT_QUESTIONS
from glucolab.relating.comparing.periods import Measured, Period, find_overlaps
from glucolab.relating.effects.questions import is_leading
from glucolab.relating.effects.verdicts import (
    count_tests,
    errors_to_stand_out,
    leading_beside,
    level_to_stand_out,
    share_of_tests,
    worths,
)
from glucolab.relating.statistics.claims import POWER

CHECK_COUNTS = (0, 2, 4, 6, 8, 10, 12, 16, 20)
"""Numbers of finger-sticks looked at [1]; assumed: nobody takes more than twenty in two weeks for this. A shorter list
may stop before the advice would, a finer one changes the advice by a stick or two."""
USUAL_DAYS = 14.0
"""Length of the next wear where none is stated [days]: 10 or 14 are usual (common practice, no source). Too long
promises more answers than the wear will give, too short fewer."""
WORTH_A_CHECK = 0.95
"""Two more finger-sticks are worth it where they bring the half-width of the average, or of a change, under this share
of what it was [1]; assumed. Higher advises more of them, lower fewer."""
_MOST_WEARS = 6
"""Wears ahead that are looked at [wears]; assumed. More promise answers years away, fewer leave more questions without
`wears_needed`."""
SIZE_GRID = np.array([0.2, 0.5, 1.0, 2.0, 4.0])
"""Kinds of effects, from almost none to large: their SD over what is worth noticing [1]; assumed. Without the large
ones chances of a claim are too small, without the small ones too large."""
SIZE_PRIOR, SIZE_PRIOR_COUNT = np.array([0.4, 0.2, 0.2, 0.1, 0.1]), 20.0
"""Shares of the kinds before a person's own answers [1], and how many answers they are worth; assumed. Too much on
large effects promises too many claims; too high a count hardly learns from the person."""
_OF_LEVERS = ("mean_mg_dl", "rise_mg_dl")
_SPENT = 8.0
"""Days that the levels of wears and what is adjusted for use up [days]; assumed. More makes the tails of a test by
permutation of days heavier, and chances smaller."""
EM_STEPS = 30
"""Steps of expectation-maximisation [1]: with forty answers shares are then within 0.0001 of where they end, with a
hundred within 0.005 (tried). Far fewer leave them near the prior."""


def plan_next_wear(
    periods: Sequence[Period],
    wears: Sequence[Measured],
    effects: pd.DataFrame,
    levers: pd.DataFrame,
    goal: Goal,
    days: float | None = None,
) -> dict[str, pd.DataFrame]:
    """``next_checks`` and ``next_questions``: what the next wear could decide.

    Parameters
    ----------
    periods : sequence of Period
    wears : sequence of Measured
    effects, levers : DataFrame
        ``effects.csv`` and ``levers.csv``.
    goal : Goal
    days : float, optional
        Of the next wear; default those that the last sensor was to last. [d]
    """
    days = days or next_days(wears)
    so_far = float(sum(one.figures.days_used for one in wears))
    expected = days * so_far / sum((one.end - one.start) / pd.Timedelta(days=1) for one in wears)
    return {
        "next_checks": plan_checks(periods, wears, goal.mean_mg_dl, days),
        "next_questions": plan_questions(effects, levers, so_far, expected, goal.worth_noticing_mg_dl),
    }


def plan_checks(
    periods: Sequence[Period], wears: Sequence[Measured], goal_mg_dl: float | None, days: float
) -> pd.DataFrame:
    """``next_checks.csv``: what a number of finger-sticks in the next wear would bring.

    Parameters
    ----------
    periods : sequence of Period
    wears : sequence of Measured
        Their days, gaps, sensor model and meter are those that the next wear is expected to have.
    goal_mg_dl : float or None
        [mg/dL]
    days : float
        Of the next wear. [d]

    Returns
    -------
    DataFrame
        A row each of `CHECK_COUNTS`; none where no wear has a mean.

    Notes
    -----
    Linear-Gaussian: the checks' information is added to the joint posterior of all sensors' biases, of
    which the next sensor is one more, of the last one's model and checked by its meter. The checks are
    taken to lie at the wearer's level while glucose is steady, evenly over the wear. Life is taken to
    stay as it was: chances are those of the estimate, not of a change.
    """
    latest = _find_latest(periods, wears)
    if latest is None:
        return pd.DataFrame(columns=NEXT_CHECKS.names)
    prior = estimate_bias([*(m.trace.check_data for m in wears), _next_sensor(latest, wears)], find_overlaps(wears))
    new = np.eye(len(wears) + 1)[-1]
    change = new - np.append(latest.weights, 0.0)
    own = _expected_variances(periods, wears, days)
    sensors, changes = (prior.offset_variances(of, [len(wears)], CHECK_COUNTS) for of in (new, change))
    rows = []
    for checks, sensor, changed in zip(CHECK_COUNTS, sensors.tolist(), changes.tolist(), strict=True):
        mean_half = normal_half_width(sensor + own["hours"])
        normal = changed + own["hours"] + latest.hours_var
        both = own["days"] + latest.days_var
        df = effective_df([own["days"], latest.days_var], [own["df"], latest.df])
        change_half = half_width([both, normal], [df, np.inf])
        moves = np.sqrt(both + normal)
        rows.append(
            {
                "checks": checks,
                "mean_half_mg_dl": mean_half,
                "usual_half_mg_dl": half_width([own["days"], sensor + own["hours"]], [own["df"], np.inf]),
                "change_half_mg_dl": change_half,
                "smallest_change_mg_dl": change_half + float(ndtri(POWER)) * moves,
                "chance_goal_told": _chance_goal_decided(latest.usual_mg_dl, goal_mg_dl, mean_half, moves),
            }
        )
    table = pd.DataFrame(rows, columns=NEXT_CHECKS.names)
    table["advised"] = pd.array(_advise(table), dtype="boolean")
    return table


def _find_latest(periods: Sequence[Period], wears: Sequence[Measured]) -> Period | None:
    """The wear that ended last, of those with a mean."""
    known = [p for p in periods if p.level == "wear" and np.isfinite(p.usual_mg_dl)]
    return max(known, key=lambda p: wears[p.members[0]].end, default=None)


def next_days(wears: Sequence[Measured]) -> float:
    """How long the next sensor will be worn: as long as the last one was to last. [d]"""
    return max(wears, key=lambda m: m.end).wear.life_days or USUAL_DAYS


def _next_sensor(latest: Period, wears: Sequence[Measured]) -> CheckData:
    """A sensor like the last one that reads the wearer's level, before any check."""
    last = wears[latest.members[0]].trace.check_data
    return CheckData.unchecked(latest.usual_mg_dl, last.model, last.meter)


def _expected_variances(periods: Sequence[Period], wears: Sequence[Measured], days: float) -> dict[str, float]:
    """The next wear's own variances of days and hours, from those of all wears, and degrees of freedom."""
    mine = [p for p in periods if p.level == "wear" and np.isfinite(p.usual_mg_dl)]
    used = np.array([wears[p.members[0]].figures.days_used for p in mine])
    worn = np.array([(wears[p.members[0]].end - wears[p.members[0]].start) / pd.Timedelta(days=1) for p in mine])
    expected = days * float(used.sum() / worn.sum())
    one_day = float(np.average([p.days_var * n for p, n in zip(mine, used, strict=True)], weights=used))
    hours = float(np.average([p.hours_var * n for p, n in zip(mine, used, strict=True)], weights=used))
    return {
        "days": one_day / expected,
        "hours": hours / expected,
        "df": DAY_PRIOR_DF + max(expected - 1, 0.0),
    }


def _chance_goal_decided(usual: float, goal_mg_dl: float | None, half: float, moves: float) -> float:
    """That the next mean's interval will leave the goal on one side."""
    if goal_mg_dl is None:
        return np.nan
    return float(ndtr((goal_mg_dl - half - usual) / moves) + ndtr((usual - goal_mg_dl - half) / moves))


def _advise(table: pd.DataFrame) -> np.ndarray:
    """True for the fewest checks beyond which two more hardly narrow the average or a change, shape (rows,)."""
    halves = table[["mean_half_mg_dl", "change_half_mg_dl"]].to_numpy(float)
    steps = np.diff(table["checks"].to_numpy(float))[:, None]
    narrows = ((halves[1:] / halves[:-1]) ** (2 / steps) < WORTH_A_CHECK).any(axis=1)
    best = int(np.flatnonzero(narrows)[-1]) + 1 if narrows.any() else 0
    return np.arange(len(table)) == best


def plan_questions(
    effects: pd.DataFrame, levers: pd.DataFrame, days_now: float, days_next: float, worth_noticing_mg_dl: float
) -> pd.DataFrame:
    """``next_questions.csv``: the chance that the next wear answers each question that is open now.

    Parameters
    ----------
    effects : DataFrame
        ``effects.csv``.
    days_now, days_next : float
        Days recorded so far, and to be expected of the next wear. [d]
    worth_noticing_mg_dl : float
        [mg/dL of a mean]

    Returns
    -------
    DataFrame
        A row a factor's one test that has an estimate and no verdict: its other questions are read once that one is
        clear. First what a habit might do to the average, by how much that may be times the chance of an answer; then
        the rest, the most likely to be answered first.

    Notes
    -----
    Habits are taken to stay: rows come as often as so far, and widths shrink with the root of their
    number. Where an effect may lie is what its interval and the sizes of all the person's effects say
    together (a mixture of normals of mean zero, from small to large; adaptive shrinkage: Stephens, Biostatistics
    2017;18:275, from memory): a wide interval alone promises nothing. Answered is: lower, higher or too small to
    matter, by the rule of effects.csv: its p is of a permutation of days, which has the tails of Student's t and ends
    at one in a thousand, and a factor that several questions lead must be clear among these.
    """
    open_ones = effects[effects["verdict"].eq("cannot_tell_yet") & effects["low"].notna() & is_leading(effects)]
    if not len(open_ones) or not days_now > 0:
        return pd.DataFrame(columns=NEXT_QUESTIONS.names)
    believed = effects[effects["low"].notna()]
    size, se = _in_worths(open_ones, worth_noticing_mg_dl)
    kinds = _kinds(size, se, _learn_sizes(*_in_worths(believed, worth_noticing_mg_dl)))
    asked, clear = count_tests(effects)
    place = effects.index.get_indexer(open_ones.index)
    weight = share_of_tests(effects)[place] / leading_beside(effects)[place]
    n_days = open_ones["n_days"].to_numpy(float)
    chances = np.array([
        _chances_of_answers(size, se, kinds, wears * days_next / days_now, asked, clear, weight, n_days)
        for wears in range(1, _MOST_WEARS + 1)
    ])  # fmt: skip
    reached = chances >= POWER
    rows = open_ones["n_with"].to_numpy(float) + open_ones["n_without"].to_numpy(float)
    table = open_ones[["factor", "outcome", "contrast", "estimate", "low", "high", "unit"]].assign(
        rows_now=rows,
        rows_next=np.round(rows * days_next / days_now),
        chance_told=chances[0],
        wears_needed=np.where(reached.any(axis=0), reached.argmax(axis=0) + 1.0, np.nan),
    )
    table["on_mean_mg_dl"] = table["factor"].map(_possible_changes(levers)).where(table["outcome"].isin(_OF_LEVERS))
    table["worth_asking"] = table["on_mean_mg_dl"] * table["chance_told"]
    order = ["worth_asking", "chance_told"]
    return table.sort_values(order, ascending=False, kind="stable", ignore_index=True)[NEXT_QUESTIONS.names]


def _possible_changes(levers: pd.DataFrame) -> dict[str, float]:
    """How much each habit may change the average, by factor: root mean square of what its interval leaves. [mg/dL]"""
    se = standard_errors(levers["low_mg_dl"].to_numpy(float), levers["high_mg_dl"].to_numpy(float))
    return dict(zip(levers["factor"], np.hypot(levers["on_mean_mg_dl"].to_numpy(float), se), strict=True))


def _in_worths(effects: pd.DataFrame, worth_noticing_mg_dl: float) -> tuple[np.ndarray, np.ndarray]:
    """Estimates over the own range and their standard errors, over what is worth noticing, shape (n,) each."""
    worth = worths(effects, worth_noticing_mg_dl)
    se = standard_errors(effects["range_low"].to_numpy(float), effects["range_high"].to_numpy(float))
    return effects["range_estimate"].to_numpy(float) / worth, np.maximum(se, 1e-9) / worth


def _learn_sizes(size: np.ndarray, se: np.ndarray) -> np.ndarray:
    """Share of each kind of effect among all the person's, by expectation-maximisation; adds to 1, shape (kinds,)."""
    share = SIZE_PRIOR
    for _ in range(EM_STEPS):
        total = SIZE_PRIOR_COUNT * SIZE_PRIOR + _kinds(size, se, share).sum(axis=1)
        share = total / total.sum()
    return share


def _kinds(size: np.ndarray, se: np.ndarray, share: np.ndarray) -> np.ndarray:
    """How likely each effect is of each kind, shape (kinds, n)."""
    variance = SIZE_GRID[:, None] ** 2 + se**2
    log_weight = np.log(share)[:, None] - 0.5 * (np.log(variance) + size**2 / variance)
    weight = np.exp(log_weight - log_weight.max(axis=0))
    return weight / weight.sum(axis=0)


def _chances_of_answers(
    size: np.ndarray, se: np.ndarray, kinds: np.ndarray, more: float, asked: int, clear: int, weight: np.ndarray,
    n_days: np.ndarray,
) -> np.ndarray:  # fmt: skip
    """Chance of each question, shape (n,); every claim that is to be expected makes the others easier."""
    df = np.maximum(n_days * (1 + more) - _SPENT, 1.0)
    alone, _ = _chances(size, se, kinds, errors_to_stand_out(level_to_stand_out(asked, clear, weight), df), more)
    z = errors_to_stand_out(level_to_stand_out(asked, clear + alone.sum() - alone, weight), df)
    stands_out, small = _chances(size, se, kinds, z, more)
    return stands_out + small


def _chances(
    size: np.ndarray, se: np.ndarray, kinds: np.ndarray, z: np.ndarray, more: float
) -> tuple[np.ndarray, np.ndarray]:
    """That the interval of old and new rows together stands out, or is too small and does not, shape (n,) each.

    `more` new rows come on each old one, `z` standard errors are needed to stand out.
    """
    kept = SIZE_GRID[:, None] ** 2 / (SIZE_GRID[:, None] ** 2 + se**2)
    new = more / (1 + more)
    mean = (1 - new) * size + new * kept * size
    spread = new * se * np.sqrt(kept + 1 / more)
    total = se / np.sqrt(1 + more)
    stands_out = ndtr((-z * total - mean) / spread) + ndtr((mean - z * total) / spread)
    room = 1 - Z * total
    small = np.where(room > 0, ndtr((room - mean) / spread) - ndtr((-room - mean) / spread), 0.0)
    both = np.where(room > z * total, ndtr((room - mean) / spread) - ndtr((z * total - mean) / spread)
                    + ndtr((-z * total - mean) / spread) - ndtr((-room - mean) / spread), 0.0)  # fmt: skip
    return np.sum(kinds * stands_out, axis=0), np.sum(kinds * (small - both), axis=0)

"""What was known with this wear? The study read up to it, the findings its page leads with, and their curves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.analysis import as_measured
from glucolab.clock import ONE_DAY, local_hours, to_local
from glucolab.errors import as_problem
from glucolab.record import SO_FAR_OUTPUTS, Study, empty_output
from glucolab.relating.effects.levers import sort_by_average
from glucolab.relating.effects.questions import KIND_OF, OUTCOMES, is_leading
from glucolab.relating.observations.days_and_meals import gather_days, gather_meals
from glucolab.relating.observations.meal_curves import AFTER_MIN, BEFORE_MIN, LEAST_SHARE
from glucolab.relating.planning.trial_arms import factor_of_arms
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.relating.study_tables import relate_so_far, tabulate_so_far
from glucolab.relating.trials.date_outcomes import find_trial_dates
from glucolab.results import StudyAnalysis, WearAnalysis

LEADING_FINDINGS = 2
"""Findings that a page leads with; the design's. More push the next step off the first screen."""
STEP_MIN = 10
"""Between the points of a meal's curve [min]; it shapes a picture alone. Finer doubles the file, coarser flattens
peaks."""
SLOT_MIN = 30
"""Between the points of a day's curve [min]; the same."""
OUTER_SHARE = 1 / 3
"""Of a measured habit, the share of meals or days drawn as its high and as its low end [1]; assumed. A smaller one
draws few lines, a larger one lets the ends run into each other. No figure rests on it."""


@dataclass(frozen=True)
class Finding:
    """A row of trial_results.csv or of effects.csv that a page leads with."""

    name: str
    outcome: str
    row: pd.Series = field(compare=False)

    @property
    def is_trial(self) -> bool:
        """Its dates were chosen at random, so that it is an effect."""
        return "trial" in self.row.index


@dataclass(frozen=True, eq=False)
class SoFar:
    """The study as it was known with one wear: its own and the earlier ones.

    Attributes
    ----------
    tables : mapping of str to DataFrame
        By the names of :data:`glucolab.record.SO_FAR_OUTPUTS`.
    fault : str
        Why the wears could not be set beside each other; empty if they could. The tables are then without rows.
    """

    tables: Mapping[str, pd.DataFrame]
    fault: str = ""

    def find(self, wear: str) -> pd.Series | None:
        """The row of periods.csv of one wear; None where it has no average."""
        periods = self.tables["periods"]
        mine = periods[(periods["level"] == "wear") & (periods["name"] == wear) & periods["mean_mg_dl"].notna()]
        return mine.iloc[0] if len(mine) else None


def know_nothing(fault: str) -> SoFar:
    """The same where a fault kept the wears from being set beside each other."""
    return SoFar({name: empty_output(name) for name in SO_FAR_OUTPUTS}, fault)


def look_back(study: Study, wears: Sequence[WearAnalysis]) -> SoFar:
    """What the study says with these wears, the last of which is the one looked back from.

    Parameters
    ----------
    study : Study
    wears : sequence of WearAnalysis
        In order of time.

    Returns
    -------
    SoFar
        A fault is kept in it, and the page does without.
    """
    try:
        tables = relate_so_far(study, [as_measured(one) for one in wears], [one.related for one in wears])
        return SoFar(tables | {"curves": gather_curves(tables, study, wears)})
    except Exception as error:  # the wear's own figures are sound without it
        return know_nothing(str(as_problem("the wears so far", "could not be set beside each other", error)))


def look_at_all(analysis: StudyAnalysis) -> SoFar:
    """The same with every wear, from a study that was analysed; what a fault kept from it is tried without the rest."""
    if analysis.fault is not None:
        return look_back(analysis.study, analysis.wears)
    tables = {name: analysis.tables[name] for name in SO_FAR_OUTPUTS if name != "curves"}
    return SoFar(tables | {"curves": gather_curves(tables, analysis.study, analysis.wears)})


def find_averages(analysis: StudyAnalysis) -> list[pd.Series | None]:
    """The row of periods.csv of each wear, as it is known with it and the earlier ones; None where there is none."""
    measured = [as_measured(one) for one in analysis.wears]
    found = []
    for i, one in enumerate(measured, start=1):
        so_far = SoFar({"periods": tabulate_so_far(analysis.study, measured[:i])})
        found.append(so_far.find(one.wear.name))
    return found


def choose_page_findings(tables: Mapping[str, pd.DataFrame]) -> list[Finding]:
    """What a page leads with: what an experiment showed, then links that have held, then new ones.

    Among links first what would change the day's average most. A habit that an experiment has tried is not told a
    second time: both would rest on the same meals.

    Parameters
    ----------
    tables : mapping of str to DataFrame
        ``trial_results``, ``effects`` and ``levers``.
    """
    effects = tables["effects"]
    shown = find_shown(tables["trial_results"])
    found = [Finding(str(row["trial"]), str(row["outcome"]), row) for _, row in shown.iterrows()]
    tried = {factor_of_arms((one.row["arm_a"], one.row["arm_b"])) for one in found}
    if len(effects):
        of_glucose = effects["outcome"].map(KIND_OF).eq("glucose") & is_leading(effects)
        held = effects[effects["verdict"].isin(CLAIMS) & of_glucose & ~effects["factor"].isin(tried)]
        held = sort_by_average(held, tables["levers"]).drop_duplicates("factor")
        held = held.sort_values("stood", key=lambda stood: stood.eq(1), kind="stable")
        found += [Finding(str(row["factor"]), str(row["outcome"]), row) for _, row in held.iterrows()]
    return found[:LEADING_FINDINGS]


def find_shown(trials: pd.DataFrame) -> pd.DataFrame:
    """Rows of trial_results.csv whose rise an experiment has shown, the surest first."""
    shown = trials[(trials["outcome"] == "rise_mg_dl") & trials["verdict"].isin(CLAIMS)]
    return shown.sort_values("p_exact", kind="stable")


def gather_curves(tables: Mapping[str, pd.DataFrame], study: Study, wears: Sequence[WearAnalysis]) -> pd.DataFrame:
    """Every eating, or every day, behind each finding that a page leads with, and the two sides' means: ``curves.csv``.

    Of a yes or no both sides, of what is measured the highest and the lowest third. Meals are those that stood alone,
    as eaten. The means of a habit at meals are those at the same carbohydrate, level before it and wear, by least
    squares at each moment: whoever walks after large meals would else seem to gain nothing by it.
    """
    asked = [one.related.as_asked for one in wears]
    days = gather_days(asked)
    meals = gather_meals(asked, days)
    parts = []
    for finding in choose_page_findings(tables):
        lines = _find_lines(finding, study, wears, days, meals)
        if len(lines.sides):
            parts.append(_tabulate(finding, lines))
    return pd.concat(parts, ignore_index=True) if parts else empty_output("curves")


@dataclass(frozen=True, eq=False)
class _Lines:
    """Lines of two sides, shape (n,), at some minutes, shape (m,); `equal` is what is held equal, shape (n, p)."""

    sides: np.ndarray
    minutes: np.ndarray
    above: np.ndarray
    equal: np.ndarray


def _find_lines(
    finding: Finding, study: Study, wears: Sequence[WearAnalysis], days: pd.DataFrame, meals: pd.DataFrame
) -> _Lines:
    if finding.is_trial:
        dates = find_trial_dates([one.related for one in wears], study.trials)
        rows = _of_occasions(wears, dates[(dates["trial"] == finding.name) & dates["used"].astype(bool)])
        return _draw_meals(rows, rows["arm"].to_numpy(object), wears, [])
    outcome = OUTCOME_NAMED[finding.outcome]
    if outcome.rows == "meal":
        rows = meals[meals["alone"] & ~meals["left_out"]]
        measured = finding.row["n_without"] == 0
        return _draw_meals(rows, _sides(rows[finding.name]), wears, [] if measured else ["log_carbs", "baseline_mg_dl"])
    rows = days[~days["left_out"] & days["enough"] & days[outcome.column].notna()]
    later = ONE_DAY if outcome.column.startswith("next_") else pd.Timedelta(0)
    return _draw_days(rows.assign(date=rows["date"] + later), _sides(rows[finding.name]), wears)


def _tabulate(finding: Finding, lines: _Lines) -> pd.DataFrame:
    """Rows of curves.csv: line 0 of each side is its mean."""
    names = list(dict.fromkeys(lines.sides))
    means = _mean_lines(lines, names)
    above = np.vstack([means, lines.above])
    sides, numbers = [*names, *lines.sides], [*([0] * len(names)), *range(1, len(lines.sides) + 1)]
    m = len(lines.minutes)
    return pd.DataFrame({
        "finding": finding.name, "outcome": finding.outcome, "side": np.repeat(np.array(sides, dtype=object), m),
        "line": np.repeat(numbers, m), "minutes": np.tile(lines.minutes, len(sides)),
        "above_mg_dl": np.round(above.ravel(), 1),
    })  # fmt: skip


def _mean_lines(lines: _Lines, names: Sequence[str]) -> np.ndarray:
    """Mean of each side where most of its lines are known, shape (sides, m); what is held equal at its mean."""
    held = np.isfinite(lines.equal).all(axis=1)
    which = np.column_stack([lines.sides == name for name in names]).astype(float)
    result = np.full((len(names), len(lines.minutes)), np.nan)
    for i, heights in enumerate(lines.above.T):
        known = held & np.isfinite(heights)
        enough = which[known].sum(axis=0) >= LEAST_SHARE * which[held].sum(axis=0)
        if enough.all() and known.sum() > which.shape[1] + lines.equal.shape[1]:
            equal = lines.equal[known] - lines.equal[held].mean(axis=0)
            found = np.linalg.lstsq(np.column_stack([which[known], equal]), heights[known], rcond=None)[0]
            result[:, i] = found[: len(names)]
    return result


OUTCOME_NAMED = {outcome.name: outcome for outcome in OUTCOMES.values()}
"""By the contract's name."""


def _of_occasions(wears: Sequence[WearAnalysis], dates: pd.DataFrame) -> pd.DataFrame:
    """The occasion of each planned date that counts, with what its curve starts from."""
    parts = [one.tables["meal_responses"].assign(wear=i) for i, one in enumerate(wears)]
    eaten = pd.concat(parts, ignore_index=True)[["wear", "time", "baseline_mg_dl"]]
    place = {one.wear.name: i for i, one in enumerate(wears)}
    dates = dates.assign(wear=dates["wear"].map(place), time=dates["at"])[["wear", "time", "arm"]]
    return dates.merge(eaten, on=["wear", "time"], how="left")


def _sides(values: pd.Series) -> np.ndarray:
    """``with``, ``without`` or nothing for each row: yes and no, or the highest and the lowest third, shape (n,)."""
    known = values.dropna().to_numpy(dtype=float)
    number = values.to_numpy(dtype=float)
    if not len(known):
        return np.full(len(values), "", dtype=object)
    low, high = (0.0, 1.0) if set(known) <= {0.0, 1.0} else np.quantile(known, [OUTER_SHARE, 1 - OUTER_SHARE])
    return np.select([number >= high, number <= low], ["with", "without"], "").astype(object)


def _draw_meals(rows: pd.DataFrame, sides: np.ndarray, wears: Sequence[WearAnalysis], equal: list[str]) -> _Lines:
    """The trace about each eating, above its half hour before; `equal` names columns, the wear goes with them."""
    minutes = np.arange(-BEFORE_MIN, AFTER_MIN + 1, STEP_MIN)
    rows, sides = rows[sides != ""], sides[sides != ""]
    above = np.full((len(rows), len(minutes)), np.nan)
    for i, one in enumerate(wears):
        mine, trace = (rows["wear"] == i).to_numpy(), one.trace
        place = trace.cells(pd.DatetimeIndex(rows["time"][mine]))[:, None] + minutes[None, :] / GRID_MIN
        glucose = np.interp(place, np.arange(len(trace.time)), trace.glucose_mg_dl, left=np.nan, right=np.nan)
        above[mine] = glucose - rows["baseline_mg_dl"].to_numpy(float)[mine, None]
    held = rows[equal].to_numpy(dtype=float)
    if equal:
        of_wear = pd.get_dummies(rows["wear"], drop_first=True, dtype=float).to_numpy()
        held = np.column_stack([held, of_wear])
    return _Lines(sides, minutes, above, held)


def _draw_days(rows: pd.DataFrame, sides: np.ndarray, wears: Sequence[WearAnalysis]) -> _Lines:
    """Each half hour of a day, above its wear's own level."""
    slots = 24 * 60 // SLOT_MIN
    rows, sides = rows[sides != ""], sides[sides != ""]
    above = np.full((len(rows), slots), np.nan)
    for i, one in enumerate(wears):
        trace, zones = one.trace, one.wear.zones
        slot = np.minimum((local_hours(trace.time, zones) * 60 // SLOT_MIN).astype(int), slots - 1)
        date = to_local(trace.time, zones).normalize()
        half_hours = pd.DataFrame({"date": date, "slot": slot, "glucose": trace.glucose_mg_dl})
        mean = half_hours.pivot_table("glucose", "date", "slot", dropna=False).reindex(columns=range(slots))
        mine = (rows["wear"] == i).to_numpy()
        level = np.nanmean(trace.glucose_mg_dl) if np.isfinite(trace.glucose_mg_dl).any() else np.nan
        above[mine] = mean.reindex(rows["date"][mine]).to_numpy() - level
    return _Lines(sides, (np.arange(slots) + 0.5) * SLOT_MIN, above, np.empty((len(rows), 0)))

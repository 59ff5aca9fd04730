"""What does this wear, this study say? The one way through: records in, a frozen set of tables out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
import scipy

from glucolab import __version__
from glucolab.aligning.trace import estimate_trace, trace_unknown
from glucolab.aligning.trace_record import DrawnTrace, Trace
from glucolab.cleaning.clean import CleanRecord, clean_wear
from glucolab.clock import Days, days_between
from glucolab.errors import CannotAnalyse, as_problem
from glucolab.measuring.cautions import find_cautions
from glucolab.measuring.daily import in_nights, measure_daily
from glucolab.measuring.energy import measure_energy
from glucolab.measuring.excursions import find_runs, measure_excursions
from glucolab.measuring.illness import find_ill_days
from glucolab.measuring.log_clock import estimate_log_clock, is_log_off, move_log
from glucolab.measuring.meals import measure_meal_responses
from glucolab.measuring.nights import find_nights
from glucolab.measuring.occasions import without_minor
from glucolab.measuring.time_of_day import measure_block_means
from glucolab.measuring.walks import add_movement, tabulate_walks
from glucolab.measuring.whole_wear import measure_figures
from glucolab.record import OUTPUT_TABLES, ByName, Person, Study, WearPeriod
from glucolab.relating.comparing.periods import Measured
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.study_tables import relate_nothing, relate_wears
from glucolab.results import StudyAnalysis, WearAnalysis
from glucolab.summaries import summarise_study, summarise_wear

LEAST_READINGS = 12
"""With fewer usable readings, an hour's at five minutes, there is no trace; assumed. Fewer cannot tell noise from
blood, more would empty the first days of a wear scanned by hand. [readings]"""
LONGEST_DAYS = 400
"""A longer wear has a wrong year in its dates; assumed. Too small, a sensor under the skin for months is refused; too
large, one wrong year fills the tables with empty days. [days]"""
VERSIONS = {"glucolab": __version__, "pandas": pd.__version__, "numpy": np.__version__, "scipy": scipy.__version__}


def analyse_wear(wear: WearPeriod, study: Study | None = None) -> WearAnalysis:
    """Clean, align and measure one wear, and relate what it holds.

    Parameters
    ----------
    wear : WearPeriod
        Of a study that was read, or from :func:`glucolab.wear_from_frame`.
    study : Study, optional
        For the range, the goal and the person; its other wears are not looked at. Default: an adult who takes no
        glucose-lowering medicine and is not pregnant, without a goal, and the usual range.

    Returns
    -------
    WearAnalysis
        ``summary`` and ``tables`` as the contract names them; printed, ten lines at most.

    Raises
    ------
    CannotAnalyse
        If the wear is longer than any sensor lasts.

    Notes
    -----
    Readings are flagged, blood is estimated from those that are left with the sensor's lag and bias removed, and every
    figure is taken over draws of that estimate, so that its interval holds noise, lag, bias and gaps.
    Limits of validity: people without diabetes; not a diagnosis, and never for dosing a medicine.

    References
    ----------
    .. [1] Danne et al., Diabetes Care 2017;40:1631-1640, doi 10.2337/dc17-1600.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> sorted(one.tables)[:3]
    ['daily', 'energy', 'excursions']
    >>> one.to_frame().loc["mean", "low"] < one.summary["mean"]["estimate"]
    np.True_
    """
    if study is None:
        study = Study(wear.name, Person(wear.zones.names[0]), unit=wear.unit, wears=ByName([wear]))
    as_read, wear = wear, add_movement(wear)
    clean = clean_wear(wear)
    if (clean.end - clean.start).total_seconds() > LONGEST_DAYS * 86400:
        text = f"lasts more than {LONGEST_DAYS} days, which no sensor does: check start and end in wear.toml"
        raise CannotAnalyse(text)
    days = days_between(clean.start, clean.end, wear.zones)
    enough = len(clean.usable) >= LEAST_READINGS
    trace = estimate_trace(wear, clean) if enough else trace_unknown(clean)
    nights = find_nights(wear, days)
    excursions = measure_excursions(wear, clean, trace)
    responses = measure_meal_responses(wear, clean, trace)
    low, high = study.range_low_mg_dl, study.range_high_mg_dl
    daily = measure_daily(wear, clean, trace, days, nights, excursions, low, high)
    ill = find_ill_days(wear, days)
    figures = measure_figures(
        wear, clean, trace, days=days, nights=nights, ill=ill, excursions=excursions, responses=responses,
        low_mg_dl=low, high_mg_dl=high,
    )  # fmt: skip
    tables = {
        "readings": _readings_out(clean, trace),
        "flags": clean.spans[OUTPUT_TABLES["flags"].names],
        "gaps": clean.gaps[OUTPUT_TABLES["gaps"].names],
        "daily": daily,
        "meal_responses": responses[OUTPUT_TABLES["meal_responses"].names],
        "excursions": excursions,
        "energy": measure_energy(wear, responses, trace),
        "walks": tabulate_walks(wear),
    }
    worth = None if study.person.describe_only else study.goal.worth_noticing_mg_dl
    cautions = find_cautions(wear, study.person, wear.meals, _low_at_night(trace, nights))
    clock = estimate_log_clock(trace, without_minor(responses), days)
    gain_errors = np.sqrt(trace.bias.gain_covariance[0])
    related = _wear_tables(wear, days, nights, ill, tables, gain_errors)
    if clock[0] is not None and is_log_off(clock[0]):
        moved = add_movement(move_log(as_read, clock[0]["estimate"]))
        right = _wear_tables(moved, days, nights, ill, tables | _measure_logged(moved, clean, trace), gain_errors)
        related = replace(related, by_right_clock=replace(right, moved_min=clock[0]["estimate"]))
    summary = summarise_wear(wear, clean, trace, figures, tables, int(ill.sum()), clock, cautions)
    blocks = measure_block_means(figures.blocks, trace.bias)
    kept = trace.without_draws()
    return WearAnalysis(wear, study, days, tables, summary, kept, related, worth, blocks, nights, figures, clean)


def _measure_logged(moved: WearPeriod, clean: CleanRecord, trace: DrawnTrace) -> dict[str, pd.DataFrame]:
    """The tables that hang on when things were logged, anew for a log that was moved."""
    responses = measure_meal_responses(moved, clean, trace)
    return {
        "meal_responses": responses[OUTPUT_TABLES["meal_responses"].names],
        "energy": measure_energy(moved, responses, trace),
    }


def analyse_study(
    study: Study,
    progress: Callable[[str], None] = lambda text: None,
    each: Callable[[WearAnalysis], None] = lambda one: None,
) -> StudyAnalysis:
    """Analyse every wear, then all of them together.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with a line of text as each step begins.
    each : callable, optional
        Called with every wear as soon as it is analysed; where it fails, that wear is left out.

    Returns
    -------
    StudyAnalysis
        A wear that cannot be analysed is listed in `left_out` and the others go on; a fault in what they say together
        is listed likewise, and the wears stay.

    Raises
    ------
    OSError
        If `each` cannot write: that is no fault of a wear.

    Notes
    -----
    Every wear is analysed alone; together they are compared, with the error that sensors of one model share dropping
    out of a difference, and habits are set against glucose by one regression within wears, p by permutation of whole
    days, q over the file. Limits of validity: associations, not causes, but for experiments whose dates were drawn by
    lot.

    References
    ----------
    .. [1] Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300, doi 10.1111/j.2517-6161.1995.tb02031.x.
    .. [2] Benjamini & Bogomolov, J R Stat Soc B 2014;76:297-318, doi 10.1111/rssb.12028.
    .. [3] Welch, Biometrika 1947;34:28-35, doi 10.1093/biomet/34.1-2.28.

    Examples
    --------
    >>> import glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> analysis.wears["wear_2"].name, sorted(analysis.tables)[:2]
    ('wear_2', ['average_parts', 'block_changes'])
    >>> len(repr(analysis).splitlines()) <= 10
    True
    """
    done: list[WearAnalysis] = []
    left_out = [p for p in study.problems if p.left_out]
    for i, wear in enumerate(study.wears, start=1):
        progress(f"wear {i} of {len(study.wears)}: {wear.name}")
        try:
            one = replace(analyse_wear(wear, study), earlier=tuple(done))
            each(one)
        except OSError:
            raise
        except Exception as error:  # one bad wear never stops the others; it is listed, and the command ends with 1
            left_out.append(as_problem(f"wear_periods/{wear.name}", "could not be analysed", error))
            continue
        done.append(one)
    progress("the study as a whole")
    fault = None
    try:
        related = relate_wears(study, [as_measured(a) for a in done], [a.related for a in done])
    except Exception as error:  # what the wears say alone is not lost with what they say together
        fault = as_problem("the study as a whole", "could not be analysed", error)
        related = relate_nothing(fault)
    left_out.extend(problem for problem in related.problems if problem.left_out)
    of_wears = (text for one in done for text in one.summary["cautions"])
    cautions = list(dict.fromkeys([*related.cautions, *of_wears]))
    found = list(dict.fromkeys([*study.problems, *left_out, *related.problems]))
    summary = summarise_study(study, related.trend, related.withheld, cautions, found, VERSIONS)
    return StudyAnalysis(study, ByName(done), related.tables, summary, tuple(left_out), fault)


def as_measured(a: WearAnalysis) -> Measured:
    """A wear as comparisons of periods take it."""
    return Measured(a.wear, a.trace, a.figures, a.summary["coverage"], a.clean.start, a.clean.end, a.clean.interval_min)


def _wear_tables(
    wear: WearPeriod,
    days: Days,
    nights: pd.DataFrame,
    ill: np.ndarray,
    tables: Mapping[str, pd.DataFrame],
    gain_errors: np.ndarray,
) -> WearTables:
    slept = nights["night_source"] != "clock"
    sleep = pd.DataFrame({"date": days.dates[slept.to_numpy()], "start": nights.loc[slept, "start"].to_numpy()})
    sleep["start"] = pd.DatetimeIndex(nights.loc[slept, "start"])
    daily = tables["daily"]
    covariates = tuple(c for c in daily.columns if c not in OUTPUT_TABLES["daily"].names and c != "ill")
    return WearTables(
        wear.name, days, wear.zones, daily, tables["meal_responses"], tables["energy"], sleep, wear.activity,
        covariates, ill, wear.running, gain_errors,
    )  # fmt: skip


def _readings_out(clean: CleanRecord, trace: Trace) -> pd.DataFrame:
    """``readings``: every input reading in the order of the file, with its flags."""
    ordered = clean.readings.sort_values("row", ignore_index=True)
    place = np.clip(trace.cells(ordered["time"]), 0, len(trace.time) - 1)
    low = np.minimum(np.floor(place).astype(int), max(len(trace.time) - 2, 0))
    high = np.minimum(low + 1, len(trace.time) - 1)
    part = place - low
    left, right, before = (trace.glucose_mg_dl[at] for at in (low, high, np.maximum(low - 1, 0)))
    value = np.where(part == 0, left, left * (1 - part) + right * part)
    for other in (left, right, before):  # beside a gap the nearest point of the trace stands for a reading
        value = np.where(np.isnan(value), other, value)
    flags = np.full(len(ordered), "", dtype=object)
    for flag in clean.flag_names:
        marked = ordered[flag].to_numpy()
        flags[marked] = [f"{text};{flag}" if text else flag for text in flags[marked]]
    return pd.DataFrame(
        {
            "time": ordered["time"],
            "glucose_raw_mg_dl": ordered["glucose_mg_dl"],
            "glucose_mg_dl": np.where(ordered["excluded"], np.nan, value),
            "flags": pd.Series(flags, dtype="str"),
        }
    )


def _low_at_night(trace: Trace, nights: pd.DataFrame) -> bool:
    low = np.where(in_nights(trace.time, nights) & (trace.glucose_mg_dl < 70), 1.0, 0.0)
    return len(find_runs(low, 0.5)[0]) > 0

"""What stands on the page for a professional? At most two sides of figures, each with how sure it is, and no name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from markupsafe import Markup

from glucolab.clock import local_hours
from glucolab.measuring.time_of_day import measure_hour_means
from glucolab.record import Study
from glucolab.results import StudyAnalysis, WearAnalysis
from glucolab.showing import charts
from glucolab.showing.colours import PAGE_COLOURS
from glucolab.showing.deidentify import name_nothing
from glucolab.showing.display import Display, display_of, is_known, write_number, write_percent
from glucolab.showing.markup import fill_template
from glucolab.showing.pictures import draw_svg
from glucolab.showing.words.common import say_count, say_span
from glucolab.showing.words.findings.effects import choose_findings, say_finding
from glucolab.showing.words.findings.trials import say_trial, tell_trial
from glucolab.showing.words.pages import hand_over as words
from glucolab.showing.words.pages.study import find_latest

MARK = '<meta name="generator" content="glucolab share">'
_CHART_PX = 680
_MOST_WEARS, MOST_FINDINGS, MOST_TRIALS, MOST_PAIRS = 8, 6, 4, 4
_MOST_LABS, _MOST_DRAWS = 9, 4
"""What fits two sides with the longest sentences; what is left out is counted on the page."""
_FIGURES = ("sd", "minutes_per_day", "overnight_mean")


def write_hand_over(analysis: StudyAnalysis) -> str:
    """The whole page as HTML, offline, without script.

    Parameters
    ----------
    analysis : StudyAnalysis
        With at least one wear.

    Returns
    -------
    str
    """
    study, tables = analysis.study, name_nothing(analysis)
    display, periods, advises = display_of(study), tables["periods"], not study.person.describe_only
    by_start = sorted(analysis.wears, key=lambda one: one.wear.start)
    numbered = {f"Wear {i}": one for i, one in enumerate(by_start, start=1)}
    shown = periods.tail(_MOST_WEARS)
    wears = [numbered[name] for name in shown["name"] if name in numbered]
    return fill_template(
        "hand_over.html",
        mark=Markup(MARK),
        colours=Markup("".join(f"--gl-{name}:{colour};" for name, colour in PAGE_COLOURS.items())),
        title=words.say_hand_over_title(periods),
        lead=_lead(periods, tables["comparisons"], numbered, study),
        head=[
            "wear",
            "dates",
            "days",
            "recorded",
            "finger-sticks",
            *(["sensor minus blood (90 %)"] if display.numbers else []),
        ],
        rows=[_worn_row(row, numbered, display) for _, row in shown.iterrows()],
        earlier=max(len(periods) - _MOST_WEARS, 0),
        figures_head=_figures_head(study, display),
        figures=[_figures_row(row, numbered, display) for _, row in shown.iterrows()] if display.numbers else [],
        withheld=words.list_withheld([one.summary for one in wears], _FIGURES) if display.numbers else [],
        quality=words.say_left_out([one.summary["flag_minutes"] for one in analysis.wears]),
        **_draw_hours(numbered, periods, display),
        **_labs(tables["lab_values"], tables["lab_changes"], display),
        advises=advises,
        findings=_findings(tables["effects"], analysis, display),
        asked=len(tables["effects"]),
        others=[text for say in (words.say_small, words.say_open) if (text := say(tables["effects"], MOST_PAIRS))],
        trials=_trials(tables["trial_results"], display) if advises else [],
        methods=words.METHODS,
        cautions=_cautions(analysis),
    )


def _lead(
    periods: pd.DataFrame, comparisons: pd.DataFrame, numbered: dict[str, WearAnalysis], study: Study
) -> list[str]:
    display, running = display_of(study), [name for name, one in numbered.items() if one.wear.running]
    said = [words.say_who(periods, study.person), words.say_average(periods, running, display)]
    if not study.person.describe_only:
        latest = find_latest(comparisons)
        said.append(words.say_hand_over_goal(periods, study.goal, display))
        said.append("" if latest is None else words.say_hand_over_change(latest, display))
    return [text for text in (*said, words.ESTIMATED) if text]


def _worn_row(row: pd.Series, numbered: dict[str, WearAnalysis], display: Display) -> list[str]:
    running = row["name"] in numbered and numbered[row["name"]].wear.running
    cells = [
        row["name"],
        f"{say_span(row['start'], row['end'])}{', running' if running else ''}",
        write_number(row["days"], 0),
        write_percent(row["coverage"]),
        f"{int(row['checks_used'])}",
    ]
    return [*cells, words.say_hand_over_bias(row, display)] if display.numbers else cells


def _figures_head(study: Study, display: Display) -> list[str]:
    if not display.numbers:
        return []
    low, high = (display.level(level) for level in (study.range_low_mg_dl, study.range_high_mg_dl))
    unit = display.unit
    return ["wear", f"mean, {unit}", f"usual mean, {unit}", f"SD, {unit}", f"night mean, {unit}",
            f"below {low}, min a day", f"above {high}, min a day"]  # fmt: skip


def _figures_row(row: pd.Series, numbered: dict[str, WearAnalysis], display: Display) -> list[str]:
    """Means over all finger-sticks together, the rest of the wear alone."""
    mean, usual = words.WITHHELD, words.WITHHELD
    if is_known(row["mean_mg_dl"]):
        ends = [display.level(row[f"mean_{end}_mg_dl"]) for end in ("low", "high")]
        mean = f"{display.level(row['mean_mg_dl'])} ({ends[0]} to {ends[1]})"
    if is_known(row["usual_low_mg_dl"]):
        usual = " to ".join(display.level(row[f"usual_{end}_mg_dl"]) for end in ("low", "high"))
    if row["name"] not in numbered:
        return [row["name"], mean, usual, *[words.WITHHELD] * 4]
    summary = numbered[row["name"]].summary
    minutes = summary["minutes_per_day"] if is_known(summary["minutes_per_day"]) else {}
    outside = [words.write_estimate(minutes.get(f"{side}_range", np.nan)) for side in ("below", "above")]
    alone = [words.write_glucose(summary[name], display) for name in ("sd", "overnight_mean")]
    return [row["name"], mean, usual, *alone, *outside]


def _draw_hours(numbered: dict[str, WearAnalysis], periods: pd.DataFrame, display: Display) -> dict[str, object]:
    """The hours of the latest wear that has an average; nothing where three days of no hour are known."""
    nothing: dict[str, object] = {"hours": "", "hours_said": "", "hours_description": ""}
    known = [name for name in periods.loc[periods["mean_mg_dl"].notna(), "name"] if name in numbered]
    if not known:
        return nothing
    one = numbered[known[-1]]
    hours = measure_hour_means(one.trace, one.wear.zones)
    if not hours["mean_mg_dl"].notna().any():
        return nothing
    mean = (
        float(one.summary["mean"]["estimate"]) if is_known(one.summary["mean"]) else float(hours["mean_mg_dl"].mean())
    )
    chart = charts.chart_hours(hours, _find_asleep(one), one.blocks, mean, display, width=_CHART_PX)
    days = hours.loc[hours["n_days"] > 0, "n_days"].tolist()
    return {"hours": Markup(draw_svg(chart)), "hours_said": words.say_hours(days, known[-1]),
            "hours_description": str(chart.description)}  # fmt: skip


def _find_asleep(one: WearAnalysis) -> np.ndarray:
    """Hours of the clock whose middle most nights hold, shape (24,)."""
    nights = one.nights.dropna(subset=["start", "end"])
    start = local_hours(pd.DatetimeIndex(nights["start"]), one.wear.zones)
    length = (nights["end"] - nights["start"]).dt.total_seconds().to_numpy() / 3600
    since = (np.arange(24)[:, None] + 0.5 - start[None, :]) % 24
    return (since < length[None, :]).mean(axis=1) > 0.5 if len(nights) else np.zeros(24, dtype=bool)


def _labs(values: pd.DataFrame, changes: pd.DataFrame, display: Display) -> dict[str, object]:
    if not len(values) or not display.numbers:
        return {"labs": [], "labs_head": [], "labs_more": ""}
    dates = words.list_lab_dates(values, _MOST_DRAWS)
    rows = words.list_lab_rows(values, changes, dates, display)
    earlier, more = values["date"].nunique() - len(dates), len(rows) - _MOST_LABS
    left = [say_count(earlier, "earlier date")] if earlier else []
    left += [say_count(more, "blood test")] if more > 0 else []
    head = ["blood test", *(words.name_lab_date(date) for date in dates), "latest change", "normal between tests"]
    return {
        "labs": rows[:_MOST_LABS],
        "labs_head": head,
        "labs_more": f"Not shown: {' and '.join(left)}." if left else "",
    }


def _findings(effects: pd.DataFrame, analysis: StudyAnalysis, display: Display) -> list[str]:
    found = choose_findings(effects, analysis.study.person)
    worth = analysis.study.goal.worth_noticing_mg_dl
    said = [say_finding(row, worth, display) for _, row in found.head(MOST_FINDINGS).iterrows()]
    more = len(found) - len(said)
    return [*said, f"and {more} more, weaker"] if more else said


def _trials(results: pd.DataFrame, display: Display) -> list[str]:
    said = [f"Experiment {row['trial']}: {_tell(row, display)}" for _, row in results.head(MOST_TRIALS).iterrows()]
    more = len(results) - len(said)
    return [*said, f"and {more} results more"] if more else said


def _tell(row: pd.Series, display: Display) -> str:
    return tell_trial(row, display) if row["outcome"] == "rise_mg_dl" else say_trial(row, display)


def _cautions(analysis: StudyAnalysis) -> Sequence[str]:
    """Of every wear and of the study, each once, those that the data ask for first."""
    lists = [one.summary["cautions"] for one in analysis.wears] + [analysis.summary["cautions"]]
    asked: dict[str, int] = {}
    for sentences in lists:
        for sentence in sentences:
            asked[sentence] = asked.get(sentence, 0) + 1
    return sorted(asked, key=lambda sentence: asked[sentence] == len(lists))

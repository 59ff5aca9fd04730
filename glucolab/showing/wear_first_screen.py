"""What stands on a wear's first screen? Five sentences, each with its picture: the whole answer of the page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.relating.effects.questions import OUTCOMES
from glucolab.results import WearAnalysis
from glucolab.showing.charts import ledger, next_step
from glucolab.showing.charts.canvas import HandDrawn
from glucolab.showing.charts.ledger import LEDGER_NARROW_PX, LEDGER_PX
from glucolab.showing.display import Display, display_of
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.words.findings.habit_phrases import name_side
from glucolab.showing.words.findings.levers import find_step
from glucolab.showing.words.pages import wear as words
from glucolab.showing.words.pages import wear_first as said
from glucolab.showing.words.pages.plan import say_steps
from glucolab.so_far import Finding, SoFar, choose_page_findings

MOST_WEARS = 5
"""Drawn against the goal, the latest: the study's page has all."""
_OF_MEALS = {outcome.name for outcome in OUTCOMES.values() if outcome.rows == "meal"}


def show_first_screen(result: WearAnalysis, study: Study, so_far: SoFar, linked: bool = True) -> Part:
    """The goal, the change, at most two findings that hold, and the next step, each with a small picture.

    Parameters
    ----------
    result : WearAnalysis
    study : Study
    so_far : SoFar
        What was known with this wear.
    linked : bool
        False leaves the links to other pages out, where there are none.

    Returns
    -------
    Part
    """
    display, person = display_of(study), study.person
    wears = said.name_wears(so_far.tables["periods"])
    wears = wears if result.wear.name in set(wears["name"]) else wears.iloc[:0]
    rows = [_goal_row(result, study, wears, so_far)]
    if len(wears):
        rows.append(_change_row(result, study, wears, so_far))
    if not person.describe_only and not so_far.fault:
        rows += _finding_rows(study, so_far)
        rows += _step_row(study, so_far, display)
    links = _list_links(so_far.tables["periods"], result.wear.name) if linked else []
    html = fill_template("first_screen.html", facts=words.list_facts(result), links=links, rows=rows)
    lines = [" ".join(str(row[name]) for name in ("heading", "aim", "text", "more") if row[name]) for row in rows]
    return Part(html, "\n".join(lines))


def _row(heading: str, text: str = "", more: str = "", aim: str = "", picture: Part | None = None, **how: Any) -> Any:
    figure = Markup(picture.html) if picture else ""
    return {
        "heading": heading,
        "aim": aim,
        "text": text,
        "more": more,
        "figure": figure,
        "kind": "",
        "latest": "",
    } | how


def _picture(draw: Callable[..., HandDrawn], *tables: object) -> Part:
    """A drawing at both widths, with its description."""
    wide, narrow = (draw(*tables, width=width) for width in (LEDGER_PX, LEDGER_NARROW_PX))
    html = fill_template(
        "figure.html", description=wide.description, wide=wide.svg, narrow=narrow.svg, caption=""
    )  # fmt: skip
    return Part(html, wide.description)


def _list_links(periods: pd.DataFrame, wear: str) -> list[tuple[str, str]]:
    """The wear before, and the study: a page leads to nothing else."""
    wears = periods[periods["level"] == "wear"].sort_values("start", kind="stable")
    names = wears["name"].tolist()
    before = names[: names.index(wear)][-1:] if wear in names else []
    links = [(f"../{quote(name, safe='')}/report.html", "Earlier wear") for name in before]
    return [*links, ("../study/report.html", "All wears")]


def _goal_row(result: WearAnalysis, study: Study, wears: pd.DataFrame, so_far: SoFar) -> dict[str, Any]:
    display, summary, person = display_of(study), result.summary, study.person
    described = words.say_describe_only(person)
    latest = words.say_latest_meal(result, display)
    if so_far.fault:
        apart = said.say_apart(so_far.fault, summary, display)
        return _row(*apart, kind="goal", latest=latest)
    if not len(wears):
        why = summary["withheld"].get("mean", "")
        return _row(words.say_wear_average(None, summary, display), why, described, kind="goal", latest=latest)
    own = wears.iloc[-1]
    goal = None if person.describe_only else study.goal.mean_mg_dl
    aim = words.say_goal(own, study.goal, person, display)
    picture = _picture(ledger.draw_wears, wears.tail(MOST_WEARS), goal, display)
    average, interval = words.say_wear_average(own, summary, display), said.say_interval(own, summary, display)
    if not person.describe_only:
        interval = f"{interval} {said.say_what_is_usual(display)}".strip()
    return _row(average, interval, described, aim, picture, kind="goal", latest=latest)


def _change_row(result: WearAnalysis, study: Study, wears: pd.DataFrame, so_far: SoFar) -> dict[str, Any]:
    display, worth = display_of(study), study.goal.worth_noticing_mg_dl
    comparisons, habits = so_far.tables["comparisons"], so_far.tables["habit_changes"]
    own = result.wear.name
    before = wears["name"].iloc[-2] if len(wears) > 1 else ""
    pair = comparisons[
        (comparisons["level"] == "wear") & (comparisons["period_a"] == before) & (comparisons["period_b"] == own)
    ]
    mine = habits[(habits["wear_a"] == before) & (habits["wear_b"] == own)]
    when = wears["when"].iloc[-2] if before else ""
    changed = said.say_since(pair.iloc[0] if len(pair) else None, mine, when, display)
    if study.person.describe_only:
        changed = said.Said("Within the day", "")
    blocks = so_far.tables["block_changes"]
    blocks = blocks[(blocks["period_a"] == before) & (blocks["period_b"] == own)]
    if len(blocks):
        quarters = blocks.rename(columns={"change_mg_dl": "estimate", "low_mg_dl": "low", "high_mg_dl": "high"})
        return _row(*changed, picture=_picture(ledger.draw_quarters, quarters, worth, when, display))
    quarters = result.blocks[result.blocks["difference_mg_dl"].notna()].rename(
        columns={"difference_mg_dl": "estimate", "difference_low_mg_dl": "low", "difference_high_mg_dl": "high"}
    )
    if not len(quarters):
        return _row(*changed)
    text = f"{changed.text} {said.WITHIN_THE_DAY}".strip()
    picture = _picture(ledger.draw_quarters, quarters, worth, said.DAYS_AVERAGE, display)
    return _row(changed.heading, text, changed.more, picture=picture)


def _finding_rows(study: Study, so_far: SoFar) -> list[dict[str, Any]]:
    display, worth = display_of(study), study.goal.worth_noticing_mg_dl
    rows: list[dict[str, Any]] = []
    linked: list[dict[str, Any]] = []
    for finding in choose_page_findings(so_far.tables):
        told = said.say_page_finding(finding, worth, display)
        rows.append(_row(*told, picture=_pair_picture(finding, so_far, display), kind="finding"))
        linked = linked or ([] if finding.is_trial else rows[-1:])
    for row in linked:  # said once
        row["more"] = f"{row['more']} A link is not a cause.".strip()
    return rows or [_row(*said.say_nothing_held(so_far.tables["effects"]))]


def _pair_picture(finding: Finding, so_far: SoFar, display: Display) -> Part | None:
    """Its two sides as curves; none where too little was recorded of one of them."""
    curves, row = so_far.tables["curves"], finding.row
    mine = curves[curves["finding"] == finding.name]
    if finding.is_trial:
        names = {row["arm_b"]: str(row["arm_b"]), row["arm_a"]: str(row["arm_a"])}
        ends = row["difference"], row["low"], row["high"]
    else:
        names = {side: name_side(row, side) for side in ("with", "without")}
        ends = row["range_estimate"], row["range_low"], row["range_high"]
    means = mine[(mine["line"] == 0) & mine["above_mg_dl"].notna()]
    if not set(names) <= set(means["side"]):
        return None
    return _picture(ledger.draw_pair, mine, names, ends, finding.outcome in _OF_MEALS, display)


def _step_row(study: Study, so_far: SoFar, display: Display) -> list[dict[str, Any]]:
    tables, goal = dict(so_far.tables), study.goal
    wears = said.name_wears(tables["periods"])
    usual = float(wears["mean_mg_dl"].iloc[-1]) if len(wears) else float("nan")
    steps = say_steps(tables, usual, goal, study.person, display)
    if not steps:
        return []
    lever = find_step(tables["levers"], usual, goal)
    checks = tables["next_checks"]
    advised = checks[checks["advised"].eq(True)]
    picture = None
    if lever is None and len(advised) and advised["checks"].iloc[0] > 0:
        halves = checks["mean_half_mg_dl"].iloc[0], advised["mean_half_mg_dl"].iloc[0]
        picture = _picture(next_step.draw_sticks, halves, int(advised["checks"].iloc[0]), display)
    elif lever is not None:
        change = lever["on_mean_mg_dl"], lever["low_mg_dl"], lever["high_mg_dl"]
        picture = _picture(next_step.draw_lever, usual, change, goal.mean_mg_dl, display)
    return [_row("What to do next", steps[0], " ".join(steps[1:]), picture=picture, kind="next")]

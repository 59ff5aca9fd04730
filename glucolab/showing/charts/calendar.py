"""Where does each wear lie in the year, and at what level? Periods on a true calendar, breaks blank."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY
from glucolab.record import Goal
from glucolab.showing import colours, theme
from glucolab.showing.display import Display
from glucolab.showing.words.common import SHORT_MONTHS, cut_text, say_day, say_title

MARGIN_DAYS = 7
TICK_PX = 52
"""Room that a month's name needs. [px]"""
SHORT_CALENDAR_DAYS = 75
PADDING = {"left": 42, "right": 30, "top": 34, "bottom": 30}


def chart_periods(
    periods: pd.DataFrame, goal: Goal | None, display: Display, width: int = theme.WIDE_PX
) -> alt.TopLevelMixin:
    """Every wear where it lies in the calendar, with both intervals and the goal's line.

    Parameters
    ----------
    periods : DataFrame
        Rows of periods.csv's table at the level "wear", with a mean.
    goal : Goal or None
        None draws no goal.
    display : Display
    width : int
        [px]

    Returns
    -------
    altair chart
    """
    plot = {"width": width - PADDING["left"] - PADDING["right"], "height": 240 if theme.is_narrow(width) else 280}
    start, end = periods["start"].min(), max(periods["end"].max(), pd.Timestamp(goal.by if goal and goal.by else 0))
    margin = max(MARGIN_DAYS, round((end - start) / ONE_DAY / 16))
    first, days = start - margin * ONE_DAY, round((end - start) / ONE_DAY) + 2 * margin
    table = tabulate_calendar(periods, first, display, plot["width"] / days)
    goals = _goal_line(goal, display, first, days)
    how = {"scale": alt.Scale(domain=[0, days], nice=False), "axis": _calendar_axis(first, days, plot["width"])}
    levels = {"scale": _level_scale(table, goals), "axis": _level_axis(display)}
    x, y = alt.X("from:Q", **how), alt.Y("estimate:Q", **levels)
    base = alt.Chart(table)
    boxes = [
        base.mark_rect(color=colours.ACCENT, opacity=opacity).encode(
            x=x, x2=alt.X2("to"), y=alt.Y(f"{low}:Q", **levels), y2=alt.Y2(high)
        )
        for low, high, opacity in (("outer_low", "outer_high", 0.2), ("low", "high", 0.4))
    ]
    lines = base.mark_rule(color=colours.ACCENT, strokeWidth=2).encode(x=x, x2=alt.X2("to"), y=y)
    names = base.mark_text(
        baseline="bottom", fontSize=12, dy=-18 if table["text"].str.contains("\n").any() else -4, lineBreak="\n"
    )
    names = names.encode(x=alt.X("middle:Q", **how), y=alt.Y("outer_high:Q", **levels), text=alt.Text("text:N"))
    rule = alt.Chart(goals).mark_rule(color=colours.OCHRE_TEXT, strokeDash=[4, 3]).encode(x=x, x2=alt.X2("to"), y=y)
    place = {"align": "right", "baseline": "top", "dy": 4, "fontSize": 12}
    halo, words = (
        alt.Chart(goals)
        .mark_text(color=colours.OCHRE_TEXT, **place, **how_drawn)
        .encode(x=alt.X("to:Q", **how), y=y, text=alt.Text("words:N"))
        for how_drawn in ({"stroke": colours.PAPER, "strokeWidth": 4, "strokeJoin": "round"}, {})
    )
    chart = alt.layer(*boxes, lines, names, rule, halo, words, autosize="none", **plot)
    description = (
        f"{len(table)} wears on a calendar, breaks blank: the average of each with its 90 % interval, and the wider "
        "interval of living like this."
    )
    return theme.finish_chart(chart, description, PADDING)


def tabulate_calendar(periods: pd.DataFrame, first: pd.Timestamp, display: Display, px_a_day: float) -> pd.DataFrame:
    """Boxes of the calendar: ``from, to, middle`` [days since `first`], levels in the shown unit, ``text``.

    Wears that overlap stand side by side, each on a part of the days they share.
    """
    columns = {"estimate": "mean_mg_dl", "low": "mean_low_mg_dl", "high": "mean_high_mg_dl",
               "outer_low": "usual_low_mg_dl", "outer_high": "usual_high_mg_dl"}  # fmt: skip
    table = pd.DataFrame({new: np.asarray(display.values(periods[old])) for new, old in columns.items()})
    table["from"] = ((periods["start"] - first) / ONE_DAY).to_numpy()
    table["to"] = ((periods["end"] - first) / ONE_DAY).to_numpy() + 1
    names = [say_title(name) for name in periods["name"]]
    levels = [display.level(value) if display.numbers else "" for value in periods["mean_mg_dl"]]
    table = table.assign(name=names, level=levels).sort_values(["from", "to"], kind="stable", ignore_index=True)
    group = (table["from"] >= table["to"].cummax().shift(fill_value=-np.inf)).cumsum()
    place, many = table.groupby(group).cumcount(), table.groupby(group)["to"].transform("size")
    begin, end = table.groupby(group)["from"].transform("min"), table.groupby(group)["to"].transform("max")
    share = (end - begin) / many
    shared = many > 1
    table["from"] = table["from"].where(~shared, begin + place * share)
    table["to"] = table["to"].where(~shared, begin + (place + 0.92) * share)
    table["middle"] = (table["from"] + table["to"]) / 2
    room_px = table["middle"].diff().min() * px_a_day if len(table) > 1 else 400
    letters = theme.letters_in(room_px)
    with_name = letters >= max(8, *(min(len(name), 18) for name in names))
    texts = [
        f"{cut_text(n, letters)}\n{v}" if with_name else v for n, v in zip(table["name"], table["level"], strict=True)
    ]
    return table.assign(text=[text.strip() for text in texts])


def _calendar_axis(first: pd.Timestamp, days: int, plot_px: float) -> alt.Axis:
    """Months, or weeks where the calendar is short, as many as have room."""
    if days <= SHORT_CALENDAR_DAYS:
        ticks = list(range(0, days + 1, 7 * -(-days * TICK_PX // int(7 * plot_px))))
        labels = {t: say_day(first + t * ONE_DAY, weekday=False) for t in ticks}
    else:
        months = pd.date_range(first, first + days * ONE_DAY, freq="MS")
        months = months[:: -(-len(months) * TICK_PX // int(plot_px))]
        years = [f" {m.year}" if m.month == 1 or m == months[0] else "" for m in months]
        ticks = [int((m - first) / ONE_DAY) for m in months]
        labels = {t: SHORT_MONTHS[m.month - 1] + year for t, m, year in zip(ticks, months, years, strict=True)}
    return alt.Axis(title=None, values=ticks, labelExpr=f"{labels}[datum.value]", grid=False)


def _level_axis(display: Display) -> alt.Axis:
    """Levels, the title lying above the axis where it can be read."""
    title = f"average blood glucose, {display.unit}" if display.numbers else "average blood glucose, higher upwards"
    return alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=5, titleAnchor="end",
                    titleAngle=0, titleAlign="left", titleX=-30, titleY=-14, titleBaseline="bottom")  # fmt: skip


def _level_scale(table: pd.DataFrame, goals: pd.DataFrame) -> alt.Scale:
    values = [*table["outer_low"], *table["outer_high"], *goals["estimate"]]
    room = (max(values) - min(values)) * 0.14 or 1.0
    return alt.Scale(domain=[min(values) - room, max(values) + room], nice=False, zero=False)


def _goal_line(goal: Goal | None, display: Display, first: pd.Timestamp, days: int) -> pd.DataFrame:
    """The goal from its start to its end, ``from, to, estimate, words``; no row without a goal."""
    if goal is None or goal.mean_mg_dl is None:
        return pd.DataFrame({"from": [], "to": [], "estimate": [], "words": []})
    start = max(0.0, (pd.Timestamp(goal.start) - first) / ONE_DAY) if goal.start else 0.0
    end = min(float(days), (pd.Timestamp(goal.by) - first) / ONE_DAY) if goal.by else float(days)
    words = f"goal: below {display.level(goal.mean_mg_dl)}" if display.numbers else "goal: below this line"
    value = float(display.values(goal.mean_mg_dl))
    return pd.DataFrame({"from": [start], "to": [max(start, end)], "estimate": [value], "words": [words]})

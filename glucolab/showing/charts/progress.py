"""How far is the goal, and what might close the distance? Wears down the year and habits below, on one scale."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import altair as alt
import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY
from glucolab.record import Goal, empty_output
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing import colours, theme
from glucolab.showing.charts.drawing import Drawing
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import cut_text, say_count, say_title
from glucolab.showing.words.findings.levers import list_levers

_ROW_PX, _ROW_NARROW_PX = 23, 40
"""Room of one wear or habit: on a phone its words stand above its bar. [px]"""
_BREAKS_PX = 110
"""Room that all breaks between wears share, each by its length. [px]"""
_HEAD_PX, _AXIS_PX, _BETWEEN_PX = 50, 30, 62
_LABEL_PX, _FIGURE_PX = 296, 132


@dataclass(frozen=True)
class _Frame:
    """Where things stand across the picture: the plot between `left` and `right`, words beside or above it. [px]"""

    left: float
    right: float
    width: float
    narrow: bool
    at: Callable[[float], float]
    """From a level in the shown unit. [px]"""


def chart_progress(
    wears: pd.DataFrame,
    levers: pd.DataFrame | None = None,
    goal: Goal | None = None,
    display: Display = USUAL,
    width: int = theme.WIDE_PX,
) -> alt.TopLevelMixin:
    """Every wear's average with its interval where it lies in the year, and what habits might do to the latest.

    Parameters
    ----------
    wears : DataFrame
        periods.csv's table; drawn are the wears that have a mean. A column ``running`` may say which have not ended.
    levers : DataFrame, optional
        levers.csv's table; default: no habits are drawn. With a column ``label``, rows are drawn as they stand.
    goal : Goal, optional
        Default: no goal is drawn.
    display : Display
        Unit, and whether figures are shown; default mg/dL with figures.
    width : int
        [px]

    Returns
    -------
    altair chart

    Raises
    ------
    NothingToDo
        If the table has no rows.

    References
    ----------
    .. [1] Cleveland & McGill, J Am Stat Assoc 1984;79:531-554, doi 10.1080/01621459.1984.10478080.

    Examples
    --------
    >>> import glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> chart = gl.charts.chart_progress(analysis.tables["periods"], goal=gl.Goal(95.0))
    >>> "The goal lies below 95 mg/dL." in chart.description
    True
    """
    theme.want_rows(wears)
    wears = wears[(wears["level"] == "wear") & wears["mean_mg_dl"].notna()].sort_values("end", kind="stable")
    wears = wears if "running" in wears else wears.assign(running=False)
    levers = empty_output("levers") if levers is None else levers
    levers = levers if "label" in levers else list_levers(levers)
    frame = _lay_out(wears, levers, goal, display, width)
    rows = _place_wears(wears, frame.narrow)
    foot = _HEAD_PX + rows[-1] + 22
    step = _ROW_NARROW_PX if frame.narrow else _ROW_PX
    last = foot + (_BETWEEN_PX + step * len(levers) + 4 if len(levers) else 0)
    drawing = Drawing(width, last + _AXIS_PX if len(levers) else last)
    _draw_scale(drawing, frame, wears, foot, display)
    _draw_goal(drawing, frame, goal, last, display)
    for i, (_, row) in enumerate(wears.iterrows()):
        _draw_wear(drawing, frame, row, _HEAD_PX + rows[i], i == len(wears) - 1, display)
    if len(levers):
        usual = float(wears["mean_mg_dl"].iloc[-1])
        _draw_levers(drawing, frame, levers, usual, goal, foot, last, display)
    return drawing.finish(_describe(wears, levers, goal, display))


def _lay_out(wears: pd.DataFrame, levers: pd.DataFrame, goal: Goal | None, display: Display, width: int) -> _Frame:
    narrow, inner = theme.is_narrow(width), width - 4
    left, right = (6.0, inner - 6.0) if narrow else (float(_LABEL_PX), float(inner - _FIGURE_PX))
    usual = float(wears["mean_mg_dl"].iloc[-1])
    ends = [
        *wears[["usual_low_mg_dl", "usual_high_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl"]].to_numpy(float).ravel()
    ]
    ends += [*(usual + levers[["low_mg_dl", "high_mg_dl"]].to_numpy(float)).ravel()]
    ends += [goal.mean_mg_dl] if goal is not None and goal.mean_mg_dl is not None else []
    shown = np.asarray(display.values(np.array([end for end in ends if np.isfinite(end)])))
    low, high = float(shown.min()), float(shown.max())
    room = (high - low) * 0.02 or 1.0

    def at(level: float) -> float:
        return left + (level - low + room) / (high - low + 2 * room) * (right - left)

    return _Frame(left, right, inner, narrow, at)


def _place_wears(wears: pd.DataFrame, narrow: bool) -> np.ndarray:
    """Where each wear's bar stands below the first: by the calendar, but never on another. [px]"""
    step = _ROW_NARROW_PX if narrow else _ROW_PX
    apart = _middles(wears).diff().to_numpy(dtype="timedelta64[s]")[1:] / np.timedelta64(86400, "s")
    room = _BREAKS_PX / 2 if narrow else _BREAKS_PX
    breaks = np.maximum(apart, 0) / max(apart.sum(), 1.0) * room
    return np.concatenate([[step - 10 if narrow else 0.0], np.maximum(breaks, step)]).cumsum()


def _middles(wears: pd.DataFrame) -> pd.Series:
    return wears["start"] + (wears["end"] - wears["start"] + ONE_DAY) / 2


def _draw_scale(drawing: Drawing, frame: _Frame, wears: pd.DataFrame, foot: float, display: Display) -> None:
    if not display.numbers:
        drawing.add_text(frame.right, 32, "average, higher to the right", "right", colours.MUTED)
        return
    for tick in _round_ticks(frame, 5 if not frame.narrow else 4):
        x = frame.at(tick)
        drawing.add_line(x, 42, x, foot)
        drawing.add_text(x, 32, f"{tick:g}", "center", colours.MUTED)
    drawing.add_text(
        frame.width if not frame.narrow else frame.right, 10, f"average, {display.unit}", "right", colours.MUTED
    )


def _round_ticks(frame: _Frame, most: int) -> list[float]:
    """Round levels inside the plot."""
    one = frame.at(1.0) - frame.at(0.0)
    first, last = (frame.left - frame.at(0.0)) / one, (frame.right - frame.at(0.0)) / one
    return [tick for tick in find_round_steps(first, last, most) if frame.left + 8 <= frame.at(tick) <= frame.right - 8]


def find_round_steps(low: float, high: float, most: int) -> list[float]:
    """Multiples of the smallest round step of which about so many at most lie between two values."""
    rough = (high - low) / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough)
    return [round(float(step * i), 6) for i in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1)]


def _draw_goal(drawing: Drawing, frame: _Frame, goal: Goal | None, last: float, display: Display) -> None:
    if goal is None or goal.mean_mg_dl is None:
        return
    x = frame.at(float(display.values(goal.mean_mg_dl)))
    drawing.add_line(x, 20, x, last, colours.OCHRE_TEXT, dashed=True)
    words = f"goal: below {display.level(goal.mean_mg_dl)}" if display.numbers else "goal: left of this line"
    drawing.add_text(min(max(x, frame.left + 40), frame.right - 120), 10, words, "center", colours.OCHRE_TEXT)


def _draw_wear(drawing: Drawing, frame: _Frame, row: pd.Series, y: float, latest: bool, display: Display) -> None:
    colour = colours.ACCENT if latest else colours.GREY_INK
    mean, low, high, outer_low, outer_high = (
        float(display.values(row[name]))
        for name in ("mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl", "usual_low_mg_dl", "usual_high_mg_dl")
    )
    if np.isfinite(outer_low):
        drawing.add_line(frame.at(outer_low), y, frame.at(outer_high), y, colour)
    drawing.add_bar(frame.at(low), frame.at(high), y, colour, dashed=row["running"])
    drawing.add_dot(frame.at(mean), y, colour)
    name = f"{say_title(row['name'])}, running" if row["running"] else say_title(row["name"])
    checks = say_count(int(row["checks_used"]), "finger-stick")
    figure = _write_level(row, display)
    if frame.narrow:
        room = theme.letters_in(frame.width - 100 if figure else frame.width)
        drawing.add_text(frame.left, y - 17, cut_text(name, room), bold=latest)
        drawing.add_text(frame.right, y - 17, figure, "right", bold=latest)
        return
    room = theme.letters_in(frame.left - 12)
    label = f"{name}, {checks}"
    drawing.add_text(0, y, label if len(label) <= room else cut_text(name, room), bold=latest)
    drawing.add_text(frame.width, y, figure, "right", bold=latest)


def _write_level(row: pd.Series, display: Display) -> str:
    if not display.numbers:
        return ""
    mean, low, high = (display.level(row[name]) for name in ("mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl"))
    return f"{mean} ({low} to {high})"


def _draw_levers(
    drawing: Drawing, frame: _Frame, levers: pd.DataFrame, usual: float, goal: Goal | None, foot: float, last: float,
    display: Display,
) -> None:  # fmt: skip
    shown, step = float(display.values(usual)), _ROW_NARROW_PX if frame.narrow else _ROW_PX
    one = frame.at(1.0) - frame.at(0.0)
    zero = frame.at(shown)
    drawing.add_text(
        0 if not frame.narrow else frame.left, foot + 16, "What a habit might do to that average", bold=True
    )
    top = foot + _BETWEEN_PX
    if goal is not None and goal.mean_mg_dl is not None and usual > goal.mean_mg_dl:
        distance = usual - goal.mean_mg_dl
        away = f"goal, {display.size(distance, distance)} away" if display.numbers else "goal"
        x = frame.at(float(display.values(goal.mean_mg_dl)))
        drawing.add_text(x - 5, foot + 40, away, "right", colours.OCHRE_TEXT)
    elif goal is not None and goal.mean_mg_dl is not None:
        x = frame.at(float(display.values(goal.mean_mg_dl)))
        drawing.add_text(x + 5, foot + 40, "goal: already met", colour=colours.OCHRE_TEXT)
    met = goal is not None and goal.mean_mg_dl is not None and usual <= goal.mean_mg_dl  # its line is on the right
    drawing.add_text(zero - 5 if met else zero + 5, foot + 40, "as now", "right" if met else "left", colours.MUTED)
    drawing.add_line(zero, foot + 32, zero, last, colours.MUTED)
    for i, (_, row) in enumerate(levers.iterrows()):
        y = top + i * step + (14 if frame.narrow else 0)
        clear = row["verdict"] in CLAIMS
        if not clear and i and levers["verdict"].iloc[i - 1] in CLAIMS:
            edge = y - (32 if frame.narrow else step / 2)
            drawing.add_line(0, edge, frame.width, edge)
        colour = colours.ACCENT if clear else colours.GREY_INK
        low, high, middle = (
            zero + float(display.values(v)) * one for v in (row["low_mg_dl"], row["high_mg_dl"], row["on_mean_mg_dl"])
        )
        drawing.add_bar(low, high, y, colour)
        drawing.add_dot(middle, y, colour, hollow=not clear)
        figure = _write_lever(row, display, ends=not frame.narrow)
        room = theme.letters_in(frame.width - 8 * len(figure) if frame.narrow else frame.left - 8)
        place = (frame.left, y - 17) if frame.narrow else (0.0, y)
        drawing.add_text(*place, cut_text(row["label"], room), bold=clear)
        drawing.add_text(frame.right if frame.narrow else frame.width, place[1], figure, "right", bold=clear)
    _draw_change_axis(drawing, frame, zero, one, last, display)


def _write_lever(row: pd.Series, display: Display, ends: bool = True) -> str:
    """The change with its interval; on a phone the bar alone shows how sure it is, and the words below say it."""
    if not display.numbers:
        return ""
    half = (row["high_mg_dl"] - row["low_mg_dl"]) / 2
    middle, low, high = (
        display.signed(value, half) for value in (row["on_mean_mg_dl"], row["low_mg_dl"], row["high_mg_dl"])
    )
    return f"{middle} ({low} to {high})" if ends else middle


def _draw_change_axis(drawing: Drawing, frame: _Frame, zero: float, one: float, last: float, display: Display) -> None:
    drawing.add_line(frame.left, last, frame.right, last)
    if not display.numbers:
        drawing.add_text(frame.left, last + 14, "lower", colour=colours.MUTED)
        drawing.add_text(frame.right, last + 14, "higher", "right", colours.MUTED)
        return
    digits = 0 if display.unit == "mg/dL" else 1
    for change in find_round_steps((frame.left - zero) / one, (frame.right - zero) / one, 5):
        x = zero + change * one
        if frame.left + 8 <= x <= frame.right - 8:
            drawing.add_line(x, last, x, last + 4, colours.GREY)
            text = f"{change:+.{digits}f}".replace("-", "\N{MINUS SIGN}") if change else "0"
            drawing.add_text(x, last + 14, text, "center", colours.MUTED)
    if not frame.narrow:
        drawing.add_text(frame.width, last + 14, f"change, {display.unit}", "right", colours.MUTED)


def _describe(wears: pd.DataFrame, levers: pd.DataFrame, goal: Goal | None, display: Display) -> str:
    """All that is drawn in words, figures where they are wanted."""
    averages = [f"{say_title(row['name'])} {_write_level(row, display)}".strip() for _, row in wears.iterrows()]
    said = [f"The average of each wear with its 90 % interval: {', '.join(averages)}."]
    if goal is not None and goal.mean_mg_dl is not None:
        said.append(
            f"The goal lies below {display.level(goal.mean_mg_dl)} {display.unit}."
            if display.numbers
            else "The goal is drawn."
        )
    if len(levers):
        habits = [f"{row['label']} {_write_lever(row, display)}".strip() for _, row in levers.iterrows()]
        said.append(f"What habits might do to the latest average: {', '.join(habits)}.")
    return " ".join(said)

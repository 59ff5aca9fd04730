"""What stands beside each sentence of a wear's first screen? Wears, parts of the day, paired curves, a habit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.charts.canvas import Canvas, HandDrawn
from glucolab.showing.display import MINUS, Display
from glucolab.showing.words.common import BLOCK_WORDS, cut_text

LEDGER_PX, LEDGER_NARROW_PX = 590, 350
"""Widths of these pictures: beside the sentences at a desk, and for a phone and for paper. [px]"""
_FIGURES_PX = 96
"""Room right of the bars for a figure with its interval. [px]"""
_ROW_PX = 26
_INTERVAL_PX = 106
"""Room right of a pair of curves for their difference. [px]"""


def linear_px(low: float, high: float, start_px: float, end_px: float) -> Callable[[float], float]:
    """A scale from values to pixels."""
    span = high - low or 1.0
    return lambda value: start_px + (float(value) - low) / span * (end_px - start_px)


def _round_ticks(low: float, high: float, most: int) -> np.ndarray:
    """Round numbers inside a span, at most so many."""
    step = 10.0 ** np.floor(np.log10((high - low) / most))
    step *= next(by for by in (1, 2, 5, 10) if (high - low) / (step * by) <= most)
    return np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step


def draw_wears(wears: pd.DataFrame, goal_mg_dl: float | None, display: Display, width: int = LEDGER_PX) -> HandDrawn:
    """The average of each wear with its 90 % interval against the goal; the last row is the wear the page is about.

    Parameters
    ----------
    wears : DataFrame
        Rows of periods.csv in order of time, with ``label``.
    goal_mg_dl : float or None
        [mg/dL]
    display : Display
    width : int
        [px]

    Returns
    -------
    HandDrawn
    """
    ends = ["mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl"]
    values = np.column_stack([np.asarray(display.values(wears[end]), float) for end in ends])
    goal = None if goal_mg_dl is None else float(display.values(goal_mg_dl))
    label_px = 12 + 8 * max(len(label) for label in wears["label"])
    right = width - (_FIGURES_PX if display.numbers else 8)
    top, bottom = 26, 26 + _ROW_PX * len(wears)
    canvas = Canvas(width, bottom + 40)
    inside = [*values.ravel(), *([] if goal is None else [goal])]
    room = 0.05 * (max(inside) - min(inside))
    low, high = min(inside) - room, max(inside) + room
    x = linear_px(low, high, label_px, right)
    for tick in _round_ticks(low, high, 5) if display.numbers else []:
        canvas.line([x(tick)] * 2, [top, bottom], colours.HAIRLINE)
        canvas.text(x(tick), bottom + 11, f"{tick:g}", "middle", colours.MUTED)
    title = (
        f"average blood glucose, {display.unit}" if display.numbers else "average blood glucose, higher to the right"
    )
    canvas.text((label_px + right) / 2, bottom + 29, title, "middle", colours.MUTED)
    if goal is not None and goal_mg_dl is not None:
        words = f"goal: below {display.level(goal_mg_dl)}" if display.numbers else "goal: left of this line"
        canvas.line([x(goal)] * 2, [top - 4, bottom + 2], colours.OCHRE_TEXT, 1.5, "4 3")
        half = 3.8 * len(words)
        canvas.text(min(max(x(goal), half), width - half), 9, words, "middle", colours.OCHRE_TEXT)
    said = []
    for i, (label, (mean, first, last)) in enumerate(zip(wears["label"], values, strict=True)):
        y, now = top + _ROW_PX * (i + 0.5), i == len(wears) - 1
        canvas.bar(x(first), x(last), y - 5.5, y + 5.5, now)
        canvas.dot(x(mean), y, now)
        canvas.text(0, y, label, "start", colours.INK if now else colours.MUTED, now)
        if display.numbers:
            figures = [display.level(wears[end].iloc[i]) for end in ends]
            canvas.text(right + 34, y, figures[0], "end", bold=now)
            canvas.text(width, y, f"{figures[1]}–{figures[2]}", "end", colours.MUTED)
            said.append(f"{label} {figures[0]} ({figures[1]} to {figures[2]})")
    of = f"; {', '.join(said)}" if said else ""
    return canvas.finish(f"Average of each wear with its 90 % interval, the latest last{of}.")


def draw_quarters(
    quarters: pd.DataFrame, worth_noticing_mg_dl: float | None, against: str, display: Display, width: int = LEDGER_PX
) -> HandDrawn:
    """A difference for each six hours of the day, with its 90 % interval over the band too small to matter.

    Parameters
    ----------
    quarters : DataFrame
        ``block, estimate, low, high``. [mg/dL]
    worth_noticing_mg_dl : float or None
        None draws no band. [mg/dL]
    against : str
        What the differences are from: ``in June``.
    display : Display
    width : int
        [px]

    Returns
    -------
    HandDrawn
    """
    narrow = theme.is_narrow(width)
    values = np.column_stack([np.asarray(display.values(quarters[end]), float) for end in ("estimate", "low", "high")])
    small = 0.0 if worth_noticing_mg_dl is None else float(display.values(worth_noticing_mg_dl))
    left = 42 if display.numbers else 4
    top, bottom = 18, 102
    canvas = Canvas(width, bottom + (38 if narrow else 20))
    y = linear_px(max(values.max(), small), min(values.min(), -small), top, bottom)
    if small:
        canvas.ground(left, width, y(small), y(-small))
    canvas.line([left, width], [y(0)] * 2, colours.EARLIER_EDGE)
    for tick in _round_ticks(values.min(), values.max(), 4) if display.numbers else []:
        canvas.text(left - 6, y(tick), _signed(tick), "end", colours.MUTED)
        canvas.line([left - 3, left], [y(tick)] * 2, colours.EARLIER_EDGE)
    canvas.text(width, 7, f"higher than {against}", "end", colours.MUTED)
    canvas.text(width, bottom - 4, "lower", "end", colours.MUTED)
    column = (width - left) / len(quarters)
    said = []
    for i, (block, (middle, low, high)) in enumerate(zip(quarters["block"], values, strict=True)):
        x = left + column * (i + 0.5) - (20 if narrow else 12)
        canvas.bar(x - 5.5, x + 5.5, y(high), y(low))
        canvas.dot(x, y(middle))
        name, hours = BLOCK_WORDS[block].split(", ")
        if narrow:
            canvas.text(left + column * (i + 0.5), bottom + 12, name, "middle")
            canvas.text(left + column * (i + 0.5), bottom + 28, hours, "middle", colours.MUTED)
        else:
            canvas.text(left + column * (i + 0.5), bottom + 12, f"{name} {hours}", "middle")
        if display.numbers:
            figure = display.signed(quarters["estimate"].iloc[i])
            canvas.text(x + 11, y(middle), figure, bold=True)
            said.append(f"{name} {figure} ({display.signed(quarters['low'].iloc[i])} to "
                        f"{display.signed(quarters['high'].iloc[i])})")  # fmt: skip
    of = f": {', '.join(said)}" if said else ""
    unit = f", {display.unit}" if display.numbers else ""
    return canvas.finish(
        f"How each part of the day differs from {against.removeprefix('in ')}{unit}, 90 % intervals{of}."
    )


def _signed(value: float) -> str:
    return f"{value:+g}".replace("-", MINUS) if value else "0"


def draw_pair(
    curves: pd.DataFrame,
    names: dict[str, str],
    difference: tuple[float, float, float],
    of_meals: bool,
    display: Display,
    width: int = LEDGER_PX,
) -> HandDrawn:
    """Two sides of one finding: every eating or day thin, their means thick, the difference beside them.

    Parameters
    ----------
    curves : DataFrame
        Rows of curves.csv of one finding, the means among them.
    names : dict of str to str
        The two sides and their words: first the one that is spoken of, drawn blue, then the one it is set against.
    difference : tuple of float
        Estimate, low and high of the finding. [mg/dL]
    of_meals : bool
        Minutes run from eating, and not from midnight.
    display : Display
    width : int
        [px]

    Returns
    -------
    HandDrawn
    """
    curves = curves.assign(above=np.asarray(display.values(curves["above_mg_dl"]), float))
    is_mean = curves["line"] == 0
    mean, curves = curves[is_mean], curves[~is_mean]
    left, right = 42 if display.numbers else 4, width - _INTERVAL_PX
    top, bottom = 6, 84
    canvas = Canvas(width, bottom + 20)
    low, high = _robust_span(curves["above"], mean["above"])
    x, y = linear_px(curves["minutes"].min(), curves["minutes"].max(), left, right), linear_px(high, low, top, bottom)
    canvas.line([left, right], [y(0)] * 2, colours.EARLIER_EDGE, 0.8)
    for tick in _round_ticks(low, high, 3) if display.numbers else []:
        canvas.text(left - 6, y(tick), _signed(tick), "end", colours.MUTED)
    marks = {0: "eating", 60: "1 h", 120: "2 h", 180: "3 h"} if of_meals else _HOURS
    for minute, words in marks.items():
        align = "end" if minute == max(marks) else "middle" if minute > curves["minutes"].min() + 10 else "start"
        canvas.line([min(max(x(minute), left), right)] * 2, [bottom, bottom + 4], colours.EARLIER_EDGE)
        canvas.text(min(max(x(minute), left), right), bottom + 13, words, align, colours.MUTED)
    counts = curves.groupby("side")["line"].nunique()
    thin = float(np.clip(5 / max(counts.max(), 1), 0.12, 0.35))
    styles = dict(zip(names, ((colours.ACCENT, ""), (colours.INK, "5 3")), strict=True))
    for (side, _), line in curves.groupby(["side", "line"], sort=False):
        colour = styles[str(side)][0]
        canvas.line(
            line["minutes"].map(x), line["above"].where(line["above"].between(low, high)).map(y), colour, 0.8, "", thin
        )
    for i, (side, (colour, dash)) in enumerate(reversed(styles.items())):
        mine = mean[mean["side"] == side]
        canvas.line(mine["minutes"].map(x), mine["above"].map(y), colour, 2.2, dash)
        words, text_y = f"{names[side]}, {counts.get(side, 0)} drawn", top + 6 + 17 * i
        canvas.line([right - 26, right - 2], [text_y] * 2, colour, 2.2, dash)
        canvas.text(right - 32, text_y, cut_text(words, theme.letters_in(right - left - 60)), "end", colour, not dash)
    kind = "meal" if of_meals else "day"
    _draw_difference(canvas, difference, right + 38, (8, bottom), display)
    canvas.text(width, bottom + 13, f"similar {kind}s", "end", colours.MUTED)  # the curves are of all of them
    said = " and ".join(f"{names[side]}, {counts.get(side, 0)}" for side in names)
    figure = f" Difference {display.change(*difference)}." if display.numbers else ""
    return canvas.finish(f"Glucose after each {kind} drawn thin, their means thick: {said}.{figure}")


_HOURS = {0: "0", 360: "6", 720: "noon", 1080: "18", 1440: "24"}


def _robust_span(values: pd.Series, means: pd.Series) -> tuple[float, float]:
    """The means whole, and of the thin lines nine tenths: one tall meal shall not flatten the others."""
    known = values.dropna()
    low, high = np.quantile(known, [0.02, 0.98])
    low, high = min(low, means.min(), 0.0), max(high, means.max(), 0.0)
    return float(low), float(high if high > low else low + 1)


def _draw_difference(
    canvas: Canvas, difference: tuple[float, float, float], x: float, span: tuple[int, int], display: Display
) -> None:
    """The difference upright on a scale of its own, with nil."""
    middle, low, high = (float(display.values(end)) for end in difference)
    y = linear_px(max(high, 0.0), min(low, 0.0), span[0], span[1])
    canvas.line([x - 10, x + 10], [y(0)] * 2, colours.EARLIER_EDGE)
    canvas.bar(x - 5.5, x + 5.5, y(high), y(low))
    canvas.dot(x, y(middle))
    if not display.numbers:
        canvas.text(x + 14, y(0), "0", "start", colours.MUTED)
        return
    half = (difference[2] - difference[1]) / 2
    canvas.text(x + 14, y(middle), display.signed(difference[0], half), bold=True)
    for end, at in ((difference[1], low), (difference[2], high), (0.0, 0.0)):
        if abs(y(at) - y(middle)) >= 15 and (end == 0.0 or abs(y(at) - y(0)) >= 15):
            canvas.text(x + 14, y(at), display.signed(end, half) if end else "0", "start", colours.MUTED)

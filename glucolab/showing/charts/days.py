"""How did each day go? A row a local day, midnight to midnight, glucose against the wear's own median."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.measuring.excursions import ABOVE_MEDIAN_MG_DL
from glucolab.showing import colours, theme
from glucolab.showing.display import NO_BREAK, USUAL, Display

ROW_PX, TALL_PX = 38, 210

ROW_SPAN, HIGHEST_DRAWN = (-30.0, 60.0), 130.0
"""What a closed row has room for, about the median, and how far a peak may stand up into the row above: a span as wide
as the highest peak would flatten all others. [mg/dL]"""
TICK_MG_DL, TICK_MMOL_L = 50.0, 3.0
"""The one tick of scale beside the days, in either unit; a round size of a usual rise. [mg/dL], [mmol/L]"""


def chart_days(
    table: pd.DataFrame,
    dates: pd.DatetimeIndex | None = None,
    median_mg_dl: float = float("nan"),
    display: Display = USUAL,
    width: int = theme.WIDE_PX,
    tall: bool = False,
) -> alt.TopLevelMixin:
    """Every day of a wear as a row of one chart.

    Parameters
    ----------
    table : DataFrame
        From :func:`glucolab.showing.charts.day_table.tabulate_days`.
    dates : DatetimeIndex, optional
        The days, each of which gets a row; default: those of the table. [local]
    median_mg_dl : float
        The wear's own, for the levels of a tall row. [mg/dL]
    display : Display
        Unit, and whether figures are shown; default mg/dL with figures.
    width : int
        [px]
    tall : bool
        True draws each row high enough to read levels from, for one day opened.

    Returns
    -------
    altair chart

    Raises
    ------
    NothingToDo
        If the table has no rows.
        Faceted: one cell a day, in order, so that a page can cut it into rows.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> chart = gl.charts.chart_days(gl.charts.tabulate_days(one))
    >>> chart.description[:23]
    '5 days, a row each, mid'
    """
    theme.want_rows(table)
    dates = pd.DatetimeIndex(sorted(table["day"].unique())) if dates is None else dates
    low, high = _limits(table) if tall else ROW_SPAN
    narrow = theme.is_narrow(width)
    inside = table.assign(value=table["value"].clip(low, high if tall else HIGHEST_DRAWN))
    table = pd.concat(
        [_grid(dates, narrow, tall), _level_rows(dates, median_mg_dl, display, low, high, tall), inside],
        ignore_index=True,
    )
    height = TALL_PX if tall else ROW_PX
    left = 42 if tall and display.numbers else 4
    plot_px = width - left - 8
    hours = alt.Scale(domain=[0, 24], nice=False)
    x = alt.X("hour:Q", scale=hours, axis=None)
    middle = alt.X("middle:Q", scale=hours, axis=None)
    floor = height - (28 if tall else 11)
    bottom = floor - (12 if tall else 2)
    y = alt.Y("value:Q", scale=alt.Scale(domain=[low, high], range=[bottom, 4], nice=False), axis=None)
    layers = [
        *_ground_layers(x, middle, floor, plot_px),
        *_grid_layers(x, y, height, floor, tall),
        *_glucose_layers(x, y, tall),
        *_event_layers(x, floor if tall else height - 2),
    ]
    chart = alt.layer(*layers, width=plot_px, height=height)
    place = {"labelOrient": "top", "labelAnchor": "start"} if tall else {"labelAngle": 0, "labelAlign": "left"}
    header = alt.Header(title=None, labelFont=theme.FONT, labelFontSize=13, **place)
    faceted = chart.facet(row=alt.Row("day:N", header=header, sort="ascending"), data=table)
    description = (
        f"{len(dates)} days, a row each, midnight to midnight: glucose above and below the wear's own median, "
        "rises shaded, sleep as ground, food as ticks, movement as strokes, readings set aside as grey dots, nothing "
        "where nothing was recorded."
    )
    return theme.finish_chart(faceted, description, {"left": left, "right": 4, "top": 0, "bottom": 0})


def _limits(table: pd.DataFrame) -> tuple[float, float]:
    """Room of a row: the trace's own span, at least from 30 below to 60 above the median. [mg/dL]"""
    trace = table.loc[table["kind"] == "trace", "value"]
    if not len(trace):
        return -30.0, 60.0
    return min(-30.0, float(trace.min()) - 5), max(60.0, float(trace.max()) + 5)


def scale_tick(display: Display) -> tuple[str, float]:
    """A round height with its words, and its pixels in a closed row; no words where figures are hidden."""
    low, high = ROW_SPAN
    size_mg_dl = TICK_MG_DL if display.unit == "mg/dL" else TICK_MG_DL / float(display.values(TICK_MG_DL)) * TICK_MMOL_L
    words = f"{display.size(size_mg_dl)}{NO_BREAK}{display.unit}" if display.numbers else ""
    return words, (ROW_PX - 11 - 2 - 4) * size_mg_dl / (high - low)


def _grid(dates: pd.DatetimeIndex, narrow: bool, tall: bool) -> pd.DataFrame:
    """The hour lines of every day."""
    hours = np.arange(0, 25, 6 if narrow or not tall else 3)
    names = {} if narrow else {0: "midnight", 12: "noon", 24: "midnight"}
    marks = [(float(h), 0.0, names.get(int(h), f"{h}" if narrow else f"{h}:00")) for h in hours]
    rows = [(day, "hour", *mark) for day in dates.strftime("%Y-%m-%d") for mark in marks]
    return pd.DataFrame(rows, columns=["day", "kind", "hour", "value", "text"])


def _level_rows(
    dates: pd.DatetimeIndex, median: float, display: Display, low: float, high: float, tall: bool
) -> pd.DataFrame:
    """The level lines of every day that is drawn tall."""
    levels = _levels(median, display, low, high) if tall and display.numbers else []
    rows = [(day, "level", *level) for day in dates.strftime("%Y-%m-%d") for level in levels]
    return pd.DataFrame(rows, columns=["day", "kind", "value", "text"])


def _levels(median: float, display: Display, low: float, high: float) -> list[tuple[float, str]]:
    """Round levels that lie in a tall row, as height above the median and as text."""
    if not np.isfinite(median):
        return []
    step = 20.0 if display.unit == "mg/dL" else float(20 / display.values(20.0))
    if (high - low) / step > 8:
        step *= 2
    first = np.ceil((median + low) / step) * step
    return [(level - median, display.level(level)) for level in np.arange(first, median + high, step)]


def _kind(kind: str) -> alt.Chart:
    return alt.Chart().transform_filter(f"datum.kind == '{kind}'")


def _ground_layers(x: alt.X, middle: alt.X, floor: int, plot_px: int) -> list[alt.Chart]:
    """Sleep, and long gaps with their kind where the words fit."""
    asleep = _kind("asleep").mark_rect(color=colours.ASLEEP)
    gap = _kind("gap").mark_rule(color=colours.OCHRE, strokeWidth=1.5, strokeDash=[1.5, 3])
    fits = f"(datum.hour_end - datum.hour) * {plot_px / 24} > length(datum.text) * 6"
    words = _kind("gap").transform_filter(fits).transform_calculate(middle="(datum.hour + datum.hour_end) / 2")
    return [
        asleep.encode(x=x, x2=alt.X2("hour_end"), y=alt.YValue(0), y2=alt.Y2Value(floor)),
        gap.encode(x=x, x2=alt.X2("hour_end"), y=alt.YValue(floor - 3)),
        words.mark_text(fontSize=11, color=colours.MUTED).encode(
            x=middle, y=alt.YValue(floor / 2), text=alt.Text("text:N")
        ),
    ]


def _grid_layers(x: alt.X, y: alt.Y, height: int, floor: int, tall: bool) -> list[alt.Chart]:
    base = _kind("hour").mark_rule(color=colours.HAIRLINE, strokeWidth=0.8, opacity=0.8)
    layers = [base.encode(x=x, y=alt.YValue(0), y2=alt.Y2Value(floor))]
    if tall:
        anchor = alt.expr("datum.hour == 0 ? 'left' : datum.hour == 24 ? 'right' : 'center'")
        hours = _kind("hour").mark_text(baseline="bottom", align=anchor, color=colours.MUTED, fontSize=12)
        levels = _kind("level")
        layers += [
            hours.encode(x=x, y=alt.YValue(height), text=alt.Text("text:N")),
            levels.mark_rule(color=colours.HAIRLINE, strokeWidth=0.6).encode(y=y),
            levels.mark_text(align="right", dx=-6, color=colours.MUTED, fontSize=12).encode(
                x=alt.XValue(0), y=y, text=alt.Text("text:N")
            ),
        ]
    return layers


def _glucose_layers(x: alt.X, y: alt.Y, tall: bool) -> list[alt.Chart]:
    rise = _kind("rise").mark_area(color=colours.OCHRE_PALE, opacity=0.75)
    median = _kind("hour").transform_filter("datum.hour == 0").mark_rule(color=colours.GREY, strokeWidth=0.7)
    line = _kind("trace").mark_line(color=colours.ACCENT, strokeWidth=2 if tall else 1.5, strokeJoin="round")
    aside = _kind("aside").mark_circle(color=colours.GREY, size=9 if tall else 4, opacity=1)
    check = _kind("check").mark_point(color=colours.INK, shape="diamond", size=50 if tall else 22, strokeWidth=1.2)
    return [
        rise.encode(x=x, y=y, y2=alt.Y2Datum(ABOVE_MEDIAN_MG_DL), detail=alt.Detail("part:N")),
        median.encode(x=alt.XValue(0), x2=alt.X2Value("width"), y=y),
        aside.encode(x=x, y=y),
        line.encode(x=x, y=y, detail=alt.Detail("part:N")),
        check.encode(x=x, y=y),
    ]


def _event_layers(x: alt.X, foot: int) -> list[alt.Chart]:
    food = _kind("food").mark_rule(color=colours.INK, strokeWidth=1.6)
    stress = _kind("stress").mark_rule(color=colours.PLUM, strokeWidth=2)
    move = _kind("movement").mark_rule(color=colours.MOSS, strokeWidth=4)
    last = _kind("last").mark_rule(color=colours.ACCENT, strokeWidth=1.2, strokeDash=[3, 2])
    return [
        move.encode(x=x, x2=alt.X2("hour_end"), y=alt.YValue(foot - 2)),
        food.encode(x=x, y=alt.YValue(foot - 7), y2=alt.Y2Value(foot)),
        stress.encode(x=x, y=alt.YValue(2), y2=alt.Y2Value(9)),
        last.encode(x=x, y=alt.YValue(0), y2=alt.Y2Value(foot)),
    ]

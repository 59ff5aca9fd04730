"""How sure is each figure? Thick pale bars with a dot, a line to reach, a band too small to matter."""

from __future__ import annotations

from dataclasses import dataclass

import altair as alt
import numpy as np
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.words.common import cut_text

ROW_WIDE_PX, ROW_NARROW_PX = 36, 50


@dataclass(frozen=True)
class Mark:
    """A line across an interval chart, with its words: a goal, a zero, an average. [shown unit]"""

    value: float
    text: str = ""
    colour: str = colours.MUTED
    dashed: bool = False


def chart_intervals(
    rows: pd.DataFrame,
    *,
    title: str,
    description: str,
    width: int = theme.WIDE_PX,
    marks: tuple[Mark, ...] = (),
    figures: bool = True,
    label_px: int = 190,
) -> alt.TopLevelMixin:
    """One bar a row: its interval, its estimate, and its words.

    Parameters
    ----------
    rows : DataFrame
        ``label, estimate, low, high`` in the shown unit; optionally ``text`` (written at the dot), ``colour``, and
        ``small``: half the width of the band behind, of differences too small to matter.
    title : str
        Of the axis, with its unit.
    description : str
        Text alternative.
    width : int
        Of the whole chart. [px]
    marks : tuple of Mark
        Lines across all rows.
    figures : bool
        False leaves the numbers off the axis.
    label_px : int
        Room for the labels left of the bars; on a narrow chart they stand above the bars. [px]

    Returns
    -------
    altair chart

    References
    ----------
    .. [1] Cleveland & McGill, J Am Stat Assoc 1984;79:531-554, doi 10.1080/01621459.1984.10478080.

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> rows = pd.DataFrame({"label": ["winter", "autumn"], "estimate": [101.0, 94.0], "low": [95.0, 89.0],
    ...                      "high": [107.0, 99.0]})
    >>> gl.charts.chart_intervals(rows, title="average, mg/dL", description="Two averages.").description
    'Two averages.'
    """
    narrow = theme.is_narrow(width)
    table = _prepare(rows)
    row_px = ROW_NARROW_PX if narrow else ROW_WIDE_PX
    padding = {
        "left": 8 if narrow else label_px,
        "right": 18,
        "top": 24 if any(m.text for m in marks) else 6,
        "bottom": 44,
    }
    plot = {"width": width - padding["left"] - padding["right"], "height": max(1, len(table)) * row_px}
    scale = alt.Scale(domain=_domain(table, marks), nice=False, zero=False)
    axis = alt.Axis(title=title, labels=figures, ticks=figures, tickCount=4 if narrow else 8, format="~r")
    how = {"scale": scale, "axis": axis}
    x = alt.X("estimate:Q", **how)
    y = alt.Y("row:Q", scale=alt.Scale(domain=[-0.5, max(1, len(table)) - 0.5], reverse=True, nice=False), axis=None)
    base = alt.Chart(table)
    colour = alt.Color("colour:N", scale=None)
    bars = base.transform_filter("isValid(datum.low)").mark_rule(strokeWidth=11, strokeCap="round", opacity=0.38)
    layers = [
        _band(base, how, y, row_px),
        *_lines(marks, x),
        bars.encode(x=alt.X("low:Q", **how), x2=alt.X2("high"), y=y, color=colour),
        base.mark_circle(size=70, opacity=1).encode(x=x, y=y, color=colour),
        base.mark_text(dy=-14, align="center", fontSize=12).encode(x=x, y=y, text=alt.Text("text:N")),
    ]
    if narrow:
        labels = base.mark_text(align="left", baseline="middle", dy=-16)
        layers[-1] = base.mark_text(align="right", dy=-15, fontSize=12).encode(
            x=alt.XValue(plot["width"]), y=y, text=alt.Text("text:N")
        )
    else:
        labels = base.mark_text(align="right", baseline="middle", dx=-12)
    room = [plot["width"] - 8 * max(6, len(str(text))) if narrow else label_px - 14 for text in table["text"]]
    table["label"] = [cut_text(label, theme.letters_in(px)) for label, px in zip(table["label"], room, strict=True)]
    layers.append(labels.encode(x=alt.XValue(0), y=y, text=alt.Text("label:N")))
    chart = alt.layer(*layers, autosize="none", **plot)
    return theme.finish_chart(chart, description, padding)


def _prepare(rows: pd.DataFrame) -> pd.DataFrame:
    table = rows.reset_index(drop=True)
    usual: dict[str, str | float] = {"text": "", "colour": colours.ACCENT, "small": float("nan")}
    table = table.assign(**{name: value for name, value in usual.items() if name not in table})
    table["row"] = range(len(table))
    return table.assign(small_low=-table["small"])


def _domain(table: pd.DataFrame, marks: tuple[Mark, ...]) -> list[float]:
    ends = table[["low", "high", "estimate", "small", "small_low"]].to_numpy(float).ravel()
    values = [*ends[np.isfinite(ends)], *(m.value for m in marks)]
    low, high = float(min(values, default=0.0)), float(max(values, default=1.0))
    room = (high - low) * 0.05 or 1.0
    return [low - room, high + room]


def _band(base: alt.Chart, how: dict[str, object], y: alt.Y, row_px: int) -> alt.Chart:
    """A pale rectangle a row: differences too small to matter."""
    band = base.transform_filter("isValid(datum.small)").mark_bar(color=colours.SMALL_BAND, height=row_px)
    return band.encode(x=alt.X("small_low:Q", **how), x2=alt.X2("small"), y=y)


def _lines(marks: tuple[Mark, ...], x: alt.X) -> list[alt.Chart]:
    layers = []
    for mark in marks:
        at = alt.Chart(pd.DataFrame({"estimate": [mark.value], "words": [mark.text]}))
        layers.append(
            at.mark_rule(color=mark.colour, opacity=0.8, strokeDash=[4, 3] if mark.dashed else [1, 0]).encode(x=x)
        )
        words = at.mark_text(baseline="bottom", align="center", fontSize=12, color=mark.colour)
        layers.append(words.encode(x=x, y=alt.YValue(-5), text=alt.Text("words:N")))
    return layers

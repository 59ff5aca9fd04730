"""What followed each planned date? Every rise of an experiment by date and arm, counted or not."""

from __future__ import annotations

import json
from math import ceil

import altair as alt
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import cut_text, say_day

ARM_COLOURS = (colours.INK, colours.ACCENT, colours.OCHRE, colours.MOSS, colours.PLUM)
"""The first two are those of a wear's page, which draws the same pair."""
_SHAPES = (("circle", "●"), ("square", "■"), ("triangle-up", "▲"), ("diamond", "◆"))
"""Names, and the letters that stand for them in the key. Colour and shape both tell arms apart."""
DATE_PX, LINE_PX, _HEIGHT_PX = 56, 20, 210


def chart_trial(dates: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """The rise after each date of one experiment, in order, arms told apart by colour and shape.

    Parameters
    ----------
    dates : DataFrame
        Rows of trial_dates.csv's table of one trial, by date. Filled marks count, hollow ones do not, a cross at the
        foot has no figure.
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
    .. [1] Kratochwill & Levin, Psychol Methods 2010;15:124, doi 10.1037/a0017736.
    .. [2] Vohra et al., BMJ 2015;350:h1738.

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> days = pd.to_datetime(["2026-02-03", "2026-02-04"])
    >>> dates = pd.DataFrame({"date": days, "arm": ["rest", "walk"], "wear": "a",
    ...                       "rise_mg_dl": [41.0, 28.0], "used": True})
    >>> gl.charts.chart_trial(dates).description[:39]
    'The rise within two hours at each of 2 '
    """
    theme.want_rows(dates)
    arms = sorted(dates["arm"].unique())
    look = {arm: (ARM_COLOURS[i % len(ARM_COLOURS)], *_SHAPES[i % len(_SHAPES)]) for i, arm in enumerate(arms)}
    left, right = (62 if display.numbers else 30), 18
    plot_px = width - left - right
    table = _tabulate(dates, look, display)
    x, y = _axes(table, dates, plot_px, display)
    base = alt.Chart(table)
    how = {"x": x, "y": y, "color": alt.Color("colour:N", scale=None), "shape": alt.Shape("shape:N", scale=None)}
    key, lines = _draw_key(look, plot_px)
    layers = [
        _wear_borders(dates, x),
        base.transform_filter("datum.used").mark_point(filled=True, size=95, opacity=0.9).encode(**how),
        base.transform_filter("!datum.used && isValid(datum.rise)").mark_point(size=80, strokeWidth=1.6).encode(**how),
        base.transform_filter("!isValid(datum.rise)").mark_text(text="×", fontSize=18, baseline="middle")
        .encode(x=x, y=alt.YValue(_HEIGHT_PX - 10), color=how["color"]),
        *key,
    ]  # fmt: skip
    chart = alt.layer(*layers, autosize="none", width=plot_px, height=_HEIGHT_PX)
    padding = {"left": left, "right": right, "top": LINE_PX * lines + 12, "bottom": 44}
    return theme.finish_chart(chart, _describe(dates, arms), padding)


def _tabulate(dates: pd.DataFrame, look: dict[str, tuple[str, str, str]], display: Display) -> pd.DataFrame:
    return pd.DataFrame({
        "slot": range(len(dates)), "rise": display.values(dates["rise_mg_dl"].to_numpy(dtype=float)),
        "used": dates["used"].to_numpy(dtype=bool), "colour": [look[arm][0] for arm in dates["arm"]],
        "shape": [look[arm][1] for arm in dates["arm"]],
    })  # fmt: skip


def _axes(table: pd.DataFrame, dates: pd.DataFrame, plot_px: float, display: Display) -> tuple[alt.X, alt.Y]:
    """Dates in equal steps, however far apart they lie, and only as many labels as fit."""
    n = len(table)
    step = ceil(DATE_PX / (plot_px / n))
    labels = json.dumps([say_day(day, weekday=False) for day in dates["date"]])
    axis = alt.Axis(
        title=None, values=list(range(0, n, step)), labelExpr=f"{labels}[datum.value]", grid=False, tickSize=4
    )
    x = alt.X("slot:Q", scale=alt.Scale(domain=[-0.6, n - 0.4], nice=False), axis=axis)
    most, least = float(table["rise"].max()), float(table["rise"].min())
    room = 0.16 * (most - min(0.0, least) or 1.0)
    title = f"rise within two hours, {display.unit}" if display.numbers else "rise, higher up is more"
    rises = alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=5)
    scale = alt.Scale(domain=[min(0.0, least) - room, most + room / 2], nice=False, zero=False)
    return x, alt.Y("rise:Q", scale=scale, axis=rises)


def _wear_borders(dates: pd.DataFrame, x: alt.X) -> alt.Chart:
    """A line where one wear ends and the next begins: arms are compared within a wear."""
    wears = [wear for wear in dates["wear"] if wear]
    at = [i for i, wear in enumerate(dates["wear"]) if wear]
    slots = [(a + b) / 2 for a, b, one, next_one in zip(at, at[1:], wears, wears[1:], strict=False) if one != next_one]
    return alt.Chart(pd.DataFrame({"slot": pd.Series(slots, dtype=float)})).mark_rule(color=colours.GREY).encode(x=x)


def _draw_key(look: dict[str, tuple[str, str, str]], plot_px: float) -> tuple[list[alt.Chart], int]:
    """The arms' names above the plot, in their colours, on as many lines as they need."""
    words = [cut_text(f"{letter} {arm}", theme.letters_in(plot_px - 10)) for arm, (_, _, letter) in look.items()]
    places, at, line = [], 0.0, 0
    for text in words:
        need = 7.6 * (len(text) + 2)
        if at and at + need > plot_px:
            at, line = 0.0, line + 1
        places.append((at, line))
        at += need
    layers = [
        alt.Chart(pd.DataFrame({"words": [text]}))
        .mark_text(align="left", baseline="middle", color=colour)
        .encode(x=alt.XValue(across), y=alt.YValue(-14 - LINE_PX * (line - down)), text=alt.Text("words:N"))
        for text, (across, down), (colour, _, _) in zip(words, places, look.values(), strict=True)
    ]
    return layers, line + 1


def _describe(dates: pd.DataFrame, arms: list[str]) -> str:
    used = {arm: dates.loc[dates["arm"] == arm, "used"].astype(bool) for arm in arms}
    told = ", ".join(f"{int(mine.sum())} of {len(mine)} with “{arm}” counted" for arm, mine in used.items())
    return f"The rise within two hours at each of {len(dates)} planned dates in order, by arm: {told}."

"""Which of many is how large, and how sure is it? A line each: its words, its interval, its figure."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.reading.meal_names import is_drink
from glucolab.relating.effects.dishes import FEWEST_FOR_PAIRS
from glucolab.relating.statistics.claims import worth_noticing
from glucolab.showing import colours, theme
from glucolab.showing.charts.drawing import Drawing
from glucolab.showing.charts.progress import find_round_steps
from glucolab.showing.display import USUAL, Display, write_signed
from glucolab.showing.words.common import cut_text, say_analyte, say_day

_LINE_PX, _LINE_NARROW_PX = 24, 40
"""Room of one line: on a phone its words stand above its bar. [px]"""
_MOST_LISTED = 10
_LABEL_PX, _FIGURE_PX, _FOOT_PX = 250, 128, 26
CLAIM_PX, CLAIM_HEIGHT_PX = 340, 18


def order_dishes(dishes: pd.DataFrame) -> pd.DataFrame:
    """Rows of dishes.csv's table eaten often enough to be compared: largest rise first, drinks last and so marked."""
    repeated = dishes[dishes["n"] >= FEWEST_FOR_PAIRS]
    repeated = repeated.assign(drink=is_drink(repeated["dish"]))
    return repeated.sort_values(["drink", "rise_mg_dl"], ascending=[True, False], kind="stable")


def choose_dishes(listed: pd.DataFrame) -> pd.DataFrame:
    """Of the dishes listed those that a chart draws: the ones eaten most often."""
    return listed[listed.index.isin(listed.nlargest(_MOST_LISTED, "n").index)]


def chart_dishes(dishes: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """The rise to be expected after each dish with its interval, in the order of the rows.

    Parameters
    ----------
    dishes : DataFrame
        dishes.csv's table. Drawn are the ten eaten most often, three times or more, drinks last.
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
    .. [1] Hengist et al., Am J Clin Nutr 2025;121:74 (PMC10371100).

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> dishes = pd.DataFrame({"dish": ["soup", "rice"], "n": [4, 5], "rise_mg_dl": [18, 41], "low_mg_dl": [8, 30],
    ...                        "high_mg_dl": [28, 52]})
    >>> "rice (5) 41 (30 to 52), soup (4) 18 (8 to 28)" in gl.charts.chart_dishes(dishes).description
    True
    """
    theme.want_rows(dishes)
    dishes = choose_dishes(dishes if "drink" in dishes else order_dishes(dishes))
    ends = dishes[["rise_mg_dl", "low_mg_dl", "high_mg_dl"]].to_numpy(float)
    names = [f"{d} (drink)" if drink else str(d) for d, drink in zip(dishes["dish"], dishes["drink"], strict=True)]
    labels = [f"{name} ({int(n)})" for name, n in zip(names, dishes["n"], strict=True)]
    figures = [_write_rise(row, display) if display.numbers else "" for row in ends]
    rows = pd.DataFrame(np.asarray(display.values(ends)), columns=["estimate", "low", "high"])
    rows = rows.assign(label=labels, figure=figures, colour=colours.OCHRE_TEXT)
    title = f"rise to expect, {display.unit}" if display.numbers else "rises more to the right"
    said = ", ".join(f"{label} {figure}".strip() for label, figure in zip(labels, figures, strict=True))
    return _draw_lines(rows, title, f"The rise to expect after each dish, with its 90 % interval: {said}.", width,
                       figures=display.numbers)  # fmt: skip


def _write_rise(row: np.ndarray, display: Display) -> str:
    middle, low, high = (display.signed(value).removeprefix("+") for value in row)
    return f"{middle} ({low} to {high})"


def chart_lab_changes(changes: pd.DataFrame, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Change of each laboratory value between two dates, beside what it differs by from test to test on its own.

    Parameters
    ----------
    changes : DataFrame
        lab_changes.csv's table; rows without either figure are not drawn.
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
    .. [1] Fokkema et al., Clin Chem 2006;52:1602.

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> changes = pd.DataFrame({"analyte": "glucose", "date_b": pd.to_datetime(["2026-09-01"]), "change_percent": -5.0,
    ...                         "reference_change_percent": 17.0, "verdict": "cannot_tell_yet"})
    >>> gl.charts.chart_lab_changes(changes).description[:34]
    'The change of each blood test as a'
    """
    theme.want_rows(changes)
    changes = changes.dropna(subset=["change_percent", "reference_change_percent"])
    noise = changes["reference_change_percent"].abs().to_numpy(float)
    told = changes["verdict"].isin(["lower", "higher"]).to_numpy()
    rows = pd.DataFrame({
        "label": [f"{say_analyte(a)}, {say_day(d, weekday=False, year=True)}"
                  for a, d in zip(changes["analyte"], changes["date_b"], strict=True)],
        "estimate": changes["change_percent"].to_numpy(float), "low": -noise, "high": noise,
        "figure": [f"{write_signed(value)} %" for value in changes["change_percent"]],
        "colour": np.where(told, colours.ACCENT, colours.GREY_INK),
    })  # fmt: skip
    said = ", ".join(f"{label} {figure}" for label, figure in zip(rows["label"], rows["figure"], strict=True))
    description = f"The change of each blood test as a dot, over a bar of the normal change between tests: {said}."
    return _draw_lines(rows, "change, %", description, width, zero=True)


_LETTER_PX = 7
"""Of a letter of the axis's title: no figure of the axis runs into it. [px]"""


def _draw_lines(
    rows: pd.DataFrame, title: str, description: str, width: int, figures: bool = True, zero: bool = False
) -> alt.TopLevelMixin:
    narrow, inner = theme.is_narrow(width), width - 4
    step = _LINE_NARROW_PX if narrow else _LINE_PX
    foot = 8 + step * len(rows)
    drawing = Drawing(width, foot + (2 * _FOOT_PX if narrow else _FOOT_PX))
    left, right = (8.0, inner - 8.0) if narrow else (float(_LABEL_PX), float(inner - _FIGURE_PX))
    low, high = (
        min(0.0, float(rows["low"].min()), float(rows["estimate"].min())),
        float(rows[["high", "estimate"]].max().max()),
    )
    per = (right - left) / ((high - low) or 1.0)
    places = {name: left + (rows[name].to_numpy(float) - low) * per for name in ("estimate", "low", "high")}
    drawing.add_line(left, foot, right, foot)
    for tick in find_round_steps(low, high, 4 if narrow else 6) if figures else []:
        x = left + (tick - low) * per
        if x <= (right - 12 if narrow else inner - _LETTER_PX * len(title) - 16):
            drawing.add_line(x, 4, x, foot, colours.MUTED if zero and not tick else colours.HAIRLINE)
            drawing.add_text(
                x, foot + 14, write_signed(tick).removeprefix("" if zero else "+"), "center", colours.MUTED
            )
    drawing.add_text(inner, foot + (34 if narrow else 14), title, "right", colours.MUTED)
    for i, (x, x1, x2) in enumerate(zip(*places.values(), strict=True)):
        row = rows.iloc[i]
        y = 8 + i * step + (26 if narrow else step / 2)
        drawing.add_bar(x1, x2, y, row["colour"])
        drawing.add_dot(x, y, row["colour"])
        room = theme.letters_in(inner - 8 * len(row["figure"]) if narrow else left - 8)
        drawing.add_text(0, y - 17 if narrow else y, cut_text(row["label"], room))
        drawing.add_text(inner, y - 17 if narrow else y, row["figure"], "right")
    return drawing.finish(description)


def chart_claim(
    row: pd.Series,
    span: tuple[float, float],
    worth_noticing_mg_dl: float,
    display: Display,
    axis: bool,
    width: int = CLAIM_PX,
) -> alt.TopLevelMixin:
    """The interval of one claim beside its sentence, on the axis that all claims of the page share.

    Parameters
    ----------
    row : Series
        Of effects.csv's table, its outcome in mg/dL.
    span : (float, float)
        From the lowest to the highest end of all of them, nil among them. [mg/dL]
    worth_noticing_mg_dl : float
        Of a mean. [mg/dL]
    display : Display
        Unit, and whether figures are shown; default mg/dL with figures.
    axis : bool
        The scale is written under it: once, under the last of them.
    width : int
        [px]

    Returns
    -------
    altair chart
    """
    drawing = Drawing(width, CLAIM_HEIGHT_PX + (18 if axis else 0))
    small = worth_noticing(str(row["outcome"]), worth_noticing_mg_dl)
    low, high = min(span[0], -small), max(span[1], small)
    left, per = 6.0, (width - 16) / (high - low)
    at = {name: left + (float(row[f"range_{name}"]) - low) * per for name in ("estimate", "low", "high")}
    middle = CLAIM_HEIGHT_PX / 2
    drawing.add_ground(left + (-small - low) * per, 0, left + (small - low) * per, CLAIM_HEIGHT_PX, colours.SMALL_BAND)
    drawing.add_line(left - low * per, 0, left - low * per, CLAIM_HEIGHT_PX, colours.MUTED)
    drawing.add_bar(at["low"], at["high"], middle, colours.ACCENT)
    drawing.add_dot(at["estimate"], middle, colours.ACCENT)
    ends = np.asarray(display.values(np.array([low, high]))) if axis and display.numbers else np.array([])
    for tick in find_round_steps(float(ends[0]), float(ends[1]), 5) if len(ends) else []:
        x = left + (tick - ends[0]) / (ends[1] - ends[0]) * (high - low) * per
        if 14 < x < width - 24:
            drawing.add_text(
                x, CLAIM_HEIGHT_PX + 9, write_signed(tick, 0 if tick == round(tick) else 1), "center", colours.MUTED
            )
    side = "below" if row["range_estimate"] < 0 else "above"
    return drawing.finish(f"Its interval lies wholly {side} nil; the pale band is too small to matter.")

"""How does the overview of all links look? A table of bars in which a cell is a button that opens its days."""

from __future__ import annotations

from typing import NamedTuple

import anywidget
import numpy as np
import pandas as pd
import traitlets

from glucolab.relating.effects.day_grid import GRID_OUTCOMES, DayGrid
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.colours import ACCENT_PALE
from glucolab.showing.display import MINUS, Display, write_number
from glucolab.showing.markup import TEMPLATES, fill_template
from glucolab.showing.words.notebooks.explorer import GRID_HEADS, name_covariate, say_cell, say_range

LEAST_SCALE_WORTH = 2.0
"""A column reaches at least so many times what is worth noticing to either side [1]; assumed, it moves no figure."""
SHOWN_WHOLE = 0.97
"""Share of a column's bars that are drawn whole [1]; assumed. One wide bar would press all others to a speck."""
_TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""What an axis may be marked at beside nought, in the shown unit."""


class Span(NamedTuple):
    """A bar of a cell, in per cent of its width."""

    start: float
    width: float
    cut_left: bool
    cut_right: bool


class LinkTable(anywidget.AnyWidget):
    """The grid in a notebook.

    Attributes
    ----------
    markup : str
        Of :func:`draw_grid`.
    chosen : str
        Key of the cell that is open (:func:`key_of`), set by a click and by Enter; empty where none is.
    """

    _esm = TEMPLATES / "grid.js"
    _css = f":root{{--gl-accent-pale:{ACCENT_PALE};}}\n" + (TEMPLATES / "grid.css").read_text(encoding="utf-8")
    markup = traitlets.Unicode().tag(sync=True)
    chosen = traitlets.Unicode().tag(sync=True)


def key_of(covariate: str, outcome: str) -> str:
    """What a cell is known by in the browser."""
    return f"{outcome}:{covariate}"


def pair_of(key: str) -> tuple[str, str]:
    """Covariate and outcome of a cell by its key."""
    outcome, _, covariate = key.partition(":")
    return covariate, outcome


def draw_grid(grid: DayGrid, display: Display) -> str:
    """The grid as markup: a row a covariate, a column a figure, bars over the own range.

    Parameters
    ----------
    grid : DayGrid
    display : Display
    """
    scales = {name: find_scale(grid.cells, name) for name in GRID_OUTCOMES}
    rows = [_row(mine, scales, display) for _, mine in grid.cells.groupby("covariate", sort=False)]
    axes = [_mark_axis(scales[name], display) for name in GRID_OUTCOMES]
    unit = f"{display.unit} more or less" if display.numbers else "left less, right more"
    heads = [GRID_HEADS[name] for name in GRID_OUTCOMES]
    return fill_template("grid.html", heads=heads, rows=rows, axes=axes, unit=unit, asked=grid.asked)


def find_scale(cells: pd.DataFrame, outcome: str) -> float:
    """How far a column reaches to either side of nought; both averages reach alike. [mg/dL]"""
    alike = cells["outcome"].eq("sd_mg_dl") == (outcome == "sd_mg_dl")
    mine = cells[alike]
    reach = mine[["range_low", "range_high"]].abs().max(axis=1).dropna()
    most = float(np.quantile(reach, SHOWN_WHOLE)) if len(reach) else 0.0
    return max(most * 1.05, LEAST_SCALE_WORTH * float(mine["worth"].max()))


def _row(mine: pd.DataFrame, scales: dict[str, float], display: Display) -> dict[str, object]:
    cells = [_cell(cell, scales[str(cell["outcome"])], display) for _, cell in mine.iterrows()]
    return {"name": name_covariate(mine["covariate"].iloc[0]), "range": say_range(mine.iloc[0]), "cells": cells}


def _cell(cell: pd.Series, scale: float, display: Display) -> dict[str, object]:
    if not np.isfinite(cell["range_estimate"]):
        return {"bar": None}
    apart = cell["range_low"] * cell["range_high"] > 0
    plain = None if np.isnan(cell["plain"]) else _place(cell["plain"], scale)
    return {
        "bar": _span(cell["range_low"], cell["range_high"], scale),
        "worth": _span(-cell["worth"], cell["worth"], scale),
        "dot": _place(cell["range_estimate"], scale),
        "plain": plain,
        "state": "clear" if cell["verdict"] in CLAIMS else "apart" if apart else "",
        "in_effects": bool(cell["in_effects"]),
        "key": key_of(cell["covariate"], cell["outcome"]),
        "said": say_cell(cell, display),
    }


def _place(mg_dl: float, scale: float) -> float:
    """Where a difference lies in its cell, in per cent of the width."""
    return round(float(np.clip(50 + 50 * mg_dl / scale, 0, 100)), 1)


def _span(low: float, high: float, scale: float) -> Span:
    start, end = _place(low, scale), _place(high, scale)
    return Span(start, round(end - start, 1), bool(low < -scale), bool(high > scale))


def _mark_axis(scale: float, display: Display) -> list[dict[str, object]]:
    """Nought and a round difference to either side; none where figures are hidden."""
    if not display.numbers:
        return []
    one = float(display.values(1.0))
    tick = max((size for size in _TICKS if size <= 0.8 * scale * one), default=_TICKS[0])
    text = write_number(tick, 0 if tick >= 1 else 1)
    marks = ((-tick, f"{MINUS}{text}"), (0.0, "0"), (tick, f"+{text}"))
    return [{"place": _place(size / one, scale), "text": written} for size, written in marks]

"""How is a picture drawn that no axis fits? Bars, dots, lines and words by pixel, as one Altair chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any

import altair as alt
import pandas as pd

from glucolab.showing import colours, theme

_PADDING = {"left": 2, "right": 2, "top": 2, "bottom": 2}


class Drawing:
    """Marks by pixel, from the upper left corner, in the order in which they are laid over each other by kind.

    Parameters
    ----------
    width, height : int
        Of the whole picture. [px]
    """

    def __init__(self, width: int, height: float) -> None:
        self.width, self.height = width - _PADDING["left"] - _PADDING["right"], height
        self._grounds: list[dict[str, object]] = []
        self._lines: list[dict[str, object]] = []
        self._bars: list[dict[str, object]] = []
        self._dots: list[dict[str, object]] = []
        self._curves: list[dict[str, object]] = []
        self._texts: list[dict[str, object]] = []

    def add_ground(self, x: float, y: float, x2: float, y2: float, colour: str) -> None:
        """A pale rectangle behind everything."""
        self._grounds.append({"x": x, "y": y, "x2": x2, "y2": y2, "colour": colour})

    def add_line(
        self, x: float, y: float, x2: float, y2: float, colour: str = colours.HAIRLINE, dashed: bool = False
    ) -> None:
        """A thin line."""
        self._lines.append({"x": x, "y": y, "x2": x2, "y2": y2, "colour": colour, "style": dashed})

    def add_bar(self, low: float, high: float, y: float, colour: str, thick: float = 9, dashed: bool = False) -> None:
        """An interval: a pale bar in its colour, with an outline that prints."""
        row = {"x": low, "x2": high, "y": y - thick / 2, "y2": y + thick / 2, "colour": colour, "style": dashed}
        self._bars.append(row)

    def add_dot(self, x: float, y: float, colour: str, hollow: bool = False) -> None:
        """An estimate; hollow where it is not clear."""
        self._dots.append({"x": x, "y": y, "colour": colour, "fill": colours.PAPER if hollow else colour})

    def add_curve(self, points: Sequence[tuple[float, float]], colour: str, thick: float, dashed: bool = False) -> None:
        """A line through points."""
        number = len(self._curves)
        rows = [{"x": x, "y": y, "colour": colour, "style": (thick, dashed), "curve": number} for x, y in points]
        self._curves.extend(rows)

    def add_text(
        self, x: float, y: float, words: str, align: str = "left", colour: str = colours.INK, bold: bool = False
    ) -> None:
        """Words, `y` their middle, over whatever they cross."""
        self._texts.append({"x": x, "y": y, "words": words, "style": (align, bold), "colour": colour})

    def finish(self, description: str) -> alt.TopLevelMixin:
        """The drawing as a chart with its text alternative."""
        layers = [*self._draw_grounds(), *self._draw_lines(), *self._draw_curves(), *self._draw_bars()]
        layers += [*self._draw_dots(), *self._draw_texts()]
        chart = alt.layer(*layers, autosize="none", width=self.width, height=self.height)
        return theme.finish_chart(chart, description, _PADDING)

    def _place(self, *more: str) -> dict[str, object]:
        """Encodings of a mark's ends."""
        ends: dict[str, object] = {
            "x": alt.X("x:Q", axis=None, scale=alt.Scale(domain=[0, self.width], nice=False, zero=False)),
            "y": alt.Y("y:Q", axis=None, scale=alt.Scale(domain=[self.height, 0], nice=False, zero=False)),
            "color": alt.Color("colour:N", scale=None),
        }
        return ends | {name: {"x2": alt.X2, "y2": alt.Y2}[name](name) for name in more}

    def _draw_grounds(self) -> list[alt.Chart]:
        if not self._grounds:
            return []
        return [alt.Chart(pd.DataFrame(self._grounds)).mark_rect().encode(**self._place("x2", "y2"))]

    def _draw_lines(self) -> list[alt.Chart]:
        return [
            alt.Chart(rows).mark_rule(strokeDash=[4, 3] if dashed else [1, 0]).encode(**self._place("x2", "y2"))
            for dashed, rows in _by_style(self._lines)
        ]

    def _draw_curves(self) -> list[alt.Chart]:
        return [
            alt.Chart(rows)
            .mark_line(strokeWidth=thick, strokeDash=[5, 3] if dashed else [1, 0])
            .encode(**self._place(), detail=alt.Detail("curve:N"), order=alt.Order("x:Q"))
            for (thick, dashed), rows in _by_style(self._curves)
        ]

    def _draw_bars(self) -> list[alt.Chart]:
        return [
            alt.Chart(rows)
            .mark_rect(cornerRadius=4, fillOpacity=0.33, strokeWidth=1, strokeDash=[3, 2] if dashed else [1, 0])
            .encode(**self._place("x2", "y2"), stroke=alt.Stroke("colour:N", scale=None))
            for dashed, rows in _by_style(self._bars)
        ]

    def _draw_dots(self) -> list[alt.Chart]:
        if not self._dots:
            return []
        dots = alt.Chart(pd.DataFrame(self._dots)).mark_circle(size=46, strokeWidth=1.8, opacity=1)
        place = self._place() | {"color": alt.Color("fill:N", scale=None)}
        return [dots.encode(**place, stroke=alt.Stroke("colour:N", scale=None))]

    def _draw_texts(self) -> list[alt.Chart]:
        layers = []
        for (align, bold), rows in _by_style(self._texts):
            look = {"align": align, "baseline": "middle", "fontWeight": 600 if bold else "normal"}
            # the style sheet paints the stroke behind the letters: a halo, and every word once
            halo = {"stroke": colours.PAPER, "strokeWidth": 4, "strokeJoin": "round"}
            texts = alt.Chart(rows).mark_text(**look, **halo)
            layers.append(texts.encode(**self._place(), text=alt.Text("words:N")))
        return layers


def _by_style(rows: list[dict[str, object]]) -> list[tuple[Any, pd.DataFrame]]:
    """Rows in groups of one style, each a table; a mark's style is no channel of it."""
    key = itemgetter("style")
    ordered = sorted(rows, key=lambda row: str(key(row)))
    return [(style, pd.DataFrame(list(mine)).drop(columns="style")) for style, mine in groupby(ordered, key)]

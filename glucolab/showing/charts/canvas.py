"""How is a small picture laid out by hand? Shapes at pixels, written as one SVG: a grammar would cost a second each."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from markupsafe import Markup, escape

from glucolab.showing import colours, theme
from glucolab.showing.markup import without_control

TEXT_PX = 13
BASELINE_PX = 4.5
"""From the middle of a line of text down to its baseline. [px]"""
_LAYERS = ("ground", "line", "bar", "dot", "text")


@dataclass
class Canvas:
    """A picture of a given size, filled shape by shape; grounds lie lowest, then lines, bars, dots and words.

    Attributes
    ----------
    width, height : int
        [px]
    """

    width: int
    height: int
    _shapes: dict[str, list[str]] = field(default_factory=lambda: {layer: [] for layer in _LAYERS})

    def ground(self, x: float, x2: float, y: float, y2: float, colour: str = colours.SMALL_BAND) -> None:
        """A rectangle behind everything."""
        self._rect("ground", x, x2, y, y2, f'fill="{colour}"')

    def line(
        self, x: npt.ArrayLike, y: npt.ArrayLike, colour: str, width: float = 1.0, dash: str = "", opacity: float = 1.0
    ) -> None:
        """A line through points; it breaks where a height is NaN."""
        points = np.column_stack([np.asarray(x, float), np.asarray(y, float)])
        known = np.isfinite(points[:, 1])
        pieces = np.split(np.arange(len(points)), np.flatnonzero(np.diff(known)) + 1)
        path = "".join(
            "M" + "L".join(f"{px:.1f},{py:.1f}" for px, py in points[piece]) for piece in pieces if known[piece[0]]
        )
        style = f'stroke="{colour}" stroke-width="{width:g}"' + (f' stroke-dasharray="{dash}"' if dash else "")
        style += f' stroke-opacity="{opacity:g}"' if opacity < 1 else ""
        if path:
            self._shapes["line"].append(f'<path d="{path}" fill="none" stroke-linejoin="round" {style}/>')

    def bar(self, x: float, x2: float, y: float, y2: float, now: bool = True) -> None:
        """An interval: blue for what the page is about, grey for what was before."""
        fill, edge = (colours.ACCENT_PALE, colours.ACCENT_EDGE) if now else (colours.EARLIER, colours.EARLIER_EDGE)
        self._rect("bar", x, x2, y, y2, f'rx="5" fill="{fill}" stroke="{edge}"')

    def dot(self, x: float, y: float, now: bool = True) -> None:
        """An estimate."""
        colour = colours.ACCENT if now else colours.EARLIER_DOT
        self._shapes["dot"].append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{colour}"/>')

    def text(
        self, x: float, y: float, words: str, anchor: str = "start", colour: str = colours.INK, bold: bool = False
    ) -> None:
        """Words on one line, their middle at `y`, with paper around them."""
        weight = ' font-weight="650"' if bold else ""
        place = f'x="{x:.1f}" y="{y + BASELINE_PX:.1f}" text-anchor="{anchor}" fill="{colour}"{weight}'
        self._shapes["text"].append(f"<text {place}>{escape(without_control(words))}</text>")

    def _rect(self, layer: str, x: float, x2: float, y: float, y2: float, style: str) -> None:
        place = f'x="{min(x, x2):.1f}" y="{min(y, y2):.1f}" width="{abs(x2 - x):.1f}" height="{abs(y2 - y):.1f}"'
        self._shapes[layer].append(f"<rect {place} {style}/>")

    def finish(self, description: str) -> HandDrawn:
        """The picture with its text alternative."""
        letters = f'font-family="{theme.FONT}" font-size="{TEXT_PX}" paint-order="stroke"'
        words = f'<g {letters} stroke="{colours.PAPER}" stroke-width="4" stroke-linejoin="round">'
        inside: list[Any] = [*(s for layer in _LAYERS[:-1] for s in self._shapes[layer]), words, *self._shapes["text"]]
        size = f'width="{self.width}" height="{self.height}" viewBox="0 0 {self.width} {self.height}"'
        svg = f'<svg xmlns="http://www.w3.org/2000/svg" aria-hidden="true" focusable="false" {size}>'
        return HandDrawn(Markup(f"{svg}{''.join(inside)}</g></svg>"), description)


@dataclass(frozen=True)
class HandDrawn:
    """A finished picture and its text alternative."""

    svg: Markup
    description: str

"""Which letters and lines? One theme for every chart, in the palette of `colours`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glucolab.errors import NothingToDo
from glucolab.showing.colours import HAIRLINE, INK, MUTED

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

FONT = "system-ui, sans-serif"
WIDE_PX = 700
NARROW_PX = 340
"""A page shows each chart drawn twice, for a desk and for a phone."""


def is_narrow(width: int) -> bool:
    """True if a chart of this width is for a phone: labels above bars, fewer ticks. [px]"""
    return width < 500


def letters_in(room_px: float) -> int:
    """How many letters of a chart's text surely fit: in the widest of the usual system fonts 7.6 px each at 13 px."""
    return max(4, int(room_px / 7.6))


def want_rows(table: pd.DataFrame) -> None:
    """Raise NothingToDo where a chart would be empty."""
    if table.empty:
        raise NothingToDo("there is nothing to draw: the table has no rows")


def finish_chart(chart: alt.TopLevelMixin, description: str, padding: dict[str, int] | int = 4) -> alt.TopLevelMixin:
    """Give a chart that was just built the theme and its text alternative, in place.

    Parameters
    ----------
    chart : altair chart
    description : str
        What the chart shows, for those who do not see it.
    padding : dict or int
        Room around the plot. [px]

    Returns
    -------
    altair chart
    """
    axis = {
        "labelFont": FONT, "titleFont": FONT, "labelFontSize": 13, "titleFontSize": 13, "labelColor": MUTED,
        "titleColor": MUTED, "titleFontWeight": "normal", "gridColor": HAIRLINE, "domainColor": HAIRLINE,
        "tickColor": HAIRLINE, "gridOpacity": 0.6,
    }  # fmt: skip
    # set in place: each call of `properties` or `configure` would copy all layers again, half the time of a chart
    chart.description, chart.padding, chart.background = description, padding, "transparent"
    chart.config = {
        "font": FONT, "axis": axis, "view": {"stroke": None}, "text": {"font": FONT, "fontSize": 13, "color": INK},
        "facet": {"spacing": 6}, "legend": {"labelFont": FONT, "labelFontSize": 13, "labelColor": INK},
    }  # fmt: skip
    return chart

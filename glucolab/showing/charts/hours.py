"""How does the day run? Its hours down the page, each a bar about the average, like the wears down the year."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.charts.drawing import Drawing
from glucolab.showing.charts.progress import find_round_steps
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import BLOCK_WORDS

HOUR_PX = 9.5
_TOP_PX, _FOOT_PX, _LEFT_PX, _WORDS_PX = 26, 18, 56, 236
_EVERY = 3
"""Hours from one label to the next."""


def chart_hours(
    hours: pd.DataFrame,
    asleep: np.ndarray | None = None,
    blocks: pd.DataFrame | None = None,
    mean_mg_dl: float | None = None,
    display: Display = USUAL,
    width: int = theme.WIDE_PX,
) -> alt.TopLevelMixin:
    """Mean glucose of each hour of the day with its interval, midnight to midnight downwards, and of each quarter.

    Parameters
    ----------
    hours : DataFrame
        Of :func:`glucolab.measuring.time_of_day.measure_hour_means`.
    asleep : array of bool, shape (24,), optional
        Hours that most nights of the wear hold; default none.
    blocks : DataFrame, optional
        ``blocks`` of a wear's analysis; default: the quarters of the day are not written beside.
    mean_mg_dl : float, optional
        Of the wear alone, which the hours are seen against; default: the hours' own. [mg/dL]
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
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> hours = gl.measure_hour_means(one.trace, one.wear.zones)
    >>> gl.charts.chart_hours(hours, blocks=one.blocks).description[:36]
    'Mean glucose of each hour of the day'
    """
    theme.want_rows(hours)
    asleep = np.zeros(24, dtype=bool) if asleep is None else asleep
    mean_mg_dl = float(hours["mean_mg_dl"].mean()) if mean_mg_dl is None else mean_mg_dl
    inner, foot = width - 4, _TOP_PX + 24 * HOUR_PX
    ends = hours[["low_mg_dl", "high_mg_dl"]].to_numpy(float)
    shown = np.asarray(display.values(np.append(ends[np.isfinite(ends)], mean_mg_dl)))
    low, high = float(shown.min()), float(shown.max())
    left, right = float(_LEFT_PX), float(inner - _WORDS_PX)

    def at(mg_dl: float) -> float:
        return left + (float(display.values(mg_dl)) - low) / ((high - low) or 1.0) * (right - left)

    drawing = Drawing(width, foot + _FOOT_PX)
    for hour in np.flatnonzero(asleep).tolist():
        y = _TOP_PX + hour * HOUR_PX
        drawing.add_ground(left, y, right, y + HOUR_PX, colours.ASLEEP)
    for tick in find_round_steps(low, high, 6) if display.numbers else []:
        x = left + (tick - low) / ((high - low) or 1.0) * (right - left)
        drawing.add_line(x, _TOP_PX, x, foot)
        drawing.add_text(x, foot + 11, f"{tick:g}", "center", colours.MUTED)
    drawing.add_line(at(mean_mg_dl), 16, at(mean_mg_dl), foot, colours.ACCENT, dashed=True)
    drawing.add_text(at(mean_mg_dl), 8, "mean of the wear", "center", colours.ACCENT)
    for hour in range(0, 25, _EVERY):
        y = _TOP_PX + hour * HOUR_PX
        drawing.add_line(left - 6, y, left, y, colours.GREY)
        drawing.add_text(left - 9, y, f"{hour}:00", "right", colours.MUTED)
    for _, row in hours.dropna().iterrows():
        y = _TOP_PX + (row["hour"] + 0.5) * HOUR_PX
        drawing.add_bar(at(row["low_mg_dl"]), at(row["high_mg_dl"]), y, colours.ACCENT, thick=6)
        drawing.add_dot(at(row["mean_mg_dl"]), y, colours.ACCENT)
    said = []
    for i, (_, row) in enumerate(() if blocks is None else blocks.iterrows()):
        y = _TOP_PX + (6 * i + 3) * HOUR_PX
        figure = _write_block(row, display)
        drawing.add_text(right + 14, y - 9, f"{BLOCK_WORDS[row['block']]} h", bold=True)
        drawing.add_text(right + 14, y + 9, figure)
        said.append(f"{BLOCK_WORDS[row['block']]} {figure}")
    description = (
        "Mean glucose of each hour of the day with its 90 % interval, hours downwards, hours asleep shaded; "
        f"{', '.join(said)}."
    )
    return drawing.finish(description)


def _write_block(row: pd.Series, display: Display) -> str:
    if not np.isfinite(row["mean_mg_dl"]):
        return "too few days"
    if not display.numbers:
        return ""
    low, high = (display.level(value) for value in (row["low_mg_dl"], row["high_mg_dl"]))
    return f"{display.level(row['mean_mg_dl'])} {display.unit} ({low} to {high})"

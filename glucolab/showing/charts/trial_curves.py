"""What did each arm of an experiment do? Glucose after eating with and without, every date thin, the means thick."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.relating.observations.meal_curves import average_eatings
from glucolab.showing import colours, theme
from glucolab.showing.charts.drawing import Drawing
from glucolab.showing.charts.progress import find_round_steps
from glucolab.showing.charts.trials import ARM_COLOURS
from glucolab.showing.display import USUAL, Display, write_signed
from glucolab.showing.words.common import cut_text

_HEIGHT_PX, _TOP_PX, _FOOT_PX, _LEFT_PX = 190, 24, 24, 40
_HOURS = (0, 60, 120, 180)
_FIRST_MIN, _LAST_MIN = -30, 180


def chart_trial_curves(curves: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Glucose after eating on each date of one experiment, and the mean of each arm.

    Parameters
    ----------
    curves : DataFrame
        Rows of trial_curves.csv's table of one trial.
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

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> curve = {"minutes": [-30, 0, 60, 120], "above_mg_dl": [0.0, 0.0, 30.0, 10.0], "trial": "walk"}
    >>> dates = [("rest", "2026-02-03"), ("walk", "2026-02-04")]
    >>> curves = pd.concat(pd.DataFrame(curve).assign(arm=arm, date=pd.Timestamp(day)) for arm, day in dates)
    >>> gl.charts.chart_trial_curves(curves).description[-26:]
    ': 1 of rest and 1 of walk.'
    """
    theme.want_rows(curves)
    known = curves[curves["above_mg_dl"].notna()].rename(columns={"arm": "dish"})
    means = average_eatings(curves.rename(columns={"arm": "dish"}))
    above = np.asarray(display.values(known["above_mg_dl"].to_numpy(float)))
    low, high = float(above.min()), float(above.max())
    inner, left = width - 4, float(_LEFT_PX if display.numbers else 6)
    foot = _TOP_PX + _HEIGHT_PX

    def place(minutes: np.ndarray, mg_dl: np.ndarray) -> list[tuple[float, float]]:
        x = left + (minutes - _FIRST_MIN) / (_LAST_MIN - _FIRST_MIN) * (inner - left - 6)
        y = foot - (np.asarray(display.values(mg_dl)) - low) / ((high - low) or 1.0) * _HEIGHT_PX
        return list(zip(x.tolist(), y.tolist(), strict=True))

    drawing = Drawing(width, foot + _FOOT_PX)
    for tick in find_round_steps(low, high, 4) if display.numbers else [0.0]:
        y = foot - (tick - low) / ((high - low) or 1.0) * _HEIGHT_PX
        drawing.add_line(left, y, inner, y, colours.GREY if not tick else colours.HAIRLINE)
        if display.numbers:
            drawing.add_text(left - 6, y, write_signed(tick, 0 if tick == round(tick) else 1), "right", colours.MUTED)
    for minute in _HOURS:
        x = place(np.array([minute]), np.array([0.0]))[0][0]
        words = "eating" if not minute else f"{minute // 60} h"
        drawing.add_text(min(x, inner - 8), foot + 13, words, "center", colours.MUTED)
    arms = sorted(curves["arm"].unique())
    for i, arm in enumerate(arms):
        colour = ARM_COLOURS[i % len(ARM_COLOURS)]
        colour = colours.OCHRE_TEXT if colour == colours.OCHRE else colour  # its name is written in it
        for _, one in known[known["dish"] == arm].groupby("date"):
            drawing.add_curve(place(one["minutes"].to_numpy(float), one["above_mg_dl"].to_numpy(float)), colour, 0.6)
        mean = means[means["dish"] == arm]
        drawing.add_curve(
            place(mean["minutes"].to_numpy(float), mean["above_mg_dl"].to_numpy(float)), colour, 3, dashed=i % 2 == 0
        )
        n = known.loc[known["dish"] == arm, "date"].nunique()
        share = (inner - left) / len(arms)
        dash = "━" if i % 2 else "╌╌"
        words = cut_text(f"{dash} {arm}, {n}", theme.letters_in(share - 4))
        drawing.add_text(left + i * share, 8, words, "left", colour, bold=True)
    counts = " and ".join(f"{known.loc[known['dish'] == arm, 'date'].nunique()} of {arm}" for arm in arms)
    return drawing.finish(
        f"Glucose from half an hour before to three hours after eating, from its own start: {counts}."
    )

"""What does glucose go with, and what else was measured? Effects, dishes, laboratory values, energy."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.record import Goal
from glucolab.relating.statistics.claims import worth_noticing
from glucolab.showing import colours, theme
from glucolab.showing.charts.intervals import Mark, chart_intervals
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import OUTCOME_LABELS, say_factor

MOST_DRAWN = 12
GLUCOSE_OUTCOMES = ("mean_mg_dl", "overnight_mean_mg_dl", "next_mean_mg_dl", "sd_mg_dl", "rise_mg_dl")


def choose_drawn(effects: pd.DataFrame) -> pd.DataFrame:
    """Rows of effects.csv's table that a chart draws: those in mg/dL that have an interval, the surest first."""
    known = effects[effects["outcome"].isin(GLUCOSE_OUTCOMES) & effects["range_low"].notna()]
    return known.sort_values("q_value").head(MOST_DRAWN)


def chart_effects(
    effects: pd.DataFrame,
    worth_noticing_mg_dl: float = Goal.worth_noticing_mg_dl,
    display: Display = USUAL,
    width: int = theme.WIDE_PX,
) -> alt.TopLevelMixin:
    """What goes with glucose over the wearer's own range, each as an interval over the band too small to matter.

    Parameters
    ----------
    effects : DataFrame
        effects.csv's table. Drawn are the dozen of smallest q whose estimate is in mg/dL and has an interval.
    worth_noticing_mg_dl : float
        Of a mean; what matters of other figures follows from it. [mg/dL]
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
    .. [1] Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300, doi 10.1111/j.2517-6161.1995.tb02031.x.
    .. [2] Cleveland & McGill, J Am Stat Assoc 1984;79:531-554, doi 10.1080/01621459.1984.10478080.

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> effects = pd.DataFrame({"factor": ["walk_after"], "outcome": ["rise_mg_dl"], "range_estimate": [-9.0],
    ...                         "range_low": [-15.0], "range_high": [-3.0], "q_value": [0.02]})
    >>> gl.charts.chart_effects(effects, display=gl.Display("mmol/L")).description[:36]
    '1 things and what they go with, each'
    """
    theme.want_rows(effects)
    effects = choose_drawn(effects)
    labels = [
        f"{say_factor(f)}: {OUTCOME_LABELS[o]}" for f, o in zip(effects["factor"], effects["outcome"], strict=True)
    ]
    small = [display.values(worth_noticing(outcome, worth_noticing_mg_dl)) for outcome in effects["outcome"]]
    rows = pd.DataFrame({"label": labels, **_interval(effects, display), "small": small})
    title = (
        f"goes with a difference of, {display.unit}" if display.numbers else "lower to the left, higher to the right"
    )
    description = (
        f"{len(rows)} things and what they go with, each with its 90 % interval, over the band too small to matter."
    )
    return _draw(rows, title, description, width, display)


def _draw(
    rows: pd.DataFrame, title: str, description: str, width: int, display: Display, *marks: Mark
) -> alt.TopLevelMixin:
    """Differences about nil, over the band too small to matter."""
    return chart_intervals(
        rows, title=title, description=description, width=width, marks=(Mark(0.0), *marks), figures=display.numbers,
        label_px=330,
    )  # fmt: skip


def _interval(table: pd.DataFrame, display: Display) -> dict[str, np.ndarray]:
    names = {
        "estimate": ("range_estimate", "on_mean_mg_dl", "rise_mg_dl"),
        "low": ("range_low", "low_mg_dl"),
        "high": ("range_high", "high_mg_dl"),
    }
    return {new: np.asarray(display.values(table[next(n for n in old if n in table)])) for new, old in names.items()}


def chart_energy(energy: pd.DataFrame, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Energy as it was felt, against the minutes since eating.

    Parameters
    ----------
    energy : DataFrame
        energy.csv's table; rows without ``energy`` or ``minutes_since_occasion`` are not drawn.
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
    .. [1] Wyatt et al., Nat Metab 2021;3:523-529.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> "minutes since eating" in gl.charts.chart_energy(one.tables["energy"]).description
    True
    """
    theme.want_rows(energy)
    energy = energy.dropna(subset=["minutes_since_occasion", "energy"])
    x = alt.X("minutes_since_occasion:Q", scale=alt.Scale(domain=[0, 360], clamp=True),
              axis=alt.Axis(title="minutes since eating began", values=[0, 60, 120, 180, 240, 300, 360]))  # fmt: skip
    y = alt.Y("energy:Q", scale=alt.Scale(domain=[0, 10]), axis=alt.Axis(title="energy, 0 to 10", tickCount=5))
    chart = (
        alt.Chart(energy[["minutes_since_occasion", "energy"]], autosize="none", width=width - 64, height=200)
        .mark_circle(size=50, opacity=0.45, color=colours.PLUM)
        .encode(x=x, y=y)
    )
    description = f"Energy as felt, 0 to 10, at {len(energy)} moments, against the minutes since eating began."
    return theme.finish_chart(chart, description, {"left": 46, "right": 18, "top": 8, "bottom": 44})

"""What came with high glucose? The rises by what they are linked to, the meals."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_local
from glucolab.measuring.excursions import ABOVE_MEDIAN_MG_DL
from glucolab.record import LINKS
from glucolab.showing import colours, theme
from glucolab.showing.charts.intervals import Mark, chart_intervals
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import LINK_WORDS, say_moment


def chart_rises(excursions: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Every rise as a dot, by what it is linked to first.

    Parameters
    ----------
    excursions : DataFrame
        excursions.csv's table.
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
    >>> gl.charts.chart_rises(one.tables["excursions"]).description[:32]
    'Each rise as a dot by what it is'
    """
    theme.want_rows(excursions)
    lead = excursions["linked_to"].str.split(";").str[0]
    kinds = [kind for kind in LINKS if (lead == kind).any()]
    kinds.sort(key=lambda kind: (kind == "unexplained", kind == "sensor", -int((lead == kind).sum())))
    order = excursions.assign(lead=lead).sort_values("rise_mg_dl")
    turn = order.groupby("lead").cumcount()
    table = pd.DataFrame({
        "row": order["lead"].map(kinds.index).to_numpy() + (turn % 5 - 2).to_numpy() * 0.09,
        "rise": display.values(order["rise_mg_dl"]), "colour": order["lead"].map(colours.LINK_COLOURS),
    })  # fmt: skip
    narrow = theme.is_narrow(width)
    row_px, left = (58, 8) if narrow else (34, 190)
    plot = {"width": width - left - 18, "height": max(1, len(kinds)) * row_px}
    title = (
        f"height above this wear's median, {display.unit}"
        if display.numbers
        else "height above this wear's median, higher to the right"
    )
    axis = alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=4 if narrow else 8)
    x = alt.X("rise:Q", scale=alt.Scale(domain=_rise_limits(table["rise"], display), nice=True), axis=axis)
    y = alt.Y("row:Q", scale=alt.Scale(domain=[-0.6, max(1, len(kinds)) - 0.4], reverse=True, nice=False), axis=None)
    dots = alt.Chart(table).mark_circle(size=62, opacity=0.7).encode(x=x, y=y, color=alt.Color("colour:N", scale=None))
    labels = pd.DataFrame(
        {"row": range(len(kinds)), "words": [f"{LINK_WORDS[k]}, {int((lead == k).sum())}" for k in kinds]}
    )
    text = {"align": "left", "dy": -23} if narrow else {"align": "right", "dx": -12}
    words = alt.Chart(labels).mark_text(baseline="middle", **text)
    chart = alt.layer(dots, words.encode(x=alt.XValue(0), y=y, text=alt.Text("words:N")), autosize="none", **plot)
    description = (
        "Each rise as a dot by what it is linked to, further right is higher: " + "; ".join(labels["words"]) + "."
    )
    return theme.finish_chart(chart, description, {"left": left, "right": 18, "top": 4, "bottom": 44})


def _rise_limits(rises: pd.Series, display: Display) -> list[float]:
    """From the height that makes a rise one, to the highest."""
    least = float(display.values(ABOVE_MEDIAN_MG_DL))
    return [least, max(float(rises.max()), 2 * least)]


def chart_meals(
    meals: pd.DataFrame, zones: ZoneSpans, display: Display = USUAL, width: int = theme.WIDE_PX
) -> alt.TopLevelMixin:
    """The rise after each meal with its interval, in the order given.

    Parameters
    ----------
    meals : DataFrame
        meal_responses.csv's table; meals whose two-hour figures may not be used are not drawn.
    zones : ZoneSpans
        The wearer's clocks, ``wear.zones``.
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
        If no meal has two-hour figures that may be used.

    References
    ----------
    .. [1] FAO Food and Nutrition Paper 66 (1998), chapter 4.
    .. [2] Cleveland & McGill, J Am Stat Assoc 1984;79:531-554, doi 10.1080/01621459.1984.10478080.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> chart = gl.charts.chart_meals(one.tables["meal_responses"], one.wear.zones)
    >>> "90 % interval" in chart.description
    True
    """
    meals = meals[meals["usable_2h"].fillna(False).astype(bool)]
    theme.want_rows(meals)
    local = to_local(meals["time"], zones)
    labels = [f"{say_moment(t)} {name}" for t, name in zip(local, meals["name"], strict=True)]
    names = {"estimate": "rise_mg_dl", "low": "rise_low_mg_dl", "high": "rise_high_mg_dl"}
    rows = pd.DataFrame({new: display.values(meals[old]).to_numpy() for new, old in names.items()})
    texts = [display.signed(v).removeprefix("+") if display.numbers else "" for v in meals["rise_mg_dl"]]
    rows = rows.assign(label=labels, text=texts, colour=colours.OCHRE)
    median = float(np.median(display.values(meals["rise_mg_dl"])))
    marks = (Mark(median, "middle of these"),) if len(meals) > 3 else ()
    title = (
        f"rise within two hours, {display.unit}" if display.numbers else "rise within two hours, higher to the right"
    )
    description = f"The rise after each of {len(meals)} meals with its 90 % interval."
    return chart_intervals(
        rows, title=title, description=description, width=width, marks=marks, figures=display.numbers, label_px=270
    )

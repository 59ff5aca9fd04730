"""What does glucose do after a dish, each time it is eaten? A small picture a dish, every eating from its own start."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.relating.observations.meal_curves import AFTER_MIN, BEFORE_MIN, average_eatings
from glucolab.showing import colours, theme
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import cut_text

WIDE_COLUMNS, NARROW_COLUMNS = 3, 2
_HEIGHT_PX = 110


def chart_curves(eatings: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Every eating of some dishes from its own baseline, thin, and their mean, thick.

    Parameters
    ----------
    eatings : DataFrame
        Of :func:`glucolab.relating.observations.meal_curves.gather_eatings`; dishes in the order in which they come.
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

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> curve = {"minutes": [-30, 0, 60, 120], "above_mg_dl": [0.0, 0.0, 30.0, 10.0]}
    >>> times = pd.to_datetime(["2026-02-03 12:30", "2026-02-04 12:40"])
    >>> eatings = pd.concat(pd.DataFrame(curve).assign(dish="soup", time=time) for time in times)
    >>> gl.charts.chart_curves(eatings).description[-13:]
    'soup 2 times.'
    """
    theme.want_rows(eatings)
    columns = NARROW_COLUMNS if theme.is_narrow(width) else WIDE_COLUMNS
    room = (width - 60) // columns - 14
    counts = eatings.groupby("dish", sort=False)["time"].nunique()
    names = {dish: cut_text(f"{n} × {dish}", theme.letters_in(room)) for dish, n in counts.items()}
    table = pd.DataFrame({
        "dish": eatings["dish"].map(names), "eating": eatings["time"].astype(str), "minutes": eatings["minutes"],
        "above": display.values(eatings["above_mg_dl"]).round(2),
    })  # fmt: skip
    mean = average_eatings(eatings)
    mean = pd.DataFrame({
        "dish": mean["dish"].map(names), "minutes": mean["minutes"],
        "middle": display.values(mean["above_mg_dl"]).round(2),
    })  # fmt: skip
    table = pd.concat([table, mean], ignore_index=True)
    ticks = [0, 90, 180] if theme.is_narrow(width) else [0, 60, 120, 180]
    x = alt.X("minutes:Q", scale=alt.Scale(domain=[-BEFORE_MIN, AFTER_MIN], nice=False),
              axis=alt.Axis(title="minutes after eating", values=ticks))  # fmt: skip
    title = f"rise, {display.unit}" if display.numbers else "rise"
    axis = alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=4)
    y, middle = (alt.Y(name, axis=axis) for name in ("above:Q", "middle:Q"))
    base = alt.Chart()
    thin = (
        base.transform_filter("isValid(datum.eating)")
        .mark_line(strokeWidth=1, opacity=0.45, color=colours.ACCENT)
        .encode(x=x, y=y, detail=alt.Detail("eating:N"))
    )
    thick = (
        base.transform_filter("isValid(datum.middle)")
        .mark_line(strokeWidth=2.6, color=colours.ACCENT)
        .encode(x=x, y=middle)
    )
    nought = base.mark_rule(color=colours.GREY, strokeWidth=0.7).encode(y=alt.YDatum(0.0))
    header = alt.Header(title=None, labelFont=theme.FONT, labelFontSize=13, labelAnchor="start")
    chart = alt.layer(nought, thin, thick, width=room, height=_HEIGHT_PX)
    faceted = chart.facet(
        facet=alt.Facet("dish:N", header=header, sort=list(names.values())), data=table, columns=columns
    )
    said = ", ".join(f"{dish} {n} times" for dish, n in counts.items())
    description = f"Glucose from half an hour before to three hours after eating, each from its own start: {said}."
    return theme.finish_chart(faceted, description)

"""What did other blood tests show? Values whose usual variation is not known, each analyte on a line of its own."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.words.common import cut_text, say_title

_SERIES_PX = 58
_SWING = 0.5
"""So much of a line's height lies between the lowest and the highest value."""


def chart_lab_values(values: pd.DataFrame, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Each value with its figure over its date, an analyte and unit a line.

    Parameters
    ----------
    values : DataFrame
        lab_values.csv's table.
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
    >>> dates = pd.to_datetime(["2026-02-10", "2026-09-01"])
    >>> values = pd.DataFrame({"date": dates, "analyte": "ferritin", "unit": "µg/L", "value": [45.0, 52.0]})
    >>> gl.charts.chart_lab_values(values).description[:25]
    '2 laboratory values by da'
    """
    theme.want_rows(values)
    name_px = 110 if theme.is_narrow(width) else 190
    values = values[values["value"].notna()]
    names = [f"{say_title(a)}, {u}" for a, u in values[["analyte", "unit"]].to_numpy()]
    lines = list(dict.fromkeys(names))
    table = pd.DataFrame({"line": names, "date": values["date"].to_numpy(), "value": values["value"].to_numpy(float)})
    own = table.groupby("line")["value"]
    low, span = own.transform("min"), own.transform("max") - own.transform("min")
    share = ((table["value"] - low) / span.where(span > 0)).fillna(0.5)
    table["height"] = table["line"].map(lines.index) + 0.75 - _SWING * share
    table["text"] = [f"{value:.6g}" for value in table["value"]]
    letters = theme.letters_in(name_px - 10)
    labels = pd.DataFrame(
        {"height": [i + 0.5 for i in range(len(lines))], "text": [cut_text(name, letters) for name in lines]}
    )
    scale = alt.Scale(domain=[0, len(lines)], reverse=True, nice=False)
    x = alt.X(
        "date:T",
        axis=alt.Axis(title=None, grid=False, tickCount=4, format="%b %Y", labelOverlap=True),
        scale=alt.Scale(padding=24),
    )
    y = alt.Y("height:Q", axis=None, scale=scale)
    base = alt.Chart(table)
    layers = [
        base.mark_line(color=colours.HAIRLINE).encode(x=x, y=y, detail=alt.Detail("line:N")),
        base.mark_point(filled=True, size=60, color=colours.ACCENT, opacity=1).encode(x=x, y=y),
        base.mark_text(dy=-12).encode(x=x, y=y, text=alt.Text("text:N")),
        alt.Chart(labels).mark_text(align="left").encode(x=alt.XValue(-name_px), y=y, text=alt.Text("text:N")),
    ]
    chart = alt.layer(*layers, autosize="none", width=width - name_px - 30, height=_SERIES_PX * len(lines))
    text = f"{len(values)} laboratory values by date, each of {len(lines)} analytes on a line of its own."
    return theme.finish_chart(chart, text, {"left": name_px, "right": 30, "top": 10, "bottom": 34})

"""How many finger-sticks are worth it? What is left open for each number of them."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.display import USUAL, Display

LINES = {
    "mean_half_mg_dl": ("the wear’s own average", colours.ACCENT),
    "change_half_mg_dl": ("its change from the latest wear", colours.OCHRE_TEXT),
}
"""Words and colour."""
AWAY_PX = (16, -12)
"""How far from its line the words stand: below the lower of the two, above the upper. [px]"""


def chart_next_checks(checks: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Half-widths of the next wear's average and of its change, for each number of finger-sticks.

    Parameters
    ----------
    checks : DataFrame
        next_checks.csv's table.
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
    >>> import glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> gl.charts.chart_next_checks(analysis.tables["next_checks"]).description[:32]
    'What stays open for each number '
    """
    theme.want_rows(checks)
    advised = int(checks.loc[checks["advised"].eq(True), "checks"].iloc[0])
    ticks = [int(n) for n in checks["checks"] if n % 4 == 0]
    x = alt.X("checks:Q", axis=alt.Axis(title="finger-sticks in the next wear", values=ticks, format="d"))
    y = alt.Y("half:Q", scale=alt.Scale(zero=True),
              axis=alt.Axis(title=f"give or take, {display.unit}", tickCount=4))  # fmt: skip
    layers = []
    upwards = checks[[*LINES]].iloc[-1].sort_values(kind="stable").index
    for column, away_px in zip(upwards, AWAY_PX, strict=True):
        words, colour = LINES[column]
        rows = pd.DataFrame({"checks": checks["checks"].astype(int), "half": display.values(checks[column])})
        base = alt.Chart(rows).encode(x=x, y=y)
        label = alt.Chart(rows.tail(1)).mark_text(align="right", dy=away_px, color=colour, fontSize=13)
        layers += [
            base.mark_line(strokeWidth=2, color=colour),
            alt.Chart(rows[rows["checks"] == advised]).mark_point(filled=True, size=80, color=colour, opacity=1)
            .encode(x=x, y=y),
            label.encode(x=x, y=y, text=alt.TextValue(words)),
        ]  # fmt: skip
    first, last = checks.iloc[0], checks[checks["checks"] == advised].iloc[0]
    description = (
        "What stays open for each number of finger-sticks, from none to twenty: with none the average is known to "
        f"within {display.size(first['mean_half_mg_dl'])} {display.unit}, with {advised} to within "
        f"{display.size(last['mean_half_mg_dl'])}. The dot is the number advised."
    )
    return theme.finish_chart(alt.layer(*layers, width=width - 80, height=180), description)

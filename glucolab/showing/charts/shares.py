"""How much of the differences between days does each group go with? One bar a group."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.charts.intervals import Mark, chart_intervals
from glucolab.showing.words.findings.variance_shares import ALL, say_share


def chart_shares(shares: pd.DataFrame, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Share of the differences between days' averages, a row a group.

    Parameters
    ----------
    shares : DataFrame
        Rows of spread_shares.csv's table of one outcome; those without a share are not drawn.
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
    >>> shares = pd.DataFrame({"group": ["sleep"], "share": [0.2], "low": [0.05], "high": [0.4]})
    >>> gl.charts.chart_shares(shares).description[:35]
    'Share of the differences between da'
    """
    theme.want_rows(shares)
    shares = shares[shares["share"].notna()]
    percent = (100 * shares[["share", "low", "high"]]).set_axis(["estimate", "low", "high"], axis=1)
    rows = percent.assign(
        label=shares["group"].str.capitalize(),
        text=[f"{share:.0f} %" for share in percent["estimate"]],
        colour=[colours.MUTED if group == ALL else colours.ACCENT for group in shares["group"]],
    )
    said = "; ".join(f"{row['group']} {say_share(row)}" for _, row in shares.iterrows())
    return chart_intervals(
        rows,
        title="share of how days' averages differ [%]",
        description=f"Share of the differences between days' averages that goes with each: {said}.",
        width=width,
        marks=(Mark(0.0), Mark(100.0)),
        label_px=110,
    )

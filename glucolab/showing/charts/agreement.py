"""How far from the meter did each sensor read? Its average and its single readings as bars about the meter."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.showing import colours, theme
from glucolab.showing.charts.intervals import Mark, chart_intervals
from glucolab.showing.display import USUAL, Display
from glucolab.showing.words.common import say_title
from glucolab.showing.words.findings.agreement import say_between


def chart_agreement(agreement: pd.DataFrame, display: Display = USUAL, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """Mean of reading minus finger-stick with its 90 % interval; under it, where there are limits, what they span.

    Parameters
    ----------
    agreement : DataFrame
        check_agreement.csv's table; rows without a mean difference are not drawn.
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
        If no wear has a difference.

    References
    ----------
    .. [1] Bland & Altman, Lancet 1986;327:307-310, doi 10.1016/S0140-6736(86)90837-8.
    .. [2] Carkeet, Optom Vis Sci 2015;92:e71-e80, doi 10.1097/OPX.0000000000000513.

    Examples
    --------
    >>> import glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> gl.charts.chart_agreement(analysis.tables["check_agreement"]).description[:26]
    'How far 2 sensors read fro'
    """
    agreement = agreement[agreement["difference_mg_dl"].notna()]
    theme.want_rows(agreement)
    rows = pd.DataFrame([line for _, row in agreement.iterrows() for line in _lines(row, display)])
    title = (
        f"reading as measured minus finger-stick, {display.unit}"
        if display.numbers
        else "reading as measured against finger-stick, higher to the right"
    )
    description = (
        f"How far {len(agreement)} sensors read from the meter: the average of each with its 90 % interval, and, where "
        "finger-sticks are enough, the span that holds 95 of 100 single readings."
    )
    return chart_intervals(
        rows, title=title, description=description, width=width, marks=(Mark(0.0, "your meter"),),
        figures=display.numbers, label_px=250,
    )  # fmt: skip


def _lines(row: pd.Series, display: Display) -> list[dict[str, object]]:
    name, middle = say_title(row["wear"]), display.values(row["difference_mg_dl"])
    half = (row["high_mg_dl"] - row["low_mg_dl"]) / 2
    lines = [{
        "label": f"{name}, average", "estimate": middle, "low": display.values(row["low_mg_dl"]),
        "high": display.values(row["high_mg_dl"]), "colour": colours.ACCENT,
        "text": display.signed(row["difference_mg_dl"], half) if display.numbers else "",
    }]  # fmt: skip
    if pd.notna(row["limit_low_mg_dl"]):
        lines.append({
            "label": f"{name}, single readings", "estimate": middle, "low": display.values(row["limit_low_mg_dl"]),
            "high": display.values(row["limit_high_mg_dl"]), "colour": colours.GREY,
            "text": say_between(row, display) if display.numbers else "",
        })  # fmt: skip
    return lines

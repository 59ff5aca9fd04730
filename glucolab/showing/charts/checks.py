"""How far did the sensor read from each finger-stick? A dot a check over the wear, on the band of its bias."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.clock import ZoneSpans, to_local
from glucolab.showing import colours, theme
from glucolab.showing.display import USUAL, Display

_HEIGHT_PX = 200


def chart_checks(
    checks: pd.DataFrame,
    bias: dict[str, float],
    zones: ZoneSpans,
    display: Display = USUAL,
    width: int = theme.WIDE_PX,
) -> alt.TopLevelMixin:
    """Reading as measured minus blood value, by the time of the check, over what the sensor is taken to read high.

    Parameters
    ----------
    checks : DataFrame
        ``checks`` of a trace: time, reading_mg_dl, check_mg_dl.
    bias : dict
        ``bias_mg_dl`` of the wear's summary.
    zones : ZoneSpans
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
    .. [1] Bland & Altman, Lancet 1986;327:307-310, doi 10.1016/S0140-6736(86)90837-8.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> chart = gl.charts.chart_checks(one.trace.checks, one.summary["bias_mg_dl"], one.wear.zones)
    >>> chart.description.split(":")[0]
    '3 blood values'
    """
    theme.want_rows(checks)
    local = to_local(pd.DatetimeIndex(checks["time"]), zones).tz_localize(None)
    off = checks["reading_mg_dl"].to_numpy(float) - checks["check_mg_dl"].to_numpy(float)
    dots = pd.DataFrame({"when": local, "off": display.values(off)})
    low, high = (float(display.values(bias[end])) for end in ("low", "high"))
    title = f"sensor minus blood, {display.unit}" if display.numbers else "sensor against blood"
    axis = alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=5)
    scale = alt.Scale(padding=10, nice=False)
    y = alt.Y("off:Q", axis=axis, scale=scale)
    x = alt.X(
        "when:T", scale=scale, axis=alt.Axis(title=None, format="%-d %b", tickCount=3 if theme.is_narrow(width) else 6)
    )
    band = alt.Chart(pd.DataFrame({"low": [low], "high": [high]})).mark_rect(color=colours.ACCENT_PALE, opacity=0.5)
    nought = alt.Chart(pd.DataFrame({"off": [0.0]})).mark_rule(color=colours.GREY)
    points = alt.Chart(dots).mark_point(shape="diamond", size=70, color=colours.INK, strokeWidth=1.5)
    layers = [
        band.encode(y=alt.Y("low:Q", axis=axis, scale=scale), y2=alt.Y2("high")),
        nought.encode(y=y),
        points.encode(x=x, y=y),
    ]
    description = (
        f"{len(dots)} blood values: how far the sensor as measured read from each, by date, over the band in which its "
        "average error is taken to lie, nine times in ten."
    )
    return theme.finish_chart(alt.layer(*layers, width=width - 80, height=_HEIGHT_PX), description)

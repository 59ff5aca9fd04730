"""What was recorded, and how sure is the average? The strip of a wear, its mean, and what the doubt is made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY, to_local
from glucolab.showing import colours, theme
from glucolab.showing.display import write_percent
from glucolab.showing.words.common import FLAG_LANES, GAP_WORDS, say_day, say_duration
from glucolab.summaries import union_minutes

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis

SHARE_WORDS = {"sensor": "the sensor", "days": "which days you wore it", "hours": "missing hours"}
SHARE_COLOURS = {"sensor": colours.ACCENT, "days": "#6f9dbb", "hours": colours.ACCENT_PALE}


def chart_error_shares(shares: dict[str, float], width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """What the width of the usual mean's interval is made of, as shares of the variance.

    Parameters
    ----------
    shares : dict
        ``days, hours, sensor``, adding to 1.
    width : int
        [px]

    Returns
    -------
    altair chart

    References
    ----------
    .. [1] Welch, Biometrika 1947;34:28-35, doi 10.1093/biomet/34.1-2.28.
    .. [2] Satterthwaite, Biometrics Bulletin 1946;2:110-114, doi 10.2307/3002019.

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> gl.charts.chart_error_shares(one.summary["usual_mean_error_shares"]).description[:27]
    'What the doubt about the av'
    """
    order = sorted(SHARE_WORDS, key=lambda name: -shares[name])
    ends = np.cumsum([shares[name] for name in order])
    table = pd.DataFrame({
        "start": [0.0, *ends[:-1]], "end": ends, "row": range(len(order)),
        "colour": [SHARE_COLOURS[name] for name in order],
        "words": [f"{SHARE_WORDS[name]}, {write_percent(shares[name])}" for name in order],
    })  # fmt: skip
    scale = alt.Scale(domain=[0, 1])
    colour = alt.Color("colour:N", scale=None)
    base = alt.Chart(table)
    bar = base.mark_rect().encode(
        x=alt.X("start:Q", scale=scale, axis=None), x2=alt.X2("end"), y=alt.YValue(0), y2=alt.Y2Value(16), color=colour
    )
    y = alt.Y("row:Q", scale=alt.Scale(domain=[-0.5, 2.5], range=[24, 90]), axis=None)
    keys = base.mark_square(size=90, opacity=1).encode(x=alt.XValue(7), y=y, color=colour)
    words = base.mark_text(align="left", baseline="middle").encode(x=alt.XValue(20), y=y, text=alt.Text("words:N"))
    padding = {"left": 8, "right": 8, "top": 4, "bottom": 4}
    chart = alt.layer(bar, keys, words, autosize="none", width=width - 16, height=92)
    description = "What the doubt about the average is made of: " + "; ".join(table["words"]) + "."
    return theme.finish_chart(chart, description, padding)


def chart_record(result: WearAnalysis, width: int = theme.WIDE_PX) -> alt.TopLevelMixin:
    """What was used, what was set aside and why, what is missing and how: a lane each, over the wear.

    Parameters
    ----------
    result : WearAnalysis
    width : int
        [px]

    Returns
    -------
    altair chart

    References
    ----------
    .. [1] Baysal et al., J Diabetes Sci Technol 2014;8:1091-1096 (PMC4455457).

    Examples
    --------
    >>> import glucolab as gl
    >>> one = gl.analyse_wear(gl.simulate.example_wear())
    >>> gl.charts.chart_record(one).description[:36]
    'When readings were used, set aside o'
    """
    lanes = tabulate_lanes(result)
    narrow = theme.is_narrow(width)
    row_px, label_px = (38, 8) if narrow else (22, 250)
    names = list(dict.fromkeys(lanes["words"]))
    lanes["row"] = lanes["words"].map(names.index)
    padding = {"left": label_px, "right": 14, "top": 4, "bottom": 30}
    plot = {"width": width - label_px - 14, "height": len(names) * row_px}
    days = len(result.days.dates)
    step = max(1, -(-days * 66 // plot["width"]))
    ticks = list(range(0, days, step))
    labels = [say_day(result.days.dates[0] + i * ONE_DAY, weekday=False) for i in range(days + 1)]
    axis = alt.Axis(title=None, values=ticks, labelExpr=f"{labels}[datum.value]", labelAlign="left", grid=True)
    x = alt.X("start:Q", scale=alt.Scale(domain=[0, days], nice=False), axis=axis)
    y = alt.Y("row:Q", scale=alt.Scale(domain=[-0.5, len(names) - 0.5], reverse=True, nice=False), axis=None)
    base = alt.Chart(lanes)
    offset = 9 if narrow else 0
    bars = base.mark_rule(strokeWidth=9, yOffset=offset).encode(
        x=x, x2=alt.X2("end"), y=y, color=alt.Color("colour:N", scale=None)
    )
    heads = alt.Chart(lanes.drop_duplicates("row"))
    text = {"align": "left", "dx": 0, "dy": -7} if narrow else {"align": "right", "dx": -12, "dy": 0}
    words = heads.mark_text(baseline="middle", **text).encode(x=alt.XValue(0), y=y, text=alt.Text("words:N"))
    chart = alt.layer(bars, words, autosize="none", **plot)
    description = "When readings were used, set aside or missing over the wear: " + "; ".join(names) + "."
    return theme.finish_chart(chart, description, padding)


def tabulate_lanes(result: WearAnalysis) -> pd.DataFrame:
    """Spans of the strip: ``words`` (with the lane's total), ``colour``, ``start, end`` [days since first midnight]."""
    spans = [_used_spans(result)]
    flags = result.tables["flags"]
    for (flag, action), mine in flags.groupby(["flag", "action"], sort=False):
        words = f"{FLAG_LANES.get(str(flag), flag)}, {say_duration(union_minutes(mine))}"
        spans.append(_lane(mine, words, colours.GREY if action == "exclude" else colours.ACCENT_PALE))
    gaps = result.tables["gaps"]
    for kind, mine in gaps[gaps["kind"] != "flagged"].groupby("kind", sort=False):
        words = f"{GAP_WORDS.get(str(kind), kind)}, {say_duration(result.summary['gap_minutes'][kind])}"
        spans.append(_lane(mine, words, colours.OCHRE))
    lanes = pd.concat(spans, ignore_index=True)
    midnight = result.days.dates[0]
    for column in ("start", "end"):
        days = np.asarray((to_local(lanes[column], result.wear.zones) - midnight) / ONE_DAY, dtype=float)
        lanes[column] = days.clip(0, len(result.days.dates))
    return lanes[(lanes["end"] > lanes["start"]) | (lanes["words"] == lanes["words"].iloc[0])]


def _lane(spans: pd.DataFrame, words: str, colour: str) -> pd.DataFrame:
    return spans[["start", "end"]].assign(words=words, colour=colour)


def _used_spans(result: WearAnalysis) -> pd.DataFrame:
    """Runs of usable readings, from readings.csv's table: neighbours nearer than two median steps belong together."""
    readings = result.tables["readings"]
    used = pd.DatetimeIndex(readings.loc[readings["glucose_mg_dl"].notna(), "time"]).sort_values()
    if not len(used):
        return _lane(pd.DataFrame({"start": used, "end": used}), "used: nothing", colours.ACCENT)
    steps = np.diff(used.asi8) / 60e6
    step = float(np.median(steps)) if len(steps) else 0.0
    breaks = np.flatnonzero(steps > 2 * step)
    starts, lasts = used[np.r_[0, breaks + 1]], used[np.r_[breaks, len(used) - 1]]
    spans = pd.DataFrame({"start": starts, "end": lasts + pd.Timedelta(minutes=step)})
    minutes = (spans["end"] - spans["start"]).dt.total_seconds().sum() / 60
    return _lane(spans, f"used, {say_duration(minutes)}", colours.ACCENT)

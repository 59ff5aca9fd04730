"""How do days lie about a line? One dot a day of each wear, the fit and its band."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.relating.effects.one_pair import DayRelation
from glucolab.showing import colours, theme
from glucolab.showing.display import Display, write_number
from glucolab.showing.words.common import cut_text, say_day, say_title
from glucolab.showing.words.notebooks.explorer import say_covariate, say_outcome, say_when

_HEIGHT_PX = 300
_SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross")
WEAR_COLOURS = (colours.ACCENT, colours.OCHRE, colours.MOSS, colours.PLUM, colours.MUTED, colours.INK)
PICKED = "picked"
"""Name of the selection of days that a widget reads."""


def chart_relation(
    relation: DayRelation, display: Display, chosen: tuple[str, ...] = (), width: int = theme.WIDE_PX
) -> alt.TopLevelMixin:
    """Every day as a dot, wears told apart by shape and colour, over the fit and its band.

    Parameters
    ----------
    relation : DayRelation
    display : Display
    chosen : tuple of str
        Days (YYYY-MM-DD) that are chosen at first.
    width : int
        [px]

    Returns
    -------
    altair chart
        With a selection of points named `PICKED`, ringed: a click chooses a day, with shift one more.
    """
    factor = display.values(1.0) if relation.outcome != "cv_percent" else 1.0
    points = _points(relation, float(factor), display)
    line = relation.line.assign(**{name: relation.line[name] * factor for name in ("fit", "low", "high")})
    names = [say_title(name) for name in dict.fromkeys(relation.points["wear"])]
    domain = alt.Scale(domain=names, range=_cycle(WEAR_COLOURS, names))
    shapes = alt.Scale(domain=names, range=_cycle(_SHAPES, names))
    figures = display.numbers or relation.outcome == "cv_percent"
    x_title = cut_text(say_covariate(relation.covariate), theme.letters_in(width - 80))
    y_title = say_outcome(relation.outcome, display)
    x = alt.X("covariate:Q", scale=alt.Scale(zero=False, nice=True), axis=alt.Axis(title=x_title, tickCount=6))
    y_axis = alt.Axis(title=y_title, labels=figures, ticks=figures, tickCount=6)
    y_scale = alt.Scale(zero=False, nice=True)
    y = alt.Y("outcome:Q", scale=y_scale, axis=y_axis)
    band = alt.Chart(line).mark_area(color=colours.ACCENT_PALE, opacity=0.45)
    fit = alt.Chart(line).mark_line(color=colours.ACCENT, strokeWidth=2)
    now = [{"day": day} for day in chosen]
    picked = alt.selection_point(name=PICKED, fields=["day"], toggle="event.shiftKey", empty=False, value=now or None)
    dots = alt.Chart(points).mark_point(filled=True, size=75, opacity=0.85, strokeWidth=2).encode(
        x=x, y=y,
        color=alt.Color("wear:N", scale=domain, legend=_legend(names, width)),
        shape=alt.Shape("wear:N", scale=shapes, legend=_legend(names, width)),
        stroke=alt.condition(picked, alt.value(colours.INK), alt.value("transparent")),
        tooltip=[alt.Tooltip(f"{name}:N", title=title) for name, title in _tell(relation, display).items()],
    ).add_params(picked)  # fmt: skip
    layers = [
        band.encode(x=x, y=alt.Y("low:Q", scale=y_scale, axis=y_axis), y2=alt.Y2("high")),
        fit.encode(x=x, y=alt.Y("fit:Q", axis=y_axis)),
        dots,
    ]
    chart = alt.layer(*layers, width=width - 90, height=_HEIGHT_PX)
    description = (
        f"{len(points)} days, each a dot: {say_covariate(relation.covariate)} across, "
        f"{say_outcome(relation.outcome, display)} {say_when(relation)} up, wears brought to one level, with a line "
        "and its 90 % band."
    )
    return theme.finish_chart(chart, description)


def _points(relation: DayRelation, factor: float, display: Display) -> pd.DataFrame:
    points = relation.points
    dates = pd.DatetimeIndex(points["date"])
    unit = "%" if relation.outcome == "cv_percent" else display.unit
    digits = 1 if relation.outcome != "mean_mg_dl" or display.unit != "mg/dL" else 0
    recorded = points["outcome"].to_numpy(float) * factor
    return pd.DataFrame({
        "day": dates.strftime("%Y-%m-%d"), "wear": points["wear"].map(say_title).to_numpy(),
        "covariate": points["covariate_within"].to_numpy(float),
        "outcome": points["outcome_within"].to_numpy(float) * factor,
        "date": [say_day(date, year=True) for date in dates],
        "written": [f"{value:,.4g}" for value in points["covariate"]],
        "recorded": [f"{write_number(value, digits)} {unit}" for value in recorded],
    })  # fmt: skip


def _tell(relation: DayRelation, display: Display) -> dict[str, str]:
    """What stands over a dot: the day, and both values as they were recorded."""
    said = {"date": "day", "wear": "wear", "written": say_covariate(relation.covariate)}
    shown = display.numbers or relation.outcome == "cv_percent"
    return said | ({"recorded": f"{say_outcome(relation.outcome, display)}, {say_when(relation)}"} if shown else {})


def _cycle(values: tuple[str, ...], names: list[str]) -> list[str]:
    return [values[i % len(values)] for i in range(len(names))]


def _legend(names: list[str], width: int) -> alt.Legend | None:
    """Wears by name, as many beside each other as fit; of one alone there is nothing to tell apart."""
    columns = max(1, theme.letters_in(width - 90) // (max(map(len, names), default=0) + 5))
    return alt.Legend(title=None, orient="top", columns=columns) if len(names) > 1 else None

"""How do two of a kind look over each other? Eatings of two dishes from baseline, days of two wears by the hour."""

from __future__ import annotations

import altair as alt
import pandas as pd

from glucolab.relating.observations.meal_curves import average_eatings
from glucolab.showing import colours, theme
from glucolab.showing.display import Display
from glucolab.showing.words.common import cut_text, say_title

PAIR = (colours.ACCENT, colours.OCHRE_TEXT)
_HEIGHT_PX = 260


def chart_eatings(
    eatings: pd.DataFrame, dishes: tuple[str, str], display: Display, width: int = theme.WIDE_PX
) -> alt.TopLevelMixin:
    """Every usable eating of two dishes from its own baseline, thin, and their means, thick.

    Parameters
    ----------
    eatings : DataFrame
        Of :func:`glucolab.relating.observations.meal_curves.gather_eatings`, wears together.
    dishes : (str, str)
    display : Display
    width : int
        [px]

    Returns
    -------
    altair chart
    """
    table = eatings.assign(above=display.values(eatings["above_mg_dl"]), eating=eatings["time"].astype(str))
    mean = average_eatings(eatings)
    mean["above"] = display.values(mean["above_mg_dl"])
    colour = alt.Color("dish:N", scale=alt.Scale(domain=list(dishes), range=list(PAIR)), legend=None)
    x = alt.X("minutes:Q", scale=alt.Scale(domain=[-30, 180], nice=False),
              axis=alt.Axis(title="minutes after eating", values=list(range(-30, 181, 30))))  # fmt: skip
    title = f"above the half hour before, {display.unit}" if display.numbers else "above the half hour before"
    y = alt.Y("above:Q", axis=alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=6))
    thin = alt.Chart(table[["dish", "eating", "minutes", "above"]]).mark_line(strokeWidth=1, opacity=0.35)
    thick = alt.Chart(mean[["dish", "minutes", "above"]]).mark_line(strokeWidth=3)
    nought = alt.Chart(pd.DataFrame({"above": [0.0]})).mark_rule(color=colours.GREY).encode(y=y)
    chart = alt.layer(
        nought,
        thin.encode(x=x, y=y, color=colour, detail=alt.Detail("eating:N")),
        thick.encode(x=x, y=y, color=colour),
        *_names(dishes, width),
        width=width - 80, height=_HEIGHT_PX,
    )  # fmt: skip
    counts = table.groupby("dish")["eating"].nunique()
    said = " and ".join(f"{int(counts.get(dish, 0))} of {dish}" for dish in dishes)
    description = f"Glucose from half an hour before to three hours after eating, each from its own start: {said}."
    return theme.finish_chart(chart, description)


def chart_expected(
    curve: pd.DataFrame, display: Display, width: int = theme.WIDE_PX, beside: pd.DataFrame | None = None
) -> alt.TopLevelMixin:
    """What glucose is expected to do after a meal, and where nine in ten such meals lie at each moment.

    Parameters
    ----------
    curve : DataFrame
        Of :class:`glucolab.relating.predicting.one_meal.MealPrediction`.
    display : Display
    width : int
        [px]
    beside : DataFrame, optional
        The curve of another meal to compare, drawn dashed and without its band.

    Returns
    -------
    altair chart
    """
    names = {"above": "above_mg_dl", "low": "low_mg_dl", "high": "high_mg_dl"}
    table = pd.DataFrame({"minutes": curve["minutes"]} | {k: display.values(curve[v]) for k, v in names.items()})
    x = alt.X("minutes:Q", scale=alt.Scale(domain=[0, 180], nice=False),
              axis=alt.Axis(title="minutes after eating", values=list(range(0, 181, 30))))  # fmt: skip
    title = f"above where it stood, {display.unit}" if display.numbers else "above where it stood"
    axis = alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=6)
    y, floor = (alt.Y(name, axis=axis) for name in ("above:Q", "low:Q"))
    base = alt.Chart(table)
    band = base.mark_area(opacity=0.18, color=colours.ACCENT).encode(x=x, y=floor, y2=alt.Y2("high"))
    line = base.mark_line(strokeWidth=2.5, color=colours.ACCENT).encode(x=x, y=y)
    nought = alt.Chart(pd.DataFrame({"above": [0.0]})).mark_rule(color=colours.GREY).encode(y=y)
    layers = [band, nought, line]
    description = "Expected glucose for three hours after eating, and the band of nine in ten such meals at any moment."
    if beside is not None:
        other = pd.DataFrame({"minutes": beside["minutes"], "above": display.values(beside["above_mg_dl"])})
        dashed = alt.Chart(other).mark_line(strokeWidth=2, strokeDash=[6, 4], color=colours.INK)
        layers.append(dashed.encode(x=x, y=y))
        description += " Dashed: the same meal with nothing beside it."
    chart = alt.layer(*layers, width=width - 80, height=_HEIGHT_PX)
    return theme.finish_chart(chart, description)


def chart_profiles(
    profiles: pd.DataFrame, wears: tuple[str, str], display: Display, width: int = theme.WIDE_PX
) -> alt.TopLevelMixin:
    """Mean glucose of two wears by the hour of the day.

    Parameters
    ----------
    profiles : DataFrame
        Of :func:`glucolab.relating.observations.meal_curves.profile_day`, with the column ``wear``.
    wears : (str, str)
        The earlier first.
    display : Display
    width : int
        [px]

    Returns
    -------
    altair chart
    """
    names = say_title(wears[0]), say_title(wears[1])
    middle, half = display.values(profiles["mean_mg_dl"]), display.values(profiles["half_mg_dl"])
    table = pd.DataFrame({"wear": profiles["wear"].map(say_title), "hour": profiles["hour"], "level": middle,
                          "low": middle - half, "high": middle + half})  # fmt: skip
    colour = alt.Color("wear:N", scale=alt.Scale(domain=list(names), range=list(PAIR)), legend=None)
    x = alt.X("hour:Q", scale=alt.Scale(domain=[0, 24], nice=False),
              axis=alt.Axis(title="hour of the day", values=list(range(0, 25, 3))))  # fmt: skip
    title = f"average, {display.unit}" if display.numbers else "average, higher is up"
    axis = alt.Axis(title=title, labels=display.numbers, ticks=display.numbers, tickCount=6)
    y, floor = (alt.Y(name, scale=alt.Scale(zero=False), axis=axis) for name in ("level:Q", "low:Q"))
    base = alt.Chart(table)
    bands = base.mark_area(opacity=0.18).encode(x=x, y=floor, y2=alt.Y2("high"), color=colour)
    lines = base.mark_line(strokeWidth=2.5).encode(x=x, y=y, color=colour)
    chart = alt.layer(bands, lines, *_names(names, width), width=width - 80, height=_HEIGHT_PX)
    description = (
        f"Average glucose by hour of the day, {names[0]} and {names[1]}, with bands for which days were worn; nothing "
        "where fewer than three days are known."
    )
    return theme.finish_chart(chart, description)


def _names(names: tuple[str, str], width: int) -> list[alt.Chart]:
    """What the colours stand for, over the plot: lines that cross leave no room beside them."""
    layers = []
    for name, colour, place, align in zip(names, PAIR, (0, width - 80), ("left", "right"), strict=True):
        words = pd.DataFrame({"text": [cut_text(f"— {name}", theme.letters_in(width / 2 - 50))]})
        text = alt.Chart(words).mark_text(align=align, color=colour, fontWeight="bold", baseline="bottom")
        layers.append(text.encode(x=alt.XValue(place), y=alt.YValue(-8), text=alt.Text("text:N")))
    return layers

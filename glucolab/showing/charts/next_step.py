"""What would the next step bring? Finger-sticks for the next average, or a habit on the way to the goal."""

from __future__ import annotations

from glucolab.showing import colours
from glucolab.showing.charts.canvas import Canvas, HandDrawn
from glucolab.showing.charts.ledger import LEDGER_PX, linear_px
from glucolab.showing.display import Display


def draw_sticks(halves_mg_dl: tuple[float, float], checks: int, display: Display, width: int = LEDGER_PX) -> HandDrawn:
    """How well the next wear's average would be known, without finger-sticks and with those advised.

    Parameters
    ----------
    halves_mg_dl : tuple of float
        Half-widths of its interval: with none, with those advised. [mg/dL]
    checks : int
        How many are advised.
    display : Display
    width : int
        [px]

    Returns
    -------
    HandDrawn
    """
    label_px, right = 118, width - (134 if display.numbers else 8)
    middle, scale = (label_px + right) / 2, (right - label_px) / 2 / max(halves_mg_dl)
    canvas = Canvas(width, 62)
    labels = ("no finger-stick", f"{checks} finger-sticks")
    for i, (label, half) in enumerate(zip(labels, halves_mg_dl, strict=True)):
        y, now = 16 + 28 * i, i == 1
        canvas.text(0, y, label, "start", colours.INK if now else colours.MUTED, now)
        canvas.bar(middle - half * scale, middle + half * scale, y - 5.5, y + 5.5, now)
        canvas.dot(middle, y, now)
        if display.numbers:
            canvas.text(width, y, f"give or take {display.size(half)}", "end", bold=now)
    said = (
        "; ".join(f"{label}, {display.size(half)}" for label, half in zip(labels, halves_mg_dl, strict=True))
        if display.numbers
        else "narrower with finger-sticks"
    )
    return canvas.finish(f"Half the interval of the next wear's average: {said}.")


def draw_lever(
    usual_mg_dl: float,
    change: tuple[float, float, float],
    goal_mg_dl: float,
    display: Display,
    width: int = LEDGER_PX,
) -> HandDrawn:
    """Where the average is, where one habit might bring it, and the goal.

    Parameters
    ----------
    usual_mg_dl : float
        Now. [mg/dL]
    change : tuple of float
        Estimate, low and high of what the habit would do. [mg/dL]
    goal_mg_dl : float
        [mg/dL]
    display : Display
    width : int
        [px]

    Returns
    -------
    HandDrawn
    """
    label_px, right = 104, width - 70
    values = [float(display.values(usual_mg_dl + by)) for by in (0.0, *change)]
    goal = float(display.values(goal_mg_dl))
    room = 0.12 * (max(*values, goal) - min(*values, goal))
    x = linear_px(min(*values, goal) - room, max(*values, goal) + room, label_px, right)
    canvas = Canvas(width, 78)
    canvas.line([x(goal)] * 2, [20, 74], colours.OCHRE_TEXT, 1.5, "4 3")
    words = f"goal: below {display.level(goal_mg_dl)}" if display.numbers else "goal"
    canvas.text(max(x(goal), 3.8 * len(words)), 9, words, "middle", colours.OCHRE_TEXT)
    canvas.text(0, 34, "now", "start", colours.MUTED)
    canvas.dot(x(values[0]), 34, False)
    canvas.text(0, 60, "with the habit", bold=True)
    canvas.bar(x(values[2]), x(values[3]), 54.5, 65.5)
    canvas.dot(x(values[1]), 60)
    if display.numbers:
        canvas.text(x(values[0]) + 11, 34, display.level(usual_mg_dl))
        canvas.text(width, 60, display.signed(change[0], (change[2] - change[1]) / 2), "end", bold=True)
    figure = f": {display.change(*change)}" if display.numbers else ""
    return canvas.finish(f"The average now, the goal, and what the habit might do to the average{figure}.")

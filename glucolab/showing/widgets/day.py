"""What happened on one day? The trace with meals, sleep, notes and greyed time, and every event in words."""

from __future__ import annotations

import ipywidgets as w
import numpy as np
import pandas as pd

from glucolab.results import StudyAnalysis, WearAnalysis
from glucolab.showing.charts.day_table import median_mg_dl, tabulate_days
from glucolab.showing.charts.days import chart_days
from glucolab.showing.display import Display, display_of
from glucolab.showing.markup import fill_template
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.common import say_day, say_title
from glucolab.showing.words.notebooks.compared import say_day_read
from glucolab.showing.words.pages.day import list_events


def explore_day(analysis: StudyAnalysis) -> w.Widget:
    """One day read closely, any of any wear.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    ipywidgets.Widget
    """
    return DayReader(analysis) if analysis.wears else controls.Sentence(text="No wear could be analysed.")


def read_day(result: WearAnalysis, place: int, display: Display, table: pd.DataFrame) -> str:
    """One day as markup: its picture and its events.

    Parameters
    ----------
    result : WearAnalysis
    place : int
        Which of the wear's days.
    display : Display
    table : DataFrame
        Of :func:`glucolab.showing.charts.day_table.tabulate_days`.
    """
    date = result.days.dates[[place]]
    rows = table[table["day"] == f"{date[0]:%Y-%m-%d}"]
    picture = controls.draw(chart_days(rows, date, median_mg_dl(result), display, tall=True))
    events = [f"{event.time} {event.text}" for event in list_events(result, display).get(place, [])]
    none = "" if events else "Nothing was written down on this day."
    return picture + fill_template("list.html", sentence=none, rows=events)


class DayReader(controls.Explorer):
    """The widget behind :func:`explore_day`."""

    def __init__(self, analysis: StudyAnalysis):
        self._wears = {one.wear.name: one for one in analysis.wears}
        self._display = display_of(analysis.study)
        self._tables: dict[str, pd.DataFrame] = {}
        names = [(say_title(name), name) for name in self._wears]
        self.wear = controls.choose_one("wear", names, names[-1][1])
        self.day = controls.choose_one("day", [])
        self.before, self.after = w.Button(description="the day before"), w.Button(description="the day after")
        self.sentence, self.shown = controls.Sentence(), w.HTML()
        self._drawn: tuple[str, int] | None = None
        self._list_days()
        # before what is remembered is set, so that the days to choose from are those of the remembered wear
        self.wear.observe(self._list_days, "value")
        handles = {"wear": self.wear, "day": self.day}
        controls.remember(open_sitting(analysis.study.name), "day", handles, self._draw)
        self.before.on_click(lambda _: self._step(-1))
        self.after.on_click(lambda _: self._step(1))
        self._draw()
        super().__init__(
            [
                controls.set_out(self.wear, self.day, self.before, self.after),
                self.sentence,
                self.shown,
            ]
        )

    def _list_days(self, change: object = None) -> None:
        result = self._wears[self.wear.value]
        dates = result.days.dates
        self.day.options = [(say_day(date), place) for place, date in enumerate(dates)]
        self.day.value = int(np.argmax(result.tables["daily"]["enough"].eq(True).fillna(False)))  # the first whole day

    def _step(self, by: int) -> None:
        self.day.value = min(max(self.day.value + by, 0), len(self.day.options) - 1)

    def _draw(self) -> None:
        result, wanted = self._wears[self.wear.value], (self.wear.value, self.day.value)
        if self.day.value is None or wanted == self._drawn:
            return  # a list between two states, or a wear and its day changed together
        if result.wear.name not in self._tables:
            self._tables[result.wear.name] = tabulate_days(result)
        self.sentence.text = say_day_read(result.tables["daily"].iloc[self.day.value], result.wear.name, self._display)
        self.shown.value = read_day(result, self.day.value, self._display, self._tables[result.wear.name])
        self._drawn = wanted

"""How do my days go with sleep, stress or anything I write down? One pair at a time, with the days behind it."""

from __future__ import annotations

from typing import Any

import altair as alt
import ipywidgets as w
import pandas as pd

from glucolab.analysis import StudyAnalysis
from glucolab.relating.effects.one_pair import PAIR_OUTCOMES, DayRelation, list_covariates, relate_days
from glucolab.relating.effects.questions import ADJUSTED_FOR
from glucolab.showing.charts.day_table import median_mg_dl, tabulate_days
from glucolab.showing.charts.days import chart_days
from glucolab.showing.charts.explorer import PICKED, chart_relation
from glucolab.showing.display import display_of
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.common import say_count, say_title
from glucolab.showing.words.notebooks.explorer import say_covariate, say_outcome, say_relation
from glucolab.showing.words.pages.study import DESCRIBED

MOST_DAYS_DRAWN = 5
_CHART_PX = 600
"""Leaves room for the list of days beside it."""

USUAL = ("asleep_h", "mean_mg_dl")
_WHEN = [("same day, or night before", False), ("day after, or night that follows", True)]


def explore_covariates(analysis: StudyAnalysis) -> w.Widget:
    """The covariate explorer: points within wear, the fit, the chosen days' traces, and a sentence.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    ipywidgets.Widget
        In words alone where the tool only describes, or nothing was written down.
    """
    if analysis.study.person.describe_only:
        return controls.Sentence(text=DESCRIBED)
    if not list_covariates([one.related for one in analysis.wears]):
        return controls.Sentence(
            text="Nothing was written down on eight days or more that days could be set against: sleep.csv, days.csv, "
            "activity.csv or meals.csv would make it possible."
        )
    return CovariateExplorer(analysis)


class CovariateExplorer(controls.Explorer):
    """The widget behind :func:`explore_covariates`.

    Attributes
    ----------
    relation : DayRelation
        What is shown.
    """

    relation: DayRelation

    def __init__(self, analysis: StudyAnalysis):
        self._wears = {one.wear.name: one for one in analysis.wears}
        self._worth = analysis.study.goal.worth_noticing_mg_dl
        self._display = display_of(analysis.study)
        self._sitting = open_sitting(analysis.study.name)
        self._tables: dict[str, pd.DataFrame] = {}
        self._quiet = False
        names = list_covariates([one.related for one in analysis.wears])
        covariates = [(say_covariate(name), name) for name in names]
        wears = [(say_title(name), name) for name in self._wears]
        outcomes = [(say_outcome(name, self._display), name) for name in PAIR_OUTCOMES]
        first = USUAL[0] if USUAL[0] in names else names[0]
        self.controls: dict[str, w.Widget] = {
            "covariate": controls.choose_one("goes with", covariates, first),
            "outcome": controls.choose_one("what", outcomes, USUAL[1]),
            "next_day": controls.choose_one("when", _WHEN, False),
            "least_coverage": controls.choose_size("least recorded", 0.7, 1.0, 0.05, 0.7, ".0%"),
            "wears": controls.choose_some("wears", wears, tuple(self._wears), min(4, len(wears))),
            "adjust": controls.choose_some(
                "adjusted for", covariates, [name for name in ADJUSTED_FOR["day"] if name in names]
            ),
        }
        self.days = controls.choose_list("days to see", rows=14)
        self.sentence, self.traces = controls.Sentence(), w.HTML()
        self.controls["outcome"].observe(self._put_cause_first, "value")
        controls.remember(self._sitting, "covariates", self.controls, self._update)
        self._relate()
        self.days.value = self.days.options[-1:]  # so that it is seen what choosing a day does
        controls.remember(self._sitting, "days", {"days": self.days}, self._choose_in_list)
        self.chart = controls.live_chart(self._draw_relation())
        self._listen()
        self._draw_days()
        asked = list(self.controls.values())
        super().__init__(
            [
                controls.set_out(w.VBox(asked[:4]), w.VBox(asked[4:])),
                self.sentence,
                controls.set_out(self.chart, self.days),
                self.traces,
            ]
        )

    def _relate(self) -> None:
        chosen = {name: control.value for name, control in self.controls.items()}
        wears = [self._wears[name].related for name in chosen["wears"]]
        self.relation = relate_days(
            wears, chosen["covariate"], chosen["outcome"], next_day=chosen["next_day"],
            least_coverage=chosen["least_coverage"], adjust=chosen["adjust"],
        )  # fmt: skip
        tried = self._sitting.try_pair((chosen["covariate"], chosen["outcome"], chosen["next_day"]))
        self.sentence.text = say_relation(self.relation, self._worth, self._display, tried)
        dates = pd.DatetimeIndex(self.relation.points["date"]).strftime("%Y-%m-%d")
        known = list(dict.fromkeys(dates))
        kept = tuple(day for day in self.days.value if day in known)
        if known == list(self.days.options):
            return
        self._quiet = True
        with self.days.hold_sync():  # the browser must not hear of a choice before it knows the list
            self.days.options = known
            self.days.value = kept
        self._quiet = False

    def _put_cause_first(self, change: dict[str, Any]) -> None:
        """What a day holds is asked of the night that follows it, not of the one before."""
        nights = [name == "overnight_mean_mg_dl" for name in (change["old"], change["new"])]
        if nights[0] != nights[1]:
            self.controls["next_day"].value = nights[1]

    def _update(self) -> None:
        self._relate()
        self._redraw()
        self._draw_days()

    def _draw_relation(self) -> alt.TopLevelMixin:
        return chart_relation(self.relation, self._display, self.days.value, _CHART_PX)

    def _redraw(self) -> None:
        self.chart.chart = self._draw_relation()
        self._listen()

    def _listen(self) -> None:
        """Hear of days chosen in the picture: a new chart comes with new selections."""
        self.chart.selections.observe(self._choose_in_chart, PICKED)

    def _choose_in_chart(self, change: dict[str, Any]) -> None:
        known = set(self.days.options)
        picked = {str(point.get("day")) for point in change["new"].value or []}
        self._quiet = True
        self.days.value = tuple(day for day in self.days.options if day in picked & known)
        self._quiet = False
        self._draw_days()

    def _choose_in_list(self) -> None:
        if not self._quiet:
            self._redraw()
            self._draw_days()

    def _draw_days(self) -> None:
        """The traces of the chosen days, those of one wear together."""
        points = self.relation.points.assign(day=pd.DatetimeIndex(self.relation.points["date"]).strftime("%Y-%m-%d"))
        chosen = points[points["day"].isin(self.days.value)].head(MOST_DAYS_DRAWN)
        drawn = []
        for name, mine in chosen.groupby("wear", sort=False):
            result = self._wears[str(name)]
            if name not in self._tables:
                self._tables[str(name)] = tabulate_days(result)
            table = self._tables[str(name)]
            table = table[table["day"].isin(mine["day"])]
            chart = chart_days(table, pd.DatetimeIndex(mine["date"]), median_mg_dl(result), self._display, tall=True)
            drawn.append(controls.name(say_title(str(name))) + controls.draw(chart))
        more = len(self.days.value) - len(chosen)
        rest = f"{say_count(more, 'more day is', 'more days are')} chosen, and not drawn." if more > 0 else ""
        self.traces.value = "".join([*drawn, controls.name(rest)])

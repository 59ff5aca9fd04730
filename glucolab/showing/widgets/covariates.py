"""How do my days go with sleep, stress or anything I write down? All links at once, then one, then the days behind."""

from __future__ import annotations

from typing import Any

import altair as alt
import ipywidgets as w
import pandas as pd

from glucolab.on_request import relate_study_days, share_wears
from glucolab.relating.effects.day_grid import GRID_OUTCOMES, is_next_day, usual_adjustment
from glucolab.relating.effects.one_pair import PAIR_OUTCOMES, DayRelation, list_covariates, relate_days
from glucolab.results import StudyAnalysis
from glucolab.showing.charts.day_table import median_mg_dl, tabulate_days
from glucolab.showing.charts.days import chart_days
from glucolab.showing.charts.explorer import PICKED, chart_relation
from glucolab.showing.display import display_of
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.day_grid import LinkTable, draw_grid, key_of, pair_of
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.common import say_count, say_title
from glucolab.showing.words.notebooks.explorer import say_covariate, say_judged, say_outcome, say_relation, say_tried
from glucolab.showing.words.pages.study import DESCRIBED

MOST_DAYS_DRAWN = 5
_CHART_PX = 420
"""As wide as fits beside the grid."""

USUAL_COVERAGE = 0.7
"""Least recorded share of a day at first [1]; the contract's "enough of a day". Higher leaves days out."""
OPEN_AT_FIRST = "asleep_h"
"""What is open at first, where it was written down: most people ask it."""
_WHEN = [("same day, or night before", False), ("day after, or night that follows", True)]


def explore_covariates(analysis: StudyAnalysis) -> w.Widget:
    """The covariate explorer: the grid of all links; of one its days, the fit and a sentence; the chosen days' traces.

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
    grid : DayGrid
    relation : DayRelation
        What is shown of one link.
    """

    relation: DayRelation

    def __init__(self, analysis: StudyAnalysis):
        self._wears = {one.wear.name: one for one in analysis.wears}
        self._related = {one.name: one for one in share_wears(analysis)}
        self._worth = analysis.study.goal.worth_noticing_mg_dl
        self._display = display_of(analysis.study)
        self._sitting = open_sitting(analysis.study.name)
        self._tables: dict[str, pd.DataFrame] = {}
        self._quiet = self._opening = False
        self.grid = relate_study_days(analysis, list(self._related.values()))
        self._adjustment = usual_adjustment(self.grid.cells["covariate"].tolist())
        self.links = LinkTable(markup=draw_grid(self.grid, self._display))
        self.controls = self._offer_controls()
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
        self.links.observe(self._open_cell, "chosen")
        super().__init__(self._set_out())

    def _offer_controls(self) -> dict[str, w.Widget]:
        """One control for each thing that may be asked otherwise; at first a cell of the grid is open."""
        names = list(dict.fromkeys(self.grid.cells["covariate"]))
        covariates = [(say_covariate(name), name) for name in names]
        wears = [(say_title(name), name) for name in self._wears]
        outcomes = [(say_outcome(name, self._display), name) for name in PAIR_OUTCOMES]
        return {
            "covariate": controls.choose_one(
                "goes with", covariates, OPEN_AT_FIRST if OPEN_AT_FIRST in names else names[0]
            ),
            "outcome": controls.choose_one("what", outcomes, GRID_OUTCOMES[0]),
            "next_day": controls.choose_one("when", _WHEN, False),
            "least_coverage": controls.choose_size("least recorded", 0.7, 1.0, 0.05, USUAL_COVERAGE, ".0%"),
            "wears": controls.choose_some("wears", wears, tuple(self._wears), min(4, len(wears))),
            "adjust": controls.choose_some("adjusted for", covariates, self._adjustment),
        }

    def _set_out(self) -> list[w.Widget]:
        asked = list(self.controls.values())
        one = w.VBox([self.sentence, self.chart], layout=w.Layout(flex="1 1 390px", min_width="0"))
        one.add_class("gl-one-link")
        self.links.layout = w.Layout(flex="1.1 1 410px", min_width="0", margin="0 18px 0 0")
        otherwise = controls.fold("ask it otherwise", controls.set_out(w.VBox(asked[:4]), w.VBox(asked[4:])))
        return [controls.set_out(self.links, one), otherwise, controls.set_out(self.days, self.traces)]

    def _relate(self) -> None:
        chosen = {name: control.value for name, control in self.controls.items()}
        pair = chosen["covariate"], chosen["outcome"]
        as_in_grid = self._is_as_in_grid(chosen)
        if as_in_grid:
            self.relation = self.grid.relations[pair]
            cells = self.grid.cells
            cell = cells[(cells["covariate"] == pair[0]) & (cells["outcome"] == pair[1])].iloc[0]
            verdict, judged = cell["verdict"], say_judged(cell["in_effects"], self.grid.asked)
        else:
            self.relation = relate_days(
                [self._related[name] for name in chosen["wears"]], *pair, next_day=chosen["next_day"],
                least_coverage=chosen["least_coverage"], adjust=chosen["adjust"],
            )  # fmt: skip
            tried = self._sitting.try_pair((*pair, *map(str, list(chosen.values())[2:])))
            alone, verdict = (self.relation.verdict(self._worth, n) for n in (1, self.grid.asked + tried))
            judged = say_tried(alone, verdict, self.grid, tried)
        self.sentence.text = say_relation(self.relation, verdict, judged, self._display)
        self._opening = True
        self.links.chosen = key_of(*pair) if as_in_grid else ""
        self._opening = False
        self._list_days()

    def _is_as_in_grid(self, chosen: dict[str, Any]) -> bool:
        """True where what is chosen is a cell of the grid, asked as the grid does."""
        return (
            chosen["outcome"] in GRID_OUTCOMES
            and chosen["next_day"] == is_next_day(chosen["outcome"])
            and chosen["least_coverage"] == USUAL_COVERAGE
            and set(chosen["wears"]) == set(self._wears)
            and set(chosen["adjust"]) == set(self._adjustment)
        )

    def _list_days(self) -> None:
        """Those of the link that is shown; what was chosen of them stays so."""
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
        nights = [is_next_day(name) for name in (change["old"], change["new"])]
        if nights[0] != nights[1]:
            self.controls["next_day"].value = nights[1]

    def _open_cell(self, change: dict[str, Any]) -> None:
        """Show the link of a cell, asked as the grid asks it."""
        if self._opening or not change["new"]:
            return
        covariate, outcome = pair_of(change["new"])
        asked = {
            "covariate": covariate, "outcome": outcome, "next_day": is_next_day(outcome),
            "least_coverage": USUAL_COVERAGE, "wears": tuple(self._wears), "adjust": tuple(self._adjustment),
        }  # fmt: skip
        self._opening = True
        for name, value in asked.items():
            self.controls[name].value = value
        self._opening = False
        self._update()

    def _update(self) -> None:
        if self._opening:
            return  # several controls change together, and are looked at once
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

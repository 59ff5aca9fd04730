"""What would more finger-sticks, or more days, bring? The next wear by hand."""

from __future__ import annotations

import ipywidgets as w

from glucolab.on_request import plan_study_checks
from glucolab.relating.planning.precision import CHECK_COUNTS, USUAL_DAYS
from glucolab.results import StudyAnalysis
from glucolab.showing.charts.plan import chart_next_checks
from glucolab.showing.display import display_of
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.notebooks.compared import say_what_if
from glucolab.showing.words.pages.study import DESCRIBED
from glucolab.units import glucose_from_mg_dl, glucose_to_mg_dl

GOALS_MG_DL, USUAL_GOAL_MG_DL = (70.0, 140.0), 100.0
"""Goals that may be tried, and the one shown where study.toml names none: averages that healthy people have."""


def explore_plan(analysis: StudyAnalysis) -> w.Widget:
    """What-if: goal, finger-sticks and days of the next wear, and how well its average would be known.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    ipywidgets.Widget
        In words alone where the tool only describes, or no wear has an average yet.
    """
    if analysis.study.person.describe_only:
        return controls.Sentence(text=DESCRIBED)
    if not len(plan_study_checks(analysis, None, USUAL_DAYS)):
        return controls.Sentence(
            text=say_what_if(plan_study_checks(analysis, None, USUAL_DAYS), 0, display_of(analysis.study))
        )
    return PlanExplorer(analysis)


class PlanExplorer(controls.Explorer):
    """The widget behind :func:`explore_plan`."""

    def __init__(self, analysis: StudyAnalysis):
        self._analysis, self._display = analysis, display_of(analysis.study)
        unit, goal = analysis.study.unit, analysis.study.goal.mean_mg_dl
        low, high = (float(glucose_from_mg_dl(level, unit)) for level in GOALS_MG_DL)
        step = 1.0 if unit == "mg/dL" else 0.1
        shown = float(glucose_from_mg_dl(goal or USUAL_GOAL_MG_DL, unit))
        self.goal = controls.choose_size(f"goal, {unit}", low, high, step, shown, ".0f" if step == 1 else ".1f")
        self.checks = w.SelectionSlider(
            description="finger-sticks", options=CHECK_COUNTS, value=6, continuous_update=False,
            style={"description_width": f"{controls.NAME_PX}px"}, layout=w.Layout(width=f"{controls.CONTROL_PX}px"),
        )  # fmt: skip
        self.days = controls.choose_size("days", 3, 28, 1, USUAL_DAYS, ".0f")
        self.sentence, self.picture = controls.Sentence(), w.HTML()
        handles = {"checks": self.checks, "days": self.days} | ({"goal": self.goal} if self._display.numbers else {})
        controls.remember(open_sitting(analysis.study.name), "plan", handles, self._draw)
        self._draw()
        super().__init__([*handles.values(), self.sentence, self.picture])

    def _draw(self) -> None:
        goal_mg_dl = (
            float(glucose_to_mg_dl(self.goal.value, self._analysis.study.unit)) if self._display.numbers else None
        )
        table = plan_study_checks(self._analysis, goal_mg_dl, float(self.days.value))
        table = table.assign(advised=table["checks"].astype(int).eq(self.checks.value))  # the dot is what was chosen
        self.sentence.text = say_what_if(table, self.checks.value, self._display)
        self.picture.value = controls.draw(chart_next_checks(table, self._display)) if self._display.numbers else ""

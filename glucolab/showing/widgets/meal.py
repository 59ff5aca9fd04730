"""What would this meal do? One meal put together, and the curve that all earlier ones let expect."""

from __future__ import annotations

import ipywidgets as w
import numpy as np

from glucolab.errors import NothingToDo
from glucolab.on_request import predict_meal
from glucolab.relating.predicting.meal_model import USUAL_CARBS_G
from glucolab.relating.predicting.one_meal import MealPrediction
from glucolab.results import StudyAnalysis
from glucolab.showing.charts.overlaid import chart_expected
from glucolab.showing.display import display_of
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.dishes import list_dishes
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.notebooks.compared import say_expected_meal
from glucolab.showing.words.pages.study import DESCRIBED

NO_DISH = "any, by its carbohydrate"
ALONE = "nothing else"
WITH = {
    ALONE: (False, False), "a walk after": (True, False), "protein first": (False, True),
    "protein first and a walk after": (True, True),
}  # fmt: skip
"""What goes with a meal: whether a walk follows, whether its protein is eaten first."""
MOST_CARBS_G = 150.0
"""Where the slider of carbohydrate ends [g]; assumed. It moves what is asked, no figure."""


def explore_meal(analysis: StudyAnalysis) -> w.Widget:
    """One meal by dish, carbohydrate, hour and what goes with it, and what it would do.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    ipywidgets.Widget
        In words alone where the tool only describes, or no meal can be learnt from.
    """
    if analysis.study.person.describe_only:
        return controls.Sentence(text=DESCRIBED)
    try:
        predict_meal(analysis, hour=12, carbs_g=USUAL_CARBS_G)
    except NothingToDo as reason:
        text = str(reason)
        return controls.Sentence(text=f"{text[0].upper()}{text[1:]}.")
    return MealExplorer(analysis)


def usual_carbs_g(analysis: StudyAnalysis, dish: str) -> float:
    """Carbohydrate of a dish as it was eaten so far, a usual meal's where none is written. [g]"""
    tables = [one.tables["meal_responses"] for one in analysis.wears]
    grams = [float(table.loc[table["dish"] == dish, "carbs_g"].mean()) for table in tables]
    known = [one for one in grams if not np.isnan(one)]
    return min(float(np.mean(known)), MOST_CARBS_G) if known else USUAL_CARBS_G


class MealExplorer(controls.Explorer):
    """The widget behind :func:`explore_meal`."""

    def __init__(self, analysis: StudyAnalysis):
        self._analysis, self._display = analysis, display_of(analysis.study)
        dishes = [(f"{dish} ({n})", dish) for dish, n in list_dishes(analysis).items()]
        self.dish = controls.choose_one("dish", [(NO_DISH, ""), *dishes], "")
        self.carbs = controls.choose_size("carbohydrate, g", 0, MOST_CARBS_G, 5, USUAL_CARBS_G, ".0f")
        self.hour = controls.choose_size("hour of the day", 5, 23, 0.5, 12.5, ".1f")
        self.beside = controls.choose_one("with", list(WITH), ALONE)
        self.sentence, self.picture = controls.Sentence(), w.HTML()
        self.dish.observe(self._take_carbs, "value")
        handles = {"dish": self.dish, "carbs": self.carbs, "hour": self.hour, "beside": self.beside}
        controls.remember(open_sitting(analysis.study.name), "meal", handles, self._draw)
        self._draw()
        left, right = w.VBox([self.dish, self.beside]), w.VBox([self.carbs, self.hour])
        super().__init__([controls.set_out(left, right), self.sentence, self.picture])

    def _take_carbs(self, change: dict[str, str]) -> None:
        if change["new"]:
            self.carbs.value = 5 * round(usual_carbs_g(self._analysis, change["new"]) / 5)

    def _draw(self) -> None:
        found, alone = self._predict(self.beside.value), None
        if self.beside.value != ALONE:
            alone = self._predict(ALONE)
        self.sentence.text = say_expected_meal(found, self._display, alone)
        curve = None if alone is None else alone.curve
        self.picture.value = controls.draw(chart_expected(found.curve, self._display, beside=curve))

    def _predict(self, beside: str) -> MealPrediction:
        walked, first = WITH[beside]
        return predict_meal(
            self._analysis, hour=self.hour.value, dish=self.dish.value, carbs_g=self.carbs.value, walk_after=walked,
            protein_first=first,
        )  # fmt: skip

"""How do two dishes differ? Every eating drawn from its own start, and what the pooled figures say."""

from __future__ import annotations

import ipywidgets as w
import pandas as pd

from glucolab.relating.observations.meal_curves import gather_meal_curves
from glucolab.results import StudyAnalysis
from glucolab.showing.charts.overlaid import chart_eatings
from glucolab.showing.display import display_of
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.notebooks.compared import say_dish_pair
from glucolab.showing.words.pages.study import DESCRIBED


def explore_dishes(analysis: StudyAnalysis) -> w.Widget:
    """Two dishes overlaid from baseline, every usable eating drawn.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    ipywidgets.Widget
        In words alone where the tool only describes, or fewer than two dishes were eaten.
    """
    if analysis.study.person.describe_only:
        return controls.Sentence(text=DESCRIBED)
    if len(list_dishes(analysis)) < 2:
        return controls.Sentence(text="No two dishes with usable eatings are written down in meals.csv.")
    return DishExplorer(analysis)


def list_dishes(analysis: StudyAnalysis) -> dict[str, int]:
    """Usable eatings of each dish, most eaten first."""
    tables = [one.tables["meal_responses"] for one in analysis.wears]
    if not tables:
        return {}
    meals = pd.concat(tables, ignore_index=True)
    usable = meals[meals["usable_2h"].eq(True).fillna(False)]
    return {str(dish): int(n) for dish, n in usable["dish"].value_counts().items() if dish}


def find_pair(pairs: pd.DataFrame, dishes: tuple[str, str]) -> pd.Series | None:
    """The row of dish_pairs.csv of two dishes, in whichever order, None if there is none."""
    found = pairs[pairs["dish_a"].isin(dishes) & pairs["dish_b"].isin(dishes)]
    return found.iloc[0] if len(found) and dishes[0] != dishes[1] else None


class DishExplorer(controls.Explorer):
    """The widget behind :func:`explore_dishes`."""

    def __init__(self, analysis: StudyAnalysis):
        self._analysis, self._display = analysis, display_of(analysis.study)
        self._counts = list_dishes(analysis)
        names = [(f"{dish} ({n})", dish) for dish, n in self._counts.items()]
        self.first = controls.choose_one("dish", names, names[0][1])
        self.second = controls.choose_one("against", names, names[1][1])
        self.sentence, self.picture = controls.Sentence(), w.HTML()
        handles = {"first": self.first, "second": self.second}
        controls.remember(open_sitting(analysis.study.name), "dishes", handles, self._draw)
        self._draw()
        super().__init__([controls.set_out(self.first, self.second), self.sentence, self.picture])

    def _draw(self) -> None:
        dishes = self.first.value, self.second.value
        if dishes[0] == dishes[1]:
            self.sentence.text, self.picture.value = "Choose two different dishes.", ""
            return
        wears = self._analysis.wears
        eatings = pd.concat([gather_meal_curves(one.trace, one.tables["meal_responses"], dishes) for one in wears])
        pair = find_pair(self._analysis.tables["dish_pairs"], dishes)
        self.sentence.text = say_dish_pair(pair, dishes, self._counts, self._display)
        self.picture.value = controls.draw(chart_eatings(eatings, dishes, self._display))

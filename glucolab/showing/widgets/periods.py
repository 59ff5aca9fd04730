"""How do two wears differ? Side by side by the hour, with what the comparison says and what else was lived."""

from __future__ import annotations

import ipywidgets as w
import pandas as pd

from glucolab.relating.observations.meal_curves import profile_day
from glucolab.results import StudyAnalysis
from glucolab.showing.charts.overlaid import chart_profiles
from glucolab.showing.display import display_of
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.session_memory import open_sitting
from glucolab.showing.words.common import say_title
from glucolab.showing.words.findings.habits import say_habits
from glucolab.showing.words.pages.study import DESCRIBED, say_changed, say_comparison


def explore_periods(analysis: StudyAnalysis) -> w.Widget:
    """Two wears side by side.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    ipywidgets.Widget
        In words alone where the tool only describes, or there are not two wears to compare.
    """
    if analysis.study.person.describe_only:
        return controls.Sentence(text=DESCRIBED)
    if not len(list_pairs(analysis)):
        return controls.Sentence(text="One wear alone cannot be compared: the next one will be set against it.")
    return PeriodExplorer(analysis)


def list_pairs(analysis: StudyAnalysis) -> pd.DataFrame:
    """Rows of comparisons.csv of two wears."""
    table = analysis.tables["comparisons"]
    return table[table["level"] == "wear"]


class PeriodExplorer(controls.Explorer):
    """The widget behind :func:`explore_periods`."""

    def __init__(self, analysis: StudyAnalysis):
        self._analysis, self._display = analysis, display_of(analysis.study)
        self._wears = {one.wear.name: one for one in analysis.wears}
        self._pairs = list_pairs(analysis).reset_index(drop=True)
        options = [
            (f"{say_title(later)} against {say_title(earlier)}", i)
            for i, (earlier, later) in enumerate(zip(self._pairs["period_a"], self._pairs["period_b"], strict=True))
        ]
        self.pair = controls.choose_one("wears", options, len(options) - 1)
        self.sentence, self.picture = controls.Sentence(), w.HTML()
        controls.remember(open_sitting(analysis.study.name), "periods", {"pair": self.pair}, self._draw)
        self._draw()
        super().__init__([self.pair, self.sentence, self.picture])

    def _draw(self) -> None:
        row = self._pairs.iloc[self.pair.value]
        names = str(row["period_a"]), str(row["period_b"])
        habits = self._analysis.tables["habit_changes"]
        habits = habits[(habits["wear_a"] == names[0]) & (habits["wear_b"] == names[1])]
        said = [say_comparison(row, self._display)]
        if row["relation"] != "overlapping":
            said += [say_changed(row), *([say_habits(habits)] if len(habits) else [])]
        profiles = [profile_day(self._wears[n].trace, self._wears[n].wear.zones).assign(wear=n) for n in names]
        self.sentence.text = " ".join(said)
        self.picture.value = controls.draw(chart_profiles(pd.concat(profiles), names, self._display))

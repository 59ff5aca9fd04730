"""Does what pages advise agree with the table it stands on, and with contract 3, on real people's recordings?

The recordings are those of `test_open_recordings`. Advice is read as a reader would, from its sentences; the chances
behind "an average of N would" are worked out anew with scipy.
"""

from __future__ import annotations

import re

import pandas as pd
import pytest
from scipy import stats

from glucolab.relating.planning.precision import WORTH_A_CHECK
from glucolab.showing.display import Display
from glucolab.showing.words.pages.plan import EVEN, say_checks, say_next_goal, say_steps
from tests.analysis.test_open_recordings import FOOD_LOG, TWO_SENSORS, analysed

PEOPLE = [*(("food_log", person) for person in FOOD_LOG), *(("two_sensors", person) for person in TWO_SENSORS)]
ROUNDED_MG_DL = 0.5
"""Pages print whole mg/dL."""


@pytest.fixture(params=PEOPLE, ids=lambda one: one[1])
def whole(request, open_data):
    folder, person = request.param
    return analysed(open_data(folder) / person)


def numbers(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", text)]


def test_advice_on_finger_sticks_is_what_its_table_says(whole):
    checks, display = whole.tables["next_checks"], Display(whole.study.unit)
    row, none = checks[checks["advised"]].iloc[0], checks.iloc[0]
    many, with_them, without, change = numbers(say_checks(checks, display).replace("four times", ""))
    assert many == row["checks"]
    for said, known in ((with_them, row), (without, none)):
        assert said == pytest.approx(known["mean_half_mg_dl"], abs=ROUNDED_MG_DL)
    assert change == pytest.approx(row["smallest_change_mg_dl"], abs=ROUNDED_MG_DL)
    said_on_page = say_steps(whole.tables, 100.0, whole.study.goal, whole.study.person, display)[0]
    assert numbers(said_on_page)[:2] == [many, with_them]


def test_no_advice_leaves_a_finger_stick_that_would_still_tell_much(whole):
    """Nobody who has none is told that they add little, and beyond the advice two more never bring a twentieth."""
    checks = whole.tables["next_checks"]
    halves = checks.set_index("checks")[["mean_half_mg_dl", "change_half_mg_dl"]]
    advised = int(checks.loc[checks["advised"], "checks"].iloc[0])
    beyond = halves[halves.index >= advised]
    for (a, before), (b, after) in zip(beyond.iloc[:-1].iterrows(), beyond.iloc[1:].iterrows(), strict=True):
        assert ((after / before) ** (2 / (b - a)) >= WORTH_A_CHECK).all()
    if halves["mean_half_mg_dl"].iloc[0] > 2 * halves["mean_half_mg_dl"].iloc[-1]:
        assert advised > 0


def test_what_would_settle_the_goal_would(whole):
    checks, goal = whole.tables["next_checks"], whole.study.goal
    said = say_next_goal(checks, goal, Display(whole.study.unit))
    row = checks[checks["advised"]].iloc[0]
    assert ("will not settle it" in said) == (checks["chance_goal_told"].iloc[-1] < EVEN)
    if "will not settle it" not in said:
        return
    below, above = numbers(said.rpartition("; ")[2])
    for level in (below - ROUNDED_MG_DL, above + ROUNDED_MG_DL):
        spread = row["mean_half_mg_dl"] / stats.norm.ppf(0.95)
        leaves = [stats.norm.cdf(way * (goal.mean_mg_dl - level) / spread) for way in (-1, 1)]
        assert max(leaves) >= 0.95


def find_clear(effects: pd.DataFrame) -> pd.Series:
    """Which rows contract 3 never lets be called too small."""
    return (effects["range_low"].gt(0) | effects["range_high"].lt(0)) & effects["q_value"].le(0.1)


def test_some_of_these_people_have_what_is_off_zero(open_data):
    """Or the next test would judge nobody."""
    effects = [analysed(open_data(folder) / person).tables["effects"] for folder, person in PEOPLE]
    assert sum(int(find_clear(table).sum()) for table in effects) >= 5


def test_nothing_off_zero_is_called_too_small(whole):
    effects = whole.tables["effects"]
    clear = find_clear(effects)
    assert not effects.loc[clear, "verdict"].eq("too_small_to_matter").any()
    assert effects.loc[clear & effects["verdict"].ne("not_enough_data"), "verdict"].isin(["lower", "higher"]).all()

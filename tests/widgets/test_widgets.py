"""What do widgets say and draw when they are turned? Without a browser: set a value, read what follows."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

from glucolab.on_request import predict_meal
from glucolab.showing import widgets
from glucolab.showing.display import Display
from glucolab.showing.widgets.day_grid import find_scale
from glucolab.showing.widgets.dishes import find_pair, list_dishes
from glucolab.showing.widgets.meal import usual_carbs_g
from glucolab.showing.words.notebooks.explorer import say_tried

FIGURES = ["date", "coverage", "enough", "mean_mg_dl", "sd_mg_dl", "cv_percent", "overnight_mean_mg_dl"]
NUMBER = re.compile(r"\d+ mg/dL")


def with_study(analysis, **changes):
    return replace(analysis, study=replace(analysis.study, **changes))


@pytest.fixture
def explorer(sample):
    return widgets.explore_covariates(sample)


def test_the_grid_is_there_before_one_link_and_a_cell_opens_its_days(explorer):
    cells = explorer.grid.cells
    assert explorer.links.markup.count("<button") == len(cells[cells["range_estimate"].notna()])
    assert explorer.links.chosen == "mean_mg_dl:asleep_h"
    before = explorer.chart.spec
    explorer.links.chosen = "overnight_mean_mg_dl:stress"  # as a click does
    chosen = {name: control.value for name, control in explorer.controls.items()}
    assert (chosen["covariate"], chosen["outcome"], chosen["next_day"]) == ("stress", "overnight_mean_mg_dl", True)
    assert explorer.sentence.text.startswith("On your tensest days (stress ")
    assert "the average of the night that followed was" in explorer.sentence.text
    assert explorer.chart.spec != before


def test_a_cell_says_in_words_what_its_bar_shows(explorer):
    """The figure of effects.csv, written out; the picture's bar ends where its interval does."""
    cells = explorer.grid.cells
    cell = cells[(cells["covariate"] == "stress") & (cells["outcome"] == "mean_mg_dl")].iloc[0]
    button = re.search(r'<button[^>]*data-cell="mean_mg_dl:stress".*?</button>', explorer.links.markup)[0]
    word = "lower" if cell["range_estimate"] < 0 else "higher"
    size = Display().size(abs(cell["range_estimate"]), (cell["range_high"] - cell["range_low"]) / 2)
    assert f"stress, the day&#39;s average: {size}\N{NO-BREAK SPACE}mg/dL {word}" in button
    start, width = map(float, re.search(r'class="bar[^"]*" style="left:([\d.]+)%;width:([\d.]+)%', button).groups())
    scale = find_scale(cells, "mean_mg_dl")
    assert start == pytest.approx(50 + 50 * cell["range_low"] / scale, abs=0.1)
    assert start + width == pytest.approx(50 + 50 * cell["range_high"] / scale, abs=0.1)
    assert "dot asked" in button


def test_every_cell_that_effects_csv_asks_has_its_verdict_and_says_so(sample, explorer):
    effects = sample.tables["effects"]
    for _, row in effects[effects["outcome"].isin(["mean_mg_dl", "sd_mg_dl"])].iterrows():
        key = f"{row['outcome']}:{row['factor'].removeprefix('covariate:')}"
        if f'data-cell="{key}"' not in explorer.links.markup:
            continue
        explorer.links.chosen = key
        assert "The table of effects asks the same" in explorer.sentence.text
        word = {"lower": "Clear.", "higher": "Clear.", "too_small_to_matter": "Too small"}.get(
            row["verdict"], "Not clear"
        )
        assert word in explorer.sentence.text
    explorer.links.chosen = "mean_mg_dl:carbs_g"
    assert f"judged among the {explorer.grid.asked} links of this grid" in explorer.sentence.text


def test_the_sentence_follows_what_is_chosen(explorer, sample):
    assert re.match(r"After your longest nights \(\d\.\d\N{NO-BREAK SPACE}h asleep\), the day", explorer.sentence.text)
    assert re.search(rf"\d+ days of {len(sample.wears)} wears", explorer.sentence.text)
    explorer.controls["covariate"].value = "stress"
    assert explorer.sentence.text.startswith("On your tensest days (stress ")
    assert explorer.links.chosen == "mean_mg_dl:stress"
    explorer.controls["outcome"].value = "overnight_mean_mg_dl"
    assert "the average of the night that followed was" in explorer.sentence.text
    assert explorer.links.chosen == "overnight_mean_mg_dl:stress"
    explorer.controls["outcome"].value = "sd_mg_dl"
    assert explorer.controls["next_day"].value is False


def test_what_is_asked_otherwise_is_counted_with_the_grid_and_opens_no_cell(explorer):
    asked = explorer.grid.asked
    explorer.controls["next_day"].value = True
    assert explorer.links.chosen == ""
    assert f"with the {asked} of the grid you have looked at {asked + 1} links" in explorer.sentence.text
    assert "the next day's average was" in explorer.sentence.text
    explorer.controls["outcome"].value = "cv_percent"
    assert f"you have looked at {asked + 2} links" in explorer.sentence.text
    assert "percentage points" in explorer.sentence.text


def test_a_claim_of_one_alone_is_none_among_all_that_were_looked_at():
    grid = SimpleNamespace(asked=33)
    assert "Alone this one would be clear, among so many it may be chance" in say_tried(
        "lower", "cannot_tell_yet", grid, 1
    )
    assert say_tried("lower", "lower", grid, 2).endswith("you have looked at 35 links. It is clear among all of them.")
    assert say_tried("cannot_tell_yet", "cannot_tell_yet", grid, 2).endswith("looked at 35 links.")


def test_looking_again_in_the_same_way_counts_once_and_its_figures_are_the_same(explorer):
    explorer.controls["next_day"].value = True
    first, said = explorer.relation.estimate, explorer.sentence.text
    explorer.controls["next_day"].value = False
    explorer.controls["next_day"].value = True
    assert explorer.relation.estimate == first
    assert explorer.sentence.text == said


def test_a_cell_asks_again_as_the_grid_does(explorer, sample):
    explorer.controls["wears"].value = tuple(one.wear.name for one in sample.wears[:3])
    explorer.controls["adjust"].value = ()
    assert "Asked in your own way" in explorer.sentence.text
    explorer.links.chosen = "mean_mg_dl:stress"
    assert len(explorer.controls["wears"].value) == len(sample.wears)
    assert explorer.relation is explorer.grid.relations["stress", "mean_mg_dl"]


def test_the_values_of_a_day_stand_over_its_dot(explorer, sample):
    explorer.links.chosen = "mean_mg_dl:stress"
    spec = explorer.chart.spec
    dots = next(layer for layer in spec["layer"] if layer["mark"]["type"] == "point")
    titles = [one["title"] for one in dots["encoding"]["tooltip"]]
    assert titles == ["day", "wear", "stress [points of 10]", "the day's average [mg/dL], the same day"]
    first = spec["datasets"][dots["data"]["name"]][0]
    daily = sample.wears[0].tables["daily"]
    recorded = daily[daily["date"] == first["day"]].iloc[0]
    assert first["written"] == f"{recorded['stress']:g}"
    assert float(first["recorded"].split()[0]) == pytest.approx(recorded["mean_mg_dl"], abs=1.5)  # gains are shared


def test_fewer_wears_and_better_recorded_days_leave_fewer_points(explorer):
    explorer.controls["wears"].value = ("2026-10_autumn",)
    assert explorer.relation.points["wear"].unique().tolist() == ["2026-10_autumn"]
    assert "of 1 wear" in explorer.sentence.text
    before = len(explorer.relation.points)
    explorer.controls["least_coverage"].value = 0.95
    assert len(explorer.relation.points) < before


def test_no_wear_chosen_says_what_is_wanting(explorer):
    explorer.controls["wears"].value = ()
    assert explorer.sentence.text.startswith("Too little to draw a line through: 0 days of 0 wears.")


def test_from_the_start_it_adjusts_as_the_table_of_effects_does_and_says_what_it_was_without(explorer):
    asked = explorer.controls["adjust"].value
    assert set(asked) == {"asleep_h", "stress", "carbs_g", "exercise_min"}
    said = explorer.sentence.text
    assert re.search(r", adjusted for stress, carbohydrate and exercise; \d+\N{NO-BREAK SPACE}mg/dL \w+ without", said)
    explorer.controls["adjust"].value = ()
    assert "adjusted" not in explorer.sentence.text


def test_adjusted_for_is_said(explorer):
    explorer.controls["adjust"].value = ("stress", "caffeine_mg")
    assert "adjusted for stress and caffeine" in explorer.sentence.text


def test_days_chosen_in_the_list_are_drawn_and_ringed(explorer):
    explorer.days.value = explorer.days.options[:2]
    assert explorer.traces.value.count("<svg") == 1
    explorer.days.value = (explorer.days.options[0], explorer.days.options[-1])
    assert explorer.traces.value.count("<svg") == 2  # of two wears, a picture each
    chosen = [param.get("value") for param in explorer.chart.spec["params"] if param["name"] == "picked"]
    assert chosen == [[{"day": day} for day in explorer.days.value]]


def test_days_chosen_in_the_picture_choose_them_in_the_list(explorer):
    wanted = explorer.days.options[:1]
    # as the picture sends it: the signal of a point selection by a field
    explorer.chart._vl_selections = {"picked": {"value": {"vlPoint": {"or": [{"day": wanted[0]}]}}, "store": []}}
    assert explorer.days.value == wanted
    assert explorer.traces.value.count("<svg") == 1


def test_more_days_than_are_drawn_are_counted(explorer):
    explorer.days.value = explorer.days.options[:7]
    assert "2 more days are chosen, and not drawn." in explorer.traces.value


def test_what_was_chosen_survives_a_new_run_of_the_cell(sample):
    first = widgets.explore_covariates(sample)
    first.controls["covariate"].value = "stress"
    first.controls["wears"].value = ("2026-10_autumn",)
    first.days.value = first.days.options[:1]
    second = widgets.explore_covariates(sample)
    assert second.controls["covariate"].value == "stress"
    assert second.controls["wears"].value == ("2026-10_autumn",)
    assert second.days.value == first.days.value
    assert second.sentence.text == first.sentence.text


def test_a_choice_that_the_study_no_longer_has_is_forgotten(sample):
    first = widgets.explore_covariates(sample)
    first.controls["wears"].value = ("2026-06_summer", "2026-10_autumn")
    fewer = replace(sample, wears=sample.wears[:1])
    again = widgets.explore_covariates(fewer)
    assert again.controls["wears"].value == ("2026-02_winter",)


def test_no_figure_where_numbers_are_hidden(sample):
    hidden = with_study(sample, numbers=False)
    explorer, day = widgets.explore_covariates(hidden), widgets.explore_day(hidden)
    dishes, periods, plan = (
        make(hidden) for make in (widgets.explore_dishes, widgets.explore_periods, widgets.explore_plan)
    )
    for text in (explorer.sentence.text, day.sentence.text, dishes.sentence.text, periods.sentence.text,
                 plan.sentence.text):  # fmt: skip
        assert text
        assert not NUMBER.search(text)
    assert not NUMBER.search(explorer.links.markup)
    explorer.links.chosen = "sd_mg_dl:stress"
    assert not NUMBER.search(explorer.sentence.text)
    axis = explorer.chart.spec["layer"][2]["encoding"]["y"]["axis"]
    assert axis["labels"] is False
    assert not hasattr(plan, "goal") or plan.goal not in plan.children


def test_mmol_is_shown_where_it_is_asked_for(sample):
    other = with_study(sample, unit="mmol/L")
    explorer = widgets.explore_covariates(other)
    assert "mmol/L" in explorer.sentence.text
    assert "mmol/L lower" in explorer.links.markup
    assert "mg/dL" not in explorer.links.markup
    assert "mmol/L" in widgets.explore_day(other).sentence.text
    plan = widgets.explore_plan(other)
    assert plan.goal.max < 8
    assert "mmol/L" in plan.sentence.text


@pytest.mark.parametrize(
    "make", ["explore_covariates", "explore_dishes", "explore_meal", "explore_periods", "explore_plan"]
)
def test_whoever_is_only_described_gets_words(sample, make):
    young = with_study(sample, person=replace(sample.study.person, under_18=True))
    shown = getattr(widgets, make)(young)
    assert "to be described, not advised" in shown.text
    assert not hasattr(shown, "children")


def test_a_day_is_read_with_its_events_and_steps_to_the_next(sample):
    reader = widgets.explore_day(sample)
    assert "2026-11 late autumn" in reader.sentence.text
    reader.wear.value = "2026-10_autumn"
    reader.day.value = sample.wears[2].days.dates.get_loc("2026-10-18")
    assert reader.sentence.text.startswith("Sun 18 Oct 2026, 2026-10 autumn")
    assert "buckwheat porridge" in reader.shown.value
    reader.after.click()
    assert reader.sentence.text.startswith("Mon 19 Oct 2026")
    reader.wear.value = "2026-02_winter"
    assert "2026-02 winter" in reader.sentence.text
    assert len(reader.day.options) == len(sample.wears[0].days.dates)
    for _ in range(30):
        reader.after.click()
    assert reader.day.value == len(reader.day.options) - 1


def test_day_figures_are_those_of_the_table(sample):
    reader = widgets.explore_day(sample)
    daily = sample.wears[-1].tables["daily"].iloc[reader.day.value]
    assert f"average {round(daily['mean_mg_dl'])}\N{NO-BREAK SPACE}mg/dL" in reader.sentence.text


def test_two_dishes_say_their_pooled_difference_both_ways(sample):
    explorer = widgets.explore_dishes(sample)
    pair = find_pair(sample.tables["dish_pairs"], (explorer.first.value, explorer.second.value))
    assert pair is not None
    first, second = explorer.first.value, explorer.second.value
    said = explorer.sentence.text
    explorer.first.value, explorer.second.value = second, first
    signs = [re.search(r"([+−])(\d+)", text).groups() for text in (said, explorer.sentence.text)]
    assert signs[0][1] == signs[1][1]
    assert signs[0][0] != signs[1][0]


def test_the_same_dish_twice_is_not_compared(sample):
    explorer = widgets.explore_dishes(sample)
    explorer.second.value = explorer.first.value
    assert explorer.sentence.text == "Choose two different dishes."
    assert explorer.picture.value == ""


def test_a_meal_is_predicted_by_what_its_dish_held_and_by_more_carbohydrate(sample):
    explorer = widgets.explore_meal(sample)
    first, picture = explorer.sentence.text, explorer.picture.value
    found = predict_meal(sample, hour=12.5, carbs_g=45.0)
    assert f"Expected rise +{round(found.rise['estimate'])}" in first
    assert "nothing else being digested" in first
    explorer.carbs.value = 120
    assert explorer.sentence.text != first
    assert explorer.picture.value != picture
    dish = explorer.dish.options[1][1]
    explorer.dish.value = dish
    assert "of them this dish" in explorer.sentence.text
    assert explorer.carbs.value == pytest.approx(usual_carbs_g(sample, dish), abs=2.5)
    without = explorer.sentence.text
    assert "dashed" not in without.lower()
    explorer.beside.value = "protein first and a walk after"
    alone = predict_meal(sample, hour=12.5, dish=dish, carbs_g=explorer.carbs.value).rise
    assert explorer.sentence.text != without
    assert f"With nothing else (dashed) +{round(alone['estimate'])}" in explorer.sentence.text
    assert "Dashed: the same meal" in explorer.picture.value


def test_a_meal_without_figures_is_said_in_words(sample):
    explorer = widgets.explore_meal(with_study(sample, numbers=False))
    assert "mg/dL" not in explorer.sentence.text
    assert "at any moment nine in ten such meals lie within the band" in explorer.sentence.text


def test_where_no_meal_can_be_learnt_from_that_is_said(sample):
    bare = [
        replace(one, related=replace(one.related, meal_responses=one.related.meal_responses.iloc[:0]))
        for one in sample.wears
    ]
    shown = widgets.explore_meal(replace(sample, wears=tuple(bare)))
    assert shown.text.startswith("No meal of the log was followed by three hours of known glucose")


def test_dishes_are_counted_as_usable(sample):
    counts = list_dishes(sample)
    meals = [one.tables["meal_responses"] for one in sample.wears]
    porridge = sum(int((m["usable_2h"].eq(True) & m["dish"].eq("buckwheat porridge")).sum()) for m in meals)
    assert counts["buckwheat porridge"] == porridge


def test_periods_say_what_the_comparison_says(sample):
    explorer = widgets.explore_periods(sample)
    assert explorer.sentence.text.startswith("2026-11 late autumn compared with 2026-10 autumn")
    assert explorer.picture.value.count("<svg") == 1
    explorer.pair.value = 0
    row = sample.tables["comparisons"].iloc[0]
    assert f"{abs(round(row['difference_mg_dl']))}\N{NO-BREAK SPACE}mg/dL" in explorer.sentence.text


def test_more_finger_sticks_bring_a_narrower_average(sample):
    explorer = widgets.explore_plan(sample)
    widths = []
    for checks in (0, 6, 20):
        explorer.checks.value = checks
        widths.append(float(re.search(r"to within (\d+)", explorer.sentence.text)[1]))
    assert widths[0] > widths[1] >= widths[2]
    before = explorer.sentence.text
    explorer.goal.value = 120
    assert explorer.sentence.text != before  # a goal far away is settled


def test_one_wear_alone_is_not_compared(sample):
    single = replace(
        sample, wears=sample.wears[:1], tables={**sample.tables, "comparisons": sample.tables["comparisons"][:0]}
    )
    assert "cannot be compared" in widgets.explore_periods(single).text


def test_nothing_written_down_leaves_words(sample):
    bare = [
        replace(one, related=replace(one.related, day_covariates=(), daily=one.related.daily[FIGURES]))
        for one in sample.wears
    ]
    assert "Nothing was written down" in widgets.explore_covariates(replace(sample, wears=tuple(bare))).text

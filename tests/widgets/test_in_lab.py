"""Do the notebooks run in a real JupyterLab without a network, and do their widgets answer mouse and keyboard?"""

from __future__ import annotations

import shutil

import pandas as pd
import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.widgets.lab import OPENS_WITHIN_MS, TOKEN, open_notebook

NOTEBOOKS = ("start_here", "write_down", "bring_your_data", "wear_period", "own_questions")
"""Those that no other test here runs; `deep_dive` and `plan` are held to the same."""

ANSWERS_WITHIN_MS = 15_000


@pytest.fixture(scope="module")
def deep_dive(browser, lab):
    yield from run_in_silence(browser, lab, "deep_dive")


@pytest.fixture(scope="module")
def plan(browser, lab):
    yield from run_in_silence(browser, lab, "plan_next_wear")


def run_in_silence(browser, lab, name: str):
    """A notebook run whole, without an error, a request to anywhere else or a message to the browser's console."""
    with open_notebook(browser, lab, name) as sheet:
        sheet.run_all()
        assert sheet.page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.error']").count() == 0
        assert sheet.page.get_by_text("This is not a diagnosis").count() == 1
        yield sheet
        assert sheet.outside == []
        assert sheet.messages == []


def widget(sheet, call: str):
    """The output of the cell that holds a call."""
    return sheet.page.locator(".jp-CodeCell", has=sheet.page.get_by_text(f"widgets.{call}(analysis)")).last


def said(part) -> str:
    return part.get_by_role("status").inner_text()


def changes(sheet, part, before: str) -> str:
    """The sentence once it is no longer `before`."""
    until = sheet.page.evaluate("Date.now()") + ANSWERS_WITHIN_MS
    while said(part) == before and sheet.page.evaluate("Date.now()") < until:
        sheet.page.wait_for_timeout(50)
    assert said(part) != before
    return said(part)


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_a_notebook_runs_whole_in_silence(browser, lab, name):
    assert list(run_in_silence(browser, lab, name))


def test_the_lab_opens_at_the_folder_of_studies_notebooks_and_reports_and_asks_nothing(browser, lab):
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.goto(f"{lab.address}/?token={TOKEN}", timeout=OPENS_WITHIN_MS)
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=OPENS_WITHIN_MS)
    page.get_by_text("| Idle").wait_for(timeout=OPENS_WITHIN_MS)
    assert page.locator(".jp-DirListing-itemName").all_inner_texts() == ["notebooks", "reports", "sample_data"]
    assert page.locator(".jp-Notebook h1").first.inner_text().startswith("Start here")
    page.wait_for_timeout(3000)  # a question about news would come by now
    assert page.locator(".Toastify__toast, .jp-Dialog").count() == 0
    page.close()


def test_code_that_is_plumbing_is_folded_and_one_click_away(browser, lab):
    with open_notebook(browser, lab, "deep_dive") as sheet:
        cell = sheet.page.locator(".jp-CodeCell", has=sheet.page.get_by_text("widgets.explore_dishes")).last
        assert not cell.locator(".cm-content").is_visible()
        cell.locator(".jp-Placeholder-content").click()
        assert cell.locator(".cm-content").is_visible()
        names = sheet.page.locator(".jp-CodeCell", has=sheet.page.get_by_text("the study folder")).first
        assert names.locator(".cm-content").is_visible()


def test_the_explorer_answers_mouse_and_keyboard(deep_dive):
    part = widget(deep_dive, "explore_covariates")
    first = said(part)
    assert first.startswith("After your longest nights")
    part.locator("button[data-cell='mean_mg_dl:stress']").click()
    second = changes(deep_dive, part, first)
    assert "On your tensest days" in second
    part.locator("button[data-cell='mean_mg_dl:stress']").focus()
    deep_dive.page.keyboard.press("ArrowRight")
    deep_dive.page.keyboard.press("Enter")
    third = changes(deep_dive, part, second)
    assert "On your tensest days" in third
    assert "ups and downs in a day" in third
    pressed = part.locator("button[aria-pressed=true]")
    assert pressed.get_attribute("data-cell") == "sd_mg_dl:stress"
    part.get_by_role("button", name="ask it otherwise").click()
    part.get_by_label("goes with").select_option("caffeine [mg]")
    fourth = changes(deep_dive, part, third)
    assert "the most caffeine" in fourth
    covariate = part.get_by_label("when")
    covariate.focus()
    deep_dive.page.keyboard.press("ArrowDown")
    assert "Asked in your own way" in changes(deep_dive, part, fourth)


def test_a_click_on_a_dot_draws_its_day(deep_dive):
    part = widget(deep_dive, "explore_covariates")
    days = part.get_by_label("days to see")
    deep_dive.page.get_by_text("| Idle").wait_for()
    deep_dive.page.wait_for_timeout(1500)  # what was chosen before is drawn after its sentence
    before = days.evaluate("list => [...list.selectedOptions].map(o => o.text)")
    dots = part.locator(".chart-wrapper svg path, .vega-embed canvas, .vega-embed svg").first
    dots.wait_for(timeout=ANSWERS_WITHIN_MS)
    dot = part.locator(".vega-embed .mark-symbol path").first
    dot.click()
    deep_dive.page.wait_for_function(
        "([list, before]) => [...list.selectedOptions].map(o => o.text).join() !== before.join()",
        arg=[days.element_handle(), before],
        timeout=ANSWERS_WITHIN_MS,
    )
    chosen = days.evaluate("list => [...list.selectedOptions].map(o => o.text)")
    assert len(chosen) == 1
    part.locator("figure svg").get_by_text(chosen[0]).wait_for(timeout=ANSWERS_WITHIN_MS)


def test_a_choice_survives_running_the_cells_again(deep_dive):
    part = widget(deep_dive, "explore_covariates")
    before = said(part)
    part.locator("button[data-cell='mean_mg_dl:relaxation_min']").click()
    changes(deep_dive, part, before)
    deep_dive.run_all()
    part = widget(deep_dive, "explore_covariates")
    assert part.locator("button[aria-pressed=true]").get_attribute("data-cell") == "mean_mg_dl:relaxation_min"
    assert "the most relaxation" in said(part)


def test_two_dishes_a_day_and_two_wears(deep_dive):
    dishes = widget(deep_dive, "explore_dishes")
    before = said(dishes)
    against = dishes.get_by_label("against")
    against.select_option(index=3)
    assert against.input_value().split(" (")[0] in changes(deep_dive, dishes, before)
    meal = widget(deep_dive, "explore_meal")
    before = said(meal)
    meal.get_by_label("with").select_option(index=3)
    assert "Expected rise" in changes(deep_dive, meal, before)
    day = widget(deep_dive, "explore_day")
    before = said(day)
    assert "2026-11 late autumn" in before
    day.get_by_role("button", name="the day after").press("Enter")
    following = pd.to_datetime(before.split(",")[0], format="%a %d %b %Y") + pd.Timedelta(days=1)
    assert changes(deep_dive, day, before).startswith(f"{following:%a %-d %b %Y}")
    periods = widget(deep_dive, "explore_periods")
    before = said(periods)
    periods.get_by_label("wears").select_option(index=0)
    assert changes(deep_dive, periods, before).startswith("2026-06 summer compared with 2026-02 winter")


def test_the_plan_moves_by_keyboard(plan):
    part = widget(plan, "explore_plan")
    before = said(part)
    assert before.startswith("With 6 finger-sticks")
    part.get_by_role("slider").first.focus()
    plan.page.keyboard.press("ArrowRight")
    assert changes(plan, part, before).startswith("With 8 finger-sticks")


def test_widgets_break_no_rule_of_access(deep_dive):
    """Rules of axe-core on the outputs alone: the rest of the page is the lab's own."""
    found = Axe().run(deep_dive.page, context={"include": [[".jp-OutputArea-output"]]}).response
    assert len(found["passes"]) > 10
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []


def test_a_file_is_asked_about_and_written_by_its_button(browser, lab):
    """On a copy of the study, for the other notebooks read it too."""
    shutil.copytree(lab.folder / "sample_data", lab.folder / "own")
    notebook = lab.folder / "notebooks" / "bring_your_data.ipynb"
    mine = notebook.with_name("bring_own.ipynb")
    mine.write_text(
        notebook.read_text("utf-8").replace("../sample_data", "../own").replace("afternoon_notes", "nights")
    )
    (mine.parent / "example_files" / "nights.csv").write_text("date,bedtime,wake up\n18/10/2026,23:50,06:40\n", "utf-8")
    with open_notebook(browser, lab, "bring_own") as sheet:
        sheet.run_all()
        part = sheet.page.locator(".jp-CodeCell", has=sheet.page.get_by_text("widgets.explore_bringing(")).last
        before = said(part)
        assert "can be read in more than one way" in before
        button = part.get_by_role("button", name="write")
        assert button.is_disabled()
        part.get_by_role("radio").first.check()
        shown = changes(sheet, part, before)
        assert "1 new row into wear_periods/2026-10_autumn/sleep.csv" in shown
        button = part.get_by_role("button", name="write 1 new row")
        button.focus()
        sheet.page.keyboard.press("Enter")
        assert changes(sheet, part, shown).startswith("Written into wear_periods/2026-10_autumn/sleep.csv")
        assert sheet.outside == []
        assert sheet.messages == []
    assert "06:40" in (lab.folder / "own/wear_periods/2026-10_autumn/sleep.csv").read_text("utf-8")

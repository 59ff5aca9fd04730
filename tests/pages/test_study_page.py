"""Does the study's page answer on its first screen, stay short, grow by a line a wear, and say nothing twice?"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.running.notebook_inputs import open_report
from glucolab.showing import labs_page, plan_page, study_page, trials_page
from glucolab.showing.display import Display
from glucolab.showing.markup import write_style
from glucolab.showing.words.findings.effects import choose_findings, say_finding

SIZES = [(1280, 800), (390, 844)]
"""Of a desk and of a phone. [px]"""
MOST_WORDS, MOST_SCREENS = 1000, {1280: 4.4, 390: 7.2}
"""Unfolded, words in pictures among them; the project's own limits, with the cautions and the longest sentences."""
MOST_PX_A_WEAR = {1280: 30, 390: 70}
"""A wear's line in the picture and its name among the links; on a phone its words stand above its bar."""

WORDS = """() => document.querySelector('main').innerText.split(/\\s+/).filter(w => /[\\p{L}\\d]/u.test(w)).length"""
BOTTOM = "one => one.getBoundingClientRect().bottom + window.scrollY"


@pytest.fixture(scope="module")
def known(report):
    """The report's tables and its study."""
    return open_report(report.parent / "study", report)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_average_change_cause_and_next_step_stand_on_the_first_screen(visit, width, height):
    page = visit("study", width).page
    page.set_viewport_size({"width": width, "height": height})
    for answer in ("h1", ".change", ".beside ul li", "aside li"):
        assert page.locator(answer).first.evaluate(BOTTOM) <= height, answer
    if width == 1280:
        assert page.locator(".overview .drawn figure").evaluate(BOTTOM) <= height + 20


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_unfolded_it_is_short(visit, width, height):
    page = visit("study", width).page
    page.set_viewport_size({"width": width, "height": height})
    assert 400 < page.evaluate(WORDS) <= MOST_WORDS
    assert page.evaluate("document.documentElement.scrollHeight") / height <= MOST_SCREENS[width]


@pytest.mark.parametrize("width", [1280, 390])
def test_ten_wears_take_a_line_each(browser, known, width):
    report, study = known

    def height(n: int) -> float:
        one = report.tables["periods"].query("level == 'wear'").iloc[[0]]
        starts = pd.date_range("2024-01-08", periods=n, freq="45D")
        wears = pd.concat([one] * n, ignore_index=True)
        wears = wears.assign(
            name=[f"2024-{i:02d}_wear" for i in range(n)], start=starts, end=starts + pd.Timedelta("13D")
        )
        shown = study_page.show_overview(report.tables | {"periods": wears}, report.summary, study)
        page = browser.new_context(viewport={"width": width, "height": 800}).new_page()
        page.set_content(f"<style>{write_style()}</style><main style='margin:0;padding:0 20px'>{shown.html}</main>")
        return page.locator(".overview").evaluate("one => one.getBoundingClientRect().height")

    assert 0 < (height(10) - height(3)) / 7 <= MOST_PX_A_WEAR[width]


def test_nothing_is_said_twice(visit):
    page = visit("study").page
    page.evaluate("document.querySelectorAll('details:not(.code)').forEach(d => d.open = true)")
    said = page.eval_on_selector_all("main p, main li", "all => all.map(one => one.innerText.trim())")
    long = [text for text in said if len(text) > 40]
    assert len(long) > 30
    assert sorted(text for text in set(long) if long.count(text) > 1) == []


def test_folds_are_closed_and_open_from_the_keyboard(visit):
    page = visit("study").page
    folds = page.locator("details.fold")
    assert folds.count() == 8
    assert page.locator("main details[open]").count() == 0
    folds.nth(1).locator("summary").first.focus()
    page.keyboard.press("Enter")
    assert folds.nth(1).locator("table").count() == 1


def test_what_it_says_is_what_the_tables_hold(visit, known):
    report, study = known
    page = visit("study").page
    last = report.tables["periods"].query("level == 'wear'").sort_values("end").iloc[-1]
    half = (last["mean_high_mg_dl"] - last["mean_low_mg_dl"]) / 2
    said = page.locator("h1").inner_text().replace("\u00a0", " ")
    assert f"{last['mean_mg_dl']:.0f} mg/dL, give or take {half:.0f}" in said
    trial = report.tables["trial_results"].query("outcome == 'rise_mg_dl'").iloc[0]
    effects = report.tables["effects"]
    held = choose_findings(effects[effects["factor"] != "walk_after"], study.person)
    changes = report.tables["levers"].set_index("factor")["on_mean_mg_dl"].abs().reindex(held["factor"]).fillna(0)
    found = held.iloc[np.argsort(-changes.to_numpy(float), kind="stable")].head(2)
    shown, *claims = page.locator(".beside ul li").all_inner_texts()
    assert f"glucose rose {-trial['difference']:.0f} mg/dL less" in shown.replace("\u00a0", " ")
    assert shown.endswith("Dates were random, so this is an effect, or chance.")
    assert len(claims) == len(found) > 0
    for (_, row), claim in zip(found.iterrows(), claims, strict=True):
        whole = say_finding(row, study.goal.worth_noticing_mg_dl, Display()).replace("\u00a0", " ")
        assert claim.replace("\u00a0", " ").split(" (")[0] == whole.split(" (")[0]
        assert claim.rstrip("0123456789+\N{MINUS SIGN}\n ").endswith(whole[-20:])
    levers = report.tables["levers"].dropna(subset=["on_mean_mg_dl"])
    drawn = page.locator(".overview .drawn figure .wide").inner_text().replace("\N{MINUS SIGN}", "-")
    for row in levers.itertuples():
        digits = 1 if (row.high_mg_dl - row.low_mg_dl) / 2 < 3 else 0
        middle = f"{row.on_mean_mg_dl:+.{digits}f}"
        assert f"{middle if float(middle) else middle[1:]} (" in drawn
    latest = report.tables["lab_changes"].sort_values("date_b").drop_duplicates("analyte", keep="last")
    more = latest[latest["verdict"].isin(["lower", "higher"])]
    for analyte, change in zip(more["analyte"], more["change_percent"], strict=True):
        text = page.locator("main").inner_text().replace("\N{MINUS SIGN}", "-")
        assert re.search(rf"{analyte}.* by more than the normal change: {change:+.0f} %", text)


def parts(report, study) -> str:
    tables = report.tables
    shown = [study_page.show_overview(tables, report.summary, study), trials_page.show_trials(tables, study),
             labs_page.show_labs(tables, study), plan_page.show_next_wear(tables, study)]  # fmt: skip
    shown += [show(tables, study) for show in (study_page.show_dishes, study_page.show_levers, study_page.show_effects)]
    return "".join(part.html for part in shown)


def test_without_numbers_no_figure_of_glucose_is_in_it(known):
    report, study = known
    html = parts(report, replace(study, numbers=False))
    assert not re.search(r"mg/dL|mmol/L|give or take", html)
    figures = report.tables["periods"][["mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl"]].round().to_numpy().ravel()
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", html)
    assert len(texts) > 20
    assert not {f"{figure:.0f}" for figure in figures} & {word for text in texts for word in re.split(r"[^\d.]+", text)}
    assert "very likely" in html


def test_whom_the_tool_only_describes_gets_no_goal_claim_or_step(known):
    report, study = known
    html = parts(report, replace(study, person=replace(study.person, pregnant=True)))
    assert "describes and does not advise" in html
    for words in ("goal:", "What stood out", "What to do next", "habit might", "compared with"):
        assert words not in html


def test_one_wear_waits_for_the_next(known):
    report, study = known
    tables = report.tables | {"comparisons": report.tables["comparisons"].iloc[:0]}
    assert "Nothing to compare yet" in study_page.show_overview(tables, report.summary, study).text

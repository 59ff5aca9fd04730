"""Do the pages open offline, whole, at a desk and on a phone, and run nothing that data brought in?"""

from __future__ import annotations

import json
import re

import pandas as pd
import pytest

from glucolab.running.cli import main
from tests.benchmarks.browsing import one_minute_study

RUNNING = "2026-11_late_autumn"
PAGES = ("2026-02_winter", "2026-06_summer", RUNNING, "study")
WEAR_SECTIONS = [
    "What was recorded", "What moved it", "The days", "The meals", "Worth asking next", "How good the record was",
    "How it was worked out", "Before you act on this",
]  # fmt: skip
STUDY_SECTIONS = [
    "Your dishes compared", "Your experiments", "Blood tests", "Plan your next wear", "Has anything changed?",
    "What your glucose was linked with", "What a habit might do", "Why days differ", "Can your notes predict a meal?",
    "Sensor and meter compared", "Energy after eating", "Problems in your files", "Before you act on this",
]  # fmt: skip
FIRST_SCREEN = ("What would tell most next time", "What stood out", "What to do next")
MOST_BYTES = 3_000_000


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_opens_offline_in_silence_and_in_its_width(visit, name, width):
    seen = visit(name, width)
    assert seen.requests == []
    assert seen.messages == []
    assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
    assert seen.page.evaluate("getComputedStyle(document.querySelector('.text p')).fontSize") == "16px"


@pytest.mark.parametrize("name", PAGES)
def test_every_section_is_there_with_content(visit, name):
    page = visit(name).page
    headings = page.eval_on_selector_all("main h2", "all => all.map(h => h.textContent)")
    assert [h for h in headings if h not in FIRST_SCREEN] == (STUDY_SECTIONS if name == "study" else WEAR_SECTIONS)
    empty = page.eval_on_selector_all(
        ".text:has(h2)",
        "all => all.filter(t => !t.nextElementSibling || !t.nextElementSibling.textContent.trim()).length",
    )
    assert empty == 0
    assert re.search(r"average (was|is so far) \d+", page.locator("h1").inner_text())


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("name", PAGES)
def test_every_picture_is_drawn_once_labelled_and_not_empty(visit, name, width):
    page = visit(name, width).page
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    figures = page.eval_on_selector_all(
        "figure",
        """all => all.map(f => ({label: f.getAttribute('aria-label'), shown: [...f.querySelectorAll('svg')]
           .filter(s => s.getBoundingClientRect().width > 0)
           .map(s => ({w: s.getBoundingClientRect().width, n: s.querySelectorAll('path,text,line').length}))}))""",
    )
    assert len(figures) >= (3 if name == "study" else 10)
    for figure in figures:
        assert len(figure["label"]) > 20
        assert len(figure["shown"]) == 1
        assert figure["shown"][0]["w"] > 250
        assert figure["shown"][0]["n"] > 5


TEXT_SIZES = """all => all.filter(t => t.getBoundingClientRect().width > 0).map(t => {
    const svg = t.ownerSVGElement;
    return parseFloat(t.getAttribute('font-size')) * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
})"""


@pytest.mark.parametrize("width", [1280, 390])
def test_charts_are_drawn_for_the_width_with_readable_text(visit, width):
    page = visit(RUNNING, width).page
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    sizes = page.eval_on_selector_all("figure svg text, summary svg text", TEXT_SIZES)
    assert len(sizes) > 50
    assert min(sizes) >= 10.5


def test_text_from_data_is_shown_and_never_run(visit):
    page = visit(RUNNING).page
    assert page.title() == RUNNING
    assert page.locator("script, img, iframe, object").count() == 0
    assert "<script>document.title='run'</script>" in page.locator(".facts").inner_text()
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert (
        "<img src=x" in page.locator(".events").first.inner_text() or "<img src=x" in page.locator("main").inner_text()
    )


def test_the_page_names_nothing_to_fetch(report):
    for name in PAGES:
        text = (report / name / "report.html").read_text(encoding="utf-8")
        markup = re.sub(r"&[a-z#0-9]+;", "", text)
        assert not re.search(r"<[^>]*\s(src|srcset|poster|data)=", markup)
        for address in re.findall(r'href="([^"#]*)', markup):
            assert (report / name / address).exists()
        assert "@import" not in text
        assert "url(" not in text
        assert len(text.encode()) < MOST_BYTES


def test_an_unexplained_rise_leads_to_its_day_and_opens_it(visit):
    page = visit("2026-02_winter").page
    link = page.locator("a[href^='#day-']").first
    target = link.get_attribute("href")
    assert not page.locator(target).is_visible()
    link.click()
    page.wait_for_timeout(200)
    assert page.locator(target).is_visible()
    assert 0 <= page.locator(target).bounding_box()["y"] < 900


def test_a_day_opens_from_the_keyboard(visit):
    page = visit("2026-02_winter").page
    page.locator("details.day summary").nth(2).focus()
    page.keyboard.press("Enter")
    assert page.locator("details.day").nth(2).evaluate("d => d.open")
    assert page.locator("details.day").nth(2).locator("time").count() > 2


def test_a_running_wear_says_so_and_shows_its_newest_meal_first(visit):
    page = visit(RUNNING).page
    assert "still running, last reading" in page.locator(".facts").inner_text()
    assert "is so far" in page.locator("h1").inner_text()
    assert page.locator(".latest").inner_text().startswith("Newest meal, ")
    assert page.locator("details.day b").count() == 1
    whens = page.eval_on_selector_all("td.when", "all => all.map(t => t.textContent)")
    assert len(whens) > 6


def test_cautions_stand_on_every_page(visit):
    for name in PAGES:
        text = visit(name).page.locator(".cautions").inner_text()
        assert "not a diagnosis" in text
        assert "dose a medicine" in text


def test_a_printed_page_is_whole_without_opened_days(visit):
    page = visit("2026-02_winter").page
    page.emulate_media(media="print")
    assert page.locator("details.code").is_hidden()
    assert len(page.pdf(format="A4")) > 20_000


def test_a_page_needs_no_script(visit):
    page = visit("2026-02_winter", java_script_enabled=False).page
    assert page.locator("h1").is_visible()
    assert page.locator("figure svg").first.is_visible()


def test_the_notebook_beside_a_page_is_executed_and_tells_nothing_of_this_machine(report, tmp_path_factory):
    for name in PAGES:
        text = (report / name / "notebook.ipynb").read_text(encoding="utf-8")
        notebook = json.loads(text)
        code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
        assert all(cell["execution_count"] for cell in code)
        assert not any(output["output_type"] == "error" for cell in code for output in cell["outputs"])
        injected = next("".join(cell["source"]) for cell in code if "injected-parameters" in cell["metadata"]["tags"])
        assert 'study = "../../study"' in injected
        assert str(report.parent) not in text
        assert ".report.new" not in text


def test_the_page_of_a_wear_of_one_minute_readings_stays_light(tmp_path):
    """20,160 readings. What a page may weigh is a limit that the project set itself."""
    study, out = one_minute_study(tmp_path / "study"), tmp_path / "report"
    assert main(["report", str(study), "--out", str(out)]) == 0
    assert len(pd.read_csv(out / "minutes" / "readings.csv")) > 19_000
    assert (out / "minutes" / "report.html").stat().st_size < MOST_BYTES

"""Do the pages open offline, whole, at a desk and on a phone, and run nothing that data brought in?"""

from __future__ import annotations

import json
import re

import pandas as pd
import pytest

from glucolab.running.cli import main
from tests.benchmarks.browsing import one_minute_study

RUNNING = "2026-11_late_autumn"
WEARS = ("2026-02_winter", "2026-06_summer", "2026-10_autumn", RUNNING)
PAGES = (*WEARS, "study")
WEAR_SECTIONS = ["Day by day", "How far to trust this record", "Before you act on this", "More"]
FOLDS = [
    "Peaks, and what came with them", "Meal by meal", "What to find out next", "What the uncertainty is made of",
    "What the sensor recorded", "How this was worked out", "What the words mean",
    "How this page was made: the code of its notebook",
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
    headings = page.eval_on_selector_all(
        "main h2" if name == "study" else ".text h2", "all => all.map(h => h.textContent)"
    )
    assert [h for h in headings if h not in FIRST_SCREEN] == (STUDY_SECTIONS if name == "study" else WEAR_SECTIONS)
    empty = page.eval_on_selector_all(
        ".text:has(h2)",
        "all => all.filter(t => !t.nextElementSibling || !t.nextElementSibling.textContent.trim()).length",
    )
    assert empty == 0
    assert re.search(r"average (was|so far:|is so far) \d+", page.locator("h1").inner_text())


@pytest.mark.parametrize("name", WEARS)
def test_a_wears_page_is_short_and_its_first_screen_holds_the_answer(visit, name):
    """The design's limits: 700 words and three screens unfolded, the answer in the first, at 1280 × 800."""
    page = visit(name).page
    page.set_viewport_size({"width": 1280, "height": 800})
    words = [word for word in page.locator("main").inner_text().split() if re.search(r"[^\W_]", word)]
    assert len(words) <= 700
    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * 800
    assert page.eval_on_selector(".ledger", "l => l.getBoundingClientRect().bottom") <= 800
    headings = page.eval_on_selector_all(".ledger h2", "all => all.map(h => h.textContent)")
    assert 3 <= len(headings) <= 4
    assert headings[-1] == "What to do next"
    assert page.eval_on_selector_all(".ledger figure", "all => all.length") >= 3
    folds = page.eval_on_selector_all("details:not(.day) > summary", SHOWN_TEXTS)
    assert folds == FOLDS
    assert page.eval_on_selector_all("details[open]", "all => all.length") == 0


@pytest.mark.parametrize("name", WEARS)
def test_a_phones_first_screen_holds_four_of_five_answers_and_begins_the_fifth(visit, name):
    page = visit(name, 390).page
    ends = page.eval_on_selector_all(".ledger .say", "all => all.map(s => s.getBoundingClientRect().bottom)")
    tops = page.eval_on_selector_all(".ledger .say", "all => all.map(s => s.getBoundingClientRect().top)")
    assert len(ends) >= 4
    assert ends[-2] <= 844
    assert tops[-1] <= 844 - 60
    figures = page.eval_on_selector_all(".ledger .show", "all => all.map(s => s.getBoundingClientRect().top)")
    assert min(figures) >= ends[-1]


@pytest.mark.parametrize("name", WEARS)
def test_the_first_part_prints_on_one_side_of_a4(visit, name):
    """A side of 210 × 297 mm less margins of 12 mm is 703 × 1032 CSS pixels."""
    page = visit(name, 703).page
    page.emulate_media(media="print")
    assert page.eval_on_selector(".ledger", "l => l.getBoundingClientRect().bottom") <= 1032
    sizes = page.eval_on_selector_all(".ledger svg text", TEXT_SIZES)
    assert min(sizes) >= 10.5


@pytest.mark.parametrize("width", [1280, 1024, 390])
@pytest.mark.parametrize("name", WEARS)
def test_no_words_of_a_picture_lie_on_others(visit, name, width):
    page = visit(name, width).page
    boxes = page.eval_on_selector_all(
        ".ledger svg",
        """all => all.filter(s => s.getBoundingClientRect().width > 0).map(s => [...s.querySelectorAll('text')]
           .map(t => { const b = t.getBoundingClientRect(); return [t.textContent, b.x, b.y, b.right, b.bottom] }))""",
    )
    assert sum(len(picture) for picture in boxes) > 15
    for picture in boxes:
        for i, (one, x, y, right, bottom) in enumerate(picture):
            for other, x2, y2, right2, bottom2 in picture[i + 1 :]:
                across, down = min(right, right2) - max(x, x2), min(bottom, bottom2) - max(y, y2)
                assert across <= 1 or down <= 4, (one, other)


def test_each_wear_leads_to_the_one_before_and_to_the_study_and_nowhere_else(visit):
    for before, name in zip((None, *WEARS), WEARS, strict=False):
        links = visit(name).page.eval_on_selector_all(".ledger a", "all => all.map(a => a.getAttribute('href'))")
        earlier = [f"../{before}/report.html"] if before else []
        assert links == [*earlier, "../study/report.html"]


@pytest.mark.parametrize("name", WEARS)
def test_the_page_says_the_average_of_its_tables(report, visit, name):
    periods = pd.read_csv(report / name / "so_far" / "periods.csv")
    mine = periods[(periods["level"] == "wear") & (periods["name"] == name)].iloc[0]
    half = (mine["mean_high_mg_dl"] - mine["mean_low_mg_dl"]) / 2
    said = visit(name).page.locator("h1").inner_text().replace("\u00a0", " ")
    assert f"{mine['mean_mg_dl']:.0f} mg/dL, give or take {half:.0f}." in said
    below = 100 * mine["probability_goal_met"]
    assert f"{below if below >= 40 else 100 - below:.0f} chances in 100" in said
    assert ("above your goal" in said) == (below < 40)


def test_the_newest_wear_and_the_study_show_the_same_figures(report):
    ours, theirs = (pd.read_csv(report / f / "periods.csv") for f in (f"{WEARS[-1]}/so_far", "study"))
    pd.testing.assert_frame_equal(ours, theirs)


def test_each_day_has_its_average_and_sleep(report, visit):
    daily = pd.read_csv(report / WEARS[0] / "daily.csv")
    shown = visit(WEARS[0]).page.eval_on_selector_all(
        "details.day > summary", "all => all.map(s => [...s.querySelectorAll('.figure')].map(f => f.textContent))"
    )
    assert len(shown) == len(daily)
    for (mean, slept), (_, day) in zip(shown, daily.iterrows(), strict=True):
        if pd.isna(day["mean_mg_dl"]):
            assert mean == "average –"
        else:  # the table is rounded to hundredths
            assert float(mean.removeprefix("average ")) == pytest.approx(day["mean_mg_dl"], abs=0.506)
        assert slept == f"slept {'–' if pd.isna(day['asleep_h']) else format(day['asleep_h'], '.1f') + ' h'}"


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("name", PAGES)
def test_every_picture_is_drawn_once_labelled_and_not_empty(visit, name, width):
    page = visit(name, width).page
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    figures = page.eval_on_selector_all(
        "figure",
        """all => all.map(f => ({label: f.getAttribute('aria-label'), shown: [...f.querySelectorAll('svg')]
           .filter(s => s.getBoundingClientRect().width > 0)
           .map(s => ({w: s.getBoundingClientRect().width,
                       n: s.querySelectorAll('path,text,line,rect,circle').length}))}))""",
    )
    assert len(figures) >= (3 if name == "study" else 10)
    for figure in figures:
        assert len(figure["label"]) > 20
        assert len(figure["shown"]) == 1
        assert figure["shown"][0]["w"] > 250
        assert figure["shown"][0]["n"] > 5


SHOWN_TEXTS = "all => all.filter(s => s.checkVisibility()).map(s => s.textContent)"
TEXT_SIZES = """all => all.filter(t => t.getBoundingClientRect().width > 0).map(t => {
    const svg = t.ownerSVGElement;
    return parseFloat(getComputedStyle(t).fontSize) * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
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
    page.evaluate("document.querySelector('a[href^=\"#day-\"]').closest('details').open = true")
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
    assert "so far:" in page.locator("h1").inner_text()
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

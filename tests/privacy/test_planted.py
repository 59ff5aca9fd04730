"""Is whatever a wearer writes shown as text, in pages and in a real JupyterLab, and never run?"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from glucolab.running.cli import main
from tests.privacy.planting import IN_A_NAME, PLANTED, plant
from tests.widgets.lab import open_notebook, start_lab

NOT_RUN = "() => window.ran === undefined"


@pytest.fixture(scope="module")
def planted(tmp_path_factory) -> Path:
    """The planted study, its report and its page for a professional."""
    place = tmp_path_factory.mktemp("planted")
    study = plant(place / f"study {IN_A_NAME}")
    assert main(["report", str(study), "--out", str(place / "report")]) in (0, 1)
    assert main(["share", str(study), "--out", str(place / "report" / "shared.html")]) in (0, 1)
    return place


def test_no_page_runs_what_was_written(browser, planted):
    pages = sorted((planted / "report").rglob("*.html"))
    assert len(pages) == 6
    for path in pages:
        page = browser.new_page()
        page.goto(path.as_uri())
        page.wait_for_timeout(300)
        assert page.evaluate(NOT_RUN), path
        assert page.locator("script, img, iframe, object, embed").count() == 0, path
        assert page.evaluate("() => [...document.querySelectorAll('*')].every(e => "
                             "[...e.attributes].every(a => !a.name.startsWith('on')))"), path  # fmt: skip
        page.close()


def test_what_was_written_stands_on_the_pages_as_text(browser, planted):
    """Else the test above would pass on pages that left it away."""
    page = browser.new_page()
    page.goto(sorted((planted / "report").glob("2026-10*/report.html"))[0].as_uri())
    assert "<script>window.ran=1</script>" in page.locator("body").text_content()
    assert "{{7*7}}" in page.locator("body").text_content()
    page.close()


def test_no_notebook_in_jupyterlab_runs_what_was_written(browser, planted, tmp_path):
    with start_lab(tmp_path) as lab:
        shutil.rmtree(lab.folder / "sample_data")
        shutil.copytree(next(planted.glob("study*")), lab.folder / "sample_data")
        executed = sorted((planted / "report").glob("2026-10*/notebook.ipynb"))[0]
        shutil.copyfile(executed, lab.folder / "notebooks" / "executed.ipynb")
        for name in ("deep_dive", "start_here", "plan_next_wear", "executed"):
            with open_notebook(browser, lab, name) as sheet:
                if name != "executed":
                    sheet.run_all()
                sheet.page.wait_for_timeout(1500)
                assert sheet.page.evaluate(NOT_RUN), name
                assert sheet.outside == [], name
                if name == "deep_dive":
                    assert "<script>window.ran=1" in sheet.page.locator(".jp-Notebook").text_content()


def test_a_page_that_ran_it_would_be_seen(browser):
    page = browser.new_page()
    page.set_content(f"<p>{PLANTED}</p>")
    page.wait_for_timeout(300)
    assert not page.evaluate(NOT_RUN)
    page.close()

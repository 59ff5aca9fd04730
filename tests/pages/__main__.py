"""What do a page and a widget look like? Makes the pictures of the README: python -m tests.pages."""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from glucolab.running.cli import main
from tests.conftest import REPOSITORY, find_chromium
from tests.widgets.lab import open_notebook, start_lab

WIDTH, HEIGHT = 1000, 1560
PAGE_PICTURE, EXPLORER_PICTURE = (REPOSITORY / "reports" / name for name in ("wear_page.png", "explorer.png"))
CHOSEN = "overnight_mean_mg_dl:stress"


def take_page(browser, root: Path) -> None:
    """The first screen and a half of the sample study's last wear."""
    out = root / "report"
    if main(["report", str(REPOSITORY / "sample_data"), "--out", str(out)]) != 0:
        raise SystemExit("the sample study's report was not made")
    page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
    page.goto(sorted(out.glob("20*/report.html"))[-1].as_uri())
    page.screenshot(path=PAGE_PICTURE)


def take_explorer(browser, root: Path) -> None:
    """The explorer of days in JupyterLab, one cell of its grid chosen."""
    root.mkdir()
    with start_lab(root) as lab, open_notebook(browser, lab, "deep_dive") as sheet:
        sheet.run_all()
        sheet.page.set_viewport_size({"width": 1280, "height": 1080})
        sheet.page.locator(f"button[data-cell='{CHOSEN}']").first.click()
        sheet.page.get_by_text("On your tensest days").first.wait_for()
        heading = sheet.page.get_by_role("heading", name="How days go with what you write down")
        heading.first.evaluate("one => one.scrollIntoView()")
        sheet.page.wait_for_timeout(1500)  # the picture is drawn after the sentence
        sheet.page.screenshot(path=EXPLORER_PICTURE)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=["--no-sandbox"])
        take_page(browser, Path(folder))
        take_explorer(browser, Path(folder) / "lab")
        browser.close()
    for picture in (PAGE_PICTURE, EXPLORER_PICTURE):
        print(picture.relative_to(REPOSITORY))

"""What does a page look like? Makes the picture of the README: python -m tests.pages."""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from glucolab.running.cli import main
from tests.conftest import REPOSITORY, find_chromium

WIDTH, HEIGHT = 1000, 1560
PICTURE = REPOSITORY / "reports" / "wear_page.png"


def take_picture(target: Path) -> None:
    """The first screen and a half of the sample study's last wear."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "report"
        if main(["report", str(REPOSITORY / "sample_data"), "--out", str(out)]) != 0:
            raise SystemExit("the sample study's report was not made")
        page_file = sorted(out.glob("20*/report.html"))[-1]
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=find_chromium(), args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
            page.goto(page_file.as_uri())
            page.screenshot(path=target)
            browser.close()


if __name__ == "__main__":
    take_picture(PICTURE)
    print(PICTURE.relative_to(REPOSITORY))

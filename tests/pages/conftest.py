"""A report of the sample study, and a browser that can reach nothing but the page."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest

from glucolab.running.cli import main
from tests.conftest import REPOSITORY

PLANTED = "<script>document.title='run'</script><img src=x onerror=\"document.title='run'\">"
"""Text that would run if any page took it for markup."""
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@pytest.fixture(scope="session")
def report(tmp_path_factory) -> Path:
    """The report folder of the sample study, its last wear still running, with planted text in its tables."""
    root = tmp_path_factory.mktemp("pages")
    study = root / "study"
    shutil.copytree(REPOSITORY / "sample_data", study)
    last = sorted((study / "wear_periods").iterdir())[-1]
    _move_to_now(last)
    keep = [line for line in (last / "wear.toml").read_text().splitlines() if not line.startswith(("end", "site"))]
    (last / "wear.toml").write_text("\n".join([*keep, f"site = '''{PLANTED}'''"]) + "\n")
    meals = pd.read_csv(last / "meals.csv", dtype="str", keep_default_na=False)
    meals["name"] = meals["name"].replace(meals["name"].iloc[-1], meals["name"].iloc[-1] + PLANTED)
    meals.to_csv(last / "meals.csv", index=False)
    assert main(["report", str(study), "--out", str(root / "report")]) == 0
    return root / "report"


def _move_to_now(wear: Path) -> None:
    """Shift every date of a wear by whole days, so that its last reading is of yesterday."""
    last = max(DATE.findall((wear / "glucose.csv").read_text()))
    days = date.today() - timedelta(days=1) - date.fromisoformat(last)
    for file in [wear / "wear.toml", *wear.glob("*.csv")]:
        text = DATE.sub(lambda found: str(date.fromisoformat(found[0]) + days), file.read_text())
        file.write_text(text)


@dataclass
class Visit:
    """A page as a browser saw it."""

    page: object
    requests: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)


@pytest.fixture
def visit(browser, report) -> Iterator[Callable[[str, int], Visit]]:
    """A function that opens a page of the report at a width, with every request but the page's own refused."""
    contexts = []

    def open_page(name: str, width: int = 1280, **more) -> Visit:
        context = browser.new_context(viewport={"width": width, "height": 900}, **more)
        contexts.append(context)
        page = context.new_page()
        seen = Visit(page)
        address = (report / name / "report.html").as_uri()

        def refuse(route) -> None:
            if route.request.url.split("#")[0] == address:
                route.continue_()
            else:
                seen.requests.append(route.request.url)
                route.abort()

        page.route("**/*", refuse)
        page.on("console", lambda message: seen.messages.append(message.text))
        page.on("pageerror", lambda error: seen.messages.append(str(error)))
        page.goto(address)
        return seen

    yield open_page
    for context in contexts:
        context.close()

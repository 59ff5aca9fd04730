"""How long is a reader kept waiting, and how large is a page? A wear of one-minute readings, and the widgets in a lab.

``python -m tests.benchmarks.browsing``. A wear of 14 days at one minute (20,160 readings) is reported; its page is
weighed, opened in Chromium, and each of its charts is drawn. The widgets run in a real JupyterLab on the sample study:
from a choice until what it says and shows has changed. Exit 1 if something is over its limit.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path

import nbformat
import numpy as np
import pandas as pd
from playwright.sync_api import sync_playwright

from glucolab.record import Person
from glucolab.running.cli import main as glucolab
from glucolab.simulate.demo_person import demo_wearer
from glucolab.simulate.folder import write_study
from glucolab.simulate.meter import Meter
from glucolab.simulate.sensor import Sensor
from glucolab.simulate.study import gather
from glucolab.simulate.wear import simulate_wear
from tests.benchmarks.__main__ import burn
from tests.conftest import REPOSITORY, find_chromium
from tests.widgets.lab import open_notebook, start_lab

PAGE_MB, CHART_S, CHANGE_S = 3.0, 1.0, 0.3
"""Limits: of a page's file, of one chart, of one change of a widget."""

WIDGETS = (
    ("explore_covariates", "goes with"),
    ("explore_covariates", "what"),
    ("explore_dishes", "against"),
    ("explore_meal", "with"),
    ("explore_day", "day"),
    ("explore_periods", "wears"),
)

STILL_MS = 700
"""A widget that has not changed for so long has answered."""

CHANGE = """([part, select, index, still]) => new Promise((done) => {
  const begun = performance.now();
  let last = null;
  const seen = new MutationObserver(() => { last = performance.now(); });
  seen.observe(part, { subtree: true, childList: true, characterData: true, attributes: true });
  select.selectedIndex = index;
  select.dispatchEvent(new Event('change', { bubbles: true }));
  const look = () => {
    if (last !== null && performance.now() - last > still) { seen.disconnect(); done((last - begun) / 1000); }
    else setTimeout(look, 50);
  };
  look();
})"""
"""Choose in a list, and say when the last change came that follows from it. [s]"""


def one_minute_study(folder: Path) -> Path:
    """A study of one wear whose sensor measures every minute."""
    rng = np.random.default_rng(5)
    wear = simulate_wear(
        rng, demo_wearer("autumn"), Sensor(interval_min=1.0), pd.Timestamp("2026-03-02T08:00", tz="UTC"),
        name="minutes", checks=8, meter=Meter(),
    )  # fmt: skip
    write_study(gather("study", [wear], Person(time_zone="Europe/Lisbon")).study, folder)
    return folder


def time_charts(study: Path) -> list[float]:
    """How long each chart of a wear's page takes to be drawn, at its two widths or its every day. [s]"""
    from glucolab.showing import pictures, wear_page

    took: list[float] = []

    def timed(function):
        def call(*arguments, **options):
            begun = time.perf_counter()
            drawn = function(*arguments, **options)
            took.append(time.perf_counter() - begun)
            return drawn

        return call

    pictures.draw_svg, wear_page.cut_rows = timed(pictures.draw_svg), timed(wear_page.cut_rows)
    names = {"study": str(study), "wear": "minutes", "out": str(study / "none")}
    cells = nbformat.read(REPOSITORY / "notebooks" / "wear_period.ipynb", as_version=4).cells
    space: dict[str, object] = {}
    for cell in cells:
        if cell.cell_type == "code":
            exec(cell.source, space)
            if "parameters" in cell.metadata.get("tags", []):
                space |= names
    return took[1:]  # the first one waits for the drawing library to start


def time_opening(browser, page: Path) -> float:
    """From asking for a page until it is laid out and painted. [s]"""
    tab = browser.new_page()
    begun = time.perf_counter()
    tab.goto(page.as_uri())
    tab.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    took = time.perf_counter() - begun
    tab.close()
    return took


def time_changes(browser, root: Path, call: str, name: str, notebook: str = "deep_dive") -> list[float]:
    """Every choice of one list of a widget, one after the other. [s]"""
    with start_lab(root) as lab, open_notebook(browser, lab, notebook) as sheet:
        sheet.run_all()
        part = sheet.page.locator(".jp-CodeCell", has=sheet.page.get_by_text(f"widgets.{call}(analysis)")).last
        part.scroll_into_view_if_needed()
        select = part.get_by_label(name, exact=True)
        count, at = select.evaluate("one => [one.options.length, one.selectedIndex]")
        turns = [index for index in range(min(count, 9)) if index != at]
        handles = [part.element_handle(), select.element_handle()]
        return [sheet.page.evaluate(CHANGE, [*handles, index, STILL_MS]) for index in turns]


def main() -> int:
    bad, burns = 0, [burn()]

    def say(what: str, figure: float, unit: str, limit: float, more: str = "") -> None:
        nonlocal bad
        bad += figure > limit
        print(
            f"{what:<58}{figure:>7.2f} {unit:<3}limit {limit:<5}{more}{'  over' if figure > limit else ''}", flush=True
        )

    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        folder = Path(place)
        study = one_minute_study(folder / "study")
        if glucolab(["report", str(study), "--out", str(folder / "report")]) != 0:
            raise SystemExit("the report was not made")
        page = folder / "report" / "minutes" / "report.html"
        say("page of a wear of one-minute readings", page.stat().st_size / 1e6, "MB", PAGE_MB)
        charts = time_charts(study)
        say(f"its slowest chart of {len(charts)}", max(charts), "s", CHART_S, f"median {statistics.median(charts):.2f}")
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=["--no-sandbox"])
        opened = [time_opening(browser, page) for _ in range(5)]
        say("opening it in a browser", statistics.median(opened), "s", CHART_S)
        for number, (call, name) in enumerate(WIDGETS):
            took = time_changes(browser, folder / f"lab{number}", call, name)
            more = f"slowest of {len(took)}: {max(took):.2f}"
            say(f'{call}, "{name}" changed', statistics.median(took), "s", CHANGE_S, more)
        browser.close()
    burns.append(burn())
    print(f"control: the same arithmetic took {min(burns):.2f} to {max(burns):.2f} s")
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())

"""A JupyterLab of its own for tests: the workbook and the sample study in a new folder, driven by a browser."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from glucolab.running.lab import lab_command, lab_environment
from tests.conftest import REPOSITORY

STARTS_WITHIN_S = 90
OPENS_WITHIN_MS = 180_000
RUNS_WITHIN_MS = 180_000
TOKEN = "workbook"
SETTINGS = {"@jupyterlab/notebook-extension/tracker": {"windowingMode": "none"}}
"""Of the lab: it would keep cells that are out of sight out of the page."""


_COUNTS = (
    "jupyterapp.shell.currentWidget.content.widgets.map(cell => cell.model)"
    ".filter(model => model.type === 'code').map(model => model.executionCount ?? 0)"
)
"""How often the kernel had been asked when each cell was done; nought while it runs."""


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab."""

    folder: Path
    address: str


@dataclass
class Sheet:
    """A notebook open in the lab, as a browser sees it."""

    page: object
    outside: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)

    def run_all(self) -> None:
        """Run every cell and wait until all of them are done, those too whose code is folded away."""
        page = self.page
        before = page.evaluate(f"() => Math.max(0, ...{_COUNTS})")
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
        page.wait_for_function(f"before => {_COUNTS}.every(n => n > before)", arg=before, timeout=RUNS_WITHIN_MS)


@contextmanager
def start_lab(root: Path) -> Iterator[Lab]:
    """The workbook in a JupyterLab that may reach nothing but itself, started as `glucolab workbook` starts it."""
    home = root / "home"
    shutil.copytree(REPOSITORY / "notebooks", root / "work" / "notebooks", ignore=shutil.ignore_patterns(".*"))
    shutil.copytree(REPOSITORY / "sample_data", root / "work" / "sample_data")
    for name, settings in SETTINGS.items():
        path = home / "settings" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True)
        path.write_text(json.dumps(settings))
    places = {f"JUPYTER_{part}_DIR": str(home / part.lower()) for part in ("CONFIG", "DATA", "RUNTIME")}
    (root / "work" / "reports").mkdir()
    places |= {"JUPYTERLAB_SETTINGS_DIR": str(home / "settings"), "IPYTHONDIR": str(home / "ipython"),
               "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces")}  # fmt: skip
    options = ["--no-browser", "--port=0", "--LabApp.expose_app_in_browser=True", f"--IdentityProvider.token={TOKEN}"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--allow-root")
    with open(root / "lab.log", "w") as log:
        lab = subprocess.Popen(
            [*lab_command(root / "work"), *options], env=lab_environment() | places, stdout=log, stderr=log
        )
        try:
            yield Lab(root / "work", _wait(root / "lab.log", lab))
        finally:
            lab.terminate()
            lab.wait(30)


def _wait(log: Path, lab: subprocess.Popen) -> str:
    """Address of the lab once it answers."""
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until and lab.poll() is None:
        found = re.search(r"(http://(?:localhost|127\.0\.0\.1):\d+)/lab", log.read_text())
        if found:
            address = found[1].replace("localhost", "127.0.0.1")
            with suppress(URLError), urlopen(f"{address}/api?token={TOKEN}", timeout=STARTS_WITHIN_S):
                return address  # on a busy machine it says where it will answer before it does
        time.sleep(0.2)
    raise RuntimeError(f"JupyterLab did not start: {log.read_text()[-2000:]}")


@contextmanager
def open_notebook(browser, lab: Lab, name: str, width: int = 1280) -> Iterator[Sheet]:
    """A notebook of the workbook, every request to anywhere but the lab refused and noted."""
    context = browser.new_context(viewport={"width": width, "height": 1000})
    page = context.new_page()
    sheet = Sheet(page)

    def refuse(route) -> None:
        if route.request.url.startswith((lab.address, "data:", "blob:")):
            route.continue_()
        else:
            sheet.outside.append(route.request.url)
            route.abort()

    page.route("**/*", refuse)
    page.on("console", lambda message: sheet.messages.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: sheet.messages.append(str(error)))
    page.goto(f"{lab.address}/lab/workspaces/{name}/tree/notebooks/{name}.ipynb?token={TOKEN}", timeout=OPENS_WITHIN_MS)
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=OPENS_WITHIN_MS)
    page.get_by_text("| Idle").wait_for(timeout=OPENS_WITHIN_MS)  # asked to run before, the lab asks back for a kernel
    try:
        yield sheet
    finally:
        context.close()

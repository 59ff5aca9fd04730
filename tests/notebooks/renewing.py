"""What should the notebooks say of the sample study? Each run whole, with its pictures taken out."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import papermill

from glucolab.running.cli import main
from tests.conftest import REPOSITORY

EXPECTED = Path(__file__).parent / "expected"
NOTEBOOKS = sorted(path.stem for path in (REPOSITORY / "notebooks").glob("*.ipynb"))
STUDY = "../../../sample_data"
REPORT = "report"
"""As the notebooks of `EXPECTED` see them; the report is made anew for each run of the tests."""

EXAMPLE = "../../../notebooks/example_files/afternoon_notes.csv"
PARAMETERS = {
    "study": {"study": STUDY, "out": REPORT},
    "wear_period": {"study": STUDY, "out": REPORT},
    "bring_your_data": {"study": STUDY, "file": EXAMPLE},
}
TAKEN_OUT = {r"<svg[\s\S]*?</svg>": "PICTURE", r"<style>[\s\S]*?</style>": "STYLE"}
"""As in sanitize.cfg, which nbval applies to what it compares."""

COMPARED = ("text/html", "text/plain")


def make_report() -> None:
    """The tables that notebooks read, beside them."""
    if main(["measure", str(REPOSITORY / "sample_data"), "--out", str(EXPECTED / REPORT)]) != 0:
        raise RuntimeError("the sample study could not be measured")


def renew(name: str) -> None:
    """Run a notebook and keep what it said, without pictures, times and places."""
    source, target = REPOSITORY / "notebooks" / f"{name}.ipynb", EXPECTED / f"{name}.ipynb"
    parameters = PARAMETERS.get(name, {"study": STUDY})
    run = papermill.execute_notebook(
        source, None, parameters, cwd=EXPECTED, kernel_name="python3", progress_bar=False, log_output=False
    )
    run.metadata = {"kernelspec": run.metadata["kernelspec"]}
    for number, cell in enumerate(run.cells):
        cell["id"] = f"cell-{number}"  # papermill draws a new one for the parameters each time
        cell.metadata = {"tags": cell.metadata.get("tags", [])}
        for output in cell.get("outputs", []):
            if output["output_type"] == "stream":
                continue  # what a cell printed is all words
            output["metadata"] = {}
            output["data"] = {kind: _take_out(output["data"][kind]) for kind in COMPARED if kind in output["data"]}
    nbformat.write(run, target)


def _take_out(text: str) -> str:
    for pattern, word in TAKEN_OUT.items():
        text = re.sub(pattern, word, text)
    return text

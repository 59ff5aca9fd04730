"""Are the notebooks whose words are compared the notebooks of the workbook?"""

from __future__ import annotations

import nbformat
import pytest

from tests.conftest import REPOSITORY
from tests.notebooks.renewing import EXPECTED, NOTEBOOKS

OLD = "python -m tests.notebooks renews what they are expected to say"


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_what_is_expected_is_of_the_notebook_as_it_is(name):
    assert (EXPECTED / f"{name}.ipynb").is_file(), OLD
    written, expected = (
        nbformat.read(folder / f"{name}.ipynb", as_version=4) for folder in (REPOSITORY / "notebooks", EXPECTED)
    )
    kept = [cell for cell in expected.cells if "injected-parameters" not in cell.metadata.get("tags", [])]
    assert [cell.source for cell in kept] == [cell.source for cell in written.cells], OLD


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_a_notebook_is_kept_without_outputs(name):
    cells = nbformat.read(REPOSITORY / "notebooks" / f"{name}.ipynb", as_version=4).cells
    assert [cell for cell in cells if cell.get("outputs") or cell.get("execution_count")] == []


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_every_notebook_says_what_it_answers_and_carries_the_cautions(name):
    cells = nbformat.read(EXPECTED / f"{name}.ipynb", as_version=4).cells
    assert "What this answers" in cells[0].source
    assert "This is not a diagnosis" in "".join(str(cell.get("outputs", "")) for cell in cells)

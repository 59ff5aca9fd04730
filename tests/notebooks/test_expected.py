"""Are the notebooks whose words are compared the notebooks of the workbook?"""

from __future__ import annotations

import ast
import re

import nbformat
import pytest

from tests.conftest import REPOSITORY
from tests.notebooks.renewing import EXPECTED, NOTEBOOKS

WORKING_OUT = ("groupby", "merge", "pivot", "apply", "resample", "iterrows")
"""Methods of tables with which a cell would answer by itself."""
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
def test_a_cell_calls_the_library_and_works_nothing_out_itself(name):
    """No function, no loop; `groupby` in the one notebook whose point is pandas."""
    cells = nbformat.read(REPOSITORY / "notebooks" / f"{name}.ipynb", as_version=4).cells
    trees = [ast.parse(cell.source) for cell in cells if cell.cell_type == "code"]
    nodes = [node for tree in trees for node in ast.walk(tree)]
    assert len(nodes) > 20
    assert not [node for node in nodes if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.For | ast.While)]
    if name != "own_questions":
        assert not [node for node in nodes if isinstance(node, ast.comprehension | ast.Lambda)]
        assert not [node for node in nodes if isinstance(node, ast.Attribute) and node.attr in WORKING_OUT]


def test_ten_questions_are_asked_each_with_what_it_cannot_say():
    cells = nbformat.read(EXPECTED / "own_questions.ipynb", as_version=4).cells
    asked = [place for place, cell in enumerate(cells) if re.match(r"## \d+\. .*\?\n", cell.source)]
    assert len(asked) == 10
    for place, following in zip(asked, [*asked[1:], len(cells)], strict=True):
        answer = cells[place + 1 : following]
        code = [cell for cell in answer if cell.cell_type == "code"]
        assert code
        said = "".join(output.get("text", "") for cell in code for output in cell.outputs)
        assert re.search(r"\(.*\d to .*\d.*\)|give or take", said), cells[place].source
        assert any(cell.source.startswith("What it cannot say: ") for cell in answer if cell.cell_type == "markdown")


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_every_notebook_says_what_it_answers_and_carries_the_cautions(name):
    cells = nbformat.read(EXPECTED / f"{name}.ipynb", as_version=4).cells
    assert "What this answers" in cells[0].source
    assert "This is not a diagnosis" in "".join(str(cell.get("outputs", "")) for cell in cells)

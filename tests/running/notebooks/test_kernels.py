"""Does one kernel serve notebooks as if each had its own?"""

from __future__ import annotations

import nbformat
import pytest
from papermill.exceptions import PapermillExecutionError

from glucolab.running.notebooks.kernels import Kernel


@pytest.fixture
def write(tmp_path):
    """A function that writes a notebook of code cells, the first for parameters."""

    def make(name: str, *cells: str):
        parts = [nbformat.v4.new_code_cell("who = ''", metadata={"tags": ["parameters"]})]
        notebook = nbformat.v4.new_notebook(cells=[*parts, *map(nbformat.v4.new_code_cell, cells)])
        notebook.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
        (tmp_path / name).mkdir()
        nbformat.write(notebook, tmp_path / name / "one.ipynb")
        return tmp_path / name / "one.ipynb"

    return make


def last(notebook) -> str:
    return notebook.cells[-1].outputs[0].data["text/plain"]


def test_nothing_of_one_notebook_is_left_for_the_next(write):
    first = write("a", "left = 1", "import os; who, os.path.basename(os.getcwd())")
    second = write("b", "'left' in globals(), who, os.path.basename(os.getcwd()) if 'os' in globals() else ''")
    with Kernel() as kernel:
        one = kernel.run(first, {"who": "first"}, first.parent)
        two = kernel.run(second, {"who": "second"}, second.parent)
    assert last(one) == "('first', 'a')"
    assert last(two) == "(False, 'second', 'b')"
    counts = [cell.execution_count for cell in two.cells]
    assert counts == list(range(1, len(counts) + 1))
    assert not any("chdir" in cell.source for cell in (*one.cells, *two.cells))


def test_a_failing_cell_and_a_dead_kernel_do_not_stop_the_next_notebook(write):
    failing = write("a", "1 / 0")
    dying = write("b", "import os, signal; os.kill(os.getpid(), signal.SIGKILL)")
    sound = write("c", "who + '!'")
    with Kernel() as kernel:
        with pytest.raises(PapermillExecutionError, match="ZeroDivisionError"):
            kernel.run(failing, {}, failing.parent)
        with pytest.raises(RuntimeError):
            kernel.run(dying, {}, dying.parent)
        assert last(kernel.run(sound, {"who": "up"}, sound.parent)) == "'up!'"

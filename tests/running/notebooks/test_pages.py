"""Does one bad notebook stop the others, and what of a notebook reaches the page?"""

from __future__ import annotations

import time
from dataclasses import replace

import nbformat
import pytest
from nbformat import v4

from glucolab.running.notebooks import pages
from glucolab.running.notebooks.page_jobs import PageJob, plan_study_page, plan_wear_page
from glucolab.running.notebooks.pages import FOLDED, NOTEBOOK_ONLY, Pages, build_page

PARAMETERS = v4.new_code_cell("wear = ''", metadata={"tags": ["parameters"]})


def as_notebook(*cells):
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    return v4.new_notebook(cells=list(cells), metadata={"kernelspec": kernel, "language_info": {"name": "python"}})


def shown(html):
    return v4.new_output("display_data", {"text/html": html, "text/plain": "text"})


@pytest.fixture
def jobs(tmp_path, monkeypatch):
    """Three notebooks to run, of which the second fails; their path holds braces."""
    folder = tmp_path / "a {path} with braces"
    folder.mkdir()
    cells = [
        PARAMETERS,
        v4.new_code_cell("import os\nassert wear != 'bad', 'no good'\nprint(wear, os.path.basename(os.getcwd()))"),
    ]
    slow = "import pathlib, time\npathlib.Path('begun').touch()\ntime.sleep(30)\npathlib.Path('ended').touch()"
    nbformat.write(as_notebook(*cells), folder / "small.ipynb")
    nbformat.write(as_notebook(PARAMETERS, v4.new_code_cell(slow)), folder / "slow.ipynb")
    monkeypatch.setattr(pages, "find_notebook", lambda name: folder / f"{name}.ipynb")
    for name in ("first", "bad", "last"):
        (tmp_path / name).mkdir()
    return [PageJob("small", tmp_path / name, name, {"wear": name}, "") for name in ("first", "bad", "last")]


def test_a_notebook_that_fails_is_listed_and_the_others_are_made(jobs, capfd):
    told = []
    with Pages(None, told.append) as made_anew:
        for job in jobs:
            made_anew.add(job)
        problems = made_anew.wait()
    why = "a fault in glucolab itself (a cell of the notebook line 2): AssertionError: no good"
    assert [str(p) for p in problems] == [f"bad/report.html: could not be made: {why}"]
    assert sorted(told) == ["page of bad: failed", "page of first: done", "page of last: done"]
    for job in jobs:
        made = sorted(path.name for path in job.folder.iterdir())
        assert made == ([] if job.title == "bad" else ["notebook.ipynb", "report.html"])
    executed = nbformat.read(jobs[2].folder / "notebook.ipynb", 4)
    assert executed.cells[-1].outputs[0].text == "last last\n"
    assert "papermill" not in executed.metadata
    assert capfd.readouterr().err == ""  # kernels and papermill keep still


def test_an_error_beside_ends_the_pages_begun_and_leaves_those_that_wait(jobs, capfd):
    told = []

    def stop_amid():
        with Pages(None, told.append) as made_anew:
            for job in jobs:
                made_anew.add(replace(job, notebook="slow"))
            for _ in range(600):
                if not (jobs[0].folder / "begun").exists():
                    time.sleep(0.05)
            assert (jobs[0].folder / "begun").exists()
            raise OSError("the disk is full")

    with pytest.raises(OSError, match="the disk is full"):
        stop_amid()
    assert told == []
    assert not list(jobs[0].folder.parent.glob("*/report.html"))
    assert not list(jobs[0].folder.parent.glob("*/ended"))  # nobody waited for it
    assert capfd.readouterr().err == ""


def test_pages_are_given_the_way_from_where_they_end(tmp_path):
    (tmp_path / "my study").mkdir()
    new = tmp_path / "out" / ".report.new"
    first = plan_wear_page(tmp_path / "my study", new, "winter")
    last = plan_study_page(tmp_path / "my study", new)
    assert first.parameters == {"study": "../../../my study", "wear": "winter", "out": "..", "so_far": "so_far"}
    assert last.notebook == "study"
    assert (new / "study" / last.parameters["study"]).resolve() == tmp_path / "my study"


def test_text_code_and_title_are_escaped_and_notebook_cells_stay_away():
    notebook = as_notebook(
        v4.new_markdown_cell("for the notebook", metadata={"tags": [NOTEBOOK_ONLY]}),
        v4.new_markdown_cell("## A heading\n\n<b onclick='x'>raw</b>"),
        v4.new_code_cell("a < b", outputs=[v4.new_output("display_data", {"text/plain": "<i>plain</i>"})]),
        v4.new_code_cell("c", outputs=[shown("<p>safe part</p>")]),
    )
    page = build_page(notebook, "<title>")
    assert "for the notebook" not in page
    assert "<h2>A heading</h2>" in page
    assert "&lt;b onclick" in page
    assert "&lt;i&gt;plain" in page
    assert "<p>safe part</p>" in page
    assert "a &lt; b" in page
    assert "<title>&lt;title&gt;</title>" in page


def test_a_folded_text_takes_what_follows_it_up_to_the_next_text():
    folded = {"tags": [FOLDED]}
    notebook = as_notebook(
        v4.new_markdown_cell("## More\n\nHow to read it.", metadata=folded),
        v4.new_code_cell("a", outputs=[shown("<p>first</p>")]),
        v4.new_code_cell("b", outputs=[shown("<p>second</p>")]),
        v4.new_markdown_cell("## Open"),
        v4.new_code_cell("c", outputs=[shown("<p>third</p>")]),
    )
    page = build_page(notebook, "page")
    fold = page[page.index('<details class="gl fold">') : page.index("</details>")]
    assert fold.startswith('<details class="gl fold"><summary><h2>More</h2></summary>')
    assert [word in fold for word in ("How to read it.", "first", "second", "Open", "third")] == [True] * 3 + [False] * 2


@pytest.mark.parametrize("name", ["wear_period", "study"])
def test_the_notebooks_are_committed_bare_with_parameters_and_without_logic(name):
    notebook = nbformat.read(pages.find_notebook(name), 4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert "parameters" in code[0].metadata.tags
    assert all(cell.outputs == [] and cell.execution_count is None for cell in code)
    assert len({cell.id for cell in notebook.cells}) == len(notebook.cells)
    for cell in code:
        assert not any(word in cell.source for word in ("def ", "for ", "while ", "groupby", "lambda"))


def test_a_notebook_that_is_not_installed_is_named():
    with pytest.raises(FileNotFoundError, match=r"nowhere\.ipynb is missing"):
        pages.find_notebook("nowhere")

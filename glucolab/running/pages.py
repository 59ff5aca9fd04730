"""How does a notebook become a page? Run once a wear, code folded away, one file that opens offline."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from importlib.resources import files
from pathlib import Path
from queue import Empty, Queue
from typing import TYPE_CHECKING

from glucolab.errors import Problem
from glucolab.running.kernels import Kernel
from glucolab.running.page_jobs import PageJob
from glucolab.running.unchanged import write_page

if TYPE_CHECKING:
    from nbformat import NotebookNode

AT_ONCE = 2
NOTEBOOK_ONLY = "notebook-only"
"""Tag of cells that stand in the notebook and not on the page."""


def find_notebook(name: str) -> Path:
    """Path of a notebook of the workbook, in a checkout or in an installed package.

    Raises
    ------
    FileNotFoundError
        If neither holds it.
    """
    package = Path(str(files("glucolab")))
    for folder in (package / "workbook", package.parent / "notebooks"):
        if (folder / f"{name}.ipynb").is_file():
            return folder / f"{name}.ipynb"
    raise FileNotFoundError(f"the notebook {name}.ipynb is missing from this installation of glucolab")


def run_pages(jobs: Sequence[PageJob], progress: Callable[[str], None]) -> list[Problem]:
    """Run notebooks, two at a time, and write ``notebook.ipynb`` and ``report.html`` of each.

    Each of the two has one kernel for all of its pages. A page that fails never stops the others; its tables stay.

    Parameters
    ----------
    jobs : sequence of PageJob
    progress : callable
        Called with a line of text as each page is done.

    Returns
    -------
    list of Problem
        One a page that could not be made.
    """
    from glucolab.showing.quick_altair import skip_slow_grammar

    skip_slow_grammar()
    import papermill  # noqa: F401  (once here: two threads importing it at once would wait for each other)

    waiting: Queue[tuple[int, PageJob]] = Queue()
    for place in enumerate(jobs):
        waiting.put(place)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        shares = [pool.submit(_run_some, waiting, progress) for _ in range(min(AT_ONCE, len(jobs)))]
        reasons = {place: reason for share in shares for place, reason in share.result().items()}
    return [
        Problem(f"{job.folder.name}/report.html", f"could not be made: {reasons[place]}")
        for place, job in enumerate(jobs)
        if reasons[place]
    ]


def _run_some(waiting: Queue[tuple[int, PageJob]], progress: Callable[[str], None]) -> dict[int, str]:
    """Make pages with one kernel as long as any wait; the reason why one failed by its place, empty if it did not."""
    reasons: dict[int, str] = {}
    with Kernel() as kernel:
        while True:
            try:
                place, job = waiting.get_nowait()
            except Empty:
                return reasons
            reasons[place] = reason = _run_page(kernel, job)
            progress(f"page of {job.title}: {'failed' if reason else 'done'}")


def _run_page(kernel: Kernel, job: PageJob) -> str:
    """Run one notebook and write its page; the reason if that failed, else empty."""
    from jupyter_client.kernelspec import NoSuchKernel
    from papermill.exceptions import PapermillExecutionError

    try:
        notebook = kernel.run(find_notebook(job.notebook), job.parameters, job.folder)
    except PapermillExecutionError as error:
        return f"{error.ename}: {error.evalue}".splitlines()[0]
    except NoSuchKernel as error:
        return f"Jupyter's kernel {error.name} is not installed"
    except (RuntimeError, TimeoutError) as error:
        return f"its kernel did not answer ({type(error).__name__})"
    write_page(job.folder, notebook, build_page(notebook, job.title), job.key)
    return ""


def build_page(notebook: NotebookNode, title: str) -> str:
    """The page of an executed notebook: its text and outputs, its code folded away at the end.

    Parameters
    ----------
    notebook : NotebookNode
        Executed.
    title : str
        Of the browser's tab.

    Returns
    -------
    str
        One HTML file without script or request.
    """
    from markupsafe import Markup

    from glucolab.showing.markup import explain_once, write_style

    shown = [cell for cell in notebook.cells if NOTEBOOK_ONLY not in cell.metadata.get("tags", [])]
    body = [Markup(explain_once("\n".join(_show_cell(cell) for cell in shown)))]
    code = [cell.source for cell in notebook.cells if cell.cell_type == "code"]
    return _page_template().render(title=title, body=body, code=code, style=Markup(write_style()))


@cache
def _page_template():
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    loader = FileSystemLoader(Path(__file__).parent / "templates")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True).get_template(
        "page.html"
    )


def _show_cell(cell: NotebookNode) -> str:
    from markupsafe import escape

    if cell.cell_type == "markdown":
        import mistune

        return f'<div class="gl text">{mistune.create_markdown(escape=True)(cell.source)}</div>'
    shown = []
    for output in cell.get("outputs", []):
        data = output.get("data", {})
        if "text/html" in data:
            shown.append(data["text/html"])
        elif "text/plain" in data and data["text/plain"].strip():
            shown.append(f'<pre class="gl">{escape(data["text/plain"])}</pre>')
    return "\n".join(shown)

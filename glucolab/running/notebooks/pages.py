"""How does a notebook become a page? Run once a wear, code folded away, one file that opens offline."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from functools import cache
from importlib.resources import files
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

from glucolab.errors import Problem, as_problem, write_trace
from glucolab.running.notebooks.kernels import Kernel
from glucolab.running.notebooks.page_jobs import PageJob
from glucolab.running.notebooks.reusable_pages import keep_unchanged, write_page

if TYPE_CHECKING:
    from jinja2 import Template
    from nbformat import NotebookNode

AT_ONCE = 2
NOTEBOOK_ONLY = "notebook-only"
"""Tag of cells that stand in the notebook and not on the page."""
FOLDED = "folded"
"""Tag of a text, beginning with a heading of the second level, that the page folds with what follows it."""
_FAILED = "could not be made"


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


class Pages:
    """The pages of a report, made two at a time while other work goes on; use it in one thread, as a context.

    Each of the two has one kernel for all of its pages, started with the first. A page that fails never stops the
    others; its tables stay. An error in the context ends the pages begun, and what still waits is not made.

    Parameters
    ----------
    earlier : Path or None
        A report whose pages are taken over where they would come out the same; None makes all anew.
    progress : callable
        Called with a line of text as each page is done.
    """

    def __init__(self, earlier: Path | None, progress: Callable[[str], None]) -> None:
        self._earlier, self._progress = earlier, progress
        self._jobs: list[PageJob] = []
        self._problems: dict[int, Problem] = {}
        self._waiting: SimpleQueue[int | None] = SimpleQueue()
        self._pool = ThreadPoolExecutor(AT_ONCE)
        self._kernels = [Kernel() for _ in range(AT_ONCE)]
        self._lines: list[Future[None]] = []
        self.unchanged = 0

    def __enter__(self) -> Pages:
        return self

    def __exit__(self, failed: type[BaseException] | None, *_: object) -> None:
        with suppress(Empty):
            while True:
                self._waiting.get_nowait()
        self._end_lines()
        if failed:
            self._progress = lambda text: None
            for kernel in self._kernels:
                kernel.kill()
        self._pool.shutdown()

    def add(self, job: PageJob) -> None:
        """Begin a page as soon as there is room, or take it over."""
        if self._earlier is not None and keep_unchanged(job, self._earlier):
            self.unchanged += 1
            return
        if not self._lines:
            self._begin()
        self._jobs.append(job)
        self._waiting.put(len(self._jobs) - 1)

    def wait(self) -> list[Problem]:
        """Wait for all pages: one problem a page that could not be made, in the order in which they were added.

        Raises
        ------
        OSError
            If a page cannot be written.
        """
        self._end_lines()
        for line in self._lines:
            line.result()
        return [self._problems[place] for place in sorted(self._problems)]

    def _begin(self) -> None:
        from glucolab.showing.quick_altair import skip_slow_grammar

        skip_slow_grammar()
        import papermill  # noqa: F401  (once here: two threads importing it at once would wait for each other)

        # of a kernel that died it logs an error, which stands in the reason of the page already
        logging.getLogger("papermill").addHandler(logging.NullHandler())
        self._lines = [self._pool.submit(self._run_some, kernel) for kernel in self._kernels]

    def _end_lines(self) -> None:
        for _ in self._lines:
            self._waiting.put(None)

    def _run_some(self, kernel: Kernel) -> None:
        """Make pages with one kernel until there are no more; note why one failed."""
        with kernel:
            while (place := self._waiting.get()) is not None:
                job = self._jobs[place]
                problem = _make_page(kernel, job)
                if problem is not None:
                    self._problems[place] = problem
                self._progress(f"page of {job.title}: {'failed' if problem else 'done'}")


def _make_page(kernel: Kernel, job: PageJob) -> Problem | None:
    """Run one notebook and write its page; the problem if that failed."""
    page = f"{job.folder.name}/report.html"
    try:
        return _run_page(kernel, job, page)
    except OSError:
        raise
    except Exception as error:  # a fault in one page never stops the others
        return as_problem(page, _FAILED, error)


def _run_page(kernel: Kernel, job: PageJob, page: str) -> Problem | None:
    """The same, where what may befall a kernel was foreseen."""
    from jupyter_client.kernelspec import NoSuchKernel
    from papermill.exceptions import PapermillExecutionError

    try:
        notebook = kernel.run(find_notebook(job.notebook), job.parameters, job.folder)
    except PapermillExecutionError as error:
        bare = f"{_FAILED}: {error.ename}: {error.evalue}".splitlines()[0]
        return kernel.explain(page, _FAILED) or Problem(page, bare)
    except NoSuchKernel as error:
        return Problem(page, f"{_FAILED}: Jupyter's kernel {error.name} is not installed")
    except (RuntimeError, TimeoutError) as error:
        text = f"{_FAILED}: its kernel did not answer ({type(error).__name__})"
        return Problem(page, text, trace=write_trace(error))
    write_page(job.folder, notebook, build_page(notebook, job.title), job.key)
    return None


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
    body = [Markup(explain_once("\n".join(_show_cells(shown))))]
    code = [cell.source for cell in notebook.cells if cell.cell_type == "code"]
    return _page_template().render(title=title, body=body, code=code, style=Markup(write_style()))


@cache
def _page_template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    loader = FileSystemLoader(Path(__file__).parent / "templates")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True).get_template(
        "page.html"
    )


def _show_cells(cells: Sequence[NotebookNode]) -> Iterator[str]:
    """Cells in order; a text that is folded takes what is shown up to the next text with it."""
    place = 0
    while place < len(cells):
        end = place + 1
        if FOLDED not in cells[place].metadata.get("tags", []):
            yield _show_cell(cells[place])
        else:
            while end < len(cells) and cells[end].cell_type == "code":
                end += 1
            yield _fold([_show_cell(cell) for cell in cells[place:end]])
        place = end


def _fold(shown: Sequence[str]) -> str:
    """A text that begins with a heading, and what follows it, behind that heading."""
    heading, end, rest = shown[0].partition("</h2>")
    opened = heading.replace('<div class="gl text">', '<details class="gl fold"><summary>', 1)
    inside = "\n".join([f'<div class="gl text">{rest}', *shown[1:]])
    return f"{opened}{end}</summary>{inside}</details>"


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

"""Which pages need not be made again? Those whose inputs, tables and program are as they were."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from glucolab.running.notebooks.page_jobs import PageJob

if TYPE_CHECKING:
    from nbformat import NotebookNode

NOTEBOOK, PAGE = "notebook.ipynb", "report.html"
_OURS = "glucolab"


def keep_unchanged(job: PageJob, earlier: Path) -> bool:
    """Take over the page of an earlier report if it would come out the same.

    Parameters
    ----------
    job : PageJob
    earlier : Path
        The report folder that will be replaced; it may not exist.

    Returns
    -------
    bool
        False if the page is still to be made.
    """
    if not _is_whole(earlier / job.folder.name, job.key):
        return False
    for name in (NOTEBOOK, PAGE):
        shutil.copy2(earlier / job.folder.name / name, job.folder / name)
    return True


def write_page(folder: Path, notebook: NotebookNode, page: str, key: str) -> None:
    """Write an executed notebook, which keeps what it was made from, and its page.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    import nbformat

    notebook.metadata[_OURS] = {"made_from": key, "page": hashlib.sha256(page.encode("utf-8")).hexdigest()}
    nbformat.write(notebook, folder / NOTEBOOK)
    (folder / PAGE).write_text(page, encoding="utf-8", newline="\n")


def _is_whole(folder: Path, key: str) -> bool:
    """True if a page was made from the same, and is as it was written."""
    try:
        notebook = json.loads((folder / NOTEBOOK).read_bytes())
        page = hashlib.sha256((folder / PAGE).read_bytes()).hexdigest()
    except (OSError, ValueError):  # missing or damaged: it is made anew
        return False
    made = notebook.get("metadata", {}).get(_OURS) if isinstance(notebook, dict) else None
    return made == {"made_from": key, "page": page}

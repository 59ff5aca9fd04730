"""Which kernel runs a notebook? One serves many in turn, emptied between them: starting one costs as much as a page."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from glucolab.errors import Problem

if TYPE_CHECKING:
    from jupyter_client.manager import AsyncKernelManager
    from nbformat import NotebookNode

CELL_TIMEOUT_S = 600
_EMPTY = "%reset -f\nimport os\nos.chdir({folder!r})"

_PYTHON = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
_EXPLAIN = """\
import dataclasses, json, sys
from glucolab.errors import as_problem
print(json.dumps(dataclasses.asdict(as_problem({file!r}, {failed!r}, sys.last_value))))
"""
"""What the kernel is asked when a cell has failed: it alone holds the error with its frames."""


class Kernel:
    """A Jupyter kernel that runs notebooks one after the other; use it in one thread, as a context.

    Started with the first notebook. One that does not answer is left, and the next notebook gets another.
    """

    def __init__(self) -> None:
        self._manager: AsyncKernelManager | None = None

    def __enter__(self) -> Kernel:
        return self

    def __exit__(self, *_: object) -> None:
        self._leave()

    def run(self, source: Path, parameters: dict[str, str], folder: Path) -> NotebookNode:
        """Run a notebook.

        Parameters
        ----------
        source : Path
            Of the notebook.
        parameters : dict
            For its parameters cell.
        folder : Path
            Where it works.

        Returns
        -------
        NotebookNode
            Executed, its cells numbered from 1, without paths, times and other traces of this machine.

        Raises
        ------
        papermill.exceptions.PapermillExecutionError
            If a cell fails.
        jupyter_client.kernelspec.NoSuchKernel
            If Jupyter's kernel is not installed.
        RuntimeError, TimeoutError
            If the kernel does not answer.
        """
        import nbformat

        notebook = nbformat.read(source, as_version=4)
        notebook.cells.insert(0, nbformat.v4.new_code_cell(_EMPTY.format(folder=str(folder)), id="empty"))
        return _tidy(self._execute(notebook, parameters, folder))

    def explain(self, file: str, failed: str) -> Problem | None:
        """Why the last notebook failed, in the words of :func:`glucolab.errors.as_problem`.

        Parameters
        ----------
        file, failed : str
            As there.

        Returns
        -------
        Problem or None
            None if the kernel cannot tell.
        """
        import nbformat
        from papermill.exceptions import PapermillExecutionError

        cell = nbformat.v4.new_code_cell(_EXPLAIN.format(file=file, failed=failed))
        try:
            asked = self._execute(nbformat.v4.new_notebook(cells=[cell], metadata=_PYTHON), {}, Path())
        except (PapermillExecutionError, RuntimeError, TimeoutError):
            return None
        return Problem(**json.loads(asked.cells[-1].outputs[0].text))

    def _execute(self, notebook: NotebookNode, parameters: dict[str, str], folder: Path) -> NotebookNode:
        import papermill
        from papermill.exceptions import PapermillExecutionError

        try:
            return papermill.execute_notebook(
                notebook, None, parameters=parameters, km=self._started(), progress_bar=False,
                request_save_on_cell_execute=False, resources={"metadata": {"path": str(folder)}},
                execution_timeout=CELL_TIMEOUT_S,
            )  # fmt: skip
        except PapermillExecutionError:
            raise  # a fault of the notebook: the kernel is sound
        except BaseException:
            self._leave()
            raise

    def kill(self) -> None:
        """End at once what it runs, with its process; from any thread."""
        from jupyter_core.utils import run_sync

        manager = self._manager
        if manager is not None and manager.provisioner is not None and manager.has_kernel:
            run_sync(manager.provisioner.kill)()

    def _started(self) -> AsyncKernelManager:
        """The kernel's manager; the kernel itself starts with the notebook."""
        if self._manager is None:
            from jupyter_client.manager import AsyncKernelManager
            from traitlets.config import Config

            # kernels talk over loopback: with keys of their own nobody else on this machine can listen in
            config = Config({"KernelManager": {"transport_encryption": "auto"}})
            self._manager = AsyncKernelManager(kernel_name="python3", config=config)
        return self._manager

    def _leave(self) -> None:
        from jupyter_core.utils import run_sync

        manager, self._manager = self._manager, None
        if manager is not None and manager.has_kernel:
            run_sync(manager.shutdown_kernel)(now=True)


def _tidy(notebook: NotebookNode) -> NotebookNode:
    notebook.cells = [cell for cell in notebook.cells if cell.get("id") != "empty"]
    for part in (notebook, *notebook.cells):
        part.metadata.pop("papermill", None)
        part.metadata.pop("execution", None)
        if "injected-parameters" in part.metadata.get("tags", []):
            part.id = "given"  # else drawn anew each time, and no two runs would write the same
    for number, cell in enumerate((cell for cell in notebook.cells if cell.cell_type == "code"), start=1):
        cell.execution_count = number
        for output in cell.outputs:
            if output.output_type == "execute_result":
                output.execution_count = number
    return notebook

"""Which kernel runs a notebook? One serves many in turn, emptied between them: starting one costs as much as a page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jupyter_client.manager import AsyncKernelManager
    from nbformat import NotebookNode

CELL_TIMEOUT_S = 600
_EMPTY = "%reset -f\nimport os\nos.chdir({folder!r})"


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
        import papermill
        from papermill.exceptions import PapermillExecutionError

        notebook = nbformat.read(source, as_version=4)
        notebook.cells.insert(0, nbformat.v4.new_code_cell(_EMPTY.format(folder=str(folder)), id="empty"))
        try:
            executed = papermill.execute_notebook(
                notebook, None, parameters=parameters, km=self._started(), progress_bar=False,
                request_save_on_cell_execute=False, resources={"metadata": {"path": str(folder)}},
                execution_timeout=CELL_TIMEOUT_S,
            )  # fmt: skip
        except PapermillExecutionError:
            raise  # a fault of the notebook: the kernel is sound
        except BaseException:
            self._leave()
            raise
        return _tidy(executed)

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

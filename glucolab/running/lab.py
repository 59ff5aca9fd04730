"""How is the workbook opened? JupyterLab at the folder that holds studies, notebooks and reports, asking nobody."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.running.notebooks.pages import find_notebook

FIRST_NOTEBOOK = "start_here"
"""The notebook that is open at first."""
NOTEBOOKS, EXAMPLE, REPORTS = "notebooks", "sample_data", "reports"
"""What the folder of a workbook holds beside the studies."""
SETTINGS = Path(__file__).parent / "lab_settings"
"""Defaults of the lab, which its user's own settings overrule: no news fetched, no look for updates."""


def prepare_folder(folder: Path, make: bool) -> list[Path]:
    """What the folder of a workbook lacks, put into it; nothing that is there is touched.

    Parameters
    ----------
    folder : Path
        Where studies, notebooks and reports lie side by side.
    make : bool
        Put the notebooks and the invented study into it where it has none.

    Returns
    -------
    list of Path
        What was made.

    Raises
    ------
    NothingToDo
        If it holds no notebooks and none are to be put there, or is no folder.
    """
    if folder.exists() and not folder.is_dir():
        raise NothingToDo(f"{folder} is a file: name a folder")
    made = []
    if not (folder / NOTEBOOKS / f"{FIRST_NOTEBOOK}.ipynb").is_file():
        if not make:
            raise NothingToDo(f"there are no notebooks in {folder.resolve()}: name a folder, and they are put into it")
        _copy_notebooks(folder / NOTEBOOKS)
        made.append(folder / NOTEBOOKS)
    if make and not (folder / EXAMPLE).exists():
        from glucolab.simulate.demo import write_demo

        (folder / EXAMPLE).mkdir()
        write_demo(folder / EXAMPLE)
        made.append(folder / EXAMPLE)
    if make and not (folder / REPORTS).exists():
        (folder / REPORTS).mkdir()
        made.append(folder / REPORTS)
    return made


def _copy_notebooks(there: Path) -> None:
    """Every notebook and its example files; what has the name of one already stays as it is."""
    source = find_notebook(FIRST_NOTEBOOK).parent
    for path in sorted(source.rglob("*")):
        target = there / path.relative_to(source)
        if path.is_file() and ".ipynb_checkpoints" not in path.parts and not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target)


def lab_command(folder: Path) -> list[str]:
    """The command that starts JupyterLab at a folder, its first notebook open and the list of files at the folder."""
    address = f"/lab/tree/{NOTEBOOKS}/{FIRST_NOTEBOOK}.ipynb?file-browser-path=/"
    places = [f"--ServerApp.root_dir={folder.resolve()}", f"--LabApp.default_url={address}"]
    return [sys.executable, "-m", "jupyterlab", *places]


def lab_environment() -> dict[str, str]:
    """The environment of that command: this one, with the defaults of `SETTINGS` behind the user's own."""
    known = os.environ.get("JUPYTER_CONFIG_PATH", "")
    return os.environ | {"JUPYTER_CONFIG_PATH": os.pathsep.join(filter(None, [str(SETTINGS), known]))}


def open_lab(folder: Path, browser: bool) -> int:
    """Run JupyterLab until it is stopped; the code with which it ended.

    Parameters
    ----------
    folder : Path
        Of :func:`prepare_folder`.
    browser : bool
        Open it in a browser too.
    """
    command = lab_command(folder) if browser else [*lab_command(folder), "--no-browser"]
    return subprocess.run(command, env=lab_environment(), check=False).returncode

"""Which pages has a report? A notebook to run for each, and what it is made from."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from glucolab.running.notebooks.fingerprint import fingerprint, fingerprint_study, fingerprint_wear
from glucolab.running.tables import SO_FAR_FOLDER, STUDY_FOLDER


@dataclass(frozen=True)
class PageJob:
    """One notebook to run: for a wear, or for the study; `key` tells what it is made from."""

    notebook: str
    folder: Path
    title: str
    parameters: dict[str, str]
    key: str


def plan_wear_page(study: Path, new: Path, wear: str) -> PageJob:
    """The page of one wear, with paths relative to the folder it ends in.

    Parameters
    ----------
    study : Path
        The study folder.
    new : Path
        The folder being filled, beside the one it will replace; the wear's tables are there already.
    wear : str
        Name of its folder.

    Returns
    -------
    PageJob
    """
    return _plan_page("wear_period", study, new / wear, wear, fingerprint_wear(study, wear), wear=wear, so_far=SO_FAR_FOLDER)


def plan_study_page(study: Path, new: Path) -> PageJob:
    """The page of all wears; see :func:`plan_wear_page`."""
    title = f"{study.resolve().name}, all wears"
    return _plan_page("study", study, new / STUDY_FOLDER, title, fingerprint_study(study))


def _plan_page(notebook: str, study: Path, folder: Path, title: str, read: str, **more: str) -> PageJob:
    """A page that is to lie beside tables which are there already."""
    parameters = {"study": _relative(study, folder), **more, "out": ".."}
    made_from = repr((read, fingerprint([folder], folder), title, parameters))
    return PageJob(notebook, folder, title, parameters, hashlib.sha256(made_from.encode()).hexdigest())


def _relative(study: Path, folder: Path) -> str:
    """The way from a page's folder to the study; the whole path where there is none (another drive)."""
    try:
        return Path(os.path.relpath(study.resolve(), folder)).as_posix()
    except ValueError:
        return str(study.resolve())

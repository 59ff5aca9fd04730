"""What is installed beside the core? The one place that says which extra something needs, and how to get it."""

from __future__ import annotations

from importlib.util import find_spec

from glucolab.errors import NothingToDo

EXTRA_MODULES = {
    "pages": ("altair", "ipykernel", "jinja2", "markupsafe", "nbformat", "papermill", "sklearn", "vl_convert"),
    "bring": ("babel", "defusedxml", "openpyxl"),
    "workbook": ("anywidget", "ipywidgets", "jupyterlab"),
    "many": ("polars",),
    "cluster": ("distributed",),
    "docs": ("pdoc", "pygments"),
}
"""Modules that each extra of `pyproject.toml` brings itself; `workbook` brings those of `pages` and `bring` too."""
_BRINGS_TOO = {"workbook": ("pages", "bring"), "cluster": ("many",), "docs": ("pages",)}


class MissingExtra(NothingToDo, ImportError):
    """What was asked for needs an extra that is not installed: the sentence says what to type."""


def want_extra(extra: str, why: str) -> None:
    """Refuse in a sentence, before any work, where an extra is not installed; nothing is imported.

    Parameters
    ----------
    extra : str
        Of `EXTRA_MODULES`.
    why : str
        How the sentence begins, ``the pages are drawn with Altair``.

    Raises
    ------
    MissingExtra
        If a module of the extra, or of one that it brings, is not there.
    """
    modules = [name for one in (extra, *_BRINGS_TOO.get(extra, ())) for name in EXTRA_MODULES[one]]
    if any(find_spec(name) is None for name in modules):
        raise MissingExtra(f"{why}: {_say_install(extra)}")


def say_missing(error: ModuleNotFoundError) -> str | None:
    """What to type for a module that an extra brings; None for any other, whose absence is a fault."""
    root = (error.name or "").partition(".")[0]
    extra = next((extra for extra, modules in EXTRA_MODULES.items() if root in modules), None)
    return f"{root} is not installed: {_say_install(extra)}" if extra else None


def _say_install(extra: str) -> str:
    return f"pip install 'glucolab[{extra}]'"

"""What does each public function do? The reference of `import glucolab as gl` as one page that opens offline."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from markupsafe import Markup

from glucolab.bibliography import BIBLIOGRAPHY
from glucolab.measuring.cautions import ALWAYS
from glucolab.running.output_file import replace_text, want_target

_MARK = "<!-- glucolab: reference of the library -->"
_PAGE = "index.html"
_REFERENCE = re.compile(r"^\.\. \[\d+\] ", re.MULTILINE)
_EXCEPTION = "What is raised"


@dataclass(frozen=True)
class Described:
    """One name of the face: where to jump, how it is called, what it does as HTML."""

    anchor: str
    signature: str
    html: Markup
    methods: tuple[Described, ...] = ()


def write_reference(folder: Path) -> Path:
    """Write the page of every public name, with its parameters, limits, sources and an example.

    Parameters
    ----------
    folder : Path
        Made if it is not there; an earlier page in it is replaced.

    Returns
    -------
    Path
        The page.

    Raises
    ------
    NothingToDo
        If another file stands in its place.
    """
    from glucolab.showing.markup import fill_template, write_style

    convert = _import_converter()
    folder.mkdir(parents=True, exist_ok=True)
    page = folder / _PAGE
    want_target(page, None, _MARK, "reference made by glucolab reference")
    import glucolab as face

    groups = list(_gather(face, convert))
    html = fill_template(
        "reference.html", mark=Markup(_MARK), style=Markup(write_style()), version=face.__version__,
        lead=Markup(convert(inspect.getdoc(face) or "")), groups=groups, sources=BIBLIOGRAPHY, cautions=ALWAYS,
        colours=Markup(_write_code_colours()),
    )  # fmt: skip
    replace_text(page, html)
    return page


def _import_converter() -> Callable[[str], str]:
    """What turns a numpydoc docstring into HTML."""
    from pdoc import docstrings, render_helpers

    def convert(doc: str) -> str:
        listed = _REFERENCE.sub("* ", doc)
        return str(render_helpers.to_html(docstrings.convert(listed, "numpy", None)))

    return convert


def _write_code_colours() -> str:
    from pygments.formatters import HtmlFormatter

    return str(HtmlFormatter(style="default").get_style_defs(".pdoc-code"))


def _gather(face: ModuleType, convert: Callable[[str], str]) -> Iterator[tuple[str, list[Described]]]:
    """Groups of the page: functions, those of the face's modules, what they take and give, what they raise."""
    offered = {name: getattr(face, name) for name in face.__all__}
    modules = {name: found for name, found in offered.items() if inspect.ismodule(found)}
    classes = {name: found for name, found in offered.items() if inspect.isclass(found)}
    raised = {name: found for name, found in classes.items() if issubclass(found, Exception)}
    functions = {name: found for name, found in offered.items() if name not in {*modules, *classes}}
    yield "Stages and the whole", [_describe(f"gl.{name}", found, convert) for name, found in functions.items()]
    for room, module in modules.items():
        named = {name: getattr(module, name) for name in module.__all__}
        called = [(name, found) for name, found in named.items() if callable(found)]
        yield f"gl.{room}", [_describe(f"gl.{room}.{name}", found, convert) for name, found in called]
    kept = {name: found for name, found in classes.items() if name not in raised}
    yield "What they take and give", [_describe(f"gl.{name}", found, convert) for name, found in kept.items()]
    yield _EXCEPTION, [_describe(f"gl.{name}", found, convert) for name, found in raised.items()]


def _describe(name: str, found: Any, convert: Callable[[str], str]) -> Described:
    """A function, or a class with its public methods and properties."""
    doc = inspect.getdoc(found) or ""
    methods = tuple(
        Described(f"{name}.{method}", _sign(f".{method}", own), Markup(convert(inspect.getdoc(own) or "")))
        for method, own in (vars(found).items() if inspect.isclass(found) else ())
        if not method.startswith("_") and (inspect.isfunction(own) or isinstance(own, property))
    )
    return Described(name, _sign(name, found), Markup(convert(doc)), methods)


def _sign(name: str, found: Any) -> str:
    """The name as it is called; of an exception or a property the name alone."""
    if isinstance(found, property) or (inspect.isclass(found) and issubclass(found, Exception)):
        return name
    return f"{name}{inspect.signature(found)}".replace("'", "")

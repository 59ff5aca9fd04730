"""What does the face offer? Its functions, those of its modules among them, by the name that a user types."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from typing import Any

import glucolab as gl

SECTION = re.compile(r"^(?P<name>[A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)


def find_functions() -> dict[str, Callable[..., Any]]:
    """Public functions: those of `gl.__all__`, and those of the modules that it names."""
    names = {f"gl.{name}": getattr(gl, name) for name in gl.__all__}
    for room in ("charts", "simulate"):
        module = getattr(gl, room)
        names |= {f"gl.{room}.{name}": getattr(module, name) for name in module.__all__}
    return {name: found for name, found in names.items() if is_function(found)}


def is_function(found: object) -> bool:
    """True also of one that keeps its answers."""
    return inspect.isfunction(inspect.unwrap(found)) if callable(found) and not inspect.isclass(found) else False


def find_sections(function: Callable[..., Any]) -> set[str]:
    """The headings of a numpydoc docstring."""
    return {found["name"] for found in SECTION.finditer(inspect.getdoc(function) or "")}

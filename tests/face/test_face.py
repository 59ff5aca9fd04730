"""Is everything under one name, told to editors and type checkers, and loaded only where it is used?"""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import glucolab as gl

PACKAGE = Path(gl.__file__).parent


def test_every_name_that_is_offered_can_be_had():
    assert len(gl.__all__) == len(set(gl.__all__))
    for name in gl.__all__:
        assert getattr(gl, name).__doc__, name


def test_completion_lists_what_is_offered_and_nothing_else():
    assert dir(gl) == sorted([*gl.__all__, "__version__"])


def test_a_name_that_is_not_offered_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'analyze_wear'"):
        gl.analyze_wear  # noqa: B018


def test_type_checkers_see_the_same_names_from_the_same_homes():
    """`__init__.pyi` names each home once more, since a type checker runs no `__getattr__`."""
    tree = ast.parse((PACKAGE / "__init__.pyi").read_text(encoding="utf-8"))
    seen = {alias.asname: node.module for node in tree.body if isinstance(node, ast.ImportFrom) for alias in node.names}
    assert set(seen) == set(gl.__all__)
    wrong = [name for name, home in seen.items() if getattr(sys.modules[home], name) is not getattr(gl, name)]
    assert not wrong
    assert (PACKAGE / "py.typed").exists()


@pytest.mark.parametrize(
    ("used", "not_loaded"),
    [
        ("gl.glucose_to_mg_dl", ("pandas", "numpy", "scipy", "altair")),
        ("gl.wear_from_frame", ("scipy", "altair", "sklearn")),
        ("gl.clean_wear, gl.estimate_trace", ("altair", "sklearn", "jinja2")),
        ("gl.analyse_study", ("altair", "sklearn", "jinja2", "IPython")),
    ],
)
def test_a_name_loads_no_more_than_it_uses(used, not_loaded):
    code = f"import sys, glucolab as gl\n{used}\nprint([name for name in {not_loaded} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    assert done.stdout.strip() == "[]"


def test_help_shows_the_docstring_of_what_is_offered():
    code = "import glucolab as gl\nhelp(gl.clean_wear)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    assert "Flag a wear's readings" in done.stdout

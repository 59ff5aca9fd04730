"""Is the reference one page of every public function, offline, and is nothing else written over?"""

from __future__ import annotations

import re
import sys

import pytest

import glucolab as gl
from glucolab.bibliography import BIBLIOGRAPHY
from glucolab.measuring.cautions import ALWAYS
from glucolab.running.cli import main
from tests.face.offered import find_functions


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reference") / "new"
    assert main(["reference", "--into", str(folder)]) == 0
    assert [path.name for path in folder.iterdir()] == ["index.html"]
    return (folder / "index.html").read_text(encoding="utf-8")


def test_every_public_name_is_on_it_and_led_to(page):
    places = set(re.findall(r'id="([^"]+)"', page))
    named = {f"gl.{name}" for name in gl.__all__ if name not in ("charts", "simulate")}
    assert named | set(find_functions()) <= places
    assert set(re.findall(r'href="#([^"]+)"', page)) <= places


def test_it_loads_nothing_from_anywhere(page):
    assert not re.findall(r"(?:src|href)=\"(?!#)[^\"]*\"|url\(|@import|<script", page)
    assert "default-src 'none'" in page


def test_it_holds_the_sources_and_the_cautions(page):
    text = page.replace("&amp;", "&").replace("&#39;", "'")
    assert all(source in text for source in BIBLIOGRAPHY)
    assert all(caution in text for caution in ALWAYS)


def test_sections_examples_and_references_are_told_apart(page):
    own = page.split('id="gl.estimate_trace"')[1].split("<h3")[0]
    assert re.findall(r"<h6[^>]*>(\w+)</h6>", own) == [
        "Parameters",
        "Returns",
        "Raises",
        "Notes",
        "References",
        "Examples",
    ]
    assert "<li>Basu et al., Diabetes 2013;62:4083-4087.</li>" in own


def test_an_earlier_reference_is_replaced_and_nothing_else(tmp_path, capsys):
    assert main(["reference", "--into", str(tmp_path)]) == 0
    assert main(["reference", "--into", str(tmp_path)]) == 0
    (tmp_path / "index.html").write_text("mine")
    assert main(["reference", "--into", str(tmp_path)]) == 2
    assert "is no reference made by glucolab reference" in capsys.readouterr().err
    assert (tmp_path / "index.html").read_text() == "mine"


def test_without_what_makes_it_the_extra_is_named(tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "pdoc", None)
    assert main(["reference", "--into", str(tmp_path)]) == 2
    assert "pip install 'glucolab[docs]'" in capsys.readouterr().err

"""Does every public function say what goes in, what comes out, where it comes from, and show itself at work?"""

from __future__ import annotations

import doctest
import inspect
import re

import pytest

from glucolab.bibliography import BIBLIOGRAPHY
from tests.face.offered import find_functions, find_sections

FUNCTIONS = find_functions()
LEAST = {"Parameters": 1.0, "Returns": 0.9, "Examples": 0.95, "References": 0.6}
"""Share of the public functions that need each section."""
QUOTED = re.compile(r"^\.\. \[\d+\] (?P<text>.*(?:\n {3,}.*)*)", re.MULTILINE)
PARAMETER = re.compile(r"^(?P<names>\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: :|$)", re.MULTILINE)


def test_there_are_public_functions():
    assert len(FUNCTIONS) > 50


@pytest.mark.parametrize("section", LEAST)
def test_enough_of_them_have_the_section(section):
    nothing_to_say = {name for name, function in FUNCTIONS.items() if not inspect.signature(function).parameters}
    spared = nothing_to_say if section == "Parameters" else set()
    without = [name for name in set(FUNCTIONS) - spared if section not in find_sections(FUNCTIONS[name])]
    share = 1 - len(without) / len(FUNCTIONS)
    assert share >= LEAST[section], f"{section} in {share:.0%}; without: {', '.join(without)}"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_its_parameters_are_those_it_has(name):
    doc = inspect.getdoc(FUNCTIONS[name]) or ""
    part = doc.partition("Parameters\n----------\n")[2].split("\n\n")[0]
    told = {one.strip("* ") for found in PARAMETER.finditer(part) for one in found["names"].split(",")}
    assert told == set(inspect.signature(FUNCTIONS[name]).parameters)


def quoted_by(function: object) -> list[str]:
    return [" ".join(found["text"].split()) for found in QUOTED.finditer(inspect.getdoc(function) or "")]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_its_references_are_in_the_bibliography(name):
    strange = [text for text in quoted_by(FUNCTIONS[name]) if text not in BIBLIOGRAPHY]
    assert not strange, "write it once in glucolab/bibliography.py, and quote it word for word"


def test_the_bibliography_holds_nothing_that_nobody_quotes():
    quoted = {text for function in FUNCTIONS.values() for text in quoted_by(function)}
    assert set(BIBLIOGRAPHY) == quoted
    assert list(BIBLIOGRAPHY) == sorted(BIBLIOGRAPHY)


@pytest.mark.parametrize("name", [name for name, found in FUNCTIONS.items() if ">>>" in (found.__doc__ or "")])
def test_its_examples_run(name):
    function = inspect.unwrap(FUNCTIONS[name])
    finder = doctest.DocTestFinder(recurse=False)
    (test,) = finder.find(function, name, globs={})
    told: list[str] = []
    result = doctest.DocTestRunner(optionflags=doctest.IGNORE_EXCEPTION_DETAIL).run(test, out=told.append)
    assert not result.failed, "".join(told)

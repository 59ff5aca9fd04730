"""Do the scripts of the library's page run as they stand there, and print what stands below them?"""

from __future__ import annotations

import pytest

from tests.face.page import PAGE, find_scripts, run_script

SCRIPTS = find_scripts(PAGE.read_text(encoding="utf-8"))


def test_the_page_has_its_six_scripts_and_the_first_is_of_fifteen_lines():
    assert list(SCRIPTS) == ["whole", "errors", "cleaning", "effect", "trial", "hundred"]
    assert len(SCRIPTS["whole"][0].strip().splitlines()) <= 15


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_prints_what_the_page_shows(name, tmp_path):
    code, answer = SCRIPTS[name]
    assert run_script(code, tmp_path) == answer, "after a change that is meant: python -m tests.face"
    if name == "whole":
        assert (tmp_path / "effects.svg").read_text(encoding="utf-8").startswith("<svg")

"""Do two `bring`s and an editor lose nothing of each other? Some tries of ``python -m tests.faults.lost_edits``."""

from __future__ import annotations

import os

import pytest

from tests.faults.lost_edits import Racing


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks processes that have everything imported")
def test_two_brings_an_editor_and_a_kill_lose_nothing(tmp_path):
    racing = Racing(tmp_path, seed=5)
    assert [racing.race_once(number) for number in range(8)] == ["nothing lost"] * 8

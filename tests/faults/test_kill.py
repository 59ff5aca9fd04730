"""Does a killed `report` leave a whole report and nothing running? Three moments of ``python -m tests.faults.kill``."""

from __future__ import annotations

import sys
import time

import pytest

from tests.faults.kill import GOOD, Killing, kernels_of


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc to see what is still running")
def test_a_report_killed_at_three_moments_is_whole_and_the_next_run_succeeds(tmp_path):
    killing = Killing(tmp_path)
    assert killing.pictures[0] != killing.pictures[1], "else neither could be told from the other"
    for share in (0.15, 0.6, 0.95):
        assert killing.kill_once(share * killing.took) in GOOD
    assert sorted(path.name for path in killing.out.parent.iterdir()) == ["out"]
    until = time.monotonic() + 20
    while kernels_of(killing.out) and time.monotonic() < until:
        time.sleep(0.2)
    assert kernels_of(killing.out) == 0

"""Are real people's checks, left out, predicted better than by the raw sensor?

ShanghaiT2DM: Zhao et al., Scientific Data 2023, figshare 10.6084/m9.figshare.21600933; all 22 wears with ten checks or
more: `python -m tests.known_truth.held_out`, error ratio 0.66.
"""

from __future__ import annotations

import pandas as pd

from glucolab.reading.folder import read_study
from tests.known_truth.held_out import error_ratio, predict_left_out, write_study

WEARS = 8


def test_left_out_checks_are_predicted_better_than_by_the_raw_sensor(open_data, tmp_path):
    write_study(open_data("finger_sticks"), tmp_path, WEARS)
    found = [predict_left_out(wear) for wear in read_study(tmp_path).wears]
    assert len(found) == WEARS
    everything = pd.concat(found)
    assert len(everything) > 150
    assert error_ratio(everything) < 0.85
    assert sum(error_ratio(part) < 1 for part in found) >= 6

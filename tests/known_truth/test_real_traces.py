"""Would a break of the estimators show on real people? A small run of the judge made of real traces.

The full table is `python -m tests.known_truth.real_traces`. Bounds here are such that chance hardly passes them, and
intervals narrowed to two fifths are tried against each of them.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.known_truth.real_traces.clocks import LOG, MOVED, SENSORS
from tests.known_truth.real_traces.few import (
    FEW,
    GROUPS,
    PINNED,
    find_broken,
    find_moved,
    narrow,
    run_few,
    tabulate_few,
)
from tests.known_truth.real_traces.halves import HALVES_BETWEEN, ITSELF, LIVED, name_kind
from tests.known_truth.real_traces.judging import PARTS, list_bounds
from tests.known_truth.real_traces.recordings import MISSING, find_root, read_people
from tests.known_truth.real_traces.rows import Row, keep_known
from tests.known_truth.real_traces.two_sensors import BETWEEN
from tests.known_truth.real_traces.written_more import COFFEE, JUDGED, MODERATE


@pytest.fixture(scope="module")
def judged():
    """All parts of a few people, each drawn once: every row."""
    root = find_root()
    people = read_people(root, max(FEW.values()))
    if not people:
        pytest.skip(MISSING.format(root=root))
    return run_few(people)


def of_kind(rows: list[Row], kind: str, figure: str | None = None) -> pd.DataFrame:
    """The rows of kinds that begin so."""
    found = [row for row in rows if row.kind.startswith(kind) and figure in (None, row.figure)]
    return keep_known(pd.DataFrame(found, columns=Row._fields))


def test_every_part_was_judged(judged):
    assert {row.kind[0] for row in judged} == set(PARTS)
    assert {(bound.kind, bound.figure) for bound in list_bounds()} <= {(row.kind, row.figure) for row in judged}
    assert all(row.low <= row.estimate <= row.high for row in judged if np.isfinite(row.low))


def test_intervals_hold_what_they_must(judged):
    assert find_broken(judged) == {}


def test_intervals_of_two_fifths_are_seen_in_every_group(judged):
    assert find_broken(narrow(judged, 0.4)).keys() == GROUPS.keys()


def test_half_widths_are_as_kept(judged):
    moved = find_moved(pd.read_csv(PINNED), tabulate_few(judged))
    assert not moved, "\n".join(moved)


@pytest.mark.parametrize("by", [0.6, 0.95, 1.05])
def test_other_widths_are_seen_in_every_figure(judged, by):
    kept = tabulate_few(judged)
    assert len(find_moved(kept, tabulate_few(narrow(judged, by)))) == (kept["half"] > 0).sum()
    assert find_moved(kept, kept) == []
    assert len(find_moved(kept, kept[1:])) == 1


def test_checks_narrow_the_mean(judged):
    two, _, twelve, _ = ((rows["high"] - rows["low"]).mean() for rows in (of_kind(judged, k, "mean") for k in BETWEEN))
    assert twelve < 0.9 * two


def test_a_planted_change_is_never_called_the_other_way(judged):
    for kind in (ITSELF, HALVES_BETWEEN):
        changed = of_kind(judged, name_kind(kind, 20.0), LIVED)
        assert set(np.sign(changed["truth"])) == {-1, 1}
        assert not (changed["verdict"] == np.where(changed["truth"] < 0, "higher", "lower")).any()


def test_what_was_planted_has_its_sign(judged):
    planted = of_kind(judged, "e: ")
    assert len(planted) >= 6
    assert (np.sign(planted["estimate"]) == np.sign(planted["truth"])).all()


def test_hours_missing_leave_the_mean_near(judged):
    filled = of_kind(judged, "f: a fifth", "mean, filling alone")
    assert len(filled) == 2
    assert filled["estimate"].abs().max() < 4


def test_a_clock_moved_by_an_hour_is_told(judged):
    for kind in (LOG, SENSORS):
        moved = of_kind(judged, kind, MOVED)
        assert len(moved) >= 2
        assert (moved["verdict"] == np.where(moved["truth"] > 0, "higher", "lower")).all()


def test_writing_more_costs_no_meal(judged):
    for kind in (MODERATE, COFFEE):
        kept = of_kind(judged, kind, JUDGED)
        assert len(kept) == 2
        assert (kept["estimate"] == kept["truth"]).all()
        assert (kept["truth"] > 5).all()

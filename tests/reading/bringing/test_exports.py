"""Do tables in shapes that nobody designed for come in right, or are they refused or asked about?

The tables in `exports` are invented, written from a list of shapes that programs are known to export (languages,
alphabets, orders of dates, clocks, units, headers, totals), without looking at how they are read. `expected.json` says
of each what is hard about it, and what should come of it: ``read``, with rows that must be among those that come in;
``refuse``, where two readings are possible or it is no such table: refused or asked; ``either``.
"""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.preview import Bringing, bring_file

EXPORTS = Path(__file__).parent / "exports"
EXPECTED = json.loads((EXPORTS / "expected.json").read_text(encoding="utf-8"))
KEYS = {"days": "date", "labs": "analyte", "sleep": "start", "activity": "start"}
KJ_ROUNDING = 0.5
"""The expected kcal are whole numbers."""


@pytest.fixture
def wear_for(tmp_path):
    """A function that makes the wear that a table belongs to."""

    def make(wanted: dict) -> Path:
        wear = tmp_path / "study" / "wear_periods" / "wear"
        wear.mkdir(parents=True)
        (tmp_path / "study" / "study.toml").write_text(f'[person]\ntime_zone = "{wanted["zone"]}"\n')
        start, end = wanted["start"], wanted["end"]
        lines = [f"start = {start}T00:00:00", f"end = {end}T23:59:00", f'unit = "{wanted["unit"]}"']
        (wear / "wear.toml").write_text("\n".join(lines) + "\n")
        return wear

    return make


def as_meant(name: str, value: object, zone: str) -> object:
    """A cell as what it means: an instant, a number or a word."""
    if name in ("time", "start", "end"):
        moment = pd.Timestamp(str(value))
        return moment.tz_localize(zone, ambiguous=True) if moment.tz is None else moment.tz_convert(zone)
    try:
        return float(str(value))
    except ValueError:
        return str(value).strip().lower()


def is_same(name: str, one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return one == pytest.approx(other, abs=KJ_ROUNDING if name == "energy_kcal" else 0.051, rel=1e-6)
    return one == other


def test_every_table_has_an_expectation():
    assert {path.name for path in EXPORTS.iterdir()} == {*EXPECTED, "expected.json"}
    assert sum(one["should"] == "read" for one in EXPECTED.values()) >= 28


def bring_or_say(name: str, wear: Path) -> tuple[Bringing | None, str]:
    """What a table would bring, or why it does not."""
    try:
        return bring_file(EXPORTS / name, wear), ""
    except (NothingToDo, UnsettledError) as reason:
        return None, str(reason)


@pytest.mark.parametrize("name", EXPECTED)
def test_a_table_comes_in_right_or_is_refused_with_the_reason(name, wear_for):
    wanted = EXPECTED[name]
    bringing, reason = bring_or_say(name, wear_for(wanted))
    if bringing is None:
        assert wanted["should"] != "read", reason
        assert len(reason.split()) > 5
        return
    assert wanted["should"] != "refuse", wanted["why"]
    (added,) = bringing.added
    assert added.table == wanted["table"]
    assert len(added.new) in wanted["counts"]
    key = KEYS.get(added.table, "time")
    for row in wanted["rows"]:
        meant = {column: as_meant(column, value, wanted["zone"]) for column, value in row.items()}
        near = [
            {column: as_meant(column, found[column], wanted["zone"]) for column in row}
            for _, found in added.new.iterrows()
            if as_meant(key, found[key], wanted["zone"]) == meant[key]
        ]
        assert any(all(is_same(column, one[column], meant[column]) for column in row) for one in near), (row, near)

"""Would a break of the estimators show? A small calibration on invented wearers, with bounds that chance hardly passes.

The full table is `python -m tests.known_truth`; the bounds here are wide: of intervals that hold nine times in ten,
fewer
than the number asked for are found in under one run of two hundred.
"""

from __future__ import annotations

import pytest

from tests.known_truth.pinned import (
    LOWER,
    STUDIES,
    UNCHANGED,
    WEARS,
    as_wide_as,
    find_differences,
    read_pinned,
    run_few,
    run_kind,
    summarise,
    tabulate,
)
from tests.known_truth.table import summarise_claims, summarise_figures, summarise_flags, summarise_studies
from tests.known_truth.tables_page import CALIBRATION, LEAST_HOLD, LIMITS, write_known_truth

SIX_EACH = [kind for kind, n in WEARS.items() if n == 6]


@pytest.fixture(scope="module")
def few():
    """Figures, flags and claims of a few invented wears and studies, which all tests here share."""
    return run_few()


@pytest.fixture(scope="module")
def wears(few):
    """Six wears each of three kinds: figures and flags."""
    return tuple(table[table["kind"].isin(SIX_EACH)] for table in few[:2])


@pytest.fixture(scope="module")
def studies(few):
    """Eight studies of two wears in which nothing changed, four with a true drop of 12 mg/dL."""
    return tuple(few[2][few[2]["kind"] == kind] for kind in (UNCHANGED, LOWER))


@pytest.mark.parametrize("kind", WEARS | STUDIES)
def test_widths_and_biases_are_as_pinned(kind):
    kept = read_pinned()
    differences = find_differences(kept[kept["kind"] == kind], tabulate(*run_kind(kind)))
    assert not differences, summarise(differences)


def test_pins_are_many_and_see_a_tenth():
    kept = read_pinned()
    assert len(kept) > 150
    for by in (0.9, 1.1):
        widths = [text for text in find_differences(kept, as_wide_as(kept, by)) if ": width " in text]
        assert len(widths) == kept["width"][~kept["figure"].str.startswith("flag ")].notna().sum()


@pytest.mark.parametrize("figure", ["mean", "usual mean", "bias", "overnight mean"])
def test_intervals_hold_the_truth(wears, figure):
    rows = wears[0][wears[0]["figure"] == figure].dropna(subset=["low", "high"])
    held = rows["truth"].between(rows["low"], rows["high"])
    assert len(rows) >= 15
    assert held.sum() >= len(rows) - 6


def test_checks_bring_the_mean_nearer_and_narrow_it(wears):
    table = summarise_figures(wears[0]).set_index(["kind", "figure"])
    assert table.loc[("6 checks", "mean"), "ratio"] < 0.8
    assert table.loc[("6 checks", "mean"), "width"] < 0.6 * table.loc[("no checks", "mean"), "width"]
    assert table.loc[("no checks", "mean"), "width"] > 15


def test_rises_are_not_inflated_by_noise(wears):
    table = summarise_figures(wears[0]).set_index(["kind", "figure"])
    for kind in ("6 checks", "no checks"):
        row = table.loc[(kind, "meal rise")]
        assert row["n"] > 60
        assert abs(row["bias"]) < 6
        assert row["ratio"] < 1.0
        assert row["hold"] > 0.7


def test_cleaning_finds_what_is_wrong_and_leaves_the_rest(wears):
    table = summarise_flags(wears[1]).set_index(["kind", "flag"])
    assert table.loc[("6 checks", "lost"), "lost"] < 0.004
    assert table.loc[("6 checks", "stuck"), "recall"] > 0.8
    assert table.loc[("6 checks", "pressure"), "recall"] > 0.35
    assert table.loc[("6 checks", "pressure"), "faulty"] > 0.85


def test_no_change_is_seldom_claimed_and_a_large_one_not_missed(studies):
    unchanged, lower = (claims[claims["what"] == "difference"] for claims in studies)
    assert unchanged["verdict"].isin(["lower", "higher"]).sum() <= 3
    assert (lower["verdict"] == "higher").sum() == 0
    both = [
        *unchanged["truth"].between(unchanged["low"], unchanged["high"]),
        *lower["truth"].between(lower["low"], lower["high"]),
    ]
    assert sum(both) >= len(both) - 5


def test_effects_are_scored_against_their_truth(studies):
    table = summarise_claims(studies[0])
    effects = table[table["kind"] == "any with effects"]
    assert len(effects) > 10
    assert (effects["hold"] * effects["n"]).sum() > 0.6 * effects["n"].sum()
    assert (effects["wrong_way"].fillna(0) * effects["n"]).sum() <= 3


def test_the_pages_print_what_was_measured(wears, studies, tmp_path):
    for name in (CALIBRATION, LIMITS):
        (tmp_path / name).write_text("before\n<!-- known truth: begin -->\nold\n<!-- known truth: end -->\nafter\n")
    page = tmp_path / CALIBRATION
    figures = summarise_figures(wears[0])
    of_studies = summarise_studies(wears[0], studies[0])
    write_known_truth(tmp_path, figures, summarise_flags(wears[1]), of_studies, summarise_claims(studies[0]))
    text = page.read_text()
    assert text.startswith("before\n")
    assert text.endswith("after\n")
    assert "old" not in text.split()
    row = figures.set_index(["kind", "figure"]).loc[("6 checks", "mean")]
    assert f"| 6 checks | mean | {int(row['n'])} | 0 | {row['bias']:.3g} | {row['ratio']:.3g} |" in text
    seldom = figures[figures["hold"].round(2) < LEAST_HOLD]
    told = (tmp_path / LIMITS).read_text()
    assert len(seldom) > 0
    assert all(f"{row.kind} {row.hold:.2f}" in told for row in seldom.itertuples())


def test_a_page_without_a_place_for_it_is_left_alone(wears, tmp_path):
    page = tmp_path / CALIBRATION
    page.write_text("nothing here\n")
    with pytest.raises(ValueError, match="no place for it"):
        write_known_truth(tmp_path, summarise_figures(wears[0]), summarise_flags(wears[1]), wears[1][:0], wears[1][:0])
    assert page.read_text() == "nothing here\n"

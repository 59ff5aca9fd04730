"""Does the judge made of real traces count rightly? Its rows summed up by hand, kept in a file and printed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.known_truth.real_traces.__main__ import main
from tests.known_truth.real_traces.judging import hold_against, list_bounds
from tests.known_truth.real_traces.recordings import Recorded
from tests.known_truth.real_traces.rows import (
    NOTHING,
    Row,
    find_error,
    find_share_error,
    find_spread,
    read_rows,
    subtract,
    summarise,
    weigh,
    write_rows,
)
from tests.known_truth.real_traces.two_sensors import AGREE, make_rng
from tests.known_truth.tables_page import CALIBRATION, LIMITS, write_real_traces


def a_row(people: tuple[str, ...], truth: float, low: float, high: float, verdict: str = "") -> Row:
    return Row("kind", "figure", people, truth, (low + high) / 2, low, high, verdict)


class TestSummary:
    def test_z_tells_which_way_and_whether_people_differ(self):
        rng = np.random.default_rng(7)
        of_people = np.repeat([-1.0, 0.0, 1.0, 2.0], 500)
        z = of_people + 0.5 * rng.standard_normal(2000)
        rows = [Row("k", "f", (f"p{i // 500}",), 0, one, one - 1.645, one + 1.645) for i, one in enumerate(z)]
        (found,) = find_spread(rows).to_dict("records")
        assert (found["people"], found["n"]) == (4, 2000)
        assert found["z_mean"] == pytest.approx(0.5, abs=0.05)
        assert found["z_people"] == pytest.approx(np.std([-1, 0, 1, 2], ddof=1), abs=0.05)
        assert found["z_within"] == pytest.approx(0.5, abs=0.03)
        assert found["z_rms"] == pytest.approx(np.sqrt(1.5 + 0.25), abs=0.05)

    def test_a_share_of_all_is_not_sure(self):
        rows = pd.DataFrame({"people": [(f"p{i}",) for i in range(10)]})
        assert find_share_error(rows, pd.Series([True] * 10)) == pytest.approx(np.sqrt(11 / 12 / 12 / 10))
        half = pd.Series([True, False] * 5)
        assert find_share_error(rows, half) == pytest.approx(0.5 / np.sqrt(9))
        assert np.isnan(find_share_error(rows[:0], half[:0]))

    def test_rows_come_back_from_their_file(self, tmp_path):
        rows = [Row("a: x", "mean", ("p 1", "p2"), 0.1, 0.3, -1.0, 1.5, "lower"), Row("b", "f", ("p1",), 1.0, *NOTHING)]
        write_rows(tmp_path / "rows.csv", rows)
        back = read_rows(tmp_path / "rows.csv")
        assert back[0] == rows[0]
        assert (back[1][:4], back[1].verdict, np.isnan(back[1].low)) == (rows[1][:4], "", True)

    def test_parts_in_the_file_are_kept(self, monkeypatch, tmp_path, capsys):
        asked = []
        monkeypatch.setattr(
            "tests.known_truth.real_traces.__main__.read_people", lambda *_: [Recorded("p", None, True)]
        )
        monkeypatch.setattr("tests.known_truth.real_traces.__main__.run", lambda _, part, *__: asked.append(part) or [])
        path = tmp_path / "rows.csv"
        write_rows(path, [Row("a: x", "mean", ("p",), 0.0, 0.0, -1.0, 1.0)])
        assert main(["--only", "a", "f", "--rows", str(path), "--resume"]) == 0
        assert asked == ["f"]
        assert "a: x" in capsys.readouterr().out

    def test_the_pages_hold_both(self, tmp_path):
        for name in (CALIBRATION, LIMITS):
            (tmp_path / name).write_text("one\n<!-- real traces: begin -->\nold\n<!-- real traces: end -->\ntwo\n")
        page = tmp_path / CALIBRATION
        rows = [a_row((f"p{i}",), 0, -1 + (i > 8) * 1.5, 1) for i in range(10)]
        rows = [row._replace(kind=AGREE, figure="overnight mean") for row in rows]
        write_real_traces(tmp_path, summarise(rows), hold_against(rows))
        text = page.read_text()
        assert text.startswith("one\n")
        assert text.endswith("two\n")
        assert f"| {AGREE} | overnight mean | hold | 0.85 | 1 | 0.9 | 0.118 | yes |" in text
        assert "| 10 | 10 | 0 | 0.075 | 0.90 | 0.118 | 1 | - | - | - |" in text

    def test_variances_are_added(self):
        assert subtract((10, 6, 14), (2, -1, 5)) == pytest.approx((8, 3, 13))
        low, high = subtract((10, 9, 18), (2, 0, 8))[1:]
        assert (low, high) == pytest.approx((8 - np.hypot(1, 6), 8 + np.hypot(8, 2)))

    def test_people_weigh_alike(self):
        rows = [a_row(("one",), 0, 1, 2)] * 9 + [a_row(("two",), 0, -1, 1), a_row(("three",), 0, -1, 1)]
        (found,) = summarise(rows).to_dict("records")
        assert (found["people"], found["n"]) == (3, 11)
        assert found["hold"] == pytest.approx(2 / 3)

    def test_the_error_is_that_over_people(self):
        rng = np.random.default_rng(8)
        shares = rng.random(12)
        rows = pd.DataFrame({"people": [(f"p{i}",) for i in range(12) for _ in range(5)]})
        values = pd.Series(np.repeat(shares, 5))
        assert weigh(rows, values) == pytest.approx(shares.mean())
        assert find_error(rows, values) == pytest.approx(shares.std(ddof=1) / np.sqrt(12), abs=1e-8)
        assert np.isnan(find_error(rows[:10], values[:10]))

    @pytest.mark.parametrize(("of_people", "of_studies"), [(1.0, 0.0), (0.0, 1.0), (0.5, 1.0)])
    def test_studies_that_share_people_err_together(self, of_people, of_studies):
        rng, found, means = np.random.default_rng(3), [], []
        for _ in range(150):
            own = of_people * rng.normal(size=12)
            people = [tuple(rng.choice(12, 3, replace=False)) for _ in range(40)]
            values = pd.Series([own[list(mine)].sum() + of_studies * rng.normal() for mine in people])
            found.append(find_error(pd.DataFrame({"people": people}), values))
            means.append(values.mean())
        assert np.sqrt(np.mean(np.square(found))) == pytest.approx(np.std(means), rel=0.3)

    def test_claims_are_counted_and_their_sign(self):
        rows = [
            a_row(("p1",), -20, -30, -5, "lower"), a_row(("p2",), -20, 2, 9, "higher"),
            a_row(("p3",), -20, -9, 9, "cannot_tell_yet"), a_row(("p4",), -20, np.nan, np.nan, "not_enough_data"),
        ]  # fmt: skip
        (found,) = summarise(rows).to_dict("records")
        assert (found["n"], found["withheld"]) == (3, 1)
        assert found["clear"] == found["claimed"] == pytest.approx(2 / 3)
        assert found["wrong_way"] == found["hold"] == pytest.approx(1 / 3)

    def test_bounds_are_held_against_what_was_found(self):
        nothing, (bound,) = hold_against([]), [one for one in list_bounds() if one.kind == AGREE][:1]
        assert not len(nothing)
        rows = [Row(AGREE, bound.figure, (f"p{i}",), 0, 0, -1 + (i > 8) * 1.5, 1) for i in range(10)]
        (found,) = hold_against(rows).to_dict("records")
        assert (round(found["found"], 6), found["met"]) == (0.9, "yes")
        (found,) = hold_against([row._replace(low=0.5) for row in rows]).to_dict("records")
        assert (found["found"], found["met"]) == (0.0, "NO")

    def test_draws_are_fixed(self):
        assert make_rng("a", "p1", 0).random() == make_rng("a", "p1", 0).random()
        assert make_rng("a", "p1", 0).random() != make_rng("a", "p2", 0).random()

"""Is energy said to go with rise or dip only where it does, only after it, and with intervals that hold?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

from glucolab.clock import days_between
from glucolab.record.habit_outputs import ENERGY_EFFECTS
from glucolab.relating.effects import energy
from glucolab.relating.effects.energy import _gather_notes, _regression, _standardise, estimate_energy_effects
from glucolab.relating.observations.wear_tables import WearTables
from tests.hand_made import UTC

EMPTY = pd.DataFrame()
MINUTE = pd.Timedelta(minutes=1)
MEALS_H = (8.0, 13.0, 19.0)


def live(rng, n_wears=2, n_days=14, per_day=3, rise=0.0, dip=0.0, late=0.5, error=3.0):
    """Wears whose energy goes with `rise` and `dip` (points per 10 mg/dL).

    Hour confounds: evening meals rise `late` times more and evenings are wearier; short nights weary, and raise. Days
    differ as days do; notes are whole points; an error of `error` mg/dL stands on each rise and dip, and 6 mg/dL up or
    down on all rises of a wear alike, which their intervals hold too.
    """
    starts = [pd.Timestamp(f"2026-0{1 + 3 * i}-10", tz="UTC") for i in range(n_wears)]
    return [_wear(rng, start, n_days, per_day, rise, dip, late, error) for start in starts]


def _wear(rng, start, n, per_day, rise_effect, dip_effect, late, error):
    asleep = 7 + 0.9 * rng.standard_normal(n)
    day = np.repeat(np.arange(n), len(MEALS_H))
    hour = np.tile(MEALS_H, n) + 0.4 * rng.standard_normal(len(day))
    rise = np.maximum(30 * (1 + late * (hour > 17)) - 3 * (asleep[day] - 7) + 14 * rng.standard_normal(len(day)), 2)
    dip = np.maximum(0.25 * (rise - 30) + 8 * rng.standard_normal(len(day)), 0)
    seen = rise + error * rng.standard_normal(len(day)) + 6 * (-1) ** start.month
    half = 1.645 * np.hypot(error, 6)
    meals = pd.DataFrame({
        "time": (start + pd.to_timedelta(24 * day + hour, unit="h")).as_unit("us"),
        "rise_mg_dl": seen, "rise_low_mg_dl": seen - half, "rise_high_mg_dl": seen + half,
        "dip_mg_dl": np.maximum(dip + error * rng.standard_normal(len(day)), 0),
        "time_to_peak_min": np.where(rise < 10, np.nan, rng.uniform(35, 80, len(day))),
        "usable_2h": pd.array(rng.random(len(day)) > 0.1, "boolean"), "reason": "",
        "usable_3h": pd.array(rng.random(len(day)) > 0.2, "boolean"),
    })  # fmt: skip
    which = np.sort(rng.integers(0, len(day), n * per_day))
    minutes = rng.uniform(5, 235, len(which))
    felt = (
        6 - 0.12 * (hour[which] + minutes / 60 - 13) + 0.4 * (asleep[day[which]] - 7)
        + rise_effect * (rise[which] - 30) / 10 + dip_effect * dip[which] / 10 * (minutes >= 120)
        + 0.5 * rng.standard_normal(n)[day[which]] + 1.2 * rng.standard_normal(len(which))
    )  # fmt: skip
    times = pd.DatetimeIndex(meals["time"])[which] + pd.to_timedelta(minutes, unit="min").as_unit("us")
    notes = pd.DataFrame({"time": times})
    notes["energy"] = np.round(felt).clip(0, 10)
    notes["focus"] = np.round(felt + 1.2 * rng.standard_normal(len(which))).clip(0, 10)
    days = days_between(start, start + pd.Timedelta(days=n), UTC)
    daily = pd.DataFrame({"date": days.dates, "asleep_h": asleep})
    return WearTables(f"{start:%Y-%m}", days, UTC, daily, meals, notes, EMPTY, EMPTY)


def run(seed, studies, **truth):
    tables = [estimate_energy_effects(live(np.random.default_rng([seed, i]), **truth)) for i in range(studies)]
    table = pd.concat([t.assign(study=i) for i, t in enumerate(tables)], ignore_index=True)
    table["truth"] = table["factor"].map({"rise_mg_dl": truth.get("rise", 0.0), "dip_mg_dl": truth.get("dip", 0.0)})
    table["claimed"] = table["verdict"].isin(["lower", "higher"])
    return table


def hold(table):
    known = table.dropna(subset=["low"])
    return ((known["low"] <= known["truth"]) & (known["truth"] <= known["high"])).mean()


def test_where_nothing_is_true_a_claim_is_made_in_at_most_a_tenth_of_studies():
    """Hour and sleep move both glucose and energy; not adjusted for them, this would claim."""
    table = run(1, 100)
    assert table["low"].notna().mean() > 0.9
    assert table.groupby("study")["claimed"].any().mean() <= 0.10
    assert 0.85 <= hold(table) <= 0.95


def test_what_is_true_is_held_and_found():
    table = run(2, 60, rise=-0.5, dip=-1.2)
    energy = table[table["feeling"] == "energy"]
    assert 0.85 <= hold(energy) <= 0.95
    found = energy.groupby("factor")["verdict"].agg(lambda v: (v == "lower").mean())
    assert found["rise_mg_dl"] > 0.8
    assert found["dip_mg_dl"] > 0.25
    assert not (table["verdict"] == "higher").any()


def test_errors_of_rise_and_dip_do_not_draw_the_interval_to_nil():
    """Errors of 6 mg/dL beside spreads of 14 and 8: without allowance the dip's estimate keeps two thirds of its truth,
    as the reliability 8² / (8² + 6²) says (Carroll et al. 2006; from memory)."""
    table = run(4, 60, rise=-0.5, dip=-1.2, error=6.0)
    energy = table[table["feeling"] == "energy"]
    assert energy.groupby("factor").apply(hold).min() >= 0.85
    middle = energy.groupby("factor")["estimate"].mean()
    assert middle["rise_mg_dl"] == pytest.approx(-0.5, abs=0.1)
    assert middle["dip_mg_dl"] == pytest.approx(-1.2, abs=0.3)


def test_a_dip_is_told_from_a_rise():
    """Only the dip counts, and large rises bring dips: the rise is claimed no oftener than where nothing is true."""
    table = run(3, 60, dip=-1.2)
    rises = table[table["factor"] == "rise_mg_dl"]
    assert rises.groupby("study")["claimed"].any().mean() <= 0.15
    assert hold(rises[rises["feeling"] == "energy"]) >= 0.8


def test_too_few_days_say_nothing():
    table = estimate_energy_effects(live(np.random.default_rng(5), n_wears=1, n_days=7))
    assert list(table.columns) == ENERGY_EFFECTS.names
    assert table["verdict"].tolist() == ["not_enough_data"] * 4
    assert table[["estimate", "low", "high", "p_value", "q_value"]].isna().all(axis=None)


@pytest.mark.parametrize("wears", [[], "no notes"])
def test_without_notes_every_question_stands_unanswered(wears):
    if wears:
        wears = [_without_notes(one) for one in live(np.random.default_rng(5))]
    table = estimate_energy_effects(wears)
    assert (len(table), table["n"].sum(), set(table["verdict"])) == (4, 0, {"not_enough_data"})


def _without_notes(wear):
    return WearTables(wear.name, wear.days, UTC, wear.daily, wear.meal_responses, wear.energy.iloc[:0], EMPTY, EMPTY)


def one_meal_a_day(minutes, n_days=12, **meal):
    """A meal at noon each day and one note so many minutes after."""
    start = pd.Timestamp("2026-02-03", tz="UTC")
    noon = pd.date_range(start + pd.Timedelta(hours=12), periods=n_days, freq="D", unit="us")
    level = 30.0 + np.arange(n_days) % 5
    usual = {"rise_mg_dl": level, "dip_mg_dl": level - 28, "time_to_peak_min": 45.0}
    usual |= {"rise_low_mg_dl": level - 1, "rise_high_mg_dl": level + 1}
    meals = pd.DataFrame({"time": noon, **usual, "usable_2h": True, "usable_3h": True, "reason": ""} | meal)
    notes = pd.DataFrame({"time": noon + minutes * MINUTE, "energy": 5.0 + np.arange(n_days) % 3, "focus": np.nan})
    days = days_between(start, start + pd.Timedelta(days=n_days), UTC)
    daily = pd.DataFrame({"date": days.dates, "asleep_h": 7.0})
    return WearTables("wear", days, UTC, daily, meals, notes, EMPTY, EMPTY)


@pytest.mark.parametrize(
    ("minutes", "meal", "rises", "dips"),
    [
        (29, {}, 0, 0), (44, {}, 0, 0), (46, {}, 12, 0), (119, {}, 12, 0), (121, {}, 12, 12), (239, {}, 12, 12),
        (241, {}, 0, 0),
        (31, {"time_to_peak_min": 20.0}, 12, 0),
        (31, {"time_to_peak_min": np.nan}, 0, 0),  # no peak within two hours: still rising at their end
        (121, {"time_to_peak_min": np.nan}, 12, 12),
        (31, {"time_to_peak_min": np.nan, "rise_mg_dl": 9.9}, 12, 0),  # too flat to have one
        (31, {"time_to_peak_min": np.nan, "rise_mg_dl": 10.0}, 0, 0),
        (30, {"time_to_peak_min": 20.0}, 12, 0), (45, {}, 12, 0), (120, {}, 12, 12), (240, {}, 12, 12),
        (150, {"usable_2h": False}, 0, 12), (150, {"usable_3h": False}, 12, 0),
    ],
)  # fmt: skip
def test_a_note_counts_only_for_what_came_before_it(minutes, meal, rises, dips):
    table = estimate_energy_effects([one_meal_a_day(minutes, **meal)])
    assert table.set_index(["feeling", "factor"])["n"].loc["energy"].to_dict() == {
        "rise_mg_dl": rises, "dip_mg_dl": dips
    }  # fmt: skip
    assert table.set_index(["feeling", "factor"])["n"].loc["focus"].sum() == 0


def test_days_of_illness_and_what_two_sensors_saw_count_once_or_not_at_all():
    wear = one_meal_a_day(150)
    ill = np.arange(12) < 2
    sick = WearTables("wear", wear.days, UTC, wear.daily, wear.meal_responses, wear.energy, EMPTY, EMPTY, (), ill)
    assert estimate_energy_effects([sick])["n"].tolist()[:2] == [10, 10]
    assert estimate_energy_effects([wear, wear])["n"].tolist()[:2] == [12, 12]


def test_q_is_what_scipy_gives_for_3_25_times_p_since_looks_add_up():
    table = estimate_energy_effects(live(np.random.default_rng(5), rise=-0.5)).dropna(subset=["p_value"])
    assert len(table) >= 2
    grown = np.minimum(3.25 * table["p_value"].to_numpy(), 1)
    assert table["q_value"].to_numpy() == pytest.approx(stats.false_discovery_control(grown))


def test_the_same_input_gives_the_same_figures():
    first, second = (estimate_energy_effects(live(np.random.default_rng(8))) for _ in range(2))
    pd.testing.assert_frame_equal(first, second)


RISE = 30.0 + 6 * np.array([0, 4, 1, 3, 2, 5, 1, 4, 2, 0, 5, 3])
DIP = np.array([4.0, 9, 2, 7, 12, 5, 10, 1, 6, 11, 3, 8])


def on_a_line(feeling_per_10_mg_dl: float, of: str, se_mg_dl: float = 0.0, n_days: int = 12) -> WearTables:
    """Energy goes with rise or dip alone and without error, noted when both are over.

    A rise's interval holds its own error and 6 mg/dL that the sensor adds to all.
    """
    half = stats.norm.ppf(0.95) * np.hypot(se_mg_dl, 6.0) if se_mg_dl else 0.0
    known = {"rise_mg_dl": RISE[:n_days], "dip_mg_dl": DIP[:n_days]}
    ends = {"rise_low_mg_dl": RISE[:n_days] - half, "rise_high_mg_dl": RISE[:n_days] + half}
    wear = one_meal_a_day(150 if of == "dip_mg_dl" else 90, n_days, **known, **ends)
    return replace(wear, energy=wear.energy.assign(energy=5 + feeling_per_10_mg_dl / 10 * known[of]))


def answer(wear: WearTables, factor: str) -> pd.Series:
    table = estimate_energy_effects([wear])
    return table[(table["feeling"] == "energy") & (table["factor"] == factor)].squeeze()


@pytest.mark.parametrize(
    ("factor", "per_10", "verdict"),
    [
        ("rise_mg_dl", 0.24, "higher"), ("rise_mg_dl", -0.26, "lower"),
        ("dip_mg_dl", -0.49, "lower"), ("dip_mg_dl", 0.51, "higher"),
    ],
)  # fmt: skip
def test_a_line_is_told_over_the_wearers_own_rises_and_dips(factor, per_10, verdict):
    """From the 10th to the 90th percentile of RISE, 30 to 59.4 mg/dL; of DIP, 2.1 to 10.9 (by hand)."""
    found = answer(on_a_line(per_10, factor), factor)
    assert (found["estimate"], found["low"], found["high"]) == pytest.approx((per_10,) * 3, abs=2e-3)
    assert (found["verdict"], found["unit"]) == (verdict, "points per 10 mg/dL")
    start, end = {"rise_mg_dl": (30.6, 59.4), "dip_mg_dl": (2.1, 10.9)}[factor]
    assert (found["range_from"], found["range_to"]) == pytest.approx((start, end))
    assert found["range_estimate"] == pytest.approx(per_10 * (end - start) / 10, rel=0.01)


@pytest.mark.parametrize(("half", "verdict"), [(0.49, "too_small_to_matter"), (0.51, "cannot_tell_yet")])
def test_half_a_point_over_the_own_range_matters(half, verdict, monkeypatch):
    table = pd.DataFrame({"p_value": [0.8], "n": 20, "n_days": 12, "range_estimate": [0.0]})
    spans = table.assign(range_low=-half, range_high=half).reindex(columns=ENERGY_EFFECTS.names).iloc[0].to_dict()
    monkeypatch.setattr(energy, "_answer", lambda *_: spans | {"feeling": "energy", "factor": "rise_mg_dl"})
    found = energy.estimate_energy_effects([])
    assert set(found["verdict"]) == {verdict}


@pytest.mark.parametrize(("factor", "share"), [("rise_mg_dl", 1.0), ("dip_mg_dl", 0.25)])
def test_an_effect_grows_by_what_the_error_of_a_rise_or_a_quarter_of_it_hides(factor, share):
    """Error 4 mg/dL, its variance known to a lognormal SD of 0.3, at the middles of nine equal parts of that. What a
    sensor adds to all rises alike hides nothing.

    The factor's variance is the mean square that mean and, of a dip, the rise leave: by statsmodels.
    """
    found = answer(on_a_line(-0.8, factor, se_mg_dl=4.0), factor)
    design = np.ones((12, 1)) if factor == "rise_mg_dl" else sm.add_constant(RISE)
    left = sm.OLS(RISE if factor == "rise_mg_dl" else DIP, design).fit().mse_resid
    possible = share * 4.0**2 / left * stats.lognorm.ppf((np.arange(9) + 0.5) / 9, 0.3)
    grown = 1 / (1 - possible)
    assert possible.max() < 0.6
    assert found["estimate"] == pytest.approx(-0.8 * grown.mean(), rel=1e-4)
    half = stats.norm.ppf(0.95) * 0.8 * grown.std()
    assert (found["high"] - found["low"]) / 2 == pytest.approx(half, rel=0.01)


@pytest.mark.parametrize(("n_days", "answered"), [(7, False), (8, True)])
def test_eight_days_are_asked_for(n_days, answered):
    found = answer(on_a_line(-0.8, "rise_mg_dl", n_days=n_days), "rise_mg_dl")
    assert found["n_days"] == n_days
    assert np.isfinite(found["estimate"]) == answered


def test_a_note_stands_beside_its_hour_and_the_minutes_since_eating():
    """Two hours after noon: 14/24 of a turn, 210 degrees. From then on the dip so far is the dip."""
    before, there = (_gather_notes([one_meal_a_day(minutes)]) for minutes in (119, 120))
    assert there["hour_sin"].to_numpy() == pytest.approx(-0.5)
    assert there["hour_cos"].to_numpy() == pytest.approx(-np.sqrt(3) / 2)
    assert there["minutes"].tolist() == [120.0] * 12
    assert before["minutes"].tolist() == [119.0] * 12
    assert there["dip_so_far_mg_dl"].tolist() == there["dip_mg_dl"].tolist()
    assert before["dip_so_far_mg_dl"].tolist() == [0.0] * 12


def test_a_factor_is_counted_from_its_mean_in_steps_of_ten():
    rows = _regression(_gather_notes([one_meal_a_day(150, rise_mg_dl=RISE)]), "energy", "rise_mg_dl")
    assert rows.factor == pytest.approx((RISE - 45) / 10)


class TestStandardise:
    wear = np.repeat([0, 1], 10)

    @pytest.mark.parametrize(("known", "used"), [(10, False), (11, True)])
    def test_what_is_known_of_more_than_half_is_used(self, known, used):
        values = np.where(np.arange(20) < known, np.arange(20) % 3, np.nan)
        assert _standardise(values, self.wear).any() == used

    def test_mean_nought_and_a_spread_of_one_within_wears(self):
        """1 and 5 in one wear, 11 and 15 in the other: 2 below and above each mean."""
        values = 1.0 + 4 * (np.arange(20) % 2) + 10 * self.wear
        assert _standardise(values, self.wear) == pytest.approx(2.0 * (np.arange(20) % 2) - 1)

    def test_the_spread_is_that_of_what_is_known_and_the_rest_is_nought(self):
        """Twelve of twenty known, 2 below and above their wear's mean: one below and above still."""
        values = 1.0 + 4 * (np.arange(20) % 2) + 10 * self.wear
        unknown = np.isin(np.arange(20), [2, 3, 8, 9, 14, 15, 18, 19])
        expected = np.where(unknown, 0.0, 2.0 * (np.arange(20) % 2) - 1)
        assert _standardise(np.where(unknown, np.nan, values), self.wear) == pytest.approx(expected)

    def test_what_varies_by_rounding_is_nothing(self):
        assert not _standardise(1e-10 * (np.arange(20) % 2), self.wear).any()

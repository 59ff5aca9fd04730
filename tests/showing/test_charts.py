"""Does every chart draw what it says, at both widths, escaped, and with a description?"""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.measuring.time_of_day import measure_hour_means
from glucolab.record import Goal
from glucolab.relating.effects.one_pair import relate_days
from glucolab.relating.observations.meal_curves import gather_meal_curves, profile_day
from glucolab.showing import charts, theme, wear_page
from glucolab.showing.charts.day_table import median_mg_dl
from glucolab.showing.charts.explorer import chart_relation
from glucolab.showing.charts.listed import chart_claim
from glucolab.showing.charts.overlaid import chart_eatings, chart_profiles
from glucolab.showing.charts.record import tabulate_lanes
from glucolab.showing.display import Display
from glucolab.showing.pictures import cut_rows, draw_svg, show_chart
from glucolab.showing.wear_page import show_days

MG, WORDS_ONLY = Display(), Display(numbers=False)
SCRIPT = "<script>alert(1)</script>"
DISHES = ("buckwheat porridge", "cheesecake")
WIDTHS = (theme.WIDE_PX, theme.NARROW_PX)


def effects():
    rows = [("walk_after", "rise_mg_dl", -9, -16, -2), ("covariate:<b>mood", "mean_mg_dl", 1, -2, 4)]
    table = pd.DataFrame(rows, columns=["factor", "outcome", "range_estimate", "range_low", "range_high"])
    return table.assign(q_value=[0.02, 0.6])


def dishes():
    rows = [("rice", 4, 42.0, 32.0, 52.0), (SCRIPT, 1, 25.0, 12.0, 38.0)]
    return pd.DataFrame(rows, columns=["dish", "n", "rise_mg_dl", "low_mg_dl", "high_mg_dl"])


def periods():
    rows = [("2026-02-03", "2026-02-17", 102, 98, 106, 96, 108), ("2026-09-07", "2026-09-21", 94, 90, 98, 88, 100)]
    names = ["start", "end", "mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl", "usual_low_mg_dl", "usual_high_mg_dl"]
    table = pd.DataFrame(rows, columns=names)
    dates = {name: pd.to_datetime(table[name]) for name in ("start", "end")}
    return table.assign(level="wear", name=["spring", SCRIPT], running=[False, True], checks_used=[5, 7], **dates)


def levers():
    rows = [("a walk after each larger meal", -1.5, -2.3, -0.7, "lower"),
            ("an hour more sleep", -1.4, -3.4, 0.6, "cannot_tell_yet")]  # fmt: skip
    return pd.DataFrame(rows, columns=["label", "on_mean_mg_dl", "low_mg_dl", "high_mg_dl", "verdict"])


def trial_curves():
    """Two dates of each arm: one arm rises to 40, the other to 20."""
    minutes = np.arange(-30, 181, 5)
    rows = [
        {"trial": "t", "arm": arm, "date": pd.Timestamp(2026, 6, day), "minutes": minute,
         "above_mg_dl": top * max(0.0, 1 - abs(minute - 60) / 60)}
        for day, (arm, top) in enumerate([("rest", 40), (SCRIPT, 20), ("rest", 40), (SCRIPT, 20)], start=1)
        for minute in minutes
    ]  # fmt: skip
    return pd.DataFrame(rows)


def lab_values() -> pd.DataFrame:
    """Values of analytes of the wearer's own, one of them drawn once."""
    dates = pd.to_datetime(["2026-02-10", "2026-10-28", "2026-10-28"])
    return pd.DataFrame(
        {
            "date": dates,
            "analyte": [SCRIPT, SCRIPT, "ferritin"],
            "value": [2.1, 3.4, 45.0],
            "unit": [SCRIPT, SCRIPT, "µg/L"],
        }
    )


def labs():
    return pd.DataFrame(
        {
            "analyte": [SCRIPT],
            "date_b": [pd.Timestamp("2026-09-01")],
            "change_percent": [-5.0],
            "reference_change_percent": [12.0],
            "verdict": ["cannot_tell_yet"],
        }
    )


@pytest.fixture
def drawn(result, sample):
    """A function from a display and a width to every chart."""
    meals = result.tables["meal_responses"]
    usable = meals[meals["usable_2h"].fillna(False).astype(bool)].head(4)
    energy = result.tables["energy"].dropna(subset=["energy", "minutes_since_occasion"])
    days = (charts.tabulate_days(result), result.days.dates, median_mg_dl(result))
    eatings = gather_meal_curves(result.trace, meals, DISHES)
    profile = profile_day(result.trace, result.wear.zones)
    profiles = pd.concat([profile.assign(wear="spring"), profile.assign(wear="autumn")])
    hours = measure_hour_means(result.trace, result.wear.zones)
    relation = relate_days([result.related], "asleep_h", "mean_mg_dl")

    def draw(display, width):
        return {
            "shares": charts.chart_error_shares({"days": 0.3, "hours": 0.1, "sensor": 0.6}, width),
            "record": charts.chart_record(result, width),
            "rises": charts.chart_rises(result.tables["excursions"], display, width),
            "days": charts.chart_days(*days, display, width),
            "days_tall": charts.chart_days(*days, display, width, True),
            "meals": charts.chart_meals(usable.assign(name=SCRIPT), result.wear.zones, display, width),
            "effects": charts.chart_effects(effects(), 3.0, display, width),
            "dishes": charts.chart_dishes(dishes().assign(drink=[False, True]), display, width),
            "labs": charts.chart_lab_changes(labs(), width),
            "lab_values": charts.chart_lab_values(lab_values(), width),
            "progress": charts.chart_progress(periods(), levers(), Goal(95.0), display, width),
            "claim": chart_claim(effects().iloc[0], (-16.0, 4.0), 3.0, display, True, width),
            "hours": charts.chart_hours(hours, np.arange(24) < 7, result.blocks, 97.0, display, width),
            "trial_curves": charts.chart_trial_curves(trial_curves(), display, width),
            "energy": charts.chart_energy(energy, width),
            "curves": charts.chart_curves(eatings.replace({"dish": {DISHES[0]: SCRIPT}}), display, width),
            "checks": charts.chart_checks(
                result.trace.checks, result.summary["bias_mg_dl"], result.wear.zones, display, width
            ),
            "eatings": chart_eatings(eatings, DISHES, display, width),
            "profiles": chart_profiles(profiles, ("spring", "autumn"), display, width),
            "relation": chart_relation(relation, display, (), width),
        }

    return draw


@pytest.mark.parametrize("display", [MG, Display("mmol/L"), WORDS_ONLY], ids=["mg/dL", "mmol/L", "words"])
@pytest.mark.parametrize("width", WIDTHS)
def test_every_chart_is_valid_drawn_described_and_in_its_width(drawn, width, display):
    for name, chart in drawn(display, width).items():
        chart.to_dict(validate=True)
        assert len(str(chart.description)) > 30, name
        svg = ElementTree.fromstring(draw_svg(chart))
        assert float(svg.get("width")) <= width + (1 if "days" not in name else 110), name
        assert len(list(svg.iter())) > 10, name


def test_text_of_data_is_escaped_in_pictures_and_pages(drawn):
    for name in ("meals", "dishes", "labs", "curves", "progress", "trial_curves"):
        svg = draw_svg(drawn(MG, theme.WIDE_PX)[name])
        assert "<script" not in svg, name
        assert "&lt;scr" in svg, name
    page = show_chart(charts.chart_dishes, dishes().assign(drink=False), MG).html
    assert "<script" not in page


def test_pictures_tell_screen_readers_nothing_of_single_marks(drawn):
    svg = draw_svg(drawn(MG, theme.WIDE_PX)["rises"])
    assert svg.count("aria-") == 1  # aria-hidden: the figure's own label is what is read
    assert 'aria-hidden="true"' in svg
    assert 'role="group"' in show_chart(charts.chart_error_shares, {"days": 0.3, "hours": 0.1, "sensor": 0.6}).html


def test_without_numbers_no_chart_of_glucose_shows_a_figure(drawn):
    calendar = re.compile(
        r"\d{4}-\d\d-\d\d|\d{1,2} [A-Z][a-z]{2}|[A-Z][a-z]{2} \d{4}|\d{1,2}:\d\d|"
        r"\d+ (h|min|days?|times?|finger-sticks?)|\d\d?–\d\d?|\(\d+\)"
    )
    names = ("rises", "days_tall", "meals", "effects", "dishes", "progress", "claim", "hours",
             "trial_curves", "checks")  # fmt: skip
    for name in names:
        texts = re.findall(r"<text[^>]*>([^<]*)</text>", draw_svg(drawn(WORDS_ONLY, theme.WIDE_PX)[name]))
        left = [
            re.sub(r"[a-z ;]+, \d+$|before \d\d:\d\d", "", calendar.sub("", text.replace("alert(1", "")))
            for text in texts
        ]
        assert not any(re.search(r"\d", text) for text in left), (name, texts)


def test_the_shares_bar_is_as_long_as_its_shares():
    chart = charts.chart_error_shares({"days": 0.3, "hours": 0.1, "sensor": 0.6})
    table = next(iter(chart.to_dict()["datasets"].values()))
    assert [row["words"].split(",")[0] for row in table] == [
        "the sensor",
        "which days you wore it",
        "missing hours",
    ]
    np.testing.assert_allclose([row["end"] - row["start"] for row in table], [0.6, 0.3, 0.1])


def test_days_are_one_row_each_from_midnight_to_midnight(result):
    table = charts.tabulate_days(result)
    assert table["hour"].between(0, 24).all()
    assert (table["hour_end"].dropna() <= 24).all()
    chart = charts.chart_days(table, result.days.dates, median_mg_dl(result), MG)
    rows = cut_rows(chart)
    assert len(rows) == len(result.days.dates)
    assert all(ElementTree.fromstring(row).get("viewBox").endswith(" 38") for row in rows)


def test_days_full_of_meals_are_drawn_whole(result):
    """More than the 5,000 rows that Altair draws unasked."""
    table = charts.tabulate_days(result)
    full = pd.concat([table, table[table["kind"] != "trace"].sample(5000, replace=True, random_state=1)])
    days = result.days.dates
    assert len(cut_rows(charts.chart_days(full, days, 94.0, MG, tall=True))) == len(days)


def test_a_day_without_anything_still_has_its_row(result):
    table = charts.tabulate_days(result)
    empty = result.days.dates[3].strftime("%Y-%m-%d")
    chart = charts.chart_days(table[table["day"] != empty], result.days.dates, 94.0, MG)
    assert len(cut_rows(chart)) == len(result.days.dates)


def test_the_line_is_broken_where_nothing_was_recorded_and_at_the_clock_change(result):
    trace = charts.tabulate_days(result).query("kind == 'trace'")
    for (_, _), piece in trace.groupby(["day", "part"]):
        steps = np.diff(piece["hour"]) * 60
        assert (steps > 0).all()
        assert (steps <= 30.1).all()


def test_readings_set_aside_are_drawn_and_not_in_the_line(result):
    table = charts.tabulate_days(result)
    aside = result.tables["readings"]["glucose_mg_dl"].isna().sum()
    assert 0 < (table["kind"] == "aside").sum() <= aside


def test_the_strip_names_each_cause_with_its_time(result):
    lanes = tabulate_lanes(result)
    words = list(dict.fromkeys(lanes["words"]))
    assert words[0].startswith("used, ")
    assert any(w.startswith("first hours, 1 day") for w in words)
    assert lanes["start"].min() >= 0
    assert lanes["end"].max() <= len(result.days.dates)
    assert (lanes["end"] >= lanes["start"]).all()


def test_only_a_running_wear_has_a_last_reading_and_a_latest_day(result, running, sample):
    assert (charts.tabulate_days(running)["kind"] == "last").sum() == 1
    assert not (charts.tabulate_days(result)["kind"] == "last").any()
    last = running.tables["readings"]["time"].max()
    assert "<b>today</b>" in show_days(running, sample, now=last + pd.Timedelta(minutes=5)).html
    assert "<b>latest day</b>" in show_days(running, sample, now=last + pd.Timedelta(days=9)).html
    assert "<b>" not in show_days(result, sample, now=last).html


def test_a_wear_with_nothing_usable_is_drawn_too(result, sample):
    blind = replace(result.trace, glucose_mg_dl=np.full(len(result.trace.time), np.nan))
    table = charts.tabulate_days(
        replace(result, trace=blind, tables=dict(result.tables) | {"excursions": result.tables["excursions"].iloc[:0]})
    )
    assert not (table["kind"] == "trace").any()
    assert len(cut_rows(charts.chart_days(table, result.days.dates, float("nan"), MG, tall=True))) == len(
        result.days.dates
    )


def test_of_a_wear_of_months_the_latest_days_are_drawn_and_said_to_be(result, sample, monkeypatch):
    monkeypatch.setattr(wear_page, "MOST_DAYS", 5)
    page = wear_page.show_days(result, sample).html
    assert page.count('<details class="day">') == 5
    assert f"The latest 5 of {len(result.days.dates)} days are drawn." in page
    last = result.days.dates[-1]
    assert f'id="day-{last:%Y-%m-%d}"' in page
    assert f'id="day-{result.days.dates[0]:%Y-%m-%d}"' not in page


def test_a_line_a_time_a_dish_was_eaten_and_one_mean(result):
    meals = result.tables["meal_responses"]
    mine = gather_meal_curves(result.trace, meals, DISHES[:1])
    eaten = int((meals["usable_2h"].eq(True).fillna(False) & meals["dish"].eq(DISHES[0])).sum())
    assert mine["time"].nunique() == eaten > 1
    svg = draw_svg(charts.chart_curves(mine, MG))
    assert f"{eaten} × {DISHES[0]}" in svg
    lines = re.findall(r'<path [^>]*stroke-width="(?:1|2.6)"', svg)
    assert len(lines) >= eaten + 1


def test_curves_start_from_their_own_baseline(result):
    """The half hour before is nought on average: the meal's baseline is its mean over the same minutes.

    Where glucose falls steeply, a meal between two of the curve's moments is off by up to half a step's share of it.
    """
    mine = gather_meal_curves(result.trace, result.tables["meal_responses"], DISHES)
    before = mine[mine["minutes"] < 0].groupby("time")["above_mg_dl"].agg(["mean", "min", "max"])
    assert (abs(before["mean"]) < np.maximum(1, (before["max"] - before["min"]) / 12)).all()


def placed(svg: str, words: str) -> tuple[float, float]:
    """Where a text of a picture stands. [px]"""
    found = re.search(rf'<text[^>]*translate\(([\d.-]+),([\d.-]+)\)"[^>]*>{re.escape(words)}</text>', svg)
    return float(found[1]), float(found[2])


def dots(svg: str) -> list[tuple[float, float]]:
    found = re.findall(r'<path transform="translate\(([\d.]+),([\d.]+)\)" d="M', svg)
    return [(float(x), float(y)) for x, y in found]


def test_wears_and_habits_share_one_scale_and_the_goal_runs_through_both():
    """A tick of the averages is as long as one of the changes, and a habit's dot lies its change beside the latest."""
    svg = draw_svg(charts.chart_progress(periods(), levers(), Goal(95.0), MG, 700))
    per = (placed(svg, "105")[0] - placed(svg, "90")[0]) / 15
    change = (placed(svg, "+5")[0] - placed(svg, "−5")[0]) / 10
    assert change == pytest.approx(per, rel=0.01)
    (first, _), (latest, _), (walk, _), (sleep, _) = dots(svg)
    assert (first - latest) / per == pytest.approx(102 - 94, rel=0.02)
    assert (latest - walk) / per == pytest.approx(1.5, rel=0.05)
    assert (latest - sleep) / per == pytest.approx(1.4, rel=0.05)
    goal = placed(svg, "goal: below 95")[0]
    assert (goal - latest) / per == pytest.approx(95 - 94, abs=0.05)


def test_as_now_and_the_goal_are_written_on_their_own_sides():
    """An average of 94: a goal of 95 lies right of it, and one of 90 left."""

    def drawn(goal: float) -> tuple[str, float]:
        svg = draw_svg(charts.chart_progress(periods(), levers(), Goal(goal), MG, 700))
        now = placed(svg, "as now")[0]
        return svg, now - dots(svg)[1][0]

    met, left = drawn(95.0)
    assert "goal: already met" in met
    assert left == pytest.approx(-5, abs=1)
    missed, right = drawn(90.0)
    assert "goal, 4 away" in missed
    assert right == pytest.approx(5, abs=1)


@pytest.mark.parametrize("apart", [14, 60])
def test_a_year_of_wears_grows_by_a_line_each_and_none_lies_on_another(apart):
    def draw(n):
        starts = pd.date_range("2024-01-01", periods=n, freq=f"{apart}D")
        table = pd.concat([periods().iloc[:1]] * n, ignore_index=True)
        table = table.assign(start=starts, end=starts + pd.Timedelta(days=13))
        return draw_svg(charts.chart_progress(table, levers(), Goal(95.0), MG, 700))

    heights = [float(ElementTree.fromstring(draw(n)).get("height")) for n in (3, 10)]
    assert 0 <= heights[1] - heights[0] <= 7 * 25
    rows = [y for _, y in dots(draw(10))][:10]
    assert min(np.diff(rows)) >= 20


def test_a_table_without_rows_is_not_drawn(result):
    """Whatever takes a table says so in the same words."""
    tables = {
        "chart_agreement": pd.DataFrame({"difference_mg_dl": []}), "chart_meals": result.tables["meal_responses"][:0],
        "chart_checks": result.trace.checks[:0],
    }  # fmt: skip
    more = {"chart_meals": (result.wear.zones,), "chart_checks": ({"low": -5.0, "high": 5.0}, result.wear.zones)}
    others = set(charts.__all__) - {"chart_record", "chart_error_shares", "chart_intervals", "tabulate_days"}
    for name in others:
        with pytest.raises(NothingToDo, match="nothing to draw"):
            getattr(charts, name)(tables.get(name, pd.DataFrame()), *more.get(name, ()))

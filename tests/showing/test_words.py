"""Do the sentences say what the figures say: singulars, units, refusals, and no more than the interval supports?"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from glucolab.record import FLAGS, GAP_KINDS, LINKS, RESPONSE_REASONS, VERDICTS, Goal, Person, empty_output
from glucolab.relating.effects.questions import FACTORS, KIND_OF
from glucolab.showing.display import Display, write_number, write_percent
from glucolab.showing.words import common
from glucolab.showing.words.findings import habit_phrases
from glucolab.showing.words.findings.effects import (
    choose_findings,
    choose_next,
    say_finding,
    say_range_effect,
    say_so_far,
)
from glucolab.showing.words.findings.habit_phrases import write_ends
from glucolab.showing.words.pages import study, wear
from glucolab.showing.words.pages.day import list_events
from glucolab.showing.words.pages.plan import say_next_goal, say_steps

MG, MMOL, WORDS_ONLY = Display(), Display("mmol/L"), Display(numbers=False)
ANYONE = Person("UTC")
SPACE = "\u00a0"
GLUCOSE_FIGURE = re.compile(r"\d[\d.,]*\s*(mg/dL|mmol/L)")


def estimate(value, low, high):
    return {"estimate": value, "low": low, "high": high, "level": 0.9}


def summary(**changes):
    plain = {
        "state": "ended",
        "days": 14.0,
        "mean": estimate(94.0, 90.0, 98.0),
        "ill_days": 0,
        "mean_without_ill_days": None,
        "usual_mean": estimate(94.0, 88.0, 100.0),
        "usual_mean_error_shares": {"days": 0.36, "hours": 0.02, "sensor": 0.62},
        "checks_used": 6,
        "withheld": {},
        "readings": 4000,
        "readings_used": 3601,
        "bias_mg_dl": estimate(3.0, -2.0, 8.0),
        "lag_min": estimate(8.0, 4.0, 12.0),
        "next_file": None,
        "next_file_why": None,
        "coverage": 0.93,
    }
    return plain | changes


def effect(**changes):
    plain = {
        "factor": "walk_after",
        "outcome": "rise_mg_dl",
        "contrast": "",
        "estimate": -9.0,
        "low": -16.0,
        "high": -2.0,
        "unit": "mg/dL",
        "n_with": 11,
        "n_without": 20,
        "n_days": 12,
        "p_value": 0.01,
        "q_value": 0.05,
        "verdict": "lower",
        "needed": float("nan"),
        "share": float("nan"),
        "share_low": float("nan"),
        "share_high": float("nan"),
        "range_from": 0.0,
        "range_to": 1.0,
        "stood": float("nan"),
    }
    of_range = {f"range_{name}": (plain | changes)[name] for name in ("estimate", "low", "high")}
    return plain | of_range | changes


def test_what_scales_a_response_says_how_much_of_a_usual_rise_that_is():
    said = finding(share=-0.412, share_low=-0.53, share_high=-0.296)
    assert f"(2 to 16 less, which is 30 to 53{SPACE}% of a usual rise; 11 meals with, 20 without)" in said
    assert "%" not in finding()
    # a claim may stand beside a usual rise so little known that its share reaches over nil
    assert "%" not in finding(share=-0.4, share_low=-0.85, share_high=0.05)


@pytest.mark.parametrize(
    ("table", "names"),
    [
        (common.FLAG_WORDS, FLAGS),
        (common.FLAG_LANES, FLAGS),
        (common.GAP_WORDS, GAP_KINDS),
        (common.LINK_WORDS, LINKS),
        (common.VERDICT_WORDS, VERDICTS),
        (common.REASON_WORDS, RESPONSE_REASONS),
        (common.OUTCOME_WORDS, KIND_OF),
        (habit_phrases.CHANGES, KIND_OF),
        (habit_phrases.SIDES, FACTORS),
        (common.FACTOR_WORDS, FACTORS),
    ],
)
def test_every_name_of_the_contract_has_words(table, names):
    assert set(table) == set(names)


def own(**changes):
    """A row of periods.csv."""
    plain = {
        "mean_mg_dl": 94.0, "mean_low_mg_dl": 90.0, "mean_high_mg_dl": 98.0, "usual_low_mg_dl": 88.0,
        "usual_high_mg_dl": 100.0, "bias_mg_dl": -5.0, "bias_low_mg_dl": -8.0, "bias_high_mg_dl": -2.0,
        "checks_used": 6.0, "probability_goal_met": 0.66,
    }  # fmt: skip
    return pd.Series(plain | changes)


def test_mean_and_goal_read_as_the_guide_to_the_words_has_them():
    assert wear.say_wear_average(own(), summary(), MG) == f"Your average was 94{SPACE}mg/dL, give or take{SPACE}4."
    # 94 / 18.016 = 5.22 and 4 / 18.016 = 0.22 mmol/L
    running = wear.say_wear_average(own(), summary(state="running"), MMOL)
    assert running == f"Your average so far: 5.2{SPACE}mmol/L, give or take{SPACE}0.2."
    goal = Goal(95.0, date(2026, 1, 1), None)
    assert wear.say_goal(own(), goal, ANYONE, MG) == (
        f"Probably below your goal of 95: 66 chances in{SPACE}100 that it was."
    )
    assert wear.say_goal(own(probability_goal_met=0.31), goal, ANYONE, MG).startswith("Probably above your goal")
    assert wear.say_goal(own(probability_goal_met=0.5), goal, ANYONE, MG).startswith(
        "Below your goal of 95? It could go either way: 50 chances"
    )
    assert wear.say_goal(own(probability_goal_met=0.002), goal, ANYONE, MG) == (
        f"Almost certainly above your goal of 95: over 99 chances in{SPACE}100 that it was."
    )


def test_no_goal_is_claimed_without_one_or_where_the_tool_only_describes():
    assert wear.say_goal(own(), Goal(), ANYONE, MG) == ""
    for who in ("under_18", "pregnant", "glucose_lowering_medicine"):
        person = Person("UTC", **{who: True})
        assert wear.say_goal(own(), Goal(95.0), person, MG) == ""
        assert "describes and does not advise" in wear.say_describe_only(person)


def test_a_withheld_mean_is_said_with_its_reason():
    held = summary(mean=None, state="ended", withheld={"mean": "Under two days can be used."})
    assert wear.say_wear_average(None, held, MG) == "No average can be given."
    said = wear.say_headline(None, held, Goal(95.0), ANYONE, MG)
    assert said == "No average can be given. Under two days can be used."
    assert wear.say_wear_average(None, held | {"state": "running"}, MG) == "No average can be given yet."


@pytest.mark.parametrize(
    ("chance", "words", "count"),
    [
        (0.0, "very unlikely", "under 1 in 100"),
        (0.5, "as likely as not", "50 in 100"),
        (0.65, "more likely than not", "65 in 100"),
        (0.999, "very likely", "over 99 in 100"),
        (0.3, "less likely than not", "30 in 100"),
        (0.9, "likely", "90 in 100"),
    ],
)
def test_probabilities_are_never_nought_or_certain(chance, words, count):
    assert common.say_likelihood(chance) == words
    assert common.say_chance(chance).replace(SPACE, " ") == count


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "0 min"),
        (45.2, "45 min"),
        (60, "1 h"),
        (200, "3 h 20 min"),
        (1440, "1 day"),
        (3600, "2.5 days"),
        (20160, "14 days"),
    ],
)
def test_durations(minutes, words):
    assert common.say_duration(minutes) == words


def test_counts_dates_and_lists():
    assert common.say_count(1, "meal") == "1 meal"
    assert common.say_count(3, "stretch", "stretches", spell=True) == "three stretches"
    assert common.say_span(pd.Timestamp("2026-09-07"), pd.Timestamp("2026-09-21")) == "7 – 21 September 2026"
    assert common.say_span(pd.Timestamp("2026-08-30"), pd.Timestamp("2026-09-12")) == "30 August – 12 September 2026"
    assert (
        common.say_span(pd.Timestamp("2026-12-25"), pd.Timestamp("2027-01-07")) == "25 December 2026 – 7 January 2027"
    )
    assert common.join_words(["a"]) == "a"
    assert common.join_words(["a", "b", "c"]) == "a, b and c"
    assert common.cut_text("buckwheat porridge", 10) == "buckwheat…"


def test_numbers_have_a_true_minus_and_no_minus_nought():
    assert write_number(-4.2) == "\u22124"
    assert write_number(-0.2) == "0"
    assert write_percent(0.004) == "under 1 %"
    assert write_percent(0.996) == "over 99 %"
    assert MG.signed(3.0) == "+3"
    assert MG.signed(-0.2) == "0"
    assert MMOL.signed(-9.0) == "\u22120.5"
    assert MG.signed(0.7, 1.0) == "+0.7"


def test_rises_name_exercise_as_normal_and_count_in_singular():
    table = pd.DataFrame({"linked_to": ["meal", "exercise;meal", "unexplained"]})
    text = wear.say_rises(table, 14.0)
    assert (
        text == "3 rises in 14 days. One belongs to exercise, where a rise is normal. One has no cause in your notes."
    )
    assert wear.say_rises(table.iloc[:0], 14.0).startswith("No rise")


def finding(display=MG, **changes) -> str:
    return say_finding(pd.Series(effect(**changes)), 3.0, display)


def on_tense_days(**changes) -> dict:
    of_range = {"range_from": 1.0, "range_to": 7.0, "range_estimate": 10.0, "range_low": 4.0, "range_high": 16.0}
    days = {"factor": "stress", "outcome": "mean_mg_dl", "unit": "mg/dL per point", "n_with": 24, "n_without": 0}
    return effect(**{"verdict": "higher", **days, **of_range, **changes})


def test_an_effect_is_a_comparison_and_never_a_cause():
    assert finding() == (
        f"After meals with a walk, glucose rose 9{SPACE}mg/dL less than after similar meals without "
        "(2 to 16 less; 11 meals with, 20 without)."
    )
    assert finding(MMOL) == (
        f"After meals with a walk, glucose rose 0.5{SPACE}mmol/L less than after similar meals without "
        "(0.1 to 0.9 less; 11 meals with, 20 without)."
    )
    row = pd.Series(effect())
    assert say_range_effect(row, MMOL) == "\u22120.5\u00a0mmol/L (\u22120.9 to \u22120.1)"


def test_a_measured_habit_is_told_over_the_own_range():
    assert say_finding(pd.Series(on_tense_days()), 3.0, MG) == (
        f"On your tensest days (stress 7), the day's average was 10{SPACE}mg/dL higher than on your calmest (1) "
        "(4 to 16 higher; all 24 days)."
    )
    said = say_finding(pd.Series(on_tense_days(factor="covariate:late_screen_min", range_to=61.4)), 3.0, MG)
    assert said.startswith(f"On days with the most “late screen” (61{SPACE}min), the day's average was 10")
    assert f"on those with the least (1{SPACE}min)" in said
    yes_or_no = on_tense_days(factor="covariate:travel", unit="mg/dL", range_from=0.0, range_to=1.0, n_without=9)
    assert say_finding(pd.Series(yes_or_no), 3.0, MG).startswith("On days with “travel”, the day's average was 10")
    assert "than on days without (" in say_finding(pd.Series(yes_or_no), 3.0, MG)


def test_ends_of_a_range_have_the_digits_that_tell_them_apart():
    assert write_ends(4.99, 7.44, "h") == [f"5.0{SPACE}h", f"7.4{SPACE}h"]
    assert write_ends(130.0, 290.4, "mg") == [f"130{SPACE}mg", f"290{SPACE}mg"]
    assert write_ends(2.0, 5.0, "") == ["2", "5"]
    assert write_ends(0.11, 0.42, "") == ["0.11", "0.42"]


@pytest.mark.parametrize(
    ("stood", "said"),
    [
        (1, "New this time: wait for the next wear."),
        (2, "Has held for the last two wears."),
        (3, "Has held for the last three wears."),
    ],
)
def test_a_claim_says_for_how_many_wears_it_has_held(stood, said):
    assert finding(stood=stood).endswith(f"without). {said}")


def test_what_is_clear_and_small_is_said_to_be_both():
    """5 mg/dL of a rise are worth noticing where 3 of a mean are."""
    assert finding(low=-4.9, high=-2.0, estimate=-3.0).endswith("That is clear, but small.")
    assert "small" not in finding(low=-5.1, high=-2.0, estimate=-3.0)


def test_an_open_question_says_how_far_it_may_go_either_way():
    row = effect(verdict="cannot_tell_yet", low=-16.0, high=1.0, needed=6)
    assert say_so_far(pd.Series(row), MG) == (
        f"After meals with a walk, glucose rose 9{SPACE}mg/dL less than after similar meals without; could be 16 less "
        "to 1 more (11 meals with, 20 without)."
    )


def test_what_stands_out_alone_but_not_among_many_says_so():
    said = say_so_far(pd.Series(effect(verdict="cannot_tell_yet")), MG)
    assert "; 2 to 16 less, but with so many links checked this may be chance (" in said


def test_areas_energy_and_sleep_have_their_own_units():
    area = effect(outcome="iauc_2h_mg_dl_min", estimate=-900.0, low=-1500.0, high=-300.0)
    assert say_range_effect(pd.Series(area), MG) == f"\u2212900{SPACE}mg/dL{SPACE}min (\u22121500 to \u2212300)"
    assert f"was 900{SPACE}mg/dL{SPACE}min smaller than" in say_finding(pd.Series(area), 3.0, MG)
    assert f"was 50{SPACE}mmol/L{SPACE}min smaller than" in say_finding(pd.Series(area), 3.0, MMOL)
    asleep = on_tense_days(outcome="asleep_h", range_estimate=0.8, range_low=0.2, range_high=1.4)
    said = f"On your tensest days (stress 7), the sleep that followed was 0.8{SPACE}h longer than on your calmest (1)"
    assert say_finding(pd.Series(asleep), 3.0, WORDS_ONLY).startswith(said)
    assert say_range_effect(pd.Series(asleep), MG) == f"+0.8{SPACE}h (+0.2 to +1.4)"


def test_nobody_is_told_findings_whom_the_tool_only_describes():
    assert choose_findings(pd.DataFrame([effect()]), Person("UTC", under_18=True)).empty


def test_the_area_is_no_second_finding_beside_its_rise():
    rows = [
        effect(),
        effect(outcome="iauc_2h_mg_dl_min"),
        effect(factor="fat_g", outcome="iauc_2h_mg_dl_min"),
        effect(verdict="cannot_tell_yet"),
    ]
    found = choose_findings(pd.DataFrame(rows), ANYONE)
    assert found[["factor", "outcome"]].to_numpy().tolist() == [
        ["walk_after", "rise_mg_dl"],
        ["fat_g", "iauc_2h_mg_dl_min"],
    ]
    assert len(choose_findings(pd.DataFrame([on_tense_days(), on_tense_days(outcome="asleep_h")]), ANYONE)) == 2


COMPARISON = {
    "level": "wear",
    "period_a": "spring_1",
    "period_b": "autumn_1",
    "relation": "later",
    "difference_mg_dl": -5.0,
    "low_mg_dl": -9.0,
    "high_mg_dl": -1.0,
    "probability_lower": 0.98,
    "verdict": "lower",
    "largest_block": "evening",
    "share_days": 0.4,
    "share_hours": 0.1,
    "share_sensor": 0.5,
    "checks_needed": float("nan"),
    "changed": "site;meter",
}


def test_a_comparison_says_verdict_figure_block_and_what_else_changed():
    row = pd.Series(COMPARISON)
    assert study.say_comparison(row, MG) == (
        "autumn 1 compared with spring 1: clearly lower, by 5\u00a0mg/dL (1 to 9). Most of it lies in the evening."
    )
    assert study.say_changed(row) == "Site and meter changed too, which may be part of it."
    unclear = pd.Series(COMPARISON | {"verdict": "cannot_tell_yet", "difference_mg_dl": -2.0, "low_mg_dl": -11.0,
                                      "high_mg_dl": 7.0, "largest_block": "unclear"})  # fmt: skip
    assert study.say_comparison(unclear, MG) == (
        "autumn 1 compared with spring 1: not clear yet, 2\u00a0mg/dL lower; could be 11 lower to 7 higher."
    )
    pairs = pd.DataFrame({"relation": ["later", "overlapping", "later"]})
    assert study.say_pairs(pairs).startswith("Only the latest wear is judged, against the one before")
    assert study.say_pairs(pairs.iloc[:2]) == ""
    assert study.say_checks_needed(row) == ""


def test_sensors_worn_at_once_are_no_change():
    text = study.say_comparison(pd.Series(COMPARISON | {"relation": "overlapping"}), MG)
    assert "no change is claimed" in text
    assert "lower" not in text


def test_an_open_comparison_says_what_would_settle_it():
    row = pd.Series(COMPARISON | {"verdict": "cannot_tell_yet", "checks_needed": 8.0})
    assert study.say_checks_needed(row) == "About 8 more finger-sticks in each may answer it."
    row["checks_needed"] = float("nan")
    assert "the main uncertainty is the sensors" in study.say_checks_needed(row)


def test_the_latest_comparison_is_the_last_wear_with_the_one_before_it():
    pairs = [("a", "b"), ("a", "c"), ("b", "c")]
    table = pd.DataFrame([COMPARISON | {"period_a": a, "period_b": b} for a, b in pairs])
    latest = study.find_latest(table)
    assert (latest["period_a"], latest["period_b"]) == ("b", "c")
    assert study.find_latest(table.iloc[:0]) is None


def test_without_numbers_asking_for_a_figure_is_an_error_and_sentences_hold_none():
    with pytest.raises(ValueError, match="no glucose figures"):
        WORDS_ONLY.level(94.0)
    said = [
        wear.say_wear_average(own(), summary(), WORDS_ONLY),
        wear.say_goal(own(), Goal(95.0), ANYONE, WORDS_ONLY),
        wear.say_usual(own(), WORDS_ONLY),
        wear.say_sensor(own(), summary(), WORDS_ONLY),
        finding(WORDS_ONLY),
        say_so_far(pd.Series(effect(needed=3)), WORDS_ONLY),
        study.say_comparison(pd.Series(COMPARISON), WORDS_ONLY),
    ]
    assert not any(GLUCOSE_FIGURE.search(text) or "94" in text for text in said)


def test_days_list_their_events_in_order_with_what_was_noted(result):
    events = list_events(result, MG)
    assert set(events) <= set(range(len(result.days.dates)))
    for day in events.values():
        assert [e.time for e in day] == sorted(e.time for e in day)
    kinds = {event.kind for day in events.values() for event in day}
    assert {"food", "movement", "feeling", "check", "rise", "aside", "note"} <= kinds
    told = " ".join(event.text for day in events.values() for event in day)
    assert "not used:" in told
    without = " ".join(event.text for day in list_events(result, WORDS_ONLY).values() for event in day)
    assert not GLUCOSE_FIGURE.search(without)


def test_a_running_wear_tells_its_newest_meal_and_last_reading(running, result):
    assert wear.say_latest_meal(running, MG).startswith("Newest meal, ")
    assert wear.say_latest_meal(result, MG) == ""
    assert any("still running, last reading" in fact for fact in wear.list_facts(running))
    off = replace(result, wear=replace(result.wear, ended="fell_off"))
    assert f"fell off on day {len(result.days.dates)}" in wear.list_facts(off)
    taken_off = replace(result, wear=replace(result.wear, ended="removed"))
    assert not any(" on day " in fact for fact in wear.list_facts(taken_off))
    table = running.tables["meal_responses"].sort_values("time").iloc[[-1]].assign(usable_2h=False, reason="gap")
    early = replace(running, tables=dict(running.tables) | {"meal_responses": table})
    assert "cannot be given yet (readings missing)" in wear.say_latest_meal(early, MG)


def asked(*rows: tuple[str, str, float]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["factor", "outcome", "chance_told"])


def wears_with(sticks: int, half: float) -> pd.DataFrame:
    row = {"level": "wear", "start": pd.Timestamp("2026-03-01", tz="UTC"), "checks_used": sticks, "mean_mg_dl": 100.0}
    return pd.DataFrame([row | {"mean_low_mg_dl": 100.0 - half, "mean_high_mg_dl": 100.0 + half}])


def test_the_first_screen_of_a_study_says_what_to_do_next():
    checks = pd.DataFrame({"checks": [0, 6], "mean_half_mg_dl": [19.0, 8.2], "advised": [False, True]})
    effects = pd.DataFrame([effect(verdict="cannot_tell_yet", needed=6)])
    questions = asked(("walk_after", "rise_mg_dl", 0.72))
    levers = empty_output("levers")
    tables = {"next_checks": checks, "effects": effects, "next_questions": questions, "levers": levers,
              "periods": empty_output("periods")}  # fmt: skip
    stick, question = say_steps(tables, 97.0, Goal(95.0), ANYONE, MG)
    assert stick == (
        "Take 6 finger-sticks in the next wear: its average is then known to within 8\u00a0mg/dL (with none, 19)."
    )
    more = say_steps(tables | {"periods": wears_with(12, 14.0)}, 97.0, Goal(95.0), ANYONE, MG)[0]
    assert more.endswith("(with none, 19; your last 12 gave 14).")
    assert "gave" not in say_steps(tables | {"periods": wears_with(6, 5.4)}, 97.0, Goal(95.0), ANYONE, MG)[0]
    assert question.startswith("Keep noting. After meals with a walk, glucose rose 9")
    assert question.endswith(f"The next wear will probably answer it (72{SPACE}in{SPACE}100).")
    assert say_steps(tables, 97.0, Goal(95.0), Person(time_zone="UTC", pregnant=True), MG) == []
    assert say_steps(tables | {"next_checks": checks.iloc[:0]}, 97.0, Goal(95.0), ANYONE, MG) == []
    for chance, told in ((0.02, False), (0.59, False), (0.61, True)):  # from 0.6 on it will "probably" be answered
        asked_so = tables | {"next_questions": questions.assign(chance_told=chance)}
        assert (len(say_steps(asked_so, 97.0, Goal(95.0), ANYONE, MG)) == 2) == told
    lever = {"factor": "asleep_h", "now": 6.5, "on_mean_mg_dl": -1.4, "low_mg_dl": -2.4, "high_mg_dl": -0.4}
    helped = tables | {"levers": pd.DataFrame([lever | {"verdict": "lower"}])}
    assert (
        "an hour more sleep would lower your average over day and night by 1.4"
        in say_steps(helped, 97.0, Goal(95.0), ANYONE, MG)[1]
    )
    hidden = say_steps(tables, 97.0, Goal(95.0), ANYONE, WORDS_ONLY)
    assert hidden[0] == "Take 6 finger-sticks in the next wear."
    assert hidden[1].endswith("The next wear will probably answer it.")


def test_the_next_wears_questions_keep_their_order_one_a_factor_at_most_three():
    """The order is that of next_questions.csv: what may change the average most, by its chance."""
    open_ones = [
        effect(factor=f, outcome=o) for f in ("stress", "fat_g", "eaten_out", "fiber_g") for o in ("rise_mg_dl",)
    ]
    effects = pd.DataFrame([*open_ones, effect(factor="stress", outcome="mean_mg_dl")])
    rows = [("fiber_g", 0.1), ("stress", 0.9), ("fat_g", 0.2), ("eaten_out", 0.8)]
    questions = asked(*((factor, "rise_mg_dl", chance) for factor, chance in rows), ("fiber_g", "mean_mg_dl", 0.7))
    chosen = choose_next(effects, questions, ANYONE)
    assert chosen[["factor", "chance_told"]].to_numpy().tolist() == [["fiber_g", 0.1], ["stress", 0.9], ["fat_g", 0.2]]
    assert choose_next(effects, questions, Person("UTC", pregnant=True)).empty


CHANCES = {
    0.05: ("almost certainly won't", "very likely won't"), 0.2: ("very likely won't", "probably won't"),
    0.4: ("probably won't", "may or may not"), 0.6: ("may or may not", "will probably"),
    0.8: ("will probably", "will very likely"), 0.95: ("will very likely", "will almost certainly"),
}  # fmt: skip
"""Where one word ends and the next begins, as the guide to the words has it."""


@pytest.mark.parametrize("limit", CHANCES)
def test_a_chance_is_said_as_what_will_happen(limit):
    assert (common.say_will(limit - 1e-6), common.say_will(limit + 1e-6)) == CHANCES[limit]
    assert common.say_likelihood(limit - 1e-6) != common.say_likelihood(limit + 1e-6)


class TestSayNextGoal:
    """Of an average of 97 and a goal of 95."""

    def plan(self, *chances: float) -> pd.DataFrame:
        halves = [19.0, 9.4, 8.8]
        return pd.DataFrame(
            {
                "checks": [0, 4, 20],
                "mean_half_mg_dl": halves,
                "chance_goal_told": chances,
                "advised": [False, True, False],
            }
        )

    def test_where_more_sticks_do_not_help_what_would_is_said(self):
        said = say_next_goal(self.plan(0.07, 0.12, 0.13), Goal(95.0), MG)
        assert said == (
            "The next wear very likely won't show on which side of your goal you are "
            f"(12{SPACE}in{SPACE}100), if you live as now. More finger-sticks will not settle it "
            f"(13{SPACE}in{SPACE}100 with 20); an average of 86 mg/dL or less would, or of 104 or more."
        )

    def test_where_the_next_wear_shows_it_no_more_is_said(self):
        said = say_next_goal(self.plan(0.3, 0.7, 0.8), Goal(95.0), MG)
        assert said.startswith("The next wear will probably show on which side")
        assert "More finger-sticks" not in said

    def test_without_a_goal_nothing_and_without_numbers_no_figure(self):
        assert say_next_goal(self.plan(np.nan, np.nan, np.nan), Goal(None), MG) == ""
        assert not re.search(r"\d", say_next_goal(self.plan(0.07, 0.12, 0.13), Goal(95.0), WORDS_ONLY))

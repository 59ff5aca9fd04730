"""Does a wear's first screen say what its tables say, in words that hold, and with marks that everyone can see?"""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import analyse_study
from glucolab.showing import colours, wear_first_screen
from glucolab.showing.charts import ledger, next_step
from glucolab.showing.words.pages import wear_first as said
from glucolab.so_far import Finding, know_nothing, look_at_all, look_back
from tests.showing.test_words import MG, MMOL, SPACE, WORDS_ONLY, effect, own, summary

SCRIPT = "<script>alert(1)</script>"
WIDTHS = (ledger.LEDGER_PX, ledger.LEDGER_NARROW_PX)


def compared(**changes):
    plain = {
        "relation": "later", "difference_mg_dl": -2.0, "low_mg_dl": -9.0, "high_mg_dl": 5.0,
        "verdict": "cannot_tell_yet", "largest_block": "unclear", "changed": "sensor model;site",
    }  # fmt: skip
    return pd.Series(plain | changes)


def habits(*rows):
    return pd.DataFrame(rows, columns=["habit", "difference", "verdict"])


class TestSaySince:
    def test_what_is_not_clear_says_how_far_it_may_go_either_way(self):
        told = said.say_since(compared(), habits(("stress", -0.4, "cannot_tell_yet")), "in June", MG)
        assert told.heading == "Since June: not clear yet"
        assert told.text == (
            f"2{SPACE}mg/dL lower; could be 9 lower to 5 higher. No part of the day clearly stands out."
        )
        assert told.more == (
            "The sensor’s model and where you wore it changed too. Your noted habits do not clearly differ."
        )

    def test_a_clear_change_says_so_and_where(self):
        row = compared(difference_mg_dl=-5.0, low_mg_dl=-9.0, high_mg_dl=-1.0, verdict="lower", largest_block="evening")
        told = said.say_since(row, habits(("carbs_g", -38.0, "lower")), "in April", MG)
        assert told.heading == f"Since April: clearly lower, by 5{SPACE}mg/dL"
        assert told.text == "1 to 9 lower. Most of it lies in the evening."
        assert told.more.endswith("Clearly different, as written down: carbohydrate lower.")

    @pytest.mark.parametrize(
        ("change", "heading"),
        [
            (
                {"verdict": "too_small_to_matter", "low_mg_dl": -2.9, "high_mg_dl": 2.0},
                "Since June: too small to matter",
            ),
            ({"verdict": "not_enough_data", "difference_mg_dl": np.nan}, "Since June: not enough data yet"),
            ({"relation": "overlapping"}, "Since June: worn at the same time"),
        ],
    )
    def test_other_verdicts(self, change, heading):
        assert said.say_since(compared(**change), habits(), "in June", MG).heading == heading

    def test_a_first_wear_has_nothing_to_be_set_against(self):
        assert said.say_since(None, habits(), "", MG).heading == "Nothing to compare with yet"

    def test_in_mmol_and_without_figures(self):
        # 5, 9 and 1 mg/dL over 18.016 are 0.28, 0.50 and 0.06 mmol/L
        row = compared(difference_mg_dl=-5.0, low_mg_dl=-9.0, high_mg_dl=-1.0, verdict="lower")
        assert said.say_since(row, habits(), "in June", MMOL).text.startswith("0.1 to 0.5 lower.")
        told = said.say_since(row, habits(), "in June", WORDS_ONLY)
        assert told.heading == "Since June: lower"
        assert not re.search(r"\d", " ".join(told))


class TestSayPageFinding:
    def test_a_link_in_three_parts(self):
        row = pd.Series(effect(stood=3.0))
        told = said.say_page_finding(Finding("walk_after", "rise_mg_dl", row), 3.0, MG)
        assert told.heading == f"After meals with a walk, glucose rose 9{SPACE}mg/dL less"
        assert told.text == "than after similar meals without (2 to 16 less; 11 meals with, 20 without)."
        assert told.more == "Has held for the last three wears."

    def test_a_new_link_is_called_new(self):
        row = pd.Series(effect(stood=1.0))
        more = said.say_page_finding(Finding("walk_after", "rise_mg_dl", row), 3.0, MG).more
        assert more == "New this time: wait for the next wear."

    @pytest.mark.parametrize(("p", "words"), [(0.004, "less than once in 100"), (0.02, "2 times in 100")])
    def test_an_experiment_is_an_effect_with_what_chance_would_do(self, p, words):
        row = pd.Series({"trial": "walk_after_porridge", "arm_a": "rest", "arm_b": "walk", "difference": -13.0,
                         "low": -22.0, "high": -5.0, "n_a": 6, "n_b": 5, "p_exact": p})  # fmt: skip
        told = said.say_page_finding(Finding("walk_after_porridge", "rise_mg_dl", row), 3.0, MG)
        assert told.heading == f"Walk after porridge: glucose rose 13{SPACE}mg/dL less"
        assert told.text == (
            f"with “walk” than with “rest” (5 to 22 less; 5 and 6 meals; chance alone would do this {words})."
        )
        assert told.more == "Dates were random, so this is an effect, or chance."
        hidden = said.say_page_finding(Finding("walk_after_porridge", "rise_mg_dl", row), 3.0, WORDS_ONLY)
        assert "13" not in " ".join(hidden)


def test_shares_of_the_variance_are_those_of_the_widths():
    """Half-widths 3 of the sensor, 4 with hours, 6 with days: 9, 16 - 9 and 36 - 16 of 36."""
    shares = said.share_causes(own())
    assert shares == pytest.approx({"sensor": 9 / 36, "hours": 7 / 36, "days": 20 / 36})
    assert "56 % of the uncertainty comes from which days you wore it." in said.say_interval(own(), summary(), MG)


def test_without_the_days_of_illness_the_average_moves_by_as_much():
    ill = summary(ill_days=1, mean={"estimate": 95.0}, mean_without_ill_days={"estimate": 92.0})
    assert "Without the day you were ill: 91." in said.say_interval(own(), ill, MG)
    same = summary(ill_days=1, mean={"estimate": 95.0}, mean_without_ill_days={"estimate": 94.8})
    assert "It is the same without the day you were ill." in said.say_interval(own(), same, MG)


def test_what_this_wear_alone_gives_is_said_where_it_differs():
    assert said.say_alone(own(), summary(), MG) == ""
    other = said.say_alone(own(mean_mg_dl=97.0, mean_low_mg_dl=90.0, mean_high_mg_dl=104.0), summary(), MG)
    assert other.startswith(f"This wear alone would give 94{SPACE}mg/dL, give or take{SPACE}4.")


def test_wears_are_called_by_their_month_and_told_apart():
    def named(*starts):
        rows = pd.DataFrame(
            {"level": "wear", "name": list(starts), "start": pd.to_datetime(starts), "mean_mg_dl": 95.0}
        )
        return said.name_wears(rows)[["label", "when"]].to_numpy().tolist()

    assert named("2026-02-03", "2026-06-08") == [["Feb", "in February"], ["Jun", "in June"]]
    assert named("2025-06-01", "2026-06-08")[0] == ["Jun 2025", "in June 2025"]
    assert named("2026-06-01", "2026-06-20")[1] == ["20 Jun", "from 20 June on"]


@pytest.fixture(scope="module")
def analysis(sample):
    return analyse_study(sample)


def screen(analysis, study=None, k=None):
    study, k = study or analysis.study, k or len(analysis.wears)
    return wear_first_screen.show_first_screen(analysis.wears[k - 1], study, look_back(study, analysis.wears[:k]))


def test_the_screen_says_what_the_tables_say(analysis):
    periods = analysis.tables["periods"]
    mine = periods[periods["level"] == "wear"].iloc[-1]
    half = (mine["mean_high_mg_dl"] - mine["mean_low_mg_dl"]) / 2
    text = screen(analysis).text.replace(SPACE, " ")
    assert f"average was {mine['mean_mg_dl']:.0f} mg/dL, give or take {half:.0f}." in text
    assert f"{100 * mine['probability_goal_met']:.0f} chances in 100" in text
    trial = analysis.tables["trial_results"].iloc[0]
    assert f"glucose rose {abs(trial['difference']):.0f} mg/dL less with “walk” than with “rest”" in text.replace(
        "\n", " "
    )
    last = analysis.tables["comparisons"].query("level == 'wear'").set_index(["period_a", "period_b"])["verdict"]
    assert last[tuple(one.wear.name for one in analysis.wears[-2:])] == "lower"
    assert "clearly lower, by " in text
    assert "Take " in text


def test_a_page_leads_to_the_study_and_to_the_wear_before_alone(analysis):
    links = re.findall('href="([^"]*)"', screen(analysis).html)
    assert links == [f"../{analysis.wears[-2].wear.name}/report.html", "../study/report.html"]
    assert re.findall('href="([^"]*)"', screen(analysis, k=1).html) == ["../study/report.html"]


def test_without_figures_no_glucose_figure_is_shown(analysis, sample):
    page = screen(analysis, replace(sample, numbers=False))
    assert not re.search(r"\d\s*(mg/dL|mmol/L)", page.text.replace(SPACE, " "))
    pictures = re.findall(r"<text[^>]*>([^<]*)</text>", page.html)
    assert not [
        text
        for text in pictures
        if re.search(r"[1-9]", re.sub(r"\d+.\d+$|, \d+( drawn)?$|^[123] h$|^\d+ finger-sticks$|^(6|18|24)$", "", text))
    ]


def test_who_is_only_described_is_told_no_goal_link_or_step(analysis, sample):
    described = replace(sample, person=replace(sample.person, under_18=True))
    text = screen(analysis, described).text
    assert "describes and does not advise" in text
    assert not re.search("goal of|lower|less|Take|What to do next", text)


def test_a_fault_is_said_and_the_wear_alone_is_given(analysis, sample):
    page = wear_first_screen.show_first_screen(analysis.wears[-1], sample, know_nothing("no such bias"))
    assert "no such bias" in page.text
    assert "This wear alone: " in page.text
    assert "What to do next" not in page.text


class TestLedger:
    @pytest.fixture
    def drawn(self, analysis):
        tables = look_at_all(analysis).tables
        wears = said.name_wears(tables["periods"])
        blocks = tables["block_changes"].tail(4)
        quarters = blocks.rename(columns={"change_mg_dl": "estimate", "low_mg_dl": "low", "high_mg_dl": "high"})
        curves = tables["curves"]
        pair = curves[curves["finding"] == curves["finding"].iloc[0]]
        names = {side: f"{side} {SCRIPT}" for side in pair["side"].unique()}

        def draw(display, width):
            return [
                ledger.draw_wears(wears.assign(label=SCRIPT), 95.0, display, width),
                ledger.draw_quarters(quarters, 3.0, "in June", display, width),
                ledger.draw_pair(pair, names, (-28.0, -39.0, -17.0), True, display, width),
                next_step.draw_lever(98.0, (-1.5, -2.3, -0.7), 95.0, display, width),
                next_step.draw_sticks((19.0, 7.0), 4, display, width),
            ]

        return draw

    @pytest.mark.parametrize("display", [MG, MMOL, WORDS_ONLY], ids=["mg/dL", "mmol/L", "words"])
    @pytest.mark.parametrize("width", WIDTHS)
    def test_each_is_whole_described_escaped_and_of_its_width(self, drawn, display, width):
        for drawing in drawn(display, width):
            svg = ElementTree.fromstring(drawing.svg)
            assert float(svg.get("width")) == width
            assert len(drawing.description) > 30
            assert "<script" not in drawing.svg

    def test_a_bar_is_as_long_as_its_interval(self):
        """Two wears, the second twice as wide: so is its bar."""
        rows = pd.DataFrame({"label": ["Feb", "Jun"], "mean_mg_dl": [100.0, 95.0], "mean_low_mg_dl": [95.0, 85.0],
                             "mean_high_mg_dl": [105.0, 105.0]})  # fmt: skip
        svg = ElementTree.fromstring(ledger.draw_wears(rows, None, MG).svg)
        widths = [float(one.get("width")) for one in svg.iter("{http://www.w3.org/2000/svg}rect")]
        assert widths[1] == pytest.approx(2 * widths[0], rel=0.001)

    def test_a_line_breaks_where_nothing_was_recorded(self):
        curves = pd.DataFrame({"side": ["with"] * 5 + ["without"] * 5, "line": 0, "minutes": [0, 10, 20, 30, 40] * 2,
                               "above_mg_dl": [0.0, 5.0, np.nan, 8.0, 9.0] + [0.0] * 5})  # fmt: skip
        thin = curves.assign(line=1)
        drawing = ledger.draw_pair(pd.concat([curves, thin]), {"with": "a", "without": "b"}, (1.0, 0.0, 2.0), True, MG)
        assert len([path for path in re.findall(' d="([^"]*)"', drawing.svg) if path.count("M") == 2]) == 2


def luminance(colour):
    """WCAG 2.2, relative luminance, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    light, dark = sorted((luminance(c) @ [0.2126, 0.7152, 0.0722] for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colour", [colours.INK, colours.MUTED, colours.ACCENT, colours.OCHRE_TEXT])
def test_text_has_four_and_a_half_to_one(colour):
    assert contrast(colour, colours.PAPER) >= 4.5


MARKS = (
    colours.ACCENT, colours.ACCENT_EDGE, colours.EARLIER_EDGE, colours.EARLIER_DOT, colours.MOSS, colours.PLUM,
    colours.OCHRE,
)  # fmt: skip


@pytest.mark.parametrize("colour", MARKS)
def test_marks_have_three_to_one(colour):
    assert contrast(colour, colours.PAPER) >= 3


def lab(linear):
    """CIE 1976 L*a*b*, D65; matrix of IEC 61966-2-1."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ linear
    f = np.cbrt(xyz / [0.9505, 1.0, 1.089])
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


PROTAN = np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]])
"""Machado, Oliveira & Fernandes 2009, doi 10.1109/TVCG.2009.113, protanopia of severity 1."""


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (colours.ACCENT, colours.INK),  # the two curves of a pair
        (colours.ACCENT_PALE, colours.EARLIER),  # this wear's interval and an earlier one's
        (colours.ACCENT, colours.OCHRE_TEXT),  # the average and the goal
        (colours.MOSS, colours.INK),  # movement and food
        (colours.OCHRE_PALE, colours.ASLEEP),  # a peak and sleep
    ],
)
def test_what_stands_side_by_side_differs_to_a_protan_eye(one, other):
    """Ten units of CIE 1976 are far beyond what is just seen (2.3: Mahy et al. 1994)."""
    apart = lab(np.clip(PROTAN @ luminance(one), 0, 1)) - lab(np.clip(PROTAN @ luminance(other), 0, 1))
    assert np.linalg.norm(apart) >= 10


def test_the_display_of_a_study_is_honoured(analysis, sample):

    text = screen(analysis, replace(sample, unit="mmol/L")).text.replace(SPACE, " ")
    mine = analysis.tables["periods"].query("level == 'wear'").iloc[-1]
    half = (mine["mean_high_mg_dl"] - mine["mean_low_mg_dl"]) / 2
    assert f"{mine['mean_mg_dl'] / 18.016:.1f} mmol/L, give or take {half / 18.016:.1f}" in text
    assert "mg/dL" not in text


def test_what_healthy_people_average_stands_beside_the_average():
    """98 to 99 mg/dL, 5.5 mmol/L, and over 60 104, 5.8 (Shah et al. 2019); nothing where numbers are hidden."""
    assert said.say_what_is_usual(MG) == "Healthy people: about 99 (over 60: 104)."
    assert said.say_what_is_usual(MMOL) == "Healthy people: about 5.5 (over 60: 5.8)."
    assert said.say_what_is_usual(WORDS_ONLY) == ""

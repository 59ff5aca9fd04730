"""Can the page be read, and is each colour one meaning?"""

from __future__ import annotations

import itertools
import subprocess
import sys

import numpy as np
import pytest

from glucolab.showing import colours, theme
from glucolab.showing.markup import write_style


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 (W3C 2023), definition of "relative luminance"."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_measured_as_the_standard_does():
    assert contrast("#ffffff", "#000000") == pytest.approx(21)  # WCAG 2.2: black on white


@pytest.mark.parametrize("ground", [colours.PAPER, colours.FAINT, colours.ASLEEP])
@pytest.mark.parametrize("text", [colours.INK, colours.MUTED, colours.ACCENT, colours.OCHRE_TEXT])
def test_text_stands_out_from_every_ground(text, ground):
    assert contrast(text, ground) >= 4.5  # WCAG 2.2, success criterion 1.4.3


def test_marks_stand_out_from_paper():
    for mark in (colours.ACCENT, colours.OCHRE, colours.MOSS, colours.PLUM):
        assert contrast(mark, colours.PAPER) >= 3  # WCAG 2.2, success criterion 1.4.11


def test_colours_of_different_meanings_differ_in_lightness_or_hue():
    for a, b in itertools.combinations((colours.ACCENT, colours.OCHRE, colours.MOSS, colours.PLUM, colours.GREY), 2):
        assert a != b


DEUTAN, PROTAN = (
    np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
    np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
)
"""What eyes without the middle, the long cones see of linear light (Machado, Oliveira & Fernandes, IEEE TVCG 2009)."""


def lab_seen(colour: str, eyes: np.ndarray) -> np.ndarray:
    """CIELAB under D65 (CIE 15; sRGB matrix of IEC 61966-2-1)."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    seen = np.clip(eyes @ linear, 0, 1)
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x, y, z = np.cbrt(np.maximum(to_xyz @ seen / [0.9505, 1.0, 1.089], 1e-6))
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize("eyes", [np.eye(3), DEUTAN, PROTAN], ids=["usual", "deutan", "protan"])
def test_what_stands_side_by_side_on_the_study_page_can_be_told_apart(eyes):
    """Latest beside earlier wears, clear beside unclear habits, the goal, two arms: 20 units of CIE 1976 or more.

    About 2.3 is a just noticeable difference (Mahy et al., Color Res Appl 1994).
    """
    pairs = itertools.combinations((colours.ACCENT, colours.GREY_INK, colours.OCHRE_TEXT), 2)
    for a, b in pairs:
        assert np.linalg.norm(lab_seen(a, eyes) - lab_seen(b, eyes)) >= 20
    assert contrast(colours.GREY_INK, colours.PAPER) >= 4.5


def test_every_colour_of_the_style_sheet_comes_from_the_palette():
    rules = write_style().split("}", 1)[1]
    assert "#" not in rules.replace("#day", "")
    used = {name.split(")")[0] for name in rules.split("--gl-")[1:]}
    assert used <= set(colours.PAGE_COLOURS)


def test_letters_that_fit_are_counted_for_the_widest_font():
    assert theme.letters_in(76) == 10


def test_altair_loads_without_the_slow_grammar_and_still_checks_charts():
    code = (
        "from glucolab.showing.quick_altair import skip_slow_grammar; skip_slow_grammar()\n"
        "import sys, altair as alt\n"
        "assert sys.modules['rfc3987_syntax'] is None\n"
        "alt.Chart().mark_point().encode(x='a:Q').to_dict()\n"
        "try: alt.Chart().mark_point(size='wrong').to_dict()\n"
        "except Exception as error: print(type(error).__name__)\n"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ended.stdout.strip() == "SchemaValidationError"

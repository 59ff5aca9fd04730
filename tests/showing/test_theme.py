"""Can the page be read, and is each colour one meaning?"""

from __future__ import annotations

import itertools
import subprocess
import sys

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

"""Does a character that nobody can see cost one character, and not a page? Each in its own process."""

from __future__ import annotations

import subprocess
import sys

import pytest

DRAW = """
import sys
import altair as alt
from glucolab.showing.pictures import draw_svg
text = "soup" + chr(int(sys.argv[1])) + " with leek"
rows = alt.Data(values=[{"name": text, text: 1.0, "day": 1}])
chart = alt.Chart(rows).mark_text().encode(text="name:N", y=alt.Y(field=text, type="quantitative", title=text))
svg = draw_svg(chart)
print(svg.count("soup with leek"), any(chr(one) in svg for one in (*range(9), 11, 12, *range(14, 32), 0xFFFE, 0xFFFF)))
"""


@pytest.mark.parametrize("character", [0x0, 0x7, 0xB, 0x1B, 0x1F, 0xD800, 0xFFFE], ids=hex)
def test_a_control_character_is_left_out_of_what_is_drawn(character):
    drawn = subprocess.run([sys.executable, "-c", DRAW, str(character)], capture_output=True, text=True, check=False)
    assert drawn.returncode == 0, drawn.stderr[-300:]
    count, left = drawn.stdout.split()
    assert left == "False"
    assert int(count) == 2, "its mark and the title of its axis"

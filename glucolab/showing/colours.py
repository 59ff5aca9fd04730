"""Which colour means what? One palette for charts and pages; the same meaning has the same colour everywhere."""

PAPER = "#fbfaf6"
INK = "#23262b"
MUTED = "#5c6168"
HAIRLINE = "#d9d5cc"
ACCENT = "#1f5f8b"
ACCENT_PALE = "#b5cbd8"
ACCENT_EDGE = "#648cab"
EARLIER, EARLIER_EDGE, EARLIER_DOT = "#dedbd3", "#8b887f", "#6f6c65"
"""Intervals of earlier wears; the edges are what carries the 3:1 on paper."""
OCHRE = "#b5761a"
OCHRE_PALE = "#e9cfa3"
OCHRE_TEXT = "#8a560c"
MOSS = "#5d7a3c"
PLUM = "#7d4a83"
GREY = "#a9a59b"
GREY_INK = "#6f6c65"
ASLEEP = "#ecebe0"
SMALL_BAND = "#ece6dd"
FAINT = "#f2f0e9"
PAGE_COLOURS = {
    "paper": PAPER,
    "ink": INK,
    "muted": MUTED,
    "hairline": HAIRLINE,
    "accent": ACCENT,
    "ochre": OCHRE,
    "ochre-pale": OCHRE_PALE,
    "moss": MOSS,
    "plum": PLUM,
    "grey": GREY,
    "asleep": ASLEEP,
    "faint": FAINT,
}
"""What the style sheet calls ``--gl-<name>``."""

LINK_COLOURS = {
    "sensor": GREY,
    "exercise": MOSS,
    "meal": OCHRE,
    "stress": PLUM,
    "early_morning": OCHRE,
    "unexplained": INK,
}
"""Colour of a rise by what it is linked to: rises are ochre, unless another meaning leads."""

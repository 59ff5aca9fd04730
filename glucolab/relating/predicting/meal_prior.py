"""What do people's meals have in common? What is expected of a response before a person's own meals are seen."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

CURVE_MIN = np.arange(15, 181, 15)
"""Times of a predicted curve after eating [min]: the contract's three hours; coarser hides a peak, finer only costs."""


class Expected(NamedTuple):
    """What one column of the log does, beforehand.

    Attributes
    ----------
    spread : float
        SD between people, in units of what meals of one person scatter by. [1]
    rise : float
        On the rise. [mg/dL]
    curve : tuple of float
        On glucose above baseline at each of `CURVE_MIN`. [mg/dL]
    """

    spread: float
    rise: float = 0.0
    curve: tuple[float, ...] = (0.0,) * len(CURVE_MIN)


LOG_COLUMNS = {
    "one": Expected(0.51, 32.8, (8.0, 17.1, 20.1, 15.5, 10.3, 9.2, 9.4, 8.7, 5.9, 3.4, 2.5, 1.7)),
    "carbs": Expected(0.47, 23.0, (4.7, 14.0, 21.1, 23.2, 20.5, 17.1, 16.9, 15.6, 14.5, 11.3, 8.7, 8.0)),
    "baseline": Expected(
        0.10, -13.6, (-7.1, -11.0, -14.5, -16.1, -18.1, -17.9, -17.9, -17.7, -18.3, -19.0, -19.9, -19.1)
    ),
    "carbs_before": Expected(0.16, -6.7, (-2.4, -5.0, -4.7, -1.4, -1.1, -3.4, -3.9, -5.2, -1.9, 1.5, 1.3, -1.3)),
    "morning": Expected(0.39, 1.6, (4.1, 5.1, 2.9, 0.3, -1.1, -0.9, -1.3, -4.0, -4.9, -4.8, -5.7, -5.7)),
    "midnight": Expected(0.24, 0.3, (2.6, 2.3, 0.8, 0.2, 0.7, 1.0, 1.8, 2.7, 2.5, 3.4, 3.7, 2.9)),
    "fat": Expected(0.07, 0.5, (-1.1, -1.1, -0.5, -1.4, -3.3, -2.8, -1.5, -1.3, -0.5, -0.7, -0.8, -1.8)),
    "protein": Expected(0.05, -3.6, (-0.2, -2.0, -3.0, -2.8, -1.9, -1.7, -1.7, -1.3, -0.9, -0.2, 0.1, 0.0)),
    "fibre": Expected(0.08, -5.0, (-0.7, -2.0, -3.5, -4.2, -4.7, -3.2, -3.9, -3.6, -3.0, -2.0, -1.5, -0.2)),
    "carbs_after": Expected(0.18, 0.9, (-1.2, -3.0, -5.2, -0.8, 3.8, 7.2, 7.7, 3.1, 4.7, 4.2, 3.6, 6.5)),
    "exercised": Expected(0.30),
    "walk_after": Expected(0.30),
    "protein_first": Expected(0.30),
    "eaten_out": Expected(0.30),
}
"""By column of :func:`~glucolab.relating.predicting.meal_model.tabulate_log`, in its units. The first ten are means
over 14 people of the open recordings (`food_log`, `two_sensors`; one sensor each, 438 occasions) and how they differ,
learnt anew by `python -m tests.known_truth.real_traces.meal_prior`; the others are assumed: nothing either way. With
what the other thirteen share, later days' curves of a person miss by 0.81 of what their own mean curve misses by, rises
by 0.81 of their own mean's: better in 14 of 14; 0.90 of 303 intervals hold. Too tight a spread holds a person to the
others, too loose forgets them. [mg/dL per unit of the column]"""

DISH_SPREAD = 0.4
"""SD of what a dish adds beyond its nutrients, in the same units [1]: of 0, 0.2 and 0.4 the last predicted best, by a
hundredth. Too small treats all dishes of like carbohydrate alike, too large believes a single eating."""
WEAR_SPREAD = 0.15
"""The same of a wear, whose sensor reads higher or lower [1]; assumed. Too small carries one sensor over to the next,
too large begins anew with each."""
SCATTER_MG_DL, SCATTER_WEIGHT = 20.0, 4.0
"""Usual scatter of one person's rises about what is predicted [mg/dL], and how many meals it counts for [1]: in those
people 10 to 41, mean 20. Too small a weight believes the first few meals, too large holds everybody to the mean."""
CURVE_SCATTER_MG_DL = np.array([13.8, 19.7, 21.6, 22.5, 22.0, 21.0, 20.0, 18.8, 17.5, 16.4, 15.3, 14.7])
"""The same about a predicted curve, at each of `CURVE_MIN` [mg/dL], in the same people. As above."""
SCATTER_START, SCATTER_GROWTH = 0.64, 0.01
"""How the scatter grows with the predicted rise: of nothing [1], and for each mg/dL [1 / mg/dL]; it is 1 at 36. In
the same people SDs were 19, 21, 24, 32 and 40 about predictions of 10, 22, 37, 57 and 80. Flat, small meals get
intervals too wide and large ones too narrow."""
USUAL_MISSES = np.array(
    [-1.61, -1.27, -1.0, -0.88, -0.74, -0.61, -0.45, -0.35, -0.15, -0.04,
     0.02, 0.16, 0.28, 0.46, 0.6, 0.8, 0.97, 1.29, 1.67, 2.3]
)  # fmt: skip
"""Quantiles, from 1/40 in steps of 1/20, of what predictions missed by, over its scatter, in the same people [1]: rises
miss further upward. Symmetric ones would miss large rises too often; they weigh as twenty meals."""
REPEATED_R = 0.66
"""Correlation of rises when the same meal is eaten again [1]: repeated meals of 30 people (references A4.7). No log can
predict much better on average; any other would set another ceiling beside the score. It moves a sentence, no figure."""

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
    "one": Expected(0.59, 31.5, (8.0, 14.9, 14.4, 11.6, 10.7, 9.9, 9.7, 8.4, 5.4, 3.5, 3.2, 2.1)),
    "carbs": Expected(0.50, 23.2, (6.1, 13.1, 16.0, 18.9, 20.4, 17.9, 17.7, 14.8, 12.9, 10.5, 8.6, 8.7)),
    "baseline": Expected(
        0.12, -14.2, (-7.5, -11.7, -14.0, -15.1, -17.8, -18.4, -18.9, -18.8, -19.1, -19.3, -19.7, -18.6)
    ),
    "carbs_before": Expected(0.15, -6.4, (-1.5, -4.0, -3.7, -2.7, -2.8, -4.4, -4.1, -4.8, -1.5, 1.7, 1.1, -1.4)),
    "morning": Expected(0.41, 1.7, (3.0, 4.7, 4.4, 2.6, -0.1, -0.8, -1.9, -4.7, -5.4, -5.2, -5.9, -5.7)),
    "midnight": Expected(0.25, 0.1, (2.5, 2.9, 2.1, 1.6, 1.2, 0.8, 1.0, 2.2, 2.4, 3.5, 4.1, 3.3)),
    "fat": Expected(0.07, -0.2, (0.3, -0.8, -1.7, -2.8, -3.8, -2.9, -1.6, -1.4, -0.7, -1.0, -1.1, -1.6)),
    "protein": Expected(0.05, -3.5, (-0.6, -1.9, -1.9, -1.6, -1.7, -1.9, -1.9, -1.2, -0.6, 0.0, 0.1, -0.1)),
    "fibre": Expected(0.08, -4.7, (-1.2, -1.8, -1.6, -2.3, -4.0, -2.8, -3.6, -3.5, -3.2, -2.4, -1.8, -0.3)),
    "carbs_after": Expected(0.17, 0.3, (-1.9, -2.8, -2.3, 1.9, 4.3, 6.3, 6.0, 1.4, 3.4, 3.4, 2.7, 5.3)),
    "exercised": Expected(0.30),
    "walk_after": Expected(0.30),
    "protein_first": Expected(0.30),
    "eaten_out": Expected(0.30),
}
"""By column of :func:`~glucolab.relating.predicting.meal_model.tabulate_log`, in its units. The first ten are means
over 14 people of the open recordings (`food_log`, `two_sensors`; one sensor each, some 500 occasions) and how they
differ; the others are assumed: nothing either way. With what the other thirteen share, later days' curves of a person
miss by 0.81 of what the person's own mean curve misses by, rises by 0.82 of their own mean's: better in 14 of 14. Too
tight a spread holds a person to the others, too loose forgets them. [mg/dL per unit of the column]"""

DISH_SPREAD = 0.4
"""SD of what a dish adds beyond its nutrients, in the same units [1]: of 0, 0.2 and 0.4 the last predicted best, by a
hundredth. Too small treats all dishes of like carbohydrate alike, too large believes a single eating."""
WEAR_SPREAD = 0.15
"""The same of a wear, whose sensor reads higher or lower [1]; assumed. Too small carries one sensor over to the next,
too large begins anew with each."""
SCATTER_MG_DL, SCATTER_WEIGHT = 20.0, 4.0
"""Usual scatter of one person's rises about what is predicted [mg/dL], and how many meals it counts for [1]: in those
people 10 to 41, mean 20. Too small a weight believes the first few meals, too large holds everybody to the mean."""
CURVE_SCATTER_MG_DL = np.array([14.1, 19.9, 21.4, 21.9, 21.2, 20.5, 20.0, 19.4, 18.1, 16.4, 15.1, 14.5])
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

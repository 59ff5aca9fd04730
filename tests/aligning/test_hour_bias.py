"""Does a sensor's bias by the hour have mean nil, the size that two sensors on one body show, and does it stay unsure?

Sizes are those of 21 people of the open recordings CGMacros 1.0.0 (doi 10.13026/3z8q-x658), who wore two sensors at
once: from midnight to six one reads lower against its own day by 6.4 % of the level more than the other, in all 21.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from glucolab.aligning.bias import estimate_bias
from glucolab.aligning.bias_posterior import OF_HOURS
from glucolab.aligning.bias_prior import CheckData
from glucolab.aligning.hour_bias import (
    hour_shapes,
    mean_shapes,
    night_direction,
    own_hour_variance,
    shared_hour_variance,
)

LEVEL = 100.0
NIGHT = mean_shapes(0.0, 6.0)


def checks(hours, sensor_over_blood=0.0, model="A", meter="m") -> CheckData:
    n = len(hours)
    blood = np.full(n, LEVEL)
    return CheckData(
        LEVEL, model, meter, blood + sensor_over_blood, np.full(n, 1.0), blood, np.linspace(-0.5, 0.5, n),
        np.zeros(n, bool), np.zeros(n, bool), np.asarray(hours, float),
    )  # fmt: skip


def night_of(bias, wear=0) -> tuple[float, float]:
    """Mean of the bias from midnight to six over that of the day, and its SD."""
    contrast = np.zeros(len(bias.mean))
    contrast[wear] = 1
    return float(bias.mean[wear, OF_HOURS] @ NIGHT), float(np.sqrt(bias.hour_variances_of(contrast, NIGHT[None])[0]))


@pytest.mark.parametrize(("first", "last"), [(0.0, 24.0), (0.0, 6.0), (7.0, 23.0)])
def test_means_of_the_shapes_are_their_integrals(first, last):
    by_quadrature = [quad(lambda h, i=i: hour_shapes(np.array([h]))[0, i], first, last)[0] for i in range(4)]
    assert mean_shapes(first, last) == pytest.approx(np.array(by_quadrature) / (last - first), abs=1e-9)


def test_over_a_day_they_are_nil_and_free_of_each_other():
    shapes = hour_shapes(np.arange(0, 24, 0.25))
    assert shapes.mean(axis=0) == pytest.approx(np.zeros(4), abs=1e-12)
    assert shapes.T @ shapes / len(shapes) == pytest.approx(np.eye(4) / 2, abs=1e-12)


def test_the_night_is_lowest_at_half_past_two_and_one_on_average_till_six():
    hours = np.arange(0, 24, 0.05)
    night = hour_shapes(hours) @ night_direction()
    assert hours[np.argmax(night)] == pytest.approx(2.5, abs=0.5)
    assert night[hours < 6].mean() == pytest.approx(1.0, abs=0.01)
    assert night[(hours > 9) & (hours < 20)].max() < 0


def test_before_any_check_a_night_is_unsure_by_a_sixteenth_of_the_level():
    """0.06 between models; between sensors 0.018 of each of three shapes that differ from nil at night, 0.64 each."""
    found, sd = night_of(estimate_bias([checks([])]))
    assert found == 0
    assert sd == pytest.approx(LEVEL * np.sqrt(0.06**2 + 3 * 0.6366**2 * (0.018**2 + 0.01**2)), rel=0.001)
    two = shared_hour_variance() + own_hour_variance()
    assert np.sqrt(NIGHT @ two @ NIGHT) == pytest.approx(sd / LEVEL)


def test_two_sensors_of_one_model_share_most_of_it():
    bias = estimate_bias([checks([]), checks([])])
    apart = bias.hour_variances_of(np.array([1.0, -1.0]), NIGHT[None])[0]
    assert np.sqrt(apart) == pytest.approx(LEVEL * np.sqrt(2 * 3 * 0.6366**2 * 0.018**2), rel=0.001)


def test_checks_by_day_hardly_speak_of_the_night_and_those_at_night_do():
    by_day = night_of(estimate_bias([checks(np.linspace(9, 20, 12))]))[1]
    waking = night_of(estimate_bias([checks(np.r_[np.linspace(9, 20, 8), 6.5, 6.5, 6.5, 6.5])]))[1]
    at_night = night_of(estimate_bias([checks(np.r_[np.linspace(9, 20, 6), np.linspace(0.5, 5.5, 6)])]))[1]
    assert by_day > 0.8 * night_of(estimate_bias([checks([])]))[1]
    assert at_night < 0.8 * waking < 0.9 * by_day


def test_what_checks_show_at_night_is_found():
    hours = np.r_[np.linspace(8, 22, 12), np.linspace(0.5, 5.5, 12)]
    found, sd = night_of(estimate_bias([checks(hours, np.where(hours < 6, -10.0, 2.0))]))
    assert found == pytest.approx(-8, abs=2.5)
    assert abs(found + 8) < 2 * sd

"""Is blood recovered from tissue that trails it by first order? Closed forms of tau dI/dt = B - I.

The model: Rebrin et al., Am J Physiol 1999;277:E561 (pages from memory); the closed forms are computed. Tissue is
made from them, without noise, and the smoother is asked for blood. A ramp of slope s trails by tau s; a step stands
at 63.212 % after tau; a 60-min sine comes through with gain 0.8859 / 0.8467 / 0.6906, late by 4.606 / 5.357 / 7.720
min, for tau 5 / 6 / 10 min.
"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.aligning.smoother import Readings, smooth
from glucolab.aligning.spreads import estimate_spreads

MINUTES = np.arange(0, 24 * 60, 5.0)
TAUS = (5.0, 6.0, 10.0)
SINE_60 = {5.0: (0.8859, 4.606), 6.0: (0.8467, 5.357), 10.0: (0.6906, 7.720)}


def blood_of(tissue: np.ndarray, lag_min: float) -> np.ndarray:
    """What the smoother says blood was, at the times of the readings."""
    readings = Readings(np.arange(len(tissue)), np.zeros(len(tissue)), tissue, np.ones(len(tissue) + 1, dtype=bool))
    return smooth(readings, estimate_spreads(readings, lag_min), lag_min)[0]


def tissue_ramp(minutes: np.ndarray, tau: float) -> np.ndarray:
    """Tissue after blood begins to climb by 1 per min at 0: t - tau (1 - exp(-t / tau))."""
    since = np.maximum(minutes, 0)
    return since - tau * (1 - np.exp(-since / tau))


def fit_sine(values: np.ndarray, period_min: float) -> tuple[float, float]:
    """Amplitude and delay [min] of a sine of known period, the day's ends left out."""
    w = 2 * np.pi / period_min
    inner = slice(48, 240)
    design = np.column_stack([np.sin(w * MINUTES), np.cos(w * MINUTES), np.ones(len(MINUTES))])[inner]
    sine, cosine, _ = np.linalg.lstsq(design, values[inner], rcond=None)[0]
    return float(np.hypot(sine, cosine)), float(-np.arctan2(cosine, sine) / w)


@pytest.mark.parametrize("tau", TAUS)
def test_a_ramp_is_recovered(tau):
    """1 mg/dL per min for two hours: the readings trail by tau mg/dL, the trace by nothing."""
    blood = 100 + np.clip(MINUTES - 600, 0, 120)
    tissue = 100 + tissue_ramp(MINUTES - 600, tau) - tissue_ramp(MINUTES - 720, tau)
    climbing = (MINUTES >= 650) & (MINUTES <= 690)
    assert (tissue - blood)[climbing].mean() == pytest.approx(-tau, abs=0.1)
    assert np.abs(blood_of(tissue, tau) - blood)[climbing].max() < 0.1


@pytest.mark.parametrize("tau", TAUS)
def test_a_step_is_recovered(tau):
    """30 mg/dL at once: after ten minutes tissue still lacks 30 exp(-10 / tau)."""
    since = MINUTES - 600
    tissue = 100 + 30 * np.where(since > 0, 1 - np.exp(-np.maximum(since, 0) / tau), 0)
    found = blood_of(tissue, tau)
    after, before = found[(since >= 10) & (since <= 60)], found[(since >= -60) & (since <= -10)]
    assert np.abs(after - 130).max() < 1.5
    assert np.abs(before - 100).max() < 2
    assert 100 < found[since == 0][0] < 130, "the step lies at its own moment"


@pytest.mark.parametrize("tau", TAUS)
def test_sines_are_recovered_in_size_and_time(tau):
    gain, delay = SINE_60[tau]
    tissue = 100 + 20 * gain * np.sin(2 * np.pi / 60 * (MINUTES - delay))
    amplitude, late_min = fit_sine(blood_of(tissue, tau), 60)
    assert amplitude == pytest.approx(20, rel=0.03)
    assert late_min == pytest.approx(0, abs=0.05)


@pytest.mark.parametrize("tau", TAUS)
def test_a_slow_sine(tau):
    """Three hours, about a meal's width: gain 1 / sqrt(1 + (w tau)^2), delay atan(w tau) / w (computed)."""
    w = 2 * np.pi / 180
    tissue = 100 + 20 / np.sqrt(1 + (w * tau) ** 2) * np.sin(w * MINUTES - np.arctan(w * tau))
    amplitude, late_min = fit_sine(blood_of(tissue, tau), 180)
    assert amplitude == pytest.approx(20, rel=0.01)
    assert late_min == pytest.approx(0, abs=0.05)


def test_a_wrong_lag_would_be_seen():
    """The same ramp taken back by 6 min where it trails by 10 is still 4 mg/dL low."""
    blood = 100 + np.clip(MINUTES - 600, 0, 120)
    tissue = 100 + tissue_ramp(MINUTES - 600, 10.0) - tissue_ramp(MINUTES - 720, 10.0)
    climbing = (MINUTES >= 660) & (MINUTES <= 690)
    assert (blood_of(tissue, 6.0) - blood)[climbing].mean() == pytest.approx(-4, abs=0.3)

"""How do signals pass through? First-order lag and smooth noise on an even grid, without loops."""

from __future__ import annotations

import numpy as np


def convolve_causal(signal: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    """First len(signal) values of the convolution, by Fourier transform, shape (n,)."""
    size = 1 << int(np.ceil(np.log2(len(signal) + len(kernel))))
    return np.fft.irfft(np.fft.rfft(signal, size) * np.fft.rfft(kernel, size), size)[: len(signal)]


def lag_first_order(blood_mg_dl: np.ndarray, lag_min: float, step_min: float = 1.0) -> np.ndarray:
    """Interstitial glucose: the solution of lag · dI/dt = B - I, exact where B is linear between its points.

    Starts in equilibrium with the first value.

    Parameters
    ----------
    blood_mg_dl : ndarray, shape (n,). [mg/dL]
    lag_min : float
        Time constant; 0 returns the blood. [min]
    step_min : float
        Between points. [min]

    Source: references.md 7.1 (closed forms for ramp, step and sine).
    """
    if lag_min <= 0:
        return np.array(blood_mg_dl, dtype=float)
    a = np.exp(-step_min / lag_min)
    share = lag_min / step_min * (1 - a)
    above = np.asarray(blood_mg_dl, float) - blood_mg_dl[0]
    driven = (1 - share) * above + (share - a) * np.concatenate([[0.0], above[:-1]])
    kernel = a ** np.arange(min(len(above), int(40 * lag_min / step_min) + 2))
    return blood_mg_dl[0] + convolve_causal(driven, kernel)


def smooth_noise(
    rng: np.random.Generator, n: int, time_constant_min: float, smoothing_min: float, step_min: float = 1.0
) -> np.ndarray:
    """Stationary Gaussian noise with unit SD, correlated over `time_constant_min`, without corners, shape (n,)."""
    reach = int(12 * time_constant_min / step_min) + 1
    lags = np.arange(reach) * step_min
    kernel = np.exp(-lags / time_constant_min)
    if smoothing_min > 0:
        kernel = convolve_causal(kernel, np.exp(-lags / smoothing_min))
    kernel /= np.sqrt(np.sum(kernel**2))
    return convolve_causal(rng.standard_normal(n + reach), kernel)[reach:]


def box_smooth(values: np.ndarray, width: int) -> np.ndarray:
    """Centred moving mean over `width` points, ends repeated, shape (n,)."""
    left = width // 2
    padded = np.concatenate([np.full(left + 1, values[0]), values, np.full(width - left, values[-1])])
    total = np.cumsum(padded)
    return (total[width:] - total[:-width])[: len(values)] / width

"""What do blood checks say? A meter with an error of its own in every check, and the times they are taken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from glucolab.simulate.blood import Lived
from glucolab.simulate.readings import quantize


@dataclass(frozen=True)
class Meter:
    """A finger-stick meter.

    95 % of results of a compliant meter lie within 15 mg/dL below 100 and within 15 % above (ISO 15197:2013): a total
    SD of at most about 7.5 %.

    Attributes
    ----------
    bias_percent : float
        Shared by all its checks, a whole study long. [%]
    random_percent : float
        New at each check. [%]
    gross_share : float
        Of checks with sugar on the finger: read far too high.
    rounds_to_mg_dl : float
        1, or 5 for a person who rounds. [mg/dL]
    """

    name: str = "kitchen meter"
    bias_percent: float = 0.0
    random_percent: float = 4.5
    gross_share: float = 0.0
    rounds_to_mg_dl: float = 1.0


def draw_meter(rng: np.random.Generator, name: str = "kitchen meter", **fixed: Any) -> Meter:
    """Draw a meter: systematic SD 4 %, random 3-6 %, one gross error in fifty.

    Parameters
    ----------
    rng : numpy.random.Generator
    name : str
        What the wearer calls it.
    **fixed
        Fields of Meter that are not drawn.

    Returns
    -------
    Meter

    References
    ----------
    .. [1] ISO 15197:2013, in vitro diagnostic test systems.

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> gl.simulate.draw_meter(rng, bias_percent=0.0).bias_percent
    0.0
    """
    drawn = {
        "bias_percent": float(rng.normal(0, 4)), "random_percent": float(rng.uniform(3, 6)),
        "gross_share": float(rng.choice([0.0, 0.02])), "rounds_to_mg_dl": float(rng.choice([1.0, 1.0, 1.0, 5.0])),
    }  # fmt: skip
    return Meter(name, **(drawn | fixed))


def choose_check_times(
    rng: np.random.Generator, lived: Lived, n: int, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DatetimeIndex:
    """Moments for up to `n` checks spread over a wear: on waking, before meals, one to two hours after, at bed."""
    moments = np.concatenate([
        _minutes(lived.sleep["end"], start) + rng.uniform(2, 25, len(lived.sleep)),
        _minutes(lived.sleep["start"], start) - rng.uniform(8, 40, len(lived.sleep)),
        _minutes(lived.meals["time"], start) - rng.uniform(1, 15, len(lived.meals)),
        _minutes(lived.meals["time"], start) + rng.uniform(50, 150, len(lived.meals)),
    ])  # fmt: skip
    end_min = (end - start) / pd.Timedelta(minutes=1)
    moments = np.sort(moments[(moments > 30) & (moments < end_min - 10)])
    if n == 0 or not len(moments):
        return pd.DatetimeIndex([], tz="UTC").as_unit("us")
    wanted = (np.arange(n) + rng.random(n)) / n * end_min
    picked = np.searchsorted(moments, wanted).clip(0, len(moments) - 1)
    return (
        pd.DatetimeIndex(start + pd.to_timedelta(np.round(moments[picked]), unit="min"))
        .as_unit("us")
        .floor("min")
        .unique()
    )


def take_checks(
    rng: np.random.Generator, lived: Lived, meter: Meter, times: pd.DatetimeIndex, *, in_mmol_l: bool = False
) -> pd.DataFrame:
    """What `meter` says at `times` [UTC]: time, glucose_mg_dl, source, note, and the true blood_mg_dl and gross."""
    moment = lived.minute(times) + rng.uniform(-1.5, 1.5, len(times))
    blood = np.interp(moment, np.arange(len(lived.time)), lived.blood_mg_dl)
    shown = blood * (1 + meter.bias_percent / 100) * (1 + meter.random_percent / 100 * rng.standard_normal(len(times)))
    gross = rng.random(len(times)) < meter.gross_share
    shown = np.where(gross, shown * rng.uniform(1.25, 1.9, len(times)), shown)
    if not in_mmol_l:
        shown = np.round(shown / meter.rounds_to_mg_dl) * meter.rounds_to_mg_dl
    return pd.DataFrame({
        "time": times, "glucose_mg_dl": quantize(shown, in_mmol_l), "source": "fingerstick",
        "note": None, "blood_mg_dl": blood, "gross": gross,
    })  # fmt: skip


def take_venous(
    rng: np.random.Generator, lived: Lived, times: pd.DatetimeIndex, *, in_mmol_l: bool = False
) -> pd.DataFrame:
    """Laboratory plasma glucose at `times` [UTC], analytical CV 2 % (references.md 8.3); columns as for checks."""
    laboratory = Meter("laboratory", 0.0, 2.0)
    return take_checks(rng, lived, laboratory, times, in_mmol_l=in_mmol_l).assign(source="venous")


def _minutes(times: pd.Series, start: pd.Timestamp) -> np.ndarray:
    return ((times - start) / pd.Timedelta(minutes=1)).to_numpy(float)

"""Which chance belongs to what? A generator for each named feature, so that one more of them shuffles no other."""

from __future__ import annotations

from copy import deepcopy

import numpy as np


def named_stream(rng: np.random.Generator, name: str) -> np.random.Generator:
    """A generator for one feature, told by its name and by where `rng` stands; `rng` itself is not moved on.

    Two wears drawn from one `rng` have different streams of one name; with the feature or without it, everything
    else is drawn alike.
    """
    here = int(deepcopy(rng).integers(2**63))
    return np.random.default_rng([here, *name.encode()])

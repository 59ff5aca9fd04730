"""What has been looked at in this sitting? Settings and pairs tried, kept while the notebook's kernel runs."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache


@dataclass(eq=False)
class Sitting:
    """What a widget remembers when its cell is run again.

    Attributes
    ----------
    settings : dict
        By widget, then by control: what was chosen last.
    tried : dict
        Pairs looked at, in order; a dictionary for its order.
    """

    settings: dict[str, dict[str, object]] = field(default_factory=dict)
    tried: dict[tuple[str, ...], None] = field(default_factory=dict)

    def try_pair(self, pair: tuple[str, ...]) -> int:
        """Note a pair; how many different ones have been looked at."""
        self.tried[pair] = None
        return len(self.tried)


@cache
def open_sitting(study: str) -> Sitting:
    """The sitting over a study of that name, the same one each time while the kernel runs."""
    return Sitting()

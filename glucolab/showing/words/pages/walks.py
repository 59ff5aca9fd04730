"""Who says that there was a walk? How many were logged, and how many their steps alone tell of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glucolab.measuring.movement import find_worn
from glucolab.measuring.walks import COARSE_WALKS, FINE_MIN, WALK_CADENCE, shows_walks
from glucolab.showing.words.common import say_count

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis


def say_walk_sources(result: WearAnalysis) -> str:
    """How many walks were logged and how many found, and by which rule; empty without a movement.csv."""
    wear, source = result.wear, result.tables["walks"]["source"]
    if not wear.has("movement"):
        return ""
    worn = find_worn(wear.movement)
    if not shows_walks(worn):
        return "No walks were looked for: movement.csv has no steps by the minute or the quarter of an hour."
    logged, found = int((source == "logged").sum()), int((source == "found").sum())
    if worn.step_min <= FINE_MIN:
        rule = f"five minutes or more at {WALK_CADENCE:g} or more steps a minute"
    else:
        rule = (
            f"{COARSE_WALKS * worn.step_min:g} or more steps in {worn.step_min:g} min, which misses most walks under "
            "ten minutes"
        )
    return (
        f"{say_count(logged, 'walk was', 'walks were', spell=True).capitalize()} logged, and "
        f"{say_count(found, 'more was', 'more were', spell=True)} found by your steps ({rule})."
    )

"""What would a study of several wears be? Real wears of three people, joined as if one person had worn them.

In each round everybody takes part in one study, so that people weigh alike. All wears of a study are of one model, as
one person's mostly are: what sensors of a model do alike from insertion on is then in every wear. Where two models were
worn, a coin says which all of a round use. A wear is moved by whole weeks, to four weeks from the next: its weekdays
and its clock stay. Intercepts of the wears are taken out by what is judged, so that it does not matter that the wears
are of different people; that their days spread differently does, a little.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from glucolab.record import Goal, Person, Study, WearPeriod
from tests.known_truth.real_traces.recordings import Recorded
from tests.known_truth.real_traces.two_sensors import make_rng

WEARS = 3
FIRST, APART, WEEK = pd.Timestamp("2026-01-05T00:00Z"), pd.Timedelta(weeks=4), pd.Timedelta(weeks=1)
SAME_OCCASION = pd.Timedelta(minutes=20)
WALK_AFTER = pd.Timedelta(minutes=10)
WALK_MIN = 15.0


@dataclass(frozen=True, eq=False)
class Joined:
    """Wears of several people, to be read as one person's.

    Attributes
    ----------
    people : tuple of str
        Sorted.
    wears : tuple of WearPeriod
        Four weeks apart, with their warm-up.
    seed : int
        Round and study, for its draws.
    """

    people: tuple[str, ...]
    wears: tuple[WearPeriod, ...]
    seed: int


def join_studies(people: Sequence[Recorded], part: str, rounds: int) -> Iterator[Joined]:
    """Every study of every round; who is left over in one sits it out."""
    groups = _by_models(people)
    for number in range(rounds):
        rng = make_rng(f"{part} rounds", "", number)
        for k, group in enumerate(groups):
            order = rng.permutation(len(group))
            model = int(rng.integers(len(group[0].wears)))
            for i in range(len(group) // WEARS):
                mine = [group[j] for j in order[i * WEARS : (i + 1) * WEARS]]
                wears = tuple(place(one.wears[model], slot) for slot, one in enumerate(mine))
                seed = (number * len(groups) + k) * len(people) + i
                yield Joined(tuple(sorted(one.name for one in mine)), wears, seed)


def _by_models(people: Sequence[Recorded]) -> list[list[Recorded]]:
    """Wearers of the same models together."""
    groups: dict[tuple[str, ...], list[Recorded]] = {}
    for one in people:
        if one.wearer:
            groups.setdefault(tuple(wear.sensor_model for wear in one.wears), []).append(one)
    return list(groups.values())


def place(wear: WearPeriod, slot: int) -> WearPeriod:
    """The wear moved by whole weeks to its slot, under a name of its own."""
    by = round((FIRST + slot * APART - wear.start) / WEEK) * WEEK
    tables = {name: table.assign(time=table["time"] + by) for name, table in wear.tables.items()}
    name = f"wear {slot + 1}"
    return replace(wear, name=name, sensor=name, start=wear.start + by, end=wear.end + by, tables=tables)


def as_study(wears: Sequence[WearPeriod]) -> Study:
    """The wears as one person's."""
    return Study("joined", Person("UTC"), goal=Goal(95.0), wears=tuple(wears))


def dates_of(wear: WearPeriod) -> pd.DatetimeIndex:
    """Its days, first and last included."""
    days = pd.date_range(wear.start.floor("D"), wear.end.floor("D"), freq="D")
    return days.tz_localize(None).as_unit("us")


def write_days(wear: WearPeriod, columns: dict[str, np.ndarray]) -> WearPeriod:
    """The wear with columns of days.csv, a row a day."""
    dates = dates_of(wear)
    days = pd.DataFrame({"date": dates, **columns}, index=pd.RangeIndex(2, len(dates) + 2, name="line"))
    return replace(wear, tables={**wear.tables, "days": days})


def find_occasions_of(meals: pd.DataFrame) -> np.ndarray:
    """Number of the occasion of each row, rows within 20 min of the one before being one, shape (n,)."""
    order = np.argsort(meals["time"].to_numpy(), kind="stable")
    begins = ~(meals["time"].iloc[order].diff() <= SAME_OCCASION).to_numpy()
    number = np.empty(len(meals), int)
    number[order] = np.cumsum(begins) - 1
    return number


def begin_of(meals: pd.DataFrame) -> pd.DatetimeIndex:
    """When each occasion began."""
    return pd.DatetimeIndex(meals.groupby(find_occasions_of(meals))["time"].min())


def write_walks(wear: WearPeriod, times: pd.DatetimeIndex) -> WearPeriod:
    """The wear with a walk ten minutes after each of some meals."""
    walks = pd.DataFrame({"start": times + WALK_AFTER, "minutes": WALK_MIN, "kind": "walk"})
    walks = walks.assign(effort=None, note=None).astype({"kind": "str", "effort": "str", "note": "str"})
    return replace(
        wear, tables={**wear.tables, "activity": walks.set_axis(pd.RangeIndex(2, len(walks) + 2, name="line"))}
    )

"""Which parts are judged, of whom, and what is asked? All tasks of a run, and bounds beside what was found."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import pandas as pd
from joblib import Parallel, delayed

from tests.known_truth.real_traces.clocks import LOG, NEAR, UNMOVED, judge_log_clock, judge_two_clocks
from tests.known_truth.real_traces.halves import (
    HALVES_BETWEEN,
    ITSELF,
    LIVED,
    judge_halves_between,
    judge_own_halves,
    name_kind,
)
from tests.known_truth.real_traces.joined import join_studies
from tests.known_truth.real_traces.nil import COVARIATES, LABELLED, LABELS, MEAL_OUTCOMES, NIL, judge_nil
from tests.known_truth.real_traces.pairs import pair_all, pair_sensors
from tests.known_truth.real_traces.planted import judge_planted
from tests.known_truth.real_traces.recordings import Recorded, first_wears
from tests.known_truth.real_traces.removed import judge_removed
from tests.known_truth.real_traces.rows import Row, claims, find_share_error, holds, keep_known, weigh
from tests.known_truth.real_traces.two_sensors import AGREE, BETWEEN, judge_agreement, judge_between
from tests.known_truth.real_traces.written_more import COFFEE, JUDGED, MODERATE, judge_written_more

PARTS = "abcdefgh"
SHARES = {"hold": holds, "claimed": claims}


class Size(NamedTuple):
    """How often a part is drawn: `draws` of each person, `rounds` of studies in which everybody takes part.

    What is planted is drawn in two thirds of the rounds.
    """

    draws: int = 3
    rounds: int = 54


class Bound(NamedTuple):
    """What is asked of one figure: a share, of `SHARES`, between two values."""

    kind: str
    figure: str
    share: str
    least: float
    most: float


def run(people: Sequence[Recorded], part: str, size: Size, jobs: int = 1) -> list[Row]:
    """All rows of one part."""
    done = Parallel(n_jobs=jobs)(delayed(task)(*arguments) for task, arguments in _tasks(list(people), part, size))
    return [row for rows in done for row in rows]


def _tasks(people: list[Recorded], part: str, size: Size) -> Iterator[tuple[Callable[..., list[Row]], tuple]]:
    """Functions with what they are called with, each for one person or one study."""
    if part in "ab":
        judge = judge_agreement if part == "a" else judge_between
        yield from ((judge, (pair, size.draws)) for pair in pair_sensors(people))
    elif part == "c":
        yield from ((judge_own_halves, (*mine, size.draws)) for mine in first_wears(people))
        pairs = (pair for pair in pair_sensors(people) if pair.wearer)
        yield from ((judge_halves_between, (pair, size.draws)) for pair in pairs)
    elif part in "de":
        judge_study = judge_nil if part == "d" else judge_planted
        rounds = size.rounds if part == "d" else -(-size.rounds * 2 // 3)
        yield from ((judge_study, (joined,)) for joined in join_studies(people, part, rounds))
    elif part == "g":
        yield from ((judge_log_clock, (one,)) for one in people)
        yield from ((judge_two_clocks, (pair,)) for pair in pair_all(people))
    else:
        judge_wear = judge_removed if part == "f" else judge_written_more
        yield from ((judge_wear, (*mine, size.draws)) for mine in first_wears(people))


def list_bounds() -> list[Bound]:
    """What is asked: of nine-in-ten intervals nearly nine, and of a change of 20 mg/dL that it is mostly found."""
    labels = [f"{factor}, {word}" for factor in LABELLED for word in (*MEAL_OUTCOMES.values(), "lever")]
    return [
        Bound(AGREE, "overnight mean", "hold", 0.85, 1.0),
        Bound(AGREE, "meal rise", "hold", 0.85, 1.0),
        *(Bound(kind, "overnight mean", "hold", 0.85, 1.0) for kind in BETWEEN),
        *(Bound(kind, "mean", "hold", 0.85, 0.95) for kind, (_, waking) in BETWEEN.items() if not waking),
        *(Bound(name_kind(kind, 0.0), LIVED, "claimed", 0.0, 0.12) for kind in (ITSELF, HALVES_BETWEEN)),
        *(Bound(name_kind(kind, 20.0), LIVED, "claimed", 0.75, 1.0) for kind in (ITSELF, HALVES_BETWEEN)),
        *(Bound(NIL, name, "hold", 0.87, 1.0) for name in COVARIATES),
        *(Bound(LABELS, name, "hold", 0.87, 1.0) for name in labels),
        Bound(LOG, NEAR, "hold", 0.8, 1.0),
        Bound(LOG, UNMOVED, "claimed", 0.0, 0.05),
        *(Bound(kind, JUDGED, "hold", 0.95, 1.0) for kind in (MODERATE, COFFEE)),
    ]


def hold_against(rows: Sequence[Row]) -> pd.DataFrame:
    """A row a bound that was judged: kind, figure, share, least, most, found, its standard error over people, met."""
    by_figure = dict(list(pd.DataFrame(rows, columns=Row._fields).groupby(["kind", "figure"])))
    answered = [bound for bound in list_bounds() if (bound.kind, bound.figure) in by_figure]
    return pd.DataFrame([_answer(bound, by_figure[bound.kind, bound.figure]) for bound in answered])


def _answer(bound: Bound, rows: pd.DataFrame) -> dict[str, object]:
    known = keep_known(rows)
    true = SHARES[bound.share](known)
    found = round(weigh(known, true), 9)  # all of them are 1, whatever their weights add up to
    met = "yes" if bound.least <= found <= bound.most else "NO"
    return {**bound._asdict(), "found": found, "se": find_share_error(known, true), "met": met}

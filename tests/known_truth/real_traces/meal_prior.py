"""What do real people's meals have in common? Learns the prior of meals anew from the open recordings.

`python -m tests.known_truth.real_traces.meal_prior` prints it as `glucolab.relating.predicting.meal_prior` holds it.
One sensor a person, every occasion whose two hours are recorded and three hours of trace known. Each person's
coefficients are a ridge regression toward the mean of all; that mean, and how people differ about it in units of their
own scatter, are found in turns until they stand (empirical Bayes, by expectation-maximisation).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from glucolab.analysis import analyse_study
from glucolab.relating.observations.days_and_meals import gather_days, gather_meals
from glucolab.relating.predicting.meal_model import tabulate_log
from glucolab.relating.predicting.meal_prior import LOG_COLUMNS
from glucolab.relating.predicting.one_meal import curves_of
from tests.known_truth.real_traces.recordings import MISSING, Recorded, find_root, read_people

LEARNT = [name for name, one in LOG_COLUMNS.items() if one.rise or any(one.curve)]
"""Columns that enough people wrote down; the others' effects are nil beforehand."""
ROUNDS = 60
OF_SPREAD = (0, 2, 4, 6)
"""Outcomes that tell how people differ: the rise, and the curve after 30, 60 and 90 min."""
LEAST_SPREAD, MOST_SPREAD = 0.05, 0.6
"""So few people tell no spread beyond these."""


class Eaten(NamedTuple):
    """One person's meals: columns, shape (n, p), and outcomes, the rise and the curve, shape (n, q). [mg/dL]"""

    columns: np.ndarray
    outcomes: np.ndarray


class Learnt(NamedTuple):
    """Mean of the coefficients, shape (p, q), spread between people, shape (p,), and scatter of meals, shape (q,)."""

    mean: np.ndarray
    spread: np.ndarray
    scatter: np.ndarray


def gather_eaten(people: Sequence[Recorded]) -> list[Eaten]:
    """Meals of each person, by their first wear; nobody whose log lies elsewhere than the trace."""
    return [eaten for person in people if len((eaten := _eaten_of(person)).columns) > len(LEARNT) + 2]


def _eaten_of(person: Recorded) -> Eaten:
    one = analyse_study(person.study).wears[0]
    related = [one.related.as_asked]
    meals = gather_meals(related, gather_days(related))
    if not len(meals):
        return Eaten(np.empty((0, len(LEARNT))), np.empty((0, 1)))
    outcomes = np.column_stack([meals["rise_mg_dl"], curves_of(meals, [one.trace])])
    level = np.full(len(meals), meals["baseline_mg_dl"].mean())
    columns = tabulate_log(meals, level)[:, [list(LOG_COLUMNS).index(name) for name in LEARNT]]
    known = ~np.isnan(outcomes).any(axis=1)
    return Eaten(columns[known], outcomes[known])


def learn(people: Sequence[Eaten]) -> Learnt:
    """What people's meals share, and how they differ."""
    p, q = len(LEARNT), people[0].outcomes.shape[1]
    mean, spread = np.zeros((p, q)), np.full(p, 0.3)
    scatter = np.array([_scatter(one) for one in people])
    for _ in range(ROUNDS):
        found = [_draw_toward(one, mean, spread) for one in people]
        own, left = (np.array(part) for part in zip(*found, strict=True))
        weight = 1 / scatter[:, None, :] ** 2
        mean = (own * weight).sum(axis=0) / weight.sum(axis=0)
        apart = ((own - mean) / scatter[:, None, :])[:, :, OF_SPREAD] ** 2
        spread = np.clip(np.sqrt(np.mean(apart.mean(axis=2) + left, axis=0)), LEAST_SPREAD, MOST_SPREAD)
    return Learnt(mean, spread, scatter.mean(axis=0))


def _scatter(one: Eaten) -> np.ndarray:
    left = one.outcomes - one.columns @ np.linalg.lstsq(one.columns, one.outcomes, rcond=None)[0]
    return np.sqrt((left**2).sum(axis=0) / (len(left) - len(LEARNT)))


def _draw_toward(one: Eaten, mean: np.ndarray, spread: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """One person's coefficients, and their variances over the square of the scatter."""
    precision = np.diag(spread**-2.0)
    covariance = np.linalg.inv(one.columns.T @ one.columns + precision)
    return covariance @ (one.columns.T @ one.outcomes + precision @ mean), np.diag(covariance)


def main() -> int:
    """Print the prior."""
    people = [one for one in read_people(find_root()) if one.wearer]
    if not people:
        print(MISSING.format(root=find_root()))
        return 0
    eaten = gather_eaten(people)
    found = learn(eaten)
    print(f"{len(eaten)} people, {sum(len(one.columns) for one in eaten)} occasions")
    for name, spread, values in zip(LEARNT, found.spread, found.mean, strict=True):
        curve = ", ".join(f"{value:.1f}" for value in values[1:])
        print(f'    "{name}": Expected({spread:.2f}, {values[0]:.1f}, ({curve})),')
    print(f"scatter {', '.join(f'{value:.1f}' for value in found.scatter)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

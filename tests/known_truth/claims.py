"""What is claimed of people in whom nothing is true, wear by wear? python -m tests.known_truth.claims --people 40."""

from __future__ import annotations

import argparse
import sys

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from glucolab.analysis import analyse_study
from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.simulate import draw_logs, draw_wearer, simulate_study

TRUE = ("carbs_g", "last_meal_to_sleep_h")
"""What still moves glucose in them: food, also what of it is being digested at night."""
WORTH_MG_DL = 3.0
APART_DAYS = 60.0


def follow(person: int, wears: int) -> pd.DataFrame:
    """Claims of one person after each wear that should not be: ``person, look, stood``, a row a look.

    `stood` is the longest that one of them has stood, 0 where none is made.
    """
    rng = np.random.default_rng([person, 2411])
    wearer = draw_wearer(rng, effects=False, fat_delay_min=0.0, first_delay_min=0.0)
    made = simulate_study(
        rng, wearer=wearer, wears=wears, checks=6, logs=draw_logs(rng), apart_days=APART_DAYS,
        sensor={"interval_min": 15.0, "as_measured": True},
    )  # fmt: skip
    tables = [one.related.as_asked for one in analyse_study(made.study).wears]
    rows = []
    for look in range(1, wears + 1):
        effects = estimate_effects(tables[:look], WORTH_MG_DL)
        claimed = effects[effects["verdict"].isin(CLAIMS) & ~effects["factor"].isin(TRUE)]
        rows.append((person, look, int(claimed["stood"].max()) if len(claimed) else 0))
    return pd.DataFrame(rows, columns=["person", "look", "stood"])


def tabulate_looks(followed: pd.DataFrame) -> pd.DataFrame:
    """Share of people with a claim at one look, at any of them, and of one that stood for two wears or three."""
    longest = followed.groupby("person")["stood"].max()
    return pd.DataFrame(
        {
            "people": [len(longest)],
            "at a look": [(followed["stood"] > 0).mean()],
            "at any look": [(longest > 0).mean()],
            "stood for two wears": [(longest > 1).mean()],
            "for three": [(longest > 2).mean()],
        }
    )


def main(arguments: list[str] | None = None) -> int:
    """Follow the people asked for and print one table."""
    parser = argparse.ArgumentParser(prog="python -m tests.known_truth.claims", description=__doc__.partition("\n")[0])
    parser.add_argument("--people", type=int, default=40)
    parser.add_argument("--wears", type=int, default=6)
    parser.add_argument("--first", type=int, default=1000, help="number of the first (default %(default)s)")
    asked = parser.parse_args(arguments)
    people = range(asked.first, asked.first + asked.people)
    followed = pd.concat(Parallel(n_jobs=-1)(delayed(follow)(person, asked.wears) for person in people))
    print(tabulate_looks(followed).to_string(index=False, float_format="{:.3f}".format))
    return 0


if __name__ == "__main__":
    sys.exit(main())

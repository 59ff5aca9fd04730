"""Does the time before still show? The arm of a trial's previous date, against the outcome of the present one."""

from __future__ import annotations

from itertools import combinations

import pandas as pd

from glucolab.record.trial_outputs import TRIAL_CARRY_OVER
from glucolab.relating.statistics.claims import worth_noticing
from glucolab.relating.trials.date_outcomes import TRIAL_OUTCOMES
from glucolab.relating.trials.results import compare_outcome

MOST_DAYS_BEFORE = 2
"""How far back the previous date may lie [days]; assumed. Longer dilutes what carries over with dates that cannot,
shorter leaves too few pairs to answer."""


def compare_carry_over(dates: pd.DataFrame, worth_noticing_mg_dl: float) -> pd.DataFrame:
    """``trial_carry_over.csv``: each outcome by what the trial's previous occasion was; adjusted for the own arm.

    Parameters
    ----------
    dates : DataFrame
        As :func:`glucolab.relating.trials.date_outcomes.find_trial_dates` returns it.
    worth_noticing_mg_dl : float
        [mg/dL of a mean]

    Returns
    -------
    DataFrame
        `difference` is after b minus after a. The previous occasion is the last one logged for the trial, used
        or not, planned at most two days before. With fewer than three occasions after either arm, or too few ways,
        the figures are empty and the verdict is "not_enough_data".

    Notes
    -----
    Previous arms are dealt anew among occasions of one wear and one own arm, in all ways: given the own arm, the lot
    left them to chance. The test is exact if occasions of one arm and wear could change places. Of trials of 8 to
    20 dates with nothing carried over it claimed 6 to 10 in a hundred at the level of 10; where the rises of
    following dates went along with each other (correlation 0.4), up to 12: a claim is a reason to look, not a proof.
    """
    rows = []
    for trial, mine in dates.groupby("trial", sort=True):
        present = _find_before(mine)
        for a, b in combinations(sorted(mine["arm"].unique()), 2):
            known = present[present["before"].isin([a, b])]
            known = known[known.groupby(["wear", "arm"])["before"].transform("nunique") == 2]
            after_b = (known["before"] == b).to_numpy()
            stratum = known.groupby(["wear", "arm"]).ngroup().to_numpy()
            counts = {"n_after_a": float((~after_b).sum()), "n_after_b": float(after_b.sum())}
            for outcome in TRIAL_OUTCOMES:
                worth = worth_noticing(outcome, worth_noticing_mg_dl)
                figures = compare_outcome(known[outcome].to_numpy(dtype=float), after_b, stratum, worth)
                rows.append({"trial": trial, "arm_a": a, "arm_b": b, "outcome": outcome, **counts, **figures})
    return pd.DataFrame(rows, columns=TRIAL_CARRY_OVER.names)


def _find_before(dates: pd.DataFrame) -> pd.DataFrame:
    """The used dates of one trial with ``before``: the arm of the occasion before; none where it lies too far back.

    An occasion that was planned for two arms says of neither what was done.
    """
    done = dates[dates["at"].notna() & ~dates["reason"].isin(["two_arms", "planned_twice"])].sort_values("at")
    near = done["date"].diff() <= pd.Timedelta(days=MOST_DAYS_BEFORE)
    return done.assign(before=done["arm"].shift().where(near))[done["used"].astype(bool)]

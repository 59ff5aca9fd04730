"""How was an experiment done? What the reporting guideline for trials in one person asks to be said.

CENT 2015: Vohra et al., BMJ 2015;350:h1738, explained in Shamseer et al., BMJ 2015;350:h1793. Of its items, title,
reason for one person, design with run-in and wash-out, participant, and arms in detail were read; outcomes, size, lot,
blinding, numbers analysed, methods, carry-over, data of every period, harms, limits and registration are from memory.
Ethics and funding are left out: nothing in a study folder says of them.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from glucolab.record.trial_outputs import NOT_YET
from glucolab.relating.trials.carry_over import MOST_DAYS_BEFORE
from glucolab.relating.trials.looks import LEAST_TOSSES
from glucolab.relating.trials.results import LEAST_OCCASIONS
from glucolab.showing.words.common import join_words, say_count, say_span
from glucolab.showing.words.findings.trials import say_eaten_first, say_walks

GUIDELINE = (
    "Laid out by what CENT 2015, the reporting guideline for trials in one person, asks for "
    "(Vohra et al., BMJ 2015;350:h1738), as far as the files of the study hold it."
)
MOST_NOTES = 4
_WHY = "What holds for others on average need not hold for you; trying both ways yourself tells."
_ORDER = (
    "As written in trials.csv, which is taken to have been drawn by lot, as “glucolab plan” draws it{how}. If habit or "
    "choice decided the days, a difference goes with the arm and need not be caused by it."
)
_LOOKS = (
    "You may look after every date. Each pair of dates, one of each arm, says which arm was higher; if the arms do the "
    "same, that is the toss of a coin. It is decided once the run of tosses would be rarer than one in ten at any look "
    f"(a test martingale; at least {LEAST_TOSSES} pairs that all say the same). While dates are ahead nothing else "
    "counts; at the end the looks are allowed for if dates were drawn in blocks."
)
_PARTICIPANT = (
    "One person, the wearer of the sensor. study.toml names no age under 18, no pregnancy and no "
    "glucose-lowering medicine."
)
_OUTCOMES = (
    "Two, both from the sensor: the rise after eating (highest value within two hours minus the mean of the half hour "
    "before) and the area under it. Which comes first was not laid down in trials.csv."
)
_WHO_KNEW = (
    "Whoever eats knows the arm, so this was not blinded. The sensor reads by itself, and which dates count is decided "
    "by fixed rules, the same for every arm."
)
_METHOD = (
    "The mean of one arm minus that of the other within each wear, set against every way in which the lot could have "
    "given the arms to the dates that count (exact permutation; 20,000 ways at random where there are over 200,000): "
    "p is the share of those ways that differ by as much or more. The 90 % interval holds every difference that the "
    "same test does not reject. Dates count for the arm that was planned, whatever was done; missed ones are left out "
    f"and nothing is filled in. With fewer than {LEAST_OCCASIONS} in an arm nothing is said."
)
_HARMS = "Not recorded separately; what was felt or noted stands in feelings.csv and notes.csv."
_LIMITS = (
    "One person, this food, these dates: it says nothing of other people, and little of other foods. An interval that "
    "crosses zero does not show that there is no difference. Each outcome of each two arms is judged by itself."
)
_DEPARTURES = "Missed dates are listed above. Rows of trials.csv that were changed after the start cannot be seen."
_REGISTRATION = "None is recorded: trials.csv is the plan."


def list_report_items(dates: pd.DataFrame, planned: pd.DataFrame, results: Sequence[str]) -> list[tuple[str, str]]:
    """Label and text of each item, in the guideline's order: design to registration, results before harms and limits.

    Parameters
    ----------
    dates : DataFrame
        Rows of ``trial_dates.csv`` of one trial.
    planned : DataFrame
        Its rows of ``trials.csv``.
    results : sequence of str
        Sentences of what was found.
    """
    return [
        ("Why in one person", _WHY),
        ("Design", _say_design(dates)),
        ("Participant", _PARTICIPANT),
        ("Arms", _say_arms(dates, planned)),
        ("Outcomes", _OUTCOMES),
        ("Number of dates", _say_size(dates)),
        ("Looking early and stopping", _LOOKS),
        ("Order", _say_order(dates)),
        ("Who knew", _WHO_KNEW),
        ("Method", _METHOD),
        ("Carry-over", _say_carry_method(dates)),
        ("What was done", f"{say_walks(dates)} {say_eaten_first(dates)}".strip() or "Of this nothing was logged."),
        ("Results", " ".join(results)),
        ("Harms", _HARMS),
        ("Limits", _LIMITS),
        ("Departures from the plan", _DEPARTURES),
        ("Registration", _REGISTRATION),
    ]


def _say_design(dates: pd.DataFrame) -> str:
    count = say_count(len(dates), "date")
    span = say_span(dates["date"].min(), dates["date"].max())
    wears = say_count(dates.loc[dates["wear"] != "", "wear"].nunique(), "wear", spell=True)
    return (
        f"{count} planned, {span}, one arm each, found in {wears}. No time to get used to an arm (run-in) is recorded; "
        f"the time until the next date, {_say_apart(dates)}, is the wash-out."
    )


def _say_apart(dates: pd.DataFrame) -> str:
    apart = dates["date"].drop_duplicates().sort_values().diff().dt.days.min()
    if dates["date"].duplicated().any() or pd.isna(apart):
        return "hours or more"
    return f"{say_count(int(apart), 'day')} or more"


def _say_arms(dates: pd.DataFrame, planned: pd.DataFrame) -> str:
    counts = dates.groupby("arm", sort=True).size()
    arms = join_words([f"“{arm}” on {say_count(n, 'date')}" for arm, n in counts.items()])
    notes = list(dict.fromkeys(note.strip() for note in planned["note"].dropna() if note.strip()))
    if not notes:
        return f"{arms}. trials.csv says no more of what each was."
    return f"{arms}. As noted in trials.csv: {'; '.join(notes[:MOST_NOTES]).rstrip('.')}."


def _say_order(dates: pd.DataFrame) -> str:
    blocks = dates.loc[dates["block"] != "", "block"].nunique()
    return _ORDER.format(how=f", in {say_count(blocks, 'block')} of one date of each arm" if blocks else "")


def _say_size(dates: pd.DataFrame) -> str:
    ahead = int(dates["reason"].isin(NOT_YET).sum())
    open_ones = f", {ahead} of them still ahead" if ahead else ""
    return f"{len(dates)} planned{open_ones}. Whether a calculation stood behind the number is not recorded."


def _say_carry_method(dates: pd.DataFrame) -> str:
    return (
        f"A rise lasts hours and the dates lie {_say_apart(dates)} apart, so little is expected. Checked all the same: "
        "occasions of one arm are compared by what the occasion before was, if it was planned at most "
        f"{MOST_DAYS_BEFORE} days earlier, over all ways of dealing that. Where days resemble the day before, this "
        "claims a little too often: up to 12 times in 100 where there is nothing, instead of 10."
    )

"""What did a planned experiment find? Its sentences: results, dates missed, what was done, what came before."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from glucolab.record.trial_outputs import NOT_YET
from glucolab.relating.statistics.claims import CLAIM_Q, CLAIMS, adjust_p_values
from glucolab.relating.trials.date_outcomes import compare_missed
from glucolab.showing.display import NO_BREAK, Display, is_known, write_signed
from glucolab.showing.words.common import OUTCOME_WORDS, REASON_WORDS, VERDICT_WORDS, join_words, say_count, say_title

TRIAL_REASON_WORDS = REASON_WORDS | {
    "not_worn": "no sensor worn",
    "not_found": "nothing such logged",
    "not_said": "trials.csv names neither dish nor time",
    "two_arms": "planned for two arms at once",
    "planned_twice": "planned twice",
    "no_other_arm": "no usable occasion of another arm in that wear",
    "ahead": "still ahead",
}

CHOSEN_AT_RANDOM = "Dates were random, so this is an effect, or chance."


def say_why_not(reason: str) -> str:
    """Why a planned date does not count, in words; empty where it does."""
    return ", ".join(TRIAL_REASON_WORDS[word] for word in reason.split(";") if word)


def say_trial(row: pd.Series, display: Display) -> str:
    """What two arms of an experiment show in one outcome: verdict first, then the figure with its interval."""
    start = f"{_outcome(row)}, “{row['arm_b']}” against “{row['arm_a']}”: {VERDICT_WORDS[row['verdict']]}"
    counted = f"{int(row['n_b'])} against {int(row['n_a'])} usable occasions"
    figure = say_trial_figure(row, display)
    return f"{start}. {figure}, {counted}, exact p {row['p_exact']:.2g}." if figure else f"{start}, {counted}."


def tell_trial(row: pd.Series, display: Display) -> str:
    """What an experiment showed of the rise, as a story: an effect where it is clear, since chance chose the dates.

    ``Dates were random, so this is an effect, or chance: after “walk”, glucose rose 28 mg/dL less than after
    “rest” (17 to 39 less; 6 meals against 6; chance alone would do this less than once in 100).``
    """
    if row["verdict"] == "not_enough_data" or not is_known(row["difference"]):
        return f"“{row['arm_b']}” against “{row['arm_a']}”: not enough data yet ({_say_meals(row)})."
    less, after = "less" if row["difference"] < 0 else "more", f"after “{row['arm_b']}”"
    middle, low, high = (float(row[name]) for name in ("difference", "low", "high"))
    half = (high - low) / 2
    amount = f" {display.size(middle, half)}{NO_BREAK}{display.unit}" if display.numbers else ""
    said = f"glucose rose{amount} {less} than after “{row['arm_a']}”"
    if row["verdict"] in CLAIMS:
        near, far = (display.size(end, half) for end in sorted((low, high), key=abs)) if display.numbers else ("", "")
        ends = f"{near} to {far} {less}; " if display.numbers else ""
        luck = f"chance alone would do this {_say_luck(float(row['p_exact']))}"
        return f"{CHOSEN_AT_RANDOM[:-1]}: {after}, {said} ({ends}{_say_meals(row)}; {luck})."
    sides = (
        " to ".join(f"{display.size(end, half)} {'less' if end < 0 else 'more'}" for end in (low, high))
        if display.numbers
        else ""
    )
    could = f"; could be {sides}" if sides else ""
    verdict = VERDICT_WORDS[row["verdict"]]
    return f"{verdict[0].upper()}{verdict[1:]}: {after}, {said}{could} ({_say_meals(row)})."


def _say_meals(row: pd.Series) -> str:
    return f"{say_count(int(row['n_b']), 'meal')} against {int(row['n_a'])}"


def _say_luck(p: float) -> str:
    return "less than once in 100" if p < 0.01 else f"{100 * p:.0f} times in 100".replace("1 times", "once")


def _outcome(row: pd.Series) -> str:
    words = OUTCOME_WORDS[row["outcome"]]
    return words[0].upper() + words[1:]


def say_trial_figure(row: pd.Series, display: Display) -> str:
    """The difference with unit and interval; empty where there is none or figures are hidden."""
    if not is_known(row["difference"]) or not display.numbers:
        return ""
    ends = [float(row[name]) for name in ("difference", "low", "high")]
    if row["outcome"] == "rise_mg_dl":
        return display.change(*ends)
    shown = [float(display.values(end)) for end in ends]
    texts = [write_signed(end, 0 if shown[2] - shown[1] > 10 else 1) for end in shown]
    return f"{texts[0]}{NO_BREAK}{display.unit}{NO_BREAK}min ({texts[1]} to {texts[2]})"


def say_stop(row: pd.Series, ahead: int) -> str:
    """Whether the experiment is decided already, or waits for its dates; empty where it is over and was not stopped.

    Parameters
    ----------
    row : Series
        Of ``trial_results.csv``.
    ahead : int
        Dates of its arms that are still ahead.
    """
    if row["stop"]:
        return "Decided: no further date is needed, however often you have looked."
    if not ahead:
        return ""
    return (
        f"Not decided yet: {say_count(ahead, 'date')} still ahead. You may look after every one; it is decided when "
        "this says so, or when all are over."
    )


def say_decided(tables: Mapping[str, pd.DataFrame], display: Display) -> list[str]:
    """A line an experiment that is decided or still has dates ahead, for the command line: by the rise."""
    results, dates = tables["trial_results"], tables["trial_dates"]
    lines = []
    for _, row in results[results["outcome"] == "rise_mg_dl"].iterrows():
        said = say_stop(row, count_ahead(dates, row))
        if said:
            lines.append(f"{row['trial']}: {say_trial(row, display)} {said}")
    return lines


def count_ahead(dates: pd.DataFrame, row: pd.Series) -> int:
    """Dates of a result's two arms that are still ahead."""
    mine = (dates["trial"] == row["trial"]) & dates["arm"].isin([row["arm_a"], row["arm_b"]])
    return int((mine & dates["reason"].isin(NOT_YET)).sum())


def say_arm_dates(dates: pd.DataFrame) -> list[str]:
    """For each arm how many of its dates count, and what became of the others."""
    return [_say_arm(str(arm), mine) for arm, mine in dates.groupby("arm", sort=True)]


def _say_arm(arm: str, mine: pd.DataFrame) -> str:
    lost = mine[~mine["used"].astype(bool)]
    reasons = lost["reason"].map(say_why_not).value_counts(sort=False)
    why = "".join(f"; {n} not: {words}" for words, n in reasons.items())
    return f"“{arm}”: {int(mine['used'].sum())} of {say_count(len(mine), 'date')} counted{why}."


def say_missed_more(dates: pd.DataFrame) -> str:
    """That one arm was missed strikingly more often than another, which may make it unfair; else empty."""
    pairs = compare_missed(dates)
    striking = pairs[adjust_p_values(pairs["p_value"].to_numpy(dtype=float)) <= CLAIM_Q]
    told = []
    for _, row in striking.iterrows():
        missed = {row[f"arm_{x}"]: (int(row[f"missed_{x}"]), int(row[f"n_{x}"])) for x in "ab"}
        more, less = sorted(missed, key=lambda arm: -missed[arm][0] / missed[arm][1])
        shares = "{} of {} dates against {} of {}".format(*missed[more], *missed[less])
        told.append(f"“{more}” was missed more often than “{less}” ({shares})")
    if not told:
        return ""
    return f"{join_words(told)}: chance alone seldom does that, and the dates left may then not be alike."


def say_walks(dates: pd.DataFrame) -> str:
    """After how many of the occasions that count a walk was logged, by arm; empty where no activity was."""
    known = dates[dates["used"].astype(bool) & dates["walk_after"].notna()]
    walks = [
        f"{int(mine['walk_after'].sum())} of {len(mine)} with “{arm}”" for arm, mine in known.groupby("arm", sort=True)
    ]
    return f"A walk or light effort after eating, as logged: {join_words(walks)}." if walks else ""


def say_eaten_first(dates: pd.DataFrame) -> str:
    """What was eaten first at the occasions that count, by arm; empty where it was never logged."""
    known = dates[dates["used"].astype(bool) & (dates["eaten_first"] != "")]
    firsts = [
        f"with “{arm}” {join_words([f'{word} {n}' for word, n in mine['eaten_first'].value_counts().items()])}"
        for arm, mine in known.groupby("arm", sort=True)
    ]
    return f"Eaten first, as logged: {'; '.join(firsts)}." if firsts else ""


def say_carry_over(rows: pd.DataFrame, display: Display) -> list[str]:
    """Whether what was done the time before still shows, of every two arms."""
    pairs = rows.groupby(["arm_a", "arm_b"], sort=True)
    return [_say_pair_before(str(a), str(b), mine, display) for (a, b), mine in pairs]


def _say_pair_before(a: str, b: str, rows: pd.DataFrame, display: Display) -> str:
    told = rows[rows["verdict"] != "not_enough_data"]
    if not len(told):
        counts = f"{int(rows['n_after_b'].iloc[0])} after “{b}” and {int(rows['n_after_a'].iloc[0])} after “{a}”"
        return f"Whether the time before still shows cannot be checked: {counts} could be set against each other."
    said = []
    for _, row in told.iterrows():
        figure = say_trial_figure(row, display)
        verdict = f"{OUTCOME_WORDS[row['outcome']]}: {VERDICT_WORDS[row['verdict']]}"
        said.append(f"{verdict}, {figure}" if figure else verdict)
    start = f"Does the time before still show? After “{b}” against after “{a}”, {'; '.join(said)}."
    if told["verdict"].isin(["lower", "higher"]).any():
        return f"{start} Something seems to carry over, so that the arms may differ by more or less than they seem to."
    return f"{start} Nothing is seen to carry over." if (told["verdict"] == "too_small_to_matter").all() else start


def say_trial_title(trial: str) -> str:
    """The experiment's name as a heading."""
    name = say_title(trial)
    return f"{name[0].upper()}{name[1:]}"


def say_trial_question(dates: pd.DataFrame) -> str:
    """What it asks."""
    arms = join_words([f"“{arm}”" for arm in sorted(dates["arm"].unique())])
    dishes = [dish for dish in dates["dish"].unique() if dish]
    food = f" {join_words(dishes)}" if dishes else ""
    what = f"Do {arms} differ in what your glucose does in the two hours after eating{food}?"
    return f"A randomised trial in one person (N-of-1). {what}"

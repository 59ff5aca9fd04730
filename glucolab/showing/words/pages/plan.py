"""What does a plan say? Its sentences, for the page and for the command line."""

from __future__ import annotations

import shlex

import pandas as pd

from glucolab.clock import ZoneSpans, to_local
from glucolab.record import Goal, Person
from glucolab.relating.planning.plan import Plan, TrialPlan
from glucolab.relating.planning.trial_choice import Wish
from glucolab.relating.trials.looks import LEAST_TOSSES
from glucolab.showing.display import NO_BREAK, Display, is_known, write_percent
from glucolab.showing.words.common import (
    CHANCE_STEPS,
    OUTCOME_WORDS,
    join_words,
    say_chance,
    say_count,
    say_day,
    say_factor,
    say_likelihood,
    say_moment,
    say_span,
    say_will,
)
from glucolab.showing.words.findings.effects import choose_next, say_next_question
from glucolab.showing.words.findings.levers import say_step

LIKELY, UNLIKELY = CHANCE_STEPS[3], 0.2
"""From the one on the next wear probably tells a question, under the other it hardly does."""
EVEN = 0.5
"""Chance under which finger-sticks are said not to settle a question."""
_MOST_NAMED = 6
HOW_TO_CHECK = (
    "Take each one while glucose is steady: two hours or more after food, not in or just after exercise. "
    "If the moment is wrong, take it when it is steady again, and write down the time you took it. "
    "Of four or more, two are taken on waking, before breakfast: only they show how the sensor reads at night."
)


def say_checks(checks: pd.DataFrame, display: Display) -> str:
    """How many finger-sticks, and what they bring; empty where there is no plan."""
    if not len(checks):
        return ""
    row, none = checks[checks["advised"].eq(True)].iloc[0], checks.iloc[0]
    many = say_count(int(row["checks"]), "finger-stick")
    if not display.numbers:
        return f"{many} in the next wear would tell most of what finger-sticks can tell."
    gains = (
        f"With {many} in the next wear its average would be known to within "
        f"{_size(row['mean_half_mg_dl'], display)}; with none, to within {_size(none['mean_half_mg_dl'], display)}."
    )
    change = (
        f"A change of {_size(row['smallest_change_mg_dl'], display)} from the latest wear would be told four times "
        "out of five, a smaller one less often."
    )
    return f"{gains} {change}"


def _size(mg_dl: float, display: Display) -> str:
    return f"{display.size(mg_dl)}{NO_BREAK}{display.unit}"


def say_steps(
    tables: dict[str, pd.DataFrame], usual_mg_dl: float, goal: Goal, person: Person, display: Display
) -> list[str]:
    """What to do next, for the first screen: finger-sticks, the habit that helps most, what may be answered."""
    checks = tables["next_checks"]
    if person.describe_only or not len(checks):
        return []
    steps = [_say_sticks(checks, tables["periods"], display)]
    steps += [step for step in (say_step(tables["levers"], usual_mg_dl, goal, display),) if step]
    asked = choose_next(tables["effects"], tables["next_questions"], person)
    for _, question in asked[asked["chance_told"] >= LIKELY].head(1).iterrows():
        steps.append(f"Keep noting. {' '.join(say_next_question(question, display))}")
    return steps


def _say_sticks(checks: pd.DataFrame, periods: pd.DataFrame, display: Display) -> str:
    """How many to take, and how well the average is then known: beside none, and those of the latest wear."""
    row, none = checks[checks["advised"].eq(True)].iloc[0], checks[checks["checks"].eq(0)].iloc[0]
    advised = int(row["checks"])
    if not advised:
        return "The next wear needs no finger-sticks: they would add little."
    said = f"Take {say_count(advised, 'finger-stick')} in the next wear"
    if not display.numbers:
        return f"{said}."
    known = [f"with none, {display.size(none['mean_half_mg_dl'])}"]
    wears = periods[(periods["level"] == "wear") & periods["mean_mg_dl"].notna()].sort_values("start")
    for _, latest in wears.tail(1).iterrows():
        if latest["checks_used"] > advised:
            half = (latest["mean_high_mg_dl"] - latest["mean_low_mg_dl"]) / 2
            known.append(f"your last {int(latest['checks_used'])} gave {display.size(half)}")
    within = _size(row["mean_half_mg_dl"], display)
    return f"{said}: its average is then known to within {within} ({'; '.join(known)})."


def say_next_goal(checks: pd.DataFrame, goal: Goal, display: Display) -> str:
    """Whether the next wear could settle where the average stands toward the goal; empty without a goal.

    Where more finger-sticks would not, what would: an average so far from the goal that it does not matter.
    """
    advised = checks[checks["advised"].eq(True)]
    if goal.mean_mg_dl is None or not len(advised) or not is_known(advised["chance_goal_told"].iloc[0]):
        return ""
    chance, most = float(advised["chance_goal_told"].iloc[0]), checks.iloc[-1]
    figure = f" ({say_chance(chance)})" if display.numbers else ""
    said = f"The next wear {say_will(chance)} show on which side of your goal you are{figure}, if you live as now."
    if most["chance_goal_told"] >= EVEN:
        return said
    if not display.numbers:
        return f"{said} More finger-sticks will not settle it."
    half = float(advised["mean_half_mg_dl"].iloc[0])
    ends = [display.level(goal.mean_mg_dl + way * half) for way in (-1, 1)]
    return (
        f"{said} More finger-sticks will not settle it ({say_chance(most['chance_goal_told'])} with "
        f"{most['checks']:.0f}); an average of {ends[0]} {display.unit} or less would, or of {ends[1]} or more."
    )


def say_next_questions(questions: pd.DataFrame) -> list[str]:
    """What the next wear could tell, and what it could not."""
    likely = questions[questions["chance_told"] >= LIKELY]
    perhaps = questions[questions["chance_told"].between(UNLIKELY, LIKELY, inclusive="left")]
    never = questions[questions["chance_told"] < UNLIKELY]
    parts = [
        ("It probably tells, if you live and log as before", likely),
        ("It may tell", perhaps),
        ("It will hardly tell", never),
    ]
    return [f"{start}: {_name_questions(mine)}." for start, mine in parts if len(mine)]


def _name_questions(questions: pd.DataFrame) -> str:
    """By factor, since several outcomes of one factor are one question to a reader."""
    by_factor: dict[str, list[str]] = {}
    for factor, outcome in zip(questions["factor"], questions["outcome"], strict=True):
        by_factor.setdefault(say_factor(factor), []).append(OUTCOME_WORDS.get(outcome, outcome))
    named = [f"{factor} ({join_words(outcomes)})" for factor, outcomes in by_factor.items()]
    rest = [f"{len(named) - _MOST_NAMED} more"] if len(named) > _MOST_NAMED else []
    return "; ".join([*named[:_MOST_NAMED], *rest])


def say_trial_plan(trial: TrialPlan, display: Display) -> list[str]:
    """An experiment: what is compared, on how many dates, and what they could tell."""
    arms, chosen = join_words(list(trial.chosen.arms)), trial.chosen
    eat = f"; eat {chosen.dishes[0]} on each" if len(chosen.dishes) == 1 else ""
    lines = [
        f"{chosen.trial}: {say_count(trial.each, 'date')} for each of {arms}, one of each in turn, which comes first "
        f"drawn by lot{eat}.",
        *([f"What to do: {chosen.note}."] if chosen.note else []),
        say_portions(trial.portions),
    ]
    judged = f"About {write_percent(trial.usable)} of such meals could be judged so far"
    told = trial.expected.chance_told
    if not display.numbers:
        return [*lines, f"{judged}. That these dates answer it is {say_likelihood(told)}.", say_looks(trial, "")]
    difference = _size(trial.difference_mg_dl, display)
    lines.append(
        f"One eating differs from the next by {_size(trial.spread.typical_mg_dl, display)} (standard deviation). "
        f"{judged}. What your log says serves this plan alone: the result will rest on these dates."
    )
    lines.append(
        f"That these dates tell a true difference of {difference} is {say_likelihood(told)}, "
        f"{say_chance(told)}; one of {_size(trial.smallest_mg_dl, display)} they would tell four times "
        "out of five."
    )
    return [*lines, say_repeats(trial, difference), say_looks(trial, f" of {difference}")]


def say_portions(portions: pd.DataFrame) -> str:
    """That the meal is fixed, and what the log usually has of it."""
    known = [
        f"{row.dish} with {row.carbs_g:.0f} g of carbohydrate"
        + (f" at about {row.hour:.0f}:00" if is_known(row.hour) else "")
        for row in portions.itertuples()
        if is_known(row.carbs_g)
    ]
    usual = f"; in your log that is usually {join_words(known)}" if known else ""
    return f"Eat the same portion at about the same hour each time, weighed once{usual}."


def say_looks(trial: TrialPlan, difference: str) -> str:
    """Whether looking before the last date can decide anything, and how often it will."""
    if trial.each < LEAST_TOSSES:
        return (
            f"Looking early decides nothing: at least {LEAST_TOSSES} pairs of dates must say the same, and these are "
            f"{trial.each}. Read the result when all dates are over."
        )
    early = trial.expected.chance_early
    return (
        "You may look after every date: “glucolab measure” says when it is decided and no further date is needed. For "
        f"a true difference{difference} that comes before the last pair {say_chance(early)}, and saves "
        f"{write_percent(trial.expected.dates_saved)} of the dates on average."
    )


def say_repeats(trial: TrialPlan, difference: str) -> str:
    """How many repeats would do, over how many wears."""
    if trial.repeats_needed is None:
        most = int(trial.repeats["repeats"].iloc[-1])
        return f"To tell {difference} four times out of five, more than {most} judged occasions in each arm are needed."
    if trial.repeats_needed <= round(trial.each * trial.usable):
        return "That is enough."
    return (
        f"To tell {difference} four times out of five, {trial.repeats_needed} judged occasions in each arm are needed: "
        "go on with the same experiment in the wear after, and read both together."
    )


def say_plan(plan: Plan, goal: Goal, zones: ZoneSpans, display: Display) -> list[str]:
    """The whole plan as lines of text, for the command line."""
    start = pd.Timestamp(plan.wish.start)
    last = start + pd.Timedelta(days=plan.days)
    lines = [f"The next wear: {say_span(start, last)}, {plan.days:g} days", "", say_checks(plan.checks, display)]
    lines += [text for text in (say_next_goal(plan.checks, goal, display),) if text]
    if len(plan.check_times):
        lines += [HOW_TO_CHECK, *_say_times(plan.check_times, zones, display)]
    lines += ["", *_say_experiment(plan, display), "", *say_next_questions(plan.questions)]
    return [line for i, line in enumerate(lines) if line or (i and lines[i - 1])]


def say_command(study: str, wish: Wish) -> str:
    """What to type for the same plan in files: the same seed draws the same lot."""
    avoid = [f"{first}/{last}" for first, last in wish.avoid]
    options = [
        ("--start", [wish.start.isoformat()]), ("--days", [f"{wish.days:g}"] if wish.days else []), ("--avoid", avoid),
        ("--arms", [",".join(wish.arms)] if wish.arms else []), ("--factor", [wish.factor] if wish.factor else []),
        ("--dish", [wish.dish] if wish.dish else []),
        ("--seed", [str(wish.seed)]), ("--out", ["my_plan"]),
    ]  # fmt: skip
    words = [
        "glucolab",
        "plan",
        study,
        *(part for name, values in options for value in values for part in (name, value)),
    ]
    return shlex.join(words)


def _say_times(times: pd.DataFrame, zones: ZoneSpans, display: Display) -> list[str]:
    local = to_local(pd.DatetimeIndex(times["time"]), zones)
    usual = [
        f", usually about {_size(level, display)} then" if display.numbers and is_known(level) else ""
        for level in times["usual_mg_dl"]
    ]
    return [f"  {say_moment(moment)}{text}" for moment, text in zip(local, usual, strict=True)]


def _say_experiment(plan: Plan, display: Display) -> list[str]:
    if plan.trial is None:
        return [plan.no_trial]
    dates = plan.trial.dates
    rows = [f"  {say_day(day)}  {arm}" for day, arm in zip(dates["date"], dates["arm"], strict=True)]
    return [*say_trial_plan(plan.trial, display), *rows]

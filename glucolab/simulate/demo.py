"""What is the sample study? A year of one invented person who reached a goal, with every stream and artefact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.record import Goal, Person
from glucolab.simulate.blood import local_instants
from glucolab.simulate.demo_person import DEMO_DISHES, GOAL_MG_DL, LOGS, SENSORS, demo_wearer
from glucolab.simulate.folder import write_study
from glucolab.simulate.logs import as_table
from glucolab.simulate.meter import Meter
from glucolab.simulate.study import Simulated, gather
from glucolab.simulate.wear import SimulatedWear, simulate_wear

_HOME = "Europe/Warsaw"
_SEEDS = (20_261_414, 20_261_418)
"""Of the first two wears and of the later two. Fixed, so that the sample is the same at every call; with others, every
figure of it differs. Those whose study shows a goal reached, an experiment decided, a finding that a later wear took
back, and every stream and artefact, with nothing outside the readings: `python -m tests.simulate.story` finds them.
[1]"""
TRIAL_DISH = DEMO_DISHES[0].name
TRIAL_MISSED = pd.Timestamp("2026-10-22")
"""Local day of the experiment that illness spoils; invented. Without it every date would count."""
METER = Meter("workshop meter", bias_percent=1.5, random_percent=4.0)
"""Errors of the sample's meter [%]; invented, well within ISO 15197:2013. Larger ones would widen every mean of the
sample, smaller ones make finger-sticks look better than they are."""
_SITES = {
    "winter": "left upper arm", "summer": "right upper arm", "autumn": "left upper arm", "late": "left upper arm"
}  # fmt: skip
_PANELS = {
    "2026-02-10": ("winter", (6.9, 5.5, 98, 52, 124, 1.1)),
    "2026-11-18": ("late", (5.6, 5.3, 81, 55, 117, 0.8)),
}
"""Wear of each fasting panel, and its insulin [mIU/L], HbA1c [%], triglycerides, HDL, LDL cholesterol [mg/dL], hs-CRP
[mg/L]; invented, each change within what two panels of one person differ by. Larger ones would look like findings."""
_SECOND_DRAW = "2026-11-25"
_DRAWN_AT = "07:30"


def write_demo(path: Path) -> None:
    """Write the sample study, the same bytes every time.

    Parameters
    ----------
    path : Path
        A folder that is new or empty (a README.md may be there).

    Raises
    ------
    NothingToDo
        If the folder holds anything else.

    Examples
    --------
    >>> import tempfile, glucolab as gl
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     gl.simulate.write_demo(folder)
    ...     gl.read_study(folder, only="2026-02_winter").wears.names
    ['2026-02_winter']
    """
    write_study(simulate_demo().study, path)


def simulate_demo() -> Simulated:
    """The sample study and what is true of it.

    Returns
    -------
    Simulated
        Winter: 5 min, two weeks, a noted night on the sensor, a sauna, a knock, a fasting panel. Summer: 15 min,
        scanned by hand, nights without a scan, a trip two hours east, fell off early, mmol/L. Autumn: the winter's
        model again, the clocks go back, a planned self-experiment at breakfast, a day of illness, and a patch that
        peels at the end. Late autumn: what the experiment showed is done daily; more finger-sticks and two draws.

    Examples
    --------
    >>> import glucolab as gl
    >>> gl.simulate.simulate_demo().study.wears.names[0]
    '2026-02_winter'
    """
    early, later = (np.random.default_rng(seed) for seed in _SEEDS)
    worn = {"winter": _winter(early), "summer": _summer(early)}
    trials = _plan_trial(later)
    worn |= {"autumn": _autumn(later, trials), "late": _late(later)}
    tables = {"labs": _labs(worn), "trials": trials}
    goal = Goal(GOAL_MG_DL, date(2026, 1, 1), date(2026, 12, 31), 3.0)
    return gather("sample_data", tuple(worn.values()), Person(_HOME), goal=goal, tables=tables)


def _winter(rng: np.random.Generator) -> SimulatedWear:
    notes = _notes([
        ("2026-02-06T20:30", "2026-02-06T21:10", "heat", "sauna after the move-in"),
        ("2026-02-11T15:05", "2026-02-11T15:25", "knock", "caught the arm on a set wall"),
        ("2026-02-13T18:00", "2026-02-13T23:30", "other", "premiere"),
    ], ZoneSpans((_HOME,)))  # fmt: skip
    worn = _wear(
        rng, "winter", "2026-02_winter", "2026-02-03T08:10", 14.0,
        checks=6, draws=["2026-02-10"], notes=notes, about={"sensor": "A-1"},
    )  # fmt: skip
    return _note_pressure(worn)


def _summer(rng: np.random.Generator) -> SimulatedWear:
    changes = (pd.Timestamp("2026-06-12T10:40Z"), pd.Timestamp("2026-06-17T09:20Z"))
    zones = ZoneSpans((_HOME, "Asia/Tbilisi", _HOME), changes)
    notes = _notes(
        [
            ("2026-06-10T18:20", "2026-06-10T19:00", "swim", "in the bay"),
            ("2026-06-15T12:00", "2026-06-15T14:30", "swim", "river"),
        ],
        zones,
    )
    about = {"sensor": "B-1", "ended": "fell_off"}
    return _wear(
        rng, "summer", "2026-06_summer", "2026-06-08T09:05", 10.45, checks=12, zones=zones, notes=notes, about=about
    )


def _autumn(rng: np.random.Generator, trials: pd.DataFrame) -> SimulatedWear:
    kept = trials[trials["date"] != TRIAL_MISSED]
    plan = pd.DataFrame(
        {"date": kept["date"], "slot": "breakfast", "dish": kept["dish"], "walk": kept["arm"] == "walk", "first": None}
    )
    notes = _notes([
        ("2026-10-22T06:50", "2026-10-22T21:00", "illness", "fever, in bed"),
        ("2026-10-22T10:00", None, "medicine", "paracetamol 500 mg"),
        ("2026-10-29T19:00", None, "other", "patch coming up at one edge"),
    ], ZoneSpans((_HOME,)))  # fmt: skip
    ill = pd.DatetimeIndex([TRIAL_MISSED])
    about = {"sensor": "A-2", "life_days": 15.0}
    return _wear(
        rng,
        "autumn",
        "2026-10_autumn",
        "2026-10-15T18:25",
        15.0,
        checks=8,
        notes=notes,
        plan=plan,
        ill_dates=ill,
        about=about,
    )


def _late(rng: np.random.Generator) -> SimulatedWear:
    notes = _notes([("2026-11-21T20:00", "2026-11-21T20:35", "heat", "sauna")], ZoneSpans((_HOME,)))
    return _wear(
        rng, "late", "2026-11_late_autumn", "2026-11-14T09:15", 14.0,
        checks=12, draws=["2026-11-18", _SECOND_DRAW], notes=notes, about={"sensor": "A-3"},
    )  # fmt: skip


def _wear(
    rng: np.random.Generator,
    season: str,
    name: str,
    start: str,
    days: float,
    *,
    zones: ZoneSpans | None = None,
    draws: Sequence[str] = (),
    about: dict[str, Any],
    **more: Any,
) -> SimulatedWear:
    zones = zones or ZoneSpans((_HOME,))
    begin = pd.Timestamp(start).tz_localize(_HOME).tz_convert("UTC").as_unit("us")
    about = {"site": _SITES[season], "life_days": 14.0} | about
    worn = simulate_wear(
        rng,
        demo_wearer(season),
        SENSORS[season],
        begin,
        days,
        name=name,
        zones=zones,
        logs=LOGS,
        meter=METER,
        about=about,
        venous_times=pd.DatetimeIndex([_drawn_at(day) for day in draws]),
        **more,
    )
    tables = worn.record.tables
    eaten = tables["meals"]
    seen = eaten[~(eaten["time"] > worn.record.glucose["time"].max())]  # the last ones, after the sensor came off
    return replace(worn, record=replace(worn.record, tables={**tables, "meals": seen}))


def _drawn_at(day: str) -> pd.Timestamp:
    return pd.Timestamp(f"{day}T{_DRAWN_AT}").tz_localize(_HOME).tz_convert("UTC").as_unit("us")


def _notes(rows: list[tuple[str, str | None, str, str]], zones: ZoneSpans) -> pd.DataFrame:
    """Notes from local wall times."""
    notes = pd.DataFrame(rows, columns=["start", "end", "kind", "note"])
    for column in ("start", "end"):
        local = pd.to_datetime(notes[column])
        hours = ((local - local.dt.normalize()) / pd.Timedelta(hours=1)).fillna(0.0).to_numpy(float)
        known = local.notna()
        dates = pd.DatetimeIndex(local.dt.normalize().fillna(pd.Timestamp("2026-01-01"))).as_unit("us")
        notes[column] = pd.Series(local_instants(dates, hours, zones)).where(known)
    return notes


def _note_pressure(worn: SimulatedWear) -> SimulatedWear:
    """The same wear with its third pressure low noted: the wearer woke lying on the sensor."""
    readings, glucose = worn.truth.readings, worn.record.glucose
    pressed = readings["pressure"]
    run = (pressed & ~pressed.shift(fill_value=False)).cumsum().where(pressed)
    chosen = glucose.loc[run == 3, "time"]
    row = {
        "start": chosen.iloc[0].floor("5min"),
        "end": chosen.iloc[-1].ceil("5min"),
        "kind": "pressure",
        "note": "woke lying on the sensor",
    }
    notes = as_table("notes", pd.concat([worn.record.notes, pd.DataFrame([row])]), "start")
    return replace(worn, record=replace(worn.record, tables={**worn.record.tables, "notes": notes}))


def _plan_trial(rng: np.random.Generator) -> pd.DataFrame:
    """Fourteen mornings, two and two drawn to the arms as `plan` draws them; illness spoils one of them."""
    dates = pd.date_range("2026-10-17", "2026-10-30", freq="D", unit="us")
    walks = rng.permuted(np.tile([True, False], (7, 1)), axis=1).ravel()
    note = "walk: 10 min or more, starting within 40 min; rest: sit for an hour"
    return as_table(
        "trials",
        pd.DataFrame({
            "date": dates, "trial": "walk after porridge", "arm": np.where(walks, "walk", "rest"),
            "dish": TRIAL_DISH, "block": np.repeat(np.arange(1, 8), 2).astype(str), "note": note,
        }),
    )  # fmt: skip


def _labs(worn: dict[str, SimulatedWear]) -> pd.DataFrame:
    """Fasting panels, each while a sensor was worn: glucose as in that wear's checks, the rest invented."""
    units = (
        ("insulin", "mIU/L"),
        ("HbA1c", "%"),
        ("triglycerides", "mg/dL"),
        ("HDL cholesterol", "mg/dL"),
        ("LDL cholesterol", "mg/dL"),
        ("hs-CRP", "mg/L"),
    )
    rows: list[tuple[str, str, float, str]] = []
    for day, (season, values) in _PANELS.items():
        checks = worn[season].record.checks
        rows.append(
            (day, "glucose", float(checks.loc[checks["time"] == _drawn_at(day), "glucose_mg_dl"].iloc[0]), "mg/dL")
        )
        rows += [(day, name, value, unit) for (name, unit), value in zip(units, values, strict=True)]
    labs = pd.DataFrame(rows, columns=["date", "analyte", "value", "unit"])
    labs = labs.assign(date=pd.to_datetime(labs["date"]), time=_DRAWN_AT, fasting=True, laboratory="harbour clinic")
    return as_table("labs", labs)

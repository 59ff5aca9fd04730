"""What would a wear's folder hold, and what is true? One wear as reading gives it, with its truth."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.record import WearPeriod
from glucolab.simulate.blood import Lived, simulate_life
from glucolab.simulate.log_keeping import Logs
from glucolab.simulate.logs import as_table, write_logs
from glucolab.simulate.meter import Meter, choose_check_times, take_checks, take_venous
from glucolab.simulate.readings import show_readings
from glucolab.simulate.sensor import Sensor
from glucolab.simulate.slips import LogErrors, make_errors
from glucolab.simulate.streams import named_stream
from glucolab.simulate.truth import WearTruth, find_wear_truth
from glucolab.simulate.wearer import Wearer

HOME_ZONES = ZoneSpans(("Europe/Warsaw",))


@dataclass(frozen=True, eq=False)
class SimulatedWear:
    """A wear as it would be read, what is true of it, the life behind it, and what was written down of that.

    `logged` holds the log's tables, `log_errors` what is wrong with them; its meals name in the column `meal` the row
    of `lived.meals` behind each.
    """

    record: WearPeriod
    truth: WearTruth
    lived: Lived
    sensor: Sensor
    logged: dict[str, pd.DataFrame] = field(repr=False)
    log_errors: LogErrors = field(repr=False)


def simulate_wear(
    rng: np.random.Generator,
    wearer: Wearer,
    sensor: Sensor,
    start: pd.Timestamp,
    days: float = 14.0,
    *,
    name: str = "wear_1",
    zones: ZoneSpans = HOME_ZONES,
    logs: Logs | None = None,
    meter: Meter | None = None,
    checks: int = 0,
    check_times: pd.DatetimeIndex | None = None,
    venous_times: pd.DatetimeIndex | None = None,
    plan: pd.DataFrame | None = None,
    ill_dates: pd.DatetimeIndex | None = None,
    notes: pd.DataFrame | None = None,
    beside: SimulatedWear | None = None,
    running: bool = False,
    about: dict[str, Any] | None = None,
) -> SimulatedWear:
    """Draw one wear with everything that was logged meanwhile.

    Parameters
    ----------
    rng : numpy.random.Generator
    wearer : Wearer
    sensor : Sensor
    start : pandas.Timestamp
        Insertion. [UTC]
    days : float
        Until it came off. [d]
    name : str
        Of the wear.
    zones : ZoneSpans
        What the clocks showed; each change becomes a travel note.
    logs : Logs, optional
        How the log is kept; the default keeps it well.
    meter, checks : Meter, int
        Finger-sticks: by which meter, and how many at times of the simulator's choice.
    check_times, venous_times : DatetimeIndex, optional
        Times of checks instead of chosen ones; times of laboratory draws. [UTC]
    plan, ill_dates : optional
        Agreed meals, and days of illness, as for :func:`glucolab.simulate.life.live`.
    notes : DataFrame, optional
        Further rows of notes.csv: start, end, kind, note.
    beside : SimulatedWear, optional
        A wear over the same days: this is a second sensor, with one life and one log.
    running : bool
        It is still worn: the record has no end.
    about : dict, optional
        Fields of the WearPeriod, such as site, sensor, warm_up_hours, ended.

    Returns
    -------
    SimulatedWear
        ``record`` is the wear as it would be read, ``truth`` what is true of it.

    Notes
    -----
    Blood is drawn minute by minute; the sensor lags, drifts, is pressed and pauses; the log is kept as `logs` says.

    References
    ----------
    .. [1] Staal et al., Biosensors 2018;8:93.

    Examples
    --------
    >>> import glucolab as gl, numpy as np, pandas as pd
    >>> rng = np.random.default_rng(7)
    >>> sensor = gl.simulate.draw_sensor(rng, gl.simulate.draw_sensor_model(rng))
    >>> start = pd.Timestamp("2026-02-03T07:10:00Z")
    >>> worn = gl.simulate.simulate_wear(rng, gl.simulate.draw_wearer(rng), sensor, start, 2.0)
    >>> worn.record.has("glucose"), worn.truth is not None
    (True, True)
    """
    end = start + pd.Timedelta(seconds=round(days * 86_400))
    lived = beside.lived if beside else simulate_life(rng, wearer, start, end, zones, plan, ill_dates)
    usual: dict[str, Any] = {"ended": "removed", "sensor": name, "warm_up_hours": 24.0, "life_days": sensor.life_days}
    about = usual | (about or {}) | ({"ended": None} if running else {})
    shown = show_readings(rng, lived, sensor, start, end, float(about["warm_up_hours"]))
    logged, errors = (beside.logged, beside.log_errors) if beside else _log(rng, lived, logs or Logs(), start, end)
    meals = logged.get("meals")
    tables = dict(logged) if meals is None else logged | {"meals": meals.drop(columns="meal")}
    tables["glucose"] = _glucose_table(shown.rows)
    taken = _all_checks(rng, lived, meter, checks, check_times, venous_times, sensor.rounds_to_mmol_l, start, end)
    if len(taken):
        tables["checks"] = as_table("checks", taken[["time", "glucose_mg_dl", "source", "note"]])
    noted = _notes(zones, notes, start, end)
    if len(noted):
        tables["notes"] = noted
    record = WearPeriod(
        name=name, start=start, end=None if running else end, zones=zones,
        unit="mmol/L" if sensor.rounds_to_mmol_l else "mg/dL",
        sensor_model=sensor.model, meter=meter.name if meter is not None and len(taken) else "",
        interval_min=sensor.interval_min,
        memory_hours=sensor.memory_hours, reads_from_mg_dl=sensor.reads_from_mg_dl,
        reads_to_mg_dl=sensor.reads_to_mg_dl,
        tables=tables, **about,
    )  # fmt: skip
    truth = find_wear_truth(lived, sensor, shown, record, meals, taken, errors)
    return SimulatedWear(record, truth, lived, sensor, logged, errors)


def _log(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> tuple[dict[str, pd.DataFrame], LogErrors]:
    slips = named_stream(rng, "slips")
    return make_errors(slips, write_logs(rng, lived, logs, start, end), logs, start, end)


def _glucose_table(rows: pd.DataFrame) -> pd.DataFrame:
    return as_table("glucose", rows[["time", "glucose_mg_dl", "taken", "word"]].rename(columns={"word": "limit"}))


def _all_checks(
    rng: np.random.Generator,
    lived: Lived,
    meter: Meter | None,
    n: int,
    times: pd.DatetimeIndex | None,
    venous: pd.DatetimeIndex | None,
    in_mmol_l: bool,
    start: pd.Timestamp,
    end: pd.Timestamp,
) -> pd.DataFrame:
    taken = []
    if meter is not None and (n or times is not None):
        when = choose_check_times(rng, lived, n, start, end) if times is None else times
        taken.append(take_checks(rng, lived, meter, when, in_mmol_l=in_mmol_l))
    if venous is not None and len(venous):
        taken.append(take_venous(rng, lived, venous, in_mmol_l=in_mmol_l))
    return pd.concat(taken, ignore_index=True).sort_values("time", ignore_index=True) if taken else pd.DataFrame()


def _notes(zones: ZoneSpans, notes: pd.DataFrame | None, start: pd.Timestamp, end: pd.Timestamp) -> pd.DataFrame:
    trips = [
        {"start": change, "kind": "travel", "time_zone": zone, "note": f"clocks show {zone} from here"}
        for change, zone in zip(zones.changes, zones.names[1:], strict=True)
        if start < change < end
    ]
    further = [] if notes is None else notes.to_dict("records")
    return as_table(
        "notes", pd.DataFrame([*trips, *further], columns=["start", "kind", "end", "time_zone", "note"]), "start"
    )

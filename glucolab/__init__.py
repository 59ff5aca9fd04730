"""After each glucose sensor wear: what happened, what it goes with, did it change, what to ask next.

A *wear* is one sensor on the skin, about two weeks; a *study* is all wears of one person. The *contract* is what the
files in and out hold and what every figure means: `glucolab.record` has its tables, `reports/README.md` prints them.
Data moves one way: reading, cleaning, aligning (blood from the sensor), measuring (one wear), relating (all wears),
showing, running.

>>> import glucolab as gl

is the whole under one name. From a folder: ``gl.analyse_study(gl.read_study("my_study"))``. From a table in memory:
``wear = gl.wear_from_frame(readings, unit="mg/dL")``, and then stage by stage ``clean = gl.clean_wear(wear)``,
``trace = gl.estimate_trace(wear, clean)``, ``gl.measure_figures(wear, clean, trace)``, or all at once
``gl.analyse_wear(wear)``. Stage by stage, a wear with steps by the minute begins with ``wear = gl.add_movement(wear)``,
which finds its walks and fills its days. Nothing is loaded before it is used.
"""

from importlib import import_module

__version__ = "0.1.0"

_HOMES = {
    "read_study": "reading.folder",
    "wear_from_frame": "reading.frames",
    "describe_table": "record.describe",
    "add_movement": "measuring.walks",
    "clean_wear": "cleaning.clean",
    "estimate_trace": "aligning.trace",
    "measure_daily": "measuring.daily",
    "measure_figures": "measuring.whole_wear",
    "measure_hour_means": "measuring.time_of_day",
    "measure_meal_responses": "measuring.meals",
    "incremental_area": "measuring.area",
    "measure_excursions": "measuring.excursions",
    "measure_energy": "measuring.energy",
    "measure_agreement": "relating.comparing.agreement",
    "gather_meal_curves": "relating.observations.meal_curves",
    "analyse_wear": "analysis",
    "analyse_study": "analysis",
    "predict_meal": "on_request",
    "plan_study": "on_request",
    "plan_study_checks": "on_request",
    "draw_trial_dates": "relating.planning.trial_design",
    "display_of": "showing.display",
    "glucose_to_mg_dl": "units",
    "glucose_from_mg_dl": "units",
    "Study": "record.study",
    "WearPeriod": "record.study",
    "Person": "record.study",
    "Goal": "record.study",
    "Wish": "relating.planning.trial_choice",
    "Display": "showing.display",
    "CleanRecord": "cleaning.clean",
    "Trace": "aligning.trace_record",
    "WearAnalysis": "results",
    "StudyAnalysis": "results",
    "UnusableTable": "errors",
    "NothingToDo": "errors",
    "CannotAnalyse": "errors",
}
"""Where each name lives. `__init__.pyi` says the same to type checkers, and tests hold the two together."""
_MODULES = {"charts": "showing.charts", "simulate": "simulate"}

__all__ = [*_HOMES, *_MODULES]


def __getattr__(name: str) -> object:
    """Load a name where it is first used."""
    if name in _MODULES:
        if name == "charts":
            from glucolab.extras import want_extra

            want_extra("pages", "charts are drawn with Altair")
        found: object = import_module(f"{__name__}.{_MODULES[name]}")
    elif name in _HOMES:
        found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])

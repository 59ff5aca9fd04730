"""What does each chart show? Every `chart_*` takes tables and returns an Altair chart with a description.

A study that hides its figures says so by ``gl.display_of(study)``, to be given as ``display``; left out, figures are
shown.
"""

from glucolab.showing.quick_altair import skip_slow_grammar

skip_slow_grammar()

import altair as alt  # noqa: E402

from glucolab.showing.charts.agreement import chart_agreement  # noqa: E402
from glucolab.showing.charts.checks import chart_checks  # noqa: E402
from glucolab.showing.charts.contributors import chart_meals, chart_rises  # noqa: E402
from glucolab.showing.charts.day_table import tabulate_days  # noqa: E402
from glucolab.showing.charts.days import chart_days  # noqa: E402
from glucolab.showing.charts.dish_curves import chart_curves  # noqa: E402
from glucolab.showing.charts.hours import chart_hours  # noqa: E402
from glucolab.showing.charts.intervals import chart_intervals  # noqa: E402
from glucolab.showing.charts.labs import chart_lab_values  # noqa: E402
from glucolab.showing.charts.listed import chart_dishes, chart_lab_changes  # noqa: E402
from glucolab.showing.charts.plan import chart_next_checks  # noqa: E402
from glucolab.showing.charts.progress import chart_progress  # noqa: E402
from glucolab.showing.charts.record import chart_error_shares, chart_record  # noqa: E402
from glucolab.showing.charts.shares import chart_shares  # noqa: E402
from glucolab.showing.charts.study import chart_effects, chart_energy  # noqa: E402
from glucolab.showing.charts.trial_curves import chart_trial_curves  # noqa: E402
from glucolab.showing.charts.trials import chart_trial  # noqa: E402

# days full of meals come to more rows than Altair draws unasked, and all of them are in the page anyway
alt.data_transformers.disable_max_rows()

__all__ = [
    "chart_agreement",
    "chart_checks",
    "chart_curves",
    "chart_days",
    "chart_dishes",
    "chart_effects",
    "chart_energy",
    "chart_error_shares",
    "chart_hours",
    "chart_intervals",
    "chart_lab_changes",
    "chart_lab_values",
    "chart_meals",
    "chart_next_checks",
    "chart_progress",
    "chart_record",
    "chart_rises",
    "chart_shares",
    "chart_trial",
    "chart_trial_curves",
    "tabulate_days",
]  # fmt: skip

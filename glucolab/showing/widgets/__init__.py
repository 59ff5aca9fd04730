"""Which questions may be explored by hand? Widgets for a notebook, each over plain functions that work without one."""

from glucolab.showing.quick_altair import skip_slow_grammar

skip_slow_grammar()

from glucolab.showing.widgets.bring import Desk, explore_bringing  # noqa: E402
from glucolab.showing.widgets.covariates import CovariateExplorer, explore_covariates  # noqa: E402
from glucolab.showing.widgets.day import DayReader, explore_day  # noqa: E402
from glucolab.showing.widgets.dishes import DishExplorer, explore_dishes  # noqa: E402
from glucolab.showing.widgets.meal import MealExplorer, explore_meal  # noqa: E402
from glucolab.showing.widgets.own_study import OwnStudy, explore_own_study  # noqa: E402
from glucolab.showing.widgets.periods import PeriodExplorer, explore_periods  # noqa: E402
from glucolab.showing.widgets.plan import PlanExplorer, explore_plan  # noqa: E402

__all__ = [
    "CovariateExplorer",
    "DayReader",
    "Desk",
    "DishExplorer",
    "MealExplorer",
    "OwnStudy",
    "PeriodExplorer",
    "PlanExplorer",
    "explore_bringing",
    "explore_covariates",
    "explore_day",
    "explore_dishes",
    "explore_meal",
    "explore_own_study",
    "explore_periods",
    "explore_plan",
]

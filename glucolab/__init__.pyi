"""What does a type checker see? The names of the face, each from its home."""

from glucolab import simulate as simulate
from glucolab.aligning.trace import estimate_trace as estimate_trace
from glucolab.aligning.trace_record import Trace as Trace
from glucolab.analysis import analyse_study as analyse_study
from glucolab.analysis import analyse_wear as analyse_wear
from glucolab.cleaning.clean import CleanRecord as CleanRecord
from glucolab.cleaning.clean import clean_wear as clean_wear
from glucolab.errors import CannotAnalyse as CannotAnalyse
from glucolab.errors import NothingToDo as NothingToDo
from glucolab.errors import UnusableTable as UnusableTable
from glucolab.measuring.area import incremental_area as incremental_area
from glucolab.measuring.daily import measure_daily as measure_daily
from glucolab.measuring.energy import measure_energy as measure_energy
from glucolab.measuring.excursions import measure_excursions as measure_excursions
from glucolab.measuring.meals import measure_meal_responses as measure_meal_responses
from glucolab.measuring.time_of_day import measure_hour_means as measure_hour_means
from glucolab.measuring.walks import add_movement as add_movement
from glucolab.measuring.whole_wear import measure_figures as measure_figures
from glucolab.on_request import plan_study as plan_study
from glucolab.on_request import plan_study_checks as plan_study_checks
from glucolab.on_request import predict_meal as predict_meal
from glucolab.reading.folder import read_study as read_study
from glucolab.reading.frames import wear_from_frame as wear_from_frame
from glucolab.record.describe import describe_table as describe_table
from glucolab.record.study import Goal as Goal
from glucolab.record.study import Person as Person
from glucolab.record.study import Study as Study
from glucolab.record.study import WearPeriod as WearPeriod
from glucolab.relating.comparing.agreement import measure_agreement as measure_agreement
from glucolab.relating.observations.meal_curves import gather_meal_curves as gather_meal_curves
from glucolab.relating.planning.trial_choice import Wish as Wish
from glucolab.relating.planning.trial_design import draw_trial_dates as draw_trial_dates
from glucolab.results import StudyAnalysis as StudyAnalysis
from glucolab.results import WearAnalysis as WearAnalysis
from glucolab.showing import charts as charts
from glucolab.showing.display import Display as Display
from glucolab.showing.display import display_of as display_of
from glucolab.units import glucose_from_mg_dl as glucose_from_mg_dl
from glucolab.units import glucose_to_mg_dl as glucose_to_mg_dl

__version__: str
__all__: list[str]

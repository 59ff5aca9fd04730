"""Who could have worn it, and what would be true? Invented wearers with known truth: the demo, planning, tests."""

from glucolab.simulate.blood import Lived, simulate_life
from glucolab.simulate.demo import simulate_demo, write_demo
from glucolab.simulate.drawing import draw_dishes, draw_wearer, with_usual_mean
from glucolab.simulate.example import example_study, example_wear
from glucolab.simulate.folder import write_study
from glucolab.simulate.log_keeping import EXACT_LOGS, NO_LOGS, Logs, draw_logs
from glucolab.simulate.meter import Meter, draw_meter
from glucolab.simulate.sensor import Sensor, draw_sensor, draw_sensor_model
from glucolab.simulate.study import Simulated, gather, simulate_study
from glucolab.simulate.truth import StudyTruth, WearTruth
from glucolab.simulate.usual_level import usual_mean_mg_dl
from glucolab.simulate.wear import SimulatedWear, simulate_wear
from glucolab.simulate.wearer import Body, Dish, Effects, Habits, Wearer

__all__ = [
    "EXACT_LOGS",
    "NO_LOGS",
    "Body",
    "Dish",
    "Effects",
    "Habits",
    "Lived",
    "Logs",
    "Meter",
    "Sensor",
    "Simulated",
    "SimulatedWear",
    "StudyTruth",
    "WearTruth",
    "Wearer",
    "draw_dishes",
    "draw_logs",
    "draw_meter",
    "draw_sensor",
    "draw_sensor_model",
    "draw_wearer",
    "example_study",
    "example_wear",
    "gather",
    "simulate_demo",
    "simulate_life",
    "simulate_study",
    "simulate_wear",
    "usual_mean_mg_dl",
    "with_usual_mean",
    "write_demo",
    "write_study",
]  # fmt: skip

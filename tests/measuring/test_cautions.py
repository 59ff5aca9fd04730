"""Are the cautions said where the contract asks for them? Limits of its section 5, at and below each."""

from __future__ import annotations

import pytest

from glucolab.measuring.cautions import ALWAYS, DESCRIBE_ONLY, NIGHT_LOW, find_cautions
from glucolab.record import Person
from tests.hand_made import at, make_table, make_wear

SUPPER = make_table("meals", {"time": at("20:00", -1), "name": "soup"}, {"time": at("20:00"), "name": "rice"})


def cautions(*checks, meals=SUPPER, person=None, low=False):
    table = make_table("checks", *({"time": at(*when), "glucose_mg_dl": value} for when, value in checks))
    return find_cautions(make_wear(checks=table), person or Person("UTC"), meals, low)


def fasting(*values, hour="07:00"):
    return [((hour, day), value) for day, value in enumerate(values)]


def test_what_is_always_said():
    assert cautions() == list(ALWAYS)
    assert any("not a diagnosis" in text for text in ALWAYS)
    assert any("dose a medicine" in text for text in ALWAYS)


@pytest.mark.parametrize(("value", "said"), [(199.9, False), (200.0, True)])
def test_any_check_of_200(value, said):
    found = cautions((("13:00", 0), value))
    assert any("200 mg/dL" in text and "clinician" in text for text in found) == said


@pytest.mark.parametrize(
    ("values", "said"), [((126.0, 126.0), True), ((126.0, 125.9), False), ((140.0,), False), ((125.0, 125.0), False)]
)
def test_fasting_checks_of_126_repeatedly(values, said):
    found = cautions(*fasting(*values))
    assert any("Fasting checks of 126" in text for text in found) == said


@pytest.mark.parametrize(("hour", "said"), [("03:59", False), ("04:00", True), ("12:00", True), ("12:01", False)])
def test_fasting_is_from_eight_to_sixteen_hours_after_the_last_meal(hour, said):
    """The last meal at 20:00; later than sixteen hours, a meal was not logged."""
    found = cautions(*fasting(130.0, 130.0, hour=hour))
    assert any("Fasting checks" in text for text in found) == said


def test_without_meals_nothing_is_called_fasting():
    assert not any("Fasting" in text for text in cautions(*fasting(150.0, 150.0), meals=make_table("meals")))


def test_a_low_at_night_and_whoever_is_only_described():
    assert cautions(low=True)[0] == NIGHT_LOW
    assert cautions(person=Person("UTC", pregnant=True))[0] == DESCRIBE_ONLY

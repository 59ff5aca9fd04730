"""Is a nutrient that nobody can have eaten named and left out, and the rest of its row kept?

Energy a gram is that of Regulation (EU) 1169/2011, annex XIV: carbohydrate 4, protein 4, fat 9, fibre 2, alcohol 7.
"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.reading.folder import read_study

HEADER = "time,name,carbs_g,fiber_g,protein_g,fat_g,energy_kcal,alcohol_g\n"


def read_meal(make_study, sound_study, row: str):
    file = next(name for name in sound_study if name.endswith("meals.csv"))
    study = read_study(make_study({file: HEADER + "2026-02-04T12:00,rice," + row + "\n"}))
    return study.wears[0].meals, [str(p) for p in study.problems if "meals.csv" in str(p)]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("60,2830,20,15,480,", "fiber_g"), ("60,90.1,20,15,,", "fiber_g"), ("601,5,20,15,,", "carbs_g"),
        ("60,5,351,15,,", "protein_g"), ("60,5,20,351,,", "fat_g"), ("60,5,20,15,5401,", "energy_kcal"),
        ("60,5,20,15,,301", "alcohol_g"),
        ("580,5,20,15,430,", "carbs_g"),  # 2,320 kcal of 430
        ("60,5,20,150,480,", "fat_g"),  # 1,350 kcal of 480
    ],
)  # fmt: skip
def test_what_cannot_be_is_left_out_and_named(make_study, sound_study, row, column):
    meals, said = read_meal(make_study, sound_study, row)
    assert len(meals) == 1
    assert np.isnan(meals[column].iloc[0])
    assert len(said) == 1
    assert "line 2" in said[0]
    assert column in said[0]
    others = [name for name in ("carbs_g", "fiber_g", "protein_g", "fat_g") if name != column]
    assert meals[others].notna().all(axis=None)


@pytest.mark.parametrize(
    "row",
    [
        "600,90,20,15,,", "60,5,20,15,480,", "100,5,20,15,150,",  # 400 kcal of 150 are more than 325
        "81,0,0,0,150,",  # 324 kcal: one and a half times 150, and 100 more, are 325
        "0,0,0,0,0,",
    ],
)  # fmt: skip
def test_what_can_be_is_kept(make_study, sound_study, row):
    meals, said = read_meal(make_study, sound_study, row)
    if row.startswith("100"):
        assert "carbs_g" in said[0]
        assert np.isnan(meals["carbs_g"].iloc[0])
    else:
        assert said == []
        assert meals["carbs_g"].iloc[0] == float(row.split(",")[0])


def test_where_all_nutrients_disagree_with_the_energy_none_is_blamed(make_study, sound_study):
    """48 for 480: the energy is the typing error."""
    meals, said = read_meal(make_study, sound_study, "60,5,60,25,48,")
    assert meals[["carbs_g", "protein_g", "fat_g"]].iloc[0].tolist() == [60, 60, 25]
    assert said == []


@pytest.mark.parametrize(("wrong", "kept"), [(2, True), (3, False)])
def test_a_column_with_many_such_cells_is_none_of_grams(make_study, sound_study, wrong, kept):
    """Of 24 cells a tenth is 2.4; milligrams of the smaller meals would pass for grams."""
    file = next(name for name in sound_study if name.endswith("meals.csv"))
    rows = "".join(f"2026-02-04T{i:02d}:00,rice,60,{900 if i < wrong else 40},20,15,,\n" for i in range(24))
    study = read_study(make_study({file: HEADER + rows}))
    fiber = study.wears[0].meals["fiber_g"]
    assert fiber.notna().sum() == (24 - wrong if kept else 0)
    assert any("the whole column is left out" in str(p) for p in study.problems) != kept
    assert study.wears[0].meals["carbs_g"].notna().all()


@pytest.mark.parametrize(("ahead", "at"), [(None, "12:00"), (45, "11:15"), (-60, "13:00")])
def test_the_clock_of_the_log_is_put_right_where_wear_toml_says_so(make_study, sound_study, ahead, at):
    toml = next(name for name in sound_study if name.endswith("wear.toml"))
    folder = toml.removesuffix("wear.toml")
    more = "" if ahead is None else f"log_ahead_min = {ahead}\n"
    study = read_study(make_study({
        toml: sound_study[toml].rstrip() + "\n" + more, f"{folder}meals.csv": "time,name\n2026-02-04T12:00,rice\n",
        f"{folder}activity.csv": "start,minutes,kind\n2026-02-04T12:00,20,walk\n",
        f"{folder}feelings.csv": "time,energy\n2026-02-04T12:00,5\n",
        f"{folder}checks.csv": "time,glucose\n2026-02-04T12:00,5.2\n",
    }))  # fmt: skip
    wear = study.wears[0]

    def shown(times) -> list[str]:
        return [f"{time:%H:%M}" for time in times.dt.tz_convert(wear.zones.names[0])]

    assert shown(wear.meals["time"]) == shown(wear.activity["start"]) == shown(wear.feelings["time"]) == [at]
    assert shown(wear.checks["time"]) in ([], ["12:00"])

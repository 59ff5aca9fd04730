"""Is a repeat of a dish filled in and said, and are two spellings offered and never merged?"""

from __future__ import annotations

from glucolab.reading.folder import read_study

MEALS = (
    "time,name,carbs_g,fat_g,dish\n"
    "2026-02-04T08:00,oats with milk,,,oats\n"
    "2026-02-03T08:00,oats with milk,45,9,oats\n"
    "2026-02-03T12:00,soup,20,,\n"
    "2026-02-03T19:00,oats again,50,,oats\n"
    "2026-02-04T12:00,Soup ,,,\n"
    "2026-02-04T19:00,lentil stew,30,,\n"
    "2026-02-04T19:30,lentil stews,31,,\n"
    "2026-02-04T20:00,menu 1,31,,\n"
    "2026-02-04T20:10,menu 2,31,,\n"
)


def test_a_dish_alone_takes_the_nutrients_of_its_last_row_before(make_study):
    record = read_study(make_study({"wear_periods/winter/meals.csv": MEALS}))
    meals = record.wears[0].meals
    assert meals.loc[2, "carbs_g"] == 50
    assert meals["fat_g"].notna().sum() == 1
    notes = [str(p) for p in record.problems if "nutrients" in p.text]
    assert notes == [
        'wear_periods/winter/meals.csv line 2: dish "oats" has no nutrients on line 2: those of line 5 are taken'
    ]
    assert not any(p.left_out for p in record.problems if "nutrients" in p.text)


def test_two_spellings_are_offered_and_stay_two(make_study):
    record = read_study(make_study({"wear_periods/winter/meals.csv": MEALS}))
    told = [p.text for p in record.problems if "same word" in p.text]
    assert [text.split(" are ")[0] for text in told] == [
        '"soup" and "Soup" (line 6)',
        '"lentil stew" and "lentil stews" (line 8)',
    ]
    assert {"lentil stew", "lentil stews", "soup", "Soup"} <= set(record.wears[0].meals["name"])

"""Which unit does a word stand for? Units of amounts and of glucose, as people write them in many languages."""

from __future__ import annotations

UNIT_FACTORS: dict[str, dict[str, float]] = {
    "g": {"г": 1.0, "γρ": 1.0, "克": 1.0, "그램": 1.0, "grammes": 1.0, "gramos": 1.0, "gramas": 1.0, "grammi": 1.0, "g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "gramm": 1.0, "mg": 1e-3, "kg": 1e3, "グラム": 1.0},
    "mg": {"мг": 1.0, "毫克": 1.0, "mg": 1.0, "g": 1e3, "µg": 1e-3, "ug": 1e-3},
    "kcal": {"kcal": 1.0, "cal": 1.0, "kj": 1 / 4.184, "kilocalories": 1.0, "kilojoule": 1 / 4.184, "kilojoules": 1 / 4.184, "кдж": 1 / 4.184, "千焦": 1 / 4.184, "ккал": 1.0, "千卡": 1.0, "大卡": 1.0, "キロカロリー": 1.0},
    "min": {
        "хв": 1.0, "хвилин": 1.0, "хвилини": 1.0, "год": 60.0, "година": 60.0, "години": 60.0, "годин": 60.0, "דקות": 1.0, "שעות": 60.0, "دقيقة": 1.0, "ساعة": 60.0, "phút": 1.0, "minutter": 1.0, "minuuttia": 1.0, "ms": 1 / 60000, "milliseconds": 1 / 60000, "millis": 1 / 60000, "мин": 1.0, "минуты": 1.0, "минут": 1.0, "perc": 1.0, "menit": 1.0, "λεπτα": 1.0, "minuty": 1.0, "분": 1.0, "minute": 1.0, "min.": 1.0, "min": 1.0, "mins": 1.0, "minutes": 1.0, "minuten": 1.0, "minutos": 1.0, "minuti": 1.0, "m": 1.0, "分": 1.0, "dakika": 1.0, "dk": 1.0, "minuter": 1.0, "minut": 1.0,
        "h": 60.0, "hr": 60.0, "hrs": 60.0, "hour": 60.0, "hours": 60.0, "std": 60.0, "stunden": 60.0, "heures": 60.0, "horas": 60.0, "ore": 60.0, "uur": 60.0, "godz": 60.0, "hod": 60.0, "saat": 60.0, "sa": 60.0, "tim": 60.0, "時間": 60.0, "ч": 60.0, "час": 60.0, "часы": 60.0, "часов": 60.0, "시간": 60.0, "stunde": 60.0, "heure": 60.0, "hora": 60.0, "uren": 60.0, "godziny": 60.0, "hodin": 60.0, "timmar": 60.0, "timer": 60.0, "tuntia": 60.0, "小时": 60.0, "jam": 60.0, "orak": 60.0,
        "s": 1 / 60, "sec": 1 / 60, "secs": 1 / 60, "seconds": 1 / 60, "sek": 1 / 60, "sekunden": 1 / 60, "second": 1 / 60, "secondes": 1 / 60, "segundos": 1 / 60, "secondi": 1 / 60, "seconden": 1 / 60, "sekundy": 1 / 60, "sekund": 1 / 60, "saniye": 1 / 60, "sn": 1 / 60, "sekunder": 1 / 60, "sekunnit": 1 / 60, "с": 1 / 60, "сек": 1 / 60, "секунды": 1 / 60, "秒": 1 / 60, "초": 1 / 60, "detik": 1 / 60,
    },
    "bpm": {"bpm": 1.0, "/min": 1.0, "beats/min": 1.0, "slage/min": 1.0, "ppm": 1.0, "1/min": 1.0},
    "ms": {"ms": 1.0, "s": 1e3},
}  # fmt: skip
"""What one of a foreign unit is in the unit of ours that heads the row. 1 kcal is 4.184 kJ (thermochemical calorie,
ISO 31-4:1992)."""

GLUCOSE_UNIT_WORDS = {
    "mg/dl": "mg/dL", "ملغ/دل": "mg/dL", "ملغم/دل": "mg/dL", "mgdl": "mg/dL", "mg%": "mg/dL", "mg/100ml": "mg/dL", "mgperdl": "mg/dL", "mg.dl": "mg/dL", "мг/дл": "mg/dL", "毫克/分升": "mg/dL", "mgdl-1": "mg/dL",
    "mmol/l": "mmol/L", "مليمول/لتر": "mmol/L", "mmoll": "mmol/L", "mmol": "mmol/L", "mm": "mmol/L", "ммоль/л": "mmol/L", "mmolperl": "mmol/L", "毫摩尔/升": "mmol/L", "mmol/litre": "mmol/L", "mmol/liter": "mmol/L", "mmol/litro": "mmol/L",
    "g/l": "g/L", "gperl": "g/L", "г/л": "g/L", "g/litre": "g/L", "g/litro": "g/L",
}  # fmt: skip
"""A unit of glucose as people write it, without spaces. 1 g/L is 100 mg/dL."""
LABORATORY_UNITS = {
    "ммоль/л": "mmol/L", "мкмоль/л": "µmol/L", "нмоль/л": "nmol/L", "пмоль/л": "pmol/L", "ммоль/моль": "mmol/mol", "мг/дл": "mg/dL", "мг/л": "mg/L",
    "г/л": "g/L", "г/дл": "g/dL", "мкг/л": "µg/L", "мкг/мл": "µg/mL", "нг/мл": "ng/mL", "нг/дл": "ng/dL", "пг/мл": "pg/mL", "мед/л": "mU/L", "мкед/мл": "µU/mL",
    "мкод/мл": "µU/mL", "мод/л": "mU/L", "ед/л": "U/L", "од/л": "U/L", "ме/л": "IU/L", "мо/л": "IU/L", "мме/л": "mIU/L", "ммо/л": "mIU/L",
}  # fmt: skip
"""Units of a laboratory in Cyrillic letters, and how labs.csv writes them."""
OTHER_CONCENTRATIONS = (
    "mg/l",
    "µmol/l",
    "umol/l",
    "µg/ml",
    "ug/ml",
    "mol/l",
    "g/dl",
    "mmol/dl",
    "mg/ml",
    "mmol/mol",
    "%",
    "nmol/l",
    "pmol/l",
    "µg/l",
    "iu/l",
    "µu/ml",
    "uu/ml",
    "µiu/ml",
    "uiu/ml",
    "miu/l",
    "mu/l",
    "u/l",
    "мкмоль/л",
)
"""Units of concentrations in which nobody writes glucose here."""

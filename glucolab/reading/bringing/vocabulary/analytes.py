"""Which words name what a laboratory measures? Analytes in several languages, and what two of them can amount to.

Words are in the form that `plain` gives, from memory, as in `words`.
"""

from __future__ import annotations

from collections.abc import Iterable

from glucolab.reading.text import plain, plain_words

_ANALYTES = plain_words(
    "hba1c, hb a1c, a1c, haemoglobin a1c, hemoglobin a1c, glycated haemoglobin, hemoglobine glyquee, "
    "hemoglobina glicada, hemoglobina glucosilada, emoglobina glicata, glykohamoglobin, glikohemoglobin, "
    "glykovany hemoglobin, glikozile hemoglobin, гликированный гемоглобин, 糖化ヘモグロビン, 糖化血红蛋白, "
    "당화혈색소, ferritin, ferritine, ferritina, ferrytyna, ferritiini, ферритин, φερριτινη, フェリチン, 铁蛋白, "
    "페리틴, cholesterol, cholesterin, colesterol, colesterolo, kolesterol, kolesteroli, koleszterin, "
    "холестерин, χοληστερολη, コレステロール, 胆固醇, 콜레스테롤, ldl, hdl, vldl, triglycerides, triglyceride, "
    "triglyzeride, trigliceridos, trigliceridi, triglicerideos, triglyceriden, trojglicerydy, triglycerider, "
    "triglyseridit, trigliserit, triglicerid, trigliceridek, триглицериды, τριγλυκεριδια, 中性脂肪, 甘油三酯, "
    "중성지방, c peptide, c peptid, peptide c, peptido c, tsh, ft3, ft4, t3, t4, crp, hs crp, creatinine, "
    "kreatinin, creatinina, kreatynina, kreatiniini, креатинин, κρεατινινη, クレアチニン, egfr, gfr, uric acid, "
    "harnsaure, acide urique, acido urico, urinezuur, kwas moczowy, urat, 尿酸, vitamin d, vitamine d, "
    "vitamina d, witamina d, d vitamini, vitamin b12, vitamine b12, vitamina b12, b12, folate, folsaure, "
    "haemoglobin, hemoglobin, hamoglobin, hemoglobine, hemoglobina, emoglobina, hemoglobiini, гемоглобин, "
    "ヘモグロビン, ggt, gpt, alat, asat, gamma gt, sodium, natrium, sodio, potassium, kalium, potasio, potassio, "
    "magnesium, calcium, kalzium, albumin, bilirubin, cortisol, testosterone, lipoprotein a, lp a, apo b, apob, "
    "homocysteine, homocystein, leukocytes, leukozyten, leucocytes, platelets, thrombozyten"
)
"""What is measured beside glucose; insulin is more often what was given."""
_GLUCOSE = plain_words(
    "glucose, glukose, glucosa, glicose, glicosio, glukoza, glukosa, glykemie, glukoz, glikoz, glukoosi, "
    "glucosio, glycemie, glicemia, glycemia, blutzucker, nuchternglukose, nuchternzucker, blodsocker, "
    "blodsukker, bloedglucose, bloedsuiker, verensokeri, vercukor, blood sugar, kan sekeri, glikemia, glykemia, "
    "glykaemi, glucoza, glicemie, глюкоза, γλυκοζη, グルコース, 血糖, 葡萄糖, 혈당, 포도당, fpg, fbg, fbs"
)
_A1C = plain_words(
    "hba1c, hb a1c, a1c, haemoglobin a1c, hemoglobin a1c, hemoglobine glyquee, hemoglobina glicada, "
    "hemoglobina glucosilada, emoglobina glicata, гликированный гемоглобин, 糖化ヘモグロビン, 糖化血红蛋白, "
    "당화혈색소"
)
_ELSEWHERE = plain_words(
    "urine, urin, harn, orina, urina, mocz, moc, idrar, virtsa, vizelet, моча, мочи, 尿, 소변, csf, liquor, 6, "
    "phosphate, dehydrogenase, phosphat, ratio, quotient, index, average, eag, estimated"
)
"""What is no glucose of blood though its name holds the word."""
_POSSIBLE = {
    "glucose": {"mgdl": (18.0, 1500.0), "mmoll": (1.0, 83.0), "gl": (0.18, 15.0)},
    "a1c": {"%": (2.0, 25.0), "mmolmol": (9.0, 250.0)},
}
"""What a laboratory can find in the blood of somebody who is alive, wide. Assumed: closer limits lose values, wider
ones let 5.4 mmol/L pass for mg/dL."""


def names_analyte(cell: str) -> bool:
    """True where something is named that a laboratory measures, glucose apart."""
    return _holds(cell, _ANALYTES)


def names_analytes(cells: Iterable[str]) -> bool:
    """True where half of the different cells name what a laboratory measures, and one of them is not glucose."""
    distinct = set(cells)
    named = sum(map(names_analyte, distinct))
    return named > 0 and 2 * (named + sum(_holds(cell, _GLUCOSE) for cell in distinct)) >= len(distinct)


def names_laboratory(cells: Iterable[str]) -> bool:
    """True where one of the cells names what a laboratory measures, or glucose."""
    return any(names_analyte(cell) or _holds(cell, _GLUCOSE) for cell in set(cells))


def cannot_be(analyte: str, value: float, unit: str) -> bool:
    """True for glucose and HbA1c of blood that nobody has in the unit that is stated; False for all that is unknown."""
    if _holds(analyte, _ELSEWHERE):
        return False
    kind = "a1c" if _holds(analyte, _A1C) else "glucose" if _holds(analyte, _GLUCOSE) else ""
    key = "".join(c for c in unit.lower() if c not in " /.")
    low, high = _POSSIBLE.get(kind, {}).get(key, (value, value))
    return not low <= value <= high


def _holds(text: str, words: frozenset[str]) -> bool:
    parts = f" {plain(text)} "
    return any(f" {word} " in parts or (ord(word[0]) > 0x3000 and word in parts) for word in words)

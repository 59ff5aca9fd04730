"""Which words say that a column is not what it seems? Goals, shares of 100 g, exchanges, stages of sleep, zones.

Words are in the form that `plain` gives, trade words and everyday words, from memory, as in `words`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from glucolab.reading.bringing.vocabulary.words import MOVEMENTS, WALKS
from glucolab.reading.text import plain, plain_words

_GOALS = plain_words(
    "target, goal, goals, aim, planned, recommended, allowance, remaining, left to eat, limit, limits, threshold, alarm, alert, ziel, ziele, "
    "zielwert, zielbereich, sollwert, soll, grenzwert, objectif, cible, seuil, restant, objetivo, limite, umbral, meta, alvo, limiar, obiettivo, "
    "soglia, bersaglio, doel, streefwaarde, doelwaarde, drempel, cel, docelowy, docelowa, prog, cil, cilova, cilovy, hedef, esik, mal, malvarde, "
    "mål, grense, graense, tavoite, raja, цель, целевой, целевая, целевое, порог, норма, στοχος, οριο, tinta, tinta ertek, celertek, hatarertek, "
    "target gula, batas, 目標, 目標値, 基準, 目标, 목표, 목표치"
)
_FIGURES = plain_words(
    "average, avg, mean, median, predicted, prediction, forecast, expected, trend, rate, change, delta, difference, variability, deviation, "
    "sd, cv, mittel, mittelwert, durchschnitt, prognose, vorhersage, differenz, anderung, trendpfeil, moyenne, prevision, tendance, ecart, promedio, "
    "media, prevision, tendencia, variacion, previsao, tendencia, previsione, tendenza, gemiddelde, gemiddeld, voorspelling, srednia, prognoza, "
    "prumer, predikce, ortalama, tahmin, egilim, medel, medelvarde, snitt, gjennomsnitt, keskiarvo, ennuste, среднее, средняя, прогноз, тренд, "
    "μεσος ορος, προβλεψη, atlag, trendi, rata rata, prediksi, 平均, 予測, 预测, 평균, 예측, ketone, ketones, ketone bodies, keton, ketonen, cetonas, "
    "chetoni, insulin, insuline, insulina, hba1c, a1c, temperature, temperatur, raw signal, isig, current, voltage, battery"
)
_EXCHANGES = plain_words(
    "be, ke, khe, bread unit, bread units, bread exchange, bread exchanges, exchange, exchanges, carb exchange, carb exchanges, carb unit, carb units, "
    "carb portion, carb portions, carb choices, carbohydrate choices, cp, broteinheit, broteinheiten, kohlenhydrateinheit, kohlenhydrateinheiten, "
    "echange, echanges, portions glucidiques, racion, raciones, raciones de hidratos, raciones hc, equivalente, equivalentes, porcoes de hidratos, "
    "unita pane, scambi, broodeenheid, broodeenheden, wymiennik, wymienniki, wymienniki weglowodanowe, ww, chlebova jednotka, chlebove jednotky, vj, "
    "sacharidova jednotka, sj, ekmek birimi, degisim, xe, хе, хлебные единицы, хлебных единиц, ισοδυναμα, kenyeregyseg, カーボ, 交换份, 빵 단위"
)
_COUNTED = plain_words(
    "cup, cups, serving, servings, portion, portions, piece, pieces, glass, glasses, drink, drinks, unit, units, standard drinks, tasse, tassen, "
    "stuck, glas, glaser, portionen, einheiten, verre, verres, tasses, unites, taza, tazas, vaso, vasos, racion, raciones, copas, unidades, chavena, "
    "chavenas, copo, copos, porcao, porcoes, tazza, tazze, bicchiere, bicchieri, porzione, porzioni, unita, kop, kopjes, glazen, porties, eenheden, "
    "filizanka, filizanki, szklanka, porcja, porcje, salek, salky, sklenice, porce, fincan, bardak, porsiyon, kopp, koppar, portioner, kopper, "
    "kupit, kupillista, annos, annosta, чашка, чашки, порция, порции, φλιτζανια, μεριδες, csesze, adag, cangkir, porsi, 杯, 個, 人前, 份, 잔, 회분, %, percent, prozent, daily value"
)
PER_100 = re.compile(r"(?<![\d.,])100\s*(?:g|gr|gramm|gram|grams|grammes|gramos|gramas|grammi|г|γρ|ml|мл|グラム|克|그램)\b|100(?:グラム|克|그램)|/\s*100\b", re.IGNORECASE)  # fmt: skip
_PER_PIECE = re.compile(
    r"\b(?:per|pro|je|par|por|a|na|på|pr|za)[\s_]+(?:serving|portion|piece|unit|stuck|stück|portie|porcja|porcion|porción|porcao|"
    r"porção|porzione|porci|annos)\b|/\s*(?:serving|portion)\b",
    re.IGNORECASE,
)
_STAGES: dict[str, frozenset[str]] = {
    "awake": plain_words(
        "awake, wake, waking, wach, wachphase, eveille, eveil, reveille, despierto, despierta, vigilia, acordado, acordada, desperto, sveglio, "
        "veglia, wakker, czuwanie, obudzony, bdely, bdeni, vzhuru, uyanik, vaken, vaaken, våken, vagen, valveilla, hereilla, бодрствование, "
        "не спит, ξυπνιος, eber, ebren, terjaga, 覚醒, 清醒, 각성, 깸"
    ),
    "asleep": plain_words(
        "light, light sleep, core, core sleep, deep, deep sleep, rem, rem sleep, nrem, n1, n2, n3, stage 1, stage 2, stage 3, leicht, leichtschlaf, "
        "tief, tiefschlaf, kernschlaf, leger, sommeil leger, profond, sommeil profond, paradoxal, ligero, sueno ligero, profundo, sueno profundo, "
        "leve, sono leve, sono profundo, leggero, sonno leggero, sonno profondo, profondo, licht, lichte slaap, diep, diepe slaap, lekki, gleboki, "
        "sen lekki, sen gleboki, lehky, hluboky, lehky spanek, hluboky spanek, hafif, hafif uyku, derin, derin uyku, latt somn, djup, djup somn, lett, "
        "dyp, dyb, let sovn, dyb sovn, kevyt, syva, kevyt uni, syva uni, легкий, глубокий, легкий сон, глубокий сон, быстрый сон, ελαφρυς, βαθυς, "
        "felszines, mely, ringan, nyenyak, 浅い, 深い, レム, ノンレム, 浅睡眠, 深睡眠, 快速眼动, 얕은 수면, 깊은 수면, 렘"
    ),
}

_SENSOR = plain_words(
    "sensor, cgm, fgm, tissue, interstitial, isf, gewebe, gewebezucker, gewebeglukose, capteur, interstitiel, interstitielle, intersticial, "
    "interstiziale, sensore, weefsel, weefselglucose, czujnik, sensora, senzor, sensoru, sensorem, doku, vavnad, vavnadsglukos, vev, kudos, датчик, датчика, "
    "сенсор, αισθητηρας, szoveti, szenzor, sensor gula, センサー, 传感器, 센서, scan, scanned, scans, historic, history"
)
_FOODS = plain_words(
    "getrank, getranke, drink, drinks, beverage, boisson, bebida, bevanda, drank, napoj, icecek, dryck, drik, juoma, food, foods, meal, meals, eaten, dish, essen, mahlzeit, speise, lebensmittel, gericht, repas, aliment, plat, comida, alimento, plato, "
    "refeicao, prato, pasto, cibo, piatto, maaltijd, eten, voedsel, gerecht, posilek, jedzenie, danie, jidlo, pokrm, yemek, ogun, yiyecek, maltid, "
    "mat, ratt, ruoka, ateria, 食事, 食べ物, 料理, 食物, 음식, 식사, 메뉴, еда, блюдо, прием пищи, etel, etkezes, makanan, φαγητο, γευμα, masa"
)
_AMOUNTS = plain_words(
    "amount, quantity, weight, mass, eaten, grams, gram, size, serving size, portion size, menge, gewicht, gegessen, gramm, portionsgrosse, quantite, poids, "
    "grammes, cantidad, peso, gramos, quantidade, gramas, quantita, grammi, hoeveelheid, gewicht, ilosc, waga, gramow, masa, mnozstvi, hmotnost, gramu, miktar, agirlik, "
    "gram, mangd, vikt, maengde, vaegt, mengde, vekt, maara, paino, grammaa, количество, вес, масса, граммы, ποσοτητα, βαρος, mennyiseg, suly, jumlah, berat, 量, 重量, グラム, 重さ, 数量, 분량, 양, 무게, 중량, 섭취량"
)
_OFFSETS = plain_words(
    "utc offset, gmt offset, offset, time offset, timezone, time zone, tz, tz offset, zone offset, zeitzone, zeitverschiebung, zeitversatz, "
    "fuseau, fuseau horaire, decalage, decalage utc, zona horaria, huso horario, desfase, desfase utc, fuso horario, fuso, "
    "fuso orario, scarto utc, tijdzone, strefa, strefa czasowa, przesuniecie, casove pasmo, casova zona, posun, saat dilimi, "
    "tidszon, tidssone, tidszone, aikavyohyke, часовой пояс, смещение, ζωνη ωρας, idozona, zona waktu, タイムゾーン, 時間帯, 時差, 时区, 시간대"
)
_TIMES = plain_words(
    "times, time, zeiten, uhrzeiten, heures, horas, horarios, orari, tijden, godziny, casy, saatler, tider, ajat, время, 時刻, 时间, 시간, ωρες, idok, waktu, in, all, alle"
)
_LOCAL = plain_words(
    "local, local time, lokal, lokalzeit, ortszeit, heure locale, locale, hora local, ora locale, lokale tijd, lokaal, czas lokalny, lokalny, mistni cas, mistni, "
    "yerel, yerel saat, lokal tid, paikallinen aika, местное время, местное, τοπικη ωρα, helyi ido, waktu setempat, 現地時間, 現地時刻, 当地时间, 현지 시간"
)


def names_offset(text: str) -> bool:
    """True where a zone, its offset or the times of a table are named."""
    return _holds(text, _OFFSETS)


def names_amount(text: str) -> bool:
    """True where it is said how much of something there was."""
    return _holds(text, _AMOUNTS)


def names_times(text: str) -> bool:
    """True where the times of a table are spoken of."""
    return names_offset(text) or _holds(text, _TIMES)


def names_local(text: str) -> bool:
    """True where times are said to be local."""
    return _holds(text, _LOCAL)


_TWELVE = re.compile(
    r"(?<!\d)12\s*[-_ ]?\s*(?:h|hr|hrs|hours?|std|stunden?|stündig|heures?|horas?|ore|uur|uurs|timer|timmars?|timers|tuntia|godz|"
    r"godzinny|godzin|hodin|hod|saat|час\w*|ч|ωρ\w*|órás|óra|jam|時間制?|小时制?|시간제?)(?![^\W\d_])|"
    r"(?<![^\W_])a\.?m\.?\s*/\s*p\.?m\.?(?![^\W_])|(?<![^\W_])hh?:mm(?::ss)?\s*(?:a|tt|am|pm)(?![^\W_])",
    re.IGNORECASE,
)


def names_twelve_hours(text: str) -> bool:
    """True where a header says that its clock runs from 1 to 12."""
    return bool(_TWELVE.search(text))


_MINUTES = plain_words(
    "minute, minutes, min, minuten, minuto, minutos, minuti, minuty, minut, minuter, minutter, minuutti, minuuttia, dakika, perc, "
    "минута, минуты, минут, λεπτα, menit, 分, 分钟, 분"
)


def names_minutes(text: str) -> bool:
    """True where minutes are named."""
    return _holds(text, _MINUTES)


_BLOOD = (
    "blood", "blut", "bloed", "blod", "sang", "krew", "krwi", "krev", "krvi", "krve", "veren", "verta", "vercuk", "kan seker", "kan glukoz", "glycemi",
    "glicemi", "glykemi", "glikemi", "gula darah", "кров", "гликеми", "αιμα", "γλυκαιμ", "血", "혈",
)  # fmt: skip


def names_blood(text: str) -> bool:
    """True where blood is named, or glucose by a word that says it is of blood."""
    parts = f" {plain(text)}"
    return any(f" {word}" in parts or (ord(word[0]) > 0x3000 and word in parts) for word in _BLOOD)


_RUNNING = plain_words(
    "so far, to date, running, running total, cumulative, cumulated, accumulated, total today, today total, kumuliert, kumulativ, aufsummiert, bisher, "
    "laufende summe, zwischenstand, cumule, cumules, cumulee, cumulatif, cumul, acumulado, acumulados, acumulada, acumuladas, cumulativo, cumulata, "
    "cumulati, progressivo, cumulatief, opgeteld, lopend totaal, skumulowane, narastajaco, kumulativni, soucet dosud, kumulatif, birikimli, kumulativt, "
    "ackumulerat, ackumulerade, lopande, hittills, akkumuleret, akkumulert, hittil, kumulatiivinen, kertyma, накопительно, накопленные, нарастающим итогом, "
    "αθροιστικα, osszesitett, kumulalt, kumulatif, 累計, 累积, 累计, 누적"
)


def names_running(text: str) -> bool:
    """True where a column says that it counts on from row to row."""
    return _holds(text, _RUNNING)


_CONTROLS = plain_words(
    "control solution, control liquid, control fluid, qc, quality control, control test, kontrolllosung, kontrolllosungen, kontroll losung, "
    "kontrollosung, kontrollflussigkeit, solution de controle, solution controle, solucion de control, solucion control, solucao de controle, "
    "solucao controle, solucao de controlo, soluzione di controllo, controlevloeistof, controle vloeistof, controleoplossing, plyn kontrolny, "
    "roztwor kontrolny, kontrolni roztok, kontrol solusyonu, kontrol cozeltisi, kontrollosning, kontrollvatska, kontroloplosning, kontrolvaeske, "
    "kontrollvaeske, kontrolliliuos, контрольный раствор, контрольныи раствор, контрольного раствора, διαλυμα ελεγχου, kontrolloldat, larutan kontrol, コントロール液, 対照液, "
    "质控液, 质控, 对照液, 대조액, 컨트롤 용액"
)
_MAYBE_CONTROLS = plain_words(
    "control, controls, ctrl, kontrolle, kontroll, kontrol, kontrola, controle, controlo, controllo, kontrolli, контроль, ελεγχος, コントロール, 対照, 对照, 대조"
)


def names_control(text: str) -> bool:
    """True where a meter's control solution, which is no blood, is named."""
    return _holds(text, _CONTROLS)


def may_name_control(cell: str) -> bool:
    """True for a cell that is a word for a control solution, or for a check."""
    return plain(cell) in _MAYBE_CONTROLS


_MOVES = frozenset({*MOVEMENTS, *WALKS})


def _holds(text: str, words: frozenset[str]) -> bool:
    parts = f" {plain(text)} "
    return any(f" {word} " in parts or (len(word) > 1 and ord(word[0]) > 0x3000 and word in parts) for word in words)


def is_goal(name: str) -> bool:
    """True for a column of what should be and not of what was: a target, a limit, an alarm."""
    return _holds(name, _GOALS)


def is_figure(name: str) -> bool:
    """True for a column of figures that are derived or of something else than the glucose that was read."""
    return is_goal(name) or _holds(name, _FIGURES)


def names_exchanges(text: str) -> bool:
    """True where carbohydrate is counted in exchanges, of which each country has its own."""
    return _holds(text, _EXCHANGES)


def names_count(text: str) -> bool:
    """True where an amount is counted in cups, servings or units, or is a share."""
    return _holds(text, _COUNTED) or "%" in text


_PARTS = plain_words(
    "sugar, sugars, of which sugars, zucker, davon zucker, sucre, sucres, azucar, azucares, acucar, acucares, zucchero, zuccheri, suiker, suikers, "
    "cukry, cukru, cukr, seker, sekerler, socker, sockerarter, sukker, sukkerarter, sokeri, sokerit, сахар, сахара, сахаров, cukor, gula, σακχαρα, 糖类, 当, "
    "당류, 砂糖, saturated, saturates, sat fat, trans, trans fat, unsaturated, monounsaturated, polyunsaturated, gesattigt, gesattigte, ungesattigt, "
    "satures, sature, insatures, saturada, saturadas, saturado, saturados, insaturada, insaturadas, saturi, saturo, insaturi, verzadigd, onverzadigd, "
    "nasycone, nienasycone, nasycene, doymus, doymamis, mattat, mettet, maettet, mattede, tyydyttynyt, tyydyttynytta, насыщенные, burned, burnt, "
    "verbrannt, brulees, quemadas, queimadas, bruciate, verbrand, spalone, spalene, yakilan"
)


def names_part(text: str) -> bool:
    """True for a part of a nutrient, such as sugars of carbohydrate, and for energy that was spent and not eaten."""
    return _holds(text, _PARTS)


def names_piece(text: str) -> bool:
    """True where an amount is that of one serving, of which more may have been eaten."""
    return bool(_PER_PIECE.search(text))


def names_sensor(text: str) -> bool:
    """True where a sensor, or the tissue it sits in, is named."""
    return _holds(text, _SENSOR)


def names_food(text: str) -> bool:
    """True where food or a meal is named."""
    return _holds(text, _FOODS)


def names_move(text: str) -> bool:
    """True where a kind of movement is named."""
    return _holds(text, _MOVES)


def names_moves(cells: Iterable[str]) -> bool:
    """True where half of the different cells name a kind of movement."""
    distinct = set(cells)
    return 2 * sum(map(names_move, distinct)) >= len(distinct) > 0


def find_stage(cell: str) -> str | None:
    """ "awake" or "asleep" for the name of a stage of sleep, by the whole cell; None for anything else."""
    text = plain(cell)
    return next((stage for stage, words in _STAGES.items() if text in words), None)

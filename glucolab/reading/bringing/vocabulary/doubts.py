"""Which words make a column doubtful? Net carbohydrate, what a packet says, calm in place of stress, values never read.

Words are in the form that `plain` gives, trade words and everyday words, from memory, as in `words`.
"""

from __future__ import annotations

from glucolab.reading.bringing.vocabulary.matching import find_truth
from glucolab.reading.bringing.vocabulary.words import TRUTH
from glucolab.reading.text import plain, plain_words

_NET = plain_words(
    "net, nets, netto, nettes, nets, neto, netos, netas, liquido, liquidos, netti, nette, nettokohlenhydrate, netto kh, nettokoolhydraten, nettokolhydrater, available, digestible, "
    "verwertbar, verwertbare, verfugbare, assimilables, digeribles, disponibles, disponiveis, disponibili, przyswajalne, vyuzitelne, чистые, усвояемые, 糖質, 净碳水, 순탄수화물"
)
_LABEL = plain_words(
    "nutritional value, nutrition value, nutrient value, nutrition facts, nutrition, label, label value, per label, nahrwert, nahrwerte, nahrwertangabe, valeur nutritive, "
    "valeur nutritionnelle, valeurs nutritionnelles, valor nutricional, valor nutritivo, informacion nutricional, informacao nutricional, valore nutrizionale, valori nutrizionali, "
    "voedingswaarde, wartosc odzywcza, vyzivova hodnota, nutricni hodnota, besin degeri, naringsvarde, naeringsvaerdi, naringsverdi, naeringsindhold, ravintoarvo, ravintosisalto, "
    "пищевая ценность, διατροφικη αξια, tapertek, nilai gizi, valoare nutritiva, 栄養成分, 营养成分, 영양성분"
)
_OPPOSITES: dict[str, frozenset[str]] = {
    "stress": plain_words(
        "calm, calmness, relaxed, relaxation, ruhe, ruhig, entspannt, entspannung, gelassen, calme, detendu, detente, calma, tranquilo, tranquila, relajado, relajacion, relaxado, "
        "rilassato, rilassamento, kalm, rustig, ontspannen, ontspanning, spokoj, spokojny, klid, klidny, sakin, lugn, avslappnad, rolig, rolighed, avslappet, rauhallinen, rento, "
        "спокойствие, спокоен, ηρεμια, nyugodt, nyugalom, tenang, calm, リラックス, 平静, 편안"
    ),
    "energy": plain_words(
        "tired, tiredness, fatigue, fatigued, sleepy, exhausted, mude, mudigkeit, erschopft, erschopfung, fatigue, cansado, cansada, cansancio, cansaco, stanco, stanchezza, moe, moeheid, "
        "zmeczenie, zmeczony, unava, unaveny, yorgun, yorgunluk, trott, trotthet, traet, traethed, vasynyt, vasymys, усталость, κουραση, faradt, faradtsag, lelah, obosit, oboseala, 疲れ, 疲劳, 피로"
    ),
    "hunger": plain_words(
        "full, fullness, satiety, sated, satt, sattigung, rassasie, satiete, lleno, saciedad, saciado, cheio, saciedade, sazio, sazieta, vol, verzadigd, verzadiging, syty, sytosc, tok, "
        "tokluk, matt, mattnad, maet, maethed, mett, metthet, kyllainen, сытость, κορεσμος, jollakott, kenyang, satul, satietate, 満腹, 饱, 포만"
    ),
    "focus": plain_words("distracted, distraction, abgelenkt, ablenkung, distrait, distraido, distratto, afgeleid, rozproszony, rozptyleny, dikkatsiz, distraherad, рассеянность"),
    "quality": plain_words("restless, restlessness, unruhig, agite, inquieto, agitado, agitato, onrustig, niespokojny, neklidny, huzursuz, orolig, urolig, levoton, беспокойный"),
}  # fmt: skip
_NOT_READ = plain_words(
    "interpolated, interpolation, estimated, estimate, extrapolated, imputed, filled, filled in, gap filled, synthetic, simulated, predicted, forecast, "
    "interpoliert, geschatzt, aufgefullt, vorhergesagt, simuliert, interpole, interpolee, estime, estimee, extrapole, simule, prevu, interpolado, interpolada, estimado, estimada, "
    "simulado, interpolato, interpolata, stimato, stimata, simulato, geinterpoleerd, geschat, interpolowane, interpolowany, szacowane, szacowany, oszacowane, interpolovano, odhad, "
    "odhadnuto, enterpole, tahmini, tahmin, interpolerad, interpolerat, uppskattad, uppskattat, interpoleret, estimeret, interpolert, estimert, interpoloitu, arvioitu, "
    "интерполировано, интерполяция, оценка, расчетное, παρεμβολη, εκτιμηση, interpolalt, becsult, interpolasi, perkiraan, interpolat, estimat, 補間, 推定, 插值, 估计, 보간, 추정"
)
_READ = plain_words(
    "measured, real, actual, gemessen, echt, mesure, mesuree, reel, medido, medida, real, misurato, misurata, reale, gemeten, zmierzone, mierzone, namereno, olculen, uppmatt, malt, "
    "mitattu, измерено, μετρημενο, mert, terukur, masurat, 実測, 测量, 측정"
)

_REPORTS = plain_words(
    "report, reported, reporting, printed, print, issued, issue, received, released, exported, entered, informe, emision, impresion, recepcion, befund, bericht, befunddatum, berichtsdatum, "
    "ausdruck, eingang, rapport, edition, reception, impression, compte rendu, relatorio, emissao, laudo, recebido, referto, stampa, refertazione, uitslag, rapportage, ontvangst, wydruk, "
    "wydania, wyniku, przyjecia, vystaveni, tisku, prijmu, rapor, baski, kabul, utskrift, svar, svarsdatum, rapportdatum, mottaget, modtaget, mottatt, raportti, saapunut, tulostettu, отчет, "
    "отчета, выдачи, печати, звіту, εκτυπωση, αναφορα, lelet, nyomtatas, laporan, raport, eliberare, 報告, 報告日, 報告书, 报告, 보고"
)


_DRAWS = plain_words(
    "collected, collection, collected on, drawn, draw, sampled, sample, sampling, sample taken, specimen, taken, entnahme, entnommen, abnahme, abgenommen, probenentnahme, blutentnahme, preleve, prelevee, prelevement, "
    "preleve le, extraccion, muestra, toma de muestra, extraida, coleta, colheita, coletado, prelievo, prelevato, afname, afgenomen, pobranie, pobrano, pobrania, data pobrania, odber, odebrano, alinma, numune alma, "
    "provtagning, provtagen, provtaget, tagen, prøvetagning, provetaking, provetagning, naytteenotto, взятие, взятия, взят, дата взятия, забор, ληψη, mintavetel, pengambilan, recoltare, 採取, 採血日, 采样, 채취"
)
_BIRTHS = plain_words(
    "birth, born, dob, date of birth, birthday, geb, geboren, geburtsdatum, geburtstag, ne le, nee le, ne, nee, naissance, date de naissance, nacimiento, fecha de nacimiento, nacido, nacida, nascimento, nascido, nascida, "
    "nato, nata, nascita, data di nascita, geboortedatum, ur, urodzony, urodzona, data urodzenia, nar, narozen, narozena, datum narozeni, dogum, dogum tarihi, fodd, fodt, fodselsdato, fodelsedatum, syntynyt, syntymaaika, "
    "рождения, дата рождения, γεννησης, szuletett, szuletesi, lahir, nascut, 生年月日, 出生, 생년월일"
)


def names_draw(text: str) -> bool:
    """True where it is said when blood was drawn."""
    parts = f" {plain(text)} "
    return any(f" {word} " in parts or (ord(word[0]) > 0x3000 and word in parts) for word in _DRAWS)


def names_birth(text: str) -> bool:
    """True where somebody's date of birth is named."""
    parts = f" {plain(text)} "
    return any(f" {word} " in parts or (ord(word[0]) > 0x3000 and word in parts) for word in _BIRTHS)


def names_report(text: str) -> bool:
    """True for the date of a report, which is later than what it reports."""
    name = plain(text)
    return bool(_REPORTS & set(name.split())) or any(ord(word[0]) > 0x3000 and word in name for word in _REPORTS)


def names_net(text: str) -> bool:
    """True for carbohydrate without fiber, which where fiber counts as carbohydrate is not what a label prints."""
    return bool(_NET & set(plain(text).split())) or plain(text) in _NET


def names_label(text: str) -> bool:
    """True where a number is called what a packet says, be it of 100 g or of what was eaten."""
    parts = f" {plain(text)} "
    return any(f" {word} " in parts for word in _LABEL)


def names_opposite(column: str, text: str) -> bool:
    """True where a name of one of our marks holds its opposite as well, so that either end may be the high one."""
    return bool(_OPPOSITES.get(column, frozenset()) & set(plain(text).split()))


def was_not_read(header: str, cell: str) -> bool:
    """True where a cell says that the value of its row was not measured: it was put between those that were.

    Parameters
    ----------
    header : str
        Of the column: below "measured", no says so; below "interpolated", yes.
    cell : str
    """
    name, truth = plain(header), find_truth(cell, TRUTH)
    if truth is not None and (name in _READ or name in _NOT_READ):
        return (truth == "true") == (name in _NOT_READ)
    return plain(cell) in _NOT_READ

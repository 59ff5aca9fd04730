"""Which words in or beside a table say that it is not what it seems? Plans, other people's, a clock that is wrong.

Words are in the form that `plain` gives, everyday words, from memory, as in `words`.
"""

from __future__ import annotations

import re

from glucolab.reading.text import plain, plain_words

_PLANS = plain_words(
    "plan, plans, planned, planning, proposed, proposal, intended, scheduled, suggested, suggestion, menu plan, meal plan, geplant, geplante, vorgesehen, vorgeschlagen, vorschlag, essensplan, "
    "speiseplan, ernahrungsplan, prevu, prevue, planifie, planifiee, propose, proposee, propuesto, propuesta, planeado, planeada, planificado, planificada, previsto, prevista, planejado, planejada, proposto, "
    "proposta, pianificato, pianificata, programmato, gepland, geplande, voorgesteld, voorstel, planowane, planowany, zaplanowane, zaplanowany, proponowane, proponowany, jadlospis, planovano, planovany, "
    "planovane, navrzeno, planlanan, planlandi, onerilen, planerad, planerat, foreslagen, foreslaget, planlagt, foreslatt, suunniteltu, ehdotettu, запланировано, планируемое, предложено, "
    "заплановано, προγραμματισμενο, προτεινομενο, tervezett, javasolt, direncanakan, planificat, propus, 予定, 計画, 献立, 计划, 计划中, 예정, 계획, 식단표"
)
_UPKEEP = plain_words(
    "updated, updated at, last update, last updated, modified, last modified, modified at, changed, edited, edited at, synced, synced at, last sync, sync, synchronized, uploaded, imported, aktualisiert, "
    "zuletzt aktualisiert, geandert, zuletzt geandert, bearbeitet, synchronisiert, hochgeladen, mis a jour, mise a jour, modifie, modifie le, synchronise, actualizado, actualizada, ultima actualizacion, "
    "modificado, modificada, sincronizado, atualizado, atualizada, ultima atualizacao, aggiornato, aggiornata, ultimo aggiornamento, modificato, sincronizzato, bijgewerkt, gewijzigd, gesynchroniseerd, "
    "zaktualizowano, zmieniono, aktualizacja, aktualizovano, upraveno, zmeneno, guncellendi, guncelleme, degistirildi, uppdaterad, uppdaterat, andrad, andrat, opdateret, aendret, oppdatert, endret, "
    "paivitetty, muokattu, обновлено, изменено, оновлено, змінено, ενημερωθηκε, frissitve, modositva, diperbarui, actualizat, 更新, 更新日時, 変更, 修改, 수정, 갱신"
)
_REVISIONS = plain_words(
    "rev, revision, revision number, version, version number, edit, fassung, revision nr, numero de version, versione, versie, wersja, verze, surum, versio, версия, έκδοση, 版, 版本, 버전"
)
_RECORDS = plain_words(
    "id, uuid, guid, key, record, record id, entry id, event id, datensatz, identifiant, identificador, identificativo, kennung, identyfikator, идентификатор"
)
_SOMEBODY_ELSE = plain_words(
    "baby, infant, toddler, newborn, my son, my daughter, son s, daughter s, mother, mum, mom, father, dad, husband, wife, grandmother, grandma, grandfather, grandpa, brother, sister, shared, shared with, "
    "household, saugling, kleinkind, sohn, tochter, mutter, mama, vater, papa, ehemann, ehefrau, oma, opa, bruder, schwester, gemeinsam, haushalt, bebe, nourrisson, fils, fille, maman, "
    "grand mere, grand pere, frere, soeur, partage, partagee, bebe, hijo, hija, madre, padre, marido, mujer, abuela, abuelo, hermano, hermana, compartido, filho, filha, mae, pai, irmao, irma, compartilhado, "
    "partilhado, neonato, figlio, figlia, mamma, marito, moglie, nonna, nonno, fratello, sorella, condiviso, zoon, dochter, moeder, vader, broer, gedeeld, gezamenlijk, niemowle, corka, ojciec, "
    "babcia, dziadek, siostra, wspolny, wspolna, miminko, dcera, otec, manzel, manzelka, babicka, bratr, sestra, sdileny, bebek, oglum, kizim, annem, babam, kocam, karim, dotter, mamma, "
    "bror, syster, delad, gemensam, datter, sonn, soster, delt, vauva, poika, tytar, aiti, sisko, jaettu, ребенок, малыш, сын, дочь, мама, отец, папа, муж, жена, бабушка, брат, сестра, "
    "赤ちゃん, 息子, 娘, 母, 父, 夫, 妻, 共用, 宝宝, 儿子, 女儿, 妈妈, 爸爸, 아기, 아들, 딸, 엄마, 아빠"
)
_CLOCKS = plain_words(
    "clock, watch, time, uhr, uhrzeit, zeit, gerateuhr, horloge, heure, montre, reloj, hora, relogio, orologio, ora, klok, tijd, zegar, zegarek, czas, hodiny, cas, saat, klocka, klockan, tid, ur, uret, klokke, "
    "klokka, kello, часы, время, годинник, ρολοι, ωρα, ora, orat, jam, ceas, 時計, 時刻, 时钟, 时间, 시계, 시간"
)
_SLOW = plain_words(
    "slow, behind, geht nach, nachgeht, zuruck, retarde, en retard, retard, atrasado, atrasada, atrasa, retrasado, retrasa, atras, indietro, ritardo, achter, loopt achter, spozniony, spoznia, opozden, "
    "opozduje, zpozdeni, pozadu, geri, efter, bagud, etter, saktar, jaljessa, отстает, отстают, спізнюється, πισω, kesik, terlambat, in urma, 遅れ, 慢, 느림, 늦음"
)
_FAST = plain_words(
    "fast, ahead, geht vor, vorgeht, avance, en avance, adelantado, adelanta, adiantado, adiantada, adianta, avanti, anticipo, loopt voor, spieszy, napred, predbiha, ileri, foran, forud, "
    "edella, спешит, спешат, поспішає, μπροστα, siet, terlalu cepat, inainte, 進み, 快, 빠름"
)
_AMOUNT = re.compile(r"(?<![\d.,:/-])(\d{1,3})\s*(h|std|hours?|heures?|horas?|ore|uur|godz|hod|saat|tim|[^\W\d]+)?", re.IGNORECASE)  # fmt: skip
_HOURS = plain_words("h, std, stunde, stunden, hour, hours, heure, heures, hora, horas, ora, ore, uur, godz, godzina, godziny, hod, hodina, hodiny, saat, tim, timme, timmar, time, timer, tunti, tuntia, час, часа, 時間")  # fmt: skip
_MINUTES = plain_words("m, min, mins, minute, minutes, minuten, minuto, minutos, minuti, minuut, minuty, minut, dakika, dk, minuter, minutter, minuutti, minuuttia, мин, минуты, минут, 分, 분")  # fmt: skip


def names_plan(text: str) -> bool:
    """True where something is called a plan: it need not have taken place."""
    return _holds(text, _PLANS)


def names_upkeep(name: str) -> bool:
    """True for a column that says when a record was last changed, which is not when what it records took place."""
    return plain(name) in _UPKEEP


def names_record(name: str) -> bool:
    """True for a column whose cells tell records apart and say nothing else."""
    return plain(name) in _RECORDS


def orders_revisions(name: str) -> bool:
    """True for a column by which the later one of two records of the same thing is known."""
    return plain(name) in _REVISIONS or names_upkeep(name)


def find_somebody_else(text: str) -> str:
    """The word by which a text speaks of another person, or of several; "" for none."""
    parts = f" {plain(text)} "
    return next((word for word in sorted(_SOMEBODY_ELSE) if f" {word} " in parts or _signs_in(word, parts)), "")


def find_clock_error(text: str) -> float:
    """Minutes that a text says to be added to the times of a clock that is wrong; NaN where it says nothing of it.

    A clock is meant where a clock, an amount of time, and slow or fast are named. [min]
    """
    bare = _AMOUNT.sub(" ", text)  # "geht 47 min nach" holds "geht nach"
    if not _holds(text, _CLOCKS) or _holds(bare, _SLOW) == _holds(bare, _FAST):
        return float("nan")
    for match in _AMOUNT.finditer(text):
        unit = plain(match[2] or "")
        if unit in _HOURS or unit in _MINUTES:
            minutes = float(match[1]) * (60 if unit in _HOURS else 1)
            return minutes if _holds(bare, _SLOW) else -minutes
    return float("nan")


def _holds(text: str, words: frozenset[str]) -> bool:
    parts = f" {plain(text)} "
    return any(f" {word} " in parts or _signs_in(word, parts) for word in words)


def _signs_in(word: str, parts: str) -> bool:
    return ord(word[0]) > 0x3000 and word in parts

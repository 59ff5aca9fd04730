"""Which words say whose a row is, and that it never was? Persons, devices; planned, skipped and void rows.

Words are in the form that `plain` gives, trade words and everyday words, from memory, as in `words`.
"""

from __future__ import annotations

from glucolab.reading.bringing.vocabulary.matching import find_truth
from glucolab.reading.bringing.vocabulary.words import TRUTH
from glucolab.reading.text import plain, plain_words

_PERSONS = plain_words(
    "athlete, runner, swimmer, rider, player, trainee, child, eater, eaten by, done by, athlet, athletin, sportler, sportlerin, kind, esser, athlete, sportif, sportive, coureur, enfant, "
    "atleta, deportista, corredor, corredora, nino, desportista, esportista, crianca, sportivo, corridore, bambino, sporter, loper, kind, sportowiec, zawodnik, dziecko, sportovec, dite, "
    "sporcu, cocuk, idrottare, barn, utover, idraetsudover, urheilija, lapsi, спортсмен, ребенок, αθλητης, παιδι, sportolo, gyerek, atlet, anak, sportiv, copil, 選手, 子供, 运动员, 孩子, 선수, "
    "person, who, user, user name, username, member, family member, patient, patient name, patient id, wearer, profile, account, owner, subject, participant, "
    "wer, benutzer, nutzer, mitglied, patientin, trager, profil, konto, qui, utilisateur, personne, membre, porteur, quien, usuario, persona, miembro, paciente, "
    "perfil, quem, utilizador, pessoa, membro, chi, utente, paziente, profilo, wie, gebruiker, persoon, lid, profiel, kto, uzytkownik, osoba, pacjent, kdo, uzivatel, "
    "pacient, kim, kullanici, kisi, hasta adi, vem, anvandare, hvem, bruger, bruker, kayttaja, henkilo, kuka, кто, пользователь, пациент, человек, felhasznalo, szemely, "
    "pengguna, pasien, χρηστης, ασθενης, utilizator, pacient, 人, 氏名, 利用者, ユーザー, 患者, 姓名, 用户, 사용자, 환자"
)
_NAMES = plain_words(
    "name, nom, nombre, nome, naam, nazwa, imie, jmeno, isim, namn, navn, nimi, имя, nev, nama, ονομα, nume, 名前, 이름"
)
_DEVICES = plain_words(
    "serial, serial number, serial no, serial nr, sn, device, device id, device serial, sensor, sensor id, sensor serial, sensor number, sensor serial number, transmitter, "
    "transmitter id, lot, arm, side, seriennummer, gerat, gerat id, geratenummer, sensornummer, numero de serie, appareil, capteur, dispositivo, numero serie, sensor numero, "
    "numero do sensor, numero di serie, sensore, serienummer, apparaat, sensornummer, numer seryjny, urzadzenie, czujnik, seriove cislo, zarizeni, senzor, seri no, cihaz, "
    "enhet, enhed, sarjanumero, laite, anturi, серийный номер, устройство, датчик, сенсор, sorozatszam, eszkoz, nomor seri, perangkat, σειριακος αριθμος, συσκευη, αισθητηρας, "
    "シリアル番号, 機器, センサー, 序列号, 设备, 传感器, 일련번호, 기기, 센서"
)
_NEVER_WAS = plain_words(
    "planned, scheduled, upcoming, skipped, missed, cancelled, canceled, not eaten, not taken, not done, not completed, aborted, deleted, removed, void, voided, invalid, "
    "rejected, error, faulty, geplant, vorgesehen, ausgelassen, ubersprungen, ausgefallen, abgesagt, storniert, abgebrochen, nicht gegessen, geloscht, ungultig, fehler, "
    "fehlerhaft, prevu, planifie, saute, manque, annule, pas mange, supprime, invalide, erreur, planeado, planificado, previsto, saltado, omitido, cancelado, no comido, "
    "borrado, eliminado, invalido, error, planejado, pulado, nao comido, apagado, excluido, erro, pianificato, programmato, saltato, annullato, non mangiato, cancellato, non "
    "valido, errore, gepland, overgeslagen, geannuleerd, niet gegeten, verwijderd, ongeldig, fout, planowane, zaplanowane, pominiete, pominiety, anulowane, usuniete, niewazne, "
    "blad, planovano, vynechano, zruseno, smazano, neplatne, chyba, planlandi, atlandi, iptal, iptal edildi, silindi, gecersiz, hata, planerad, planerat, hoppade over, "
    "installd, borttagen, ogiltig, fel, planlagt, sprunget over, hoppet over, aflyst, avlyst, slettet, ugyldig, fejl, feil, suunniteltu, jai valiin, peruttu, poistettu, "
    "virheellinen, virhe, план, запланировано, пропущено, отменено, удалено, ошибка, недействительно, tervezett, kihagyva, torolt, ervenytelen, hiba, direncanakan, dilewati, "
    "dibatalkan, dihapus, προγραμματισμενο, παραλειφθηκε, ακυρωθηκε, σφαλμα, planificat, sarit, anulat, sters, eroare, 予定, 欠食, 中止, キャンセル, 削除, 無効, エラー, 计划, 跳过, 取消, "
    "已删除, 无效, 错误, 계획, 건너뜀, 취소, 삭제, 오류"
)
_WAS = plain_words(
    "eaten, consumed, done, completed, finished, performed, valid, gegessen, verzehrt, erledigt, abgeschlossen, durchgefuhrt, gultig, mange, fait, termine, effectue, valide, "
    "comido, consumido, hecho, completado, valido, feito, concluido, realizado, mangiato, consumato, fatto, completato, gegeten, opgegeten, gedaan, voltooid, geldig, zjedzone, wykonane, "
    "wazne, snedeno, hotovo, platne, yenildi, yapildi, tamamlandi, gecerli, atit, klar, genomford, giltig, spist, udfort, gyldig, fullfort, syoty, tehty, съедено, выполнено, "
    "megette, kesz, dimakan, selesai, φαγωθηκε, εγινε, mancat, facut, 完了, 実施, 已吃, 完成, 먹음, 완료"
)


def names_person(name: str, is_of_things: bool) -> bool:
    """True for a column that says whose a row is; where rows are of things that have names, a name is theirs."""
    return plain(name) in _PERSONS or (not is_of_things and plain(name) in _NAMES)


def names_device(name: str) -> bool:
    """True for a column that says which device, or which of several, a row is from."""
    return plain(name) in _DEVICES


def never_was(header: str, cell: str) -> bool:
    """True where a cell says that what its row holds never took place, or is void.

    Parameters
    ----------
    header : str
        Of the column: below "eaten", no says so; below "skipped", yes.
    cell : str
    """
    name, text = plain(header), plain(cell)
    truth = find_truth(cell, TRUTH) or find_truth(cell.replace(",", " ").split(" ")[0], TRUTH)  # "no, skipped it"
    if truth is not None and (name in _WAS or name in _NEVER_WAS):
        return (truth == "true") == (name in _NEVER_WAS)
    return text in _NEVER_WAS or any(f" {word} " in f" {text} " for word in _NEVER_WAS if " " in word)

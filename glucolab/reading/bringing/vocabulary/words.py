"""What do people call it? Words of many languages for tables, columns, units and choices.

Words are in the form that `plain` gives: small letters, no accents, single spaces. They are trade words and everyday
words, from memory: no program's headers are among them. A word that fits several columns stands with each.
"""

from __future__ import annotations

from glucolab.reading.text import plain


def _words(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(plain(word) for word in text.split(",")))


DATE = _words(
    "التاريخ, اليوم, תאריך, יום, ngày, ngày tháng, 날짜, 일자, дата, день, datum, nap, ημερομηνια, tanggal, date, day, datum, tag, jour, fecha, dia, data, giorno, dag, dato, dzien, den, gun, tarih, paiva, paivamaara, "
    "date du jour, 日付, 日, 日期, 年月日"
)
CLOCK = _words(
    "الوقت, الساعة, שעה, זמן, giờ, czas pomiaru, 시간, 시각, время, час, ido, idopont, ωρα, waktu, jam, pukul, time, clock, hour, uhrzeit, zeit, heure, hora, ora, orario, tijd, tid, godzina, czas, cas, klockslag, klokkeslett, "
    "klokkeslaet, kello, kellonaika, aika, saat, 時刻, 時間, 时间, hodina, tijdstip, tidspunkt"
)
MOMENT = _words(
    "at, التاريخ والوقت, תאריך ושעה, thời gian, thời điểm, eaten at, slot, дата і час, stamp, 일시, 날짜 시간, 측정 시간, 측정 일시, дата и время, дата время, datum es ido, tanggal dan waktu, ημερομηνια και ωρα, data si ora, datetime, date time, timestamp, time stamp, zeitpunkt, zeitstempel, date et heure, date heure, fecha y hora, "
    "fecha hora, data e hora, data hora, data e ora, data ora, datum en tijd, datum tijd, datum und uhrzeit, datum zeit, "
    "datum uhrzeit, datum a cas, data i godzina, data godzina, datum och tid, datum tid, tarih saat, tarih ve saat, "
    "日時, 測定日時, recorded, recorded at, measured at, taken at, logged, logged at, when, horodatage, instant, momento, "
    "moment, epoch, unix time, unix, tidpunkt, quando, cuando, quand, wann, kiedy, kdy, minutes since midnight, "
    "minute of day, minuten seit mitternacht, minuutti, utc time, local time, time local, time utc"
)
START = _words(
    "aloitus, alkaa, aloitusaika, початок, البداية, התחלה, bắt đầu, 시작, 시작 시간, начало, kezdet, kezdete, mulai, εναρξη, inceput, start, begin, begins, began, from, started, start time, begin time, beginn, anfang, von, debut, depart, de, inicio, "
    "comienzo, desde, inizio, da, dalle, begintijd, van, poczatek, od, zacatek, baslangic, borjan, borjade, startade, fra, alkoi, alku, 開始, 開始時刻, 开始"
)
END = _words(
    "ending, interval end, interval ending, period end, lopetus, päättyy, lopetusaika, кінець, النهاية, סיום, kết thúc, 종료, 종료 시간, конец, окончание, vege, selesai, ληξη, sfarsit, end, ended, to, until, stop, finish, finished, end time, ende, bis, fin, a, jusqu a, hasta, fim, ate, fine, alle, "
    "einde, eindtijd, tot, koniec, do, konec, bitis, slut, slutade, til, till, loppui, loppu, 終了, 終了時刻, 结束"
)
TO_BED = _words(
    "in slaap, geslapen vanaf, asleep, addormentata, dormi, dormia, usnula, zasnalem, zasnelam, do postele, do lozka, v posteli, i seng, i sang, лег, лёг, легла, sovnet, sovnede, sovnet av, la seg, nukkumaan, nukahti, заснув, ліг спати, ліг, النوم من, שעת שינה, đi ngủ, 취침, 취침 시간, 잠든 시간, лег спать, отбой, засыпание, lefekves, tidur, υπνος απο, culcare, to bed, bedtime, bed, in bed, lights out, asleep at, fell asleep, sleep start, sleep onset, onset, schlafbeginn, zu bett, "
    "ins bett, eingeschlafen, einschlafzeit, schlafenszeit, coucher, endormi, endormissement, heure de coucher, acostarse, dormido, me acoste, "
    "deitar, deitei, adormeceu, hora de deitar, a letto, addormentato, coricato, naar bed, bedtijd, ingeslapen, do lozka, zasniecie, sen od, usnuti, ulehnuti, "
    "yatis, uyku baslangici, somnade, i sang, lade mig, la meg, 就寝, 就寝時刻, 入眠"
)
WOKE = _words(
    "awake, sveglio, sveglia alle, despierto, acordado, wstalem, wstalam, obudzilem, op, upp, klev upp, stod op, sto opp, opp, heratys, vstal, vstala, vstavani, встал, встала, 起床時間, vågnede, vågnet, heräsi, herätys, прокинувся, підйом, الاستيقاظ, יקיצה, השכמה, thức dậy, 기상, 기상 시간, подъем, пробуждение, felkeles, ebredes, bangun, ξυπνημα, trezire, woke, wake, woke up, wake up, waking, wake time, awake at, out of bed, got up, up, sleep end, schlafende, aufgewacht, aufgestanden, "
    "aufwachzeit, aufstehen, reveil, lever, leve, heure de lever, heure de reveil, despertar, desperte, levantarse, me levante, acordar, acordei, acordou, levantar, hora de acordar, "
    "sveglia, svegliato, risveglio, alzato, opgestaan, wakker, ontwaakt, pobudka, przebudzenie, wstanie, sen do, probuzeni, vstavani, uyanis, kalkis, "
    "vaknade, uppstigning, vaknet, 起床, 起床時刻, 目覚め"
)
LENGTH = _words(
    "varighed, elapsed, elapsed time, active time, moving time, toteutunut, тривалість, хвилини, المدة, משך, thời lượng, czas w ruchu, 지속 시간, 운동 시간, 분, длительность, продолжительность, минуты, мин, idotartam, perc, durasi, menit, διαρκεια, λεπτα, durata, minutes, min, duration, length, mins, how long, dauer, lange, duree, duracion, minutos, duracao, durata, minuti, duur, minuten, "
    "czas trwania, minuty, delka, trvani, sure, dakika, varaktighet, langd, minuter, varighet, kesto, 所要時間, 分, 時間 分, 时长, laenge, tempo"
)
_GLUCOSE = _words(
    "bz, bs, bg, سكر الدم, الجلوكوز, جلوكوز, غلوكوز, سكر, סוכר בדם, גלוקוז, סוכר, đường huyết, glucose máu, цукор крові, цукор, глікемія, glikemia, glikemie, glykaemi, glykemi, glykemia, glycaemia, glycemia, mg dl, mgdl, mmol l, mmoll, cukor, szoveti cukor, 혈당, 혈당치, 포도당, глюкоза, сахар, сахар крови, глюкоза крови, vercukor, glukoz, szenzor, gula darah, glukosa, γλυκοζη, σακχαρο, glicemie, глюкоза датчика, glucose, glukose, glycemie, glucosa, glicose, glicemia, glukoza, glukosa, glukozy, glukos, blodsocker, blodsukker, blodglukos, blutzucker, gewebezucker, gewebeglukose, gewebeglucose, glucosewert, glucosewerte, glukosewerte, glycemie capteur, "
    "zucker, zuckerwert, glukosewert, bloedsuiker, bloedglucose, weefselglucose, cukier, cukr, glykemie, seker, kan sekeri, glikoz, verensokeri, glukoosi, 血糖, 血糖値, グルコース, グルコース値, "
    "葡萄糖, sugar, blood sugar, sensor glucose, tissue glucose, interstitial glucose, sensor, sensorwert, valeur capteur, capteur, lectura, leitura, lettura, meting, reading, messwert, "
    "odczyt, mereni, olcum, matvarde, sucre, azucar, acucar, zucchero, suiker, 値, 測定値"
)
GENERIC_GLUCOSE = _words(
    "sensor, sensorwert, valeur capteur, capteur, lectura, leitura, lettura, meting, reading, messwert, odczyt, mereni, olcum, matvarde, szenzor, 値, 測定値, palec, prst, finger, vinger, meter, messgeraet, messgerat, dedo, doigt, stick, sucre, azucar, acucar, zucchero, suiker, sugar, cukor, cukier, cukr, seker, сахар, zucker"
)
"""Words that may name something else than glucose, so that a unit of it or another word must stand with them."""
VALUE = _words(
    "القيمة, النتيجة, תוצאה, ערך, kết quả, giá trị, level, niveau, nivel, livello, pegel, poziom, 값, 측정값, 결과, значение, результат, показатель, ertek, eredmeny, nilai, hasil, τιμη, valoare, rezultat, value, wert, valeur, valor, valore, waarde, wartosc, hodnota, deger, varde, verdi, arvo, result, ergebnis, resultat, resultado, risultato, uitslag, wynik, vysledek, sonuc, "
    "結果, amount, menge, quantite, cantidad, quantidade, quantita, hoeveelheid"
)
UNIT = _words(
    "одиниці, одиниця, الوحدة, יחידות, đơn vị, 단위, единица, единицы, ед, ед изм, mertekegyseg, egyseg, satuan, μοναδα, unitate, unit, units, einheit, unite, unidad, unidade, unita, eenheid, jednostka, jednotka, birim, enhet, enhed, yksikko, 単位, 单位"
)
NOTE = _words(
    "text, texte, texto, testo, tekst, teksti, текст, ملاحظة, ملاحظات, הערה, הערות, ghi chú, примітка, нотатка, 메모, 비고, 노트, заметка, примечание, комментарий, megjegyzes, catatan, σημειωση, σχολια, observatii, nota, note, notes, comment, comments, remark, remarks, notiz, notizen, bemerkung, kommentar, commentaire, remarque, nota, notas, comentario, observacao, observacoes, observaciones, "
    "commento, osservazioni, opmerking, opmerkingen, uwaga, uwagi, notatka, poznamka, not, notlar, anteckning, merknad, huomautus, メモ, 備考, 备注, anmerkung"
)
OF_NOTES = _words(
    "notes, my notes, remarks, events, incidents, notizen, bemerkungen, ereignisse, remarques, evenements, notas, eventos, observaciones, observacoes, note personali, eventi, notities, gebeurtenissen, notatki, uwagi, poznamky, udalosti, notlar, anteckningar, noter, notater, muistiinpanot, заметки, メモ, 备注"
)

_STEPS = _words(
    "кроки, خطوات, عدد الخطوات, צעדים, מספר צעדים, số bước, bước chân, 걸음 수, 걸음수, 걸음, шаги, количество шагов, lepes, lepesek, langkah, βηματα, pasi, steps, step count, schritte, pas, nombre de pas, pasos, passos, passi, stappen, kroki, kroky, adim, adimlar, steg, skridt, skritt, askeleet, 歩数, 步数"
)
COLUMNS: dict[str, dict[str, tuple[str, ...]]] = {
    "glucose": {
        "glucose": _GLUCOSE,
        "taken": _words("taken, how, source, mode, art, record mode, aufzeichnung, modo, mode de mesure"),
    },
    "checks": {
        "glucose": (
            *_GLUCOSE,
            *_words(
                "손가락, 손끝, 자가 측정, 채혈, палец, из пальца, ujjbegy, ujj, jari, ujung jari, δαχτυλο, δακτυλο, deget, din deget, fingerstick, finger stick, finger prick, fingerprick, finger, capillary glucose, capillary, fingerstich, meter, messgeraet, messgerat, glycemie capillaire, "
                "capillaire, doigt, puncion, dedo, glucemia capilar, glicemia capilar, picada, picada no dedo, capillare, polpastrello, pungidito, vingerprik, vinger, z palca, palec, glukometr, prst, z prstu, parmak, parmak ucu, "
                "fingerstick, fingertopp, stick, 指先, 指先血糖, 自己測定, blutige messung, blutig"
            ),
        ),
        "source": _words(
            "source, kind, type, sample, site, quelle, art, probe, type de prelevement, prelevement, origine, origen, fuente, tipo, muestra, origem, fonte, amostra, campione, bron, soort, zrodlo, rodzaj, zdroj, typ, kaynak, tur, kalla, kilde, 種類, 採血"
        ),
        "note": NOTE,
    },
    "meals": {
        "name": _words(
            "matratt, jedlo, potravina, страва, title, їжа, الطعام, الوجبة, מזון, ארוחה, món ăn, bữa ăn, thức ăn, getrank, getranke, beverage, boisson, bebida, bevanda, drank, napoj, icecek, dryck, drik, juoma, 음식, 식사, 메뉴, 음식명, еда, блюдо, продукт, прием пищи, название, etel, etkezes, makanan, φαγητο, γευμα, aliment, masa, name, food, meal, what, item, eaten, description, drink, essen, mahlzeit, speise, lebensmittel, gericht, was, nahrungsmittel, bezeichnung, repas, aliment, plat, nom, quoi, comida, alimento, "
            "nombre, plato, que, refeicao, nome, prato, o que, descricao, descripcion, pasto, cibo, piatto, alimento, descrizione, maaltijd, eten, voedsel, gerecht, wat, naam, omschrijving, posilek, jedzenie, danie, nazwa, co, opis, jidlo, "
            "pokrm, nazev, yemek, ogun, yiyecek, ne, isim, ad, maltid, mat, ratt, vad, namn, maltid, ruoka, ateria, 食事, 食べ物, 料理, 内容, 食物, 品名, product, produkt, produit, producto, produto, prodotto"
        ),
        "carbs_g": _words(
            "khe, hdec, hidratos g, вуглеводи, كربوهيدرات, الكربوهيدرات, פחמימות, tinh bột, carbohydrat, 탄수화물, углеводы, szenhidrat, karbohidrat, υδατανθρακες, glucide, carbohidrati, carbs, carb, carbohydrate, carbohydrates, kohlenhydrate, kh, khs, glucides, carbohidratos, hidratos, hidratos de carbono, hc, ch, carboidratos, carboidrati, koolhydraten, kh g, weglowodany, sacharidy, "
            "karbonhidrat, kolhydrater, kolhydrat, kulhydrat, kulhydrater, karbohydrater, karbohydrat, hiilihydraatit, 炭水化物, 糖質, 碳水化合物, 碳水, glucidi, be, ke, bread units, bread exchanges, exchanges, carb exchanges, carb units, carb portions, broteinheiten, broteinheit, kohlenhydrateinheiten, echanges, raciones, raciones de hidratos, equivalentes, unita pane, broodeenheden, wymienniki, ww, chlebove jednotky, ekmek birimi, xe, хе, хлебные единицы, kenyeregyseg, カーボ"
        ),
        "fiber_g": _words(
            "식이섬유, 섬유질, клетчатка, пищевые волокна, rost, elelmi rost, serat, φυτικες ινες, ινες, fiber, fibre, fibres, fibers, dietary fiber, dietary fibre, ballaststoffe, fibres alimentaires, fibra, fibras, fibre alimentari, vezels, voedingsvezels, blonnik, vlaknina, lif, fiber, fibrer, kostfiber, kuitu, 食物繊維, 纤维, 膳食纤维"
        ),
        "protein_g": _words(
            "단백질, белки, белок, feherje, πρωτεινη, πρωτεινες, protein, proteins, eiweiss, eiweiß, proteine, proteines, proteinas, proteina, eiwit, eiwitten, bialko, bilkoviny, protein, proteiini, たんぱく質, タンパク質, 蛋白质, 蛋白"
        ),
        "fat_g": _words(
            "지방, жиры, жир, zsir, lemak, λιπος, λιπαρα, grasimi, fat, fats, total fat, fett, fette, lipides, graisses, matieres grasses, grasa, grasas, gordura, gorduras, lipidos, grassi, vet, vetten, tluszcz, tluszcze, tuky, yag, fett, fedt, rasva, 脂質, 脂肪"
        ),
        "energy_kcal": _words(
            "열량, 칼로리, калории, энергия, ккал, kaloria, energi, θερμιδες, ενεργεια, calorii, energy, calories, kcal, cal, calorie, energie, kalorien, brennwert, calories kcal, energia, calorias, calorie, kalorie, energie kcal, kalori, enerji, energi, kalorier, energia, エネルギー, カロリー, 热量, 能量, valeur energetique, valor energetico, kj, joule"
        ),
        "alcohol_g": _words(
            "alcohol, alkohol, alcool, alcol, alkol, alkoholi, アルコール, 酒精, ethanol"
        ),
        "caffeine_mg": _words(
            "caffeine, koffein, cafeine, cafeina, caffeina, cafeine mg, kofeina, kofein, kafein, kofeiini, カフェイン, 咖啡因, coffeine"
        ),
        "eaten_first": _words(
            "eaten first, first, what first, zuerst, zuerst gegessen, d abord, mange en premier, primero, primeiro, prima, mangiato per primo, eerst, eerst gegeten, najpierw, nejdriv, once, forst, 最初"
        ),
        "setting": _words(
            "setting, where, place, location, ort, wo, lieu, ou, lugar, donde, local, onde, luogo, dove, plaats, waar, miejsce, gdzie, misto, kde, yer, nerede, plats, var, sted, hvor, paikka, 場所, 地点"
        ),
        "dish": _words(
            "dish, usual dish, recipe, gericht, rezept, recette, receta, receita, ricetta, recept, przepis, tarif"
        ),
        "photo": _words("photo, picture, image, foto, bild, imagen, imagem, immagine, zdjecie, fotka, resim, bilde, 写真"),
        "note": NOTE,
    },
    "activity": {
        "kind": _words(
            "вправа, тренування, النشاط, הפעילות, פעילות, hoạt động, bài tập, 운동, 종류, 운동 종류, 활동, активность, вид, упражнение, тренировка, mozgas, sport, tevekenyseg, olahraga, aktivitas, δραστηριοτητα, ασκηση, activitate, kind, type, activity, sport, exercise, workout, what, aktivitat, sportart, art, bewegung, activite, type d activite, exercice, actividad, ejercicio, deporte, tipo, atividade, exercicio, modalidade, esporte, attivita, "
            "esercizio, activiteit, soort, oefening, aktywnosc, rodzaj, cwiczenie, aktivita, druh, cviceni, aktivite, egzersiz, tur, spor, aktivitet, traning, typ, liikunta, laji, 運動, 種目, 活動, 运动"
        ),
        "effort": _words(
            "강도, интенсивность, нагрузка, intenzitas, intensitas, ενταση, intensitate, effort, intensity, how hard, intensitat, anstrengung, belastung, intensite, effort ressenti, intensidad, esfuerzo, intensidade, esforco, intensita, sforzo, intensiteit, inspanning, intensywnosc, wysilek, intenzita, namaha, yogunluk, siddet, "
            "intensitet, anstrangning, anstrengelse, rasitus, 強度, きつさ, 强度, zone"
        ),
        "note": NOTE,
    },
    "movement": {
        "steps": _STEPS,
        "heart_rate_bpm": _words(
            "심박수, 심박, пульс, чсс, pulzus, szivfrekvencia, detak jantung, σφυγμος, παλμοι, ritm cardiac, heart rate, hr, pulse, bpm, herzfrequenz, puls, "
            "frequence cardiaque, fc, pouls, frecuencia cardiaca, pulso, frequencia cardiaca, frequenza cardiaca, battito, hartslag, tetno, tep, nabiz, hjartfrekvens, "
            "hjertefrekvens, syke, 心拍数, 心率"
        ),
        "mets": _words("met, mets, metabolic equivalent, metabolic equivalents, metabolisches aquivalent, equivalent metabolique, equivalente metabolico, 代謝当量"),
        "source": _words("source, tracker, device, quelle, gerat, appareil, fuente, dispositivo, fonte, bron, apparaat, zrodlo, zdroj, kaynak, cihaz, kalla, enhet, kilde, 機器"),
    },
    "sleep": {
        "source": _words("source, tracker, device, quelle, gerat, appareil, fuente, dispositivo, fonte, bron, apparaat, zrodlo, zdroj, kaynak, cihaz, kalla, enhet, kilde, 機器"),
        "asleep_min": _words(
            "søvn, søvntid, søvnlengde, сон хв, مدة النوم, שינה, giấc ngủ, thời gian ngủ, a dormir, sleep minutes, sleep seconds, sleep hours, sleep min, sleep time, minutes asleep, hours slept, hours of sleep, 수면 시간, 수면, сон, время сна, alvas, alvasido, lama tidur, υπνος, somn, asleep, time asleep, sleep duration, total sleep, total sleep time, asleep min, slept, schlafdauer, geschlafen, schlaf, dauer, duree, duree de sommeil, temps de sommeil, sommeil, dormido total, tiempo dormido, sueno, horas dormidas, duracion del sueno, "
            "tempo de sono, sono, duracao do sono, dormiu, sonno, durata del sonno, durata, duration, slaap, slaapduur, geslapen, sen, czas snu, spanek, delka spanku, uyku, uyku suresi, somn, sovtid, sov, somnlangd, uni, unen kesto, 睡眠時間, 睡眠"
        ),
        "awakenings": _words(
            "wake count, number of awakenings, times woken, 깬 횟수, 각성 횟수, пробуждения, ebredesek, terbangun, αφυπνισεις, treziri, awakenings, times awake, wake ups, awake count, interruptions, wach, aufgewacht anzahl, wachphasen, aufwachen, reveils, nombre de reveils, despertares, veces despierto, despertares nocturnos, vezes acordado, risvegli, keer wakker, wakker geworden, przebudzenia, "
            "wybudzenia, probuzeni pocet, uyanmalar, uyanma sayisi, uppvaknanden, oppvakninger, heraamiset, 中途覚醒, 覚醒回数"
        ),
        "quality": _words(
            "수면의 질, 수면 질, качество, качество сна, minoseg, kualitas, ποιοτητα, calitate, quality, sleep quality, rating, qualitat, schlafqualitat, qualite, qualite du sommeil, calidad, calidad del sueno, qualidade, qualidade do sono, qualita, qualita del sonno, kwaliteit, slaapkwaliteit, jakosc, jakosc snu, kvalita, kvalita spanku, "
            "kalite, uyku kalitesi, kvalitet, somnkvalitet, laatu, unen laatu, 睡眠の質, 質, note sommeil"
        ),
    },
    "days": {
        "stress": _words("стрес, التوتر, מתח, לחץ, căng thẳng, 스트레스, стресс, stressz, stres, στρες, stress, stressed, stresslevel, stress level, stresswert, niveau de stress, estres, estresse, stres, stress niveau, stressi, ストレス, 压力, spanning, belastung"),
        "caffeine_mg": _words("카페인, кофеин, koffein, kafein, καφεινη, cofeina, caffeine, koffein, cafeine, cafeina, caffeina, kofeina, kofein, kafein, kofeiini, カフェイン, 咖啡因"),
        "relaxation_min": _words(
            "명상, 호흡, медитация, расслабление, relaxacio, meditacio, meditasi, χαλαρωση, relaxare, relaxation, meditation, breathing, mindfulness, entspannung, atemubungen, relaxation minutes, detente, respiration, relajacion, meditacion, respiracion, relaxamento, meditacao, respiracao, rilassamento, meditazione, ontspanning, meditatie, "
            "relaks, medytacja, relaxace, meditace, rahatlama, meditasyon, avslappning, avspanning, rentoutuminen, リラックス, 瞑想, 放松"
        ),
        "steps": _STEPS,
        "resting_hr_bpm": _words(
            "пульс спокою, пульс у спокої, نبض الراحة, דופק במנוחה, nhịp tim lúc nghỉ, 안정시 심박수, 안정 심박수, пульс покоя, пульс в покое, nyugalmi pulzus, detak jantung istirahat, παλμοι ηρεμιας, puls in repaus, resting heart rate, resting hr, rhr, resting pulse, ruhepuls, ruheherzfrequenz, frequence cardiaque au repos, frequence cardiaque de repos, pouls de repos, fc repos, pouls au repos, pulso en reposo, frecuencia cardiaca en reposo, fc reposo, pulso em repouso, fc em repouso, "
            "frequencia cardiaca em repouso, battito a riposo, frequenza a riposo, fc a riposo, rusthartslag, rustpols, tetno spoczynkowe, klidovy tep, klidova tepova frekvence, dinlenme nabzi, dinlenik nabiz, vilopuls, hvilepuls, leposyke, 安静時心拍数, 静息心率"
        ),
        "hrv_ms": _words("심박변이도, 심박 변이, вариабельность, вср, pulzusvariabilitas, hrv, heart rate variability, rmssd, herzfrequenzvariabilitat, hfv, vfc, variabilite cardiaque, variabilidad, vfc ms, variabilidade, hartslagvariabiliteit, zmiennosc rytmu, variabilita, 心拍変動"),
        "ill": _words("아픔, 질병, болен, болезнь, beteg, betegseg, sakit, αρρωστος, ασθενεια, bolnav, ill, sick, illness, krank, krankheit, malade, enfermo, enferma, enfermedad, doente, malato, malata, malattia, ziek, chory, chora, choroba, nemocny, nemoc, hasta, hastalik, sjuk, syk, syg, sairas, 病気, 体調不良, 生病"),
    },
    "feelings": {
        "energy": _words("енергія, الطاقة, אנרגיה, năng lượng, 에너지, 활력, 기운, энергия, бодрость, energiaszint, energi, ενεργεια, energie, energy, energy level, energie, energielevel, energia, energi, enerji, vigor, wachheit, 元気, エネルギー, 精力, 活力"),
        "focus": _words("зосередженість, التركيز, ריכוז, tập trung, 집중, 집중력, концентрация, фокус, внимание, figyelem, konsentrasi, συγκεντρωση, concentrare, focus, concentration, konzentration, fokus, concentracion, concentracao, foco, concentrazione, concentratie, koncentracja, skupienie, soustredeni, odak, konsantrasyon, koncentration, keskittyminen, 集中, 集中力"),
        "hunger": _words("голод, الجوع, רעב, đói, 배고픔, 허기, голод, ehseg, lapar, πεινα, foame, hunger, hungry, faim, hambre, fome, fame, honger, glod, hlad, aclik, sult, nalka, 空腹, 空腹感, 饥饿"),
        "stress": _words("стрес, التوتر, מתח, לחץ, căng thẳng, 스트레스, стресс, stressz, stres, στρες, stress, stressed, stresslevel, niveau de stress, estres, estresse, stres, stressi, ストレス, 压力, spanning"),
        "note": NOTE,
    },
    "notes": {
        "kind": _words("what, event, was, ereignis, quoi, evenement, que, suceso, evento, acontecimento, cosa, wat, gebeurtenis, co, zdarzenie, udalost, ne, vad, handelse, hvad, haendelse, hva, hendelse, mita, tapahtuma, что, событие, щось, подія, 何, 出来事, 事件, 사건, kind, type, category, tag, tags, label, topic, art, typ, kategorie, categorie, type de note, tipo, categoria, etiqueta, etichetta, soort, rodzaj, kategoria, druh, stitek, tur, kategori, typ, slag, tyyppi, вид, тип, категория, 種類, 分類, 类型"),
        "note": NOTE,
    },
    "labs": {
        "analyte": _words("показник, аналіз, дослідження, التحليل, בדיקה, xét nghiệm, 검사, 검사 항목, 검사명, анализ, показатель, исследование, vizsgalat, pemeriksaan, εξεταση, analiza, analyte, analyt, test, parameter, marker, biomarker, analysis, analyse, untersuchung, parametre, examen, analyte dose, prueba, analito, parametro, exame, esame, bepaling, badanie, oznaczenie, vysetreni, test adi, tetkik, analys, prov, maaritys, 検査項目, 項目, 检查项目, laborwert, messgrosse, what, name"),
        "value": VALUE,
        "unit": UNIT,
        "fasting": _words("натще, صائم, בצום, nhịn ăn, 공복, натощак, ehgyomri, puasa, νηστικος, pe nemancate, fasting, fasted, nuchtern, a jeun, en ayunas, ayunas, em jejum, jejum, a digiuno, digiuno, nuchter, na czczo, nalacno, aclik, aç, fastande, fastende, paasto, 空腹時, 空腹"),
        "method": _words("method, methode, metodo, metoda, yontem, metod, menetelma, 測定法, technique"),
        "laboratory": _words("laboratory, lab, labor, laboratoire, laboratorio, laboratorium, laborator, laborator, laboratuvar, laboratorio, 検査機関, lab name"),
        "low": _words("low, lower, lower limit, from, min, reference low, untergrenze, unterer, inf, borne basse, limite inferior, limite inferiore, ondergrens, dolna granica, dolni mez, alt sinir, nedre, nedre grans, 下限"),
        "high": _words("high, upper, upper limit, to, max, reference high, obergrenze, oberer, sup, borne haute, limite superior, limite superiore, bovengrens, gorna granica, horni mez, ust sinir, ovre, ovre grans, 上限"),
    },
}  # fmt: skip

MOVEMENTS = _words(
    "біг, ходьба, плавання, велосипед, gåtur, løb, cykling, styrketræning, svømning, løping, styrketrening, uinti, pyöräily, sauvakävely, kuntosali, hiihto, walk, walking, run, running, jog, jogging, hike, hiking, bike, cycling, ride, swim, swimming, gym, workout, training, yoga, pilates, strength, weights, rowing, ski, skiing, climbing, tennis, football, "
    "badminton, dance, dancing, exercise, sport, stretching, spazieren, spaziergang, laufen, joggen, wandern, radfahren, rad, schwimmen, krafttraining, turnen, marche, course a pied, velo, natation, muscu, randonnee, "
    "caminar, caminata, correr, bici, nadar, natacion, gimnasio, entreno, caminhada, corrida, bicicleta, natacao, ginasio, treino, camminata, corsa, bici, nuoto, palestra, allenamento, wandelen, hardlopen, fietsen, zwemmen, "
    "sportschool, spacer, bieganie, rower, silownia, trening, chuze, beh, kolo, plavani, posilovna, cviceni, yuruyus, kosu, bisiklet, yuzme, spor, promenad, lopning, cykling, simning, gatur, lopetur, kavely, juoksu, 散歩, ウォーキング, ランニング, 運動, 跑步, 步行"
)
WALKS = _words(
    "прогулянка, gåtur, sauvakävely, walk, walking, stroll, spazieren, spaziergang, gehen, marche, balade, promenade, caminar, caminata, paseo, andar, caminhada, passeio, camminata, passeggiata, "
    "wandelen, wandeling, spacer, chuze, prochazka, yuruyus, promenad, gatur, gang, kavely, 散歩, ウォーキング, 步行, 散步, 산책, 걷기, прогулка, ходьба, seta, plimbare, mers, περπατημα, jalan kaki"
)
"""Movement that the factor of walks after eating counts, brought under our word."""

RANGE = _words(
    "reference, reference range, range, normal, normal range, normalbereich, referenzbereich, referenz, valeurs de reference, intervalle, norme, normes, rango, rango de referencia, valores de referencia, intervalo de referencia, referencia, intervallo di riferimento, valori di riferimento, riferimento, referentie, referentiewaarden, norma, zakres, zakres referencyjny, referencni meze, meze, referans, referans aralik, referensintervall, referanse, viitearvot, 基準値, 基準範囲, 参考范围"
)
SCALED = {"quality": 10.0, "stress": 10.0, "energy": 10.0, "focus": 10.0, "hunger": 10.0}

CHOICES: dict[str, dict[str, tuple[str, ...]]] = {
    "taken": {
        "automatic": _words("automatic, auto, automatisch, automatique, automatico, automatyczny, otomatik, automatisk, history, stored"),
        "by_hand": _words("by hand, manual, scan, scanned, manuell, manuel, gescannt, a la main, a mano, handmatig, recznie, rucne, elle"),
    },
    "eaten_first": {
        "carbs": _words("carbs, carbohydrates, carb, kohlenhydrate, glucides, carbohidratos, hidratos, carboidratos, carboidrati, koolhydraten, weglowodany, sacharidy, karbonhidrat, kolhydrater, bread, rice, brot, 炭水化物"),
        "protein": _words("protein, proteins, eiweiss, eiweiß, proteines, proteinas, proteina, proteine, eiwit, bialko, bilkoviny, meat, fish, egg, たんぱく質"),
        "fiber": _words("fiber, fibre, vegetables, salad, veg, gemuse, salat, ballaststoffe, legumes, fibres, verdura, verduras, ensalada, fibra, vegetais, salada, legumes, insalata, groente, salade, vezels, warzywa, salatka, zelenina, salat, sebze, salata, gronsaker, sallad, 野菜"),
        "mixed": _words("mixed, all together, together, gemischt, zusammen, melange, ensemble, mezclado, todo junto, misturado, misto, insieme, gemengd, mieszane, razem, smichane, karisik, blandat, 混合"),
    },
    "setting": {
        "home": _words("home, at home, zuhause, zu hause, daheim, a la maison, maison, chez moi, domicile, casa, en casa, em casa, a casa, thuis, w domu, dom, doma, ev, evde, hemma, hjemme, kotona, 自宅, 家"),
        "out": _words("fora de casa, fuera de casa, fuori casa, away from home, out of home, not at home, outside home, hors de la maison, nicht zu hause, ausser haus, out, eating out, restaurant, cafe, canteen, work, auswarts, unterwegs, kantine, lokal, dehors, a l exterieur, exterieur, au restaurant, cantine, fuera, restaurante, fora, ristorante, fuori, buiten de deur, uit, buitenshuis, restauracja, na miescie, poza domem, restaurace, venku, disarida, disari, restoran, lokanta, ute, restaurang, ravintola, 外食"),
    },
    "effort": {
        "light": _words("light, easy, low, gentle, leicht, locker, niedrig, gering, legere, leger, facile, faible, doux, ligero, ligera, suave, bajo, baja, facil, leve, baixo, baixa, leggero, leggera, lieve, basso, bassa, licht, laag, rustig, lekki, lekka, niski, niska, lekce, lehka, lehky, nizka, hafif, dusuk, latt, lag, let, lett, kevyt, 軽い, 軽"),
        "moderate": _words("moderate, medium, middle, mittel, maessig, massig, moderat, modere, moderee, moyen, moyenne, moderado, moderada, medio, media, medio, moderato, moderata, matig, gemiddeld, matige, umiarkowany, umiarkowana, sredni, srednia, stredni, mirna, orta, mattlig, medel, middels, middel, kohtalainen, 中, 中等度, 普通"),
        "vigorous": _words("vigorous, hard, high, intense, strenuous, hart, stark, hoch, intensiv, anstrengend, intense, eleve, elevee, difficile, dur, fort, intenso, intensa, alto, alta, fuerte, duro, vigoroso, forte, pesado, zwaar, hoog, intensief, intensywny, intensywna, wysoki, wysoka, ciezki, vysoka, tezka, intenzivni, yuksek, yogun, agir, hard, hog, anstrangande, hoj, hoy, raskas, 激しい, 高, 強い, きつい"),
    },
    "source": {
        "fingerstick": _words("sormenpää, sormenpäämittaus, sormenpäästä, sormesta, fingerprik, fingerstikk, stick i fingret, з пальця, палець, من الإصبع, אצבע, đầu ngón tay, 손가락, 손끝, 자가 측정, 채혈, палец, из пальца, ujjbegy, ujj, jari, ujung jari, δαχτυλο, δακτυλο, deget, din deget, fingerstick, finger, finger stick, finger prick, fingerprick, capillary, capillaire, fingerbeere, fingerkuppe, kapillar, doigt, dedo, capilar, polpastrello, dito, capillare, vinger, vingerprik, capillair, palec, z palca, kapilarna, prst, z prstu, kapilarni, parmak, parmak ucu, kilcal, fingertopp, fingerstick, 指, 指先, meter"),
        "venous": _words("venous, vein, lab, laboratory, venos, vene, labor, veineux, veine, laboratoire, venosa, venoso, vena, laboratorio, veneus, ader, laboratorium, zylna, zyla, zilni, zila, venoz, damar, ven, 静脈"),
    },
    "kind": {
        "pressure": _words("slept on, dormi sur, couche sur, auf dem arm geschlafen, darauf geschlafen, dormido sobre, dormi em cima, dormito sopra, geslapen op, spany na, sov pa, nukuin, pressure, compression, lying on it, lay on it, lying on sensor, slept on sensor, druck, auf dem sensor gelegen, compression du capteur, presion, pressione, druk, ucisk, tlak"),
        "heat": _words("heat, sauna, hot bath, hot tub, steam room, hitze, heisses bad, chaleur, calor, caldo, hitte, goraco, teplo, sicaklik, bastu, kylpy, 暑さ, サウナ, 温泉"),
        "knock": _words("knock, knocked, bump, bumped, hit, stoss, gestossen, choc, coup, golpe, colpo, urto, stoot, uderzenie, uder, darbe, stot, kolhu"),
        "swim": _words("swim, swimming, pool, schwimmen, schwimmbad, natation, piscine, natacion, piscina, nuoto, zwemmen, zwembad, plywanie, basen, plavani, bazen, yuzme, simning, svomning, uinti, 水泳"),
        "travel": _words("travel, trip, flight, jet lag, reise, flug, voyage, vol, viaje, vuelo, viagem, voo, viaggio, volo, reis, vlucht, podroz, lot, cesta, let, seyahat, ucus, resa, rejse, matka, 旅行"),
        "medicine": _words("medicine, medication, drug, tablet, tablets, pill, pills, antibiotic, antibiotics, painkiller, cortisone, steroid, medikament, medikamente, tablette, arznei, medicament, comprime, medicamento, pastilla, remedio, comprimido, medicina, farmaco, compressa, medicijn, tabletten, lek, leki, tabletka, ilac, medicin, laakitys, laake, лекарство, таблетки, 薬"),
        "illness": _words("illness, ill, sick, fever, flu, cold, infection, migraine, krank, krankheit, fieber, grippe, erkaltung, malade, maladie, fievre, rhume, enfermo, enfermedad, fiebre, gripe, doente, febre, malato, malattia, febbre, influenza, ziek, ziekte, koorts, griep, chory, choroba, goraczka, nemoc, horecka, hasta, hastalik, ates, sjuk, feber, syg, kipea, sairas, kuume, болезнь, болен, температура, 病気, 発熱"),
        "other": _words("other, others, misc, miscellaneous, note, sonstiges, andere, anderes, autre, divers, otro, otros, outro, outros, altro, anders, overig, inne, inny, jine, diger, annat, andet, annet, muu, другое, прочее, その他"),
    },
}  # fmt: skip

TRUTH = {
    "true": _words("예, 네, да, igen, ya, ναι, da, true, yes, y, x, ja, oui, si, sim, tak, ano, evet, kylla, はい, 有, 是, wahr, vrai, verdadero, verdadeiro, vero, waar, prawda, dogru, sant, 1, j, o, s, t, ✓, ✔, あり, 有り"),
    "false": _words("아니오, 아니요, нет, nem, tidak, οχι, nu, false, no, n, nein, non, nao, nie, ne, hayir, ei, nej, nei, nee, いいえ, 無, 否, falsch, faux, falso, onwaar, falsz, yanlis, falskt, 0, f, なし, 無し"),
}  # fmt: skip

TOTALS = _words(
    "합계, 평균, 총계, итого, всего, среднее, osszesen, atlag, jumlah, rata rata, συνολο, μεσος ορος, medie, total, totals, sum, summe, gesamt, average, mean, mittelwert, durchschnitt, somme, moyenne, suma, promedio, media, soma, totale, somma, totaal, "
    "gemiddelde, razem, srednia, lacznie, celkem, prumer, soucet, toplam, ortalama, summa, medel, medelvarde, gjennomsnitt, yhteensa, keskiarvo, 合計, 平均, 总计, count, anzahl, nombre, end of report, end of file, ende"
)

EVENING = _words(
    "sera del, noche del, noite de, evening, night of, abend, nacht vom, soir, nuit du, noche, noite, sera, notte, avond, wieczor, vecer, aksam, gece, kvall, aften, kveld, ilta, 夜, 晩"
)
MORNING = _words(
    "morning, wake date, woke on, morgen, matin, manana, manha, mattina, ochtend, rano, poranek, sabah, morgon, aamu, 朝, 起床日"
)

LIMITS = {
    "LO": _words("낮음, низкий, низко, alacsony, rendah, χαμηλο, scazut, lo, low, niedrig, tief, unter, bas, bajo, baixo, basso, laag, niski, nizky, dusuk, lagt, lavt, 低, 低値, too low"),
    "HI": _words("높음, высокий, высоко, magas, tinggi, υψηλο, crescut, hi, high, hoch, uber, haut, haute, alto, alta, hoog, wysoki, vysoky, yuksek, hogt, hoyt, 高, 高値, too high"),
}  # fmt: skip

KINDS_OF_ROW: dict[str, tuple[str, ...]] = {
    "glucose": _GLUCOSE,
    "meals": _words("식사, 음식, еда, прием пищи, etkezes, makanan, γευμα, masa, meal, food, essen, mahlzeit, repas, comida, refeicao, pasto, maaltijd, posilek, jidlo, yemek, ogun, maltid, ateria, 食事, carbs, kohlenhydrate"),
    "activity": _words("운동, 활동, активность, тренировка, mozgas, olahraga, ασκηση, activitate, activity, exercise, sport, workout, bewegung, aktivitat, activite, ejercicio, actividad, exercicio, atividade, attivita, esercizio, activiteit, aktywnosc, aktivita, egzersiz, aktivitet, traning, 運動, walk"),
    "sleep": _words("수면, сон, alvas, tidur, υπνος, somn, sleep, schlaf, sommeil, sueno, sono, sonno, slaap, sen, spanek, uyku, somn, sovn, uni, 睡眠"),
    "checks": _words("sormenpää, sormenpäämittaus, sormenpäästä, sormesta, fingerprik, fingerstikk, stick i fingret, з пальця, палець, من الإصبع, אצבע, đầu ngón tay, strip, test strip, teststreifen, streifen, bandelette, bandelettes, tira, tiras, striscia, strisce, teststrip, pasek, prouzek, test seridi, teststicka, teststrimmel, liuska, тест полоска, meter reading, bg meter, blood meter, 손가락, 손끝, 자가 측정, 채혈, палец, из пальца, ujjbegy, ujj, jari, ujung jari, δαχτυλο, δακτυλο, deget, din deget, fingerstick, finger stick, finger, finger prick, fingerprick, check, capillary, meter, fingerstich, blutig, capillaire, dedo, capilar, vingerprik, palec, prst, parmak, 指先"),
    "feelings": _words("feeling, feelings, mood, energy, befinden, humeur, animo, humor, umore, stemming, nastroj, nalada, ruh hali, humor, mieliala, 気分"),
    "other": _words("note, target, target glucose, goal, zielwert, objetivo, objectif, alarm, alert, insulin, alarm, event, notiz, comment, calibration, kalibrierung, device, steps, weight, heart rate, pulse, puls, medication, medicine, remarque, nota, opmerking, uwaga, poznamka, not, anteckning, water"),
}  # fmt: skip

ALL_COLUMN_WORDS = tuple(
    sorted(
        {w for words in (DATE, CLOCK, MOMENT, START, END, TO_BED, WOKE, LENGTH, UNIT, VALUE) for w in words}
        | {w for columns in COLUMNS.values() for words in columns.values() for w in words}
    )
)
"""All words that name a column of any table."""

"""Plain trade words over columns, in English, German, French, Spanish, Italian, Dutch, Nordic languages and Portuguese.

A word list of our own from general language; no heading of a product. Words are compared without accents and case.
"strong": the word means just this; "weak": it can mean something else too, so that the values have to agree.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache

_STRONG: dict[str, str] = {
    "joint": "joint, joint id, flange, flange no, connection, verbindung, verbindungsnummer, flansch, assemblage, bride, "
             "union, brida, giunto, giunzione, flangia, verbinding, flens, forbindelse, samling, forband, flans, ligacao, "
             "connessione, conexion, conexao, raccord, liaison",
    "fastener": "fastener, bolt, bolt no, bolt number, nut, stud, screw, schraube, schraubennummer, schrauben nr, mutter, "
                "bolzen, boulon, ecrou, goujon, vis, tornillo, perno, tuerca, esparrago, bullone, vite, dado, tirante, "
                "bout, moer, skrue, skruv, bult, parafuso, porca, estojo, boulon n, bolt nr",
    "pass": "pass, pass no, pass number, stage, round, durchgang, anziehdurchgang, stufe, anziehstufe, runde, passe, "
            "etape, pasada, etapa, passata, ronde, gang, omgang, steg, trin, trinn, passagem, passe n, fase",
    "event": "event, kind of event, kind, ereignis, vorgang, art des vorgangs, evenement, operation, evento, operacion, "
             "operazione, gebeurtenis, handling, hendelse, handelse, haendelse, operacao",
    "tool": "tool, wrench, tool serial, wrench serial, werkzeug, drehmomentschlussel, schlussel, schraubwerkzeug, outil, "
            "cle, cle dynamometrique, llave, herramienta, llave dinamometrica, utensile, chiave, chiave dinamometrica, "
            "gereedschap, momentsleutel, sleutel, verktoy, momentnokkel, verktyg, momentnyckel, vaerktoj, momentnogle, "
            "ferramenta, chave, torquimetro, torque wrench, wrench no, tool no",
    "counter": "counter, reading, reading no, reading number, record no, record number, running number, zahler, "
               "zahlerstand, laufende nummer, lfd nr, messung nr, compteur, numero de mesure, contador, numero de lectura, "
               "contatore, numero lettura, teller, volgnummer, teller nr, lopenummer, lopnummer, lobenummer, tellerstand, "
               "numero de leitura, count, raknare, taeller",
    "epoch": "memory, memory no, speicher, memoire, memoria, geheugen, minne, hukommelse",
    "operator": "operator, fitter, technician, done by, worked by, monteur, bediener, schlosser, werker, ausgefuhrt von, "
                "operateur, technicien, execute par, operario, operador, tecnico, realizado por, operatore, addetto, "
                "eseguito da, monteur naam, uitgevoerd door, operator navn, montor, operatorr, utfort av, utford av, "
                "udfort af, executado por, initials, kurzel",
    "result": "result, verdict, evaluation, ergebnis, bewertung, resultat, resultado, risultato, esito, resultaat, "
              "beoordeling, resultat i o, beurteilung, outcome",
    "direction": "direction, drehrichtung, sens de rotation, sentido de giro, senso di rotazione, draairichting, "
                 "dreieretning, rotationsriktning, omdrejningsretning, direccion, direzione, direcao, sens",
    "end_cause": "end cause, stopped, ended, end reason, abschaltgrund, endegrund, motif d arret, motivo de parada, "
                 "causa di arresto, stopreden, stopparsak, stoparsag, motivo de fim",
    "torque": "torque, drehmoment, anziehdrehmoment, anzugsmoment, moment, couple, couple de serrage, par, "
              "par de apriete, coppia, coppia di serraggio, koppel, aanhaalmoment, aandraaimoment, tiltrekkingsmoment, "
              "vridmoment, atdragningsmoment, tilspaendingsmoment, binario, torque de aperto, momento",
    "angle": "angle, winkel, drehwinkel, angle de rotation, angulo, angulo de giro, angolo, angolo di rotazione, hoek, "
             "draaihoek, vinkel, dreievinkel, vridvinkel, drejningsvinkel, turned angle",
    "unit_word": "unit, units, einheit, unite, unidad, unidades, unita, unita di misura, eenheid, enhet, enhed, unidade",
    "date": "date, datum, fecha, data, dato, day, jour, giorno, dag, dia",
    "time": "time, time of day, zeit, uhrzeit, heure, hora, ora, tijd, tijdstip, tid, klokkeslett, klockslag, "
            "klokkeslaet, clock",
    "moment_word": "timestamp, time stamp, zeitstempel, zeitpunkt, date time, date and time, datum uhrzeit, datum zeit, "
                   "horodatage, date et heure, date heure, fecha y hora, fecha hora, data e ora, data ora, datum tijd, "
                   "datum en tijd, dato og tid, dato tid, tidsstempel, tidsstampel, datum och tid, datum tid, data hora, "
                   "data e hora, when, stamp",
}  # fmt: skip
_WEAK: dict[str, str] = {
    "joint": "tag, id, name, bezeichnung, where, lage, place, junta, location, equipment, ring, juntas, connection no, "
             "anschluss, ligning, skjot",
    "fastener": "position, pos, number, nr, no, num, place, platz, posicion, posizione, positie, posisjon, posicao, "
                "numero, nummer",
    "pass": "step, schritt, paso, passo, stap, level, pasos, place in procedure",
    "event": "type, typ, art, tipo, soort, work, action, action type",
    "tool": "serial, serial no, serial number, seriennummer, serien nr, numero de serie, n de serie, matricola, "
            "serienummer, device, gerat, appareil, equipo, dispositivo, apparaat, sn",
    "counter": "no, nr, number, line, line no, id, row, zeile, ligne, linea, regel, linje, rad, linha, n, num, numero, "
               "nummer, record, lectura, stroke, lettura, mesure, messung, meting",
    "epoch": "sheet, blatt, feuille, block",
    "operator": "by, name, crew, person, who, von, par qui, nombre, nom, nome, naam, navn, namn, signature, initialen, "
                "worker",
    "result": "status, ok nok, ok, assessment, state, statut, estado, stato, pass fail, in ordnung, judgement, conforme, "
              "what the panel says",
    "direction": "hand, sense, turned, thread turned, drehsinn",
    "end_cause": "end, stop, ende, fin, fine, einde",
    "torque": "actual, istwert, value, wert, valeur, valor, valore, waarde, verdi, varde, vaerdi, final, ist",
    "angle": "turn, rotation, drehung, turn deg, rotacion, rotazione, rotatie, rotasjon, rotacao, degrees, grad",
    "date": "tag, fetch, when",
    "time": "uhr, hour",
    "moment_word": "date, time, datum, zeit, fecha, data, dato, start, end time, started",
}  # fmt: skip
# Words beside a torque or an angle that make it something else than what was reached.
MODIFIERS: dict[str, str] = {
    "target": "target, set, setpoint, nominal, required, spec, specified, soll, sollwert, vorgabe, consigne, cible, "
              "vise, prescrit, objetivo, consigna, requerido, nominale, richiesto, obiettivo, doel, gewenst, streef, "
              "instel, borverdi, borvarde, mal, onsket, alvo, requerido, aim",
    "lower": "min, minimum, lower, low, untere, unterer, mindest, inferieur, inferior, inferiore, ondergrens, nedre, "
             "minimo, untergrenze, lo",
    "upper": "max, maximum, upper, high, obere, oberer, hochst, superieur, superior, superiore, bovengrens, ovre, "
             "massimo, maximo, obergrenze, hi",
    "drag": "drag, prevailing, run down, rundown, running, losbrech, mitlauf, klemm, frein, freinage, rodaje, "
            "trascinamento",
    "threshold": "threshold, snug, start, schwelle, seuil, umbral, soglia, drempel, terskel, troskel, joining, fuge",
    "peak": "peak, spitze, pointe, pico, picco, piek, topp, spids",
    "total": "total, whole, gesamt, totale, totaal",
    "tolerance": "tolerance, tol, toleranz, deviation, abweichung, ecart, desviacion, scarto, afwijking, avvik, desvio, "
                 "percent, prozent, error, uncertainty, mean, average, setting, count, anzahl, number",
}  # fmt: skip
# Particulars that a word names without doubt; quantities need a unit besides.
PARTICULARS: dict[str, str] = {
    "bolt_lot": "bolt lot, bolt batch, lot, batch, charge, schraubencharge, lot boulon, lote, lotto, partij, parti",
    "nut_lot": "nut lot, nut batch, mutterncharge",
    "heat": "heat no, heat number, schmelze, coulee, colada, colata",
    "work_order": "work order, job, job no, auftrag, auftragsnummer, ordre de travail, orden de trabajo, ordine di lavoro, "
                  "werkorder, arbeidsordre, arbetsorder, arbejdsordre, ordem de servico",
    "permit": "permit, permit no, freigabeschein, permis, permiso de trabajo, permesso di lavoro, werkvergunning",
    "specification": "specification, procedure, spezifikation, anweisung, specification no, especificacion, specifica",
    "lubricant": "lubricant, grease, schmierstoff, schmiermittel, lubrifiant, lubricante, lubrificante, smeermiddel, "
                 "smoremiddel, smorjmedel, smoring",
    "gasket": "gasket, dichtung, guarnizione, pakking, pakning, packning",
    "certificate": "certificate, certificate no, calibration certificate, kalibrierschein, certificat, certificado, "
                   "certificato, certificaat, kalibreringsbevis",
    "checker": "checked by, checker, gepruft von, prufer, controle par, verificado por, controllato da, gecontroleerd door, "
               "kontrollert av, kontrollerad av, kontrolleret af",
    "temperature": "temperature, temperatur, temperatura, temperatuur",
    "setting": "setting, tool setting, einstellung, einstellwert, reglage, ajuste, regolazione, instelling, innstilling",
}  # fmt: skip
_LATIN = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d"})
_LEAST_STEM = 7  # letters of a word that may stand inside a compound


def fold(text: str) -> str:
    """A text without case, accents and signs, words parted by one blank; "wrenchSerial" and "wrench_serial" are two."""
    parted = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])", " ", text)
    plain = unicodedata.normalize("NFKD", parted.casefold().translate(_LATIN))
    kept = "".join(c if c.isalnum() else " " for c in plain if not unicodedata.combining(c))
    return " ".join(kept.split())


@cache
def _table(name: str) -> dict[str, frozenset[str]]:
    source = {"strong": _STRONG, "weak": _WEAK, "modifier": MODIFIERS, "particular": PARTICULARS}[name]
    return {role: frozenset(fold(word) for word in words.split(",")) for role, words in source.items()}


ROLES = tuple(_STRONG)


def evidence(role: str, heading: str) -> int:
    """How much a heading (folded, without unit) speaks for a role: 3 it is the word, 2 it holds it, 1 a weak word, 0."""
    strong, weak = _table("strong")[role], _table("weak").get(role, frozenset())
    if heading in strong:
        return 3
    if _holds(heading, strong):
        return 2
    if heading in weak or _holds(heading, weak, inside=False):
        return 1
    return 0


def modifiers(heading: str) -> frozenset[str]:
    """What the words beside a torque or an angle make of it."""
    tokens = heading.split()
    found = set()
    for name, words in _table("modifier").items():
        if _holds(heading, words, inside=False) or any(
            token.startswith(word) for token in tokens for word in words if len(word) >= 4
        ):
            found.add(name)
    return frozenset(found)


def particular(heading: str) -> str:
    """The further field that a heading names, "" when it names none or several."""
    found = [name for name, words in _table("particular").items() if heading in words]
    if not found:
        found = [name for name, words in _table("particular").items()
                 if _holds(heading, frozenset(w for w in words if len(w) >= 6), inside=False)]
    return found[0] if len(found) == 1 else ""


def _holds(heading: str, words: frozenset[str], *, inside: bool = True) -> bool:
    padded = f" {heading} "
    if any(f" {word} " in padded for word in words):
        return True
    return inside and any(len(word) >= _LEAST_STEM and word in heading for word in words)

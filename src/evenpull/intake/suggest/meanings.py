"""Words in cells: results, directions and kinds of event that are plain in some language. What is not here is asked."""

from __future__ import annotations

from functools import cache

from evenpull.intake.suggest.words import fold

_WORDS: dict[str, dict[str, str]] = {
    "result": {
        "accepted": "ok, io, i o, in ordnung, pass, passed, accepted, good, gut, conforme, bon, accepte, aceptado, correcto, "
                    "bueno, accettato, buono, goed, akkoord, goedgekeurd, godkjent, godkand, godkendt, aprovado, aceito, "
                    "within limits, erfullt",
        "not_accepted": "nok, nio, n i o, n ok, not ok, nicht in ordnung, nicht ok, fail, failed, rejected, not accepted, "
                        "bad, schlecht, non conforme, no conforme, nao conforme, mauvais, refuse, rechazado, incorrecto, "
                        "rifiutato, scarto, fout, niet goed, niet akkoord, afgekeurd, ikke godkjent, ikke godkendt, "
                        "ej godkand, underkand, afvist, reprovado, rejeitado, ng",
    },
    "direction": {
        "tighten": "tighten, tightening, tight, anziehen, festziehen, serrage, serrer, apretar, apriete, serraggio, serrare, "
                   "vastdraaien, aandraaien, tiltrekking, tilstramming, atdragning, tilspaending, apertar, aperto",
        "loosen": "loosen, loosening, loose, losen, desserrage, desserrer, aflojar, allentare, allentamento, losdraaien, "
                  "losne, losning, lossa, lossning, afrouxar, desaperto",
    },
    "event": {
        "first": "first, first tightening, erstanzug, premier serrage, primer apriete, primo serraggio",
        "step": "step, tightening, anziehen, anzug, serrage, apriete, serraggio, aandraaien, tiltrekking, atdragning, "
                "tilspaending, aperto",
        "check_pass": "check, check pass, kontrolle, kontrolldurchgang, prufdurchgang, controle, control, verifica, "
                      "controllo, kontroll, verificacion, verificacao",
        "touch_up": "touch up, nachziehen",
        "re_tighten": "retighten, re tighten, retightening, resserrage, reapriete, riserraggio, natrekken, ettertrekking, "
                      "efterdragning, efterspaending, reaperto",
        "loosen": "loosen, loosened, losen, gelost, desserrage, desserre, aflojado, aflojar, allentato, allentamento, "
                  "losgedraaid, losnet, lossad, losnet, afrouxado",
        "remove": "remove, removed, ausgebaut, entfernt, demonte, desmontado, smontato, verwijderd, fjernet, borttagen, "
                  "removido",
        "replace": "replaced, replace, ersetzt, remplace, sustituido, sostituito, vervangen, byttet, utbytt, udskiftet, "
                   "substituido",
    },
}  # fmt: skip
OPTIONS: dict[str, tuple[str, ...]] = {kind: tuple(words) for kind, words in _WORDS.items()} | {
    "end_cause": ("reached", "stopped by user", "limit", "error"),
}
# One meaning in two kinds of event is no meaning: a word in both lists is asked.


@cache
def _lookup(kind: str) -> dict[str, str]:
    table: dict[str, str] = {}
    for ours, words in _WORDS.get(kind, {}).items():
        for word in words.split(","):
            folded = fold(word)
            table[folded] = ours if table.get(folded, ours) == ours else ""
    return table


def meaning(kind: str, text: str) -> str:
    """Our word for a cell of a column of that kind, "" where the word is not plain."""
    return _lookup(kind).get(fold(text), "")

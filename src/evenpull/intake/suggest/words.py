"""Plain trade words over columns and in cells (words.toml), compared without accents and case."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from functools import cache
from importlib.resources import files

_LATIN = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d"})
_LEAST_STEM = 7  # letters of a word that may stand inside a compound
_LEAST_BEGINNING = 4  # letters of a modifier that may begin one
CELL_KINDS = ("result", "direction", "event", "end_cause")


def fold(text: str) -> str:
    """A text without case, accents and signs, words parted by one blank; "wrenchSerial" and "wrench_serial" are two."""
    parted = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])", " ", text)
    plain = unicodedata.normalize("NFKD", parted.casefold().translate(_LATIN))
    kept = "".join(c if c.isalnum() else " " for c in plain if not unicodedata.combining(c))
    return " ".join(kept.split())


@cache
def _tables() -> dict[str, dict[str, frozenset[str]]]:
    data = tomllib.loads((files(__package__) / "words.toml").read_text(encoding="utf-8"))
    cells = {f"cell.{kind}": table for kind, table in data.pop("cell").items()}
    return {
        name: {role: frozenset(map(fold, words)) for role, words in table.items()}
        for name, table in (data | cells).items()
    }


def evidence(role: str, heading: str) -> int:
    """What a folded heading without its unit says for a role: 3 it is the word, 2 it holds it, 1 weak, 0 nothing."""
    strong, weak = _tables()["strong"][role], _tables()["weak"].get(role, frozenset())
    if heading in strong:
        return 3
    if _holds(heading, strong):
        return 2
    return 1 if _holds(heading, weak, inside=False) else 0


def modifiers(heading: str) -> frozenset[str]:
    """What the words beside a torque or an angle make of it."""
    tokens = heading.split()
    return frozenset(
        name for name, words in _tables()["modifier"].items()
        if _holds(heading, words, inside=False)
        or any(token.startswith(word) for token in tokens for word in words if len(word) >= _LEAST_BEGINNING)
    )


def particular(heading: str) -> str:
    """The further field of a record that a folded heading names, "" when it names none or several."""
    table = _tables()["particular"]
    found = [name for name, words in table.items() if heading in words]
    if not found:
        phrases = {name: frozenset(word for word in words if " " in word) for name, words in table.items()}
        found = [name for name, words in phrases.items() if _holds(heading, words, inside=False)]
    return found[0] if len(found) == 1 else ""


def _holds(heading: str, words: frozenset[str], *, inside: bool = True) -> bool:
    padded = f" {heading} "
    if any(f" {word} " in padded for word in words):
        return True
    return inside and any(len(word) >= _LEAST_STEM and word in heading for word in words)


@cache
def _meanings(kind: str) -> dict[str, str]:
    table: dict[str, str] = {}
    for ours, words in _tables().get(f"cell.{kind}", {}).items():
        for word in words:
            table[word] = ours if table.get(word, ours) == ours else ""
    return table


def meaning(kind: str, text: str) -> str:
    """Key of [meaning.KIND] for the text of a cell, "" where the word is not plain or has two meanings."""
    return _meanings(kind).get(fold(text), "")

"""Symbols and formulas of the trade set as they are written by hand: index below, power above, Greek letters."""

from __future__ import annotations

import re

from evenpull.report.glyphs import safe

_GREEK = {
    "mu": "μ", "nu": "ν", "alpha": "α", "pi": "π", "sqrt": "√", "delta": "δ", "sigma": "σ", "tau": "τ", "phi": "φ",
    "beta": "β", "gamma": "γ", "eta": "η", "theta": "θ", "lambda": "λ", "Phi": "Φ", "Gamma": "Γ", "Delta": "Δ",
    "dF": "ΔF", "dT": "ΔT",
}
_ALONE = "|".join(sorted(_GREEK, key=len, reverse=True))
_TOKEN = re.compile(rf"([A-Za-z]+)_([A-Za-z0-9]+(?:_[A-Za-z0-9]+)*)|\^([−-]?\d+(?:\.\d+)?)|\b({_ALONE})\b| - ")


def maths(text: str) -> list[list[str]]:
    """Pieces for the template: ["text", t], ["index", base, below] and ["power", n]."""
    pieces: list[list[str]] = []
    at = 0
    for found in _TOKEN.finditer(text):
        if found.start() > at:
            pieces.append(["text", safe(text[at : found.start()])])
        base, below, power, word = found.groups()
        if base:
            pieces.append(["index", _GREEK.get(base, base), below.replace("_", ", ")])
        elif power:
            pieces.append(["power", power])
        else:
            pieces.append(["text", _GREEK[word] if word else " − "])
        at = found.end()
    if at < len(text):
        pieces.append(["text", safe(text[at:])])
    return pieces

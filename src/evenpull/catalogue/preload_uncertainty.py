"""Uncertainty of preload by method of tightening as two published lists give it, which disagree."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from evenpull.catalogue.tables import NotInCatalogue, table

List = Literal["nasa", "machinery"]
LISTS: tuple[List, ...] = ("nasa", "machinery")


@dataclass(frozen=True, slots=True)
class PreloadUncertainty:
    """+- share of the preload, `low` to `high` where the list gives a range."""

    method: str
    low: float
    high: float
    source: str
    status: str
    words: tuple[frozenset[str], ...]


@lru_cache(maxsize=2)
def preload_uncertainties(source: List) -> tuple[PreloadUncertainty, ...]:
    """All rows of one list, in its order."""
    data = table("preload_uncertainty")[source]
    return tuple(
        PreloadUncertainty(
            row["method"], row["low"] / 100, row["high"] / 100, data["source"], row["status"],
            tuple(frozenset(words) for words in row["words"]),
        )
        for row in data["rows"]
    )


def preload_uncertainty(method: str, source: List = "nasa") -> PreloadUncertainty:
    """The row of the method, by its name or the words that make it: "torque measurement of lubricated bolts".

    Raises NotInCatalogue, which names the methods of the list, for an unknown method and for words that fit two rows.
    """
    rows = preload_uncertainties(source)
    said = set(re.findall(r"[a-z]+", method.casefold()))
    exact = [row for row in rows if row.method == method.strip().casefold()]
    # the row whose group of words is most specific: "yield-point sensing" before "yield"
    fits = [(len(words), row) for row in rows for words in row.words if words <= said]
    best = max((size for size, _ in fits), default=0)
    found = exact or list({row.method: row for size, row in fits if size == best}.values())
    if len(found) != 1:
        raise NotInCatalogue("method of tightening", method, tuple(row.method for row in rows), rows[0].source)
    return found[0]

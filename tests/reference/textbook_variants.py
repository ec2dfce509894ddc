"""Textbook rows that set two bolts side by side, a coarse and a fine one: the row of the one that is asked for."""

from __future__ import annotations

import re

from tests.reference.given import Given

_SERIES = {"coarse": "UNC", "fine": "UNF"}


def one_of_two(given: Given) -> None:
    """Keeps of "C_coarse", "At_fine_in2" what belongs to the thread that the quantity names, without that word.

    A quantity that names neither keeps what both bolts share, as their strengths.
    """
    key_of = re.compile(rf"(.+?)_({'|'.join(_SERIES)})(_.+)?")
    pairs = {key: match for key in given.inputs if (match := key_of.fullmatch(str(key)))}
    if not pairs:
        return
    if {match[2] for match in pairs.values()} != set(_SERIES):
        raise given.error("a coarse and a fine bolt have to be stated side by side")
    said = [name for name, series in _SERIES.items() if given.says(name, series.casefold())]
    if len(said) > 1:
        raise given.error("the quantity names both bolts")
    chosen = {key: value for key, value in given.inputs.items() if key not in pairs}
    for key, match in pairs.items():
        name = match[1] + (match[3] or "")
        if said and match[2] == said[0]:
            if name in given.inputs:
                raise given.error(f"{name!r} and {key!r} are both stated")
            chosen[name] = given.inputs[key]
    given.inputs = chosen

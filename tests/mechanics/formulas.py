"""Reading the formula that stands beside a number and computing it again from the stated inputs."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

_TOKEN = re.compile(r"\s*(\d+(?:\.\d+)?|[A-Za-z_][A-Za-z_0-9]*|[-+*/^(),])")
_FUNCTIONS = {"sqrt": math.sqrt, "ln": math.log, "cos": math.cos, "tan": math.tan, "max": max, "min": min}


def _word(token: str) -> bool:
    return bool(token) and (token[0].isalnum() or token[0] == "_")


def recompute(formula: str, inputs: Mapping[str, float]) -> float:
    """Value of the right-hand side of "x = a b / (c + 0.5 d^2)"; two things side by side are multiplied."""
    right = formula.split("=", 1)[1].replace("[", "(").replace("]", ")").strip()
    tokens, place = [], 0
    while place < len(right):
        match = _TOKEN.match(right, place)
        assert match is not None, f"{formula!r} cannot be read at {right[place:]!r}"
        tokens.append(match[1])
        place = match.end()
    text, before = "", ""
    for token in tokens:
        if (_word(token) or token == "(") and (_word(before) or before == ")") and before not in _FUNCTIONS:
            text += "*"
        text += "**" if token == "^" else token
        before = token
    # The text is the library's own formula, tokens checked above; names come from `inputs` alone.
    return float(eval(text, {"__builtins__": {}}, {**_FUNCTIONS, "pi": math.pi, **inputs}))

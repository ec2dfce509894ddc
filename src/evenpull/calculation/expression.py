"""The formula beside a number, read as it is written: computed again, and printed with its numbers put in.

    "F_Z = f_Z / (delta_S + delta_P)"

Two things side by side are multiplied, ^ is power, [ ] are brackets like ( ).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

_TOKEN = re.compile(r"\s*(\d+(?:\.\d+)?(?:[eE][-+]?\d+)?|[A-Za-z_][A-Za-z_0-9]*|<=|>=|[-+*/^(),<>])")
FUNCTIONS: Mapping[str, Callable[..., float]] = {
    "sqrt": math.sqrt, "sin": math.sin, "cos": math.cos, "tan": math.tan, "atan": math.atan, "asin": math.asin,
    "acos": math.acos, "exp": math.exp, "ln": math.log, "log": math.log, "log10": math.log10, "abs": abs,
    "min": min, "max": max,
}
CONSTANTS: Mapping[str, float] = {"pi": math.pi}


class ExpressionError(ValueError):
    """A formula that cannot be read or computed; the message names the formula and the place."""


@dataclass(frozen=True, slots=True)
class Token:
    """`kind`: number, symbol, function, sign (operators, brackets, comma)."""

    kind: str
    text: str


@lru_cache(maxsize=2048)
def tokens(formula: str) -> tuple[Token, ...]:
    """The tokens of the right-hand side, products written out as "*". ExpressionError when there is none."""
    _, equals, right = formula.partition("=")
    if not equals or not right.strip():
        raise ExpressionError(f"{formula!r} has no right-hand side")
    right = right.replace("[", "(").replace("]", ")").strip()
    found: list[Token] = []
    at = 0
    while at < len(right):
        match = _TOKEN.match(right, at)
        if match is None:
            raise ExpressionError(f"{formula!r} cannot be read at {right[at:]!r}")
        text, at = match[1], match.end()
        if text[0].isdigit():
            kind = "number"
        elif text[0].isalpha() or text[0] == "_":
            kind = "function" if text in FUNCTIONS and right[at:].lstrip().startswith("(") else "symbol"
        else:
            kind = "sign"
        starts = kind != "sign" or text == "("
        ended = bool(found) and (found[-1].kind in ("number", "symbol") or found[-1].text == ")")
        if starts and ended:
            found.append(Token("sign", "*"))
        found.append(Token(kind, text))
    return tuple(found)


def computable(formula: str) -> bool:
    """Whether the text is a formula at all; designations and "stated" are not."""
    if "=" not in formula:
        return False
    try:
        tokens(formula)
    except ExpressionError:
        return False
    return True


def symbols(formula: str) -> tuple[str, ...]:
    """Symbols of the right-hand side in order, each once, constants left out."""
    return tuple(dict.fromkeys(t.text for t in tokens(formula) if t.kind == "symbol" and t.text not in CONSTANTS))


def recompute(formula: str, inputs: Mapping[str, float]) -> float:
    """Value of the right-hand side with these numbers. ExpressionError for a symbol without a number, for what
    cannot be computed (division by zero, root of a negative number) and for a formula that cannot be read.
    """
    reader = _Reader(formula, tokens(formula), {**CONSTANTS, **inputs})
    try:
        value = reader.whole()
    except (ZeroDivisionError, OverflowError, ValueError) as error:
        if isinstance(error, ExpressionError):
            raise
        raise ExpressionError(f"{formula!r} cannot be computed with these numbers: {error}") from error
    return float(value)


class _Reader:
    """Recursive descent over sum, product, sign, power and atom."""

    def __init__(self, formula: str, found: tuple[Token, ...], values: Mapping[str, float]) -> None:
        self.formula, self.found, self.values, self.at = formula, found, values, 0

    def _next(self) -> str:
        return self.found[self.at].text if self.at < len(self.found) else ""

    def _take(self, text: str) -> None:
        if self._next() != text:
            raise ExpressionError(f"{self.formula!r}: {text!r} is missing before {self._next()!r}")
        self.at += 1

    def whole(self) -> float:
        value = self.sum()
        if self.at != len(self.found):
            raise ExpressionError(f"{self.formula!r} cannot be read at {self._next()!r}")
        return value

    def sum(self) -> float:
        value = self.product()
        while self._next() in ("+", "-"):
            sign = self._next()
            self.at += 1
            other = self.product()
            value = value + other if sign == "+" else value - other
        return value

    def product(self) -> float:
        value = self.signed()
        while self._next() in ("*", "/"):
            sign = self._next()
            self.at += 1
            other = self.signed()
            value = value * other if sign == "*" else value / other
        return value

    def signed(self) -> float:
        if self._next() in ("-", "+"):
            sign = self._next()
            self.at += 1
            value = self.signed()
            return -value if sign == "-" else value
        return self.power()

    def power(self) -> float:
        base = self.atom()
        if self._next() == "^":
            self.at += 1
            result = base ** self.signed()
            if isinstance(result, complex):
                raise ExpressionError(f"{self.formula!r} cannot be computed: root of a negative number")
            return float(result)
        return base

    def atom(self) -> float:
        if self.at >= len(self.found):
            raise ExpressionError(f"{self.formula!r} ends too early")
        token = self.found[self.at]
        self.at += 1
        if token.kind == "number":
            return float(token.text)
        if token.kind == "symbol":
            if token.text not in self.values:
                raise ExpressionError(f"{self.formula!r}: there is no number for {token.text}")
            return self.values[token.text]
        if token.kind == "function":
            self._take("(")
            arguments = [self.sum()]
            while self._next() == ",":
                self.at += 1
                arguments.append(self.sum())
            self._take(")")
            return FUNCTIONS[token.text](*arguments)
        if token.text == "(":
            value = self.sum()
            self._take(")")
            return value
        raise ExpressionError(f"{self.formula!r} cannot be read at {token.text!r}")


def put_in(formula: str, shown: Mapping[str, str]) -> str:
    """The right-hand side with the printed numbers in the place of the symbols, as it is typed into a calculator.

    A product is written "·", a minus "−"; a negative number stands in brackets.
    """
    out = ""
    found = tokens(formula)
    for index, token in enumerate(found):
        before = found[index - 1] if index else None
        if token.kind == "symbol":
            text = shown.get(token.text, {"pi": "π"}.get(token.text, token.text))
            if text.startswith("−") or "·10" in text:
                text = f"({text})"
            out += text
        elif token.text == "*":
            out += " · "
        elif token.text == "-":
            unary = before is None or (before.kind == "sign" and before.text != ")")
            out += "−" if unary else " − "
        elif token.text in ("+", "/"):
            out += f" {token.text} "
        elif token.text == ",":
            out += "; "
        else:
            out += "√" if token.text == "sqrt" else token.text
    return out

"""Numbers as tools write them: decimal point or comma, thousands grouped or not, and the doubt whether it was right."""

from __future__ import annotations

import math
import re

_MINUS = str.maketrans({"−": "-", "\u2010": "-", "\u2011": "-"})  # minus sign and two hyphens that look like it
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity|1\.#(?:qnan|inf|ind)[0-9]*)", re.IGNORECASE)
_THREE_BEHIND = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_UNIT_BEHIND = re.compile(r"([+-]? ?[0-9.,'’ ]*[0-9])\s*(.*)", re.DOTALL)
_WHOLE = re.compile(r"\+?[0-9]{1,18}")


class NumberError(ValueError):
    """A text that is no number of the form the mapping names; `code` tells not-finite from the rest."""

    def __init__(self, code: str, message: str) -> None:
        self.code = code
        super().__init__(message)


class NumberForm:
    """Decimal sign and thousands sign of one file; counts the numbers that could have been read another way."""

    def __init__(self, decimal: str, thousands: str | None) -> None:
        self.decimal, self.thousands = decimal, thousands
        point, group = re.escape(decimal), re.escape(thousands or "")
        whole = rf"[0-9]{{1,3}}(?:{group}[0-9]{{3}})+|[0-9]+" if thousands else "[0-9]+"
        self._form = re.compile(rf"[+-]?(?:(?:{whole})(?:{point}[0-9]*)?|{point}[0-9]+)(?:[eE][+-]?[0-9]{{1,3}})?")
        self.two_ways = 0  # numbers such as 1.234: one mark with exactly three figures behind it
        self.first_two_ways = ""
        self.settled = False  # another number shows which sign is the decimal sign

    def read(self, text: str) -> float:
        """The number in a trimmed text. Raises NumberError; nothing is guessed."""
        plain = text
        if not text.isascii():
            plain = text.translate(_MINUS).replace("\u00a0", " ").replace("\u202f", " ")
        if self._form.fullmatch(plain) is None:
            raise NumberError(*self._why_not(plain))
        if len(plain) > 4 and plain[-4] in ".," and _THREE_BEHIND.fullmatch(plain):
            self.two_ways += 1
            self.first_two_ways = self.first_two_ways or text
        elif self.decimal in plain:
            self.settled = True
        if self.thousands:
            plain = plain.replace(self.thousands, "")
        number = float(plain.replace(self.decimal, "."))
        if not math.isfinite(number):
            raise NumberError("not-finite", f"{text[:60]!r} is too large for a number")
        return number

    def _why_not(self, text: str) -> tuple[str, str]:
        shown = repr(text[:60])
        if _NOT_FINITE.fullmatch(text):
            return "not-finite", f"{shown} is not a finite number"
        other = "," if self.decimal == "." else "."
        expected = f"decimal sign {self.decimal!r}" + (f", thousands {self.thousands!r}" if self.thousands else "")
        if re.fullmatch(rf"[+-]?[0-9]+{re.escape(other)}[0-9]+", text):
            return "not-a-number", f"{shown} is not a number written with {expected}; was {other!r} the decimal sign?"
        return "not-a-number", f"{shown} is not a number written with {expected}"

    def note(self, what: str) -> str:
        """A remark on the whole file when numbers could be meant another way and none shows which; else ""."""
        if not self.two_ways or self.settled:
            return ""
        read_as = "as grouped thousands" if self.thousands and self.thousands in self.first_two_ways else "as decimals"
        return (
            f"{what}: {self.two_ways} numbers such as {self.first_two_ways!r} can be read as decimals or as grouped "
            f"thousands, and no other number in the file shows which; they were read {read_as}, as the mapping says"
        )


def part_unit(text: str) -> tuple[str, str]:
    """Number and unit of a cell that holds both ("90,5 Nm" gives "90,5" and "Nm"); the unit is "" where none is."""
    found = _UNIT_BEHIND.fullmatch(text.translate(_MINUS))
    return (found[1].strip(), found[2].strip()) if found else (text, "")


def whole_number(text: str) -> int | None:
    """A whole number of at most 18 figures, without sign or with a plus ("007" is 7); None otherwise."""
    return int(text) if _WHOLE.fullmatch(text) else None

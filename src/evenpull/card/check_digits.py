"""Check characters after ISO/IEC 7064: pure systems MOD 97-10 and MOD 37-2.

A pure system works with a modulus M and a radix r: the string with its check character(s) a_n ... a_1 is valid when
the sum of a_i * r^(i-1) is 1 modulo M. Both systems find every wrong single character and every swap of two
neighbours; that is what copying by hand gets wrong.

Source: ISO/IEC 7064:2003, clauses on pure systems (from memory, not re-read; the tests hold published examples).
"""

from __future__ import annotations

DIGITS = "0123456789"
ALPHANUMERIC = DIGITS + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_CHARACTERS_37_2 = ALPHANUMERIC + "*"


class CheckCharacterError(ValueError):
    """A text with a character that the system does not know. `position` counts from 1."""

    def __init__(self, text: str, position: int, allowed: str) -> None:
        self.text, self.position, self.allowed = text, position, allowed
        what = f"{text[position - 1]!r} at position {position}" if text else "an empty text"
        super().__init__(f"no check characters for {text!r}: {what} is not allowed; allowed: {allowed}")


def _values(text: str, characters: str) -> list[int]:
    if not text:
        raise CheckCharacterError(text, 0, characters)
    for position, character in enumerate(text, start=1):
        if character not in characters:
            raise CheckCharacterError(text, position, characters)
    return [characters.index(character) for character in text]


def as_number(text: str) -> int:
    """Digits stay, letters become 10 (A) to 35 (Z), joined to one number (rule of ISO 13616 and ISO 17442)."""
    return int("".join(str(value) for value in _values(text, ALPHANUMERIC)))


def mod_97_10(text: str) -> str:
    """Two check digits ("02" to "98") for a text of digits and capital letters A-Z."""
    return f"{98 - as_number(text) * 100 % 97:02d}"


def mod_97_10_valid(text: str) -> bool:
    """Whether a text that ends with its two check digits is valid."""
    return len(text) > 2 and text[-2:].isdecimal() and as_number(text) % 97 == 1


def mod_37_2(text: str) -> str:
    """One check character (0-9, A-Z or *) for a text of digits and capital letters A-Z."""
    remainder = 0
    for value in _values(text, ALPHANUMERIC):
        remainder = (remainder + value) * 2 % 37
    return _CHARACTERS_37_2[(1 - remainder) % 37]


def mod_37_2_valid(text: str) -> bool:
    """Whether a text that ends with its check character is valid."""
    return len(text) > 1 and text[-1] in _CHARACTERS_37_2 and mod_37_2(text[:-1]) == text[-1]

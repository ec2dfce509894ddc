"""Serials of printed cards: "KN-CW-014-JWEV-85" is joint, card token, two check digits.

    <joint id> - <token, 4 characters> - <check digits, ISO/IEC 7064 MOD 97-10>

The token stands for a running number that a register hands out once. It is spread over the 32 characters that are
hard to confuse in handwriting, so that two cards printed after each other do not look alike. The check digits cover
the joint id and the token, letters in capitals and separators left out.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

from evenpull.card.check_digits import ALPHANUMERIC, mod_37_2, mod_97_10, mod_97_10_valid

TOKEN_CHARACTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # without I, L, O, U
TOKEN_LENGTH = 4
CARD_NUMBERS = len(TOKEN_CHARACTERS) ** TOKEN_LENGTH
_SPREAD = 618_971  # odd, so that multiplying by it modulo 2^20 gives every number another token
_UNSPREAD = pow(_SPREAD, -1, CARD_NUMBERS)
_LIKELY_SLIPS = ("0OQD", "1IL7", "2Z", "5S", "6GB", "8B", "UV", "4A", "VY", "MN", "CG", "EF", "PR", "KX")
_SERIAL = re.compile(
    r"(?P<joint>[A-Z0-9][A-Z0-9._-]{1,38}[A-Z0-9])-(?P<token>[^-]*)-(?P<check>[^-]*)", re.IGNORECASE | re.ASCII
)


@dataclass(frozen=True, slots=True)
class Serial:
    """`text` in the one form that is printed and stored; `number` is the running number behind the token."""

    text: str
    joint: str
    token: str
    check: str
    number: int


@dataclass(frozen=True, slots=True)
class Correction:
    """One change of one place (or one swap of neighbours) that would make the serial valid."""

    position: int  # counts from 1 in the serial as it was given
    found: str
    instead: str
    serial: str

    def __str__(self) -> str:
        return f"character {self.position} {self.found!r} read as {self.instead!r} ({self.serial})"


class SerialError(ValueError):
    """A text that is no valid card serial; `corrections` lists what could have been meant, likeliest first."""

    def __init__(self, text: str, reason: str, corrections: tuple[Correction, ...] = ()) -> None:
        self.text, self.reason, self.corrections = text, reason, corrections
        hint = ""
        if corrections:
            hint = "; it would be valid with " + " or ".join(str(c) for c in corrections[:4])
            hint += f" ({len(corrections) - 4} more ways)" if len(corrections) > 4 else ""
        super().__init__(f"{text!r} is not a valid card serial: {reason}{hint}; look at the card again")


def _checked(joint: str, token: str) -> str:
    return re.sub(r"[._-]", "", joint).upper() + token


def joint_check_character(joint: str) -> str:
    """Check character of a joint id (MOD 37-2, capitals, separators left out), for reading an id aloud or typing it."""
    return mod_37_2(re.sub(r"[._-]", "", joint).upper())


def make_serial(joint: str, number: int) -> str:
    """Serial of the card with this running number (0 ... 1,048,575; a register hands each out once)."""
    if not 0 <= number < CARD_NUMBERS:
        raise ValueError(f"card number {number} is outside 0 ... {CARD_NUMBERS - 1}")
    rest, characters = number * _SPREAD % CARD_NUMBERS, ""
    for _ in range(TOKEN_LENGTH):
        rest, value = divmod(rest, len(TOKEN_CHARACTERS))
        characters = TOKEN_CHARACTERS[value] + characters
    text = f"{joint}-{characters}-{mod_97_10(_checked(joint, characters))}"
    if _SERIAL.fullmatch(text) is None:
        raise ValueError(
            f"no card serial for joint id {joint!r}: 3 to 40 of A-Z a-z 0-9 . _ - are allowed, "
            "a letter or digit first and last"
        )
    return text


def parse_serial(text: str, *, known: Collection[str] = ()) -> Serial:
    """Read a serial typed from a card; spaces around it and small letters in token are forgiven.

    `known` are the serials that were issued: when given, corrections are only those that were. Raises SerialError,
    which names the character at fault, or the characters that could be.
    """
    given = text.strip()
    issued = frozenset(serial.upper() for serial in known)
    match = _SERIAL.fullmatch(given)
    if match is None:
        raise SerialError(
            given, "the form is joint id, hyphen, 4 characters, hyphen, 2 digits, for example KN-CW-014-JWEV-85"
        )
    joint, token, check = match["joint"], match["token"].upper(), match["check"]
    if len(token) != TOKEN_LENGTH:
        raise SerialError(given, f"the token {token!r} has {len(token)} characters instead of {TOKEN_LENGTH}")
    if len(check) != 2:
        raise SerialError(given, f"the check digits {check!r} have {len(check)} characters instead of 2")
    for position, character in enumerate(given.upper()[match.start("token") :], match.start("token") + 1):
        allowed = TOKEN_CHARACTERS + "-" if position <= match.start("check") else "0123456789"
        if character not in allowed:
            place = "the token" if position <= match.start("check") else "the check digits"
            raise SerialError(
                given, f"character {position} is {character!r}, which {place} cannot hold", _corrections(match, issued)
            )
    if not mod_97_10_valid(_checked(joint, token) + check):
        raise SerialError(given, "the check digits do not fit", _corrections(match, issued))
    number = 0
    for character in token:
        number = number * len(TOKEN_CHARACTERS) + TOKEN_CHARACTERS.index(character)
    return Serial(f"{joint}-{token}-{check}", joint, token, check, number * _UNSPREAD % CARD_NUMBERS)


def _corrections(match: re.Match[str], issued: frozenset[str]) -> tuple[Correction, ...]:
    """All valid serials one wrong character or one swap of neighbours away; likely slips of handwriting first."""
    given = match.string
    found: list[tuple[int, Correction]] = []
    for index, character in enumerate(given):
        if character in "._-":
            continue
        if index >= match.start("check"):
            allowed = "0123456789"
        elif index >= match.start("token"):
            allowed = TOKEN_CHARACTERS
        else:
            allowed = ALPHANUMERIC
        for instead in allowed:
            changed = given[:index] + instead + given[index + 1 :]
            if instead != character.upper() and _stands(changed, issued):
                likely = any(character.upper() in slip and instead in slip for slip in _LIKELY_SLIPS)
                found.append((0 if likely else 2, Correction(index + 1, character, instead, changed)))
        pair = given[index : index + 2]
        if len(pair) == 2 and pair[0] != pair[1] and pair[1] not in "._-":
            changed = given[:index] + pair[::-1] + given[index + 2 :]
            if _stands(changed, issued):
                found.append((1, Correction(index + 1, pair, pair[::-1], changed)))
    return tuple(correction for _, correction in sorted(found, key=lambda item: item[0]))


def _stands(serial: str, issued: frozenset[str]) -> bool:
    match = _SERIAL.fullmatch(serial)
    if match is None:
        return False
    token, check = match["token"].upper(), match["check"]
    if not check.isdecimal() or any(character not in TOKEN_CHARACTERS for character in token):
        return False
    return mod_97_10_valid(_checked(match["joint"], token) + check) and (not issued or serial.upper() in issued)

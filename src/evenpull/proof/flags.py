"""Flags are gathered here; their keys come out the same each time the same thing is found."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from evenpull.proof.model import Flag, FlagCode
from evenpull.proof.rules import WEIGHT

Place = tuple[str, int, int]  # unit, fastener, pass number


def _safe(text: str) -> str:
    """A text that can stand between the bars of a key."""
    return text.replace("%", "%25").replace("|", "%7C")


def digest(records: Sequence[str]) -> str:
    """Names a set of records. Another set, even a larger one, has another name: a decision on the one does not cover
    the other."""
    return "#" + sha256("\n".join(sorted(records)).encode()).hexdigest()[:16]


def tail_of(records: Sequence[str]) -> str:
    """The end of a key: the one record, or the digest of several."""
    return "" if not records else records[0] if len(records) == 1 else digest(records)


def flag_key(code: FlagCode, joint: str, unit: str, fastener: int | None, pass_number: int | None, tail: str) -> str:
    """code|joint|unit|fastener|pass|tail; the tail is a record key, a digest of several, or a name."""
    numbers = ("" if number is None else str(number) for number in (fastener, pass_number))
    return "|".join((code, joint, _safe(unit), *numbers, tail))


def key_parts(key: str) -> tuple[str, str, str] | None:
    """(code, joint, tail) of a flag key, None when it does not have the form of one."""
    parts = key.split("|", 5)
    return (parts[0], parts[1], parts[5]) if len(parts) == 6 else None


class FlagBook:
    """Collects flags of one joint and remembers on which places of the matrix they fall."""

    def __init__(self, joint: str) -> None:
        self.joint = joint
        self._flags: dict[str, Flag] = {}
        self._at: dict[Place, list[str]] = {}

    def add(
        self,
        code: FlagCode,
        text: str,
        *,
        blocking: bool,
        unit: str = "",
        fastener: int | None = None,
        pass_number: int | None = None,
        records: Sequence[str] = (),
        places: Sequence[Place] = (),
        name: str | None = None,
    ) -> str:
        """Add one flag. `name` replaces the record keys as the tail; `places` default to the one it names."""
        keys = tuple(records)
        key = flag_key(code, self.joint, unit, fastener, pass_number, tail_of(keys) if name is None else name)
        if key in self._flags:
            raise RuntimeError(f"the flag {key} was found twice; this is a fault of the rules")
        self._flags[key] = Flag(key, code, blocking, unit, fastener, pass_number, keys, text)
        if not places and fastener is not None and pass_number is not None:
            places = ((unit, fastener, pass_number),)
        for place in places:
            self._at.setdefault(place, []).append(key)
        return key

    def at(self, place: Place) -> tuple[str, ...]:
        return tuple(sorted(self._at.get(place, ())))

    def flags(self) -> list[Flag]:
        return list(self._flags.values())


def in_order(flags: Sequence[Flag]) -> tuple[Flag, ...]:
    """Blocking first, then by weight of the code, then by place."""
    return tuple(
        sorted(
            flags, key=lambda f: (not f.blocking, WEIGHT[f.code], f.unit_id, f.fastener or 0, f.pass_number or 0, f.key)
        )
    )

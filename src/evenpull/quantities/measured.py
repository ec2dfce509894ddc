"""A value as somebody wrote it, together with its SI value.

Inside the program every quantity is an SI float (N, m, Pa, rad, N.m). What a person or a tool wrote is kept beside
it, so that a unit slip stays visible.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["torque", "force", "length", "angle", "stress", "temperature", "area", "mass"]


class UnitError(ValueError):
    """A text that is not a number with a unit of the wanted kind. The message says what is allowed."""

    def __init__(self, text: str, kind: str, reason: str, allowed: tuple[str, ...]) -> None:
        self.text, self.kind, self.reason, self.allowed = text, kind, reason, allowed
        super().__init__(f"{text!r} is not a {kind}: {reason}; allowed units: {', '.join(allowed)}")


@dataclass(frozen=True, slots=True)
class Measured:
    """One value: `si` in SI, `value` and `unit` as written, `text` the source text untouched."""

    si: float
    value: float
    unit: str
    text: str
    kind: Kind

    def __str__(self) -> str:
        return self.text

"""What is wrong with a file that describes a joint or tools: every fault at once, each with its place and way out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to put right.

    `line` is 1-based, None when the fault has no place in the text; `field` the dotted path ("fasteners.thread",
    "clamped.0.part"), "" for the file as a whole; `given` what stood there, shortened; `message` says what is wrong
    and names what was given; `allowed` what would be right, "" when the message says it already.
    """

    file: str
    line: int | None
    field: str
    given: str
    message: str
    allowed: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        field = f" {self.field}:" if self.field else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        return f"{place}:{field} {self.message}{allowed}"


class SpecificationError(ValueError):
    """A file that cannot be taken as it is. `errors` holds all faults in the order of the file; nothing was kept."""

    def __init__(self, errors: Iterable[Fault]) -> None:
        self.errors = tuple(sorted(errors, key=lambda fault: (fault.line is None, fault.line or 0)))
        if not self.errors:
            raise ValueError("a SpecificationError needs at least one fault")
        super().__init__("\n".join(str(fault) for fault in self.errors))

    @property
    def faults(self) -> tuple[Fault, ...]:
        """The same as `errors`."""
        return self.errors

"""A calculation as it was asked for: the case, the rule sets to apply, and every input as it was written."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from evenpull.joint.case import JointCase

WITH_DRAG = ("aviation",)  # rule sets whose torque holds the drag of a self-locking nut
NOT_STATED = "not stated in the file"  # how the source of a value begins that the file leaves out


@dataclass(frozen=True, slots=True)
class InputRow:
    """One key of the file: `written` as it stood there, or what a table gave for it; `source` where it comes from."""

    field: str  # "bolt.thread", "layer 2.thickness"
    meaning: str
    written: str
    source: str


@dataclass(frozen=True, slots=True)
class Calculation:
    """`text` is the file as it was received, `file` its name."""

    id: str
    name: str
    revision: str
    joint: str  # id of a joint of the dossier, "" when there is none
    rules: tuple[str, ...]
    basis: str
    notes: str
    case: JointCase
    inputs: tuple[InputRow, ...]
    text: str
    file: str

    @property
    def digest(self) -> str:
        """SHA-256 of the text as hexadecimal."""
        return sha256(self.text.encode()).hexdigest()

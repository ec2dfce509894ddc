"""A study as it was asked for and as far as it was read: persons, targets, repeats, and each reading with its place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Literal, get_args

from evenpull.quantities import unit_shown
from evenpull.statistics.repeatability import Model

Kind = Literal["repeatability and reproducibility", "machine capability", "process capability", "operator exercise"]
KINDS: tuple[Kind, ...] = get_args(Kind)
Quantity = Literal["torque", "force", "angle", "length", "other"]
QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)
Analysed = Literal["value", "difference from target", "share of target"]
ANALYSED: tuple[Analysed, ...] = get_args(Analysed)
Place = tuple[str, str, int]  # person, part, replicate; "" where the study has no persons or no parts


@dataclass(frozen=True, slots=True)
class Part:
    """What is measured again and again: a part, a target that is set, a group of a process."""

    name: str
    target: float | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """`target` in the unit read, `lower` and `upper` on the scale that is analysed; each may be left out."""

    target: float | None = None
    lower: float | None = None
    upper: float | None = None

    @property
    def stated(self) -> bool:
        return self.lower is not None or self.upper is not None

    @property
    def width(self) -> float | None:
        """From the lower to the upper limit; None where one is missing."""
        return None if self.lower is None or self.upper is None else self.upper - self.lower

    def holds(self, value: float) -> bool:
        return (self.lower is None or value >= self.lower) and (self.upper is None or value <= self.upper)


@dataclass(frozen=True, slots=True)
class Demands:
    """What a study is asked to show; None: not asked. `precision`: 6 s of measuring over the window; `index`: Cmk or
    Cpk; `bias` of each person on the scale analysed; `inside`: share of pulls within the window."""

    precision: float | None = None
    index: float | None = None
    bias: float | None = None
    inside: float | None = None


@dataclass(frozen=True, slots=True)
class Guess:
    """Standard deviations expected before a study, on the scale analysed; `index` expected of a capability."""

    repeat: float
    part: float = 0.0
    operator: float = 0.0
    interaction: float = 0.0
    index: float | None = None


@dataclass(frozen=True, slots=True)
class Validity:
    """From when until when a study is to count; None: not stated. `ends_with`: what ends it before."""

    first: date | None = None
    last: date | None = None
    ends_with: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """One row as written. `value` None: the place was visited and nothing could be read, `remark` says why. `left_out`:
    why the reading does not count; it is kept and shown all the same. `line` in the text it stands in."""

    line: int
    place: Place
    value: float | None
    text: str
    at: str = ""
    remark: str = ""
    left_out: str = ""

    @property
    def counts(self) -> bool:
        return self.value is not None and not self.left_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """`readings` stand in the order in which they were taken. `text` is the file as received, `file` its name; `rows`
    and `rows_file` the readings beside it, "" where they stand in the file or there are none. Readings and targets are
    numbers in `unit`; limits, demands and guesses are numbers on the scale that is analysed (`scale_unit`)."""

    id: str
    name: str
    kind: Kind
    revision: str
    basis: str
    led_by: str
    tools: tuple[str, ...]
    device: str
    notes: str
    quantity: Quantity
    unit: str
    resolution: float | None
    hidden: bool
    analysed: Analysed
    persons: tuple[str, ...]
    parts: tuple[Part, ...]
    replicates: int
    draw: str
    window: Window
    confidence: float
    content: float
    model: Model
    demands: Demands
    guess: Guess | None
    validity: Validity
    readings: tuple[Reading, ...]
    text: str
    file: str
    rows: str = ""
    rows_file: str = ""

    @property
    def digest(self) -> str:
        """SHA-256 of the plan as hexadecimal: what a printed card belongs to."""
        return sha256(self.text.encode()).hexdigest()

    @property
    def rows_digest(self) -> str:
        """SHA-256 of the readings beside the file; "" where there are none."""
        return sha256(self.rows.encode()).hexdigest() if self.rows else ""

    @property
    def part_word(self) -> str:
        """What the parts of this study are called."""
        if self.kind == "process capability":
            return "group"
        return "target" if any(part.target is not None for part in self.parts) else "part"

    @property
    def places(self) -> tuple[Place, ...]:
        """Every reading that the study asks for, by person, part and replicate."""
        return tuple(
            (person, part, replicate) for person in self.persons or ("",) for part in self.part_names
            for replicate in range(1, self.replicates + 1)
        )

    @property
    def part_names(self) -> tuple[str, ...]:
        return tuple(part.name for part in self.parts) or ("",)

    def target_of(self, part: str) -> float | None:
        """Target of a part in `unit`: its own, else that of the study."""
        own = next((one.target for one in self.parts if one.name == part), None)
        return self.window.target if own is None else own

    @property
    def counted(self) -> dict[Place, Reading]:
        """The readings that count, by their place, in the order in which they were taken."""
        return {one.place: one for one in self.readings if one.counts}

    @property
    def missing(self) -> tuple[Place, ...]:
        """Places without a reading that counts."""
        read = self.counted
        return tuple(place for place in self.places if place not in read)

    @property
    def state(self) -> Literal["planned", "incomplete", "complete"]:
        if not self.readings:
            return "planned"
        return "incomplete" if self.missing else "complete"

    @property
    def scale_unit(self) -> str:
        """Unit of the scale that is analysed, as it is printed."""
        if self.analysed == "share of target":
            return "%"
        return self.unit if self.quantity == "other" else unit_shown(self.unit)

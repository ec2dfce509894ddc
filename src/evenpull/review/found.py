"""What was found about a tool, a standard or an attachment, as somebody states it. Times in s since 1970, UTC."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal, get_args

from evenpull.instrument.deviation import DeviationCurve

FoundKind = Literal[
    "out of tolerance", "dropped", "lost", "standard recalled", "shift check failed", "certificate withdrawn",
    "attachment wrong",
]
FOUND_KINDS: tuple[FoundKind, ...] = get_args(FoundKind)
MEANING: dict[FoundKind, str] = {
    "out of tolerance": "The as-found points of a certificate lie outside the permissible deviation.",
    "dropped": "Dropped, overloaded or abused; as-found points of a calibration after it, where there is one.",
    "lost": "Lost or stolen: nothing can be measured on it any more.",
    "standard recalled": "A reference standard was wrong or recalled: everything calibrated with it is in doubt.",
    "shift check failed": "A pull on a check device lay outside the limits.",
    "certificate withdrawn": "The laboratory withdrew a certificate: it is no evidence, from its first day on.",
    "attachment wrong": "The ratio of a multiplier or adapter was stated wrong, or it was the wrong one.",
}


@dataclass(frozen=True, slots=True)
class FoundPoint:
    """What was measured beside any certificate: `X` indicated on the scale of the thing (N.m, Pa), `a` its relative
    deviation, `w` relative standard uncertainty."""

    X: float
    a: float
    w: float


@dataclass(frozen=True, kw_only=True)
class Found:
    """`at` when it was found. `certificate` the number of the one whose as-found points count; "" where none does.
    `withdrawn` the number of a certificate that is no evidence. `event` the moment of a known drop, overload or repair.
    `points` measured without a certificate (a shift check). `deviation` of an attachment, (stated - true)/true of its
    ratio, with its relative standard uncertainty. `w_repeat` and `w_operator` relative standard uncertainties; `kept`
    the share of the load that is left after settling and relaxation, 1 where nothing is known of it."""

    kind: FoundKind
    serial: str
    at: float
    words: str
    certificate: str = ""
    withdrawn: str = ""
    event: float | None = None
    points: tuple[FoundPoint, ...] = ()
    deviation: tuple[float, float] | None = None
    w_repeat: float = 0.0
    w_operator: float = 0.01
    kept: float = 1.0

    def __post_init__(self) -> None:
        for problem in self._problems():
            raise ValueError(problem)

    def _problems(self) -> list[str]:
        said = []
        if self.kind not in FOUND_KINDS:
            said.append(f"{self.kind!r} is nothing that is found; there are: {', '.join(FOUND_KINDS)}")
        if not self.serial.strip():
            said.append("which item was found out is not stated: give its serial")
        if len(self.words.strip()) < 5:
            said.append("say in words what was found (5 characters or more)")
        if self.event is not None and self.event > self.at:
            said.append("the event lies after the moment it was found: correct one of the two times")
        for name, value in (("repeatability", self.w_repeat), ("operator", self.w_operator)):
            if not 0 <= value < 1:
                said.append(f"the relative uncertainty of the {name} is a share from 0 to below 1, not {value}")
        if not 0 < self.kept <= 1:
            said.append(f"the share of the load that is left lies above 0 and up to 1, not {self.kept}")
        if self.kind == "certificate withdrawn" and not self.withdrawn:
            said.append("which certificate was withdrawn is not stated: give its number")
        if self.deviation is not None and not (self.deviation[0] > -1 and 0 <= self.deviation[1] < 1):
            said.append("the deviation of an attachment is a share above -1 with an uncertainty from 0 to below 1")
        return said

    def curve(self) -> DeviationCurve | None:
        """The curve of what was measured beside any certificate; None where nothing was."""
        if self.points:
            rising = sorted(self.points, key=lambda p: p.X)
            return DeviationCurve(tuple(p.X for p in rising), tuple(p.a for p in rising), tuple(p.w for p in rising))
        if self.deviation is not None:  # a ratio is one figure for every torque
            a, w = self.deviation
            return DeviationCurve.constant(a, w, math.ulp(1.0), 1 / math.ulp(1.0))
        return None


def to_json(found: Found) -> dict[str, Any]:
    """Plain JSON values; `from_json` gives the same back."""
    return {
        "kind": found.kind, "serial": found.serial, "at": found.at, "words": found.words,
        "certificate": found.certificate, "withdrawn": found.withdrawn, "event": found.event,
        "points": [[p.X, p.a, p.w] for p in found.points],
        "deviation": None if found.deviation is None else list(found.deviation),
        "w_repeat": found.w_repeat, "w_operator": found.w_operator, "kept": found.kept,
    }  # fmt: skip


def from_json(body: dict[str, Any]) -> Found:
    """The inverse of `to_json`. KeyError or ValueError for anything it did not write."""
    try:
        return _found(body)
    except (TypeError, AttributeError, OverflowError, IndexError) as error:
        raise ValueError(f"this is no finding: {error}") from error


def _found(body: dict[str, Any]) -> Found:
    more = body["deviation"]
    return Found(
        kind=body["kind"], serial=body["serial"], at=float(body["at"]), words=body["words"],
        certificate=body["certificate"], withdrawn=body["withdrawn"], event=body["event"],
        points=tuple(FoundPoint(*map(float, one)) for one in body["points"]),
        deviation=None if more is None else (float(more[0]), float(more[1])),
        w_repeat=float(body["w_repeat"]), w_operator=float(body["w_operator"]), kept=float(body["kept"]),
    )  # fmt: skip

"""Words, marks and number forms of the report, in one place."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from evenpull.ledger.machine import FastenerState
from evenpull.ledger.words import number_list
from evenpull.plan.model import Plan, Specification
from evenpull.proof.model import Cell, Proof
from evenpull.quantities import from_si, unit_shown

NOT_RECORDED = "not recorded"
NOT_IN_VERSION = "not recorded in this version"
LETTER = {"accepted": "A", "not accepted": "N", "not judged": "J", "missing": "M"}
CLASS_MEANING = {
    "A": "A: failure is a danger to life, limb or environment",
    "B": "B: failure stops the function",
    "C": "C: neither danger nor loss of function",
}
_WORST_LAST = ("accepted", "not judged", "not accepted", "missing")


def decimals(size: float) -> int:
    """Decimals that give a value of this size four figures, so that a column reads evenly."""
    return max(0, 3 - math.floor(math.log10(size))) if size > 0 else 1


@dataclass(frozen=True, slots=True)
class Scale:
    """How torques of this joint are printed: unit of the specification, decimals that give the target four figures."""

    unit: str
    decimals: int

    @classmethod
    def of(cls, plan: Plan) -> Scale:
        wish = plan.spec.target
        unit = next((m.unit for m in (wish.torque, wish.prevailing_torque) if m is not None), "N.m")
        size = abs(from_si(plan.target.torque, unit))
        return cls(unit, decimals(size))

    @property
    def shown(self) -> str:
        return unit_shown(self.unit)

    def number(self, si: float) -> str:
        return f"{from_si(si, self.unit):.{self.decimals}f}"

    def with_unit(self, si: float) -> str:
        return f"{self.number(si)} {self.shown}"

    def window(self, lower: float, upper: float) -> str:
        return f"{self.number(lower)} to {self.number(upper)}"


def moment(time: datetime) -> str:
    """2026-03-18 13:40:05 UTC; another zone keeps its offset."""
    offset = time.strftime("%z")
    zone = "UTC" if offset in ("+0000", "-0000") else f"UTC{offset[:3]}:{offset[3:5]}"
    return f"{time:%Y-%m-%d %H:%M:%S} {zone}"


def angle_shown(radians: float) -> str:
    return f"{math.degrees(radians):.1f}°"


def cell_state(cell: Cell) -> str:
    """The verdict, or "missing" where no record fell on the cell at all."""
    return cell.verdict if cell.records else "missing"


def fastener_states(proof: Proof) -> dict[int, str]:
    """The worst state of each fastener over its passes (and units)."""
    worst: dict[int, str] = {}
    for cell in proof.cells:
        state = cell_state(cell)
        if _WORST_LAST.index(state) >= _WORST_LAST.index(worst.get(cell.fastener, "accepted")):
            worst[cell.fastener] = state
    return worst


@dataclass(frozen=True)
class Alike:
    """Fasteners of a unit that stand alike. `numbers` in words, `members` in their order."""

    numbers: str
    first: FastenerState
    members: tuple[FastenerState, ...]


def standing_alike(states: Iterable[FastenerState]) -> list[Alike]:
    """Fasteners that stand alike drawn together, in the order of the first of each."""
    groups: dict[tuple[object, ...], list[FastenerState]] = {}
    for s in states:
        place = (s.unit, s.state, s.disturbances, s.tightened_again, s.owed, s.excepted)
        groups.setdefault(place, []).append(s)
    return [Alike(number_list([s.fastener for s in own]), own[0], tuple(own)) for own in groups.values()]


def counted(number: int, one: str, many: str | None = None) -> str:
    """"1 record", "3 records"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def place_of(spec: Specification, unit_id: str, fastener: int | None, pass_number: int | None) -> str:
    parts = []
    if unit_id:
        parts.append(f"{spec.series.unit_name if spec.series else 'unit'} {unit_id}")
    if fastener is not None:
        parts.append(f"no. {fastener}")
    if pass_number is not None:
        parts.append(f"pass {pass_number}")
    return ", ".join(parts) or "joint"


def names(items: Iterable[str]) -> str:
    """In the order given, each once, empty ones left out."""
    return ", ".join(dict.fromkeys(item for item in items if item))

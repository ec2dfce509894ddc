"""Which record falls on which place of the matrix unit x fastener x pass.

A record that states its pass goes there. One that does not is told by the windows of the passes and by the order in
which it occurred; where that leaves a choice, it goes nowhere and is flagged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.judging import remark_on
from evenpull.proof.moments import Moment, before
from evenpull.proof.texts import above, below, pass_label, torque_text

UNDOING = ("loosen", "remove")
NOT_PROVING = ("residual check", "check-device pull")


def undoes(record: Tightening) -> bool:
    """The record says that the fastener was loosened or taken out; when in contradiction, it is taken as such. A
    residual check by loosening undoes too; a pull on a check device turns no fastener."""
    return (record.direction == "loosen" and record.event != "check-device pull") or record.event in UNDOING


def contradicts(record: Tightening) -> bool:
    """Turned in the loosening direction but called a tightening, or the other way round."""
    if record.direction == "loosen":
        return record.event not in (*UNDOING, *NOT_PROVING, "unstated")
    return record.event in UNDOING and record.direction == "tighten"


def _inside(torque: float, lower: float, upper: float) -> bool:
    return not below(torque, lower) and not above(torque, upper)


@dataclass
class Placed:
    """The records of one fastener of one unit, in sequence. `told`: record key -> why that pass was taken."""

    cells: dict[int, list[Tightening]] = field(default_factory=dict)
    undoing: list[Tightening] = field(default_factory=list)
    idle: list[Tightening] = field(default_factory=list)  # events that prove nothing
    told: dict[str, str] = field(default_factory=dict)
    untold: list[tuple[Tightening, tuple[int, ...], str]] = field(default_factory=list)  # with the passes it may be
    unknown_pass: list[tuple[Tightening, str]] = field(default_factory=list)


class Placer:
    """Places the records of one fastener at a time (`records` in sequence)."""

    def __init__(self, plan: Plan, moments: Mapping[str, Moment]) -> None:
        self.plan, self.moments = plan, moments
        self.passes = {p.number: p for p in plan.passes}
        self._has_check = any(p.check for p in plan.passes)

    def place(self, records: Sequence[Tightening]) -> Placed:
        placed = Placed()
        blurred = self._blurred(records)
        filled: list[tuple[int, Tightening]] = []  # what was placed since the fastener was last undone
        for record in records:
            if undoes(record):
                placed.undoing.append(record)
                filled = []
            elif record.event in NOT_PROVING:
                placed.idle.append(record)
            elif record.pass_number is not None:
                self._stated(record, record.pass_number, placed, filled)
            else:
                self._unstated(record, placed, filled, record.key in blurred)
        return placed

    def _stated(self, record: Tightening, number: int, placed: Placed, filled: list[tuple[int, Tightening]]) -> None:
        one = self.passes.get(number)
        if one is None:
            known = ", ".join(str(p.number) for p in self.plan.passes)
            placed.unknown_pass.append((record, f"it names pass {number}; the plan has {known}"))
        elif record.event == "check pass" and not one.check and self._has_check:
            placed.unknown_pass.append((record, f"it is called a check pass, but names pass {number}, which is none"))
        else:
            placed.cells.setdefault(number, []).append(record)
            filled.append((number, record))

    def _unstated(
        self, record: Tightening, placed: Placed, filled: list[tuple[int, Tightening]], blurred: bool
    ) -> None:
        if said := remark_on(record, "pass"):
            placed.untold.append((record, tuple(self.passes), said))
            return
        fit = self._candidates(record)
        if len(self.passes) == 1:  # there is nothing to tell apart
            number = next(iter(self.passes))
            placed.cells.setdefault(number, []).append(record)
            filled.append((number, record))
            return
        if not fit:
            placed.untold.append(
                (
                    record,
                    tuple(p.number for p in self._allowed(record)),
                    f"{torque_text(record)} lies in the window of no pass",
                )
            )
            return
        names = " and ".join(pass_label(p) for p in fit)
        if len(fit) > 1:
            earlier = [other for number, other in filled if any(number == p.number for p in fit)]
            if blurred or not all(before(self.moments[o.key], self.moments[record.key]) for o in earlier[-1:]):
                placed.untold.append(
                    (
                        record,
                        tuple(p.number for p in fit),
                        f"{torque_text(record)} fits {names}, and the order of the records is not known",
                    )
                )
                return
            taken = {number for number, _ in filled}
            one = next((p for p in fit if p.number not in taken), fit[-1])
            placed.told[record.key] = (
                f"{torque_text(record)} fits {names}; by the order of the records it is {pass_label(one)}"
            )
        else:
            one = fit[0]
            placed.told[record.key] = f"{torque_text(record)} lies only in the window of {names}"
        placed.cells.setdefault(one.number, []).append(record)
        filled.append((one.number, record))

    def _allowed(self, record: Tightening) -> list[Pass]:
        """Passes that the kind of the event leaves: only a check pass checks, and a touch-up is none."""
        found = [p for p in self.plan.passes if record.event == "unstated" or p.check == (record.event == "check pass")]
        return found or list(self.plan.passes)

    def _candidates(self, record: Tightening) -> list[Pass]:
        torque = record.torque
        if torque is None:
            return []
        return [p for p in self._allowed(record) if _inside(torque, *p.window(record.fastener))]

    def _blurred(self, records: Sequence[Tightening]) -> set[str]:
        """Records without a pass whose order to the next one that fits the same passes is not known."""
        latest: dict[tuple[int, ...], Tightening] = {}
        found: set[str] = set()
        for record in records:
            if record.pass_number is not None or undoes(record) or record.event in NOT_PROVING:
                continue
            fit = tuple(p.number for p in self._candidates(record))
            if len(fit) > 1:
                last = latest.get(fit)
                if last is not None and not before(self.moments[last.key], self.moments[record.key]):
                    found |= {last.key, record.key}
                latest[fit] = record
        return found

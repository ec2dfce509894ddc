"""Which revision of the specification was in force on a day, and whether it accepts what was pulled that day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.texts import above, below, torque_text, window_text

Outcome = Literal["not accepted", "not judged"]


class InForce:
    """The revisions of one joint. Of two with the same first day the later one counts."""

    def __init__(self, newest: Plan, earlier: Sequence[Plan]) -> None:
        self._newest = newest
        self._all = (*earlier, newest)

    def on(self, day: date) -> Plan | None:
        """The plan in force on a day, None before the first."""
        begun = [plan for plan in self._all if plan.spec.source.in_force_from <= day]
        latest = max((plan.spec.source.in_force_from for plan in begun), default=None)
        # texts of one revision follow each other in the order of writing: the last one counts
        return next((plan for plan in reversed(begun) if plan.spec.source.in_force_from == latest), None)

    def judge(self, record: Tightening, one: Pass, day: date) -> tuple[Outcome | None, str]:
        """What the revision in force that day says against the record, beyond what the newest says; (None, "") when
        nothing."""
        source = self._newest.spec.source
        then = self.on(day)
        if then is None:
            first = min(plan.spec.source.in_force_from for plan in self._all)
            return "not judged", f"it was made on {day}, before any revision was in force (the first from {first})"
        if then is self._newest:
            return None, ""
        name = f"revision {then.spec.source.revision}, in force on {day}"
        newest = f"revision {source.revision}, in force since {source.in_force_from}"
        place = then.pass_by_number(one.number)
        if place is None or place.check != one.check or record.fastener > then.spec.fasteners.count:
            return "not judged", f"{name}, has no such place; {newest}, has"
        if record.torque is None:
            return None, ""
        (low, high), (low_now, high_now) = place.window(record.fastener), one.window(record.fastener)
        was_in = not below(record.torque, low) and not above(record.torque, high)
        is_in = not below(record.torque, low_now) and not above(record.torque, high_now)
        windows = f"{window_text(low, high)} by {name}; {window_text(low_now, high_now)} by {newest}"
        if is_in and not was_in:
            return "not accepted", f"{torque_text(record)} was outside the window of its day: {windows}"
        if was_in and not is_in:
            return "not accepted", f"{torque_text(record)} was right on its day and is not any more: {windows}"
        return None, ""

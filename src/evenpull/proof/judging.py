"""One record against the pass it belongs to: torque, direction, end, angle, tool, certificate. Nothing else.

The verdict of a record looks at this record alone; what several records say together (order, movement, doubled) is
judged where they meet.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from functools import lru_cache
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from evenpull.equipment import Holdings
from evenpull.equipment.gate import OF_A_PASS
from evenpull.equipment.tool_fitness import ToolFitness
from evenpull.instrument.candidate import PassValue
from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan, Tool
from evenpull.plan.settings import certificate_problem
from evenpull.proof.model import FlagCode, Verdict
from evenpull.proof.moments import Moment
from evenpull.proof.revisions import InForce
from evenpull.proof.rules import WEIGHT
from evenpull.proof.stated_tool import stated_otherwise
from evenpull.proof.texts import above, against, below, newton_metres, pass_label, torque_text, window_text
from evenpull.quantities import unit_slips

TIGHTENING = ("first", "step", "touch-up", "re-tighten after service")  # they turn the fastener; a check pass looks


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing about a record. `group` draws the same trouble of many records into one flag; `overload` means that the
    fastener may have been harmed, so that a later good record does not settle it."""

    code: FlagCode
    outcome: Literal["not accepted", "not judged", "note"]
    text: str
    group: tuple[str, ...] = ()
    overload: bool = False


@dataclass(frozen=True, slots=True)
class Judgement:
    verdict: Verdict
    findings: tuple[Finding, ...]
    reason: str

    @property
    def overload(self) -> bool:
        """The fastener may have been harmed."""
        return any(finding.overload for finding in self.findings)


def remark_on(record: Tightening, field: str) -> str:
    """What the reader noted about one field, "" when nothing: a value without meaning is not the same as no value."""
    return next((remark for remark in record.remarks if remark.startswith(f"{field}:")), "")


def movement_of(record: Tightening) -> float | None:
    """How far the fastener turned on a check pass (rad): the larger where the record gives both its angle and its
    movement; None where it gives neither as a number."""
    said = record.particulars.get("movement")
    found = [abs(a) for a in (record.angle, said.si if said is not None else None) if a is not None]
    return max((a for a in found if math.isfinite(a)), default=None)


@lru_cache(maxsize=256)
def _zone(name: str) -> tzinfo:
    try:
        return ZoneInfo(name)
    except (
        ZoneInfoNotFoundError,
        ValueError,
        OSError,
    ):  # "offset in the text" and the like: then the day is that of UTC
        return UTC


def days_of_use(record: Tightening, moment: Moment) -> tuple[date, date] | None:
    """First and last day on which the pull can have been made, in the zone of the record; None when not enclosed."""
    if not moment.bounded:
        return None
    zone = _zone(record.time_basis)
    first = datetime.fromtimestamp(moment.low, zone).date()
    return first, first if moment.high == moment.low else datetime.fromtimestamp(moment.high, zone).date()


@lru_cache(maxsize=64)
def _of_simple(tools: tuple[Tool, ...]) -> ToolFitness:
    """Fitness by the simple register alone; made once for the same entries."""
    return ToolFitness(Holdings.from_tools(tools))


class Judge:
    """Judges records of one plan. `register`: further entries of the tool register, e.g. earlier certificates;
    `revisions`: plans of earlier revisions, oldest first; `fit`: what both registers of tools say, None where there is
    nothing but the entries given."""

    def __init__(
        self,
        plan: Plan,
        moments: Mapping[str, Moment],
        register: Iterable[Tool] = (),
        revisions: Sequence[Plan] = (),
        fit: ToolFitness | None = None,
    ) -> None:
        self.plan, self.moments = plan, moments
        self._revisions = InForce(plan, revisions)
        self._tools: dict[str, list[Tool]] = defaultdict(list)
        for tool in (*plan.tools, *register):
            if tool not in self._tools[tool.serial]:
                self._tools[tool.serial].append(tool)
        self.fit = _of_simple(tuple(t for some in self._tools.values() for t in some)) if fit is None else fit
        self.unfit: dict[str, set[str]] = {}  # record -> codes of what made its tool unfit, of all that were judged
        self._allowed = frozenset(plan.spec.tools_allowed)
        self._last = max((p.number for p in plan.passes if not p.check), default=0)
        self._done: dict[tuple[str, int], Judgement] = {}
        self._days: dict[tuple[str, date, date], tuple[str, str]] = {}

    def __call__(self, record: Tightening, one: Pass) -> Judgement:
        place = (record.key, one.number)
        if place not in self._done:
            self._done[place] = self._judge(record, one)
        return self._done[place]

    def _judge(self, record: Tightening, one: Pass) -> Judgement:
        found = [*self._torque(record, one), *self._end(record), *self._angle(record, one), *self._tool(record)]
        found += self._fitness(record, one)
        found += self._revision(record, one)
        if said := remark_on(record, "direction"):
            found.append(Finding("wrong direction", "not judged", f"its direction is not understood ({said})"))
        elif record.direction == "unknown" and any("means loosening" in remark for remark in record.remarks):
            found.append(Finding("wrong direction", "not judged", "its sign and its direction contradict each other"))
        if said := remark_on(record, "event"):
            found.append(
                Finding("not a proving event", "not judged", f"what kind of event it was is not understood ({said})")
            )
        if record.event in (TIGHTENING if one.check else ("check pass",)):
            what = "a tightening checks" if one.check else "a check pass tightens"
            text = f"it is called {record.event!r}, but stands on {pass_label(one)}: {what} nothing"
            found.append(Finding("unknown pass", "not judged", text))
        found.sort(key=lambda f: (WEIGHT[f.code], f.text))
        for verdict in ("not accepted", "not judged"):
            reasons = [f.text for f in found if f.outcome == verdict]
            if reasons:
                return Judgement(verdict, tuple(found), "; ".join(reasons))
        return Judgement("accepted", tuple(found), self._accepted(record, one))

    @staticmethod
    def _accepted(record: Tightening, one: Pass) -> str:
        text = f"{torque_text(record)} is inside {window_text(*one.window(record.fastener))}"
        unsaid = [
            name
            for name, value in (("direction", record.direction), ("end of the pull", record.end_cause))
            if value == "unknown"
        ]
        return text + (f"; the source does not state the {' or the '.join(unsaid)}" if unsaid else "")

    @staticmethod
    def _torque(record: Tightening, one: Pass) -> list[Finding]:
        torque = record.torque
        if torque is None or not math.isfinite(torque):
            return [Finding("no torque", "not judged", "the record has no torque")]
        lower, upper = one.window(record.fastener)
        low, high = below(torque, lower), above(torque, upper)
        if not low and not high:
            return []
        value, limit = against(torque, lower if low else upper)
        if record.torque_unit not in ("N.m", ""):
            value = torque_text(record) if value == newton_metres(torque) else value
        found = [
            Finding("out of window", "not accepted", f"{value} is {'below' if low else 'above'} {limit}", overload=high)
        ]
        slips = unit_slips(torque, lower, upper, written_as=record.torque_unit or None) if lower > 0 else ()
        if slips:
            found.append(Finding("unit slip suspected", "note", slips[0].text))
        return found

    @staticmethod
    def _end(record: Tightening) -> list[Finding]:
        why = {
            "stopped by user": "it was stopped by the user",
            "limit": "it ended at a limit",
            "error": "it ended with an error",
        }.get(record.end_cause)
        if why is not None:
            return [
                Finding("not reached", "not accepted", f"{why} at {torque_text(record)}, so the target was not reached")
            ]
        if said := remark_on(record, "end_cause"):
            return [Finding("not reached", "not judged", f"why it ended is not understood ({said})")]
        return []

    def _angle(self, record: Tightening, one: Pass) -> list[Finding]:
        wish, limit = self.plan.spec.target, self.plan.spec.procedure.movement_limit
        known = record.angle is not None and math.isfinite(record.angle)
        if one.check:
            if movement_of(record) is None and limit is not None:
                return [Finding("no angle", "not judged", "the movement on the check pass is not recorded")]
            return []
        if wish.method != "torque and angle" or wish.angle_window is None or one.number != self._last:
            return []
        if record.angle is None or not known:
            return [Finding("no angle", "not judged", "the record has no angle, and the method needs one")]
        lower, upper = wish.angle_window
        if below(record.angle, lower.si) or above(record.angle, upper.si):
            turned = f"{math.degrees(record.angle):.4g}°"
            return [
                Finding(
                    "angle out of window",
                    "not accepted",
                    f"the angle {turned} is outside {lower.text} to {upper.text}",
                    overload=True,
                )
            ]
        return []

    def _tool(self, record: Tightening) -> list[Finding]:
        if not record.tool:
            return [Finding("tool not known", "not judged", "the record names no tool", ("no tool",))]
        if record.tool not in self._allowed:
            return [
                Finding(
                    "wrong tool",
                    "not accepted",
                    f"{record.tool} is not allowed for this joint (allowed: {', '.join(self.plan.spec.tools_allowed)})",
                    (record.tool,),
                )
            ]
        if record.tool not in self._tools:
            return [
                Finding(
                    "tool not known",
                    "not judged",
                    self._unknown(record),
                    (record.tool,),
                )
            ]
        moment = self.moments[record.key]
        days = days_of_use(record, moment)
        if days is None:
            return [
                Finding(
                    "time in doubt",
                    "not judged",
                    f"the day of use is not known ({moment.doubt}), so neither is "
                    f"whether the certificate of {record.tool} covered it",
                    (record.tool,),
                )
            ]
        outcome, text = self._certificate(record.tool, *days)
        if outcome == "not accepted":
            return [Finding("certificate not valid", "not accepted", text, (record.tool, days[0].isoformat()))]
        if outcome == "not judged":
            return [Finding("time in doubt", "not judged", text, (record.tool, "part"))]
        return []

    def _unknown(self, record: Tightening) -> str:
        """Why nothing is known of a tool that could be judged."""
        held = self.fit.held
        if record.tool not in held.items and record.tool not in held.assemblies:
            return f"{record.tool} is not in the tool register, so its certificate cannot be judged"
        days = days_of_use(record, self.moments[record.key])
        day = self.plan.spec.source.in_force_from if days is None else days[0]
        why = self.fit.why_none(record.tool, day)
        return f"{record.tool} is in the register, and at no time calibrated as a whole: {why}"

    def _fitness(self, record: Tightening, one: Pass) -> list[Finding]:
        """Whether the tool was fit for this pull on the day of use, and whether the record states it as the register
        does. Days without a certificate and tools that are not known have flags of their own; what happened to a tool
        is judged by the moment, in the gate."""
        days = days_of_use(record, self.moments[record.key])
        if not record.tool or record.tool not in self._tools or days is None:
            return []
        value = PassValue(one.name, one.torque_of(record.fastener), *one.window(record.fastener))
        found = []
        against = self.fit.against_use(record.tool, value, days, self.plan.spec.joint_class, record.counter)
        if against:
            of_pass = str(one.number) if any(reason.code in OF_A_PASS for reason in against) else ""
            text = f"{record.tool} was not fit on {days[0]}: {'; '.join(reason.words for reason in against)}"
            codes = tuple(dict.fromkeys(reason.code for reason in against))
            self.unfit.setdefault(record.key, set()).update(codes)
            found.append(Finding("tool not fit", "note", text, (record.tool, "+".join(codes), of_pass)))
        if record.particulars:
            differs, blocks = stated_otherwise(record, value, days, self.fit, self._tools[record.tool])
            if differs:
                text = f"{record.tool}: {'; '.join(differs)}"
                found.append(Finding("tool stated otherwise", "not judged" if blocks else "note", text, (text,)))
        return found

    def _revision(self, record: Tightening, one: Pass) -> list[Finding]:
        """By the revision in force on the day of the pull as well as by the newest."""
        days = days_of_use(record, self.moments[record.key])
        if days is None:
            return []  # flagged as a time in doubt
        outcome, text = self._revisions.judge(record, one, days[0])
        return [] if outcome is None else [Finding("earlier revision", outcome, text, (text,))]

    def _certificate(self, serial: str, first: date, last: date) -> tuple[str, str]:
        place = (serial, first, last)
        if place not in self._days:
            begins = [
                not any(certificate_problem(tool, day) == "" for tool in self._tools[serial]) for day in (first, last)
            ]
            if not any(begins):
                self._days[place] = ("", "")
            elif all(begins):
                text = "; ".join(certificate_problem(tool, first) for tool in self._tools[serial])
                if last < min(tool.certificate_from for tool in self._tools[serial]):
                    text = f"before its first certificate: {text}"
                self._days[place] = ("not accepted", f"{serial} was used on {first}: {text}")
            else:
                self._days[place] = (
                    "not judged",
                    f"{serial} was used between {first} and {last}, and its certificate "
                    "covers only a part of that time",
                )
        return self._days[place]

"""Gates: what has to be met before the work, between the passes and before the release, each with its reason.

A gate is met, not met, excepted (a person with the authority entered an exception), decided (flag by flag) or not
asked. What existing flags already say (order of the passes, rest on the last pass) is shown here and not flagged twice.
What an exception covers: `exceptions`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from evenpull.card.serial import joint_check_character
from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.people import blocked, folded, qualified
from evenpull.ledger.words import fasteners
from evenpull.plan.model import Plan
from evenpull.proof.exceptions import NAMED, Against, covering, excepted, exceptions, said, standing_for_all
from evenpull.proof.judging import Judge, days_of_use
from evenpull.proof.model import Flag, GateResult, GateState
from evenpull.proof.moments import Moment
from evenpull.proof.placing import undoes
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import some
from evenpull.proof.undone import UNDOING

RULES = {
    "identity": "Two sources name the joint, one its tag with check character, before the first loosening or pull.",
    "isolation": "Permit, isolation and proof that no energy is left are stated before the first loosening or pull.",
    "pass order": "A pass is complete on all fasteners before the next one begins.",
    "last pass": "The last pass shows that no fastener moves more than its limit.",
    "independent check": "A person who is no operator of the joint saw all fasteners in order after the last pull.",
    "qualification": "Each operator holds the qualification on the day of the pull.",
    "revision": "Each pull was made under a revision of the specification that was in force on its day.",
    "tool fit": "Each tool was fit for its pulls on the day: chain complete, range, direction, class, cycles, limits "
    "on use, uncertainty against the window. None was used while it, or a part of it, was blocked, dropped, "
    "overloaded, lost or outside its limits in a shift check.",
    "test": "The test that the joint asks for is recorded as passed after the last pull.",
}
OWN_FLAGS = ("pass order", "last pass", "revision")  # other flags say it with their numbers


@dataclass(frozen=True)
class _Case:
    plan: Plan
    records: Sequence[Tightening]
    around: Surroundings
    judge: Judge
    flags: Sequence[Flag]

    @property
    def operators(self) -> set[str]:
        return {folded(r.operator) for r in self.records if r.operator.strip()}

    def kinds(self, *names: str) -> list[Entry]:
        return sorted((e for e in self.around.entries if e.kind in names), key=lambda e: (e.at, e.seq))

    def first_touch(self) -> float:
        """Earliest moment (s) at which somebody may have turned or loosened a fastener, by entries and by records;
        infinite when nobody has, -infinite when a record does not tell."""
        entries = [e.at.timestamp() - e.at_uncertainty for e in self.kinds(*UNDOING)]
        pulls = [self.judge.moments[r.key].low for r in self.records if r.event != "check-device pull"]
        return min([*entries, *pulls], default=math.inf)

    def last_pull(self) -> float:
        """Latest moment (s) at which a tightening may have happened; -infinite when there is none."""
        pulls = [r for r in self.records if not undoes(r) and r.event not in ("residual check", "check-device pull")]
        return max((self.judge.moments[r.key].high for r in pulls), default=-math.inf)

    def undone(self) -> list[Entry | Moment]:
        """All that undid the joint or a part of it, by entries and by records."""
        return [*self.kinds(*UNDOING), *(self.judge.moments[r.key] for r in self.records if undoes(r))]


@dataclass(frozen=True)
class _Found:
    """A gate before exceptions. `against`: what stands against it, where records decide it; `since`: what an exception
    from it as a whole has to be younger than."""

    gate: GateResult
    against: tuple[Against, ...] = ()
    since: tuple[Entry | Moment, ...] = ()


def gates(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, flags: Sequence[Flag]
) -> tuple[GateResult, ...]:
    """All gates of a joint in the order of the work. `flags`: what was found otherwise."""
    case = _Case(plan, records, around, judge, flags)
    found = (
        _identity(case), _isolation(case), _flagged(case, "pass order", ("out of order", "pass not complete")),
        _flagged(case, "last pass", ("moved on check pass",)), _independent(case), _qualification(case),
        _flagged(case, "revision", ("earlier revision",)), _tools(case), _test(case),
    )  # fmt: skip
    return tuple(_excepted(case, gate) for gate in found)


def told_apart(gate: GateResult, is_open: Set[str]) -> GateResult:
    """A gate whose flags were all closed, one by one, by people's decisions is neither met nor open."""
    if gate.state != "not met" or gate.name not in OWN_FLAGS or not gate.against or is_open & set(gate.against):
        return gate
    return replace(gate, state="decided", reason=f"{gate.reason}; decided flag by flag")


def independent_check(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge
) -> GateResult:
    """The gate of the second person alone; the state of each fastener tells the rest."""
    case = _Case(plan, records, around, judge, ())
    return _excepted(case, _independent(case))


def _gate(name: str, state: GateState, reason: str, fasteners: Iterable[int] = ()) -> _Found:
    return _Found(GateResult(name, RULES[name], state, reason, tuple(sorted(set(fasteners)))))


def _against(name: str, what: Sequence[Against], most: int) -> _Found:
    """A gate that is not met because of records."""
    numbers = tuple(sorted({r.fastener for one in what for r in one.records}))
    texts = list(dict.fromkeys(one.text for one in what))
    gate = GateResult(name, RULES[name], "not met", some(texts, most), numbers, tuple(one.key for one in what))
    return _Found(gate, tuple(what))


def _excepted(case: _Case, found: _Found) -> GateResult:
    """The gate with the exceptions that let the work go on although it is not met."""
    gate = found.gate
    if gate.state != "not met":
        return gate
    given = exceptions(case.plan, case.records, case.around, gate.name)
    if gate.name not in NAMED:
        entry = standing_for_all(given, gate.fasteners, found.since)
        if entry is None:
            return gate
        whole = (excepted(entry),)
        return replace(gate, state="excepted", reason=f"{gate.reason}; {said(whole)}", excepted=whole)
    by_key = {one.key: entry for one in found.against if (entry := covering(given, one, case.around, case.judge))}
    if not by_key:
        return gate
    covers = tuple(excepted(entry, key) for key, entry in by_key.items())
    rest = [one for one in found.against if one.key not in by_key]
    if not rest:
        return replace(gate, state="excepted", reason=f"{gate.reason}; {said(covers)}", excepted=covers)
    left = _against(gate.name, rest, 3).gate
    numbers = sorted({r.fastener for one in found.against if one.key in by_key for r in one.records})
    return replace(
        gate, reason=f"{left.reason}; only {fasteners(numbers)} excepted: {said(covers)}", excepted=covers
    )  # fmt: skip


def _stamp(seconds: float) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d %H:%M} UTC"


def _before(case: _Case, entries: Sequence[Entry], name: str, what: str) -> _Found:
    """Whether one of these entries was there before anybody touched the joint."""
    touched = case.first_touch()
    for entry in entries:
        if entry.at.timestamp() + entry.at_uncertainty <= touched:
            return _gate(name, "met", f"{what}, by {entry.by} on {entry.at:%Y-%m-%d %H:%M} UTC")
    if entries:
        when = "and when the joint was first touched is not known" if math.isinf(touched) else (
            f"not before the joint was touched ({_stamp(touched)})"
        )
        return _gate(name, "not met", f"{what} on {entries[0].at:%Y-%m-%d %H:%M} UTC, {when}")
    return _gate(name, "not met", f"{what}: no entry")


def _identity(case: _Case) -> _Found:
    if not case.plan.spec.gates.identity:
        return _gate("identity", "not asked", "the joint does not ask for it")
    joint, right, wrong, told = case.plan.spec.id, list[Entry](), list[Entry](), list[str]()
    for entry in case.kinds("identity confirmed"):
        fault = identity_fault(joint, entry)
        if fault:
            wrong.append(entry)
            told.append(f"{entry.by}: {fault}")
        else:
            right.append(entry)
    if not right and wrong:
        return replace(_gate("identity", "not met", some(told, 3)), since=tuple(wrong))
    return _before(case, right, "identity", "the joint named by two sources")


def identity_fault(joint: str, entry: Entry) -> str:
    """What is wrong with an entry "identity confirmed" for this joint; "" when both sources name it."""
    tag, check = entry.text("tag").strip().upper(), entry.text("check").strip().upper()
    if tag != joint.upper():
        return f"the tag copied from the joint reads {entry.text('tag')!r}, not {joint!r}"
    if check != joint_check_character(joint):
        return f"the check character {check!r} does not belong to {joint}"
    if joint.upper() not in entry.text("second_text").upper():
        return f"the second source ({entry.text('second_source')}) reads {entry.text('second_text')!r}, not {joint!r}"
    return ""


def _isolation(case: _Case) -> _Found:
    if not case.plan.spec.gates.isolation:
        return _gate("isolation", "not asked", "the joint does not ask for it")
    return _before(case, case.kinds("isolation confirmed"), "isolation", "isolation and permit")


def _flagged(case: _Case, name: str, codes: tuple[str, ...]) -> _Found:
    """A gate that other flags decide."""
    asked = {
        "pass order": case.plan.spec.procedure.strict_passes and len(case.plan.passes) > 1,
        "last pass": any(one.check for one in case.plan.passes),
        "revision": True,
    }[name]
    if not asked:
        return _gate(name, "not asked", "the procedure does not ask for it")
    by_key = {record.key: record for record in case.records}
    against = [
        Against(flag.key, flag.text, tuple(by_key[key] for key in flag.records), flag.unit_id)
        for flag in case.flags if flag.code in codes and flag.blocking
    ]  # fmt: skip
    if against:
        return _against(name, against, 3)
    if not case.records:
        return _gate(name, "not met", "no record")
    return _gate(name, "met", "nothing in the records speaks against it")


def _independent(case: _Case) -> _Found:
    if not case.plan.spec.gates.independent_check:
        return _gate("independent check", "not asked", "the joint does not ask for it")
    state: dict[int, Entry] = {}
    own: list[str] = []
    after = case.last_pull()
    for entry in case.kinds("checked"):
        if folded(entry.by) in case.operators:
            own.append(entry.by)
        elif entry.at.timestamp() - entry.at_uncertainty >= after:
            numbers = entry.fasteners or range(1, case.plan.spec.fasteners.count + 1)
            state |= dict.fromkeys(numbers, entry)
    bad = sorted(n for n, entry in state.items() if entry.text("result") != "in order")
    lacking = sorted(set(range(1, case.plan.spec.fasteners.count + 1)) - state.keys())
    if bad:
        found = _gate("independent check", "not met", f"found not in order: {some([str(n) for n in bad])}", bad)
        return replace(found, since=tuple(state[n] for n in bad))
    if lacking:
        who = f"; {some(sorted(set(own)))} worked on the joint and cannot check it" if own else ""
        what = "no second person has seen it after the last pull"
        if state:
            what = f"not seen after the last pull: {some([str(n) for n in lacking])}"
        return replace(_gate("independent check", "not met", what + who, lacking), since=tuple(case.undone()))
    names = sorted({entry.by for entry in state.values()})
    return _gate("independent check", "met", f"seen in order by {some(names)}")


def _qualification(case: _Case) -> _Found:
    wanted = case.plan.spec.gates.qualification
    if not wanted:
        return _gate("qualification", "not asked", "the joint does not ask for it")
    against: list[Against] = []
    for record in case.records:
        days = days_of_use(record, case.judge.moments[record.key])
        name = " ".join(record.operator.split())
        if not name or days is None:
            continue  # flagged as not proven, or as a time in doubt
        for day in dict.fromkeys(days):
            held, why = qualified(case.around.people.get(folded(name), ()), wanted, day)
            if not held:
                unit = record.unit_id if case.plan.spec.series else ""
                against.append(Against(f"{record.key}: {why}", f"{name}: {why}", (record,), unit))
                break
    if against:
        return _against("qualification", sorted(against, key=lambda a: a.text), 4)
    if not case.operators:
        return _gate("qualification", "not met", "no record says who worked")
    return _gate("qualification", "met", f"{wanted!r} held by every operator on the day of each pull")


def _tools(case: _Case) -> _Found:
    if not case.records:
        return _gate("tool fit", "not asked", "no record: nothing was used")
    by_key = {record.key: record for record in case.records}
    against = [
        Against(f"{key}: not fit: {'+'.join(sorted(case.judge.unfit[key]))}", flag.text, (by_key[key],), flag.unit_id)
        for flag in case.flags if flag.code == "tool not fit" for key in flag.records
    ]  # fmt: skip
    for record in case.records:
        moment = case.judge.moments[record.key]
        if not moment.bounded:
            continue
        first, last = (datetime.fromtimestamp(s, UTC) for s in (moment.low, moment.high))
        own = blocked(case.around.tools.get(record.tool, ()), first, last)
        if why := own or "; ".join(case.judge.fit.events(record.tool, moment.low, moment.high)):
            unit = record.unit_id if case.plan.spec.series else ""
            against.append(Against(f"{record.key}: {why}", f"{record.tool}: {why}", (record,), unit))
    if against:
        return _against("tool fit", sorted(against, key=lambda a: a.text), 4)
    return _gate("tool fit", "met", "every tool was fit for its pulls, and none was used while it was blocked, dropped "
                 "or outside its limits; certificates are judged pull by pull")


def _test(case: _Case) -> _Found:
    wanted = case.plan.spec.gates.test
    if not wanted:
        return _gate("test", "not asked", "the joint does not ask for it")
    tests = [e for e in case.kinds("test") if folded(e.text("test")) == folded(wanted)]
    after = [e for e in tests if e.at.timestamp() - e.at_uncertainty >= case.last_pull()]
    if not after:
        seen = "only before the last pull" if tests else "no entry"
        return replace(_gate("test", "not met", f"{wanted}: {seen}"), since=tuple(case.undone()))
    last = after[-1]
    value = f" ({last.text('value')})" if last.text("value") else ""
    words = f"{wanted}: {last.text('result')}{value}, {last.by}, {last.at:%Y-%m-%d %H:%M} UTC"
    if last.text("result") == "passed":
        return _gate("test", "met", words)
    return replace(_gate("test", "not met", words), since=(last, *case.undone()))

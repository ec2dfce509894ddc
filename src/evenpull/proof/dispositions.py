"""What people decided on flags: which decision stands, whether it is allowed, and whether it closes the flag."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from types import MappingProxyType

from evenpull.intake.record import Tightening
from evenpull.ledger.people import folded
from evenpull.plan.model import Plan
from evenpull.proof.actions import ACTIONS, AGAIN, LEAVE_OUT, PERSON
from evenpull.proof.flags import key_parts
from evenpull.proof.model import Cell, Disposition, Excepted, Flag, FlagCode, GateResult, Proof
from evenpull.proof.moments import Moment, MomentSet
from evenpull.proof.placing import undoes
from evenpull.proof.rules import RULES, refusal

# One of the records named is the pull.
ONE_STANDS: tuple[FlagCode, ...] = ("doubled", "conflicting record", "card and tool differ")


class DispositionError(ValueError):
    """A disposition that names no flag, gives no reason or name, or is not allowed. The message says what is."""


def check_disposition(plan: Plan, proof: Proof, disposition: Disposition) -> Flag:
    """The flag that a new disposition acts on. Raises DispositionError; call it before it becomes a fact."""
    return _checked(plan, proof, disposition, {flag.key: flag for flag in proof.flags})


def check_together(plan: Plan, proof: Proof, given: Sequence[Disposition]) -> tuple[Flag, ...]:
    """The flags that one act decides on, all of one code. DispositionError names every one that it cannot decide on."""
    by_key = {flag.key: flag for flag in proof.flags}
    found, wrong = list[Flag](), list[str]()
    for disposition in given:
        try:
            found.append(_checked(plan, proof, disposition, by_key))
        except DispositionError as error:
            wrong.append(str(error))
    codes = sorted({flag.code for flag in found})
    if len(codes) > 1:
        wrong.append(f"one act decides on flags of one kind; these are of {len(codes)}: {', '.join(codes)}")
    if not given:
        wrong.append("no flag is named")
    if wrong:
        raise DispositionError("; ".join(text.rstrip(".") for text in wrong))
    return tuple(found)


def _checked(plan: Plan, proof: Proof, disposition: Disposition, by_key: Mapping[str, Flag]) -> Flag:
    check_form(plan, disposition)
    flag = by_key.get(disposition.flag_key)
    if flag is None:
        near = get_close_matches(disposition.flag_key, [f.key for f in proof.flags], 3, 0.6)
        hint = f"; near ones: {', '.join(near)}" if near else f"; the joint has {len(proof.flags)} flags"
        raise DispositionError(f"{disposition.flag_key!r} is no flag of {plan.spec.id}{hint}")
    records = [record for cell in proof.cells for record in cell.records]
    if folded(disposition.by) in deciders_refused(plan, records):
        raise DispositionError(
            f"{disposition.by} tightened fasteners of {plan.spec.id}, a joint of class A: another person has to decide"
        )
    if why := refusal(flag.code, disposition.action, plan.spec.joint_class):
        raise DispositionError(f"{why}. Flag: {flag.text}")
    return flag


def check_form(plan: Plan, disposition: Disposition) -> None:
    """What can be told without the findings: form of the key, joint, action, reason, name, time."""
    parts = key_parts(disposition.flag_key)
    if parts is None or parts[0] not in RULES:
        raise DispositionError(f"{disposition.flag_key!r} is not the key of a flag")
    if parts[1] != plan.spec.id:
        raise DispositionError(f"{disposition.flag_key!r} is a flag of joint {parts[1]}, not of {plan.spec.id}")
    if disposition.action not in ACTIONS:
        raise DispositionError(f"{disposition.action!r} is no disposition; allowed: {', '.join(ACTIONS)}")
    for name, text in (("reason", disposition.reason), ("name", disposition.by)):
        if not text.strip():
            raise DispositionError(f"a disposition needs a {name}: flag {disposition.flag_key!r}")
    if disposition.at.tzinfo is None:
        raise DispositionError(f"the time of a disposition needs a zone: {disposition.at.isoformat()}")


def in_time(dispositions: Iterable[Disposition]) -> tuple[Disposition, ...]:
    """All of them, earliest first, each once."""
    return tuple(sorted(set(dispositions), key=lambda d: (d.at, d.flag_key, d.action, d.by, d.reason)))


def standing(dispositions: Sequence[Disposition]) -> dict[str, Disposition]:
    """Flag key -> the latest disposition on it, which supersedes the earlier ones."""
    return {d.flag_key: d for d in dispositions}


def deciders_refused(plan: Plan, records: Iterable[Tightening]) -> frozenset[str]:
    """Names (folded) of people who may not decide on this joint: in class A those who tightened it."""
    if plan.spec.joint_class != "A":
        return frozenset()
    return frozenset(folded(record.operator) for record in records if record.operator.strip())


def allowed(plan: Plan, records: Iterable[Tightening], given: Sequence[Disposition]) -> list[Disposition]:
    """The dispositions that count: in class A nobody decides on his own work."""
    refused = deciders_refused(plan, records)
    return [disposition for disposition in given if folded(disposition.by) not in refused]


def check_records(dispositions: Iterable[Disposition], known: set[str]) -> None:
    """A key that names a record must name one that was received: records are never taken away again."""
    by_record: set[FlagCode] = {
        "out of window",
        "not reached",
        "source disagrees",
        "angle out of window",
        "no angle",
        "moved on check pass",
        "unit slip suspected",
        "unknown fastener",
        "no torque",
    }
    for disposition in dispositions:
        parts = key_parts(disposition.flag_key)
        if parts is None or parts[0] not in by_record:
            continue
        tail = parts[2]
        if tail and not tail.startswith("#") and tail not in known:
            raise DispositionError(f"{disposition.flag_key!r} names a record that this joint does not have")


def left_out(
    plan: Plan, flags: Iterable[Flag], decided: Mapping[str, Disposition], records: Iterable[Tightening] = ()
) -> dict[str, str]:
    """Record key -> flag key, for the records that a person took out of the judgement of this joint.

    That another record stands for a loosening is no reason to take the loosening away: it opened the fastener.
    """
    undoing = {record.key for record in records if undoes(record) or record.event == "replace"}
    found: dict[str, str] = {}
    for flag in flags:
        disposition = decided.get(flag.key)
        if disposition is None or disposition.action not in LEAVE_OUT:
            continue
        if disposition.action == "superseded" and flag.code in ONE_STANDS and len(flag.records) > 1:
            continue  # which of them is superseded is not said: the places have to be accepted as they are
        if not refusal(flag.code, disposition.action, plan.spec.joint_class):
            keys = flag.records if disposition.action == "not this joint" else set(flag.records) - undoing
            found.update(dict.fromkeys(sorted(keys), flag.key))
    return found


def excepted_by(gates: Iterable[GateResult]) -> dict[str, Excepted]:
    """Flag key -> the exception that covers it."""
    return {one.key: one for gate in gates for one in gate.excepted if one.key}


class Closing:
    """Decides which flags are closed, from the cells as the records show them."""

    def __init__(
        self,
        plan: Plan,
        cells: Sequence[Cell],
        moments: Mapping[str, Moment],
        overloaded: frozenset[str] = frozenset(),
        excepted: Mapping[str, Excepted] = MappingProxyType({}),
    ) -> None:
        self.plan, self.moments, self.overloaded, self.excepted = plan, moments, overloaded, excepted
        self._at = {(c.unit_id, c.fastener, c.pass_number): c for c in cells}
        self._of_flag: dict[str, list[Cell]] = {}
        for cell in cells:
            for key in cell.flags:
                self._of_flag.setdefault(key, []).append(cell)

    def closed(self, flag: Flag, disposition: Disposition | None) -> bool:
        given = self.excepted.get(flag.key)
        if given is not None and (disposition is None or disposition.at <= given.at):
            return True  # a decision that came after the exception takes its place
        if disposition is None or refusal(flag.code, disposition.action, self.plan.spec.joint_class):
            return False
        if disposition.action in PERSON:
            return True
        if disposition.action in AGAIN:
            return self._again(flag, every_pass=disposition.action == "replace")
        # Leaving out records changes the findings themselves; a row is answered by the person's word, and so are
        # records of which one stands. A place that is not accepted stays against the release (see decide).
        return not flag.records or (flag.code in ONE_STANDS and len(flag.records) > 1)

    def _again(self, flag: Flag, *, every_pass: bool) -> bool:
        """Later records, none of them named by the flag, are accepted in every place concerned.

        A pull that may have harmed a fastener is not undone by another pull on top of it: it has to be loosened or
        replaced first. A movement is settled by a check of all fasteners, which turns its flag into a note.
        """
        if flag.code == "moved on check pass" or not self.overloaded.isdisjoint(flag.records):
            return False
        cells = self._of_flag.get(flag.key, [])
        if every_pass:
            owners = {(c.unit_id, c.fastener) for c in cells}
            if not owners and flag.fastener is not None:
                owners = {(flag.unit_id, flag.fastener)}
            cells = [
                self._at[unit, fastener, p.number]
                for unit, fastener in sorted(owners)
                for p in self.plan.passes
                if (unit, fastener, p.number) in self._at
            ]
        if not cells or not flag.records or any(key not in self.moments for key in flag.records):
            return False
        named = MomentSet(self.moments[key] for key in flag.records)
        return all(
            cell.verdict == "accepted"
            and cell.proving is not None
            and cell.proving.key not in flag.records
            and named.all_before(self.moments[cell.proving.key])
            for cell in cells
        )

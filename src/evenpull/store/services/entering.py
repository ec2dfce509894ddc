"""Entries: what people state about a joint, a tool, a person or a lot. One door, checked by the table of kinds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from evenpull.ledger.check import AHEAD, check
from evenpull.ledger.corrections import check_correction
from evenpull.ledger.entry import Basis, Entry, EntryError, to_json
from evenpull.ledger.kinds import KINDS
from evenpull.ledger.people import folded
from evenpull.proof import may_be_asked, standing_of_follow_ups
from evenpull.proof.exceptions import NAMED
from evenpull.store.services import accounts, judging, register
from evenpull.store.services.around import entries_about, entries_of_joint, entry_of
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import ENTRY
from evenpull.store.services.index import name_of, written_once
from evenpull.store.services.log import New, append, behind, checked_author, next_key, writing

CORRECTION, EXCEPTION, FOLLOW_UP = "correction", "exception", "follow-up done"
SNAPSHOT = ("hand-over", "interruption", "tool change", "method change")  # these keep the state they happened in


def add_entry(
    kind: str,
    name: str,
    values: Mapping[str, str],
    author: str,
    *,
    unit: str = "",
    fasteners: Sequence[int] | str = (),
    at: datetime | None = None,
    at_uncertainty: float = 0.0,
    basis: Basis = "did it",
    reason: str = "",
    once: str = "",
    by_password: bool = False,
) -> Entry:
    """Write an entry about `name` (joint id, serial, person or lot, as its kind says). EntryError with every fault.

    `at` None means now, which is refused while this machine's clock stands behind what was written before.
    `once`: a key of the caller's own; the same key again gives the entry that is there already.
    `by_password`: the writer gave the own password again with it; the fact says so.
    Refused for a joint that nobody described, and for a writer who must not be an operator of the joint and is one.
    """
    who = checked_author(author)
    with writing():
        if once and (fact := written_once(once)) is not None:
            return entry_of(fact)
        now = datetime.now(UTC)
        if at is None:
            at_uncertainty += _unsure_now(kind, now)
        spec = None
        if kind in KINDS and KINDS[kind].subject == "joint":
            spec = register.specification(name)
        entry = check(
            kind, values, name=name, unit=unit, fasteners=fasteners, at=at or now, at_uncertainty=at_uncertainty,
            basis=basis, reason=reason, by=who, written_at=now, count=None if spec is None else spec.fasteners.count,
        )  # fmt: skip
        body = to_json(entry)
        if spec is not None:
            view = judging.joint(spec.id)
            if KINDS[kind].second and name_of(who) in {name_of(r.operator) for r in view.tightenings}:
                raise Refused(
                    f"{kind!r} needs another person than the operators of {spec.id}, and {who} is one of them. "
                    "Nothing was written."
                )
            if kind == CORRECTION:
                _fits(view, entry)
            if kind == FOLLOW_UP:
                _is_asked(view, entry)
            if kind == EXCEPTION:
                body = to_json(_with_what_it_covers(view, entry))
            if kind in SNAPSHOT:
                body["state"] = snapshot(view)
        key = next_key(ENTRY) + (f":{once}" if once else "")
        if by_password:
            body["identity"] = accounts.identity(True)
        if once:
            body["once"] = once
        (fact,) = append([New(ENTRY, key, body, spec.id if spec is not None else "")], who)
    return entry_of(fact)


def _fits(view: judging.JointView, entry: Entry) -> None:
    """EntryError for a correction that would not be applied: written, it would correct nothing and stand against the
    release until somebody decided on it."""
    said = check_correction(view.tightenings, view.around.entries, entry)
    way_out = {
        "record": f"the name of one of its {len(view.tightenings)} records, as the page of that fact gives it",
        "old": "what the record says now, after the corrections before this one, or: not stated",
        "new": f"another {entry.text('field')}",
    }
    if said.fault:
        raise EntryError(CORRECTION, ((said.at, said.fault, way_out[said.at]),))


def _is_asked(view: judging.JointView, entry: Entry) -> None:
    """EntryError for a follow-up that neither the joint nor its kind knows: written, it would close nothing, and
    what it found not in order on the joint as a whole would stand against no release."""
    known = [rule.name for rule in may_be_asked(view.plan)]
    if folded(entry.text("follow_up")) in map(folded, known):
        return
    states = {one.rule.name: one.state for one in standing_of_follow_ups(view.plan, view.proof, view.around)}
    names = ", ".join(f"{name!r} ({states.get(name, 'not needed, by the records')})" for name in known)
    raise EntryError(FOLLOW_UP, ((
        "follow_up",
        f"{entry.text('follow_up')!r} is no follow-up of {view.spec.id}, and would close none",
        f"{names or 'none is asked of this joint'}; what else was looked at is an entry 'checked', 'test' or "
        "'observation', and a follow-up of its own comes with a new revision of the joint file",
    ),))  # fmt: skip


def _with_what_it_covers(view: judging.JointView, entry: Entry) -> Entry:
    """An exception with the keys of all that it covers. Refused where it would cover nothing: an exception is made from
    what is there, not from what may come."""
    gate = entry.text("gate")
    if gate not in NAMED:
        return entry
    against = next((one.against for one in view.proof.gates if one.name == gate), ())
    trial = replace(entry, id="proposed", seq=view.upto, covers=against)
    seen = judging.joint(view.spec.id, proposed=(trial,))
    covers = tuple(
        one.key for found in seen.proof.gates if found.name == gate for one in found.excepted if one.entry == trial.id
    )
    if not covers:
        what = "nothing stands against it now" if not against else (
            "what stands against it lies on other fasteners, or is not known to be older than the exception"
        )
        raise Refused(
            f"an exception from the gate {gate!r} would cover nothing: {what}. An exception is made from what is "
            "there, not from what may come. Nothing was written."
        )
    return replace(entry, covers=covers)


def _unsure_now(kind: str, now: datetime) -> float:
    """How far "now" may be wrong, s, where an entry does not say when it was. EntryError where that is not known: an
    order would be made up, and a loosening could seem to lie before the tightening that it undid."""
    late = behind(now)
    if late > AHEAD.total_seconds():
        back = (
            f"is missing, and the clock of this machine ({now:%Y-%m-%d %H:%M} UTC) stands {late:,.0f} s behind what "
            "was written last, so that nobody knows what now is"
        )
        raise EntryError(kind, (("at", back, "set the clock right, or say when it happened"),))
    return late


def snapshot(view: judging.JointView) -> dict[str, object]:
    """What was proven at this moment: for each pass which fasteners are accepted, and the digest of the whole proof."""
    done: dict[str, list[int]] = {}
    for cell in view.proof.cells:
        if cell.verdict == "accepted":
            done.setdefault(f"{cell.unit_id}|{cell.pass_number}", []).append(cell.fastener)
    return {
        "proof": view.proof_digest,
        "records": view.proof.records,
        "accepted": {place: sorted(numbers) for place, numbers in sorted(done.items())},
        "open": len(view.proof.open_flags),
    }


def entries(subject: str, name: str) -> tuple[Entry, ...]:
    """The entries about a joint, tool, person or lot, the first one first."""
    if subject == "joint":
        return entries_of_joint(register.specification(name).id)
    if subject not in ("tool", "person", "lot"):
        raise Unknown(f"there are entries about a joint, tool, person or lot, not about {subject!r}")
    return entries_about(subject, name)

"""What follows from the facts of one joint, and the decisions people record on it.

specification + tools --make_plan--> plan;  plan + records + dispositions --prove--> proof --decide--> decision
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from django.db.models import Max

from evenpull.evidence import digest
from evenpull.evidence.checkpoint import moment, read_moment
from evenpull.ledger.entry import Entry
from evenpull.plan import make_plan
from evenpull.plan.make import torque_without_drag
from evenpull.plan.model import Problem
from evenpull.plan.prechecks import alike, compare
from evenpull.proof import ACTIONS, DispositionError, check_together, decide, prove
from evenpull.proof.doubt_flags import sheet_fingerprint
from evenpull.proof.model import Disposition, Flag
from evenpull.proof.resting import Loss, parted
from evenpull.proof.surroundings import CurvesHere, Withdrawn
from evenpull.report import proof_json
from evenpull.store.models import Checkpoint, CurveFile, Fact, Finding
from evenpull.store.services import accounts, received, register
from evenpull.store.services.around import around as gather
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import DISPOSITION
from evenpull.store.services.facts import of_joint, once
from evenpull.store.services.index import written_once
from evenpull.store.services.log import New, append, checked_author, checked_reason, writing
from evenpull.store.services.papers import cards_of, releases_of
from evenpull.store.services.rows import JointView, ReleaseRow

MOST_SIBLINGS = 2_000  # as many say what is usual as well as all


def dispositions(joint_id: str) -> tuple[tuple[int, Disposition], ...]:
    """The decisions on a joint, each with its place in the log."""
    return tuple(
        (fact.seq, Disposition(d["flag_key"], d["action"], d["reason"], fact.author, read_moment(d["at"])))
        for fact in of_joint(joint_id, DISPOSITION)
        for d in [fact.data]
    )


def log_size() -> int:
    """How many facts there are."""
    found: int | None = once("size of the log", lambda: Checkpoint.objects.aggregate(last=Max("size"))["last"])
    return found or 0


def joint(joint_id: str, proposed: Sequence[Entry] = ()) -> JointView:
    """Everything about one joint, computed from its facts. UnknownJoint with near ids. `proposed`: entries that are not
    written yet, to see what they would change."""
    upto = log_size()
    spec = register.specification(joint_id)
    now = datetime.now(UTC)
    today = now.date()
    held = received.of_joint(joint_id)
    rows, unread = held.tightenings, held.unread
    serials = {*spec.tools_allowed, *(row.tool for row in rows)}
    plan = make_plan(spec, register.tools_in_force(today, serials), today)
    files, signed = tuple(received.files_of(joint_id)), releases_of(joint_id)
    losses = [_loss(one) for one in held.lost]
    given, gone = parted(_under_new_keys(dispositions(joint_id), held.renamed), losses, held.places)
    around = replace(
        gather(spec, rows, {file.sha256: file.received_at for file in files if file.withdrawn is None}, now,
               sheet_fingerprint(rows, plan)),
        withdrawn=tuple(_withdrawn(one, signed, gone) for one in held.lost),
        curves=_curves(joint_id, held.places),
    )
    around = replace(around, entries=(*around.entries, *proposed))
    proof = prove(
        plan,
        rows,
        unread=unread,
        repeated=received.repeated_of(joint_id),
        dispositions=given,
        register=register.tools(serials),
        around=around,
    )
    decision = decide(plan, proof, around)
    return JointView(
        spec,
        plan,
        proof,
        decision,
        rows,
        unread,
        cards_of(joint_id),
        signed,
        files,
        tuple(register.revisions(joint_id)),
        digest(proof_json(proof, decision)),
        around,
        upto,
    )


def _curves(joint_id: str, places: Mapping[str, int]) -> CurvesHere | None:
    """What the curves of a joint say. Where no curve ever came, nothing of their judge is loaded."""
    if not once("files of curves", CurveFile.objects.exists):
        return None
    from evenpull.store.services import curves_joint

    return curves_joint.of_joint(joint_id, {seq: key for key, seq in places.items()})


def _under_new_keys(
    given: Iterable[tuple[int, Disposition]], renamed: Mapping[str, str]
) -> Iterator[tuple[int, Disposition]]:
    """Decisions that name one record by the key that it had in earlier versions name it by its key."""
    for seq, one in given:
        *head, tail = one.flag_key.split("|", 5)
        yield seq, replace(one, flag_key="|".join((*head, renamed[tail]))) if tail in renamed else one


def _loss(one: received.Lost) -> Loss:
    return Loss(
        one.withdrawal.taking, one.withdrawal.seq, frozenset(r.fastener for r in one.records), len(one.records),
        len(one.unread),
    )  # fmt: skip


def _withdrawn(
    one: received.Lost, signed: Sequence[ReleaseRow], gone: Mapping[int, Sequence[Disposition]]
) -> Withdrawn:
    """One withdrawal as the judgement needs it; a release signed while the reading counted rested on it."""
    said = one.withdrawal
    rested = tuple(
        f"the state {r.state!r} signed by {r.author} on {r.signed_at:%Y-%m-%d %H:%M} UTC"
        for r in signed
        if said.taking < int(r.id) < said.seq
    )
    return Withdrawn(
        said.seq, one.file.name, one.file.mapping, said.by, said.at, said.why, len(one.records), len(one.unread),
        rested, tuple(gone.get(said.seq, ())),
    )  # fmt: skip


def comparisons(joint_id: str) -> tuple[Problem, ...]:
    """The joint against the others of the dossier: siblings with another torque, the joint it was copied from.

    A sibling is known from its finding; one that was never judged is left out until it is.
    """
    spec = register.specification(joint_id)
    own = alike(spec)[:100]
    siblings: dict[str, float] = {}
    if own:
        found = Finding.objects.filter(alike=own).exclude(joint=spec.id).order_by("joint")
        siblings = {joint: value for joint, value in found.values_list("joint", "ratio")[:MOST_SIBLINGS] if value}
    model = None
    if spec.copied_from:
        for name in register.described([spec.copied_from]).values():
            try:
                other = register.specification(name)
            except Refused:
                continue
            model = other, torque_without_drag(other)
    return compare(spec, torque_without_drag(spec), siblings, model)


def dispose(
    joint_id: str, flag_key: str, action: str, reason: str, author: str, *, by_password: bool = False,
    once: str = "",
) -> bool:
    """Record a person's decision on one open point. Refused without a reason, for an unknown action or point, or when
    the rules do not let this action settle this kind of point. `by_password`: the password was given again with it.
    `once`: a key of the caller's own; the same key again writes nothing, and False comes back."""
    return bool(dispose_of(joint_id, (flag_key,), action, reason, author, by_password=by_password, once=once))


def dispose_of(
    joint_id: str, flag_keys: Iterable[str], action: str, reason: str, author: str, *, by_password: bool = False,
    once: str = "",
) -> tuple[Flag, ...]:
    """Record one decision, with one reason, on several points of one kind: a fact for each of them, or none at all.
    Refused as by `dispose`, with every point named that it cannot settle. Gives the points; none when `once` was
    written before."""
    who = checked_author(author)
    if action not in ACTIONS:
        raise Refused(f"{action!r} is no way to settle a point; there are: {', '.join(ACTIONS)}. Nothing was written.")
    why = checked_reason(reason, "a decision")
    with writing():
        if once and written_once(once) is not None:
            return ()
        view = joint(joint_id)
        now = datetime.now(UTC)
        given = [Disposition(key, action, why, who, now) for key in dict.fromkeys(flag_keys)]
        keys = {one.flag_key for one in given}
        before = max((d.at for _, d in dispositions(joint_id) if d.flag_key in keys), default=None)
        if before is not None and before >= now:  # the one before it would count as the later one
            raise Refused(
                f"the clock of this machine ({now:%Y-%m-%d %H:%M:%S} UTC) stands behind the decision that this one "
                f"would follow ({before:%Y-%m-%d %H:%M:%S} UTC); set the clock right. Nothing was written."
            )
        try:
            flags = check_together(view.plan, view.proof, given)
        except DispositionError as error:
            raise Refused(f"{str(error).rstrip('.')}. Nothing was written.") from error
        count = Fact.objects.filter(kind=DISPOSITION).count()
        body = {"action": action, "reason": why, "at": moment(now), "identity": accounts.identity(by_password)}
        if len(given) > 1:
            body["together"] = len(given)
        facts = [
            New(DISPOSITION, f"{DISPOSITION}:{count + n}", body | {"flag_key": one.flag_key}, joint_id)
            for n, one in enumerate(given, 1)
        ]
        if once and facts:
            facts[0].body["once"] = once
        append(facts, who)
    return flags

"""What follows from the facts of one joint, and the decisions people record on it.

specification + tools --make_plan--> plan;  plan + records + dispositions --prove--> proof --decide--> decision
"""

from __future__ import annotations

from datetime import UTC, datetime

from django.db.models import Max

from evenpull.evidence import digest
from evenpull.evidence.checkpoint import moment, read_moment
from evenpull.plan import make_plan
from evenpull.plan.make import torque_without_drag
from evenpull.plan.model import Problem
from evenpull.plan.prechecks import alike, compare
from evenpull.proof import ACTIONS, DispositionError, check_disposition, decide, prove
from evenpull.proof.model import Disposition
from evenpull.report import proof_json
from evenpull.store.models import Checkpoint, Fact, Finding
from evenpull.store.services import accounts, register, taking
from evenpull.store.services.around import around as gather
from evenpull.store.services.errors import Refused
from evenpull.store.services.facts import of_joint, once
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.papers import cards_of, releases_of
from evenpull.store.services.rows import JointView

DISPOSITION = "disposition"
MOST_SIBLINGS = 2_000  # as many say what is usual as well as all


def dispositions(joint_id: str) -> tuple[Disposition, ...]:
    return tuple(
        Disposition(d["flag_key"], d["action"], d["reason"], fact.author, read_moment(d["at"]))
        for fact in of_joint(joint_id, DISPOSITION)
        for d in [fact.data]
    )


def log_size() -> int:
    """How many facts there are."""
    found: int | None = once("size of the log", lambda: Checkpoint.objects.aggregate(last=Max("size"))["last"])
    return found or 0


def joint(joint_id: str) -> JointView:
    """Everything about one joint, computed from its facts. UnknownJoint with near ids."""
    upto = log_size()
    spec = register.specification(joint_id)
    now = datetime.now(UTC)
    today = now.date()
    rows, unread = taking.tightenings(joint_id), taking.unread_rows(joint_id)
    serials = {*spec.tools_allowed, *(row.tool for row in rows)}
    plan = make_plan(spec, register.tools_in_force(today, serials), today)
    files = tuple(taking.files_of(joint_id))
    around = gather(spec, rows, {file.sha256: file.received_at for file in files}, now)
    proof = prove(
        plan,
        rows,
        unread=unread,
        repeated=taking.repeated_of(joint_id),
        dispositions=dispositions(joint_id),
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
        releases_of(joint_id),
        files,
        tuple(register.revisions(joint_id)),
        digest(proof_json(proof, decision)),
        around,
        upto,
    )


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
    joint_id: str, flag_key: str, action: str, reason: str, author: str, *, by_password: bool = False
) -> None:
    """Record a person's decision on one open point. Refused without a reason, for an unknown action or point, or when
    the rules do not let this action settle this kind of point. `by_password`: the password was given again with it."""
    who, why = checked_author(author), " ".join(reason.split())
    if action not in ACTIONS:
        raise Refused(f"{action!r} is no way to settle a point; there are: {', '.join(ACTIONS)}. Nothing was written.")
    if len(why) < 5:
        raise Refused("a decision needs its reason in words (5 characters or more). Nothing was written.")
    with writing():
        view = joint(joint_id)
        now = datetime.now(UTC)
        given = Disposition(flag_key, action, why, who, now)
        try:
            check_disposition(view.plan, view.proof, given)
        except DispositionError as error:
            raise Refused(f"{str(error).rstrip('.')}. Nothing was written.") from error
        count = Fact.objects.filter(kind=DISPOSITION).count()
        body = {"flag_key": flag_key, "action": action, "reason": why, "at": moment(now)}
        body["identity"] = accounts.identity(by_password)
        append([New(DISPOSITION, f"{DISPOSITION}:{count + 1}", body, joint_id)], who)

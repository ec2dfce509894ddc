"""What follows from the facts of one joint, and the decisions people record on it.

specification + tools --make_plan--> plan;  plan + records + dispositions --prove--> proof --decide--> decision
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from django.db.models import Max
from django.utils.crypto import constant_time_compare, salted_hmac

from evenpull.evidence import digest
from evenpull.evidence.checkpoint import moment, read_moment
from evenpull.plan import make_plan
from evenpull.plan.make import siblings, torque_without_drag
from evenpull.plan.model import Problem
from evenpull.plan.prechecks import compare
from evenpull.proof import ACTIONS, DispositionError, check_disposition, decide, prove
from evenpull.proof.model import RULES_VERSION, Disposition
from evenpull.report import proof_json
from evenpull.store.models import Fact, Finding
from evenpull.store.services import register, taking
from evenpull.store.services.errors import Refused
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.papers import cards_of, releases_of
from evenpull.store.services.rows import JointSummary, JointView

DISPOSITION = "disposition"


def dispositions(joint_id: str) -> tuple[Disposition, ...]:
    facts = Fact.objects.filter(kind=DISPOSITION, joint=joint_id).order_by("seq")
    return tuple(
        Disposition(d["flag_key"], d["action"], d["reason"], fact.author, read_moment(d["at"]))
        for fact in facts
        for d in [fact.data]
    )


def joint(joint_id: str) -> JointView:
    """Everything about one joint, computed from its facts. UnknownJoint with near ids."""
    spec = register.specification(joint_id)
    today = datetime.now(UTC).date()
    plan = make_plan(spec, register.tools_in_force(today), today)
    rows, unread = taking.tightenings(joint_id), taking.unread_rows(joint_id)
    proof = prove(
        plan,
        rows,
        unread=unread,
        repeated=taking.repeated_of(joint_id),
        dispositions=dispositions(joint_id),
        register=register.tools(),
    )
    decision = decide(plan, proof)
    return JointView(
        spec,
        plan,
        proof,
        decision,
        rows,
        unread,
        cards_of(joint_id),
        releases_of(joint_id),
        tuple(taking.files_of(joint_id)),
        tuple(register.revisions(joint_id)),
        digest(proof_json(proof, decision)),
    )


def comparisons(joint_id: str) -> tuple[Problem, ...]:
    """The joint against the others of the dossier: siblings with another torque, the joint it was copied from.

    A joint whose description this version refuses is left out; its own page says why.
    """
    spec = register.specification(joint_id)
    others = []
    for other in register.joint_ids():
        if other != joint_id:
            try:
                others.append(register.specification(other))
            except Refused:
                continue
    return compare(spec, torque_without_drag(spec), siblings(others))


def joints() -> list[JointSummary]:
    """One line for each joint, by id. Summaries are findings: kept until a fact, a rule or the day makes them old."""
    newest: dict[str, int] = {}
    for name, last in Fact.objects.exclude(joint="").order_by().values_list("joint").annotate(last=Max("seq")):
        newest[name.upper()] = max(last, newest.get(name.upper(), -1))
    shared = Fact.objects.filter(kind__in=(register.TOOLS, taking.FILE)).aggregate(last=Max("seq"))["last"]
    today = datetime.now(UTC).date()
    kept = {finding.joint: finding for finding in Finding.objects.all()}
    rows = []
    for joint_id in register.joint_ids():
        upto = f"{newest[joint_id.upper()]}/{shared}/{today}/{RULES_VERSION}"
        finding = kept.get(joint_id)
        if finding is None or finding.upto != upto or not constant_time_compare(finding.seal, _seal(finding)):
            finding = Finding(joint=joint_id, upto=upto, summary=json.dumps(asdict(_summary(joint_id))))
            finding.seal = _seal(finding)
            finding.save(force_insert=False)
        values: dict[str, Any] = json.loads(finding.summary)
        rows.append(JointSummary(**values | {"reasons": tuple(values["reasons"])}))
    return rows


def _seal(finding: Finding) -> str:
    """Findings may be thrown away, so no trigger guards them; the seal shows one that somebody else wrote."""
    return salted_hmac("finding", f"{finding.joint}\n{finding.upto}\n{finding.summary}", algorithm="sha256").hexdigest()


def _summary(joint_id: str) -> JointSummary:
    try:
        view = joint(joint_id)
    except Refused as error:  # one joint that cannot be judged must not hide all others
        return JointSummary(joint_id, "", "", "", "", "not released", (str(error),), 0, 0, 0, 0, 0)
    spec, proof = view.spec, view.proof
    return JointSummary(
        spec.id,
        spec.name,
        spec.place,
        spec.kind,
        spec.joint_class,
        view.standing,
        view.decision.reasons,
        len(proof.cells),
        sum(cell.verdict == "accepted" for cell in proof.cells),
        len(proof.open_flags),
        proof.records,
        len(proof.units),
    )


def dispose(joint_id: str, flag_key: str, action: str, reason: str, author: str) -> None:
    """Record a person's decision on one open point. Refused without a reason, for an unknown action or point, or when
    the rules do not let this action settle this kind of point."""
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
        append([New(DISPOSITION, f"{DISPOSITION}:{count + 1}", body, joint_id)], who)

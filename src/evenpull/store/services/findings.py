"""Findings kept: the summary of each joint, made again when a fact, a rule or a day made it old."""

from __future__ import annotations

import json
import os
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from django.db import connections
from django.db.models import Count, Q
from django.utils.crypto import constant_time_compare, salted_hmac

from evenpull.curve.version import RULES_VERSION as CURVE_RULES
from evenpull.evidence import canonical
from evenpull.plan.make import torque_without_drag
from evenpull.plan.prechecks import alike, ratio
from evenpull.proof.model import RULES_VERSION
from evenpull.store.models import Finding, Mention
from evenpull.store.services import bases, facts, index, judging
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import SPECIFICATION
from evenpull.store.services.log import writing
from evenpull.store.services.rows import JointPage, JointSummary

AT_ONCE = 60  # stale findings that a page makes fresh by itself; more are left to `refresh`
TOGETHER = 100  # findings made with one reading of facts and one commit
ON_A_PAGE = 50
RULES = f"{RULES_VERSION}, {CURVE_RULES}"  # a curve has its say in the proof of its joint
PATIENCE = 0.05  # s that a page spends on old findings where there are many


def _old(day: str) -> Q:
    """Findings that have to be made again on this day."""
    return Q(stale=True) | ~Q(rules=RULES) | (Q(good_until__gt="") & Q(good_until__lte=day))


def _today() -> str:
    return datetime.now(UTC).date().isoformat()


def seal(finding: Finding) -> str:
    """Findings may be thrown away, so no trigger guards them; the seal shows one that somebody else wrote."""
    said = canonical(
        [
            finding.joint, finding.upto, finding.rules, finding.good_until, finding.state, finding.joint_class,
            finding.words, finding.alike, repr(finding.ratio), finding.sheet, finding.summary,
        ]
    )  # fmt: skip
    return salted_hmac("finding", said.decode(), algorithm="sha256").hexdigest()


def compute(joint_id: str) -> Finding:
    """The finding of one joint as it follows from the facts now; writes nothing."""
    made = Finding(joint=joint_id, fold=index.fold(joint_id), stale=False, rules=RULES, upto=judging.log_size())
    try:
        view = judging.joint(joint_id)
    except Refused as error:  # one joint that cannot be judged must not hide all others
        summary = JointSummary(joint_id, "", "", "", "", "not released", (str(error),), 0, 0, 0, 0, 0)
        made.words = joint_id.lower()
    else:
        spec, proof = view.spec, view.proof
        summary = JointSummary(
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
        made.words = f"{spec.id} {spec.name} {spec.place} {spec.kind}".lower()[:600]
        made.alike = alike(spec)[:100]
        made.ratio = ratio(spec, torque_without_drag(spec)) if made.alike else None
        made.good_until, made.sheet, made.upto = view.good_until, view.sheet, view.upto
        made.basis = bases.of_plan(view.plan)  # type: ignore[attr-defined]
    made.state, made.joint_class = summary.state, summary.joint_class
    made.summary = json.dumps(asdict(summary))
    made.seal = seal(made)
    return made


def refresh(most: int | None = None, told: Callable[[int, int], None] | None = None) -> int:
    """Make old findings fresh, at most so many; how many were made. `told` hears (done, all) now and then."""
    if not Finding.objects.exists() and Mention.objects.filter(kind="kind", name=SPECIFICATION).exists():
        with writing():
            index.rebuild()
    names = list(Finding.objects.filter(_old(_today())).order_by("joint").values_list("joint", flat=True)[:most])
    for begin in range(0, len(names), TOGETHER):
        _refresh(names[begin : begin + TOGETHER])
        if told is not None:
            told(min(begin + TOGETHER, len(names)), len(names))
    return len(names)


def _refresh(names: list[str]) -> None:
    """Make the findings of a few joints fresh, with one reading of their facts and one commit."""
    sheets = Finding.objects.filter(joint__in=names).exclude(sheet="").values_list("joint", "sheet")
    held = set(sheets)
    made = compute_many(names)
    held |= {(one.joint, one.sheet) for one in made if one.sheet}
    with writing():  # one commit, not one for each; `save` still looks whether somebody wrote
        late = [one.joint for one in made if not save(one)]
    # The same sheet twice among these few: none of them saw the other's as it is now.
    count = Counter(sheet for _, sheet in held)
    late += sorted({joint for joint, sheet in held if count[sheet] > 1} - set(late))
    for name in late:  # somebody wrote meanwhile: once more, and nobody writes while it lasts
        with writing():
            save(compute(name))


def compute_many(names: list[str]) -> list[Finding]:
    """`compute` of many joints, their facts read at once."""
    upto, made = judging.log_size(), []
    with facts.held(names):
        for name in names:
            one = compute(name)
            one.upto = min(one.upto, upto)  # as old as the facts that were read first
            one.seal = seal(one)
            made.append(one)
    return made


def save(made: Finding) -> bool:
    """Keep a finding; False, and nothing kept, when facts were written since it was computed."""
    with writing():
        if judging.log_size() != made.upto:
            return False
        before = Finding.objects.filter(joint=made.joint).values_list("sheet", flat=True).first() or ""
        Finding.objects.filter(joint=made.joint).delete()
        made.save(force_insert=True)
        basis = getattr(made, "basis", None)
        if basis is not None:
            bases.keep([basis])
        if made.sheet != before:  # sheets that are the same now, or no longer are
            alike = [sheet for sheet in (made.sheet, before) if sheet]
            Finding.objects.filter(sheet__in=alike, stale=False).exclude(joint=made.joint).update(stale=True)
    return True


def refresh_within(seconds: float) -> None:
    """Make old findings fresh for so long; what is left after that waits for `keep_fresh` or the next time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end and refresh(1):
        pass


_keeping = threading.Lock()


def keep_fresh() -> None:
    """Make all old findings fresh beside the pages, in one thread of this process; where the pages are served only."""
    if os.environ.get("EVENPULL_KEEP_FRESH") != "1" or not _keeping.acquire(blocking=False):
        return

    def work() -> None:
        try:
            while refresh(50):
                pass
        finally:
            _keeping.release()
            connections.close_all()

    threading.Thread(target=work, name="findings kept fresh", daemon=True).start()


def joints() -> list[JointSummary]:
    """One line for each joint, by id, all of them fresh. For many joints `joint_page` is the way."""
    refresh()
    return [_row(finding) for finding in _sealed(Finding.objects.order_by("joint"))]


def joint_page(words: str = "", state: str = "", number: int = 1) -> JointPage:
    """The joints whose id, name, place or kind holds `words`, in this state; `number` counts pages from 1.

    Up to AT_ONCE old findings are made fresh first. Where there are more, they are counted in `old`, shown as last
    judged, and made fresh beside the pages (`keep_fresh`) or by `refresh`.
    """
    if Finding.objects.filter(_old(_today()))[: AT_ONCE + 1].count() <= AT_ONCE or not Finding.objects.exists():
        refresh(AT_ONCE)
    else:
        refresh_within(PATIENCE)
        keep_fresh()
    old = Finding.objects.filter(_old(_today())).count()
    counts = dict(Finding.objects.order_by().values_list("state").annotate(n=Count("joint")))
    found = Finding.objects.order_by("joint")
    if words:
        found = found.filter(words__contains=words.lower())
    if state:
        found = found.filter(state=state)
    total = found.count() if words or state else sum(counts.values())
    pages = max(1, -(-total // ON_A_PAGE))
    number = min(max(1, number), pages)
    rows = _sealed(found[(number - 1) * ON_A_PAGE : number * ON_A_PAGE])
    return JointPage(tuple(_row(one) for one in rows), total, counts, number, pages, old)


def _sealed(found: Any) -> list[Finding]:
    """The findings, those with a wrong seal made again."""
    kept = []
    for finding in found:
        if not constant_time_compare(finding.seal, seal(finding)):
            finding = compute(finding.joint)
            save(finding)  # when somebody wrote meanwhile it stays as it is and is made again the next time
        kept.append(finding)
    return kept


def _row(finding: Finding) -> JointSummary:
    if not finding.summary:
        return JointSummary(finding.joint, "", "", "", "", "not judged yet", (), 0, 0, 0, 0, 0)
    values: dict[str, Any] = json.loads(finding.summary)
    return JointSummary(**values | {"reasons": tuple(values["reasons"])})


def rebuild(told: Callable[[int, int], None] | None = None) -> int:
    """Throw index and findings away and make them again from the facts; how many findings there are. `told` hears
    (findings made, all) now and then."""
    with writing():
        index.rebuild()
    return refresh(told=told)


def differing(told: Callable[[int, int], None] | None = None) -> list[str]:
    """Joints whose kept finding, not marked old, differs from what the facts give now; empty when all agree. `told`
    hears (done, all) now and then."""
    wrong, done, last = list[str](), 0, ""
    fresh = Finding.objects.exclude(_old(_today())).order_by("joint")
    count = fresh.count()
    while some := list(fresh.filter(joint__gt=last)[:TOGETHER]):
        for kept, now in zip(some, compute_many([one.joint for one in some]), strict=True):
            now.upto = kept.upto
            if not seal(now) == kept.seal == seal(kept):  # what stands in it, not the seal alone
                wrong.append(kept.joint)
        last, done = some[-1].joint, done + len(some)
        if told is not None:
            told(done, max(done, count))
    return wrong

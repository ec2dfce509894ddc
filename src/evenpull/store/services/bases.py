"""What each joint asks, kept beside its finding: windows, size, friction, least load, for reviews of many joints.

A row belongs to one specification; of a joint that has another since, or none yet, it is made when it is asked for.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b
from secrets import compare_digest

from django.conf import settings
from django.db.models import Max

from evenpull.joint.parts.threads import thread
from evenpull.plan import make_plan
from evenpull.plan.model import Plan
from evenpull.review import JointBasis
from evenpull.store.models import Basis, Fact, Mention
from evenpull.store.services import facts, register
from evenpull.store.services.bulk import fetched, insert
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import SPECIFICATION
from evenpull.store.services.log import writing

AT_ONCE = 500
WHOLE = 1_000  # from so many joints on the table is read as a whole
COLUMNS = ("fold", "spec", "body", "seal")


@dataclass(frozen=True)
class Bases:
    """`by_fold` of the joints that are described; `made` how many had to be made for this, `refused` fold -> why a
    joint whose description this version refuses says nothing."""

    by_fold: dict[str, JointBasis]
    made: int
    refused: dict[str, str]


def body_of(plan: Plan) -> str:
    """The values as JSON; null where one is not stated."""
    spec = plan.spec
    windows: list[tuple[int, int, float, float]] = []
    for one in plan.passes:
        windows.append((one.number, 0, one.lower, one.upper)) if not one.own else windows.extend(
            (one.number, own.fastener, own.lower, own.upper) for own in one.own)
    K, wish = spec.friction.K, spec.target
    d = thread(spec.fasteners.thread).d if spec.fasteners.thread_stated else None
    angle = None if wish.angle_window is None else [one.si for one in wish.angle_window]
    return json.dumps([
        spec.id, spec.joint_class, windows, d, None if K is None else K.low, None if K is None else K.high,
        None if wish.required_preload is None else wish.required_preload.si,
        0.0 if wish.prevailing_torque is None else wish.prevailing_torque.si, angle,
    ])  # fmt: skip


def seal(fold: str, spec: int, body: str) -> str:
    """Shows a row that was not written here; a window moved by hand would change what a review says."""
    return _sealed(_key(settings.SECRET_KEY), fold, spec, body)


def _sealed(key: bytes, fold: str, spec: int, body: str) -> str:
    return blake2b(f"{fold}\n{spec}\n{body}".encode(), key=key, digest_size=32).hexdigest()


@lru_cache(maxsize=4)
def _key(secret: str) -> bytes:
    return blake2b(b"basis" + secret.encode(), digest_size=32).digest()


def keep(rows: Iterable[tuple[str, int, str]]) -> None:
    """Keep (fold, place of the specification, body); call inside `writing()`."""
    some = [(*row, seal(*row)) for row in rows]
    for begin in range(0, len(some), AT_ONCE):
        Basis.objects.filter(fold__in=[row[0] for row in some[begin : begin + AT_ONCE]]).delete()
    insert(Basis, COLUMNS, some)


def of_plan(plan: Plan) -> tuple[str, int, str] | None:
    """The row of a joint that was just planned; None when its specification is not the one in force any more."""
    fact = facts.last_of_joint(plan.spec.id, SPECIFICATION)
    if fact is None or fact.data["digest"] != plan.spec.digest:
        return None
    return facts.fold(plan.spec.id), fact.seq, body_of(plan)


def of(folds: Iterable[str]) -> Bases:
    """What these joints ask. Rows that are missing or belong to another specification are made and kept."""
    wanted = sorted(set(folds))
    newest = _newest(wanted)
    rows, key = dict[str, str](), _key(settings.SECRET_KEY)
    for fold, spec, body, sealed in _rows(wanted):
        # one that does not bear the seal is made again
        if newest.get(fold) == spec and compare_digest(sealed.encode(), _sealed(key, fold, spec, body).encode()):
            rows[fold] = body
    missing, refused, made = [fold for fold in newest if fold not in rows], dict[str, str](), 0
    for some in _parts(missing):  # kept as it goes: whoever stops it in the middle has lost little
        new, wrong_ones = _make(some)
        refused |= wrong_ones
        made += len(new)
        with writing():
            keep((fold, spec, body) for fold, (spec, body) in new.items())
        rows |= {fold: body for fold, (_, body) in new.items()}
    values = json.loads("[" + ",".join(rows.values()) + "]")
    return Bases({fold: _basis(one) for fold, one in zip(rows, values, strict=True)}, made, refused)


def _basis(v: list[object]) -> JointBasis:
    joint, joint_class, windows, *numbers, drag, angle = v
    d, K_low, K_high, required = [math.nan if one is None else one for one in numbers]
    return JointBasis(
        joint, joint_class, windows, d, K_low, K_high, required, drag, None if angle is None else tuple(angle),  # type: ignore[arg-type]
    )


def _parts(wanted: list[str]) -> Iterator[list[str]]:
    for begin in range(0, len(wanted), AT_ONCE):
        yield wanted[begin : begin + AT_ONCE]


def _newest(wanted: list[str]) -> dict[str, int]:
    """Fold -> place of the specification in force, of those of these joints that are described."""
    found = Mention.objects.filter(kind="kind", name=SPECIFICATION).order_by()
    if len(wanted) > WHOLE:
        known = dict(found.values_list("fold").annotate(last=Max("seq")))
        return {fold: known[fold] for fold in wanted if fold in known}
    return {
        fold: seq for some in _parts(wanted)
        for fold, seq in found.filter(fold__in=some).values_list("fold").annotate(last=Max("seq"))
    }


def _rows(wanted: list[str]) -> Iterator[tuple[str, int, str, str]]:
    if len(wanted) > WHOLE:
        there = set(wanted)
        yield from (row for row in fetched(Basis.objects.all(), COLUMNS) if row[0] in there)
        return
    for some in _parts(wanted):
        yield from Basis.objects.filter(fold__in=some).values_list(*COLUMNS)


def _make(folds: list[str]) -> tuple[dict[str, tuple[int, str]], dict[str, str]]:
    """Plan joints whose row is missing. A description that this version refuses is named and left out."""
    made, refused = dict[str, tuple[int, str]](), dict[str, str]()
    names = register.described(folds)
    for fold in folds:
        joint = names[fold]
        try:
            spec = register.specification(joint)
        except Refused as error:
            refused[fold] = str(error)
            continue
        seq = Fact.objects.filter(kind=SPECIFICATION, joint=joint).order_by("-seq").values_list("seq", flat=True)[0]
        made[fold] = seq, body_of(make_plan(spec, (), spec.source.in_force_from))
    return made, refused

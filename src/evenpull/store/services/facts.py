"""Finding facts: by joint in whatever capitals, by kind, by key. Reading only."""

from __future__ import annotations

import string
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.db.models.functions import Upper

from evenpull.store.models import Fact

_CAPITALS = str.maketrans(string.ascii_lowercase, string.ascii_uppercase)
T = TypeVar("T")
AT_ONCE = 500  # keys of one query, below the limit of every database


def fold(joint: str) -> str:
    """The id in capitals, letters a to z only: both databases do the same, whatever language they were set up for."""
    return joint.upper() if joint.isascii() else joint.translate(_CAPITALS)


def parts(items: Sequence[T]) -> Iterator[Sequence[T]]:
    """The items in their order, at most AT_ONCE together."""
    for begin in range(0, len(items), AT_ONCE):
        yield items[begin : begin + AT_ONCE]


@dataclass
class _Held:
    """Facts read before they are asked for: of joints by their fold, and single ones by their place in the log."""

    joints: dict[str, list[Fact]]
    places: dict[int, Fact] = field(default_factory=dict)
    answers: dict[str, Any] = field(default_factory=dict)


_held: ContextVar[_Held | None] = ContextVar("held", default=None)


@contextmanager
def held(joints: Iterable[str]) -> Iterator[None]:
    """Read the facts of these joints at once; inside, `of_joint` and `last_of_joint` ask the database no more for them
    and `by_seq` only once for each. What is written meanwhile is not seen, so whoever judges from it looks at the size
    of the log before and after."""
    found: dict[str, list[Fact]] = {fold(joint): [] for joint in joints}
    for some in parts(sorted(found)):
        for fact in Fact.objects.annotate(fold=Upper("joint")).filter(fold__in=some).order_by("seq"):
            if (here := fold(fact.joint)) in found:
                found[here].append(fact)
    token = _held.set(_Held(found))
    try:
        yield
    finally:
        _held.reset(token)


def is_held() -> bool:
    """Inside `held`: many joints are judged from one state of the log."""
    return _held.get() is not None


def once(question: str, ask: Callable[[], T]) -> T:
    """What `ask` answers; inside `held` it is asked once, since the answer does not change while the log does not."""
    before = _held.get()
    if before is None:
        return ask()
    if question not in before.answers:
        before.answers[question] = ask()
    found: T = before.answers[question]
    return found


def of_joint(joint_id: str, *kinds: str) -> list[Fact]:
    """The facts of a joint by their place in the log, all kinds or some, however its id was written."""
    wanted = fold(joint_id)
    before = _held.get()
    if before is not None and wanted in before.joints:
        return [fact for fact in before.joints[wanted] if not kinds or fact.kind in kinds]
    found = Fact.objects.annotate(fold=Upper("joint")).filter(fold=wanted)
    if kinds:
        found = found.filter(kind__in=kinds)
    return [fact for fact in found.order_by("seq") if fold(fact.joint) == wanted]


def of_joints(joints: Iterable[str], *kinds: str) -> list[Fact]:
    """The facts of these kinds of many joints by their place in the log: one query for AT_ONCE joints. "" stands for
    no joint and gives nothing."""
    wanted = {fold(joint) for joint in joints if joint}
    found: list[Fact] = []
    for some in parts(sorted(wanted)):
        found += Fact.objects.annotate(fold=Upper("joint")).filter(fold__in=some, kind__in=kinds)
    return sorted((fact for fact in found if fold(fact.joint) in wanted), key=lambda fact: fact.seq)


def last_of_joint(joint_id: str, kind: str) -> Fact | None:
    """The latest fact of a kind of this joint, the id written exactly so."""
    before = _held.get()
    if before is not None and fold(joint_id) in before.joints:
        return next((fact for fact in reversed(of_joint(joint_id, kind)) if fact.joint == joint_id), None)
    found = Fact.objects.annotate(fold=Upper("joint")).filter(fold=fold(joint_id), kind=kind)
    return next((fact for fact in found.order_by("-seq") if fact.joint == joint_id), None)


def by_seq(places: Iterable[int]) -> list[Fact]:
    """The facts at these places of the log, in their order."""
    wanted, before = sorted(set(places)), _held.get()
    if before is None:
        return _read(wanted)
    for fact in _read([seq for seq in wanted if seq not in before.places]):
        before.places[fact.seq] = fact.keeping_data()
    return [before.places[seq] for seq in wanted if seq in before.places]


def _read(places: list[int]) -> list[Fact]:
    found: list[Fact] = []
    for some in parts(places):
        found += Fact.objects.filter(seq__in=some).order_by("seq")
    return found


def kinds_of(places: Iterable[int]) -> dict[int, str]:
    """Place -> kind of the fact there, without reading the facts themselves."""
    found: dict[int, str] = {}
    for some in parts(sorted(set(places))):
        found.update(Fact.objects.filter(seq__in=some).values_list("seq", "kind"))
    return found


def by_key(keys: Iterable[str]) -> list[Fact]:
    """The facts under these keys, by their place in the log."""
    found: list[Fact] = []
    for some in parts(sorted(set(keys))):
        found += Fact.objects.filter(key__in=some)
    return sorted(found, key=lambda fact: fact.seq)


def places(named: Mapping[str, str]) -> dict[int, str]:
    """Place of the fact under each key -> what the key stands for, without reading the facts themselves."""
    return {
        seq: named[key]
        for some in parts(list(named))
        for key, seq in Fact.objects.filter(key__in=some).values_list("key", "seq")
    }

"""Finding facts: by joint in whatever capitals, by kind, by key. Reading only."""

from __future__ import annotations

import string
from collections.abc import Iterable, Mapping

from django.db.models.functions import Upper

from evenpull.store.models import Fact

_CAPITALS = str.maketrans(string.ascii_lowercase, string.ascii_uppercase)
AT_ONCE = 500  # keys of one query, below the limit of every database


def fold(joint: str) -> str:
    """The id in capitals, letters a to z only: both databases do the same, whatever language they were set up for."""
    return joint.translate(_CAPITALS)


def of_joint(joint_id: str, *kinds: str) -> list[Fact]:
    """The facts of a joint by their place in the log, all kinds or some, however its id was written."""
    wanted = fold(joint_id)
    found = Fact.objects.annotate(fold=Upper("joint")).filter(fold=wanted)
    if kinds:
        found = found.filter(kind__in=kinds)
    return [fact for fact in found.order_by("seq") if fold(fact.joint) == wanted]


def last_of_joint(joint_id: str, kind: str) -> Fact | None:
    """The latest fact of a kind of this joint, the id written exactly so."""
    found = Fact.objects.annotate(fold=Upper("joint")).filter(fold=fold(joint_id), kind=kind)
    return next((fact for fact in found.order_by("-seq") if fact.joint == joint_id), None)


def by_seq(places: Iterable[int]) -> list[Fact]:
    """The facts at these places of the log, in their order."""
    wanted = sorted(set(places))
    found: list[Fact] = []
    for begin in range(0, len(wanted), AT_ONCE):
        found += Fact.objects.filter(seq__in=wanted[begin : begin + AT_ONCE]).order_by("seq")
    return found


def by_key(keys: Iterable[str]) -> list[Fact]:
    """The facts under these keys, by their place in the log."""
    wanted = sorted(set(keys))
    found: list[Fact] = []
    for begin in range(0, len(wanted), AT_ONCE):
        found += Fact.objects.filter(key__in=wanted[begin : begin + AT_ONCE])
    return sorted(found, key=lambda fact: fact.seq)


def places(named: Mapping[str, str]) -> dict[int, str]:
    """Place of the fact under each key -> what the key stands for, without reading the facts themselves."""
    wanted = list(named)
    return {
        seq: named[key]
        for begin in range(0, len(wanted), AT_ONCE)
        for key, seq in Fact.objects.filter(key__in=wanted[begin : begin + AT_ONCE]).values_list("key", "seq")
    }

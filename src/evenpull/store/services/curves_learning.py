"""Windows learned from accepted tightenings: an act of a person, a fact, and never anything else.

    learn(name, joints, pass_number, why, author) -> LearnedRow      writes the fact
    in_force(joint, before) -> (Learned, key, pass) | None           the last that name the joint, before that place
    learned(joint=None) -> [LearnedRow]                              all of them, the oldest first
    drift_of(joint) -> DriftRow | None                               how far the curves since then have moved

Windows hold for curves that came after them. A new fact takes the place of an older one for what comes later; the older
one stays, and so do the findings that it made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError
from evenpull.curve.features import FeatureTable
from evenpull.curve.judged_table import file_sha256, learned_from, learned_json, read_findings
from evenpull.curve.keyed import NONE
from evenpull.curve.learned import Drift, Learned, drift, told
from evenpull.curve.learned import learn as learn_windows
from evenpull.curve.names import NAMES
from evenpull.curve.version import RULES_VERSION
from evenpull.evidence.checkpoint import read_moment
from evenpull.store.models import Fact, Mention
from evenpull.store.services import facts
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import LEARNED
from evenpull.store.services.log import New, append, checked_author, checked_reason, next_key, writing

MOST = 100_000  # curves that windows are learned from, the first ones; more tell nothing more
ACCEPTED = 0  # place in ANSWERS


@dataclass(frozen=True, slots=True)
class LearnedRow:
    """Windows as their fact tells them. `sources`: (name of the file, how many of its curves)."""

    seq: int
    name: str
    joints: tuple[str, ...]
    pass_number: int
    learned: Learned
    sources: tuple[tuple[str, int], ...]
    why: str
    author: str
    at: datetime
    rules: str


@dataclass(frozen=True, slots=True)
class DriftRow:
    """How the curves of a joint that came after its windows lie to them; `words` say it with the way out."""

    row: LearnedRow
    curves: int
    drifts: tuple[Drift, ...]
    words: str


def _row(fact: Fact) -> LearnedRow:
    b = fact.data
    return LearnedRow(
        fact.seq, b["name"], tuple(b["joints"]), b["pass"], learned_from(b["learned"]),
        tuple((one["name"], one["accepted"]) for one in b["from"]), b["why"], fact.author,
        read_moment(fact.written_at), b["rules"],
    )  # fmt: skip


def learned(joint_id: str | None = None) -> list[LearnedRow]:
    """All windows that were learned, or those that name a joint, the oldest first."""
    if joint_id is None:
        return [_row(fact) for fact in Fact.objects.filter(kind=LEARNED).order_by("seq")]
    places = Mention.objects.filter(kind=LEARNED, fold=facts.fold(joint_id)).values_list("seq", flat=True)
    return [_row(fact) for fact in facts.by_seq(places)]


def in_force(joint_id: str, before: int) -> tuple[Learned, str, int] | None:
    """The windows for a file of this joint whose fact stands at `before`: the last that were learned earlier."""
    place = (Mention.objects.filter(kind=LEARNED, fold=facts.fold(joint_id), seq__lt=before).order_by("-seq")
             .values_list("seq", flat=True).first())  # fmt: skip
    if place is None:
        return None
    fact = Fact.objects.get(seq=place)
    return learned_from(fact.data["learned"]), fact.key, fact.data["pass"]


def learn(name: str, joints: Iterable[str], pass_number: int, why: str, author: str) -> LearnedRow:
    """Learn windows from the curves of these joints and this pass that the mechanics of the joint accept, that no other
    curve contradicts, and whose record, where it is here, proves an accepted place of the joint. Refused for fewer than
    25 of them."""
    from evenpull.store.services import curves_judging as judging
    from evenpull.store.services import curves_kept as kept

    who = checked_author(author)
    title = " ".join(name.split())
    if not 0 < len(title) <= 100 or not title.isprintable():
        raise Refused("the windows need a name of 1 to 100 printable characters. Nothing was written.")
    reason = checked_reason(why, "learning")
    named = list(dict.fromkeys(kept.described(joint) for joint in joints))
    if not named:
        raise Refused("name the joints whose accepted tightenings are to be learned from. Nothing was written.")
    if pass_number < 1:
        raise Refused("passes are numbered from 1. Nothing was written.")
    rows: list[Any] = []
    sources, left = [], MOST
    for joint in named:
        proven = _proven(joint)
        for row in kept.files(joint):
            path = judging.judged(row)
            chosen = list(_accepted(path, row, pass_number, left, proven))
            count = sum(len(part) for part in chosen)
            if count:
                rows += chosen
                left -= count
                sources.append({"name": row.name, "joint": joint, "file": row.seq, "content": row.content,
                                "findings": path.parent.name + "/" + path.name, "findings_sha256": file_sha256(path),
                                "accepted": count, "curves": row.curves})  # fmt: skip
    table = FeatureTable(np.concatenate(rows) if rows else np.empty((0, len(NAMES))))
    try:
        made = learn_windows(", ".join(named), table, np.ones(len(table), bool))
    except CurveError as error:
        raise Refused(f"{error}. Nothing was written.") from error
    if not made.windows:
        raise Refused(f"{title}: no quantity of these {made.n} curves gives a window: fewer than 25 show it, or it "
                      "does not scatter. Nothing was written.")
    body = {"name": title, "joints": named, "pass": pass_number, "why": reason, "rules": RULES_VERSION,
            "basis": "mechanics of the joint", "from": sources, "learned": learned_json(made)}  # fmt: skip
    with writing():
        (fact,) = append([New(LEARNED, next_key(LEARNED), body)], who)
    return _row(fact)


def _proven(joint_id: str) -> NDArray[np.int64]:
    """Places in the log of the records that prove an accepted place of a joint."""
    from evenpull.store.services import judging, received

    cells = judging.joint(joint_id).proof.cells
    keys = {cell.proving.key for cell in cells if cell.verdict == "accepted" and cell.proving is not None}
    places = received.of_joint(joint_id).places
    return np.array(sorted(places[key] for key in keys if key in places), np.int64)


def _accepted(path: Path, row: Any, pass_number: int, most: int, proven: NDArray[np.int64]) -> Iterator[Any]:
    """Features of the accepted curves of a file in this pass, some ten thousand at once. `proven`: places of the
    records that count as accepted."""
    from evenpull.store.services import curves_judging as judging
    from evenpull.store.services.curves_matching import conflicting, records_of_file

    own, doubled, record = judging.basis(row), conflicting(row.seq), records_of_file(row.seq, row.curves).record
    passes = np.array([judging.pass_of(one) for one in own.stated], np.int64)[own.number]
    for part in read_findings(path):
        if most <= 0:
            return
        span = slice(part.first, part.first + len(part))
        good = (part.codes("answer") == ACCEPTED) & (passes[span] == pass_number)
        good &= ~np.isin(np.arange(span.start, span.stop), doubled)
        good &= (record[span] == NONE) | np.isin(record[span], proven)
        found = part.features.values[good][:most]
        most -= len(found)
        if len(found):
            yield found


def drift_of(joint_id: str) -> DriftRow | None:
    """How the accepted curves since the windows of a joint lie to them; None where it has none."""
    from evenpull.store.services import curves_judging as judging
    from evenpull.store.services import curves_kept as kept

    known = learned(joint_id)
    if not known:
        return None
    last = known[-1]
    rows = [row for row in kept.files(joint_id) if row.seq > last.seq]
    proven = _proven(joint_id) if rows else np.empty(0, np.int64)
    later = [part for row in rows for part in _accepted(judging.judged(row), row, last.pass_number, MOST, proven)]
    table = FeatureTable(np.concatenate(later) if later else np.empty((0, len(NAMES))))
    found = drift(last.learned, table)
    words = told(found) if found else "no drift can be seen yet: fewer than 5 accepted curves came since"
    return DriftRow(last, len(table), found, words)

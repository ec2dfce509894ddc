"""Predictions of bolted rings in the dossier: the file as received, its revisions, and what came out when it was
written.

A prediction is computed again whenever it is looked at. What came out when it was written is kept in the fact with the
version of the program, so that a later version that computes something else is seen. A prediction changes no verdict
of its joint.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from typing import Any

from evenpull import __version__
from evenpull.evidence.checkpoint import read_moment
from evenpull.plan import SpecificationError
from evenpull.prediction import Prediction, ProcedureOutcome, RingResult, predict, read_prediction
from evenpull.ring.sane import RingCaseError
from evenpull.ring.stepping import SteppingError
from evenpull.store.models import Fact
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import PREDICTION
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.register import described, joint_ids, near

CLOSE = 5e-4  # of the target: figures that are printed alike, or nearly
_KEPT = ("least", "mean", "most", "spread", "deviation")


@dataclass(frozen=True)
class Kept:
    """What one procedure left, interaction only; loads and spread as shares of the target."""

    name: str
    pulls: int
    least: float
    mean: float
    most: float
    spread: float
    deviation: float
    verdict: str

    def like(self, other: Kept) -> bool:
        """Whether two say the same but for rounding."""
        same = (self.name, self.pulls, self.verdict) == (other.name, other.pulls, other.verdict)
        return same and all(abs(getattr(self, name) - getattr(other, name)) <= CLOSE for name in _KEPT)

    @property
    def words(self) -> str:
        """"64 pulls; least 93.9 %, spread 6.8 % of the target; accepted"."""
        return (f"{self.pulls} pulls; least {100 * self.least:.1f} %, spread {100 * self.spread:.1f} % of the target; "
                f"{self.verdict}")  # fmt: skip


@dataclass(frozen=True)
class PredictionRow:
    """One revision. `outcome`: what came out when it was written, in the order of the file."""

    id: str
    number: int  # 1 for the first revision written
    revision: str
    name: str
    joint: str
    outcome: tuple[Kept, ...]
    written_at: datetime
    author: str
    digest: str
    file: str
    version: str
    changed: bool = True  # False: the same text was there already


@dataclass(frozen=True)
class PredictionView:
    """`now`: what this version computes; `differs`: it is not what was kept when this revision was written."""

    row: PredictionRow
    result: RingResult
    revisions: tuple[PredictionRow, ...]
    now: tuple[Kept, ...]

    @property
    def changes(self) -> tuple[tuple[str, str, str], ...]:
        """(procedure, what was kept, what comes out now) where they differ."""
        then, now = {one.name: one for one in self.row.outcome}, {one.name: one for one in self.now}
        return tuple(
            (name, then[name].words if name in then else "not there", now[name].words if name in now else "not there")
            for name in dict.fromkeys([*then, *now])
            if name not in then or name not in now or not then[name].like(now[name])
        )

    @property
    def differs(self) -> bool:
        return bool(self.changes)

    @property
    def latest(self) -> bool:
        return self.row.number == len(self.revisions)


@lru_cache(maxsize=32)
def _predicted(text: str, file: str) -> RingResult:
    """SpecificationError for a text that is no ring file; Refused when the ring finds no equilibrium."""
    return predicted(read_prediction(text, file))


def predicted(prediction: Prediction) -> RingResult:
    """Every procedure of the file, interaction only. Refused when a case cannot be or no equilibrium is found."""
    try:
        return predict(prediction)
    except (SteppingError, RingCaseError) as error:
        raise Refused(f"{prediction.file}: no prediction: {error}. Nothing was written.") from error


def result_of(text: str, file: str) -> RingResult:
    """The same, kept in memory by text so that checking, writing and looking compute it once."""
    return _predicted(text, file)


def outcome(result: RingResult) -> tuple[Kept, ...]:
    return tuple(_kept(one) for one in result.outcomes)


def _kept(one: ProcedureOutcome) -> Kept:
    figures = {name: round(float(getattr(one, name)), 6) for name in _KEPT}
    return Kept(name=one.procedure.name, pulls=len(one.loads), verdict=one.verdict, **figures)


def add_prediction(text: str, file: str, author: str) -> PredictionRow:
    """Write a revision of a prediction. The text now in force given again changes nothing. SpecificationError passes;
    Refused for a joint that nobody has described, for an id that differs from another only in capitals, and for a ring
    that finds no equilibrium.
    """
    who = checked_author(author)
    result = result_of(text, file)
    read = result.prediction
    body = {
        "file": file, "text": text, "digest": sha256(text.encode()).hexdigest(), "name": read.name,
        "revision": read.revision, "joint": read.joint, "version": __version__,
        "outcome": [_body(one) for one in outcome(result)],
    }  # fmt: skip
    with writing():
        if read.joint and read.joint not in described([read.joint]).values():
            close = near(read.joint, joint_ids())
            hint = f"; near: {', '.join(close)}" if close else ""
            raise Refused(f"{file}: ring.joint: no joint {read.joint!r} is described here{hint}. Describe it first, or "
                          "leave the key out. Nothing was written.")  # fmt: skip
        ids = {row.id for row in predictions()}
        twin = next((one for one in ids if one != read.id and one.upper() == read.id.upper()), None)
        if twin is not None:
            raise Refused(f"{file}: ring.id {read.id!r} differs from {twin!r} only in capitals; use that id or "
                          "another. Nothing was written.")  # fmt: skip
        earlier = _facts(read.id)
        if earlier and earlier[-1].data["digest"] == body["digest"]:
            return _row(earlier[-1], len(earlier), changed=False)
        number = len(earlier) + 1
        fact = append([New(PREDICTION, f"{PREDICTION}:{read.id}:{number}", body, read.joint)], who)[0]
    return _row(fact, number)


def _body(one: Kept) -> dict[str, Any]:
    return {name: getattr(one, name) for name in Kept.__dataclass_fields__}


def _facts(prediction_id: str) -> list[Fact]:
    """Every revision, the first one first."""
    found = Fact.objects.filter(kind=PREDICTION, key__startswith=f"{PREDICTION}:{prediction_id}:").order_by("seq")
    return [fact for fact in found if _id(fact) == prediction_id]


def _id(fact: Fact) -> str:
    return fact.key.split(":")[1]  # an id holds no colon


def _row(fact: Fact, number: int, *, changed: bool = True) -> PredictionRow:
    b: Mapping[str, Any] = fact.data
    return PredictionRow(
        _id(fact), number, b["revision"], b["name"], b["joint"], tuple(Kept(**one) for one in b["outcome"]),
        read_moment(fact.written_at), fact.author, b["digest"], b["file"], b["version"], changed,
    )  # fmt: skip


def predictions(joint_id: str | None = None) -> list[PredictionRow]:
    """The revision now in force of each prediction, by id; of one joint, or of all."""
    latest: dict[str, tuple[Fact, int]] = {}
    for fact in Fact.objects.filter(kind=PREDICTION).order_by("seq"):
        latest[_id(fact)] = (fact, latest[_id(fact)][1] + 1 if _id(fact) in latest else 1)
    rows = [_row(fact, number) for fact, number in latest.values()]
    return sorted((row for row in rows if joint_id is None or row.joint == joint_id), key=lambda row: row.id)


def kept_text(prediction_id: str, number: int | None = None) -> tuple[str, str, str]:
    """(text, file name, digest) of one revision, the one in force when `number` is None. Unknown as `prediction`."""
    data = _revision(prediction_id, number)[1].data
    return data["text"], data["file"], data["digest"]


def _revision(prediction_id: str, number: int | None) -> tuple[list[Fact], Fact]:
    """Every revision and the one asked for."""
    facts = _facts(prediction_id)
    if not facts:
        close = near(prediction_id, [row.id for row in predictions()])
        hint = f"; near: {', '.join(close)}" if close else ""
        raise Unknown(f"no prediction {prediction_id!r} is kept here{hint}")
    if number is not None and not 1 <= number <= len(facts):
        raise Unknown(f"prediction {prediction_id} has the revisions 1 to {len(facts)}, not {number}")
    return facts, facts[(number or len(facts)) - 1]


def prediction(prediction_id: str, number: int | None = None) -> PredictionView:
    """One revision (the one in force when `number` is None) as this version computes it.

    Unknown with near ids; Refused when the text was written under rules that this version refuses.
    """
    facts, chosen = _revision(prediction_id, number)
    rows = tuple(_row(fact, index) for index, fact in enumerate(facts, 1))
    row, data = rows[facts.index(chosen)], chosen.data
    try:
        result = result_of(data["text"], data["file"])
    except SpecificationError as error:
        raise Refused(
            f"prediction {prediction_id}, revision {row.revision}, was written under earlier rules and is refused by "
            f"this version: {error}. Write a new revision of it."
        ) from error
    return PredictionView(row, result, rows, outcome(result))

"""Facts in an audit: one fact to the letter, what the revisions of a target changed, how long records are kept."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import pairwise
from typing import Any

from django.db.models import Count

from evenpull.evidence.checkpoint import read_moment
from evenpull.evidence.plain import nested, shown
from evenpull.evidence.succession import SuccessionError
from evenpull.intake import Tightening, from_json
from evenpull.ledger.entry import Entry
from evenpull.ledger.keeping import HOLD, LIFTED, keeping
from evenpull.plan import SpecificationError, make_plan, read_specification
from evenpull.plan.model import Keeping
from evenpull.quantities import show
from evenpull.store.models import Checkpoint, Fact, Finding, Mention
from evenpull.store.services import audit, facts, register, witness
from evenpull.store.services.around import entry_of
from evenpull.store.services.audit_rows import ChangeRow
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import ENTRY, RECORD, RELEASE, SPECIFICATION
from evenpull.store.services.log import make_checkpoint_from
from evenpull.store.services.paper_blind import shown_data

ON_A_PAGE = 50
MOST = 500  # joints in one list
OLD = 10  # years of the sample


@dataclass(frozen=True)
class FactView:
    """One fact as it is kept. `fits`: its digest is that of its content as read now. `signed`: the first signed state
    that holds it, checked with the key in force then; "" when it does not hold."""

    row: ChangeRow
    key: str
    lines: tuple[str, ...]
    fits: bool
    signed: str
    corrections: tuple[ChangeRow, ...]
    names: tuple[int, ...]  # facts that it names: the record that a correction is about
    record: str  # name by which a correction names this record; "" for every other fact


def fact(seq: int, reader: str = "") -> FactView:
    """One fact by its place in the log, as `reader` (a full name, "" for nobody in particular) may see it; see
    `paper_blind`. Unknown when the log is not that long."""
    found = Fact.objects.filter(seq=seq).first()
    if found is None:
        raise Unknown(f"the log has no fact {seq}")
    (row,) = audit.changes_at([seq])
    return FactView(
        row, found.key, tuple(_lines(shown_data(found, reader))), found.envelope().digest().hex() == found.digest,
        _signed(seq),
        audit.changes_at(_corrections(found)), _named(found), _record_key(found) if found.kind == RECORD else "",
    )  # fmt: skip


def _lines(data: Any) -> Iterator[str]:
    """The content in plain lines; a text of several lines, such as a joint file, line by line after a bar."""
    if not isinstance(data, dict):
        yield from nested(data, "") if isinstance(data, list) else [str(data)]
        return
    for name, value in sorted(data.items()):
        if isinstance(value, str) and "\n" in value:
            yield f"{name}:"
            yield from (f"  | {line if line.isprintable() else shown(line)}" for line in value.split("\n"))
        else:
            yield from nested({name: value}, "")


def _signed(seq: int) -> str:
    state = Checkpoint.objects.filter(size__gt=seq).order_by("size").first()
    if state is None:
        return ""
    try:
        key = witness.keys_of_log().at(state.size)
    except SuccessionError:
        return ""
    held = make_checkpoint_from(state)
    return f"state of {state.size} facts, {state.time}, root {state.root}" if held.signed_by(key) else ""


def _corrections(found: Fact) -> list[int]:
    """Places of the corrections that name this record, the newest first."""
    if found.kind != RECORD:
        return []
    key = _record_key(found)
    marks = Mention.objects.filter(kind="entry", name="correction", fold=facts.fold(found.joint))
    entries = facts.by_seq(marks.values_list("seq", flat=True))
    return [one.seq for one in reversed(entries) if one.data["values"].get("record") == key]


def _record_key(found: Fact) -> str:
    """The key by which people and flags name a record."""
    record = from_json(found.data)
    return record.key if isinstance(record, Tightening) else ""


def _named(found: Fact) -> tuple[int, ...]:
    """The record that a correction is about."""
    if found.kind != ENTRY or found.data["kind"] != "correction":
        return ()
    wanted = found.data["values"].get("record", "")
    records = facts.of_joint(found.joint, RECORD)
    return tuple(one.seq for one in records if _record_key(one) == wanted)


@dataclass(frozen=True)
class Revision:
    """One text of a joint file, in the order of writing; `torque` as it follows from it, with its reason when none."""

    revision: str
    document: str
    approved_by: str
    in_force_from: str
    author: str
    written_at: datetime
    seq: int
    torque: str


@dataclass(frozen=True)
class ChangedKey:
    """A key of the joint file whose value differs between revisions: as written in each, "" where it is not there.
    `changed`: whether the value differs from the revision before."""

    key: str
    values: tuple[str, ...]
    changed: tuple[bool, ...]

    @property
    def cells(self) -> tuple[tuple[str, bool], ...]:
        return tuple(zip(self.values, self.changed, strict=True))


@dataclass(frozen=True)
class History:
    joint: str
    revisions: tuple[Revision, ...]
    rows: tuple[ChangedKey, ...]


def history(joint_id: str) -> History:
    """The revisions of a target side by side, with every key that differs. UnknownJoint with near ids."""
    spec_id = register.specification(joint_id).id
    found = facts.of_joint(spec_id, SPECIFICATION)
    texts = [dict(_flat(tomllib.loads(one.data["text"]))) for one in found]
    rows = []
    for key in dict.fromkeys(key for text in texts for key in text):
        values = tuple(text.get(key, "") for text in texts)
        if len(set(values)) > 1:
            changed = (False, *(a != b for a, b in pairwise(values)))
            rows.append(ChangedKey(key, values, changed))
    return History(spec_id, tuple(map(_revision, found)), tuple(rows))


def _revision(found: Fact) -> Revision:
    data = found.data
    source = tomllib.loads(data["text"]).get("source", {})
    try:
        spec = read_specification(data["text"], data["file"])
        day = datetime.now(UTC).date()
        plan = make_plan(spec, register.tools_in_force(day, spec.tools_allowed), day)
        torque = show(plan.target.torque, "N.m")
    except (SpecificationError, Refused) as error:
        torque = f"refused by this version: {error}"[:200]
    return Revision(
        str(data["revision"]), str(data["document"]), str(source.get("approved_by", "")),
        str(source.get("in_force_from", "")), found.author, read_moment(found.written_at), found.seq, torque,
    )  # fmt: skip


def _flat(value: Any, name: str = "") -> Iterator[tuple[str, str]]:
    """Every key of a TOML file with its value as a text."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _flat(item, f"{name}.{key}" if name else key)
    elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
        for place, item in enumerate(value, 1):
            yield from _flat(item, f"{name}.{place}")
    elif isinstance(value, list):
        yield name, ", ".join(map(str, value))
    else:
        yield name, str(value)


def revised() -> tuple[tuple[str, int], ...]:
    """Joints whose target was written more than once, with how often; the most first, at most MOST."""
    again = list(_revised()[:MOST])
    names = register.described(row["fold"] for row in again)
    return tuple((names.get(row["fold"], row["fold"]), row["n"]) for row in again)


def revised_count() -> int:
    return int(_revised().count())


def _revised():  # type: ignore[no-untyped-def]
    places = Mention.objects.filter(kind="kind", name=SPECIFICATION).exclude(fold="").order_by()
    return places.values("fold").annotate(n=Count("seq")).filter(n__gt=1).order_by("-n", "fold")


@dataclass(frozen=True)
class KeptRow:
    joint: str
    rule: str
    until: date | None
    held: bool
    over: bool


@dataclass(frozen=True)
class KeptPage:
    rows: tuple[KeptRow, ...]
    number: int
    pages: int


def kept(number: int = 1) -> KeptPage:
    """How long the records of each joint are kept at least, by the joint; what holds them."""
    today, found = datetime.now(UTC).date(), Finding.objects.order_by("joint").values_list("joint", flat=True)
    pages = max(1, -(-found.count() // ON_A_PAGE))
    number = min(max(1, number), pages)
    shown = list(found[(number - 1) * ON_A_PAGE : number * ON_A_PAGE])
    folds = [facts.fold(joint) for joint in shown]
    holds: dict[str, list[Entry]] = {}
    for one in facts.by_seq(_places("entry", [HOLD, LIFTED], folds)):
        holds.setdefault(facts.fold(one.joint), []).append(entry_of(one))
    released: dict[str, datetime] = {}
    for one in facts.by_seq(_places("kind", [RELEASE], folds)):
        released[facts.fold(one.joint)] = read_moment(one.data["signed"]["signed_at"])
    rows = []
    for joint, fold in zip(shown, folds, strict=True):
        text = facts.last_of_joint(joint, SPECIFICATION)
        stated = {} if text is None else tomllib.loads(text.data["text"]).get("keeping", {})  # checked when written
        rule = Keeping(stated.get("retention", ""), stated.get("years"))
        said = keeping(rule, released.get(fold), holds.get(fold, ()), today)
        rows.append(KeptRow(joint, said.text, said.until, said.held, said.over))
    return KeptPage(tuple(rows), number, pages)


def _places(kind: str, names: list[str], folds: list[str]) -> list[int]:
    marks = Mention.objects.filter(kind=kind, name__in=names, fold__in=folds)
    return list(marks.values_list("seq", flat=True))


@dataclass(frozen=True)
class Oldest:
    """The oldest fact, and one drawn from those that are OLD years old or older; None where there is none."""

    first: FactView | None
    old: FactView | None
    count: int  # facts of OLD years or older


def oldest_day() -> date | None:
    """When the first fact was written; None when there is none."""
    found = Fact.objects.filter(seq=0).values_list("written_at", flat=True).first()
    return None if found is None else read_moment(found).date()


def oldest(seed: int | None = None) -> Oldest:
    """Old facts, read now and compared with their digest."""
    if not Fact.objects.exists():
        return Oldest(None, None, 0)
    today = datetime.now(UTC)
    day = today.date()
    limit = day.replace(year=day.year - OLD, day=min(day.day, 28))
    count = audit.places_until(datetime(limit.year, limit.month, limit.day, tzinfo=UTC))
    old = fact(random.Random(seed).randrange(count)) if count else None
    return Oldest(fact(0), old, count)

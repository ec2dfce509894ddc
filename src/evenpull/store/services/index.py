"""The index of the facts: where a tightening, a tool, a person, a lot, a file is found, and which findings are old.

Written in the transaction of the facts themselves and made from their bodies alone, so that `rebuild` gives the same
rows again. What a row says is never taken for the fact; but which facts are looked at is. The entries about a tool, a
person or a lot, the counters of a tool in other joints and what else was found loose are reached through these tables,
so that a row taken out of them would keep a block or a gap from judgement and audit. No trigger guards them:
`index_check` makes every row again from the facts and compares (`evenpull audit rebuild --check`).
"""

from __future__ import annotations

import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import F

from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.entry import from_json
from evenpull.ledger.kinds import KINDS
from evenpull.proof.undone import found_loose
from evenpull.store.models import Basis, Curve, CurveFile, Fact, Finding, Mention, Pull
from evenpull.store.services.bulk import insert
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import (
    CERTIFICATE,
    CERTIFICATE_WITHDRAWN,
    CURVES,
    CURVES_WITHDRAWN,
    DISPOSITION,
    ENTRY,
    EQUIPMENT,
    FILE,
    LEARNED,
    PACK,
    RECORD,
    REVIEW,
    REVIEW_DECIDED,
    SPECIFICATION,
    STUDY,
    TOOLS,
    UNREAD,
    WITHDRAWN,
)
from evenpull.store.services.facts import fold, parts

BATCH = 2_000
# marks of withdrawals: under the SHA-256 of a file the place of its reading, and under that of each file that gave rows
# instead the place of the withdrawal
WITHDRAWN_PLACE, TAKEN_OVER = "withdrawn place", "taken over"
CURVES_GONE = "curves withdrawn"  # the place of a file of curves that a person withdrew; name: its SHA-256
UNDOING = ("loosen", "remove")
LOTS = ("bolt_lot", "nut_lot", "washer_lot", "gasket_lot", "lubricant_lot")
TOOL_PARTS = ("multiplier", "adapter", "pump", "gauge")
PEOPLE = ("second_person", "checker", "keyed_by", "keyed_again_by", "resolved_by")
PART = "part of assembly"  # name: a part; unit: the assembly that holds it, or held it
CERTIFICATE_FILE = "certificate file"  # name: the SHA-256 of the file that a certificate came in
CERTIFIED = "certified"  # name: an item; unit: the number of its certificate
FAILED = ("not in order", "not passed", "outside limits")  # results of a check, test, follow-up or shift check
_SMALL, _LARGEST = 2**31 - 1, 2**63 - 1  # what the columns hold; the body of the fact holds all
PULL = ("seq", "fold", "unit", "fastener", "pass_number", "event", "tool", "epoch", "counter", "operator", "time",
        "torque", "angle", "file")  # fmt: skip
MENTION = ("kind", "name", "fold", "unit", "fastener", "seq", "n")


def name_of(text: str) -> str:
    """A name as it is looked up: blanks tidied, small letters."""
    return " ".join(text.replace("\0", "\u2400").split()).casefold()[:200]


@dataclass
class Written:
    """One fact as the index needs it."""

    seq: int
    kind: str
    joint: str
    key: str
    author: str
    written_at: str
    body: Any


@dataclass
class Rows:
    """Rows of the index that some facts give, and what they concern."""

    pulls: list[tuple[Any, ...]] = field(default_factory=list)
    mentions: list[tuple[Any, ...]] = field(default_factory=list)
    names: dict[str, str] = field(default_factory=dict)
    strangers: Counter[str] = field(default_factory=Counter)
    first: dict[str, int] = field(default_factory=dict)  # fold -> seq of the first record of it
    joints: dict[str, str] = field(default_factory=dict)  # fold -> id of the joints described
    touched: set[str] = field(default_factory=set)
    streams: set[tuple[str, str]] = field(default_factory=set)
    everything: bool = False  # a fact that may concern every joint
    tools: set[str] = field(default_factory=set)
    lots: set[str] = field(default_factory=set)
    people: set[str] = field(default_factory=set)
    curve_files: list[Written] = field(default_factory=list)

    def folded(self, name: str) -> str:
        """`name_of` within the width of its column, each name folded once."""
        if name not in self.names:
            self.names[name] = name_of(name)[:100]
        return self.names[name]


def write(facts: Iterable[Written], files: dict[str, int] | None = None) -> None:
    """Index facts that were just written. `files`: SHA-256 -> place of the fact of the file, as far as known."""
    rows, known = Rows(), {} if files is None else files
    for fact in facts:
        if fact.kind == WITHDRAWN:  # it looks at what was saved before it, and takes from the counts of strangers
            _save(rows)
            rows = Rows()
            add(fact, rows, known)
            _save(rows)
            rows = Rows()
        else:
            add(fact, rows, known)
    _save(rows)


def add(fact: Written, rows: Rows, files: dict[str, int]) -> None:
    """Add what one fact gives; saves nothing. `files`: as in `write`."""
    body, here = fact.body, fold(fact.joint)
    if here:
        rows.touched.add(here)
    if fact.kind == RECORD:
        _add_record(fact, here, rows, files)
        return
    if fact.kind == UNREAD:
        if body.get("tool") and body.get("counter") is not None:
            rows.mentions.append(_mention("unread", body["tool"], here, fact.seq, body["epoch"]))
            rows.streams.add((_column(body["tool"]), _column(body["epoch"])))
        return
    if fact.kind == FILE:
        files[body["sha256"]] = fact.seq
        rows.mentions.append(_mention("sha256", body["sha256"], "", fact.seq))
        for joint in body["joints"]:
            rows.mentions.append(_mention("file", body["sha256"], fold(_column(joint)), fact.seq))
        again = Counter(fold(_column(one["joint"])) for one in body["repeated"])
        for joint, count in again.items():
            rows.mentions.append(_mention("repeated", body["sha256"], joint, fact.seq, n=count))
            rows.touched.add(joint)
    elif fact.kind == SPECIFICATION:
        rows.joints[here] = fact.joint
        if lot := tomllib.loads(body["text"]).get("fasteners", {}).get("lot"):
            rows.mentions.append(_mention("lot", str(lot), here, fact.seq))
    elif fact.kind == TOOLS:
        rows.everything = True
    elif fact.kind == EQUIPMENT:
        rows.everything = True
        for assembly, parts in body["parts"].items():
            rows.mentions += [_mention(PART, part, "", fact.seq, assembly) for part in parts]
    elif fact.kind in (CERTIFICATE, CERTIFICATE_WITHDRAWN):
        rows.mentions.append(_mention(CERTIFIED, body["serial"], "", fact.seq, body["number"]))
        if fact.kind == CERTIFICATE:
            rows.mentions.append(_mention(CERTIFICATE_FILE, body["raw"], "", fact.seq))
        rows.tools.add(body["serial"])
        rows.everything = rows.everything or body["planned"]
    elif fact.kind == WITHDRAWN:
        _add_withdrawal(fact, rows)
    elif fact.kind in (PACK, REVIEW, REVIEW_DECIDED):
        if fact.kind == REVIEW:
            _add_review(fact, rows)
        if "once" in body:
            rows.mentions.append(_mention("once", body["once"], here, fact.seq))
    elif fact.kind == ENTRY:
        _add_entry(fact, here, rows)
    elif fact.kind == DISPOSITION:
        rows.mentions.append(_mention("decision", body["action"], here, fact.seq))
        if "once" in body:
            rows.mentions.append(_mention("once", body["once"], here, fact.seq))
    elif fact.kind == CURVES:
        rows.mentions.append(_mention(CURVES, body["sha256"], here, fact.seq))
        rows.curve_files.append(fact)
    elif fact.kind == CURVES_WITHDRAWN:
        rows.mentions.append(_mention(CURVES_GONE, body["sha256"], "", body["file"]))
    elif fact.kind == LEARNED:
        for joint in body["joints"]:
            rows.touched.add(fold(joint))
            rows.mentions.append(_mention(LEARNED, body["name"], fold(joint), fact.seq))
    elif fact.kind == STUDY:
        for what, names in (("study tool", (*body["tools"], body["device"])), ("study person", body["persons"])):
            rows.mentions += [_mention(what, name, here, fact.seq) for name in names if name]
    rows.mentions.append(_mention("kind", fact.kind, here, fact.seq))
    rows.mentions.append(_mention("author", fact.author, here, fact.seq))


def _add_record(fact: Written, here: str, rows: Rows, files: dict[str, int]) -> None:
    b = fact.body
    sha = b["file_sha256"]
    if sha not in files:
        found = Mention.objects.filter(kind="sha256", name=sha).order_by("-seq").first()
        files[sha] = -1 if found is None else found.seq
    counter = b["counter"]
    unit, tool, epoch = _column(b["unit_id"]), _column(b["tool"]), _column(b["epoch"])
    when = b["time"]
    number = b["pass_number"]
    rows.pulls.append(
        (
            fact.seq, here, unit, max(-1, min(b["fastener"], _SMALL)),
            None if number is None or number > _SMALL else number, b["event"], tool, epoch,
            counter if counter is None or abs(counter) <= _LARGEST else None,
            rows.folded(b["operator"]), None if when is None else datetime.fromisoformat(when).timestamp(),
            b["torque"], b["angle"], files[sha],
        )
    )  # fmt: skip
    if b["event"] in UNDOING or b["direction"] == "loosen":
        rows.mentions.append(_mention("undone", b["event"], here, fact.seq, unit, b["fastener"]))
    rows.strangers[here] += 1
    rows.first.setdefault(here, fact.seq)
    if tool and counter is not None:
        rows.streams.add((tool, epoch))
    more = b.get("particulars")
    if not more:
        return
    if "late_basis" in more:
        rows.mentions.append(_mention("late", fact.kind, here, fact.seq, unit, b["fastener"]))
    for names, kind in ((LOTS, "lot"), (TOOL_PARTS, "tool"), (PEOPLE, "person"), (("card",), "card"),
                        (("heat",), "heat")):  # fmt: skip
        for name in names:
            if name in more and more[name][0]:
                rows.mentions.append(_mention(kind, more[name][0], here, fact.seq, unit, b["fastener"]))


def _add_withdrawal(fact: Written, rows: Rows) -> None:
    """The rows of records and mentions stay; marks say which reading of which joints no longer counts."""
    body, sha = fact.body, fact.body["sha256"]
    rows.mentions.append(_mention(WITHDRAWN_PLACE, sha, "", body["reading"]))
    for joint, counts in body["joints"].items():
        here = fold(_column(joint))
        if here:
            rows.touched.add(here)
        rows.strangers[here] -= counts["records"]
    rows.streams |= {(_column(tool), _column(epoch)) for tool, epoch in body["memories"]}
    for other in body["taken"]:
        rows.mentions.append(_mention(TAKEN_OVER, other["sha256"], "", fact.seq))
        again = Counter(fold(_column(joint)) for joint, _ in other["rows"])
        for here, count in again.items():  # no repeats any more: their file gives them now
            rows.mentions.append(_mention("repeated", other["sha256"], here, other["reading"], n=-count))


def _add_review(fact: Written, rows: Rows) -> None:
    """Which joints a review of a tool concerns, each with how many of its tightenings got which verdict."""
    rows.mentions.append(_mention(REVIEW, fact.body["found"]["serial"], "", fact.seq))
    for here, *counts in fact.body["joints"]:
        rows.touched.add(here)
        said = "/".join(map(str, counts))
        rows.mentions.append(_mention("review", fact.key, here, fact.seq, said, n=sum(counts[:4])))


def _column(text: str) -> str:
    return text.replace("\0", "\u2400")[:100]


def _add_entry(fact: Written, here: str, rows: Rows) -> None:
    body = fact.body
    entry = from_json(body, id=fact.key, by=fact.author, written_at=read_moment(fact.written_at), seq=fact.seq)
    rows.mentions.append(_mention("entry", body["kind"], here, fact.seq))
    if entry.late:
        rows.mentions.append(_mention("late", body["kind"], here, fact.seq))
    for number in found_loose(entry):
        rows.mentions.append(_mention("loose", body["kind"], here, fact.seq, body["unit"], number))
    if body["values"].get("result") in FAILED:
        rows.mentions.append(_mention("failed", body["kind"], here, fact.seq, body["unit"]))
    if "once" in body:
        rows.mentions.append(_mention("once", body["once"], here, fact.seq))
    if body["subject"] != "joint":
        rows.mentions.append(_mention(body["subject"], body["name"], "", fact.seq))
        {"tool": rows.tools, "person": rows.people, "lot": rows.lots}[body["subject"]].add(body["name"])
    fasteners: list[int | None] = list(body["fasteners"]) or [None]
    kind = KINDS.get(body["kind"])
    forms = {} if kind is None else {one.name: one.form for one in kind.fields}
    for name, text in body["values"].items():
        what = "lot" if name in ("lot", "lubricant_lot") else "heat" if name == "heat" else ""
        form = forms.get(name, "")
        what = what or (form if form in ("person", "tool") else "")
        if what and text:
            for number in fasteners:
                rows.mentions.append(_mention(what, text, here, fact.seq, body["unit"], number))


def _mention(
    kind: str, name: str, here: str, seq: int, unit: str = "", fastener: int | None = None, n: int = 1
) -> tuple[Any, ...]:
    small = fastener if fastener is None or fastener <= _SMALL else None
    return kind, name_of(name), here, _column(unit), small, seq, n


def _save(rows: Rows) -> None:
    insert(Pull, PULL, rows.pulls)
    insert(Mention, MENTION, rows.mentions)
    if rows.curve_files:
        from evenpull.store.services import curves_index  # the compiler of curves is loaded where there are some

        for fact in rows.curve_files:
            curves_index.save(fact.seq, fact.joint, fact.body)
    for here, joint in rows.joints.items():
        if not Finding.objects.filter(fold=here).exists():
            Finding.objects.create(joint=joint, fold=here)
        Mention.objects.filter(kind="stranger", fold=here).delete()
    known = set(rows.joints)
    for some in parts(sorted(rows.strangers)):
        known |= set(Finding.objects.filter(fold__in=some).values_list("fold", flat=True))
    for here in sorted(set(rows.strangers) - known):
        if rows.strangers[here] <= 0:  # a reading was withdrawn
            Mention.objects.filter(kind="stranger", fold=here).update(n=F("n") + rows.strangers[here])
            Mention.objects.filter(kind="stranger", fold=here, n__lte=0).delete()
        elif not Mention.objects.filter(kind="stranger", fold=here).update(n=F("n") + rows.strangers[here]):
            Mention.objects.create(
                kind="stranger", name=here[:200], fold=here, seq=rows.first[here], n=rows.strangers[here]
            )
    _touch(rows)


def _touch(rows: Rows) -> None:
    """Mark the findings that a new fact may change."""
    if rows.everything or rows.people:
        Finding.objects.update(stale=True)
        CurveFile.objects.update(stale=True)
        return
    for some in parts(sorted(rows.touched)):
        Finding.objects.filter(fold__in=some).update(stale=True)
        CurveFile.objects.filter(fold__in=some).update(stale=True)
    by_epoch: dict[str, set[str]] = defaultdict(set)
    for tool, epoch in rows.streams:
        by_epoch[epoch].add(tool)
    for epoch, tools in by_epoch.items():  # the same memory filled a gap, or opened one, on another joint
        for some in parts(sorted(tools)):
            others = Pull.objects.filter(tool__in=some, epoch=epoch).order_by().values("fold").distinct()
            Finding.objects.filter(stale=False, fold__in=others).update(stale=True)
            curves = Curve.objects.filter(tool__in=some, epoch=epoch).order_by().values("fold").distinct()
            Finding.objects.filter(stale=False, fold__in=curves).update(stale=True)
            CurveFile.objects.filter(stale=False, fold__in=curves).update(stale=True)
    for some in parts(sorted(_with_assemblies(rows.tools))):
        others = Pull.objects.filter(tool__in=some).order_by().values("fold").distinct()
        Finding.objects.filter(fold__in=others).update(stale=True)
    for lot in sorted(rows.lots):
        others = Mention.objects.filter(kind="lot", name=name_of(lot)).order_by().values("fold").distinct()
        Finding.objects.filter(fold__in=others).update(stale=True)


def _with_assemblies(tools: set[str]) -> set[str]:
    """These tools and the assemblies that hold or held one of them, at any depth."""
    found, new = set(tools), set(tools)
    while new:
        held: set[str] = set()
        for some in parts(sorted(name_of(one) for one in new)):
            held |= set(Mention.objects.filter(kind=PART, name__in=some, fold="").values_list("unit", flat=True))
        new = held - found
        found |= new
    return found


def written_once(once: str) -> Fact | None:
    """The fact that was written under this key of the caller's own, if it was. Refused for what is no such key."""
    if not once.isprintable() or not 8 <= len(once) <= 100:
        raise Refused("a key that marks one act has 8 to 100 printable characters. Nothing was written.")
    seq = Mention.objects.filter(kind="once", name=name_of(once)).values_list("seq", flat=True).first()
    return None if seq is None else Fact.objects.get(seq=seq)


def is_missing() -> bool:
    """There are facts, and none of them is indexed: the dossier was written by an earlier version."""
    if Mention.objects.exists() or Pull.objects.exists():
        return False
    return Fact.objects.exists()


def rebuild() -> None:
    """Throw the index away and make it again from the facts; call inside a transaction that keeps writers out."""
    for model in (Pull, Mention, Finding, Basis, Curve, CurveFile):
        model.objects.all().delete()
    files: dict[str, int] = {}
    some: list[Written] = []
    for fact in Fact.objects.order_by("seq").iterator(BATCH):
        some.append(Written(fact.seq, fact.kind, fact.joint, fact.key, fact.author, fact.written_at, fact.data))
        if len(some) == BATCH:
            write(some, files)
            some = []
    write(some, files)

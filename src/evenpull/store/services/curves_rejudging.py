"""All curves judged again under the present rules and facts, and what changed since they were last looked over.

    rejudge(author, told=None) -> RejudgedRow      judges, compares, writes the report and one fact
    reports() -> [RejudgedRow]                     all reports, the oldest first
    changes_of(row) -> Path                        the changes as Parquet (`curve.changes.SCHEMA`, with joint and file)
    as_csv(row) -> Iterator[str]                   the same as lines

A file is compared with the findings that the last report left, or else with the oldest that are kept. Findings of older
versions stay as they are. A part of a file is in memory at a time.
"""

from __future__ import annotations

import csv
import io
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from evenpull.curve.changes import SCHEMA, Tally, changes, flat
from evenpull.curve.columns import CurveError
from evenpull.curve.judged_table import FindingPart, Head, file_sha256, read_findings, read_head
from evenpull.curve.version import RULES_VERSION
from evenpull.evidence.checkpoint import read_moment
from evenpull.store.models import Fact
from evenpull.store.services import curves_judging as judging
from evenpull.store.services import curves_kept as kept
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import REJUDGED
from evenpull.store.services.log import New, append, checked_author, next_key, writing
from evenpull.store.services.place import checked_raw, home, keep_raw

OWN = pa.schema([("joint", pa.string()), ("file", pa.int64()), *SCHEMA])


@dataclass(frozen=True, slots=True)
class RejudgedRow:
    """A report. `files`: compared; `first`: judged for the first time, or nothing earlier is kept; `moves`: (basis,
    verdict before, verdict now, curves), changed or not; `causes`: (rule, cause, "before -> now", curves);
    `thresholds`: (name, before, now) of those that differ between versions."""

    seq: int
    rules_before: tuple[str, ...]
    rules: str
    curves: int
    files: int
    first: int
    changed: int
    moves: tuple[tuple[str, str, str, int], ...]
    causes: tuple[tuple[str, str, str, int], ...]
    thresholds: tuple[tuple[str, float | None, float | None], ...]
    changes_sha256: str
    author: str
    at: datetime


def _row(fact: Fact) -> RejudgedRow:
    b = fact.data
    return RejudgedRow(
        fact.seq, tuple(b["rules_before"]), b["rules"], b["curves"], b["compared"], b["first"], b["changed"],
        tuple((a, x, y, n) for a, x, y, n in b["moves"]), tuple((a, x, y, n) for a, x, y, n in b["causes"]),
        tuple((name, x, y) for name, x, y in b["thresholds"]), b["changes_sha256"], fact.author,
        read_moment(fact.written_at),
    )  # fmt: skip


def reports() -> list[RejudgedRow]:
    """All reports, the oldest first."""
    return [_row(fact) for fact in Fact.objects.filter(kind=REJUDGED).order_by("seq")]


def report(seq: int) -> RejudgedRow:
    """One report by the place of its fact. Unknown when there is none."""
    fact = Fact.objects.filter(seq=seq, kind=REJUDGED).first()
    if fact is None:
        raise Unknown(f"fact {seq} is no report of curves judged again; list them with: evenpull curves changes")
    return _row(fact)


def rejudge(author: str, told: Callable[[int, int], None] | None = None) -> RejudgedRow:
    """Judge all curves again and report what changed. `told` hears (files done, all). Refused without any curve."""
    who, rows = checked_author(author), kept.files()
    if not rows:
        raise Refused("there is no file of curves yet. Nothing was written.")
    last = {one["content"]: one["finding"] for one in _last()}
    tally, old_rules, thresholds = Tally(), set[str](), dict[str, tuple[float | None, float | None]]()
    told_files: list[dict[str, Any]] = []
    first = 0
    with tempfile.NamedTemporaryFile(prefix=".changes-", dir=home()) as out:
        with pq.ParquetWriter(out.name, OWN, compression="zstd") as writer:
            for done, row in enumerate(rows, 1):
                before = _before(row, last.get(row.content))
                now = judging.judged(row)
                if before is None or before == now:
                    first += before is None
                    if before is not None:
                        _count_same(now, tally)
                else:
                    old_rules.add(_compare(row, before, now, tally, thresholds, writer))
                told_files.append({"file": row.seq, "content": row.content, "finding": f"{now.parent.name}/{now.name}",
                                   "sha256": file_sha256(now)})  # fmt: skip
                if told is not None:
                    told(done, len(rows))
        sha256 = keep_raw(Path(out.name))
    body = {
        "rules": RULES_VERSION, "rules_before": sorted(old_rules), "curves": sum(row.curves for row in rows),
        "compared": len(rows) - first, "first": first, "changed": tally.changed,
        "moves": [[*key, n] for key, n in sorted(tally.moves.items())],
        "causes": [[*key, n] for key, n in sorted(tally.causes.items(), key=lambda one: (-one[1], one[0]))[:200]],
        "thresholds": [[name, a, b] for name, (a, b) in sorted(thresholds.items())],
        "changes_sha256": sha256, "files": told_files,
    }  # fmt: skip
    with writing():
        (fact,) = append([New(REJUDGED, next_key(REJUDGED), body)], who)
    return _row(fact)


def _last() -> list[dict[str, Any]]:
    """What the last reports left of each file; of two that name it the later one counts."""
    return [one for fact in Fact.objects.filter(kind=REJUDGED).order_by("seq") for one in fact.data["files"]]


def _before(row: CurveFileRow, named: str | None) -> Path | None:
    """The findings that a file is compared with, None where no earlier ones are kept."""
    if named is not None and (path := judging.folder() / named).exists():
        return path
    found = judging.findings_of(row)
    return found[0] if found else None


def _count_same(path: Path, tally: Tally) -> None:
    head = read_head(path)
    words = [f"{name}{end}" for name in ("answer", "verdict", "found") for end in ("", "_learned")]
    for part in read_findings(path, words):
        list(changes(part, part, head, head, tally))


def _compare(
    row: CurveFileRow, before: Path, now: Path, tally: Tally, thresholds: dict[str, Any], writer: Any
) -> str:
    """Compare two findings of a file; the version of the rules before."""
    old_head, new_head = read_head(before), read_head(now)
    old, new = (flat(_thresholds(head)) for head in (old_head, new_head))
    for name in old.keys() | new.keys():
        if old.get(name) != new.get(name):
            thresholds[name] = old.get(name), new.get(name)
    try:
        for a, b in _aligned(read_findings(before), read_findings(now)):
            for table in changes(a, b, old_head, new_head, tally):
                n = table.num_rows
                own = [pa.array([row.joint] * n), pa.array([row.seq] * n, pa.int64()), *table.columns]
                writer.write_table(pa.Table.from_arrays(own, schema=OWN))
    except CurveError as error:
        raise Refused(f"{row.name}: {error}. Nothing was written.") from error
    return old_head.rules


def _thresholds(head: Head) -> Any:
    return tomllib.loads(head.thresholds)


def _aligned(old: Iterator[FindingPart], new: Iterator[FindingPart]) -> Iterator[tuple[FindingPart, FindingPart]]:
    """Both files in parts of the same curves, however each was divided when it was written."""
    a, b = next(old, None), next(new, None)
    while a is not None and b is not None:
        n = min(len(a), len(b))
        yield FindingPart(a.first, a.table.slice(0, n)), FindingPart(b.first, b.table.slice(0, n))
        a = FindingPart(a.first + n, a.table.slice(n)) if len(a) > n else next(old, None)
        b = FindingPart(b.first + n, b.table.slice(n)) if len(b) > n else next(new, None)
    if a is not None or b is not None:
        raise CurveError("findings of another number of curves cannot be set beside each other")


def changes_of(row: RejudgedRow) -> Path:
    """The changes of a report as Parquet, checked against its fact."""
    return checked_raw(row.changes_sha256)


def as_csv(row: RejudgedRow) -> Iterator[str]:
    """The changes of a report as lines of CSV, with their heading."""
    buffer = io.StringIO()
    out = csv.writer(buffer, lineterminator="\n")

    def taken() -> str:
        text = buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
        return text

    out.writerow(OWN.names)
    yield taken()
    with pq.ParquetFile(changes_of(row)) as file:
        for batch in file.iter_batches(10_000):
            out.writerows(zip(*(column.to_pylist() for column in batch.columns), strict=True))
            yield taken()

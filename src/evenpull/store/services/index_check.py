"""The index against the facts: every row made again and compared, both ways. Writes nothing.

A row that is missing keeps a fact from being found, a row too many claims one that is not there; both are named. What
depends on the order of writing is compared by what it means: how many records wait for a joint, which joints there are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import groupby, islice
from typing import Any

from evenpull.store.models import Curve, CurveFile, Fact, Finding, Mention, Pull
from evenpull.store.services import index, judging
from evenpull.store.services.fact_kinds import CURVES, FILE, RECORD
from evenpull.store.services.log import writing

BATCH = 2_000
SHOWN = 200  # differences told; of more it is said that there are more
STRANGER = "stranger"
_PULL_FILE = index.PULL.index("file")


class _Comparing:
    """One run through the log. `lines`: the differences found so far, in words."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.known: dict[str, int] = {}  # SHA-256 of a file -> place of the fact that names it
        self.files: dict[int, str] = {}
        self.joints: dict[str, str] = {}  # fold -> id of the joints described
        self.waiting: Counter[str] = Counter()  # fold -> records of it
        self.first: dict[str, int] = {}

    def stretch(self, start: int, end: int) -> None:
        """Facts `start` ... `end` - 1 and the rows of the index that name them."""
        stored = Mention.objects.exclude(kind=STRANGER).filter(seq__gte=start, seq__lt=end)
        mentions = _grouped(stored.order_by("seq").values_list(*index.MENTION).iterator(BATCH))
        waiting = next(mentions, None)
        facts = Fact.objects.filter(seq__gte=start, seq__lt=end).order_by("seq").iterator(BATCH)
        for some in _batches(facts):
            rows = index.Rows()
            for fact in some:
                self._add(fact, rows)
            first, last = some[0].seq, some[-1].seq
            self._pulls(rows.pulls, first, last)
            found: Counter[tuple[Any, ...]] = Counter()
            while waiting is not None and waiting[0] <= last:
                found.update(waiting[1])
                waiting = next(mentions, None)
            self._mentions(Counter(rows.mentions), found)
            self._curves(rows)
            self.joints |= {name: joint for name, joint in rows.joints.items() if name not in self.joints}
            self.waiting.update(rows.strangers)
            for name, seq in rows.first.items():
                self.first.setdefault(name, seq)

    def _add(self, fact: Fact, rows: index.Rows) -> None:
        body = fact.data
        if fact.kind == FILE:
            self.files[fact.seq] = body["sha256"]
        written = index.Written(fact.seq, fact.kind, fact.joint, fact.key, fact.author, fact.written_at, body)
        if fact.kind == RECORD:
            self.known.setdefault(body["file_sha256"], -1)  # never asked of the index itself
        index.add(written, rows, self.known)

    def _pulls(self, wanted: list[tuple[Any, ...]], first: int, last: int) -> None:
        stored = Pull.objects.filter(seq__gte=first, seq__lte=last).values_list(*index.PULL)
        have = {row[0]: row for row in stored}
        for row in wanted:
            found = have.pop(row[0], None)
            if found is None:
                self.lines.append(f"fact {row[0]}: the tightening is not in the index")
            elif found != row and not self._alike(found, row):
                names = [name for name, a, b in zip(index.PULL, found, row, strict=True) if a != b]
                self.lines.append(f"fact {row[0]}: the index has another {', '.join(names)} than the tightening")
        self.lines += [f"fact {seq}: the index has a tightening that the log has not" for seq in sorted(have)]

    def _curves(self, rows: index.Rows) -> None:
        if rows.curve_files:
            from evenpull.store.services import curves_index  # loaded where there are curves

            for fact in rows.curve_files:
                self.lines += list(islice(curves_index.differences(fact.seq, fact.joint, fact.body), SHOWN))

    def _alike(self, found: tuple[Any, ...], wanted: tuple[Any, ...]) -> bool:
        """The same but for the place of its file, which of several facts of one and the same file it is."""
        files = [self.files.get(row[_PULL_FILE]) for row in (found, wanted)]
        rest = [(*row[:_PULL_FILE], *row[_PULL_FILE + 1 :]) for row in (found, wanted)]
        return rest[0] == rest[1] and files[0] == files[1] and files[0] is not None

    def _mentions(self, wanted: Counter[tuple[Any, ...]], found: Counter[tuple[Any, ...]]) -> None:
        if wanted == found:
            return
        for row in (wanted - found).elements():
            self.lines.append(f"fact {row[5]}: the index does not say that it names {_said(row)}")
        for row in (found - wanted).elements():
            self.lines.append(f"fact {row[5]}: the index says that it names {_said(row)}, and it does not")

    def beyond(self, size: int) -> None:
        """Rows that name places where the log has no fact, then what depends on the order of writing."""
        for model in (Pull, Mention):
            outside = [
                *model.objects.filter(seq__gte=size).values_list("seq", flat=True)[:SHOWN],
                *model.objects.filter(seq__lt=0).values_list("seq", flat=True)[:SHOWN],
            ]
            self.lines += [f"fact {seq}: the index names it, and the log has no such fact" for seq in outside]
        for model in (CurveFile, Curve):
            column = "seq" if model is CurveFile else "file"
            known = Fact.objects.filter(kind=CURVES).values("seq")
            outside = model.objects.exclude(**{f"{column}__in": known}).values_list(column, flat=True).distinct()
            said = "the index has curves of it, and it is no file of curves"
            self.lines += [f"fact {seq}: {said}" for seq in outside[:SHOWN]]
        kept = dict(Finding.objects.values_list("fold", "joint"))
        for name in sorted(self.joints.keys() - kept.keys()):
            self.lines.append(f"joint {self.joints[name]}: described, and not in the list of joints")
        for name in sorted(kept.keys() - self.joints.keys()):
            self.lines.append(f"joint {kept[name]}: in the list of joints, and nobody described it")
        for name in sorted(self.joints.keys() & kept.keys()):
            if kept[name] != self.joints[name]:
                self.lines.append(f"joint {self.joints[name]}: the list of joints calls it {kept[name]}")
        wanted = {name: (n, self.first[name]) for name, n in self.waiting.items() if name not in self.joints}
        rows = list(Mention.objects.filter(kind=STRANGER).values_list("fold", "n", "seq"))
        found = {name: (n, seq) for name, n, seq in rows}
        if wanted != found or len(rows) != len(found):
            names = sorted({name for name, _ in wanted.items() ^ found.items()})[:20] or ["one of them, twice"]
            self.lines.append(f"records whose joint nobody has described are counted wrong: {', '.join(names)}")


def differences() -> list[str]:
    """Where the index is not what the facts give, in words; empty when all of it is.

    Reads the log once while others write; only the last stretch, written meanwhile, is compared with writers kept out.
    """
    run, done = _Comparing(), 0
    size = judging.log_size()
    run.stretch(done, size)
    with writing():
        done, size = size, judging.log_size()
        run.stretch(done, size)
        run.beyond(size)
    return run.lines


def _batches(facts: Iterable[Fact]) -> Iterator[list[Fact]]:
    some: list[Fact] = []
    for fact in facts:
        some.append(fact)
        if len(some) == BATCH:
            yield some
            some = []
    if some:
        yield some


def _grouped(rows: Iterable[tuple[Any, ...]]) -> Iterator[tuple[int, list[tuple[Any, ...]]]]:
    """Rows of the index by the place of their fact."""
    for seq, some in groupby(rows, key=lambda row: row[5]):
        yield seq, list(some)


def _said(row: tuple[Any, ...]) -> str:
    kind, name, here, unit, fastener, _, n = row
    where = f" at {here}{' ' + unit if unit else ''}" if here else ""
    where += "" if fastener is None else f", fastener {fastener}"
    return f"{kind} {name!r}{where}{f' ({n} times)' if n != 1 else ''}"

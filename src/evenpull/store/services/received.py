"""What was received: the files with their readings, and the records of a joint, those that count and those that a
withdrawal took out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from django.db.models import Sum

from evenpull.evidence.checkpoint import read_moment
from evenpull.intake import Tightening, from_json
from evenpull.intake.record import UnreadRow
from evenpull.intake.withdrawn import Readings, Withdrawal
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import facts, readings, register
from evenpull.store.services.errors import Unknown
from evenpull.store.services.fact_kinds import FILE, RECORD, UNREAD
from evenpull.store.services.rows import FileRow, FileView, Given, ReadingWithdrawn, SetAsideRow, UnplacedRow


@dataclass(frozen=True)
class Lost:
    """What one withdrawal took from a joint."""

    withdrawal: Withdrawal
    file: FileRow
    records: tuple[Tightening, ...]
    unread: tuple[UnreadRow, ...]


@dataclass(frozen=True)
class Received:
    """The records and unread rows of a joint that count, in the order of writing, and those that no longer do.
    `places`: key of a record or row that counts -> its place in the log."""

    tightenings: tuple[Tightening, ...]
    unread: tuple[UnreadRow, ...]
    lost: tuple[Lost, ...]
    places: dict[str, int]

    @property
    def renamed(self) -> dict[str, str]:
        """Key that a record had in earlier versions -> its key, where they differ (docs/decisions/0018)."""
        gone = (row for one in self.lost for row in one.records)
        return {row.former_key: row.key for row in (*self.tightenings, *gone) if row.former_key != row.key}


def column(joint: str) -> str:
    """A joint as written in a file, as far as a column can hold it; longer texts are no joint id anyhow.

    The body of the fact keeps the text to the letter.
    """
    return joint.replace("\0", "\u2400")[:100]


def of_joint(joint_id: str) -> Received:
    """What was received for a joint, under its own id."""
    held = [(fact.seq, from_json(fact.data)) for fact in facts.of_joint(joint_id, RECORD, UNREAD)]
    known = readings.of_files(found.file_sha256 for _, found in held)
    rows: list[Tightening] = []
    unread: list[UnreadRow] = []
    lost: dict[int, tuple[list[Tightening], list[UnreadRow]]] = {}
    places: dict[str, int] = {}
    for seq, found in held:
        reading = known.of(readings.Place(seq, found.file_sha256)).seq if known.withdrawn else -1
        to_rows, to_unread = lost.setdefault(reading, ([], [])) if reading in known.withdrawn else (rows, unread)
        if isinstance(found, Tightening):
            row = found if found.joint == joint_id else _placed(found, joint_id)
            to_rows.append(row)
            key = row.key
        elif isinstance(found, UnreadRow):
            to_unread.append(replace(found, joint=joint_id))
            key = f"{found.file_sha256[:16]}/{found.row}/{found.raw_sha256[:16]}"
        else:
            raise TypeError(f"fact {seq} holds neither a record nor an unread row")
        if reading not in known.withdrawn:
            places[key] = seq
    return Received(tuple(rows), tuple(unread), tuple(_lost(known, lost)), places)


def _lost(
    known: Readings, lost: Mapping[int, tuple[list[Tightening], list[UnreadRow]]]
) -> Iterator[Lost]:
    """What each withdrawal took, in the order of the withdrawals."""
    files = {fact.seq: fact for fact in facts.by_seq(lost)}
    said = readings.withdrawals(lost)
    for place in sorted(lost, key=lambda place: known.withdrawn[place].seq):
        records, rows = lost[place]
        yield Lost(known.withdrawn[place], marked(_file_row(files[place]), said[place]), tuple(records), tuple(rows))


def _placed(row: Tightening, joint_id: str) -> Tightening:
    """The record under the joint's own id; how the source wrote it stays in the cells and is said."""
    return replace(row, joint=joint_id, remarks=(*row.remarks, f"the source writes the joint {row.joint!r}"))


def file_facts(sha256: str) -> list[Fact]:
    """The readings of a file, the first one first."""
    return facts.by_seq(_places(sha256))


def last_fact(sha256: str) -> Fact | None:
    """The last reading of a file, whether it counts or not."""
    found = _places(sha256)
    return Fact.objects.get(seq=max(found)) if found else None


def _places(sha256: str) -> list[int]:
    """Places of the readings of a file; none for what is no SHA-256, which may hold what a database refuses."""
    if len(sha256) != 64 or not sha256.isascii() or not sha256.isalnum():
        return []
    return list(readings.of_files([sha256]).by_seq)


def file_names(most: int) -> list[FileRow]:
    """The latest files taken in, at most so many."""
    return _marked(_file_row(fact) for fact in Fact.objects.filter(kind=FILE).order_by("-seq")[:most])


def files() -> list[FileRow]:
    """Files taken in, the latest first; one that was read again stands there with each reading."""
    return _marked(_file_row(fact) for fact in Fact.objects.filter(kind=FILE).order_by("-seq"))


def _file_row(fact: Fact) -> FileRow:
    body = fact.data
    return FileRow(
        body["name"],
        body["sha256"],
        body["size"],
        body["mapping"],
        body["new"],
        len(body["repeated"]),
        body["unread"],
        len(body["set_aside"]),
        read_moment(fact.received_at),
        fact.author,
        tuple(body["joints"]),
        fact.seq,
    )


def marked(row: FileRow, fact: Fact) -> FileRow:
    """The reading with the withdrawal that this fact states."""
    b = fact.data
    said = ReadingWithdrawn(
        fact.seq, fact.author, read_moment(b["at"]), b["why"], b.get("identity", ""),
        sum(one["records"] for one in b["joints"].values()), sum(one["unread"] for one in b["joints"].values()),
        sum(len(one["rows"]) for one in b["taken"]),
    )  # fmt: skip
    return replace(row, withdrawn=said)


def _marked(rows: Iterable[FileRow]) -> list[FileRow]:
    """The readings, each with its withdrawal if there is one."""
    given = list(rows)
    said = readings.withdrawals(row.reading for row in given) if readings.are_some() else {}
    return [marked(row, said[row.reading]) if row.reading in said else row for row in given]


def readings_of(sha256: str) -> list[FileRow]:
    """The readings of a file, the first one first; none when it was never taken in."""
    return _marked(_file_row(fact) for fact in file_facts(sha256))


def file(sha256: str) -> FileView:
    """One file with its rows that are no records, as last read, and its earlier readings. Unknown when no such file
    was taken in."""
    held = file_facts(sha256)
    if not held:
        raise Unknown(f"no file with SHA-256 {sha256} was taken in")
    *earlier, row = _marked(_file_row(fact) for fact in held)
    unread = [
        u
        for first, last in readings.ranges_of(held[-1])
        for f in Fact.objects.filter(seq__gte=first, seq__lte=last, kind=UNREAD).order_by("seq")
        if isinstance(u := from_json(f.data), UnreadRow)
    ]
    body = held[-1].data
    aside = tuple(SetAsideRow(s["row"], s["why"], s["raw"]) for s in body["set_aside"])
    values = {name: getattr(row, name) for name in FileRow.__dataclass_fields__}
    return FileView(
        **values, unread_rows=tuple(unread), set_aside_rows=aside, notes=tuple(body["notes"]),
        earlier=tuple(reversed(earlier)), given=tuple(_given(held[-1])),
    )  # fmt: skip


def _given(taking: Fact) -> Iterator[Given]:
    for fact in readings.withdrawals_that_took(taking.data["sha256"]):
        for other in fact.data["taken"]:
            if other["reading"] == taking.seq:
                yield Given(fact.seq, fact.data["name"], len(other["rows"]))


def files_of(joint_id: str) -> list[FileRow]:
    """Readings that gave records of this joint or repeated some, the first one first, withdrawn ones marked."""
    here = Mention.objects.filter(kind__in=("file", "repeated"), fold=facts.fold(joint_id))
    return _marked(_file_row(fact) for fact in facts.by_seq(here.values_list("seq", flat=True)))


def repeated_of(joint_id: str) -> int:
    """How many records of this joint came again and were ignored, by the readings that count."""
    here = Mention.objects.filter(kind="repeated", fold=facts.fold(joint_id))
    if readings.are_some():
        here = here.exclude(seq__in=readings.withdrawn_places())
    return here.aggregate(all=Sum("n"))["all"] or 0


def unplaced_count() -> int:
    """How many records name a joint that nobody has described."""
    return Mention.objects.filter(kind="stranger").aggregate(all=Sum("n"))["all"] or 0


def unplaced(most: int | None = None) -> list[UnplacedRow]:
    """Records whose joint nobody has described, at most the first `most`; they join it as soon as somebody does."""
    names = list(Mention.objects.filter(kind="stranger").order_by("seq").values_list("fold", flat=True)[:most])
    places = [
        seq
        for name in names
        for seq in readings.counting(Pull.objects.filter(fold=name)).order_by("seq").values_list("seq", flat=True)[
            :most
        ]
    ]
    known = register.joint_ids() if places else []
    close = lru_cache(maxsize=None)(lambda joint: register.near(joint, known))
    rows = []
    for fact in facts.by_seq(sorted(places)[:most]):
        body = fact.data
        held = last_fact(body["file_sha256"])
        name = body["file_sha256"][:16] if held is None else held.data["name"]
        rows.append(UnplacedRow(fact.joint, body["fastener"], name, body["row"], close(fact.joint)))
    return rows

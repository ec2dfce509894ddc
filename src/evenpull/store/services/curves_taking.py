"""Taking in files of curves: kept raw, read, written as Parquet, one fact; all of it or nothing.

    raw file + mapping --intake.curve_file--> parts --KeyedWriter--> Parquet | one fact, its rows in the index

Raw file and Parquet are on the disk before the fact refers to them; after a kill in between, files that nobody refers
to are harmless. The same content again changes nothing.

    take(name, data, joint, author, mapping="", thin=None) -> Taken
    check(name, data, mapping) -> curves           reads it all, writes nothing
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenpull.curve.columns import CurveError
from evenpull.curve.keyed import WRITER, read_keys
from evenpull.intake.curve_file import read_curve_parts
from evenpull.intake.curve_mapping import CurveMapping
from evenpull.store.models import Fact, Pull
from evenpull.store.services import curves_kept as kept
from evenpull.store.services import facts, readings
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import CURVES, CURVES_WITHDRAWN
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import home, keep_raw
from evenpull.store.services.taking import called


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of it: the file as its fact tells it; `already`: it was there before, and nothing was written."""

    row: CurveFileRow
    already: bool


def take(
    name: str, data: bytes | Path, joint_id: str, author: str, *, mapping: str = "",
    thin: tuple[float, float] | None = None,
) -> Taken:
    """Take in one file of curves of one joint, wholly or not at all.

    `mapping`: name of the curve mapping; without one the file has to be Parquet of our own layout. `thin`: tolerances
    (N.m, deg) by which points are left out of the kept Parquet; the raw file is kept whole anyway. CurveError with
    file, line and column for a file that cannot be taken; UnknownJoint for a joint that nobody described; Refused where
    the same content was taken for another joint or under another mapping.
    """
    who, name, joint = checked_author(author), called(name), kept.described(joint_id)
    how = kept.mapping(mapping) if mapping else None
    with _on_disk(data) as path:
        sha256 = _sha256(path)
        if (earlier := _already(sha256, joint, how, thin)) is not None:
            return Taken(earlier, True)
        made = kept.make_parquet(path, how, joint, name, thin)
        if keep_raw(path) != sha256:
            raise Refused(f"{name} was changed while it was read; take it in again once complete. Nothing was written.")
        size = path.stat().st_size
    with writing():
        if (earlier := _already(sha256, joint, how, thin)) is not None:  # another process was faster
            return Taken(earlier, True)
        before = len(readings_of(sha256))
        body = {
            "name": name, "sha256": sha256, "size": size, "mapping": "" if how is None else how.name,
            "mapping_sha256": "" if how is None else how.digest, "curves": made.file.curves, "points": made.file.points,
            "keyed": made.file.keyed, "matched": matched(made.file.path), "parquet_sha256": made.file.sha256,
            "content": made.file.content, "writer": WRITER,
            "thin": None if thin is None else {"torque": thin[0], "angle": thin[1]}, "thinned_by": made.rule,
            "odd": made.odd,
        }  # fmt: skip
        (fact,) = append([New(CURVES, kept.key_of(sha256, before), body, joint)], who)
    return Taken(kept.row_of(fact), False)


def check(name: str, data: bytes | Path, how: CurveMapping | None) -> int:
    """How many curves the file holds, all of it read; writes nothing. CurveError where it cannot be taken."""
    with _on_disk(data) as path:
        return sum(len(part.runs) for part in read_curve_parts(path, how, name))


@contextmanager
def _on_disk(data: bytes | Path) -> Iterator[Path]:
    """The file as a path; bytes lie in the folder of the dossier for as long as they are read."""
    if isinstance(data, Path):
        yield data
        return
    with tempfile.NamedTemporaryFile(prefix=".taking-", dir=home()) as out:
        out.write(data)
        out.flush()
        yield Path(out.name)


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def readings_of(sha256: str) -> list[Fact]:
    """The facts of a raw file, the first one first; all but the last were withdrawn."""
    found: list[Fact] = []
    while some := facts.by_key([kept.key_of(sha256, len(found))]):
        found += some
    return found


def _already(
    sha256: str, joint: str, how: CurveMapping | None, thin: tuple[float, float] | None
) -> CurveFileRow | None:
    """The file as it was taken before and not withdrawn since; Refused where that was in another way."""
    before = readings_of(sha256)
    if not before or Fact.objects.filter(key=f"{CURVES_WITHDRAWN}:{before[-1].seq}").exists():
        return None
    row = kept.row_of(before[-1])
    digest = "" if how is None else how.digest
    if row.joint != joint or row.mapping_sha256 != digest or row.thin != thin:
        by = f"by mapping {row.mapping!r}" if row.mapping else "without a mapping"
        raise Refused(
            f"this content was taken before, as {row.name!r} for joint {row.joint}, {by}"
            f"{', thinned' if row.thin else ''} (fact {row.seq}). If that was wrong, withdraw it with: evenpull curves "
            f"withdraw {row.seq}; then take it again. Nothing was written."
        )
    return row


def matched(path: Path) -> int:
    """How many curves of a Parquet name a record that is here and counts."""
    count = 0
    for batch in read_keys(path):
        tools, epochs = batch.column("tool").to_pylist(), batch.column("epoch").to_pylist()
        counters = batch.column("counter").fill_null(-1).to_numpy(zero_copy_only=False)
        streams = np.array([f"{tool}\0{epoch}" for tool, epoch in zip(tools, epochs, strict=True)], object)
        for stream in set(streams):
            tool, _, epoch = stream.partition("\0")
            own = counters[(streams == stream) & (counters >= 0)]
            if not tool or not len(own):
                continue
            there = readings.counting(Pull.objects.filter(
                tool=tool[:100], epoch=epoch[:100], counter__gte=int(own.min()), counter__lte=int(own.max())
            )).values_list("counter", flat=True)  # fmt: skip
            count += int(np.isin(own, np.fromiter(there, np.int64)).sum())
    return count


__all__ = ["CurveError", "Taken", "matched", "take"]

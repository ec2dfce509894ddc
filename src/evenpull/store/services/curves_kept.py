"""Files of curves that were taken in: their facts, and the Parquet that is made from each raw file.

The raw file is what was received and is kept. The Parquet is derived: where it is missing (after a restore) it is made
again from the raw file under the mapping of that day, and its content has to be the one that the fact names.

Signatures that pages build on: `files(joint=None) -> list[CurveFileRow]`, `file(seq) -> CurveFileRow`,
`parquet_of(row) -> Path`, `one_curve(row, number) -> (run, Keys, Curves)`, `mappings() -> list[MappingRow]`.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np

from evenpull.curve import keyed
from evenpull.curve.columns import CurveError, Curves
from evenpull.curve.features import FeatureTable, measure
from evenpull.curve.keyed import KeyedFile, KeyedWriter, Keys, content_of, read_one
from evenpull.curve.thin import thin
from evenpull.evidence.checkpoint import read_moment
from evenpull.intake.curve_file import read_curve_parts
from evenpull.intake.curve_mapping import CurveMapping, read_curve_mapping
from evenpull.intake.withdrawn import free_key
from evenpull.store.models import Fact, Mention
from evenpull.store.services import facts, register
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CURVE_MAPPING, CURVES, CURVES_WITHDRAWN
from evenpull.store.services.index import CURVES_GONE
from evenpull.store.services.log import New, append, checked_author, checked_reason, writing
from evenpull.store.services.place import checked_raw, home
from evenpull.store.services.rows import MappingRow

ODD = ("n_bad", "n_gaps", "n_resets", "n_pauses", "n_spikes", "n_late", "n_repeat")  # told, and never repaired


@dataclass(frozen=True, slots=True)
class CurveFileRow:
    """One file of curves as its fact tells it. `odd`: feature -> (curves that show it, how often in all); `matched`:
    curves whose record was there when the file came; `thinned_by` "" where it was not thinned here."""

    seq: int
    joint: str
    name: str
    sha256: str
    size: int
    mapping: str
    mapping_sha256: str
    curves: int
    points: int
    keyed: int
    matched: int
    parquet_sha256: str
    content: str
    writer: str
    thin: tuple[float, float] | None
    thinned_by: str
    odd: dict[str, tuple[int, int]]
    author: str
    received_at: datetime
    withdrawn: str = ""  # who withdrew it, when and why, in words


def row_of(fact: Fact, withdrawn: str = "") -> CurveFileRow:
    """The row of a fact of the kind "curve file"."""
    b = fact.data
    return CurveFileRow(
        fact.seq, fact.joint, b["name"], b["sha256"], b["size"], b["mapping"], b["mapping_sha256"], b["curves"],
        b["points"], b["keyed"], b["matched"], b["parquet_sha256"], b["content"], b["writer"],
        None if b["thin"] is None else (b["thin"]["torque"], b["thin"]["angle"]), b["thinned_by"],
        {name: (n, times) for name, (n, times) in b["odd"].items()}, fact.author, read_moment(fact.received_at),
        withdrawn,
    )  # fmt: skip


def gone() -> set[int]:
    """Places of the files of curves that were withdrawn."""
    return set(Mention.objects.filter(kind=CURVES_GONE, fold="").values_list("seq", flat=True))


def files(joint_id: str | None = None, *, withdrawn: bool = False) -> list[CurveFileRow]:
    """The files of a joint, or all, in the order in which they came; those withdrawn only where they are asked for."""
    found = facts.of_joint(joint_id, CURVES) if joint_id else Fact.objects.filter(kind=CURVES).order_by("seq")
    said = {f.data["file"]: _words(f) for f in Fact.objects.filter(kind=CURVES_WITHDRAWN)} if gone() else {}
    rows = [row_of(fact, said.get(fact.seq, "")) for fact in found]
    return [row for row in rows if withdrawn or not row.withdrawn]


def file(seq: int) -> CurveFileRow:
    """One file by the place of its fact. Unknown when there is none."""
    fact = Fact.objects.filter(seq=seq, kind=CURVES).first()
    if fact is None:
        known = ", ".join(str(n) for n in Fact.objects.filter(kind=CURVES).values_list("seq", flat=True)[:20])
        raise Unknown(f"fact {seq} is no file of curves; there are: {known or 'none yet'}")
    said = facts.by_key([f"{CURVES_WITHDRAWN}:{seq}"])
    return row_of(fact, _words(said[0]) if said else "")


def _words(fact: Fact) -> str:
    return f"{fact.author}, {read_moment(fact.written_at):%Y-%m-%d %H:%M} UTC: {fact.data['why']}"


def withdraw(seq: int, why: str, author: str) -> bool:
    """A person takes a file of curves back: taken for the wrong joint, under a wrong mapping. It stays kept and
    readable, and says nothing more. False when it was withdrawn before. Refused without a reason."""
    who, row = checked_author(author), file(seq)
    reason = checked_reason(why, "withdrawing")
    with writing():
        if Fact.objects.filter(key=f"{CURVES_WITHDRAWN}:{seq}").exists():
            return False
        body = {"file": seq, "sha256": row.sha256, "name": row.name, "curves": row.curves, "why": reason}
        append([New(CURVES_WITHDRAWN, f"{CURVES_WITHDRAWN}:{seq}", body, row.joint)], who)
    return True


def key_of(sha256: str, before: int) -> str:
    """Key of a file of curves of which `before` readings were withdrawn."""
    return free_key(f"{CURVES}:{sha256}", before)


# Mappings of curves: texts, the one in force under a name is the last.


def add_mapping(text: str, file: str, author: str) -> MappingRow:
    """Write a curve mapping; MappingError with line and field when it cannot be used. The same text again changes
    nothing."""
    who = checked_author(author)
    found = read_curve_mapping(text, file)
    with writing():
        last = _mappings().get(found.name)
        if last is not None and last["digest"] == found.digest:
            return MappingRow(found.name, file, found.digest, changed=False)
        count = Fact.objects.filter(kind=CURVE_MAPPING).count()
        body = {"name": found.name, "file": file, "text": text, "digest": found.digest}
        append([New(CURVE_MAPPING, f"{CURVE_MAPPING}:{count + 1}:{found.digest}", body)], who)
    return MappingRow(found.name, file, found.digest, changed=True)


def _mappings() -> dict[str, Any]:
    return {f.data["name"]: f.data for f in Fact.objects.filter(kind=CURVE_MAPPING).order_by("seq")}


def mappings() -> list[MappingRow]:
    """The curve mapping now in force under each name, by name."""
    return [MappingRow(name, b["file"], b["digest"], changed=False) for name, b in sorted(_mappings().items())]


_read_mapping = lru_cache(maxsize=64)(read_curve_mapping)


def mapping(name: str) -> CurveMapping:
    """The curve mapping in force under this name. Unknown with the names there are."""
    known = _mappings()
    if name not in known:
        raise Unknown(f"no curve mapping {name!r} is known; there are: {', '.join(sorted(known)) or 'none yet'}. Write "
                      "one with: evenpull curves mapping FILE")
    return _read_mapping(known[name]["text"], known[name]["file"])


def mapping_of(name: str, digest: str) -> CurveMapping | None:
    """The mapping in the state in which a file was read, None where it was read without one."""
    if not digest:
        return None
    for fact in Fact.objects.filter(kind=CURVE_MAPPING).order_by("seq"):
        if fact.data["digest"] == digest:
            return _read_mapping(fact.data["text"], fact.data["file"])
    raise Unknown(f"the curve mapping {name!r} is not kept in the state {digest[:16]} in which the file was read")


# The Parquet that is made of a raw file.


def folder() -> Path:
    return home() / "curves"


def place_of(joint: str, content: str) -> Path:
    return folder() / f"joint={quote(joint, safe='')}" / f"{content}.parquet"


@dataclass(frozen=True)
class Made:
    """A Parquet that was made, with what was odd about its curves and by which rule it was thinned."""

    file: KeyedFile
    odd: dict[str, list[int]]
    rule: str


def make_parquet(
    path: Path, mapping: CurveMapping | None, joint: str, name: str, tolerance: tuple[float, float] | None
) -> Made:
    """Read a raw file and write its Parquet, a part at a time. `tolerance`: of thinning, N.m and deg. CurveError, with
    nothing left, for a file that cannot be taken."""
    odd, rule = {what: [0, 0] for what in ODD}, ""
    with KeyedWriter(folder(), joint) as out:
        for part in read_curve_parts(path, mapping, name):
            _count(odd, measure(part.curves))
            if part.kept is not None:
                if tolerance is not None:
                    raise CurveError(f"{name}: the curves were thinned before they came; a second thinning would hide "
                                     "how far they are from what was recorded. Take them as they are.")
                out.copy(part.runs, part.curves, part.keys, part.kept)
            elif tolerance is not None:
                thinned = thin(part.curves, torque=tolerance[0], angle=tolerance[1])
                rule = thinned.rule
                out.add(part.runs, thinned, part.keys)
            else:
                out.add(part.runs, part.curves, part.keys)
        made = out.finish()
    return Made(made, {what: counts for what, counts in odd.items() if counts[0]}, rule)


def _count(odd: dict[str, list[int]], features: FeatureTable) -> None:
    for what, counts in odd.items():
        values = features[what]
        counts[0] += int((values > 0).sum())
        counts[1] += int(np.nansum(values))


def parquet_of(row: CurveFileRow) -> Path:
    """The Parquet of a file, its content checked. Made again from the raw file where it is missing. Refused where it
    was changed on the disk, and where the raw file gives other curves than the fact says."""
    path = place_of(row.joint, row.content)
    if not path.exists():
        try:
            how = mapping_of(row.mapping, row.mapping_sha256)
            made = make_parquet(checked_raw(row.sha256), how, row.joint, row.name, row.thin)
        except CurveError as error:
            raise Refused(f"the curves of {row.name} cannot be read from the raw file any more: {error}") from error
        if made.file.content != row.content:
            made.file.path.unlink()
            raise Refused(
                f"the raw file {row.sha256} of {row.name} gives other curves than fact {row.seq} says (content "
                f"{made.file.content[:16]}, not {row.content[:16]}): this version reads it in another way. Use the "
                "version that took it in, and report it."
            )
    about = path.stat()
    damage = _damage(path, row.joint, row.content, row.parquet_sha256, about.st_size, about.st_mtime_ns,
                     about.st_ctime_ns)
    if damage:
        raise Refused(f"{damage}; delete that file: it is made again from the raw file {row.sha256}")
    return path


@lru_cache(maxsize=4096)
def _damage(
    path: Path, joint: str, content: str, sha256: str, size: int, modified: int, changed: int
) -> str:
    """What is wrong with a Parquet, "" for nothing. Its bytes may be another version's; then its content counts."""
    with path.open("rb") as stream:
        if hashlib.file_digest(stream, "sha256").hexdigest() == sha256:
            return ""
    try:
        found = content_of(path, joint)
    except CurveError as error:
        return str(error)
    return "" if found == content else f"{path} was changed on the disk: it holds other curves than were taken in"


def one_curve(row: CurveFileRow, number: int) -> tuple[str, Keys, Curves]:
    """One curve of a file by its number from 0: its run, its key, its points. Unknown beyond the last."""
    if not 0 <= number < row.curves:
        raise Unknown(f"{row.name} has the curves 0 to {row.curves - 1}, and no curve {number}")
    runs, keys, curves = read_one(parquet_of(row), number)
    return runs[0], keys, curves


def original_of(row: CurveFileRow, number: int) -> tuple[int, str, str]:
    """Of one curve: points as received, their SHA-256, and the rule by which it was thinned ("" where it was not)."""
    return keyed.original_of(parquet_of(row), number)


def described(joint_id: str) -> str:
    """The id of a joint as it is described. UnknownJoint with near ids."""
    found = register.described([joint_id])
    return found.get(joint_id) or found.get(facts.fold(joint_id)) or register.specification(joint_id).id

"""Judging files of curves: basis from plan and learned windows, findings in Parquet, kept by rules and basis.

    curves + keys + records --basis--> which revision and pass each curve is judged by
    curves + basis + learned windows --curve.judge--> findings, never written over older ones

    judged(row) -> Path             the present findings of a file, made where they are not there
    findings_of(row) -> [Path]      those of all versions that are kept, the oldest first
    head_of(path), found_in(path)   what they rest on; the curves on which something was found
    counts(path) -> {words: n}      curves by answer and by verdict named first
    found_count(path) -> n          curves on which something was found
"""

from __future__ import annotations

import hashlib
import json
import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from django.db.models import Max
from django.utils.crypto import constant_time_compare, salted_hmac
from numpy.typing import NDArray

from evenpull.curve.expectation import Expectation
from evenpull.curve.features import measure
from evenpull.curve.judged_table import (
    LIMITS,
    FindingPart,
    FindingsWriter,
    Head,
    file_sha256,
    read_findings,
    read_head,
)
from evenpull.curve.keyed import NONE, Keys, read_keyed, read_keys
from evenpull.curve.learned import Learned
from evenpull.curve.reasons import reasons
from evenpull.curve.verdicts import ANSWERS, VERDICTS, verdicts
from evenpull.curve.version import RULES_VERSION, THRESHOLDS_TEXT
from evenpull.plan import make_plan
from evenpull.plan.curve_expectation import Stated, expectation_of, nothing_of
from evenpull.plan.model import Plan
from evenpull.proof.revisions import InForce
from evenpull.store.models import Checkpoint, CurveFile
from evenpull.store.services import curves_kept as kept
from evenpull.store.services import curves_learning, register
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.curves_matching import records_of_file
from evenpull.store.services.errors import Refused
from evenpull.store.services.log import writing
from evenpull.store.services.place import home

NO_PASS = "the pass is not known: neither curve nor record states it, and the plan has several"
NO_PLACE = "the plan has no such pass"
TOO_EARLY = "made before any revision was in force"
UNDONE = "its record tells of a loosening or a check, no tightening of a pass"
OTHER_JOINT = "its record belongs to another joint"


def folder() -> Path:
    return home() / "curve-findings"


@dataclass(frozen=True, eq=False)
class Basis:
    """By what the curves of a file are judged now. `number`: for each curve its place in `stated`; `under`: the curves
    for which the learned windows are; `digest` names all of it."""

    stated: tuple[Stated, ...]
    number: NDArray[np.int32]
    learned: Learned | None
    learned_by: str
    under: NDArray[np.bool_]
    digest: str


def basis(row: CurveFileRow) -> Basis:
    """The basis of one file, from the plan in force at the time of each curve, its pass and the windows learned before
    the file came."""
    keys, matched = _keys(row), records_of_file(row.seq, row.curves)
    own = np.where(matched.elsewhere, NONE, matched.pass_number)
    pass_number = np.where(keys.pass_number != NONE, keys.pass_number, own)
    fastener = np.where(keys.fastener != NONE, keys.fastener, np.where(matched.elsewhere, NONE, matched.fastener))
    when = np.where(np.isnan(keys.began_s), matched.time, keys.began_s)
    when = np.where(np.isnan(when), row.received_at.timestamp(), when)
    kind = np.where(matched.elsewhere, 2, np.where(matched.undoing, 1, 0))
    stated, number = _bases(row.joint, kind, when, pass_number, fastener)
    windows = curves_learning.in_force(row.joint, row.seq)
    learned, learned_by, of_pass = (None, "", NONE) if windows is None else windows
    passes = np.array([pass_of(one) for one in stated], np.int64)[number] if stated else pass_number
    under = (passes == of_pass) if learned is not None else np.zeros(row.curves, bool)
    said = json.dumps([
        RULES_VERSION, row.content,
        [[one.basis, list(one.without), [repr(float(getattr(one.expectation, name)[0])) for name in LIMITS]]
         for one in stated],
        "" if learned is None else learned.digest, learned_by, of_pass,
    ])  # fmt: skip
    digest = hashlib.sha256(said.encode() + number.astype("<i4").tobytes()).hexdigest()
    return Basis(stated, number, learned, learned_by, under, digest)


@dataclass(frozen=True, slots=True, eq=False)
class _Placed(Stated):
    """A basis that knows its pass."""

    of_pass: int = NONE


def pass_of(one: Stated) -> int:
    """The pass that a basis is for, NONE where there is none."""
    return one.of_pass if isinstance(one, _Placed) else NONE


def _keys(row: CurveFileRow) -> Keys:
    """The numbers of the keys of all curves of a file, by number; the texts are left out."""
    columns: dict[str, list[Any]] = {"pass_number": [], "fastener": [], "began_s": []}
    for batch in read_keys(kept.parquet_of(row)):
        for name, parts in columns.items():
            empty = math.nan if name == "began_s" else NONE
            parts.append(batch.column(name).fill_null(empty).to_numpy(zero_copy_only=False))
    whole = {name: np.concatenate(parts) for name, parts in columns.items()}
    return Keys((), (), (), np.full(row.curves, NONE, np.int64), whole["fastener"], whole["pass_number"],
                whole["began_s"])


def _bases(
    joint: str, kind: Any, when: Any, pass_number: Any, fastener: Any
) -> tuple[tuple[Stated, ...], NDArray[np.int32]]:
    """The different bases of the curves of a joint, and which of them each has."""
    days = np.floor(when / 86400).astype(np.int64)
    plans = plans_of(joint)
    force = InForce(plans[-1], plans[:-1])
    seen, which = np.unique(days, return_inverse=True)
    in_force = [force.on(_day(int(day))) for day in seen]
    place = np.array([plans.index(one) if one is not None else NONE for one in in_force], np.int64)[which]
    own = np.array([any(one.own for one in plan.passes) for plan in plans])
    numbered = np.where(own[np.maximum(place, 0)], fastener, 0)  # elsewhere all fasteners get the same
    rows, number = np.unique(np.column_stack([kind, place, pass_number, numbered]), axis=0, return_inverse=True)
    stated = tuple(_stated(plans, *(int(value) for value in row)) for row in rows)
    return stated, number.reshape(-1).astype(np.int32)


def _day(days: int) -> Any:
    """The day so many days after 1970-01-01; a time that no calendar holds is the first or last day of it."""
    return datetime.fromtimestamp(min(max(days, -700_000), 2_900_000) * 86400, UTC).date()


def plans_of(joint: str) -> tuple[Plan, ...]:
    """The plans of all revisions of a joint, the one in force last."""
    spec, today = register.specification(joint), datetime.now(UTC).date()
    return tuple(make_plan(one, register.tools_in_force(today, one.tools_allowed), today)
                 for one in (*register.earlier_specifications(joint), spec))


def _stated(plans: tuple[Plan, ...], kind: int, place: int, number: int, fastener: int) -> Stated:
    if kind:
        return nothing_of("not judged by a plan", OTHER_JOINT if kind == 2 else UNDONE)
    if place == NONE:
        return nothing_of("no revision", TOO_EARLY)
    plan = plans[place]
    source = plan.spec.source
    said = f"{source.document} revision {source.revision}"
    if number == NONE:
        if len(plan.passes) != 1:
            return nothing_of(said, NO_PASS)
        number = plan.passes[0].number
    one = plan.pass_by_number(number)
    if one is None:
        return nothing_of(said, f"{NO_PLACE}: {number}")
    found = expectation_of(plan, one, fastener)
    return _Placed(found.expectation, found.basis, found.without, number)


def _expected(own: Basis, first: int, last: int) -> Expectation:
    """Expectation of the curves `first` to `last` - 1 of a file."""
    number = own.number[first:last]
    return Expectation(**{
        one.name: np.array([getattr(stated.expectation, one.name)[0] for stated in own.stated], np.float64)[number]
        for one in fields(Expectation)
    })


def judge(row: CurveFileRow, own: Basis) -> Path:
    """Judge all curves of a file by a basis, a part at a time, and write the findings. Where they lie."""
    head = Head(RULES_VERSION, THRESHOLDS_TEXT, row.content, row.joint, own.digest,
                tuple((one.basis, one.without) for one in own.stated), own.learned, own.learned_by)
    thresholds = tomllib.loads(THRESHOLDS_TEXT)
    with FindingsWriter(folder(), head) as out:
        first = 0
        for runs, keys, curves in read_keyed(kept.parquet_of(row)):
            last = first + len(runs)
            expectation = _expected(own, first, last)
            features = measure(curves, target=expectation.target)
            mechanics, learned = verdicts(features, expectation, thresholds=thresholds), None
            if own.learned is not None:
                learned = verdicts(features, own.learned.limits(expectation), own.learned.basis, thresholds)
            out.add(runs, keys, own.number[first:last], mechanics, learned, own.under[first:last])
            first = last
        return out.finish()


def path_of(judged: str, content: str) -> Path:
    """Where the findings "version/basis" of some content lie."""
    version, _, digest = judged.partition("/")
    return folder() / f"rules={version}" / f"{content}.{digest[:16]}.parquet"


def judged(row: CurveFileRow) -> Path:
    """The findings of a file under the rules of this version and the facts as they are. Made, and noted, where they are
    not there yet. Refused where somebody changed them on the disk."""
    noted = CurveFile.objects.get(seq=row.seq)
    ours = constant_time_compare(noted.seal, seal(noted))
    if ours and not noted.stale and noted.judged.startswith(f"{RULES_VERSION}/"):
        path = path_of(noted.judged, row.content)
        if path.exists():
            about = path.stat()
            if _sha256(path, about.st_size, about.st_mtime_ns, about.st_ctime_ns) != noted.found_sha256:
                raise Refused(f"{path} was changed on the disk; delete it: the curves are judged again then")
            return path
    size = _log_size()
    own = basis(row)
    said = f"{RULES_VERSION}/{own.digest}"
    path = path_of(said, row.content)
    if path.exists() and (noted.judged != said or not ours):
        path.unlink()  # made by nobody knows whom: what follows from the facts is computed
    if not path.exists():
        path = judge(row, own)
    noted.judged, noted.found_sha256 = said, file_sha256(path)
    noted.seal = seal(noted)
    with writing():  # what was written while this was computed may ask for another basis
        CurveFile.objects.filter(seq=row.seq).update(
            stale=_log_size() != size, judged=noted.judged, found_sha256=noted.found_sha256, seal=noted.seal
        )
    return path


def _log_size() -> int:
    """How many facts there are now, asked anew each time."""
    return Checkpoint.objects.aggregate(last=Max("size"))["last"] or 0


@lru_cache(maxsize=4096)
def _sha256(path: Path, size: int, modified: int, changed: int) -> str:
    return file_sha256(path)


def seal(noted: CurveFile) -> str:
    """Made with a key of the folder, as the seal of a joint's finding is."""
    said = json.dumps([noted.seq, noted.fold, noted.judged, noted.found_sha256])
    return salted_hmac("curve finding", said, algorithm="sha256").hexdigest()


def findings_of(row: CurveFileRow) -> list[Path]:
    """All findings of a file that are kept, of whatever version and basis, the oldest first."""
    found = folder().glob(f"rules=*/{row.content}.*.parquet")
    return sorted(found, key=lambda path: (path.stat().st_mtime_ns, str(path)))


head_of = read_head


def counts(path: Path) -> dict[str, int]:
    """How many curves got which answer, and which verdict was named first, on each basis that there is."""
    found: dict[str, int] = {}
    for basis, end in (("", ""), (" (learned windows)", "_learned")):
        for name, words in (("answer", [*ANSWERS]), ("verdict", [*VERDICTS])):
            total = np.zeros(len(words) + 2, np.int64)
            for part in read_findings(path, [f"{name}{end}"]):
                total += np.bincount(part.codes(f"{name}{end}"), minlength=len(words) + 2)
            found |= {f"{word}{basis}": int(n) for word, n in zip(words, total, strict=False) if n}
    return found


def found_count(path: Path) -> int:
    """On how many curves something was found, on either basis."""
    return sum(int(((part.numbers("found") != 0) | (part.numbers("found_learned") != 0)).sum())
               for part in read_findings(path, ["found", "found_learned"]))


@dataclass(frozen=True, slots=True)
class FoundRow:
    """A curve on which something was found: its number in the file, key, and verdicts on both bases, each with the
    reasons in words."""

    number: int
    run: str
    tool: str
    epoch: str
    unit: str
    counter: int
    fastener: int
    pass_number: int
    verdicts: tuple[str, ...]
    words: tuple[str, ...]


def found_in(path: Path) -> Iterator[FoundRow]:
    """The curves of a file of findings on which something was found, with the reasons in words."""
    head = read_head(path)
    thresholds = tomllib.loads(head.thresholds)
    for part in read_findings(path):
        found = (part.numbers("found") != 0) | (part.numbers("found_learned") != 0)
        if not found.any():
            continue
        at = np.flatnonzero(found)
        own = FindingPart(part.first, part.table.take(at))
        both = [own.verdicts(head, thresholds)]
        if head.learned is not None:
            both.append(own.verdicts(head, thresholds, learned=True))
        keys = [own.table.column(name).to_pylist() for name in ("run", "tool", "epoch", "unit")]
        numbers = [own.numbers(name).tolist() for name in ("counter", "fastener", "pass_number")]
        for n, number in enumerate(at.tolist()):
            said = [reason for one in both for reason in reasons(one, n)]
            yield FoundRow(
                part.first + number, *(column[n] for column in keys), *(int(column[n]) for column in numbers),
                tuple(dict.fromkeys(reason.verdict for reason in said)), tuple(str(reason) for reason in said),
            )  # fmt: skip


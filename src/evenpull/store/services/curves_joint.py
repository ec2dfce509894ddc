"""What the curves of one joint say in its proof: what was found on which record, and what has no partner.

    of_joint(joint, records) -> CurvesHere | None
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path

from evenpull.curve.keyed import NONE
from evenpull.proof.surroundings import CurveSaid, CurvesHere, CurvesOfRecord
from evenpull.store.models import CurveFile, Pull
from evenpull.store.services import curves_judging, curves_kept, curves_matching
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.errors import Refused
from evenpull.store.services.facts import fold

MOST = 2_000  # curves of a joint that get a point of their own; the others of a file have one together


def of_joint(joint_id: str, records: Mapping[int, str]) -> CurvesHere | None:
    """`records`: place in the log -> key of the records of the joint that count. None where no curve came for it. Files
    whose curves are not judged under the present rules and facts are judged now."""
    if not CurveFile.objects.filter(fold=fold(joint_id)).exists():
        return None
    rows = curves_kept.files(joint_id)
    if not rows:
        return None
    said: list[CurveSaid] = []
    unjudged: list[tuple[str, str]] = []
    more: list[tuple[int, str, int]] = []
    for row in rows:
        try:
            path = curves_judging.judged(row)
            before = len(said)
            said += _said(row, path, records, MOST - before)
            left = curves_judging.found_count(path) - (len(said) - before)
            if left:
                more.append((row.seq, row.name, left))
        except Refused as error:  # the joint is judged all the same, and not released before this is put right
            unjudged.append((row.name, str(error)))
    found = curves_matching.summary(joint_id)
    twice = tuple(_twice(one, records) for one in found.twice)
    return CurvesHere(found.curves, found.bare, found.without, found.keyless, found.elsewhere, found.again,
                      found.conflicts, twice, tuple(said), tuple(unjudged), tuple(more), found.differ)


def _said(row: CurveFileRow, path: Path, records: Mapping[int, str], most: int) -> Iterator[CurveSaid]:
    found = list(islice(curves_judging.found_in(path), max(0, most)))
    if not found:
        return
    matched = curves_matching.records_of_file(row.seq, row.curves)
    for one in found:
        record = int(matched.record[one.number])
        other = bool(matched.elsewhere[one.number])
        fastener, number = one.fastener, one.pass_number
        if record != NONE and not other:
            fastener = int(matched.fastener[one.number])
            number = number if number != NONE else int(matched.pass_number[one.number])
        yield CurveSaid(
            row.seq, row.name, one.number, one.run, "" if other else records.get(record, ""), one.unit,
            None if fastener == NONE else fastener, None if number == NONE else number, one.verdicts, one.words,
        )


def _twice(one: curves_matching.Twice, records: Mapping[int, str]) -> CurvesOfRecord:
    pull = Pull.objects.get(seq=one.record)
    names = tuple(f"{curves_kept.file(file).name} no. {number}" for file, number in one.curves)
    return CurvesOfRecord(records.get(one.record, str(one.record)), pull.unit, pull.fastener, pull.pass_number, names)

"""The index of curves: a row a curve, made from the kept Parquet; and whether it still is what the Parquet gives."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

import numpy as np

from evenpull.curve.keyed import read_keys
from evenpull.store.models import Curve, CurveFile, Fact
from evenpull.store.services import curves_kept as kept
from evenpull.store.services.bulk import insert
from evenpull.store.services.fact_kinds import CURVES
from evenpull.store.services.facts import fold

COLUMNS = ("file", "number", "fold", "tool", "epoch", "counter", "unit", "fastener", "digest")
_SMALL = 2**31 - 1
BATCH = 20_000


def save(seq: int, joint: str, body: Any) -> None:
    """Index the curves of one file; within the transaction of its fact, or of a rebuild."""
    CurveFile.objects.create(seq=seq, fold=fold(joint), stale=True)
    rows = rows_of(seq, joint, body)
    while some := list(islice(rows, BATCH)):
        insert(Curve, COLUMNS, some)


def rows_of(seq: int, joint: str, body: Any) -> Iterator[tuple[Any, ...]]:
    """The rows that a file of curves gives, by number."""
    here, number = fold(joint), 0
    path = kept.parquet_of(kept.row_of(Fact.objects.get(seq=seq, kind=CURVES)))
    for batch in read_keys(path):
        digests = np.array([int(one[:16], 16) for one in batch.column("original_sha256").to_pylist()], np.uint64)
        columns = [batch.column(name).to_pylist() for name in ("tool", "epoch", "counter", "unit", "fastener")]
        for tool, epoch, counter, unit, fastener, digest in zip(*columns, digests.view(np.int64).tolist(), strict=True):
            small = fastener if fastener is None or fastener <= _SMALL else None
            yield seq, number, here, tool[:100], epoch[:100], counter, unit[:100], small, digest
            number += 1


def differences(seq: int, joint: str, body: Any) -> Iterator[str]:
    """Where the rows of a file are not what its curves give, in words."""
    stored = Curve.objects.filter(file=seq).order_by("number").values_list(*COLUMNS).iterator(BATCH)
    if not CurveFile.objects.filter(seq=seq, fold=fold(joint)).exists():
        yield f"fact {seq}: the file of curves is not in the index"
    for row in rows_of(seq, joint, body):
        found = next(stored, None)
        if found is None:
            yield f"fact {seq}: curve {row[1]} and those behind it are not in the index"
            return
        if found != row:
            names = [name for name, a, b in zip(COLUMNS, found, row, strict=True) if a != b]
            yield f"fact {seq}: the index has another {', '.join(names)} than curve {row[1]}"
    if next(stored, None) is not None:
        yield f"fact {seq}: the index has more curves than the file"



"""Curves with the key of the record each belongs to, in partitioned Parquet: what a dossier keeps.

    FOLDER/joint=KN-CW-014/<content>.parquet

The columns of `parquet.SCHEMA`, then tool, epoch (of the tool's memory), unit, counter, fastener, pass_number and
began_s (s since 1970, UTC); a number that is not stated is null, a text "". A file is named by the digest of its
content (keys, points, originals), not of its bytes: the same curves written by another version of the library are the
same content. It is read and written a part at a time, so that memory does not grow with the number of curves.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from evenpull.curve import parquet as plain
from evenpull.curve.columns import CurveError, Curves, Floats, Ints
from evenpull.curve.thin import Thinned, curve_digest

NONE = -1  # a number that is not stated
TEXTS = ("tool", "epoch", "unit")
NUMBERS = ("counter", "fastener", "pass_number")
KEYS = (*TEXTS, *NUMBERS, "began_s")
LARGEST = 2**53  # of a counter
POINTS_AT_ONCE = 250_000  # of one row group: what is read to show a single curve
WRITER = f"pyarrow {pa.__version__}"
SCHEMA = pa.schema([
    *plain.SCHEMA,
    *(pa.field(name, pa.string(), nullable=False) for name in TEXTS),
    *(pa.field(name, pa.int64()) for name in NUMBERS),
    pa.field("began_s", pa.float64()),
])  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Keys:
    """One value a curve each; numbers: `NONE` where not stated, `began_s` nan."""

    tool: Sequence[str]
    epoch: Sequence[str]
    unit: Sequence[str]
    counter: Ints
    fastener: Ints
    pass_number: Ints
    began_s: Floats

    def __len__(self) -> int:
        return len(self.counter)

    def __getitem__(self, part: slice) -> Keys:
        return Keys(**{name: getattr(self, name)[part] for name in KEYS})


def no_keys(n: int) -> Keys:
    """Keys of n curves of which nothing is stated."""
    text, number = [""] * n, np.full(n, NONE, np.int64)
    return Keys(text, text, text, number, number, number, np.full(n, math.nan))


@dataclass(frozen=True, slots=True)
class KeyedFile:
    """What was written. `sha256` is that of the bytes, `content` that of what they say; `keyed`: curves that name tool
    and counter."""

    path: Path
    sha256: str
    content: str
    curves: int
    points: int
    keyed: int


class KeyedWriter:
    """Writes one file, part after part; `finish` moves it to its place. As a context manager it leaves nothing behind
    unless it was finished."""

    def __init__(self, folder: Path, joint: str) -> None:
        if not joint.strip():
            raise CurveError("joint: the name of the joint is empty; curves are kept by joint")
        self._place = folder / f"joint={quote(joint, safe='')}"
        self._place.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".writing-", dir=self._place)
        os.close(handle)
        self._half = Path(name)
        self._out = pq.ParquetWriter(self._half, SCHEMA, use_dictionary=[*plain.DICTIONARY, *KEYS[:-1]],
                                     **plain.WRITING)
        self._digest = _begun(joint)
        self._curves = self._points = self._keyed = 0

    def __enter__(self) -> KeyedWriter:
        return self

    def __exit__(self, *_: object) -> None:
        self._out.close()
        self._half.unlink(missing_ok=True)

    def add(self, runs: Sequence[str], curves: Curves | Thinned, keys: Keys) -> None:
        """One part, in row groups of at most 2,000 curves and 4,000,000 points (one curve is never divided)."""
        thinned = curves if isinstance(curves, Thinned) else None
        own = thinned.curves if thinned else curves
        assert isinstance(own, Curves)
        if not len(runs) == len(own) == len(keys):
            raise CurveError(f"runs: {len(runs)} names and {len(keys)} keys for {len(own)} curves; one for each")
        counts = thinned.n_original if thinned else np.diff(own.offsets)
        originals = thinned.original if thinned else tuple(curve_digest(own, c) for c in range(len(own)))
        rule = thinned.rule if thinned else ""
        for a, b in _groups(own.offsets):
            some, key = own[a:b], keys[a:b]
            points = originals[a:b] if thinned is None else [curve_digest(some, c) for c in range(len(some))]
            self._write(list(runs[a:b]), some, key, counts[a:b], originals[a:b], [rule] * (b - a), points)

    def copy(self, runs: list[str], own: Curves, keys: Keys, kept: Any) -> None:
        """A part of curves that were thinned before: `kept` has n_original, original_sha256, thinned_by as columns."""
        counts, originals, rules = (kept.column(n) for n in ("n_original", "original_sha256", "thinned_by"))
        counts, originals, rules = counts.to_numpy(), originals.to_pylist(), rules.to_pylist()
        for a, b in _groups(own.offsets):
            some = own[a:b]
            points = [curve_digest(some, c) for c in range(len(some))]
            self._write(runs[a:b], some, keys[a:b], counts[a:b], originals[a:b], rules[a:b], points)

    def _write(
        self, runs: list[str], own: Curves, keys: Keys, counts: Any, originals: Sequence[str], rules: list[str],
        points: Sequence[str],
    ) -> None:
        _check_keys(runs, keys)
        _digest(self._digest, runs, keys, originals, rules, points)
        offsets = pa.array(own.offsets.astype(np.int32))
        lists = [pa.ListArray.from_arrays(offsets, pa.array(getattr(own, field)), type=SCHEMA.field(name).type)
                 for name, field, _ in plain.LISTS]
        numbers = [pa.array(getattr(keys, name), pa.int64(), mask=getattr(keys, name) == NONE) for name in NUMBERS]
        self._out.write_table(pa.Table.from_arrays([
            pa.array(runs, pa.string()), *lists, pa.array(counts, pa.int64()), pa.array(list(originals), pa.string()),
            pa.array(rules, pa.string()), *(pa.array(list(getattr(keys, name)), pa.string()) for name in TEXTS),
            *numbers, pa.array(keys.began_s, pa.float64(), mask=np.isnan(keys.began_s)),
        ], schema=SCHEMA))  # fmt: skip
        self._curves += len(own)
        self._points += len(own.torque)
        tool = np.fromiter((bool(one) for one in keys.tool), bool, len(keys))
        self._keyed += int((tool & (keys.counter != NONE)).sum())

    def finish(self) -> KeyedFile:
        """CurveError for a file without curves and for a run that is named twice; nothing is left of it then."""
        self._out.close()
        if not self._curves:
            raise CurveError("no curve: there is nothing to keep")
        runs = pq.read_table(self._half, columns=["run"], partitioning=None).column("run")
        if pc.count_distinct(runs).as_py() != self._curves:
            counts = pc.value_counts(runs)
            twice = counts.filter(pc.greater(counts.field("counts"), 1))[0]["values"].as_py()
            raise CurveError(f"runs: {twice!r} is named twice; a run is written once")
        content = self._digest.hexdigest()
        with self._half.open("rb+") as stream:
            sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
            os.fsync(stream.fileno())
        whole = self._place / f"{content}.parquet"
        self._half.replace(whole)
        return KeyedFile(whole, sha256, content, self._curves, self._points, self._keyed)


def _begun(joint: str) -> Any:
    return hashlib.sha256(json.dumps(["evenpull curves 1", joint]).encode())


def _digest(
    into: Any, runs: Sequence[str], keys: Keys, originals: Sequence[str], rules: Sequence[str], points: Sequence[str]
) -> None:
    began = [None if math.isnan(x) else x for x in keys.began_s.tolist()]
    rows = zip(runs, keys.tool, keys.epoch, keys.unit, keys.counter.tolist(), keys.fastener.tolist(),
               keys.pass_number.tolist(), began, originals, rules, points, strict=True)
    into.update(json.dumps(list(rows)).encode()[1:-1] + b", ")  # the same, however the curves are divided in parts


def content_of(path: Path, joint: str) -> str:
    """The digest of the content of a file, made again from all of it. CurveError where it cannot be read."""
    made = _begun(joint)
    with plain.opened(path) as file:
        for group in range(file.num_row_groups):
            table = file.read_row_group(group)
            runs, curves = plain.curves_in(table, path)
            originals, rules = (table.column(name).to_pylist() for name in ("original_sha256", "thinned_by"))
            points = [curve_digest(curves, c) for c in range(len(curves))]
            _digest(made, runs, keys_of(table, path), originals, rules, points)
    return str(made.hexdigest())


def _groups(offsets: Ints) -> Iterator[tuple[int, int]]:
    first = 0
    while first < len(offsets) - 1:
        most = int(np.searchsorted(offsets, offsets[first] + POINTS_AT_ONCE, "right")) - 1
        last = min(max(most, first + 1), first + plain.GROUP, len(offsets) - 1)
        yield first, last
        first = last


def _check_keys(runs: Sequence[str], keys: Keys) -> None:
    for name in NUMBERS:
        values = getattr(keys, name)
        bad = (values < NONE) | (values > LARGEST)
        if bad.any():
            at = int(bad.argmax())
            raise CurveError(f"run {runs[at]!r}: {name} {int(values[at])} is not between 0 and {LARGEST}")
    if np.isinf(keys.began_s).any():
        raise CurveError(f"run {runs[int(np.isinf(keys.began_s).argmax())]!r}: began_s is no time")


Part = tuple[list[str], Keys, Curves]


def read_keyed(path: Path) -> Iterator[Part]:
    """(runs, keys, curves), a row group after the other. CurveError as `parquet.read_parts`."""
    with plain.opened(path) as file:
        for group in range(file.num_row_groups):
            table = file.read_row_group(group)
            runs, curves = plain.curves_in(table, path)
            yield runs, keys_of(table, path), curves


def keys_of(table: Any, path: Path) -> Keys:
    """The key columns of a table, of those that it has. CurveError for a column of another type."""
    n, made = table.num_rows, dict[str, Any]()
    empty = no_keys(n)
    for name in KEYS:
        at = table.schema.get_field_index(name)
        if at < 0:
            made[name] = getattr(empty, name)
            continue
        column, kind = table.column(name).combine_chunks(), table.schema.field(at).type
        if name in TEXTS and pa.types.is_string(kind):
            made[name] = pc.fill_null(column, "").to_pylist()
        elif name in NUMBERS and pa.types.is_integer(kind):
            made[name] = pc.fill_null(column.cast(pa.int64()), NONE).to_numpy(zero_copy_only=False)
        elif name == "began_s" and pa.types.is_floating(kind):
            made[name] = pc.fill_null(column.cast(pa.float64()), math.nan).to_numpy(zero_copy_only=False)
        else:
            raise CurveError(f"{path}: column {name!r} is {kind}, not {SCHEMA.field(name).type}")
    return Keys(**made)


def read_keys(path: Path) -> Iterator[Any]:
    """Tables of the columns run, original_sha256 and the keys, without points, some ten thousand rows at once."""
    with plain.opened(path) as file:
        if missing := [name for name in KEYS if name not in file.schema_arrow.names]:
            raise CurveError(f"{path}: column {missing[0]!r} is missing; it was not written by a dossier")
        yield from file.iter_batches(50_000, columns=["run", "original_sha256", *KEYS])


def read_some(path: Path, numbers: Iterable[int]) -> Iterator[tuple[int, str, Keys, Curves]]:
    """(number, run, keys, curve) of these curves of a file (from 0), in their order in the file; only the row groups
    that hold one of them are read. IndexError for a number that the file does not have."""
    for number, table in plain.rows_at(path, numbers):
        runs, curves = plain.curves_in(table, path)
        yield number, runs[0], keys_of(table, path), curves


def read_one(path: Path, number: int) -> Part:
    """One curve of a file by its number from 0. IndexError beyond the last."""
    ((_, run, keys, curves),) = read_some(path, [number])
    return [run], keys, curves


def original_of(path: Path, number: int) -> tuple[int, str, str]:
    """Of one curve: points as received, their SHA-256, and the rule by which it was thinned ("" where it was not)."""
    names = ["n_original", "original_sha256", "thinned_by"]
    ((_, table),) = plain.rows_at(path, [number], names)
    return tuple(table.column(name)[0].as_py() for name in names)

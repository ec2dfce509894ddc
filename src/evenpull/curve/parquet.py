"""Curves in partitioned Parquet: one folder a joint, one row a curve, its points as lists.

    FOLDER/joint=KN-CW-014/<sha256 of the content>.parquet

Columns: run, step (list of int16), time_s, angle_deg, torque_Nm (lists of float32), n_original, original_sha256 and
thinned_by. A file is named by its content and moved to its place when it is whole: writing twice is harmless, and what
was half written has no name that is read.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from evenpull.curve.columns import CurveError, Curves, curves_of
from evenpull.curve.thin import Thinned, curve_digest

LISTS = (("time_s", "time", pa.float32()), ("angle_deg", "angle", pa.float32()), ("torque_Nm", "torque", pa.float32()),
          ("step", "step", pa.int16()))
DICTIONARY = ["run", "thinned_by", "step.list.element"]
WRITING: dict[str, Any] = {  # floats split by bytes: a third smaller and faster to read; a turned bit is told
    "compression": "zstd", "write_page_checksum": True,
    "use_byte_stream_split": [f"{name}.list.element" for name in ("time_s", "angle_deg", "torque_Nm")],
}
GROUP = 2000  # curves in a row group: the least that is read at once
SCHEMA = pa.schema([
    pa.field("run", pa.string(), nullable=False),
    *(pa.field(name, pa.list_(pa.field("item", kind, nullable=False)), nullable=False) for name, _, kind in LISTS),
    pa.field("n_original", pa.int64(), nullable=False), pa.field("original_sha256", pa.string(), nullable=False),
    pa.field("thinned_by", pa.string(), nullable=False),
])  # fmt: skip


def write_curves(folder: Path, joint: str, runs: Sequence[str], curves: Curves | Thinned) -> Path:
    """Writes one file with all these curves, and returns it. CurveError for runs that are not one a curve, or named
    twice, and for a joint without a name. What cannot be written (full disk) is raised as it is; no file is left."""
    thinned = curves if isinstance(curves, Thinned) else None
    own = thinned.curves if thinned else curves
    assert isinstance(own, Curves)
    if not joint.strip():
        raise CurveError("joint: the name of the joint is empty; curves are kept by joint")
    if len(runs) != len(own):
        raise CurveError(f"runs: {len(runs)} names for {len(own)} curves; give each curve its run")
    if len(set(runs)) != len(runs):
        twice = next(run for run in runs if list(runs).count(run) > 1)
        raise CurveError(f"runs: {twice!r} is named twice; a run is written once")
    table = _table(runs, own, thinned)
    place = folder / f"joint={quote(joint, safe='')}"
    place.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=".writing-", dir=place)
    os.close(handle)
    half = Path(name)
    try:
        pq.write_table(table, half, row_group_size=GROUP, use_dictionary=DICTIONARY, **WRITING)
        with half.open("rb") as stream:
            whole = place / f"{hashlib.file_digest(stream, 'sha256').hexdigest()}.parquet"
            os.fsync(stream.fileno())
        half.replace(whole)
    finally:
        half.unlink(missing_ok=True)
    return whole


def _table(runs: Sequence[str], own: Curves, thinned: Thinned | None) -> Any:
    if own.offsets[-1] > np.iinfo(np.int32).max:
        raise CurveError(f"{own.offsets[-1]} points are too many for one file; write at most "
                         f"{np.iinfo(np.int32).max} at once")
    offsets = pa.array(own.offsets.astype(np.int32))
    lists = [pa.ListArray.from_arrays(offsets, pa.array(getattr(own, field)), type=SCHEMA.field(name).type)
             for name, field, _ in LISTS]
    counts = thinned.n_original if thinned else np.diff(own.offsets)
    digests = thinned.original if thinned else [curve_digest(own, c) for c in range(len(own))]
    rule = thinned.rule if thinned else ""
    return pa.Table.from_arrays(
        [pa.array(list(runs), pa.string()), *lists, pa.array(counts, pa.int64()), pa.array(list(digests), pa.string()),
         pa.array([rule] * len(own), pa.string())], schema=SCHEMA,
    )


def curve_files(folder: Path, joint: str | None = None) -> list[tuple[str, Path]]:
    """(joint, file) of all files of the folder, or of one joint, in order of their names."""
    found = []
    for place in sorted(folder.glob("joint=*")):
        name = unquote(place.name.removeprefix("joint="))
        if joint is None or name == joint:
            found += [(name, path) for path in sorted(place.glob("*.parquet")) if not path.name.startswith(".")]
    return found


def read_parts(path: Path) -> Iterator[tuple[list[str], Curves]]:
    """(runs, curves) of one file, a row group (at most 2,000 curves where we wrote it) after the other: the memory is
    that of one group. CurveError for a file that is no Parquet, is damaged, lacks a column or whose lists differ."""
    for group in range(count_groups(path)):
        yield read_group(path, group)


def count_groups(path: Path) -> int:
    """Row groups of one file. CurveError as `read_parts` raises it."""
    with opened(path) as file:
        return int(file.num_row_groups)


def read_group(path: Path, group: int, *, threads: bool = True) -> tuple[list[str], Curves]:
    """(runs, curves) of one row group, from 0. CurveError as `read_parts` raises it. `threads`: columns side by side,
    for whoever reads one group at a time."""
    with opened(path) as file:
        columns = ["run", *(name for name, _, _ in LISTS)]
        return curves_in(file.read_row_group(group, columns=columns, use_threads=threads), path)


@contextmanager
def opened(path: Path, *, curves: bool = True, called: str = "") -> Iterator[Any]:
    """The Parquet file at `path`, its pages checked against their checksums; `curves`: with the columns of `SCHEMA`;
    `called`: its name in messages where it is another. CurveError, also for what is read from it within, where it is
    none or damaged. What the disk says is raised as it is."""
    try:
        with pq.ParquetFile(path, memory_map=True, page_checksum_verification=True) as file:
            if curves:
                check_schema(file.schema_arrow, Path(called) if called else path)
            yield file
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:  # OSError without a number: a damaged page
        if isinstance(error, OSError) and error.errno is not None and not isinstance(error, FileNotFoundError):
            raise
        raise CurveError(f"{called or path}: is no Parquet file that can be read ({error}); take it again from its "
                         "source") from error


def rows_at(
    path: Path, numbers: Iterable[int], columns: Sequence[str] | None = None, *, curves: bool = True
) -> Iterator[tuple[int, Any]]:
    """(number, table of that one row) of these rows of a file (from 0), in their order in the file; only the row groups
    that hold one of them are read. `curves` as of `opened`. IndexError for a number that the file does not have."""
    wanted = sorted(set(numbers))
    with opened(path, curves=curves) as file:
        ends = np.cumsum([file.metadata.row_group(g).num_rows for g in range(file.num_row_groups)], dtype=np.int64)
        whole = int(ends[-1]) if len(ends) else 0
        if wanted and not 0 <= wanted[0] <= wanted[-1] < whole:
            raise IndexError(f"{path} holds {whole} curves, and no curve {wanted[0] if wanted[0] < 0 else wanted[-1]}")
        groups = np.searchsorted(ends, wanted, side="right")
        for group in np.unique(groups).tolist():
            table, first = file.read_row_group(group, columns=columns), int(ends[group - 1]) if group else 0
            for number in (n for n, g in zip(wanted, groups, strict=True) if g == group):
                yield number, table.slice(number - first, 1)


def read_runs(path: Path) -> list[tuple[str, int, str, str]]:
    """(run, points of the original, its SHA-256, rule of thinning) of each curve, without its points."""
    with opened(path) as file:
        table = file.read(["run", "n_original", "original_sha256", "thinned_by"])
    return list(zip(*(column.to_pylist() for column in table.columns), strict=True))


def check_schema(schema: Any, path: Path) -> None:
    """CurveError for a file that lacks a column of `SCHEMA`, or whose lists are of another type."""
    for field in SCHEMA:
        at = schema.get_field_index(field.name)
        if at < 0:
            raise CurveError(f"{path}: column {field.name!r} is missing; it has {', '.join(schema.names)}. Files of "
                             "another layout are taken in by `evenpull.curve.read_csv`")
        if field.name in {name for name, _, _ in LISTS} and not schema.field(at).type.equals(field.type):
            raise CurveError(f"{path}: column {field.name!r} is {schema.field(at).type}, not {field.type}")


def curves_in(table: Any, path: Path) -> tuple[list[str], Curves]:
    """(runs, curves) of a table with the columns of `SCHEMA`. CurveError where lists of a curve differ in length."""
    flat: list[Any] = []
    offsets = None
    for name, _, _ in LISTS:
        chunks = table.column(name)
        column = chunks.chunk(0) if chunks.num_chunks == 1 else chunks.combine_chunks()  # which copies
        own = column.offsets.to_numpy()
        if offsets is not None and not np.array_equal(own - own[0], offsets):
            raise CurveError(f"{path}: a curve has fewer points in {name!r} than in another column; take the file "
                             "again from its source")
        offsets = own - own[0]
        flat.append(column.flatten().to_numpy(zero_copy_only=False))
    time, angle, torque, step = flat
    return table.column("run").to_pylist(), curves_of(time, angle, torque, step, [0] if offsets is None else offsets)

"""A file of torque-angle curves, read under its mapping: curves with the key of the record that each belongs to.

    bytes + mapping --> parts of (runs, keys, curves), a few thousand curves each

Nothing is repaired. A key that cannot be read is a fault with file, line and run; then nothing of the file is taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from evenpull.curve import parquet as plain
from evenpull.curve.columns import CurveError, Curves
from evenpull.curve.keyed import KEYS, LARGEST, NONE, POINTS_AT_ONCE, TEXTS, Keys, keys_of
from evenpull.curve.read_csv import MOST_BYTES, MOST_FAULTS, read_curve_file
from evenpull.intake.curve_mapping import FIELDS, CurveMapping
from evenpull.intake.times import zone_named

LONGEST_NAME = 200  # characters of a run, a tool ...
_NUMBERS = {"counter": LARGEST, "fastener": 2**31 - 1, "pass": 2**31 - 1}
_EXTRA = ("n_original", "original_sha256", "thinned_by")


@dataclass(frozen=True, slots=True, eq=False)
class CurvePart:
    """Some curves of a file. `kept`: points of each original, its digest and the rule, where the file was thinned
    before it came."""

    runs: list[str]
    keys: Keys
    curves: Curves
    kept: Any = None


def read_curve_parts(path: Path, mapping: CurveMapping | None, name: str) -> Iterator[CurvePart]:
    """All curves of the file at `path`, called `name` in messages. Without a mapping it has to be Parquet of our own
    layout. CurveError with every fault of the keys of a part, up to 20."""
    if mapping is None or mapping.layout is None:
        yield from _parquet(path, mapping, name)
        return
    if path.stat().st_size > MOST_BYTES:
        raise CurveError(f"{name}: {path.stat().st_size:,} bytes, at most {MOST_BYTES:,} of text are read at once; "
                         "split it by runs, or write Parquet of our own layout")
    read = read_curve_file(path.read_bytes(), mapping.layout, name)
    keys = _keys(read.runs, read.texts, mapping, name, read.lines)
    for first in range(0, len(read.runs), plain.GROUP):
        part = slice(first, first + plain.GROUP)
        yield CurvePart(read.runs[part], keys[part], read.curves[part])


def _parquet(path: Path, mapping: CurveMapping | None, name: str) -> Iterator[CurvePart]:
    with plain.opened(path, called=name) as file:
        rows = file.metadata.num_rows
        if not rows:
            raise CurveError(f"{name}: holds no curve")
        points = _points(file)
        at_once = max(1, min(plain.GROUP, POINTS_AT_ONCE * rows // max(points, 1)))
        wanted = [field.name for field in plain.SCHEMA] + [n for n in KEYS if n in file.schema_arrow.names]
        for batch in file.iter_batches(at_once, columns=wanted):
            yield _part(pa.Table.from_batches([batch]), mapping, name)


def _points(file: Any) -> int:
    """How many points all curves of the file have, as its own description says."""
    groups = (file.metadata.row_group(g) for g in range(file.num_row_groups))
    columns = ((group, c) for group in groups for c in range(group.num_columns))
    return sum(g.column(c).num_values for g, c in columns if g.column(c).path_in_schema.startswith("torque_Nm."))


def _part(table: Any, mapping: CurveMapping | None, name: str) -> CurvePart:
    for field in plain.SCHEMA:
        if table.column(field.name).null_count:
            raise CurveError(f"{name}: column {field.name!r} has an empty value; every curve needs it")
    runs, curves = plain.curves_in(table, Path(name))
    keys = keys_of(table, Path(name))
    if mapping is not None and (mapping.run_form or mapping.stated):
        if any(n in table.schema.names for n in KEYS):
            raise CurveError(f"{name}: the file has columns of keys, and the mapping states keys too; take it without "
                             "the mapping, or leave the columns out")
        keys = _keys(runs, {}, mapping, name, [])
    _check_texts(runs, keys, name)
    kept = table.select(_EXTRA)
    return CurvePart(runs, keys, curves, kept if any(kept.column("thinned_by").to_pylist()) else None)


def _check_texts(runs: Sequence[str], keys: Keys, name: str) -> None:
    for what, texts in (("run", runs), *((n, getattr(keys, n)) for n in TEXTS)):
        for run, text in zip(runs, texts, strict=True):
            if len(text) > LONGEST_NAME or (text and not text.isprintable()) or (what == "run" and not text.strip()):
                raise CurveError(f"{name}, run {run[:60]!r}: {what} {text[:60]!r} has to be printable and of at most "
                                 f"{LONGEST_NAME} characters" + (", and not empty" if what == "run" else ""))


def _keys(runs: Sequence[str], texts: dict[str, list[str]], mapping: CurveMapping, name: str, lines: list[int]) -> Keys:
    faults: list[str] = []

    def fault(n: int, words: str) -> None:
        if len(faults) < MOST_FAULTS:
            line = f", line {lines[n]}" if lines else ""
            faults.append(f"{name}{line}, run {runs[n][:60]!r}: {words}")

    said = {field: texts.get(field, [mapping.stated.get(field, "")] * len(runs)) for field in FIELDS}
    if mapping.run_pattern is not None:
        found = [mapping.run_pattern.fullmatch(run) for run in runs]
        for n, match in enumerate(found):
            if match is None:
                fault(n, f"the name of the run is not {mapping.run_form!r}, as the mapping says")
        for field in mapping.run_pattern.groupindex:
            said[field] = ["" if match is None else match[field].strip() for match in found]
    numbers = {field: _numbers(said[field], field, most, fault) for field, most in _NUMBERS.items()}
    began = np.array([_moment(text, mapping.zone, n, fault) for n, text in enumerate(said["began"])])
    if faults:
        more = f"\n(the first {MOST_FAULTS}; there may be more)" if len(faults) >= MOST_FAULTS else ""
        raise CurveError("\n".join(faults) + more)
    keys = Keys(said["tool"], said["epoch"], said["unit"], numbers["counter"], numbers["fastener"], numbers["pass"],
                began)
    _check_texts(runs, keys, name)
    return keys


def _numbers(texts: Sequence[str], field: str, most: int, fault: Any) -> Any:
    made = np.full(len(texts), NONE, np.int64)
    for n, text in enumerate(texts):
        if not text:
            continue
        if text.isascii() and text.isdigit() and len(text) <= 16 and int(text) <= most:
            made[n] = int(text)
        else:
            fault(n, f"{field} {text[:40]!r} is no whole number from 0 to {most}")
    return made


def _moment(text: str, zone: str, n: int, fault: Any) -> float:
    """Seconds since 1970, nan where nothing is stated."""
    if not text:
        return math.nan
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            if not zone:
                fault(n, f"the time {text[:40]!r} states no zone; state it in [record] zone")
                return math.nan
            at = at.replace(tzinfo=zone_named(zone))
        return at.astimezone(UTC).timestamp()
    except (ValueError, OverflowError):
        fault(n, f"the time {text[:40]!r} is not written as 2026-03-18T13:40:00+00:00")
        return math.nan

"""What was found on each curve, in Parquet: one file for each file of curves, version of the rules and basis.

    FOLDER/rules=<version>/<content of the curves>.<basis>.parquet

Columns: run, the key of the record (`keyed.KEYS`), basis_no (which of the bases in the description of the file), then
for the mechanics of the joint answer, verdict (named first), found and applied (bits by `VERDICTS`), the same for the
learned windows ("answer_learned" ...; empty where there were none), the limits of the expectation ("limit T_low" ...)
and all features. The description of the file (JSON under "evenpull") has the rules, their thresholds as text, the bases
in words and the learned windows, so that a finding can be read and understood when the program has other rules.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError
from evenpull.curve.expectation import Expectation
from evenpull.curve.features import FeatureTable
from evenpull.curve.keyed import NONE, NUMBERS, TEXTS, Keys
from evenpull.curve.learned import Learned, Window
from evenpull.curve.names import NAMES
from evenpull.curve.parquet import opened, rows_at
from evenpull.curve.verdicts import ANSWERS, VERDICTS, Bools, Thresholds, Verdicts

FORM = "evenpull curve findings 1"
NOTHING = "none"  # verdict of a curve on which nothing was found
NO_WINDOWS = "no learned windows"
LIMITS = tuple(one.name for one in fields(Expectation))
AT_ONCE = 50_000  # curves of a row group
_SUFFIX = ("", "_learned")
_WORDS = pa.dictionary(pa.int8(), pa.string())
_ANSWERS, _VERDICTS = pa.array([*ANSWERS, NO_WINDOWS]), pa.array([*VERDICTS, NOTHING, NO_WINDOWS])
_BITS = 1 << np.arange(len(VERDICTS), dtype=np.uint32)


@dataclass(frozen=True)
class Head:
    """The description of a file of findings. `bases`: words of each basis and what it could not state."""

    rules: str
    thresholds: str
    content: str
    joint: str
    basis: str
    bases: tuple[tuple[str, tuple[str, ...]], ...]
    learned: Learned | None = None
    learned_by: str = ""  # which fact the windows are from

    @cached_property
    def text(self) -> str:
        learned = None if self.learned is None else learned_json(self.learned)
        return json.dumps({
            "form": FORM, "rules": self.rules, "thresholds": self.thresholds, "content": self.content,
            "joint": self.joint, "basis": self.basis, "bases": [[words, list(why)] for words, why in self.bases],
            "learned": learned, "learned_by": self.learned_by, "verdicts": list(VERDICTS), "features": list(NAMES),
        })


def learned_json(learned: Learned) -> dict[str, Any]:
    """Learned windows as plain values."""
    return {"joint": learned.joint, "n": learned.n, "digest": learned.digest, "windows": [
        {one.name: getattr(window, one.name) for one in fields(Window)} for window in learned.windows
    ]}


def learned_from(said: dict[str, Any]) -> Learned:
    return Learned(said["joint"], said["n"], said["digest"], tuple(Window(**one) for one in said["windows"]))


def _schema(head: Head) -> Any:
    own = [pa.field("run", pa.string()), *(pa.field(name, pa.string()) for name in TEXTS),
           *(pa.field(name, pa.int64()) for name in NUMBERS), pa.field("began_s", pa.float64()),
           pa.field("basis_no", pa.int32())]
    for end in _SUFFIX:
        own += [pa.field(f"answer{end}", _WORDS), pa.field(f"verdict{end}", _WORDS),
                pa.field(f"found{end}", pa.uint32()), pa.field(f"applied{end}", pa.uint32())]
    own += [pa.field(f"limit {name}", pa.float64()) for name in LIMITS]
    own += [pa.field(name, pa.float64()) for name in NAMES]
    return pa.schema(own, metadata={"evenpull": head.text})


def bits(found: Bools) -> NDArray[np.uint32]:
    """Curves x verdicts as one number a curve."""
    return np.asarray(found.astype(np.uint32) @ _BITS, np.uint32)


def from_bits(numbers: NDArray[np.uint32]) -> Bools:
    return (numbers[:, None] & _BITS).astype(bool)


def first_of(found: Bools) -> NDArray[np.int8]:
    """Place in VERDICTS of the verdict named first; the number of VERDICTS where there is none."""
    return np.where(found.any(axis=1), found.argmax(axis=1), len(VERDICTS)).astype(np.int8)


class FindingsWriter:
    """Writes one file of findings part by part; whole or not at all, and never over one that is there."""

    def __init__(self, folder: Path, head: Head) -> None:
        self._place = folder / f"rules={head.rules}"
        self._place.mkdir(parents=True, exist_ok=True)
        self._name, self._schema = f"{head.content}.{head.basis[:16]}.parquet", _schema(head)
        handle, name = tempfile.mkstemp(prefix=".writing-", dir=self._place)
        os.close(handle)
        self._half = Path(name)
        words = [f"{one}{end}" for one in ("answer", "verdict", "found", "applied") for end in _SUFFIX]
        self._out = pq.ParquetWriter(self._half, self._schema, compression="zstd", use_dictionary=[
            *TEXTS, "pass_number", "fastener", "basis_no", *words, *(f"limit {name}" for name in LIMITS)])
        self._waiting: list[Any] = []

    def __enter__(self) -> FindingsWriter:
        return self

    def __exit__(self, *_: object) -> None:
        self._out.close()
        self._half.unlink(missing_ok=True)

    def add(
        self, runs: list[str], keys: Keys, basis_no: Any, mechanics: Verdicts, learned: Verdicts | None = None,
        under: Bools | None = None,
    ) -> None:
        """The findings of one part of the curves, in the order of the file. `under`: the curves that the learned
        windows are for; the others are not judged by them."""
        n = len(runs)
        columns: list[Any] = [pa.array(runs, pa.string())]
        columns += [pa.array(list(getattr(keys, name)), pa.string()) for name in TEXTS]
        columns += [pa.array(getattr(keys, name), pa.int64(), mask=getattr(keys, name) == NONE) for name in NUMBERS]
        columns += [pa.array(keys.began_s, pa.float64(), mask=np.isnan(keys.began_s)), pa.array(basis_no, pa.int32())]
        for verdicts in (mechanics, learned):
            if verdicts is None:
                answer, verdict = np.full(n, len(ANSWERS), np.int8), np.full(n, len(VERDICTS) + 1, np.int8)
                found = applied = np.zeros(n, np.uint32)
            else:
                answer, verdict = verdicts.answer, first_of(verdicts.found)
                found, applied = bits(verdicts.found), bits(verdicts.applied)
                if verdicts is learned and under is not None:
                    answer, verdict = np.where(under, answer, len(ANSWERS)), np.where(under, verdict, len(VERDICTS) + 1)
                    found, applied = np.where(under, found, 0), np.where(under, applied, 0)
            columns += [pa.DictionaryArray.from_arrays(pa.array(answer, pa.int8()), _ANSWERS),
                        pa.DictionaryArray.from_arrays(pa.array(verdict, pa.int8()), _VERDICTS),
                        pa.array(found, pa.uint32()), pa.array(applied, pa.uint32())]
        columns += [pa.array(np.asarray(getattr(mechanics.expectation, name), np.float64)) for name in LIMITS]
        columns += [pa.array(np.ascontiguousarray(mechanics.features.values[:, at])) for at in range(len(NAMES))]
        self._waiting.append(pa.Table.from_arrays(columns, schema=self._schema))
        if sum(one.num_rows for one in self._waiting) >= AT_ONCE:
            self._write()

    def _write(self) -> None:
        if self._waiting:
            self._out.write_table(pa.concat_tables(self._waiting).combine_chunks(), row_group_size=2 * AT_ONCE)
        self._waiting = []

    def finish(self) -> Path:
        """Where the file lies. One that was there stays: the same curves, rules and basis give the same findings."""
        self._write()
        self._out.close()
        whole = self._place / self._name
        with self._half.open("rb+") as stream:
            os.fsync(stream.fileno())
        if not whole.exists():
            self._half.replace(whole)
        return whole


@dataclass(frozen=True, eq=False)
class FindingPart:
    """Findings of some curves as they were written: numbers of the curves in their file from `first` on."""

    first: int
    table: Any

    def __len__(self) -> int:
        return int(self.table.num_rows)

    def numbers(self, name: str) -> Any:
        """A column of numbers as numpy; what is not stated is nan, or NONE in the key."""
        column = self.table.column(name).combine_chunks()
        if name in NUMBERS:
            column = column.fill_null(NONE)
        return column.to_numpy(zero_copy_only=False)

    def codes(self, name: str) -> Any:
        """Places of the words of "verdict" in VERDICTS (behind them: nothing, no windows), of "answer" in ANSWERS."""
        words = list(_VERDICTS.to_pylist() if name.startswith("verdict") else _ANSWERS.to_pylist())
        column = self.table.column(name).combine_chunks()
        own = np.array([words.index(word) for word in column.dictionary.to_pylist()], np.int8)
        return own[column.indices.to_numpy(zero_copy_only=False)]

    @property
    def features(self) -> FeatureTable:
        return FeatureTable(np.column_stack([self.numbers(name) for name in NAMES]))

    @property
    def expectation(self) -> Expectation:
        return Expectation(**{name: self.numbers(f"limit {name}") for name in LIMITS})

    def verdicts(self, head: Head, thresholds: Thresholds, *, learned: bool = False) -> Verdicts:
        """The verdicts as they were written, with what they rest on. CurveError without learned windows."""
        end = "_learned" if learned else ""
        expectation, basis = self.expectation, "mechanics of the joint"
        if learned:
            if head.learned is None:
                raise CurveError("these curves were not judged by learned windows: there were none")
            expectation, basis = head.learned.limits(expectation), head.learned.basis
        return Verdicts(
            from_bits(self.numbers(f"found{end}")), from_bits(self.numbers(f"applied{end}")),
            self.codes(f"answer{end}"), basis, self.features, expectation, thresholds,
        )


def read_head(path: Path) -> Head:
    """The description of a file of findings. CurveError for a file that has none."""
    with opened(path, curves=False) as file:
        described = file.schema_arrow.metadata or {}
    try:
        said = json.loads(described[b"evenpull"])
        if said["form"] != FORM or said["verdicts"] != list(VERDICTS) or said["features"] != list(NAMES):
            raise CurveError(f"{path}: written by a version with other verdicts or features; it can be read as Parquet,"
                             " and not be set beside what this version finds")
        return Head(said["rules"], said["thresholds"], said["content"], said["joint"], said["basis"],
                    tuple((words, tuple(why)) for words, why in said["bases"]),
                    None if said["learned"] is None else learned_from(said["learned"]), said["learned_by"])
    except (KeyError, TypeError, ValueError) as error:
        if isinstance(error, CurveError):
            raise
        raise CurveError(f"{path}: is no file of curve findings ({error})") from error


def read_findings(path: Path, columns: list[str] | None = None, at_once: int = AT_ONCE) -> Iterator[FindingPart]:
    """The findings of a file, some ten thousand curves at once; all columns or some."""
    first = 0
    with opened(path, curves=False) as file:
        if missing := [name for name in columns or () if name not in file.schema_arrow.names]:
            raise CurveError(f"{path}: column {missing[0]!r} is missing; it is no file of curve findings")
        for batch in file.iter_batches(at_once, columns=columns):
            yield FindingPart(first, pa.Table.from_batches([batch]))
            first += batch.num_rows


def read_finding(path: Path, number: int) -> FindingPart:
    """The findings of one curve by its number from 0. IndexError beyond the last."""
    ((_, table),) = rows_at(path, [number], curves=False)
    return FindingPart(number, table)


def file_sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()

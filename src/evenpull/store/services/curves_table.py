"""The findings of all curves of some joints as arrays, for pages: which are odd, which fastener, which pass, when.

    findings in Parquet --a few columns, kept in memory for the last files--> CurveTable

A million curves are some 50 MB here; their points are never loaded for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.judged_table import read_findings
from evenpull.curve.keyed import NONE
from evenpull.curve.verdicts import VERDICTS
from evenpull.store.services import curves_judging, curves_kept
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.curves_matching import records_of_file

FEATURES = ("T_off", "k_el", "T_run", "T_run_max", "angle_origin", "seat", "origin", "angle_off", "yield_ratio")
LIMIT_OF = {"T_off": ("T_low", "T_high"), "k_el": ("k_low", "k_high"), "angle_origin": ("theta_low", "theta_high"),
            "T_run_max": ("", "drag_high"), "seat": ("run_low", "run_high")}  # fmt: skip
LIMITS = tuple(f"limit {name}" for pair in LIMIT_OF.values() for name in pair if name)


@dataclass(frozen=True, eq=False)
class CurveTable:
    """One value a curve each. `file`: place in the log; `verdict`: place in `VERDICTS` of the one named first on either
    basis, the number of `VERDICTS` where there is none; `time`: s since 1970, nan where neither curve nor record states
    it; `values`: `FEATURES` and `LIMITS`."""

    file: NDArray[np.int64]
    number: NDArray[np.int64]
    verdict: NDArray[np.int8]
    answer: NDArray[np.int8]
    fastener: NDArray[np.int64]
    pass_number: NDArray[np.int64]
    time: NDArray[np.float64]
    values: dict[str, NDArray[np.float64]]

    def __len__(self) -> int:
        return len(self.file)

    @property
    def odd(self) -> NDArray[np.bool_]:
        return self.verdict < len(VERDICTS)

    @property
    def passes(self) -> tuple[int, ...]:
        """Passes of which there are curves."""
        return tuple(int(n) for n in np.unique(self.pass_number) if n != NONE)

    def pass_or_last(self, number: int | None) -> int | None:
        """The pass asked for; without one the last that has curves, since passes are not mixed."""
        return number if number is not None else (self.passes or (None,))[-1]

    def same(self, name: str) -> float | None:
        """The value of a column that is one for all curves, else None."""
        values = self.values[name]
        if not len(values) or np.isnan(values).any() or np.ptp(values):
            return None
        return float(values[0])

    def picked(self, which: Any) -> CurveTable:
        own = {one.name: getattr(self, one.name)[which] for one in fields(self) if one.name != "values"}
        return CurveTable(**own, values={name: column[which] for name, column in self.values.items()})

    def ordered(self) -> CurveTable:
        """By time where it is known, else by the order in which they came."""
        return self.picked(np.lexsort((self.number, self.file, np.where(np.isnan(self.time), -np.inf, self.time))))


def table_of(joints: Sequence[str], fastener: int | None = None, pass_number: int | None = None) -> CurveTable:
    """All curves of these joints that count, or those of one fastener and one pass. Files that are not judged under the
    present rules are judged now; Refused where one cannot be."""
    rows = [row for joint in joints for row in curves_kept.files(joint)]
    table = _joined([_of_file(row) for row in rows])
    which = np.ones(len(table), bool)
    if fastener is not None:
        which &= table.fastener == fastener
    if pass_number is not None:
        which &= table.pass_number == pass_number
    return table if which.all() else table.picked(which)


def _of_file(row: CurveFileRow) -> CurveTable:
    path = curves_judging.judged(row)
    found = _columns(path, path.stat().st_mtime_ns, row.seq)
    if not ((found.fastener == NONE) | (found.pass_number == NONE) | np.isnan(found.time)).any():
        return found
    record = records_of_file(row.seq, row.curves)  # what the curve does not state itself
    own = ~record.elsewhere
    return CurveTable(
        found.file, found.number, found.verdict, found.answer,
        np.where((found.fastener == NONE) & own, record.fastener, found.fastener),
        np.where((found.pass_number == NONE) & own, record.pass_number, found.pass_number),
        np.where(np.isnan(found.time), record.time, found.time), found.values,
    )  # fmt: skip


@lru_cache(maxsize=32)
def _columns(path: Path, changed: int, seq: int) -> CurveTable:
    names = ["verdict", "verdict_learned", "answer", "fastener", "pass_number", "began_s", *FEATURES, *LIMITS]
    parts: list[CurveTable] = []
    for part in read_findings(path, names):
        n, none = len(part), len(VERDICTS)
        parts.append(CurveTable(
            np.full(n, seq, np.int64), np.arange(part.first, part.first + n),
            np.minimum(np.minimum(part.codes("verdict"), part.codes("verdict_learned")), none).astype(np.int8),
            part.codes("answer"), part.numbers("fastener").astype(np.int64),
            part.numbers("pass_number").astype(np.int64),
            part.numbers("began_s"), {name: part.numbers(name) for name in (*FEATURES, *LIMITS)},
        ))  # fmt: skip
    return _joined(parts)


def _joined(parts: Sequence[CurveTable]) -> CurveTable:
    if len(parts) == 1:
        return parts[0]
    kinds = {"verdict": np.int8, "answer": np.int8, "time": np.float64}
    names = [one.name for one in fields(CurveTable) if one.name != "values"]
    own = {name: np.concatenate([getattr(part, name) for part in parts])
           if parts else np.empty(0, kinds.get(name, np.int64)) for name in names}
    values = {name: np.concatenate([part.values[name] for part in parts]) if parts else np.empty(0)
              for name in (*FEATURES, *LIMITS)}
    return CurveTable(**own, values=values)

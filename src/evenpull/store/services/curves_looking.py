"""Curves to look at: one with what was found on it, many with the odd ones on top, a ring at a glance, two compared.

    joints --curves_table--> which are odd --points of those alone--> Line ... for a drawing

Of the odd ones and of the others a stated number is drawn, and how many there are in all is told. Points of others are
not read, so a million curves cost what a few hundred do.
"""

from __future__ import annotations

import math
import tomllib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import Curves
from evenpull.curve.judged_table import Head, read_finding, read_head
from evenpull.curve.keyed import NONE, Keys, read_some
from evenpull.curve.names import FEATURES as DEFINED
from evenpull.curve.reasons import Picture, Reason, not_applied, picture, reasons
from evenpull.curve.thinned_view import to_draw
from evenpull.curve.verdicts import ANSWERS, VERDICTS, Verdicts
from evenpull.store.services import curves_judging, curves_kept, curves_matching
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.curves_table import CurveTable, table_of

ODD_DRAWN, REST_DRAWN, BLOCK = 40, 200, 5
POINTS, RUN_DOWN = 160, 60  # of a line among many: of its rise, of what is before
RING = 50  # fasteners on one picture of a ring


@dataclass(frozen=True, eq=False)
class Line:
    """One curve among others. `angle`: deg from the elastic origin; where that cannot be found (`placed` False) the
    curve is set with its shut-off at the middle shut-off of the others. `verdict` "" where nothing was found."""

    joint: str
    file: int
    number: int
    fastener: int | None
    pass_number: int | None
    verdict: str
    answer: str
    angle: NDArray[np.float64]
    torque: NDArray[np.float64]
    placed: bool


@dataclass(frozen=True, eq=False)
class Overlay:
    """`odd` are drawn on top, `rest` below; `n_odd`, `n_all`: how many there are; `window`: lowest and highest accepted
    torque where all have the same, else None; `counts`: (verdict, curves)."""

    table: CurveTable
    odd: tuple[Line, ...]
    rest: tuple[Line, ...]
    n_odd: int
    n_all: int
    window: tuple[float, float] | None
    counts: tuple[tuple[str, int], ...]
    turn: float  # deg, middle turn from the elastic origin to shut-off; nan where no curve has one

    @property
    def n_rest(self) -> int:
        return self.n_all - self.n_odd


def overlay(
    joints: Sequence[str], fastener: int | None = None, pass_number: int | None = None, page: int = 0
) -> Overlay:
    """All curves of some joints, or of one fastener and pass. `page`: of the odd ones, 40 at once, from 0."""
    table = table_of(joints, fastener, pass_number)
    odd, rest = np.flatnonzero(table.odd), np.flatnonzero(~table.odd)
    odd = odd[np.lexsort((-odd, table.verdict[odd]))]
    shown = odd[page * ODD_DRAWN:(page + 1) * ODD_DRAWN]
    names, n = np.unique(table.verdict[odd], return_counts=True)
    counts = tuple((VERDICTS[int(v)], int(k)) for v, k in zip(names, n, strict=True))
    turn = _turn(table)
    return Overlay(table, lines(table, shown, turn), lines(table, spread(rest), turn), len(odd), len(table),
                   _window(table), counts, turn)


def spread(which: NDArray[np.int64]) -> NDArray[np.int64]:
    """At most 200 of these, in blocks of five evenly over all of them: neighbours lie in one stretch of the file."""
    if len(which) <= REST_DRAWN:
        return which
    starts = np.linspace(0, len(which) - BLOCK, REST_DRAWN // BLOCK).astype(int)
    return which[np.unique((starts[:, None] + np.arange(BLOCK)).ravel())]


def _turn(table: CurveTable) -> float:
    turn = table.values["angle_off"] - table.values["origin"]
    return float(np.nanmedian(turn)) if np.isfinite(turn).any() else math.nan


def _window(table: CurveTable) -> tuple[float, float] | None:
    low, high = table.same("limit T_low"), table.same("limit T_high")
    return None if low is None or high is None else (low, high)


def lines(table: CurveTable, which: NDArray[np.int64], turn: float) -> tuple[Line, ...]:
    """These curves of a table with their points, in this order; `turn` as of `Overlay`."""
    middle = 0.0 if math.isnan(turn) else turn
    wanted: dict[int, list[int]] = defaultdict(list)
    for i in which.tolist():
        wanted[int(table.file[i])].append(i)
    found: dict[int, Line] = {}
    for seq, own in wanted.items():
        row = curves_kept.file(seq)
        points = {number: curves for number, _, _, curves in
                  read_some(curves_kept.parquet_of(row), [int(table.number[i]) for i in own])}
        for i in own:
            found[i] = _line(row, table, i, points[int(table.number[i])], middle)
    return tuple(found[i] for i in which.tolist())


def _line(row: CurveFileRow, table: CurveTable, i: int, curves: Curves, middle: float) -> Line:
    start = float(curves.angle[0]) if len(curves.angle) else 0.0
    origin, off = float(table.values["origin"][i]), float(table.values["angle_off"][i])
    placed = not math.isnan(origin)
    zero = origin if placed else (0.0 if math.isnan(off) else off - middle)
    angle, torque = _few(curves.angle - start - zero, curves.torque, middle)
    code = int(table.verdict[i])
    return Line(
        row.joint, row.seq, int(table.number[i]), _stated(table.fastener[i]), _stated(table.pass_number[i]),
        VERDICTS[code] if code < len(VERDICTS) else "", ANSWERS[int(table.answer[i])], angle, torque, placed,
    )  # fmt: skip


def _few(angle: NDArray[np.float32], torque: NDArray[np.float32], turn: float) -> tuple[Any, Any]:
    """Fewer points: a few of the long run-down, most of the rise."""
    late = angle > -abs(turn)
    if late.all() or not late.any():
        return to_draw(angle, torque, POINTS)
    first = int(late.argmax())
    parts = (to_draw(angle[:first], torque[:first], RUN_DOWN), to_draw(angle[first:], torque[first:], POINTS))
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])


def _stated(number: np.int64) -> int | None:
    return None if number == NONE else int(number)


@dataclass(frozen=True, eq=False)
class Ring:
    """The last curve of each fastener in one pass, by fastener; `fasteners` in all, `first` of those shown; `passes`:
    those of which there are curves."""

    lines: tuple[Line, ...]
    fasteners: int
    first: int
    passes: tuple[int, ...]
    pass_number: int | None
    window: tuple[float, float] | None


def ring(joint: str, pass_number: int | None = None, first: int = 0) -> Ring:
    """Small pictures of a joint's fasteners, at most 50 at once from the place `first` (from 0) on. Without a pass the
    last one that has curves."""
    table = table_of([joint]).ordered()
    passes, wanted = table.passes, table.pass_or_last(pass_number)
    which = table.fastener != NONE
    if wanted is not None:
        which &= table.pass_number == wanted
    own = table.picked(which)
    last = {int(f): i for i, f in enumerate(own.fastener.tolist())}  # ordered by time: the last one stays
    shown = np.array([last[f] for f in sorted(last)][first:first + RING], np.int64)
    return Ring(lines(own, shown, _turn(own)), len(last), first, passes, wanted, _window(own.picked(shown)))


@dataclass(frozen=True, eq=False)
class OneCurve:
    """One curve with everything that was found on it. `mechanics`, `learned`: reasons on each basis (None without
    windows), `not_applied` the rules that could not be applied; `features`: (name, value in words, definition)."""

    row: CurveFileRow
    number: int
    run: str
    keys: Keys
    curves: Curves
    head: Head
    basis: str
    without: tuple[str, ...]
    answer: str
    mechanics: tuple[Reason, ...]
    learned: tuple[Reason, ...] | None
    not_applied: tuple[str, ...]
    features: tuple[tuple[str, str, str], ...]
    picture: Picture
    verdicts: Verdicts
    record: int | None
    original: tuple[int, str, str]  # points as received, their SHA-256, rule of thinning

    def feature(self, name: str) -> float:
        return float(self.verdicts.features[name][0])

    def limit(self, name: str) -> float:
        return float(getattr(self.verdicts.expectation, name)[0])


def one(seq: int, number: int) -> OneCurve:
    """One curve of a file. Unknown when there is none; Refused where its file cannot be judged."""
    row = curves_kept.file(seq)
    run, keys, curves = curves_kept.one_curve(row, number)
    path = curves_judging.judged(row)
    head = read_head(path)
    part = read_finding(path, number)
    thresholds = tomllib.loads(head.thresholds)
    own = part.verdicts(head, thresholds)
    learned = None if head.learned is None else reasons(part.verdicts(head, thresholds, learned=True), 0)
    basis, without = head.bases[int(part.numbers("basis_no")[0])]
    told = tuple((f.name, own.features.told(0, f.name), f.definition) for f in DEFINED)
    return OneCurve(
        row, number, run, keys, curves, head, basis, without, ANSWERS[int(own.answer[0])], reasons(own, 0), learned,
        not_applied(own, 0), told, picture(curves, own, 0), own, curves_matching.record_of_curve(seq, number),
        curves_kept.original_of(row, number),
    )  # fmt: skip


def pair(first: tuple[int, int], second: tuple[int, int]) -> tuple[OneCurve, OneCurve]:
    """Two curves to compare, each as (file, number)."""
    return one(*first), one(*second)

"""Which curve belongs to which record: by tool, memory and counter. A finding, computed from both each time, so that it
does not matter which of them came first.

    summary(joint) -> Matching                     counts, and the records with two different curves
    records_of_file(seq) -> Matched                for each curve of a file its record, pass, time, event
    curves_of_record(seq) -> [(file, number)]      record of a place in the log -> its curves
    record_of_curve(file, number) -> seq | None    and back
    records_without(joint, most), curves_without(joint, most)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import connection
from numpy.typing import NDArray

from evenpull.curve.keyed import NONE
from evenpull.store.services.facts import fold
from evenpull.store.services.index import CURVES_GONE, WITHDRAWN_PLACE

_JOIN = "FROM curve c JOIN pull p ON p.tool = c.tool AND p.epoch = c.epoch AND p.counter = c.counter AND c.tool <> ''"
_STANDS = "c.file NOT IN (SELECT m.seq FROM mention m WHERE m.kind = %s AND m.fold = '')"
_COUNTS = "p.file NOT IN (SELECT m.seq FROM mention m WHERE m.kind = %s AND m.fold = '')"
_BOTH = f"{_STANDS} AND {_COUNTS}"
_MARKS = [CURVES_GONE, WITHDRAWN_PLACE]
SHOWN = 200


@dataclass(frozen=True, slots=True)
class Twice:
    """A record (its place in the log) that two different curves name: each as (file, number). Which of them is the pull
    is for a person to find out."""

    record: int
    curves: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Matching:
    """Curves and records of one joint. `matched`: curves whose record is here; `elsewhere`: whose record belongs to
    another joint; `keyless`: that name no tool and counter; `without`: that name a record nobody has received; `bare`:
    records without a curve; `again`: curves that came more than once with the same points; `twice`: the first
    conflicts, of `conflicts` in all; `differ`: curves that state another fastener than their record."""

    curves: int
    matched: int
    elsewhere: int
    keyless: int
    without: int
    bare: int
    again: int
    conflicts: int
    twice: tuple[Twice, ...]
    differ: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Matched:
    """For each curve of a file, by number: place of its record (-1 none), its pass and fastener (-1 not stated), its
    time (s since 1970, nan), whether it is no tightening, and whether it belongs to another joint."""

    record: NDArray[np.int64]
    pass_number: NDArray[np.int64]
    fastener: NDArray[np.int64]
    time: NDArray[np.float64]
    undoing: NDArray[np.bool_]
    elsewhere: NDArray[np.bool_]


UNDOING = ("loosen", "remove", "replace", "residual check", "check-device pull")  # no tightening of a pass


def records_of_file(seq: int, curves: int) -> Matched:
    """The records of the curves of one file; `curves`: how many it has."""
    made = Matched(np.full(curves, NONE, np.int64), np.full(curves, NONE, np.int64), np.full(curves, NONE, np.int64),
                   np.full(curves, np.nan), np.zeros(curves, bool), np.zeros(curves, bool))
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT c.number, p.seq, p.pass_number, p.fastener, p.time, p.event, CASE WHEN p.fold = c.fold THEN 0 "
            f"ELSE 1 END {_JOIN} WHERE c.file = %s AND {_COUNTS}", [seq, WITHDRAWN_PLACE],
        )
        while rows := cursor.fetchmany(50_000):
            at, record, number, fastener, time, event, other = (list(column) for column in zip(*rows, strict=True))
            made.record[at] = record
            made.pass_number[at] = [NONE if one is None else one for one in number]
            made.fastener[at] = fastener
            made.time[at] = [np.nan if one is None else one for one in time]
            made.undoing[at] = [one in UNDOING for one in event]
            made.elsewhere[at] = other
    return made


def summary(joint_id: str) -> Matching:
    """How curves and records of a joint go together."""
    here = fold(joint_id)
    (curves, keyed) = _one(f"SELECT COUNT(*), COUNT(CASE WHEN c.tool <> '' AND c.counter IS NOT NULL THEN 1 END) FROM "
                           f"curve c WHERE c.fold = %s AND {_STANDS}", [here, CURVES_GONE])
    matched, elsewhere, differ = _one(
        f"SELECT COUNT(CASE WHEN p.fold = c.fold THEN 1 END), COUNT(CASE WHEN p.fold <> c.fold THEN 1 END), COUNT(CASE "
        f"WHEN p.fold = c.fold AND c.fastener <> p.fastener THEN 1 END) {_JOIN} WHERE c.fold = %s AND {_BOTH}",
        [here, *_MARKS],
    )
    several = (f"SELECT p.seq, COUNT(*) AS n, COUNT(DISTINCT c.digest) AS k {_JOIN} WHERE p.fold = %s AND {_BOTH} "
               "GROUP BY p.seq HAVING COUNT(*) > 1")
    again, conflicts = _one(f"SELECT COALESCE(SUM(n - k), 0), COUNT(CASE WHEN k > 1 THEN 1 END) FROM ({several}) s",
                            [here, *_MARKS])
    bare = _one(f"SELECT COUNT(*) {_BARE}", [here, WITHDRAWN_PLACE, CURVES_GONE])[0] if curves else 0
    twice = ()
    if conflicts:
        found = _all(f"SELECT seq FROM ({several}) s WHERE k > 1 ORDER BY seq LIMIT {SHOWN}", [here, *_MARKS])
        twice = tuple(Twice(seq, tuple(curves_of_record(seq))) for (seq,) in found)
    without = keyed - matched - elsewhere
    return Matching(curves, matched, elsewhere, curves - keyed, without, bare, int(again), conflicts, twice,
                    differ)


_BARE = (f"FROM pull p WHERE p.fold = %s AND {_COUNTS} AND NOT EXISTS (SELECT 1 FROM curve c WHERE c.tool = p.tool AND "
         f"c.epoch = p.epoch AND c.counter = p.counter AND c.tool <> '' AND {_STANDS})")


def curves_of_record(seq: int) -> list[tuple[int, int]]:
    """The curves of a record, each as (place of its file, number)."""
    return _all(f"SELECT c.file, c.number {_JOIN} WHERE p.seq = %s AND {_BOTH} ORDER BY c.file, c.number",
                [seq, *_MARKS])


def record_of_curve(file: int, number: int) -> int | None:
    """The place of the record of a curve, None where it is not here."""
    found = _all(f"SELECT p.seq {_JOIN} WHERE c.file = %s AND c.number = %s AND {_BOTH}", [file, number, *_MARKS])
    return found[0][0] if found else None


def records_without(joint_id: str, most: int = SHOWN) -> list[int]:
    """Places of the records of a joint that have no curve, the first ones."""
    return [seq for (seq,) in _all(f"SELECT p.seq {_BARE} ORDER BY p.seq LIMIT {int(most)}",
                                   [fold(joint_id), WITHDRAWN_PLACE, CURVES_GONE])]


def conflicting(file: int) -> list[int]:
    """Numbers of the curves of a file whose record has another curve with other points."""
    return [number for (number,) in _all(
        "SELECT DISTINCT c.number FROM curve c JOIN curve o ON o.tool = c.tool AND o.epoch = c.epoch AND o.counter = "
        "c.counter AND c.tool <> '' AND o.digest <> c.digest WHERE c.file = %s AND o.file NOT IN (SELECT m.seq FROM "
        "mention m WHERE m.kind = %s AND m.fold = '') ORDER BY c.number", [file, CURVES_GONE],
    )]  # fmt: skip


def curves_without(joint_id: str, most: int = SHOWN) -> list[tuple[int, int]]:
    """Curves of a joint that have no record here, the first ones, each as (file, number)."""
    return _all(
        f"SELECT c.file, c.number FROM curve c WHERE c.fold = %s AND {_STANDS} AND NOT EXISTS (SELECT 1 FROM pull p "
        f"WHERE p.tool = c.tool AND p.epoch = c.epoch AND p.counter = c.counter AND c.tool <> '' AND {_COUNTS}) "
        f"ORDER BY c.file, c.number LIMIT {int(most)}", [fold(joint_id), CURVES_GONE, WITHDRAWN_PLACE],
    )


def _one(sql: str, given: list[Any]) -> tuple[Any, ...]:
    return _all(sql, given)[0]


def _all(sql: str, given: list[Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, given)
        return [tuple(row) for row in cursor.fetchall()]

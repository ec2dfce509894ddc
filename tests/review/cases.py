"""Tightenings and findings of an invented store that the tests of reviews use."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from evenpull.equipment import Holdings
from evenpull.equipment.events import begin_of
from evenpull.review import Found, JointBasis, Outcome, Touched, examine, suspects
from evenpull.review.touched import standing_of
from tests.equipment.files import certificate, on, point, store

HEAD = 'form = "evenpull certificates 1"\n'
FIRST = certificate(number="KNC-25-0001", more="counter = 1000\n", points="".join(
    point(stage, nominal, nominal / 1.01, direction) for stage in ("as left",)
    for direction in ("clockwise", "anticlockwise") for nominal in (40.0, 120.0, 200.0)))
LATER = certificate(number="KNC-26-0900", more="counter = 2000\n", points="".join(
    point(stage, nominal, nominal / factor, direction) for stage, factor in (("as found", 1.09), ("as left", 1.00))
    for direction in ("clockwise", "anticlockwise") for nominal in (40.0, 120.0, 200.0))).replace(
    "calibrated = 2026-03-02", "calibrated = 2026-09-01").replace("valid_until = 2027-03-01",
                                                                   "valid_until = 2027-08-31")
FIRST = FIRST.replace("valid_until = 2027-03-01", "valid_until = 2026-08-31")
FOUND_AT = on(9, 1, 15).timestamp()
START = begin_of(on(3, 2).date())


def held(*certificates: str) -> Holdings:
    return store(HEAD + "".join(certificates or (FIRST, LATER)))


def found(**more: Any) -> Found:
    given: dict[str, Any] = {"kind": "out of tolerance", "serial": "TW-0301", "at": FOUND_AT,
                             "words": "reads high at all points", "certificate": "KNC-26-0900", "w_operator": 0.0}
    return Found(**(given | more))


JOINT = JointBasis("KN-1", "A", ((1, 0, 45.0, 55.0), (2, 0, 95.0, 105.0)), 0.012, 0.15, 0.20, 40e3)


Values = Sequence[float]


def touched(
    torque: Values, *, time: Sequence[float] | float | None = None, pass_number: int = 2,
    joints: Sequence[JointBasis] = (JOINT,), joint: Sequence[int] | None = None, suspect: int = 0,
    cycle: Sequence[float] | None = None, ratio: float = 1.0, fastener: Sequence[int] | None = None,
) -> Touched:
    n = len(torque)

    def whole(values: object) -> Any:
        return np.broadcast_to(np.asarray(values, np.int64), (n,)).copy()

    def real(values: object) -> Any:
        return np.broadcast_to(np.asarray(values, float), (n,)).copy()

    seq, unit = np.arange(n), whole(0)
    where = whole(0 if joint is None else joint)
    bolt = np.arange(1, n + 1) if fastener is None else whole(fastener)
    at = real(on(6, 1).timestamp() if time is None else time)
    return Touched(
        joints=joints, units=("",), tools=("TW-0301",), seq=seq, joint=where, unit=unit, fastener=bolt,
        pass_number=whole(pass_number), tool=whole(0), suspect=whole(suspect), time=at,
        cycle=real(np.nan if cycle is None else cycle), torque=real(torque), ratio=real(ratio),
        standing=standing_of(where, unit, bolt, at, seq), state=np.zeros(n, np.int8), other=np.zeros(n, np.int8),
    )


def reviewed(one: Found, store_: Holdings, uses: Touched) -> Outcome:
    return examine(one, suspects(one, store_), uses)

"""Turning the nut: travel, elastic angle, load from an angle, twist of the bolt, and the steps of a stated sequence.

Angles in rad from the snug point unless said else, loads in N, torques in N.m, lengths in m, resiliences in m/N; single
numbers or arrays that broadcast. The elastic angle starts where the parts lie snug: seating, embedding and bending
before it are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenpull.joint.numeric import Num, holds, require_positive

STEEL_SHEAR_RATIO = 1 / 2.6  # G/E at a Poisson ratio of 0.3


def travel(P: Num, angle: Num) -> Num:
    """Axial way of the nut on a single-start thread, P angle/(2 pi) in m (ISO 68-1: lead = pitch), P/4 in 90 deg.

    It is shared between bolt and clamped parts, so it is not the stretch of the bolt.
    """
    require_positive(P=P)
    return P * angle / (2 * math.pi)


def elastic_angle(F: Num, P: Num, delta_S: Num, delta_P: Num) -> Num:
    """Turn in rad from loose contact to the load F: (2 pi/P) F (delta_S + delta_P) (VDI 2230-1; in the textbook's
    terms 2 pi N F (1/k_b + 1/k_m)).
    """
    require_positive(P=P, delta_S=delta_S, delta_P=delta_P)
    return 2 * math.pi / P * F * (delta_S + delta_P)


def angle_from_snug(F: Num, F_snug: Num, P: Num, delta_S: Num, delta_P: Num) -> Num:
    """Turn in rad from the snug load to F. ValueError when F lies below the snug load: it is passed already."""
    if not holds((F_snug >= 0) & (F - F_snug >= 0)):
        raise ValueError(f"the load {F} N lies below the snug load of {F_snug} N: no turn leads to it")
    return elastic_angle(F - F_snug, P, delta_S, delta_P)


def load_per_angle(P: Num, delta_S: Num, delta_P: Num) -> Num:
    """Elastic gradient of the load, P/(2 pi (delta_S + delta_P)) in N/rad."""
    require_positive(P=P, delta_S=delta_S, delta_P=delta_P)
    return P / (2 * math.pi * (delta_S + delta_P))


def load_after_angle(F_snug: Num, angle: Num, P: Num, delta_S: Num, delta_P: Num) -> Num:
    """Load in N after a turn from snug, F_snug + angle P/(2 pi (delta_S + delta_P)), while all stays elastic."""
    return F_snug + angle * load_per_angle(P, delta_S, delta_P)


def torsional_resilience(l: Num, d: Num, E: Num, d_i: Num = 0.0) -> Num:  # noqa: E741
    """Twist per torque of a round piece, 32 l/(pi (d^4 - d_i^4) G) in rad/(N.m), G = E/2.6 (textbook)."""
    require_positive(d=d, E=E)
    if not holds((l >= 0) & (d_i >= 0) & (d_i < d)):
        raise ValueError(f"no piece of length {l} m, diameter {d} m and bore {d_i} m")
    return 32 * l / (math.pi * (d**4 - d_i**4) * STEEL_SHEAR_RATIO * E)


def twist(M_G: Num, resilience: Num) -> Num:
    """Twist of the bolt in rad under the thread torque M_G: it is read at the wrench and makes no load."""
    return M_G * resilience


def springback(M_G: Num, resilience: Num, remaining: Num = 0.5) -> Num:
    """Turn back in rad of head or nut when the tool lets go: (1 - remaining) M_G resilience.

    `remaining` is the share of the thread torque that friction holds in the bolt; 0.5 is the k_tau of VDI 2230-1 R8
    (from memory).
    """
    if not holds((remaining >= 0) & (remaining <= 1)):
        raise ValueError(f"the remaining share of the thread torque lies between 0 and 1, not {remaining}")
    return (1 - remaining) * twist(M_G, resilience)


@dataclass(frozen=True, slots=True)
class Turn:
    """One step of a sequence: to a torque (N.m), or on by an angle (rad)."""

    kind: Literal["torque", "angle"]
    value: float

    def __post_init__(self) -> None:
        if self.kind not in ("torque", "angle"):
            raise ValueError(f"a step goes to a torque or on by an angle, not {self.kind!r}")
        if not 0 < self.value < math.inf:
            raise ValueError(f"a step of {self.kind} needs a finite value greater than 0, not {self.value}")

    def __str__(self) -> str:
        return f"{self.value:g} N.m" if self.kind == "torque" else f"{math.degrees(self.value):g} deg"


def check_sequence(stated: Sequence[Turn], planned: Sequence[Turn]) -> None:
    """Demands that the planned steps are those stated, one by one. ValueError names the first that is not, and says so
    when angle steps were merged: 60 deg and 30 deg are two steps, 90 deg is another sequence, because between them the
    joint settles and the other fasteners are turned.
    """
    if not stated:
        raise ValueError("no sequence is stated")
    for number, (wish, plan) in enumerate(zip(stated, planned, strict=False), start=1):
        if wish.kind == plan.kind and math.isclose(wish.value, plan.value, rel_tol=1e-9):
            continue
        if plan.kind == wish.kind == "angle" and _merges(stated[number - 1:], plan.value):
            raise ValueError(f"step {number}: {plan} merges steps that are stated one by one ({_text(stated)})")
        raise ValueError(f"step {number} is {plan}, stated is {wish} ({_text(stated)})")
    if len(stated) != len(planned):
        raise ValueError(f"{len(planned)} steps are planned, {len(stated)} are stated ({_text(stated)})")


def _merges(rest: Sequence[Turn], angle: float) -> bool:
    total = 0.0
    for step in rest:
        if step.kind != "angle":
            return False
        total += step.value
        if math.isclose(total, angle, rel_tol=1e-6):
            return True
    return False


def _text(steps: Sequence[Turn]) -> str:
    return ", then ".join(str(step) for step in steps)

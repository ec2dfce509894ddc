"""What has to hold in every state on the way, and where a procedure breaks it.

Bolt load, gasket stress and the rotation of one flange against the other are looked at after every pull, least gasket
stress at the end. The model has no yield of bolts or flanges and no crushing of the gasket: it says how far a state is
from limits that are given, no more. "Pulls a crew can follow" are limits too: few different settings, settings on the
steps of the tool's scale, no bolt in two pulls running.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenpull.ring import measures
from evenpull.ring.condensed import Patches
from evenpull.ring.model import RingModel
from evenpull.ring.search.trajectory import Trajectory, check_steps, follow, steps_of
from evenpull.ring.stepping import Pull, State, patch_pressures

Floats = NDArray[np.float64]
What = Literal[
    "setting", "bolt load", "gasket stress", "least gasket stress", "flange tilt", "scale", "settings", "twice running"
]
_ROUNDING = 1e-6  # relative: a limit reached to this is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """None leaves a limit out. `bolt` N, for every bolt in every state and every setting; `gasket_most` Pa, for every
    patch in every state; `gasket_least` Pa, for every patch at the end; `tilt` rad, in every state; `scale` N, settings
    are whole multiples of it; `kinds`, at most so many different settings; `rest`, no bolt in two steps running."""

    bolt: float | None = None
    gasket_most: float | None = None
    gasket_least: float | None = None
    tilt: float | None = None
    scale: float | None = None
    kinds: int | None = None
    rest: bool = False

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and field.name != "rest" and not value > 0:
                raise ValueError(f"limit {field.name} = {value}: it has to be above zero, or left out")

    @property
    def of_states(self) -> bool:
        """Whether any limit needs more than the bolt loads."""
        return not (self.gasket_most is None and self.gasket_least is None and self.tilt is None)


@dataclass(frozen=True, slots=True)
class Violation:
    """`pull` counts from 0 (None: the procedure as a whole), `bolt` from 0 (None: not of one bolt; for gasket stress
    the bolt in whose sector the patch lies). `value` and `limit` in N, Pa, rad or, of "settings", a count."""

    what: What
    pull: int | None
    bolt: int | None
    value: float
    limit: float

    @property
    def text(self) -> str:
        """In words; pulls and bolts counted from 1, as on the joint."""
        where = "" if self.pull is None else f"pull {self.pull + 1}"
        bolt = "" if self.bolt is None else f"bolt {self.bolt + 1}"
        place = ", ".join(part for part in (where, bolt) if part)
        match self.what:
            case "setting" | "bolt load":
                said = f"{self.what} {self.value / 1e3:.1f} kN above the limit of {self.limit / 1e3:.1f} kN"
            case "gasket stress":
                said = f"gasket stress {self.value / 1e6:.2f} MPa above the limit of {self.limit / 1e6:.2f} MPa"
            case "least gasket stress":
                said = (
                    f"gasket stress at the end {self.value / 1e6:.2f} MPa below the least of {self.limit / 1e6:.2f} MPa"
                )
            case "flange tilt":
                said = f"flange tilt {self.value * 1e3:.3f} mrad above the limit of {self.limit * 1e3:.3f} mrad"
            case "scale":
                said = f"setting {self.value / 1e3:.2f} kN is no multiple of {self.limit / 1e3:.2f} kN"
            case "settings":
                said = f"{self.value:.0f} different settings, at most {self.limit:.0f}"
            case "twice running":
                said = "pulled in two steps running"
        return f"{place}: {said}" if place else said


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst states of a procedure: value, pull (from 0), bolt (from 0; of a patch: that of its sector)."""

    bolt_load: tuple[float, int, int]
    gasket_stress: tuple[float, int, int]
    least_gasket_stress_at_end: tuple[float, int]  # value, bolt
    tilt: tuple[float, int]  # value, pull


def worst_states(model: RingModel, patches: Patches, path: Trajectory) -> Worst:
    after = path.states[1:]
    pull, bolt = np.unravel_index(np.argmax(path.loads), path.loads.shape)
    pressures = np.array([patch_pressures(model, state) for state in after])
    pressed, patch = np.unravel_index(np.argmax(pressures), pressures.shape)
    least = int(np.argmin(pressures[-1]))
    tilts = np.array([measures.tilt(model, patches, state) for state in after])
    tilted = int(np.argmax(tilts))
    return Worst(
        (float(path.loads[pull, bolt]), int(pull), int(bolt)),
        (float(pressures[pressed, patch]), int(pressed), int(patch) // patches.count),
        (float(pressures[-1, least]), least // patches.count),
        (float(tilts[tilted]), tilted),
    )


def violations(
    model: RingModel, patches: Patches, pulls: Sequence[Pull], limits: Limits, path: Trajectory | None = None
) -> tuple[Violation, ...]:
    """Every limit that is broken, pull by pull; of each kind of limit and pull the worst bolt. Empty: all kept.

    `path` is the procedure already followed, else it is followed here. Raises ValueError for pulls that do not fit.
    """
    check_steps(steps_of(pulls), model.n)
    path = follow(model, pulls) if path is None else path
    found = list(_of_crew(pulls, limits))
    for number, (pull, loads, state) in enumerate(zip(pulls, path.loads, path.states[1:], strict=True)):
        if limits.bolt is not None:
            top = int(np.argmax(pull.loads))
            if _above(pull.loads[top], limits.bolt):
                found.append(Violation("setting", number, pull.bolts[top], pull.loads[top], limits.bolt))
            bolt = int(np.argmax(loads))
            if _above(loads[bolt], limits.bolt):
                found.append(Violation("bolt load", number, bolt, float(loads[bolt]), limits.bolt))
        if limits.of_states:
            found.extend(_of_state(model, patches, state, number, number == len(pulls) - 1, limits))
    return tuple(found)


def _of_state(
    model: RingModel, patches: Patches, state: State, number: int, end: bool, limits: Limits
) -> list[Violation]:
    found: list[Violation] = []
    if limits.gasket_most is not None or (end and limits.gasket_least is not None):
        pressures = patch_pressures(model, state)
        top, low = int(np.argmax(pressures)), int(np.argmin(pressures))
        if limits.gasket_most is not None and _above(pressures[top], limits.gasket_most):
            sector = top // patches.count
            found.append(Violation("gasket stress", number, sector, float(pressures[top]), limits.gasket_most))
        if end and limits.gasket_least is not None and _above(limits.gasket_least, pressures[low]):
            sector = low // patches.count
            found.append(Violation("least gasket stress", number, sector, float(pressures[low]), limits.gasket_least))
    if limits.tilt is not None:
        tilt = measures.tilt(model, patches, state)
        if _above(tilt, limits.tilt):
            found.append(Violation("flange tilt", number, None, tilt, limits.tilt))
    return found


def _of_crew(pulls: Sequence[Pull], limits: Limits) -> list[Violation]:
    found: list[Violation] = []
    if limits.kinds is not None:
        different = len({round(load, 3) for pull in pulls for load in pull.loads})
        if different > limits.kinds:
            found.append(Violation("settings", None, None, different, limits.kinds))
    for number, pull in enumerate(pulls):
        for bolt, load in zip(pull.bolts, pull.loads, strict=True):
            if limits.scale is not None and abs(load / limits.scale - round(load / limits.scale)) > 1e-6:
                found.append(Violation("scale", number, bolt, load, limits.scale))
            if limits.rest and number and bolt in pulls[number - 1].bolts:
                found.append(Violation("twice running", number, bolt, 2, 1))
    return found


def _above(value: float, limit: float) -> bool:
    return bool(value > limit * (1 + _ROUNDING))

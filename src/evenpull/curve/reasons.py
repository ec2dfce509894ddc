"""Reasons in words: for one curve and one verdict, the numbers that made it beside their limits.

Made only for curves that are asked for. The picture that goes with it is the curve itself with `marks`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.curve.columns import Curves
from evenpull.curve.verdicts import ANSWERS, VERDICTS, Verdicts

# What each verdict reads: features, and limits of the expectation.
READS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "sensor fault": (("n_bad", "n_spikes", "clip", "stuck", "T_zero", "T_lowest", "n_late", "angle_off"), ()),
    "step order": (("last_step", "n_steps", "in_order", "T_peak"), ("last_step", "T_low")),
    "re-hit": (("T_run", "angle_off", "T_first", "breakaway"), ("theta_low",)),
    "slip or stripping": (("off_ratio", "T_peak", "angle_origin"), ("theta_high",)),
    "cross-thread or early seating": (("seat", "origin", "k_el"), ("run_low", "k_low")),
    "bottomed": (("seat", "origin", "k_el"), ("run_low", "k_high")),
    "extra part": (("seat", "origin", "k_el"), ("run_low", "k_low", "k_high")),
    "missing part": (("seat", "origin"), ("run_high",)),
    "soft or lost gasket": (("k_el", "u_k_el"), ("k_low", "k_high")),
    "seized or drag high": (("T_run", "T_run_max"), ("drag_high", "target")),
    "yield suspected": (("yield_ratio", "u_yield_ratio", "bend", "k_end", "k_el", "k_max"), ()),
    "stopped by the user": (("T_peak", "T_off", "yield_ratio"), ("T_low",)),
    "torque outside its window": (("T_off",), ("T_low", "T_high")),
}
_SAYS = {
    "sensor fault": "points, torque or angle are not what a sensor that is well gives",
    "step order": "the steps are not those of the program in their order",
    "re-hit": "no run-down, and most of the torque at once: the fastener may have been tight already. Its load is not "
              "known from this record",
    "slip or stripping": "the torque fell before the tool shut off, or the turn is far beyond the elastic one: thread, "
                         "head or drive may have given way. Do not tighten on; find out what slipped",
    "cross-thread or early seating": "the torque rises turns too early and softer than the joint: something wedges",
    "bottomed": "stiffer than the joint can be: the tip may sit on the ground, and the parts may not be clamped",
    "extra part": "the torque rises turns too early with a slope the joint may have: a part too many, a burr, dirt; or "
                  "a screw that bottoms on soft ground, which this curve does not tell apart",
    "missing part": "the torque rises turns too late: a part may be missing or too thin",
    "soft or lost gasket": "the slope is not that of the joint with its gasket: soft, damaged or lost gasket, paint, "
                           "parts that do not lie flat",
    "seized or drag high": "the run-down takes more torque than it may: dirt, damaged thread, galling, wrong nut. What "
                           "the thread takes is missing from the load",
    "yield suspected": "the slope before shut-off has fallen: bolt, thread or bearing face may have yielded",
    "stopped by the user": "the tool ended below the window while the torque still rose",
    "torque outside its window": "the torque at shut-off is outside its window",
}
assert set(READS) == set(_SAYS) == set(VERDICTS)
_UNITS = {"target": "N.m", "T": "N.m", "drag": "N.m", "k": "N.m/deg", "theta": "deg", "run": "deg", "last": ""}


@dataclass(frozen=True, slots=True)
class Reason:
    """One verdict on one curve: what it says, the numbers and the limits of the expectation that are stated (name,
    value with its unit), the judge's own parameters, and what the limits rest on."""

    verdict: str
    says: str
    numbers: tuple[tuple[str, str], ...]
    limits: tuple[tuple[str, str], ...]
    parameters: tuple[tuple[str, float], ...]
    basis: str

    def __str__(self) -> str:
        numbers = "; ".join(f"{name} {value}" for name, value in self.numbers if not value.startswith("cannot"))
        limits = "; ".join(f"{name} {value}" for name, value in self.limits)
        return f"{self.verdict}: {self.says} ({numbers}{'; limits: ' + limits if limits else ''}; {self.basis})"


SECTION = {"sensor fault": "sensor", "re-hit": "rehit", "slip or stripping": "slip", "seized or drag high": "drag",
            "yield suspected": "yield", "stopped by the user": "stopped"}


def reasons(verdicts: Verdicts, curve: int) -> tuple[Reason, ...]:
    """The reasons of all verdicts found on one curve (number from 0), the first that applies first."""
    found = []
    for place, name in enumerate(VERDICTS):
        if not verdicts.found[curve, place]:
            continue
        features, limits = READS[name]
        section = SECTION.get(name, "slope" if "k_low" in limits or "k_high" in limits else "")
        found.append(Reason(
            name, _SAYS[name], tuple((n, verdicts.features.told(curve, n)) for n in features),
            tuple((n, told_limit(n, value)) for n in limits
                  if not math.isnan(value := float(getattr(verdicts.expectation, n)[curve]))),
            tuple((n, float(v)) for n, v in verdicts.thresholds.get(section, {}).items()), verdicts.basis,
        ))
    return tuple(found)


def told_limit(name: str, value: float) -> str:
    """A limit of the expectation with its unit, as the features are told: "180 N.m"."""
    return f"{value:.4g} {_UNITS[name.split('_')[0]]}".strip()


def not_applied(verdicts: Verdicts, curve: int) -> tuple[str, ...]:
    """Rules that could not be applied to the curve, because a number or a limit is missing."""
    return tuple(name for place, name in enumerate(VERDICTS) if not verdicts.applied[curve, place])


def answer(verdicts: Verdicts, curve: int) -> str:
    return ANSWERS[int(verdicts.answer[curve])]


@dataclass(frozen=True, slots=True)
class Picture:
    """What is drawn of one curve: angle (deg), torque (N.m), and marks (name, angle, torque) of what was found."""

    angle: tuple[float, ...]
    torque: tuple[float, ...]
    marks: tuple[tuple[str, float, float], ...]


def picture(curves: Curves, verdicts: Verdicts, curve: int) -> Picture:
    """The curve with seat, elastic origin, peak and shut-off marked where they were found. Angles from its first
    point, as in the features."""
    own = curves[curve:curve + 1]
    start = float(own.angle[0]) if len(own.angle) else 0.0
    f = verdicts.features
    marks = []
    for name, x, y in (("seat", "seat", "T_run"), ("elastic origin", "origin", "T_run"),
                       ("peak", "angle_peak", "T_peak"), ("shut-off", "angle_off", "T_off")):
        at, height = float(f[x][curve]), float(f[y][curve])
        if not math.isnan(at):
            marks.append((name, at, 0.0 if math.isnan(height) else height))
    return Picture(tuple((own.angle - start).tolist()), tuple(own.torque.tolist()), tuple(marks))

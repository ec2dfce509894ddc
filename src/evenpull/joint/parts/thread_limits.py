"""Limits of size of mating threads, as far as the sheared areas need them: the loosest pair that the fit allows.

Metric 6g/6H by the formulas behind ISO 965-1, inch 2A/2B by those of ASME B1.1; both from memory, not re-read. The
printed tables round the tolerances, so that a limit may differ by up to 0.015 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from evenpull.joint.parts.threads import INCH
from evenpull.joint.target import ThreadSize

# Ranges of the nominal diameter in mm; the tolerance of a range is that of its geometric mean (ISO 965-1).
_RANGES = (0.99, 1.4, 2.8, 5.6, 11.2, 22.4, 45.0, 90.0, 180.0, 355.0)


@dataclass(frozen=True, slots=True)
class ThreadLimits:
    """Smallest external and largest internal diameters in m."""

    d_min: float  # major diameter of the external thread
    d_2_min: float  # its pitch diameter
    D_2_max: float  # pitch diameter of the internal thread
    D_1_max: float  # its minor diameter
    source: str
    status: str


def basic_sizes(size: ThreadSize) -> ThreadLimits:
    """The basic profile: no tolerance at all. Sheared areas come out up to a quarter too large."""
    return ThreadLimits(size.d, size.d2, size.d2, size.D1, "basic profile, no tolerances", "computed")


def loosest_pair(size: ThreadSize) -> ThreadLimits:
    """Limits of the medium fit: 6g/6H for metric threads (ISO 965-1), 2A/2B for inch threads (ASME B1.1).

    ValueError for metric diameters outside 0.99 mm to 355 mm.
    """
    return _metric(size) if size.system == "metric" else _inch(size)


def _metric(size: ThreadSize) -> ThreadLimits:
    d, P = size.d * 1e3, size.P * 1e3
    bounds = next(((low, up) for low, up in pairwise(_RANGES) if low < d <= up), None)
    if bounds is None:
        raise ValueError(f"{size.designation}: tolerances exist for {_RANGES[0]:g} mm < d <= {_RANGES[-1]:g} mm")
    es = 15 + 11 * P  # position g, micrometres
    T_d = 180 * P ** (2 / 3) - 3.15 / math.sqrt(P)
    T_d2 = 90 * P**0.4 * math.sqrt(bounds[0] * bounds[1]) ** 0.1
    T_D1 = 230 * P**0.7 if P >= 1 else 433 * P - 190 * P**1.22
    return ThreadLimits(
        size.d - (es + T_d) * 1e-6, size.d2 - (es + T_d2) * 1e-6, size.d2 + 1.32 * T_d2 * 1e-6, size.D1 + T_D1 * 1e-6,
        "ISO 965-1, tolerance classes 6g and 6H, by formula", "memory",
    )


def _inch(size: ThreadSize) -> ThreadLimits:
    D, P = size.d / INCH, size.P / INCH
    T_2A = 0.0015 * D ** (1 / 3) + 0.0015 * math.sqrt(D) + 0.015 * P ** (2 / 3)  # length of engagement D
    allowance = 0.3 * T_2A
    if D >= 0.25:
        T_minor = 0.25 * P - 0.40 * P**2 if P <= 0.25 else 0.15 * P
    else:
        T_minor = min(max(0.05 * P ** (2 / 3) + 0.03 * P / D - 0.002, 0.25 * P - 0.40 * P**2), 0.394 * P)
    return ThreadLimits(
        size.d - (allowance + 0.060 * P ** (2 / 3)) * INCH, size.d2 - (allowance + T_2A) * INCH,
        size.d2 + 1.3 * T_2A * INCH, size.D1 + T_minor * INCH, "ASME B1.1, classes 2A and 2B, by formula", "memory",
    )

"""Inputs that no rule set can do anything with, refused once by the name of their field."""

from __future__ import annotations

import math

from evenpull.joint.case import CaseError, JointCase


def refuse_senseless(case: JointCase) -> None:
    """CaseError for a clamped part without length, and for loads, torques and scatters not finite or negative."""
    if not case.layers:
        raise CaseError("layers: there is at least one clamped part")
    for number, layer in enumerate(case.layers, 1):
        _positive(f"layers, part {number} ({layer.name}), length in m", layer.length)
    for name, value in (("bolt.length", case.bolt.length), ("counterpart.engagement", case.counterpart.engagement),
                        ("tightening.torque", case.tightening.torque)):
        if value is not None:
            _positive(name, value)
    for section in case.bolt.sections:
        _positive("bolt.sections, length in m", section.length)
    for name, value in (("loads.F_A_max", case.loads.F_A_max), ("loads.F_Q", case.loads.F_Q),
                        ("tightening.tool_scatter", case.tightening.tool_scatter)):
        if not 0 <= value < math.inf:
            raise CaseError(f"{name} has to be finite and not negative, not {value}")


def _positive(name: str, value: float) -> None:
    if not 0 < value < math.inf:
        raise CaseError(f"{name} has to be finite and greater than zero, not {value}")

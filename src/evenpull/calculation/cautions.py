"""The cautions that belong to a calculated joint: hazard, when to stop, who decides. They never allow."""

from __future__ import annotations

from evenpull.catalogue.cautions import Caution, caution, cautions_for
from evenpull.joint.case import JointCase

SOFT = 150e9  # Pa: below it a tapped hole is of no steel or nodular iron (common practice, no source)
METHODS = {"tension": "tensioner", "torque and angle": "angle-tightened bolts", "yield": "angle-tightened bolts"}


def cautions_of(case: JointCase) -> tuple[Caution, ...]:
    """Cautions of the plan for what the case shows: its kind of joint, class, tapped material, method and nut."""
    kind = ("structural connection" if case.structural is not None
            else "gasketed flange" if case.gasket is not None or case.flange is not None else "")
    tapped = "" if case.through_bolt else case.counterpart.material.name
    found = list(cautions_for(kind, (), case.bolt.strength.designation, tapped, "plan"))
    keys = []
    if tapped and (case.counterpart.material.E or SOFT) < SOFT:
        keys.append("soft thread")
    if case.tightening.method in METHODS:
        keys.append(METHODS[case.tightening.method])
    if case.tightening.prevailing.high > 0:
        keys.append("self-locking nut")
    if case.loads.cycles is not None:
        keys.append("fatigue")
    return tuple(dict.fromkeys([*found, *map(caution, keys)]))


def caution_words(case: JointCase) -> list[str]:
    """One sentence or two for each."""
    return [f"{c.task}: {c.hazard} {c.stop} Who decides: {c.who_decides}" for c in cautions_of(case)]

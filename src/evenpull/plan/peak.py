"""The highest setting of single fasteners, judged as the target is: what load it may leave, and what that uses up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from evenpull.joint.target import Target
from evenpull.plan.model import OwnSetting, Pass, Problem, Specification
from evenpull.quantities import show


@dataclass(frozen=True)
class Peak:
    """`target`: load and use of strength computed for this setting as for a target; None without a thread."""

    one: Pass
    setting: OwnSetting
    target: Target | None


# What speaks of load and strength; that a load is too small or a proof stress unknown is said of the target itself.
_TOO_MUCH = ("overload", "overload possible", "above proof load")


def settings_problems(spec: Specification, peak: Peak | None) -> Iterator[Problem]:
    """What is to be known about a procedure with settings of single fasteners."""
    if not any(spec.procedure.settings):
        return
    yield Problem("loads by prediction", "note", "Fasteners have settings of their own, so that the loads come out "
                  "even once all are pulled. A record proves that its fastener was pulled to its setting; which load "
                  "is left is predicted, not proven. A check pass finds a fastener below its torque, not one above.")
    if peak is None:
        return
    at = f"{peak.one.name}, fastener {peak.setting.fastener} at {peak.setting.percent:g} % of the target"
    if peak.target is None:
        yield Problem("setting above the target", "warning", f"{at}: {show(peak.setting.torque, 'N.m')} is more than "
                      "the target, and whether that overloads the fastener cannot be judged: the thread is not stated. "
                      "Have it judged by who approved the torque, or use settings up to 100 %.")
        return
    for found in peak.target.problems:
        if found.code in _TOO_MUCH:
            yield Problem(f"setting: {found.code}", found.severity, f"{at}, judged like a target (here \u201cthe "
                          f"target\u201d is this setting): {found.text}")

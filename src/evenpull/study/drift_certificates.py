"""What a tool's certificates say of its drift: the deviation at one value, as found and as left, of each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenpull.instrument.certificate import Certificate, Direction, Stage
from evenpull.study.drift import Calibration
from evenpull.study.words import number, percent


@dataclass(frozen=True, slots=True)
class CertificateHistory:
    """`X` is the value indicated (SI) at which all of them are looked at; `k_u` the largest expanded uncertainty of the
    last one, a share; `words` say which value was taken and why."""

    X: float
    direction: Direction
    calibrations: tuple[Calibration, ...]
    k_u: float
    words: str


def history_of(certificates: Sequence[Certificate]) -> CertificateHistory | None:
    """The history of an instrument by its certificates, in any order; None where there are none, or no value that all
    of them cover.

    Taken is the value at which the last certificate left the largest deviation, of those that every certificate covers:
    there the limit is met first. Between two points of a certificate its curve is straight, beyond them nothing is
    taken. A certificate that says nothing of "as found" ends the interval before it without a drift; one kept without
    points hides whether the tool was adjusted, so that the history begins after it.
    """
    ordered = sorted(certificates, key=lambda one: one.calibrated)
    blind = max((place for place, one in enumerate(ordered) if not one.points), default=-1)
    ordered = ordered[blind + 1 :]
    if not ordered:
        return None
    last = ordered[-1]
    chosen: tuple[float, float, Direction] | None = None
    for point in last.points:
        if all(_at(one, stage, point.direction, point.indicated) is not None
               for one in ordered for stage in _stages(one)):
            left = _at(last, "as left", point.direction, point.indicated)
            if left is not None and (chosen is None or abs(left) > chosen[0]):
                chosen = abs(left), point.indicated, point.direction
    if chosen is None:
        return None
    _, X, direction = chosen
    made = tuple(Calibration(one.calibrated, _at(one, "as found", direction, X), _at(one, "as left", direction, X))
                 for one in ordered)
    k_u = max(point.W for point in last.points)
    words = (f"From {len(ordered)} certificates ({ordered[0].id} to {last.id}), {direction}, at {number(X)} N·m, where "
             f"the last one left the largest deviation of all values that each of them covers; its largest expanded "
             f"uncertainty is {percent(k_u)}.")
    return CertificateHistory(X, direction, made, k_u, words)


def _stages(one: Certificate) -> tuple[Stage, ...]:
    """The stages that a certificate speaks of; what it left follows from what it found where nothing was adjusted."""
    return ("as found", "as left") if any(point.stage == "as found" for point in one.points) else ("as left",)


def _at(one: Certificate, stage: Stage, direction: Direction, X: float) -> float | None:
    """Deviation at a value; None where the certificate says nothing there."""
    curve = one.curve(stage, direction)
    if curve is None:
        return None
    found = curve.at(X)
    return float(found.a) if bool(found.judged) else None

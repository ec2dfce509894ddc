"""Is an instrument within its permissible deviation? Each point of a certificate by a stated decision rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenpull.instrument.certificate import Certificate, Point, Stage
from evenpull.instrument.conformity import Decision, DecisionRule, decide


@dataclass(frozen=True, slots=True)
class PointDecision:
    """One point with its decision; `words` with the numbers."""

    point: Point
    decision: Decision
    words: str


@dataclass(frozen=True, slots=True)
class Acceptance:
    """All points of one stage; `accepted` only if each is, and there is one. `rule` states how it was decided."""

    stage: Stage
    limit: float
    rule: str
    points: tuple[PointDecision, ...]

    @property
    def accepted(self) -> bool:
        return bool(self.points) and all(one.decision.accepted for one in self.points)


def judge_points(certificate: Certificate, stage: Stage, limit: float, rule: DecisionRule) -> Acceptance:
    """Deviation of each point against +-`limit` (share), with its standard uncertainty W/k. ValueError for a limit that
    is not positive, and as of `decide` (a measurement too coarse for the rule)."""
    if not limit > 0:
        raise ValueError(f"the permissible deviation has to be greater than zero: {limit}")
    found = []
    for point in certificate.points:
        if point.stage == stage:
            decision = decide(point.a, point.w, -limit, limit, rule, point.k)
            words = (f"{point.direction}, {point.nominal:.6g}: deviation {100 * point.a:+.2f} % +- "
                     f"{100 * point.W:.2g} % (k = {point.k:g}) against +-{100 * limit:g} %: {decision.verdict}, "
                     f"probability of conformity {100 * decision.probability:.3g} %")
            found.append(PointDecision(point, decision, words))
    return Acceptance(stage, limit, rule.statement, tuple(found))


def calibrated_with(
    certificates: Mapping[str, Sequence[Certificate]], standard: str,
) -> tuple[tuple[str, Certificate], ...]:
    """Each instrument, by serial, with each of its certificates that names a reference standard: what a fault of the
    standard reaches. By serial and first day."""
    return tuple(
        (serial, one) for serial in sorted(certificates)
        for one in sorted(certificates[serial], key=lambda one: one.valid_from) if standard in one.standards
    )

"""The fast ring model against stepping the same pulls in the direct solid model; many bolts; many assemblies."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from evenpull.plan.orders import circular, star
from evenpull.ring.case import BearingFace, Facing, Flange, Neck, RaisedFace, RingBolts, RingCase
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import GasketLaw
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.scatter.assembly import TorquePull, assemble
from evenpull.ring.scatter.friction import NutFriction
from evenpull.ring.solid import whole
from evenpull.ring.stepping import Pull, run

DIRECT_STEPS = 1
DIRECT_SIZE = 2.0  # element size over that of the reference: fewer unknowns, in favour of the direct model
ASSEMBLIES = 1000
SEED = 7


def flange_case(count: int = 16, circle: float = 0.75) -> RingCase:
    """16 x M36 on a raised face, invented round sizes; other counts on a larger circle with the same section."""
    grown = circle - 0.75
    flange = Flange(
        bore=0.59 + grown, outside_diameter=0.815 + grown, thickness=0.046, end=BearingFace(d_w=0.064, d_h=0.039),
        raised_face=RaisedFace(outside_diameter=0.69 + grown, height=0.002),
        neck=Neck(at_back=0.03, wall=0.01, length=0.09, pipe_length=0.15),
    )  # fmt: skip
    law = GasketLaw(
        tuple((w * 1e-3, p * 1e6) for w, p in
              ((0, 0), (0.2, 5), (0.5, 20), (0.8, 45), (1.1, 80), (1.3, 120), (1.5, 180), (1.7, 260))), 7e11,
    )  # fmt: skip
    bolts = RingBolts(
        count=count, bolt_circle=circle, d=0.036, stiffness=1.28e9, bending=8.3e4, target=200e3, P=4e-3, limit=400e3
    )
    facing = Facing(inside_diameter=0.63 + grown, outside_diameter=0.662 + grown, law=law)
    return RingCase(name=f"{count} x M36", bolts=bolts, flanges=(flange, flange), facing=facing)


def star_and_circular(case: RingCase, shares: tuple[float, ...] = (0.3, 0.7, 1.0), rounds: int = 1) -> list[Pull]:
    n, target = case.bolts.count, case.bolts.target
    steps = [(step, share) for share in shares for step in star(n)]
    steps += [(step, 1.0) for _ in range(rounds) for step in circular(n)]
    return [Pull(tuple(bolt - 1 for bolt in step), (share * target,) * len(step)) for step, share in steps]


def predict(case: RingCase, pulls: list[Pull]) -> np.ndarray:
    return run(ring_model(condense(case), case.bolts, case.facing.law), pulls)[0]


def direct(case: RingCase, pulls: list[Pull]) -> tuple[float, float, np.ndarray]:
    """Seconds to build, seconds a step, loads after the first steps of the direct solid model, meshed coarsely."""
    begin = time.perf_counter()
    ring = whole.whole_ring(case, size_factor=DIRECT_SIZE)
    built = time.perf_counter()
    loads, _ = whole.run(ring, pulls[:DIRECT_STEPS])
    return built - begin, (time.perf_counter() - built) / DIRECT_STEPS, loads


def run_all(timed: Callable[..., float], line: Callable[[str, float, str, float], None]) -> None:
    case = flange_case()
    pulls = star_and_circular(case)
    spent = timed(lambda: predict(case, pulls))
    build, step, loads = direct(case, pulls)
    difference = np.abs(predict(case, pulls)[:DIRECT_STEPS] - loads).max() / case.bolts.target
    whole_job = build + step * len(pulls)
    print(
        f"direct solid model of {case.name}, elements {DIRECT_SIZE:g} times those of the reference: {build:.1f} s to "
        f"build, {step:.1f} s a step ({DIRECT_STEPS} timed, scaled to {len(pulls)} pulls: {whole_job:.0f} s).\n"
        f"The fast model (built and all pulls, {spent:.2f} s) is {whole_job / spent:,.0f} times faster; largest "
        f"difference of any bolt at the steps timed {difference:.2%} of target."
    )
    dense = np.random.default_rng(1).normal(size=(case.bolts.count * 24, case.bolts.count * 24))
    line(f"ring {case.name}: model and {len(pulls)} pulls", spent, "one dense solve a pull, patches only",
         timed(lambda: [np.linalg.solve(dense, dense[0]) for _ in pulls]))  # fmt: skip

    large = flange_case(48, 2.2)
    passes = star_and_circular(large, (0.3, 0.7, 1.0), 2)
    spent = timed(lambda: predict(large, passes))
    dense = np.random.default_rng(1).normal(size=(48 * 12, 48 * 12))
    line(f"ring {large.name}: model and {len(passes)} pulls", spent, "one dense solve a pull, patches only",
         timed(lambda: [np.linalg.solve(dense, dense[0]) for _ in passes]))  # fmt: skip

    model = ring_model(condense(case, radial=2, circumferential=4), case.bolts, case.facing.law)
    many_assemblies(case, model, pulls, timed, line)


def many_assemblies(
    case: RingCase, model: RingModel, pulls: list[Pull], timed: Callable[..., float],
    line: Callable[[str, float, str, float], None],
) -> None:  # fmt: skip
    """By torque with scatter, all at once, against one by one without scatter (one timed, scaled)."""
    friction = NutFriction(K=0.16, F_ref=case.bolts.target, cv_lot=0.05, cv_nut=0.06, cv_pull=0.03)
    d = case.bolts.d
    steps = [TorquePull(pull.bolts, tuple(float(friction.torque(load, d)) for load in pull.loads)) for pull in pulls]

    def at_once() -> object:
        rng = np.random.default_rng(SEED)
        return assemble(model, case.bolts, steps, samples=ASSEMBLIES, rng=rng, friction=friction)

    spent = timed(at_once, 1)
    one = timed(lambda: run(model, pulls))
    line(f"{ASSEMBLIES} assemblies of {case.name}, torque", spent, "one by one, one timed and scaled", one * ASSEMBLIES)

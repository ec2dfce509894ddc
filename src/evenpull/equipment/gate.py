"""What the fitness gate asks and answers: the pulls of a plan, a tool judged for them, the order of the fit ones.

Plan --pull_values--> each torque with its window. Who judges: `tool_fitness`. Torques in N.m at the fastener.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from evenpull.instrument.candidate import Fitness, PassFitness, PassValue
from evenpull.instrument.certificate import Direction
from evenpull.instrument.ranking import RULE, ranked
from evenpull.ledger.words import fasteners
from evenpull.plan.model import Plan

TURNED: Direction = "clockwise"  # a joint file describes no left-hand thread


@dataclass(frozen=True, slots=True)
class PullValue:
    """One torque of a plan with its window; `fasteners` that get it in this pass, () for all."""

    pass_number: int
    fasteners: tuple[int, ...]
    value: PassValue


def pull_values(plan: Plan) -> tuple[PullValue, ...]:
    """Every torque that some pull of the plan has, with the window of its records, by pass and then as they first come.
    In a pass with settings of single fasteners each distinct one stands for itself."""
    found: list[PullValue] = []
    for one in plan.passes:
        if not one.own:
            value = PassValue(one.name, one.torque, one.lower, one.upper, TURNED)
            found.append(PullValue(one.number, (), value))
            continue
        same: dict[tuple[float, float, float], list[int]] = {}
        for own in one.own:
            same.setdefault((own.torque, own.lower, own.upper), []).append(own.fastener)
        for window, numbers in same.items():
            value = PassValue(f"{one.name}, {fasteners(numbers)}", *window, TURNED)
            found.append(PullValue(one.number, tuple(numbers), value))
    return tuple(found)


@dataclass(frozen=True)
class Judged:
    """One tool or chain, judged for pull values. `fitness` is None where what is known of it makes no instrument;
    `broken` then says why. `later`: why it is not fit on the last day although it is on the first."""

    serial: str
    name: str
    place: str
    allowed: bool
    values: tuple[PullValue, ...]
    fitness: Fitness | None
    broken: str = ""
    later: tuple[str, ...] = ()

    @property
    def fit(self) -> bool:
        """For every pull."""
        return self.fitness is not None and self.fitness.fit and not self.later

    @property
    def whole(self) -> tuple[str, ...]:
        """Why it may be used for no pull at all; () where nothing of that kind stands against it."""
        if self.fitness is None:
            return (self.broken,)
        return (*(r.words for r in self.fitness.reasons if not r.fit), *self.later)

    @property
    def passes(self) -> tuple[tuple[PullValue, PassFitness], ...]:
        return () if self.fitness is None else tuple(zip(self.values, self.fitness.passes, strict=True))

    def against(self, pass_number: int) -> tuple[str, ...]:
        """What stands against it in a pass, beside `whole`; each reason once."""
        words = (r.words for pull, one in self.passes if pull.pass_number == pass_number
                 for r in one.reasons if not r.fit)
        return tuple(dict.fromkeys(words))

    @property
    def passes_fit(self) -> tuple[int, ...]:
        """The passes in which it is fit for every fastener."""
        if self.whole:
            return ()
        return tuple(n for n in dict.fromkeys(p.pass_number for p in self.values) if not self.against(n))

    @property
    def refusals(self) -> tuple[str, ...]:
        """Every reason in words; () when it is fit."""
        return self.whole + tuple(
            f"{one.value.name}: {r.words}" for _, one in self.passes for r in one.reasons if not r.fit)

    @property
    def notes(self) -> tuple[str, ...]:
        """What is not known of it and therefore not judged."""
        return () if self.fitness is None else tuple(r.words for r in self.fitness.reasons if r.code in NOT_KNOWN)

    @property
    def risk(self) -> float | None:
        """Largest probability of a false acceptance over its pulls; None where one cannot be judged."""
        return None if self.fitness is None else self.fitness.risk


OF_A_PASS = ("direction", "range", "limit on use", "setting", "certificate", "uncertainty")  # reasons of single pulls
NOT_KNOWN = ("class not stated", "no points")  # codes of reasons that say what is not known


@dataclass(frozen=True, slots=True)
class Place:
    """A fit tool in the order; `reason` with the numbers that put it there."""

    place: int
    judged: Judged
    reason: str


@dataclass(frozen=True)
class Table:
    """All that was judged for a plan on a day. `fit`: the allowed tools that are fit for every pull, in the order in
    which to take them; `refused`: the other allowed ones; `not_allowed`: what would be fit, but the specification does
    not allow it, in the same order, numbered for itself."""

    joint: str
    day: date
    until: date
    values: tuple[PullValue, ...]
    fit: tuple[Place, ...]
    refused: tuple[Judged, ...]
    not_allowed: tuple[Place, ...]
    rule: str = RULE

    @property
    def allowed(self) -> tuple[Judged, ...]:
        """Every allowed tool: the fit ones in their order, then the others."""
        return (*(one.judged for one in self.fit), *self.refused)

    def of(self, serial: str) -> Judged | None:
        return next((one for one in self.allowed if one.serial == serial), None)


def in_order(judged: Sequence[Judged]) -> tuple[Place, ...]:
    """Those that are fit, in the order in which to take them."""
    fit = {id(one.fitness): one for one in judged if one.fit}
    order = ranked(one.fitness for one in fit.values() if one.fitness is not None)
    return tuple(Place(r.place, fit[id(r.fitness)], r.reason) for r in order.fit)

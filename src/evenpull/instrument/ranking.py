"""The fit tools at hand in the order in which to take them, and why in this order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from evenpull.instrument.candidate import Fitness
from evenpull.instrument.fitness import percent
from evenpull.quantities import show

SAME_RISK = 1e-4  # risks are compared in steps of 0.01 %: finer figures of a probability say nothing about tools
RULE = ("smallest probability of a false acceptance first (in steps of 0.01 %), then smallest expanded uncertainty "
        "over the window, then the setting that rounds closest to its target, then fewest parts, then most days left "
        "on the certificate, then serial")


@dataclass(frozen=True, slots=True)
class Ranked:
    """`place` from 1; `reason` with the numbers that put it there."""

    place: int
    fitness: Fitness
    reason: str


@dataclass(frozen=True, slots=True)
class Order:
    """`fit` in order, `refused` with their reasons, by name of the instrument; `rule` of the order in words."""

    fit: tuple[Ranked, ...]
    refused: tuple[Fitness, ...]
    rule: str = RULE


def ranked(candidates: Iterable[Fitness]) -> Order:
    """Order those that are fit; see RULE. The reason names the worst pass value of each."""
    found = tuple(candidates)
    fit = sorted((one for one in found if one.fit), key=_key)
    refused = sorted((one for one in found if not one.fit), key=lambda one: one.candidate.instrument.name)
    return Order(tuple(Ranked(place, one, _words(one)) for place, one in enumerate(fit, start=1)), tuple(refused))


def window_share(one: Fitness) -> float:
    """Largest expanded uncertainty (k = 2) over half the window, of the pass values that were judged: 1 means that U
    fills the window. ValueError when none was judged."""
    shares = [4 * p.u / (p.value.upper - p.value.lower) for p in one.passes
              if p.u is not None and p.value.upper > p.value.lower]
    if not shares:
        raise ValueError(f"{one.candidate.instrument.name}: no pass value was judged")
    return max(shares)


def rounding_error(one: Fitness) -> float:
    """Largest relative difference between the rounded setting's torque and the torque aimed at."""
    return max(abs(p.setting.torque / p.value.torque - 1) for p in one.passes if p.setting is not None)


def _key(one: Fitness) -> tuple[int, float, float, int, int, str]:
    assert one.risk is not None and one.days_left is not None
    return (round(one.risk / SAME_RISK), round(window_share(one), 3), round(rounding_error(one), 4),
            len(one.candidate.instrument.parts), -one.days_left, one.candidate.instrument.name)


def _words(one: Fitness) -> str:
    assert one.risk is not None
    worst = max(one.passes, key=lambda p: (p.risk or 0.0, p.u or 0.0))
    assert worst.u is not None
    return (f"probability of a false acceptance {percent(one.risk)} at most ({worst.value.name}), expanded uncertainty "
            f"{show(2 * worst.u, 'N.m', 3)} there, {100 * window_share(one):.3g} % of half the window at most; setting "
            f"within {100 * rounding_error(one):.2g} % of its target; {one.days_left} days left on the certificate")

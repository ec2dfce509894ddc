"""The procedure with the fewest pulls that reaches an evenness under limits on the way, and how far it may be from the
fewest possible."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from evenpull.ring.condensed import Patches
from evenpull.ring.model import RingModel
from evenpull.ring.search.bound import Bound, fewest_possible
from evenpull.ring.search.goal import Evaluate, Goal, Standing
from evenpull.ring.search.hunt import BudgetSpentError, Found, Hunt, Tried
from evenpull.ring.search.individual import search_individual
from evenpull.ring.search.limits import Limits, Violation, Worst, worst_states
from evenpull.ring.search.trajectory import Floats, Steps
from evenpull.ring.search.uniform import search_uniform
from evenpull.ring.stepping import Pull

BUDGET = 2000


@dataclass(frozen=True, slots=True)
class Fewest:
    """What the search found. `reached`: goal and limits are kept, on the finer model where one was given; otherwise
    this is the nearest miss and `breaches` and `standing.shortfall` say what it misses. `loads` (pulls, n) N after each
    pull, without scatter. `gap` is how many pulls fewer the proven bound leaves open; `kept` says why each limit is
    kept, in words; `cut_short`: the budget ended the search."""

    name: str
    pulls: tuple[Pull, ...]
    tools: int
    individual: bool
    reached: bool
    standing: Standing
    loads: Floats
    worst: Worst
    breaches: tuple[Violation, ...]
    kept: tuple[str, ...]
    bound: Bound
    tried: Tried
    cut_short: bool
    confirmed: bool  # on the finer model

    @property
    def gap(self) -> int:
        return len(self.pulls) - self.bound.pulls


def fewest_pulls(
    model: RingModel,
    patches: Patches,
    target: float,
    goal: Goal,
    limits: Limits,
    *,
    tools: tuple[int, ...] = (1,),
    individual: bool = True,
    patterns: Mapping[str, Steps] | None = None,
    evaluate: Evaluate | None = None,
    fine: tuple[RingModel, Patches] | None = None,
    budget: int = BUDGET,
    seed: int = 1,
    progress: Callable[[Tried], None] | None = None,
) -> Fewest:
    """Search for the fewest pulls. A pull is one step: up to `tools` bolts at the same time.

    `tools`: numbers of tools that may be used; the fewest pulls count, and of equal ones fewer tools. `individual`: a
    setting for each pull, else one setting for all pulls of a pass. `patterns`: orders of one pass, bolts from 0, that
    are tried besides the search's own. `evaluate`: final loads with scatter; the goal is then judged by them, the
    limits by the states without scatter. `fine`: a finer model (same ring) that has the last word. `budget` limits the
    procedures stepped through, for each number of tools; with the same `seed` and budget the result is the same.
    `progress` is called with the counts.

    Raises ValueError for a goal with a probability below 1 and no `evaluate`, and for limits that exclude the goal.
    """
    if evaluate is None and goal.probability < 1:
        raise ValueError(f"a goal with probability {goal.probability} needs an evaluation with scatter")
    if limits.bolt is not None and limits.bolt < goal.least * target:
        raise ValueError(
            f"the bolt limit of {limits.bolt:.0f} N is below the least load of {goal.least * target:.0f} N"
        )
    if not tools or min(tools) < 1 or max(tools) > model.n:
        raise ValueError(f"tools {tools}: each from 1 to {model.n}")
    search = search_individual if individual else search_uniform
    cut_short = False
    best: tuple[Found, int] | None = None
    hunt = Hunt(model, patches, target, goal, limits, evaluate, fine, budget, progress)
    for count in sorted(set(tools), reverse=True):
        bound = _bound(model, target, goal, limits, count)
        if best is not None and best[0].good and bound.pulls > len(best[0].pulls):
            continue
        hunt.budget = hunt.tried.stepped + budget
        try:
            for found in search(hunt, patterns or {}, count, bound.pulls, np.random.default_rng(seed)):
                if best is None or found.rank[:2] <= best[0].rank[:2]:
                    best = found, count
        except BudgetSpentError:
            cut_short = True
    if best is None:
        raise ValueError(f"a budget of {budget} stepped procedures is too small to judge a single one")
    found, count = best
    if fine is not None:  # near misses have not seen the finer model yet
        found = hunt.judge(found.name, found.pulls, fine=True)
    bounds = [_bound(model, target, goal, limits, c) for c in set(tools)]
    last, its_patches = (model, patches) if fine is None else fine
    worst = worst_states(last, its_patches, found.path)
    return Fewest(
        found.name,
        found.pulls,
        count,
        individual,
        found.good,
        found.standing,
        found.path.loads,
        worst,
        found.breaches,
        _kept(limits, worst, found),
        min(bounds, key=lambda bound: bound.pulls),
        hunt.tried,
        cut_short,
        fine is not None and found.good,
    )


def _bound(model: RingModel, target: float, goal: Goal, limits: Limits, tools: int) -> Bound:
    """With scatter the loads without scatter need not meet the goal, so that only the plain bound is claimed."""
    limit = limits.bolt if goal.probability == 1 else None
    return fewest_possible(model, target, goal.least, goal.spread, limit, tools)


def _kept(limits: Limits, worst: Worst, found: Found) -> tuple[str, ...]:
    broken = {breach.what for breach in found.breaches}
    said = []
    if limits.bolt is not None and not broken & {"setting", "bolt load"}:
        load, pull, bolt = worst.bolt_load
        said.append(f"bolt load: at most {load / 1e3:.1f} of {limits.bolt / 1e3:.1f} kN, {_at(pull, bolt)}")
    if limits.gasket_most is not None and "gasket stress" not in broken:
        stress, pull, bolt = worst.gasket_stress
        said.append(
            f"gasket stress: at most {stress / 1e6:.1f} of {limits.gasket_most / 1e6:.1f} MPa, {_at(pull, bolt)}"
        )
    if limits.gasket_least is not None and "least gasket stress" not in broken:
        stress, bolt = worst.least_gasket_stress_at_end
        least = limits.gasket_least / 1e6
        said.append(f"gasket stress at the end: at least {stress / 1e6:.1f}, asked {least:.1f} MPa, at bolt {bolt + 1}")
    if limits.tilt is not None and "flange tilt" not in broken:
        tilt, pull = worst.tilt
        said.append(f"flange tilt: at most {tilt * 1e3:.3f} of {limits.tilt * 1e3:.3f} mrad, after pull {pull + 1}")
    if limits.scale is not None and "scale" not in broken:
        said.append(f"settings: whole multiples of {limits.scale / 1e3:.2f} kN")
    if limits.kinds is not None and "settings" not in broken:
        different = len({round(load, 3) for pull in found.pulls for load in pull.loads})
        said.append(f"settings: {different} different ones, at most {limits.kinds}")
    if limits.rest and "twice running" not in broken:
        said.append("no bolt in two pulls running")
    return tuple(said)


def _at(pull: int, bolt: int) -> str:
    return f"after pull {pull + 1} at bolt {bolt + 1}"

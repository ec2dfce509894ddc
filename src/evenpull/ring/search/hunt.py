"""What every part of the search shares: following, judging, counting and the budget."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.condensed import Patches
from evenpull.ring.model import RingModel
from evenpull.ring.search.crew import simplified
from evenpull.ring.search.goal import Evaluate, Goal, Standing, stand
from evenpull.ring.search.limits import Limits, Violation, violations
from evenpull.ring.search.settings import TOLERANCE, even_settings
from evenpull.ring.search.trajectory import Steps, Trajectory, follow, settings_of, steps_of
from evenpull.ring.stepping import Pull

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Tried:
    """What a search has gone through so far."""

    orders: int = 0  # different orders, turns and mirror images counted once
    solved: int = 0  # procedures whose settings were sought
    stepped: int = 0  # procedures followed from the first pull to the last
    sampled: int = 0  # procedures evaluated with scatter
    dropped: int = 0  # pulls found redundant


@dataclass(frozen=True, slots=True)
class Found:
    """One procedure as judged; `misses` is zero when goal and limits are kept and orders those that are not."""

    name: str
    pulls: tuple[Pull, ...]
    path: Trajectory
    standing: Standing
    breaches: tuple[Violation, ...]

    @property
    def good(self) -> bool:
        return self.standing.met and not self.breaches

    @property
    def rank(self) -> tuple[float, ...]:
        """Smaller is better: good ones by pulls, then by how far up the least loaded bolt comes (up to the target, by
        hundredths), then by the highest load; others by what they miss."""
        if self.good:
            low = -min(1.0, round(self.standing.least, 2))
            return 0.0, float(len(self.pulls)), low, float(self.path.loads.max())
        over = sum(abs(b.value / b.limit - 1) for b in self.breaches)
        return 1.0, self.standing.shortfall + over, float(len(self.pulls))


class BudgetSpentError(Exception):
    """The budget of stepped procedures is used up; what has been found so far stands."""


@dataclass(slots=True)
class Hunt:
    """`budget` is in stepped procedures. `fine` is the finer model by which a procedure has to hold in the end."""

    model: RingModel
    patches: Patches
    target: float
    goal: Goal
    limits: Limits
    evaluate: Evaluate | None
    fine: tuple[RingModel, Patches] | None
    budget: int
    progress: Callable[[Tried], None] | None
    tried: Tried = field(default_factory=Tried)

    def count(self, *, orders: int = 0, solved: int = 0, stepped: int = 0, sampled: int = 0, dropped: int = 0) -> None:
        t = self.tried
        self.tried = replace(
            t,
            orders=t.orders + orders,
            solved=t.solved + solved,
            stepped=t.stepped + stepped,
            sampled=t.sampled + sampled,
            dropped=t.dropped + dropped,
        )
        if self.progress is not None:
            self.progress(self.tried)

    def check_budget(self) -> None:
        if self.tried.stepped >= self.budget:
            raise BudgetSpentError

    def judge(
        self,
        name: str,
        pulls: Sequence[Pull],
        *,
        fine: bool = False,
        known: Trajectory | None = None,
        same: int = 0,
    ) -> Found:
        """Limits by the model itself; the goal by the samples when there is scatter. `known` and `same` as in `follow`,
        of the coarser model."""
        model, patches = self.fine if fine and self.fine is not None else (self.model, self.patches)
        path = follow(model, pulls, known, same)
        breaches = violations(model, patches, pulls, self.limits, path)
        if self.evaluate is None:
            self.count(stepped=1)
            return Found(name, tuple(pulls), path, stand(path.final, self.target, self.goal), breaches)
        samples = np.asarray(self.evaluate(pulls), dtype=float)
        if samples.ndim != 2 or samples.shape[1] != model.n or len(samples) == 0:
            raise ValueError(f"the evaluation gives samples of shape {samples.shape}, not (samples, {model.n})")
        self.count(stepped=1, sampled=1)
        return Found(name, tuple(pulls), path, stand(samples, self.target, self.goal), breaches)

    def solve(
        self,
        name: str,
        steps: Steps,
        *,
        aim: float = 1.0,
        bounded: bool = True,
        first: Floats | None = None,
        fine: bool = False,
        just: bool = False,
    ) -> Found:
        """The steps with settings that come as near as they may to `aim` (of target) in every bolt, judged. `just`:
        only as near as the goal asks, which is quicker."""
        if not fine:  # what is found is confirmed even when the budget is spent
            self.check_budget()
        model = self.fine[0] if fine and self.fine is not None else self.model
        limit = self.limits.bolt if bounded else None
        near = TOLERANCE if not just else max(TOLERANCE, 1.8 * (aim - self.goal.least) / aim)
        if just and self.goal.spread is not None:
            near = max(TOLERANCE, min(near, 0.9 * self.goal.spread / aim))
        found = even_settings(
            model,
            steps,
            aim * self.target,
            limit=limit,
            first=first,
            tolerance=near,
            thorough=not just,
            rounds=15 if just else 40,
        )
        self.count(solved=1, stepped=found.runs)
        pulls = found.pulls
        if self.limits.scale is not None or self.limits.kinds is not None:
            pulls = simplified(
                model, pulls, aim * self.target, scale=self.limits.scale, kinds=self.limits.kinds, limit=limit
            )
        return self.judge(name, pulls, fine=fine)

    def confirm(self, found: Found, *, individual: bool) -> Found:
        """Judged again on the finer model; settings that miss by a little there are set anew on it."""
        if self.fine is None:
            return found
        again = self.judge(found.name, found.pulls, fine=True)
        if again.good or not individual:
            return again
        aim = float(found.path.final.mean()) / self.target
        return self.solve(found.name, steps_of(found.pulls), aim=aim, first=settings_of(found.pulls), fine=True)

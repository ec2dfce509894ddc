"""Individual settings: the load to which each pull has to bring its bolt so that all bolts end at their target.

With all other nuts locked a pull takes load from its neighbours, so what an early pull sets is not what is left at the
end. For a linear ring the final loads of one pass are F = A s; while bolts that wait for their pull carry nothing, A is
unit triangular in the order of pulls: the last pull sets its own bolt exactly, earlier ones see what later pulls take
away. A gasket law with memory and nuts that come loose make A depend on s, so it is solved in rounds:

1. s <- s + (target - F), a few times: exact for a triangular A after n rounds, and a way out of states in which a bolt
   has come loose and does not answer to a small change of its setting;
2. a linear programme on the slopes (`trajectory.slopes`, kept up to date by Broyden's rank-one formula): least largest
   deviation from the target, with every load on the way under the limit, steps held within a trust region.

Broyden's update: C. G. Broyden, Mathematics of Computation 19 (1965) 577-593 (formula from memory, not re-read).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from evenpull.ring.model import RingModel
from evenpull.ring.search.trajectory import Steps, Trajectory, check_steps, follow, pulls_of, slopes
from evenpull.ring.stepping import Pull

Floats = NDArray[np.float64]

TOLERANCE = 0.002  # of target: what the search itself calls even
_LEAST = 0.02  # of target: no pull is set below that
_MOST = 20.0  # times target: beyond it a setting is no setting
_NUDGE = 2e-3  # of target
_LEVELLING = 1e-3  # how much a lower highest load counts beside a smaller deviation
_STAGES = 4  # in which a limit is approached from above
_OVER = 10.0  # how much a load over the limit counts beside a deviation


@dataclass(frozen=True, slots=True)
class Settings:
    """Settings found for one procedure. `loads` (steps, n) N after each step; `deviation` is the largest
    |F / target - 1| at the end, `spread` (max - min) / target; `highest` the highest load of any bolt in any state (N);
    `needed` what `highest` comes to when the limit is left out (None when even then the search finds no even loads);
    `runs` how many procedures were stepped through to find it."""

    pulls: tuple[Pull, ...]
    loads: Floats
    target: float
    limit: float | None
    deviation: float
    spread: float
    highest: float
    needed: float | None
    runs: int

    @property
    def final(self) -> Floats:
        return np.asarray(self.loads[-1])

    @property
    def within_limit(self) -> bool:
        return self.limit is None or self.highest <= self.limit * (1 + 1e-6)

    @property
    def settings(self) -> Floats:
        return np.array([load for pull in self.pulls for load in pull.loads])


def even_settings(
    model: RingModel,
    steps: Steps,
    target: float,
    *,
    limit: float | None = None,
    first: Floats | None = None,
    tolerance: float = TOLERANCE,
    rounds: int = 40,
    thorough: bool = True,
) -> Settings:
    """Settings (N) for `steps` that bring every bolt to `target` (N), as nearly as `limit` (N) lets it.

    `limit` holds for every bolt in every state, and so for every setting. `first` (one for each pull of a bolt) is
    where the search starts, default the target itself; it stops where every bolt is within half the `tolerance`
    (of target). Where the limit forbids that, the search without `thorough` is a third as long, does not find out what
    would be `needed` and may miss settings that are nearer. The nearest found is returned, even or not: look at
    `deviation`. Deterministic. Raises ValueError for steps that do not fit the ring, for a bolt that is never pulled
    and for a limit below the target.
    """
    check_steps(steps, model.n)
    missing = set(range(model.n)) - {bolt for bolts in steps for bolt in bolts}
    if missing:
        raise ValueError(f"bolt {min(missing)} is never pulled, so no setting brings it to the target")
    if not target > 0:
        raise ValueError(f"a target of {target} N: it has to be above zero")
    if limit is not None and limit < target:
        raise ValueError(f"the limit of {limit:.0f} N lies below the target of {target:.0f} N")
    search = _Search(model, steps, target, tolerance)
    x = np.ones(search.size) if first is None else np.asarray(first, dtype=float) / target
    x = np.clip(x, _LEAST, _MOST if limit is None else limit / target)
    search.cap = None if limit is None else limit / target
    found = search.by_programme(search.by_correction(x), rounds)
    if search.even(found[1]) and search.keeps_cap(found[1]):
        return _result(search, found, limit, float(found[1].loads.max()))
    if limit is None or not thorough:
        return _result(search, found, limit, None)
    search.cap = None
    free = search.by_programme(search.by_correction(x), rounds)
    needed = float(free[1].loads.max()) if search.even(free[1]) else None
    other = search.lowered(free, limit / target, rounds)
    return _result(search, min(found, other, key=lambda one: search.merit(one[1])), limit, needed)


def corrected_settings(
    model: RingModel, steps: Steps, target: float, first: Floats, limit: float | None = None
) -> Settings:
    """Only the first part of the search: each bolt's last pull raised by what the bolt is short of, up to `limit` (N).

    Unlike the nearest even settings, this leaves the bolts that the limit does not hold back at the target and shows
    which ones it does. `first` (N) as in `even_settings`, and the same errors.
    """
    check_steps(steps, model.n)
    search = _Search(model, steps, target, TOLERANCE)
    search.cap = None if limit is None else limit / target
    return _result(search, search.settled(np.clip(first / target, _LEAST, search.most)), limit, None)


Found = tuple[Floats, Trajectory]


class _Search:
    """Everything in units of the target. `cap` is the highest load allowed on the way."""

    def __init__(self, model: RingModel, steps: Steps, target: float, tolerance: float) -> None:
        self.model, self.steps, self.target, self.tolerance = model, steps, target, tolerance
        self.cap: float | None = None
        bolts = np.array([bolt for step in steps for bolt in step])
        self.bolts, self.size = bolts, len(bolts)
        self.last = np.array([at for at in range(self.size) if bolts[at] not in bolts[at + 1 :]])
        self.runs = 0

    @property
    def most(self) -> float:
        return _MOST if self.cap is None else self.cap

    def even(self, path: Trajectory) -> bool:
        return _deviation(path.loads / self.target) <= self.tolerance

    def keeps_cap(self, path: Trajectory) -> bool:
        return self.cap is None or bool(path.loads.max() <= self.cap * self.target * (1 + 1e-6))

    def lowered(self, found: Found, cap: float, rounds: int) -> Found:
        """From settings that ask for more than the limit down to it by and by, so that no bolt comes loose at once."""
        high = max(cap, float(found[1].loads.max()) / self.target)
        for share in np.linspace(0.0, 1.0, _STAGES + 1)[1:]:
            self.cap = float(high * (cap / high) ** share)
            found = self.by_programme(found[0], rounds)
        return found

    def walk(self, x: Floats) -> Trajectory:
        self.runs += 1
        return follow(self.model, pulls_of(self.steps, x * self.target))

    def merit(self, path: Trajectory) -> float:
        loads = path.loads / self.target
        over = 0.0 if self.cap is None else max(0.0, float(loads.max()) - self.cap)
        return max(_deviation(loads), self.tolerance / 2) + _LEVELLING * float(loads.max()) + _OVER * over

    def by_correction(self, x: Floats) -> Floats:
        """Each bolt's last pull corrected by what its bolt is short of at the end."""
        best, best_merit = x, np.inf
        worse = 0
        for _ in range(10):
            path = self.walk(x)
            merit = self.merit(path)
            worse = 0 if merit < best_merit else worse + 1
            if merit < best_merit:
                best, best_merit = x, merit
            if worse == 2 or _deviation(path.loads / self.target) <= self.tolerance / 2:
                break
            short = 1.0 - path.final / self.target
            x = x.copy()
            x[self.last] = np.clip(x[self.last] + short[self.bolts[self.last]], _LEAST, self.most)
        return best

    def settled(self, x: Floats) -> Found:
        """The same, however far some bolts stay away: until the settings move no more."""
        for _ in range(12):
            path = self.walk(x)
            short = 1.0 - path.final / self.target
            move = np.clip(x[self.last] + short[self.bolts[self.last]], _LEAST, self.most) - x[self.last]
            if np.abs(move).max() < self.tolerance:
                break
            x = x.copy()
            x[self.last] += move
        return x, path

    def by_programme(self, x: Floats, rounds: int) -> Found:
        path = self.walk(x)
        merit = self.merit(path)
        J: Floats | None = None
        fresh = False
        reach = 0.5
        for _ in range(rounds):
            if _deviation(path.loads / self.target) <= self.tolerance / 2 and self.keeps_cap(path):
                break
            if J is None:
                J, fresh = self.slopes(x, path), True
            move, foreseen = self.programme(x, path, J, reach)
            if merit - foreseen < 1e-3 * self.tolerance:
                if fresh:
                    break
                J = None
                continue
            trial = self.walk(x + move)
            there = self.merit(trial)
            J = J + np.multiply.outer(move, (trial.loads - path.loads) / self.target - _along(move, J)) / (move @ move)
            gain = (merit - there) / (merit - foreseen)
            if gain > 0.05:
                x, path, merit, fresh = x + move, trial, there, False
                reach = min(2.0, 2 * reach) if gain > 0.6 else reach
            elif fresh:
                reach = 0.3 * float(np.abs(move).max())
                if reach < 1e-4:
                    break
            if gain < 0.3 and not fresh:
                J = None
        return x, path

    def slopes(self, x: Floats, path: Trajectory) -> Floats:
        """(settings, steps, n). A bolt that is loose at the end does not answer to its last pull until that is high
        enough: it is taken to answer one for one, as if it were locked."""
        pulls = pulls_of(self.steps, x * self.target)
        J = slopes(self.model, pulls, path, _NUDGE * self.target)
        self.runs += (self.size + 1) // 2
        for at in self.last:
            if path.final[self.bolts[at]] == 0.0:
                J[at, -1, self.bolts[at]] = 1.0
        return J

    def programme(self, x: Floats, path: Trajectory, J: Floats, reach: float) -> tuple[Floats, float]:
        """The move (settings,) with the least foreseen merit, and that merit. Unknowns: moves, deviation, highest
        load, and by how much the limit is passed."""
        m, n = self.size, self.model.n
        loads = path.loads / self.target
        final = J[:, -1, :].T
        high = loads > 0.6 * loads.max()
        rows = J.transpose(1, 2, 0)[high]
        A = np.block(
            [
                [final, -np.ones((n, 1)), np.zeros((n, 2))],
                [-final, -np.ones((n, 1)), np.zeros((n, 2))],
                [rows, np.zeros((len(rows), 1)), -np.ones((len(rows), 1)), np.zeros((len(rows), 1))],
                [np.zeros((1, m + 1)), np.ones((1, 1)), -np.ones((1, 1))],
            ]
        )
        b = np.concatenate([1 - loads[-1], loads[-1] - 1, -loads[high], [self.most]])
        bounds = [(max(-reach, min(0.0, _LEAST - v)), min(reach, max(0.0, self.most - v))) for v in x]
        cost = np.concatenate([np.zeros(m), [1.0, _LEVELLING, 0.0 if self.cap is None else _OVER]])
        answer = linprog(cost, A_ub=A, b_ub=b, bounds=[*bounds, (self.tolerance / 2, None), (0, None), (0, None)])
        if not answer.success:
            raise RuntimeError(f"the linear programme for the settings failed: {answer.message}")
        return np.asarray(answer.x[:m]), float(answer.fun)


def _along(move: Floats, J: Floats) -> Floats:
    return np.asarray(np.tensordot(move, J, axes=1))


def _deviation(loads: Floats) -> float:
    return float(np.abs(loads[-1] - 1).max())


def _result(search: _Search, found: Found, limit: float | None, needed: float | None) -> Settings:
    x, path = found
    final = path.final / search.target
    return Settings(
        pulls_of(search.steps, x * search.target),
        path.loads,
        search.target,
        limit,
        _deviation(path.loads / search.target),
        float(final.max() - final.min()),
        float(path.loads.max()),
        needed,
        search.runs,
    )


def even_in_passes(
    model: RingModel, order: Steps, target: float, *, limit: float | None = None, most: int = 2
) -> tuple[Settings, ...]:
    """One pass of `order` with individual settings; where `limit` (N) keeps that from being even, two, up to `most`.

    All that was tried is returned, the last one is the one to use; each earlier one says by how much it falls short
    (`deviation`) and what it would have needed (`needed`). Errors as `even_settings`.
    """
    found = [even_settings(model, order, target, limit=limit)]
    while found[-1].deviation > TOLERANCE and len(found) < most:
        again = np.full(sum(map(len, order)), target)
        first = np.concatenate([found[-1].settings, again])
        found.append(even_settings(model, order * (len(found) + 1), target, limit=limit, first=first))
    return tuple(found)

"""Below how many pulls no procedure can get, with proof.

Class of procedures: every bolt is pulled at least once, at most `tools` bolts in a pull, pulls only tighten (a bolt
found above its setting is left alone), no nut is slackened. Then at least ceil(n / tools) pulls are needed. More is
claimed for a linear gasket law and one limit for the load of every bolt in every state, and only what follows here.

Linear law. Loads F (n,) and nut travels t (n,) are tied by the compliance C = S^-1, symmetric and positive definite,
S the stiffness with all nuts in contact. Nuts only push: after each pull F is the unique least of F'CF/2 - t'F over
F >= 0, with t_j the travel of each nut so far (0: never pulled). Hence F'CF = t'F, and for every G >= 0:
t'F = 2 t'F - F'CF >= 2 t'G - G'CG.

Suppose the goal is met: every final load lies between a (at least least * target) and a + w, and none above the limit;
w is the spread asked for, or what the limit leaves. Then no nut is loose at the end, t = C F, and each final travel is
    at least  t_low = a sum_j C_ij + w sum_j min(C_ij, 0),
    at most   t_high = a sum_j min(C_ij, 0) + limit sum_j max(C_ij, 0),
both with a = least * target: a higher a and what it leaves for w only raise the first, as long as sum_j C_ij > 0.

A bolt that is pulled once only has its final travel from that pull on: locked nuts do not turn, loose ones neither.
Look at the state after the first pull of such a bolt. Let X be the set of bolts pulled so far; outside X travels are
zero. With f the highest load in that state, f sum_X t_j >= t'F >= q(t) = max over G >= 0 on X of 2 t'G - G'CG, so
    f >= q(t) / sum_X t_j.
q is the square of a convex, positively homogeneous function that is not negative, so q(t) / sum t is convex.

One tool: a pull can only lengthen its nut's travel, so travels of the bolts in X that are pulled again later lie
between 0 and their final ones. With at most r bolts pulled more than once, X holds one bolt with t in [t_low, t_high]
and at most r with t in [0, t_high]. Let beta(r) be the least of the convex function over that box and over all X. If
beta(r) is above the limit, at least r + 1 bolts are pulled more than once: n + r + 1 pulls.
Several tools: if no bolt is pulled more than once, X is the first step, all with t in [t_low, t_high]; if the least
over all X of at most `tools` bolts is above the limit, at least n + 1 single pulls are made, in
ceil((n + 1) / tools) steps.

The least over a box is not left to a minimiser: at the point where it stops, convexity gives the bound
phi(t) + sum_j min over the box of (slope_j)(t_j - t*_j), which holds wherever it stopped.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize, nnls

from evenpull.ring.laws import LinearLaw
from evenpull.ring.model import RingModel

Floats = NDArray[np.float64]
_MOST_SETS = 4000  # sets X looked through for one r
_MOST_REPEATED = 3
_SAFE = 1e-5  # relative: what rounding, and the rounding allowed to a limit, may do to a bound


@dataclass(frozen=True, slots=True)
class Bound:
    """At least `pulls` pulls; `why` says what it rests on. `first_pull` is the proven least highest load (N) with no
    bolt pulled twice, None where nothing is claimed."""

    pulls: int
    why: str
    first_pull: float | None = None


def compliance(model: RingModel) -> Floats:
    """(n, n) m/N: nut travels for bolt loads with all nuts in contact. Raises ValueError when the law is not linear."""
    if not isinstance(model.law, LinearLaw):
        raise ValueError("a gasket whose stiffness changes has no one compliance")
    r = model.modes
    K = model.B + model.law.stiffness * (model.Y.T * model.areas) @ model.Y
    S = K[r:, r:] - K[r:, :r] @ np.linalg.solve(K[:r, :r], K[:r, r:])
    C = np.linalg.inv(S)
    return np.asarray(0.5 * (C + C.T))


def fewest_possible(
    model: RingModel, target: float, least: float, spread: float | None, limit: float | None, tools: int = 1
) -> Bound:
    """Lower bound of the pulls for final loads of at least `least` (of target) with (max - min) / target <= `spread`
    and no load on the way above `limit` (N). See the module for class and proof."""
    n = model.n
    if not 1 <= tools <= n:
        raise ValueError(f"{tools} tools at once: 1 to {n} can work on {n} bolts")
    plain = Bound(-(-n // tools), f"every bolt is pulled at least once: {n} bolts, {tools} at a time")
    if limit is None or least * target >= limit or not isinstance(model.law, LinearLaw):
        return plain
    C = compliance(model)
    a = least * target
    w = limit - a if spread is None else min(limit - a, spread * target)
    rows = C[0]
    if rows.sum() <= 0:
        return plain
    low = float(a * rows.sum() + w * np.minimum(rows, 0).sum())
    high = float(a * np.minimum(rows, 0).sum() + limit * np.maximum(rows, 0).sum())
    if low <= 0:
        return plain
    first = _least_highest(C, low, high, tools - 1, low)
    if first is None or first <= limit:
        return Bound(plain.pulls, plain.why, first)
    repeated = 1
    if tools == 1:
        while repeated <= _MOST_REPEATED:
            more = _least_highest(C, low, high, repeated, 0.0)
            if more is None or more <= limit:
                break
            repeated += 1
    why = (
        f"{n} bolts, {tools} at a time, and at least {repeated} of them twice: the first bolt to get its final travel "
        f"would else carry {first / limit:.3f} of the limit whatever the order"
        if repeated == 1
        else f"{n} bolts and at least {repeated} of them twice: with fewer, some bolt passes the limit in any order"
    )
    return Bound(-(-(n + repeated) // tools), why, first)


def _least_highest(C: Floats, low: float, high: float, others: int, others_low: float) -> float | None:
    """Proven least of the highest load over all X: bolt 0 (any bolt, by symmetry) with travel in [low, high] and up to
    `others` more in [others_low, high]. None when there are too many sets to look through."""
    n = len(C)
    sets = [X for size in range(others + 1) for X in combinations(range(1, n), size) if _first_of_mirror(X, n)]
    if others_low == 0.0:  # a bolt at zero travel is one that is left out
        sets = [X for X in sets if len(X) == others]
    if len(sets) > _MOST_SETS:
        return None
    return min(_over_box(C[np.ix_((0, *X), (0, *X))], low, high, others_low) for X in sets) * (1 - _SAFE)


def _first_of_mirror(X: tuple[int, ...], n: int) -> bool:
    return tuple(sorted(n - x for x in X)) >= X


def _over_box(C: Floats, low: float, high: float, others_low: float) -> float:
    """Least of q(t) / sum t over the box, from below."""
    size = len(C)
    bottom = np.array([low] + [others_low] * (size - 1))
    root = np.linalg.cholesky(C).T

    def value(t: Floats) -> tuple[float, Floats]:
        G, _ = nnls(root, np.linalg.solve(root.T, t))
        q = float(2 * t @ G - G @ C @ G)
        total = float(t.sum())
        return q / total, np.asarray((2 * G - q / total) / total)

    def scaled(u: Floats) -> tuple[float, Floats]:
        f, g = value(low * u)
        return f, low * g

    start = np.clip(np.full(size, low), bottom, high) / low
    answer = minimize(scaled, start, jac=True, method="L-BFGS-B", bounds=[(b / low, high / low) for b in bottom])
    best = -np.inf
    for t in (np.asarray(answer.x) * low, start * low):
        f, slope = value(t)
        best = max(best, f + float(np.minimum(slope * (bottom - t), slope * (high - t)).sum()))
    return best

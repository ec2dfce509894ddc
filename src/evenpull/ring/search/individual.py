"""Search among procedures in which every pull has its own setting.

One pass first: the order that asks least of the bolts, then small changes of it. Where a limit forbids one pass, pulls
are added only where bolts stay low, and each pull whose removal still keeps goal and limits (all settings sought anew)
is dropped again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from evenpull.ring.laws import LinearLaw
from evenpull.ring.search.bound import compliance, fewest_possible
from evenpull.ring.search.candidates import canonical, changed, of_tools, usual_orders
from evenpull.ring.search.gentlest import gentlest_order
from evenpull.ring.search.hunt import BudgetSpentError, Found, Hunt
from evenpull.ring.search.settings import corrected_settings
from evenpull.ring.search.trajectory import Steps, settings_of, steps_of

_BASES = 3  # orders of one pass that are carried on with
_CHANGES = 40  # small changes of an order that are tried
_MOST_PASSES = 3
_REDUCED = 0.4  # of target: the pass that comes before where a gasket or tilt limit forbids full pulls at once


def search_individual(
    hunt: Hunt, patterns: Mapping[str, Steps], tools: int, bound: int, rng: np.random.Generator
) -> Iterator[Found]:
    """Procedures that may be the best, confirmed on the finer model, good ones and nearest misses. Stops when one
    reaches `bound`."""
    aims = sorted({1.0, hunt.goal.middle}, reverse=True)
    possible = _one_pass_may_do(hunt, tools, bound)
    ranked = _one_pass(hunt, patterns, tools, rng if possible else None)
    for found in ranked[:_BASES]:
        if found.good:
            for aim in sorted(aims, key=lambda aim: abs(aim - 1.0)):  # the target itself where the limits allow it
                at = found if aim == hunt.goal.middle else hunt.solve(found.name, steps_of(found.pulls), aim=aim)
                confirmed = hunt.confirm(at, individual=True) if at.good else at
                yield confirmed
                if confirmed.good:
                    return  # each bolt pulled once: nothing can be dropped
    best = ranked[:_BASES]
    for found in best if possible else []:
        for aim in aims:
            bounded = hunt.solve(found.name, steps_of(found.pulls), aim=aim)
            confirmed = hunt.confirm(bounded, individual=True) if bounded.good else bounded
            yield confirmed
            if confirmed.good:
                return
    for found in best:
        more = _with_more_pulls(hunt, found, tools, aims[-1])
        if more is None:
            continue
        if more.good:
            more = _thinned(hunt, more, bound, aims[-1])
            more = hunt.confirm(more, individual=True)
        yield more
        if more.good and len(more.pulls) <= bound:
            return


def _one_pass(hunt: Hunt, patterns: Mapping[str, Steps], tools: int, rng: np.random.Generator | None) -> list[Found]:
    """Orders with the settings they need, whatever the limit: the least highest load first. Without `rng` no small
    changes are tried."""
    n = hunt.model.n
    named = {**of_tools(patterns, n, tools), **usual_orders(n, tools)}
    gentle = gentlest_order(compliance(replace(hunt.model, law=_as_linear(hunt))), hunt.target, tools)
    if gentle is not None:
        named["least load on the way"] = gentle.steps
    aim = hunt.goal.middle
    seen: dict[Steps, Found] = {}

    def tried(name: str, steps: Steps) -> Found:
        key = canonical(steps, n)
        if key not in seen:
            seen[key] = hunt.solve(name, steps, aim=aim, bounded=False)
            hunt.count(orders=1)
        return seen[key]

    def order(found: Found) -> tuple[float, ...]:
        if found.good:
            return found.rank
        return 1.0, found.standing.shortfall + max(0.0, float(found.path.loads.max()) / hunt.target)

    for name, steps in named.items():
        tried(name, steps)
    best = min(seen.values(), key=order)
    if rng is not None and not best.good and n > 3:
        for number, steps in enumerate(changed(steps_of(best.pulls), rng)):
            if number == _CHANGES:
                break
            trial = tried(f"{best.name}, changed", steps)
            if trial.good:
                break
    return sorted(seen.values(), key=order)


def _one_pass_may_do(hunt: Hunt, tools: int, bound: int) -> bool:
    """No where it is proven, nor where the proof for the secant law says no: that one steers the search, no claim."""
    plain = -(-hunt.model.n // tools)
    if bound > plain or hunt.evaluate is not None:
        return bound <= plain
    linear, goal = replace(hunt.model, law=_as_linear(hunt)), hunt.goal
    return fewest_possible(linear, hunt.target, goal.least, goal.spread, hunt.limits.bolt, tools).pulls <= plain


def _as_linear(hunt: Hunt) -> LinearLaw:
    """The law itself when linear, else the secant at the mean pressure of the target loads on the loading curve."""
    law = hunt.model.law
    if isinstance(law, LinearLaw):
        return law
    mean = hunt.model.n * hunt.target / float(hunt.model.areas.sum())
    at = np.array([w for w, _ in law.curve])
    pressures = np.array([p for _, p in law.curve])
    last = (pressures[-1] - pressures[-2]) / (at[-1] - at[-2])
    w = np.interp(mean, pressures, at) if mean <= pressures[-1] else at[-1] + (mean - pressures[-1]) / last
    return LinearLaw(float(mean / w))


def _with_more_pulls(hunt: Hunt, found: Found, tools: int, aim: float) -> Found | None:
    """The order with pulls added at its end for the bolts that stay low, then whole passes; a pass at reduced loads
    before it where gasket stress or tilt is what forbids it."""
    steps = steps_of(found.pulls)
    first = np.minimum(settings_of(found.pulls), hunt.limits.bolt or np.inf)
    best: Found | None = None
    if any(breach.what in ("gasket stress", "flange tilt") for breach in found.breaches):
        best = hunt.solve(
            f"{found.name}, after a pass at reduced loads",
            steps * 2,
            aim=aim,
            first=np.concatenate([np.full(len(first), _REDUCED * hunt.target), np.full(len(first), hunt.target)]),
        )
        if best.good:
            return best
    whole = hunt.model.n
    extra: Steps = ()
    while len(extra) * tools <= whole:
        low = _low_bolts(hunt, steps + extra, first, aim)
        again = [bolt for bolt in low if not extra or bolt not in extra[-1]]
        if not again:
            break
        more = tuple(tuple(again[at : at + tools]) for at in range(0, len(again), tools))
        extra += more
        first = np.concatenate([first, np.full(len(again), aim * hunt.target)])
        name = f"{found.name}, then the bolts that stay low"
        trial = hunt.solve(name, steps + extra, aim=aim, first=first, just=True)
        first = settings_of(trial.pulls)
        best = trial if best is None or trial.rank < best.rank else best
        if trial.good:
            return trial
    for passes in range(2, _MOST_PASSES + 1):
        trial = hunt.solve(f"{found.name}, {passes} passes", steps * passes, aim=aim)
        best = trial if best is None or trial.rank < best.rank else best
        if trial.good:
            return trial
    return best


def _low_bolts(hunt: Hunt, steps: Steps, first: np.ndarray, aim: float) -> list[int]:
    """Bolts that stay below the goal when every setting goes as high as needed and allowed: lowest first."""
    path = corrected_settings(hunt.model, steps, aim * hunt.target, first, hunt.limits.bolt)
    hunt.count(stepped=path.runs)
    final = path.final / hunt.target
    floor = max(hunt.goal.least, 0.0 if hunt.goal.spread is None else float(final.max()) - hunt.goal.spread)
    low = [int(bolt) for bolt in np.argsort(final, kind="stable") if final[bolt] < floor - 1e-9]
    return low or [int(np.argmin(final))]


def _thinned(hunt: Hunt, found: Found, bound: int, aim: float) -> Found:
    """Pulls dropped one after the other, last ones first, as long as goal and limits are kept with the settings sought
    anew. What has been dropped until the budget is spent stays dropped."""
    try:
        for number in reversed(range(len(found.pulls))):
            pulls = found.pulls[:number] + found.pulls[number + 1 :]
            if len(found.pulls) <= bound or {b for pull in pulls for b in pull.bolts} != set(range(hunt.model.n)):
                continue  # every bolt is pulled at least once
            trial = hunt.judge(found.name, pulls, known=found.path, same=number)
            if not trial.good:
                trial = hunt.solve(found.name, steps_of(pulls), aim=aim, first=settings_of(pulls), just=True)
            if trial.good:
                hunt.count(dropped=1)
                found = trial
        evened = hunt.solve(found.name, steps_of(found.pulls), aim=aim, first=settings_of(found.pulls))
    except BudgetSpentError:
        return found
    return evened if evened.good else found

"""Search among procedures in which all pulls of a pass have the same setting.

Orders and settings of the passes are tried out, pass by pass until the goal is met; then pulls that do nothing are
dropped, and after them every pull without which goal and limits are still kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from evenpull.ring.search.candidates import canonical, of_tools, usual_orders
from evenpull.ring.search.hunt import Found, Hunt
from evenpull.ring.search.trajectory import Steps
from evenpull.ring.stepping import Pull

_MOST_PASSES = 6
_BASES = 3


def search_uniform(
    hunt: Hunt, patterns: Mapping[str, Steps], tools: int, bound: int, rng: np.random.Generator
) -> Iterator[Found]:
    """Procedures that may be the best, confirmed on the finer model. `rng` plays no part: nothing is left to chance."""
    found = sorted(_whole_passes(hunt, patterns, tools), key=lambda one: one.rank)
    for one in found[:_BASES]:
        if not one.good:
            yield one
            continue
        yield hunt.confirm(thinned(hunt, one, bound), individual=False)


def _whole_passes(hunt: Hunt, patterns: Mapping[str, Steps], tools: int) -> list[Found]:
    n = hunt.model.n
    orders: dict[Steps, tuple[str, Steps]] = {}
    for name, steps in {**of_tools(patterns, n, tools), **usual_orders(n, tools)}.items():
        orders.setdefault(canonical(steps, n), (name, steps))
    hunt.count(orders=len(orders))
    round_the_ring = usual_orders(n, tools)["round the ring"]
    found = []
    fewest = _MOST_PASSES
    for name, steps in orders.values():
        for levels in _levels(hunt):
            best: Found | None = None
            trial: Found | None = None
            pulls: list[Pull] = []
            for number in range(fewest):  # no more passes than have been enough before
                hunt.check_budget()
                level = levels[min(number, len(levels) - 1)]
                this = steps if number < len(levels) else round_the_ring
                pulls += [Pull(step, (level * hunt.target,) * len(step)) for step in this]
                passes = "one pass" if number == 0 else f"{number + 1} passes"
                path, before = (None, 0) if trial is None else (trial.path, len(trial.pulls))
                trial = hunt.judge(f"{name}, {passes}", pulls, known=path, same=before)
                best = trial if best is None or trial.rank < best.rank else best
                fewest = number + 1 if trial.good else fewest
                if trial.good or any(b.what in ("setting", "settings", "scale") for b in trial.breaches):
                    break
            if best is not None:
                found.append(best)
    return found


def _levels(hunt: Hunt) -> list[tuple[float, ...]]:
    """Settings of the passes, of target; the last one is used for all passes that follow, which go round the ring."""
    most = 1.6 if hunt.limits.bolt is None else hunt.limits.bolt / hunt.target
    ends = sorted({1.0, min(1.0 + (0.0 if hunt.goal.spread is None else hunt.goal.spread / 4), most), hunt.goal.middle})
    levels: list[tuple[float, ...]] = []
    for end in sorted(ends, key=lambda end: abs(end - 1.0)):  # the target itself first
        levels += [(end,), (0.3, 0.7, end), (0.5, end)]
        levels += [(high, end) for high in (1.1, 1.2, 1.35, 1.5) if end < high <= most]
    if hunt.limits.scale is None:
        return levels
    step = hunt.limits.scale / hunt.target
    whole = [tuple(max(1, int(np.floor(level / step + 1e-9))) * step for level in one) for one in levels]
    return list(dict.fromkeys(whole))


def thinned(hunt: Hunt, found: Found, bound: int) -> Found:
    """Without the pulls that do nothing, then without each whose removal keeps goal and limits; last pulls first, and
    again from the last after each that could go. Settings stay as they are."""
    idle = [number for number in range(len(found.pulls)) if found.path.states[number + 1] is found.path.states[number]]
    for number in reversed(idle):
        found = _without(hunt, found, number) or found
    again = True
    while again and len(found.pulls) > bound:
        again = False
        for number in reversed(range(len(found.pulls))):
            hunt.check_budget()
            trial = _without(hunt, found, number)
            if trial is not None:
                found, again = trial, True
                break
    return found


def _without(hunt: Hunt, found: Found, number: int) -> Found | None:
    pulls = found.pulls[:number] + found.pulls[number + 1 :]
    if {bolt for pull in pulls for bolt in pull.bolts} != set(range(hunt.model.n)):
        return None  # every bolt is pulled at least once
    trial = hunt.judge(found.name, pulls, known=found.path, same=number)
    if not trial.good:
        return None
    hunt.count(dropped=1)
    return trial

"""Settings a crew can follow: on the steps of the tool's scale, and few different ones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel
from evenpull.ring.search.trajectory import pulls_of, settings_of, steps_of
from evenpull.ring.stepping import Pull, run

Floats = NDArray[np.float64]
_ROUNDS = 6


def on_scale(settings: Floats, scale: float, limit: float | None = None) -> Floats:
    """Each setting (N) at its nearest multiple of `scale` (N), at least one of them and none above `limit` (N).

    Raises ValueError when the limit lies below one step of the scale.
    """
    if limit is not None and limit < scale:
        raise ValueError(f"one step of the scale is {scale:.0f} N, the limit {limit:.0f} N: no setting is left")
    most = np.inf if limit is None else np.floor(limit / scale * (1 + 1e-9))
    return np.asarray(np.clip(np.round(settings / scale), 1, most) * scale)


def in_kinds(settings: Floats, kinds: int) -> NDArray[np.int64]:
    """(settings,) number of the group of each when they are put into at most `kinds` groups of neighbouring values with
    the least sum of squared distances from the group's mean: exact, by dynamic programming over the sorted values."""
    values = np.sort(np.unique(settings))
    weights = np.array([(settings == value).sum() for value in values], dtype=float)
    kinds = min(kinds, len(values))
    w = np.concatenate([[0.0], np.cumsum(weights)])
    a = np.concatenate([[0.0], np.cumsum(weights * values)])
    b = np.concatenate([[0.0], np.cumsum(weights * values**2)])

    def cost(first: int, end: int) -> float:
        return float(b[end] - b[first] - (a[end] - a[first]) ** 2 / (w[end] - w[first]))

    count = len(values)
    least = np.full((kinds + 1, count + 1), np.inf)
    cut = np.zeros((kinds + 1, count + 1), dtype=int)
    least[0, 0] = 0.0
    for k in range(1, kinds + 1):
        for end in range(k, count + 1):
            options = [least[k - 1, first] + cost(first, end) for first in range(k - 1, end)]
            best = int(np.argmin(options))
            least[k, end], cut[k, end] = options[best], best + k - 1
    group_of = np.zeros(count, dtype=np.int64)
    end = count
    for k in range(kinds, 0, -1):
        first = cut[k, end]
        group_of[first:end] = k - 1
        end = first
    return np.asarray(group_of[np.searchsorted(values, settings)])


def simplified(
    model: RingModel,
    pulls: Sequence[Pull],
    target: float,
    *,
    scale: float | None = None,
    kinds: int | None = None,
    limit: float | None = None,
) -> tuple[Pull, ...]:
    """The same pulls with settings on a scale of `scale` (N) and at most `kinds` different ones, none above `limit`.

    Pulls with neighbouring settings share one; then each shared setting is moved up and down as long as the largest
    deviation from the target (N) at the end gets smaller and no load on the way passes the limit. How even the result
    is has to be looked at: it is not promised.
    """
    steps, settings = steps_of(pulls), settings_of(pulls)
    group = in_kinds(settings, len(settings) if kinds is None else kinds)
    shared = np.array([settings[group == g].mean() for g in range(int(group.max()) + 1)])
    size = 0.01 * target if scale is None else scale

    def allowed(values: Floats) -> Floats:
        if scale is not None:
            return on_scale(values, scale, limit)
        return np.asarray(values if limit is None else np.minimum(values, limit))

    def worth(values: Floats) -> float:
        loads, _ = run(model, pulls_of(steps, values[group]))
        over = 0.0 if limit is None else max(0.0, float(loads.max()) - limit)
        return float(np.abs(loads[-1] - target).max() + 10 * over)

    shared = allowed(shared)
    here = worth(shared)
    for _ in range(_ROUNDS):
        before = here
        for g in range(len(shared)):
            for move in (size, -size):
                trial = shared.copy()
                trial[g] += move
                trial = allowed(trial)
                there = worth(trial) if trial[g] > 0 and not np.array_equal(trial, shared) else np.inf
                if there < here:
                    shared, here = trial, there
                    break
        if here == before:
            if scale is not None or size < 0.002 * target:
                break
            size /= 2
    return pulls_of(steps, shared[group])

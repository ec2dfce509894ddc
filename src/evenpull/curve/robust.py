"""Small robust statistics inside compiled code: median, spread, a line that single points cannot pull away.

All of them take at most `MOST` values and change nothing they are given but the rows of `desk`, room to work in that
is made once for many curves (`desk()`).
"""

from __future__ import annotations

import math

import numpy as np

from evenpull.curve.columns import Floats
from evenpull.curve.compiled import kernel

MOST = 64  # points a robust line takes; a longer stretch is thinned evenly
_NORMAL = 1.4826  # sigma of a normal distribution over its median absolute deviation
_TUKEY = 4.685  # cut of the bisquare weights in sigma: 95 % efficient on normal scatter (Mosteller, Tukey; from memory)


@kernel
def desk() -> Floats:
    """Room for one thread: rows for x, y, weights, residuals, and two for what is below and above a median."""
    return np.empty((6, MOST))


@kernel
def middle(values: Floats, n: int, desk: Floats) -> float:
    """Median of the first n values by selection, O(n); nan for none. The upper of both middle ones where n is even.

    Every value is written to both sides and only the counts differ: no branch hangs on a value, which no processor
    could guess. `values` may be the fifth row of the desk itself.
    """
    if n == 0:
        return math.nan
    below, above = desk[4], desk[5]
    left, k = values, n // 2
    while True:
        one, two, three = left[0], left[n // 2], left[n - 1]
        pivot = max(min(one, two), min(max(one, two), three))
        less = more = 0
        for i in range(n):
            value = left[i]
            below[less] = value
            less += value < pivot
            above[more] = value
            more += value > pivot
        if k < less:
            left, n = below, less
        elif k >= n - more:
            k -= n - more
            left, n = above, more
        else:
            return float(pivot + 0.0)  # -0.0 and 0.0 are one value; which of them is met first is chance


@kernel
def spread(values: Floats, n: int, centre: float, desk: Floats) -> float:
    """1.4826 times the median absolute deviation from `centre`: sigma where the scatter is normal."""
    own = desk[4]
    for i in range(n):
        own[i] = abs(values[i] - centre)
    return float(_NORMAL * middle(own, n, desk))


@kernel
def thinned(x: Floats, y: Floats, first: int, last: int, out_x: Floats, out_y: Floats) -> int:
    """At most `MOST` points of first..last (both taken in), evenly by number; how many there are."""
    n = last - first + 1
    if n <= 0:
        return 0
    m = min(n, MOST)
    parts = max(m - 1, 1)
    by, more = (n - 1) // parts, (n - 1) % parts
    at, rest = first, 0
    for i in range(m):  # at = first + i (n - 1) // parts, without a division for each point
        out_x[i], out_y[i] = x[at], y[at]
        at, rest = at + by, rest + more
        if rest >= parts:
            at, rest = at + 1, rest - parts
    return m


@kernel
def robust_line(x: Floats, y: Floats, n: int, desk: Floats) -> tuple[float, float, float, float, float]:
    """slope, y at the mean x, mean x, standard uncertainty of the slope, sigma of the residuals; nan for n < 4 or where
    all x are one.

    Least squares weighted anew up to six times with Tukey's bisquare, scale by the median absolute deviation (textbook;
    from memory). The uncertainty is s/sqrt(sum w (x - mean)^2), widened by sqrt((1 + r)/(1 - r)) where neighbouring
    residuals hang together (r their correlation, 0 to 0.9): ripple is no new information.
    """
    nan = math.nan
    if n < 4:
        return nan, nan, nan, nan, nan
    w, residual = desk[2], desk[3]
    w[:n] = 1.0
    slope = level = centre = sxx = s = 0.0
    for _ in range(6):
        sw = sx = sy = 0.0
        for i in range(n):
            sw += w[i]
            sx += w[i] * x[i]
            sy += w[i] * y[i]
        if sw <= 0:
            return nan, nan, nan, nan, nan
        centre, level = sx / sw, sy / sw
        sxx = sxy = 0.0
        for i in range(n):
            sxx += w[i] * (x[i] - centre) ** 2
            sxy += w[i] * (x[i] - centre) * (y[i] - level)
        if sxx <= 1e-12:
            return nan, nan, nan, nan, nan
        before, slope = slope, sxy / sxx
        if s > 0 and abs(slope - before) < 0.02 * s / math.sqrt(sxx):
            break  # settled within a fiftieth of its uncertainty
        for i in range(n):
            residual[i] = y[i] - level - slope * (x[i] - centre)
        s = spread(residual, n, 0.0, desk)
        if s <= 1e-12 * max(1e-30, abs(level)):
            break
        for i in range(n):
            share = residual[i] / (_TUKEY * s)
            w[i] = (1 - share * share) ** 2 if abs(share) < 1 else 0.0
    top = below = 0.0
    for i in range(n - 1):
        top += residual[i] * residual[i + 1]
    for i in range(n):
        below += residual[i] ** 2
    r = min(max(top / below, 0.0), 0.9) if below > 0 else 0.0
    return slope, level, centre, s / math.sqrt(sxx) * math.sqrt((1 + r) / (1 - r)), s

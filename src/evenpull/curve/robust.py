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
def total(values: Floats, first: int, last: int) -> float:
    """Sum of first..last (both taken in), in four lanes: what the processor may add side by side. The order is written
    down and not left to the compiler, so that it is the same to the bit on every machine."""
    s0 = s1 = s2 = s3 = 0.0
    whole = first + (last - first + 1) // 4 * 4
    for i in range(first, whole, 4):
        s0 += values[i]
        s1 += values[i + 1]
        s2 += values[i + 2]
        s3 += values[i + 3]
    for i in range(whole, last + 1):
        s0 += values[i]
    return (s0 + s1) + (s2 + s3)


@kernel
def moments(
    w: Floats, x: Floats, y: Floats, n: int, x0: float, y0: float
) -> tuple[float, float, float, float, float]:
    """Sums of w, w u, w v, w u u and w u v with u = x - x0, v = y - y0, in four lanes as `total`. A point of the
    data as x0, y0 keeps what is then taken away from the squares small."""
    a0 = a1 = a2 = a3 = b0 = b1 = b2 = b3 = c0 = c1 = c2 = c3 = d0 = d1 = d2 = d3 = e0 = e1 = e2 = e3 = 0.0
    whole = n // 4 * 4
    for i in range(0, whole, 4):
        u, v, p = x[i] - x0, y[i] - y0, w[i]
        a0, b0, c0, d0, e0 = a0 + p, b0 + p * u, c0 + p * v, d0 + p * u * u, e0 + p * u * v
        u, v, p = x[i + 1] - x0, y[i + 1] - y0, w[i + 1]
        a1, b1, c1, d1, e1 = a1 + p, b1 + p * u, c1 + p * v, d1 + p * u * u, e1 + p * u * v
        u, v, p = x[i + 2] - x0, y[i + 2] - y0, w[i + 2]
        a2, b2, c2, d2, e2 = a2 + p, b2 + p * u, c2 + p * v, d2 + p * u * u, e2 + p * u * v
        u, v, p = x[i + 3] - x0, y[i + 3] - y0, w[i + 3]
        a3, b3, c3, d3, e3 = a3 + p, b3 + p * u, c3 + p * v, d3 + p * u * u, e3 + p * u * v
    for i in range(whole, n):
        u, v, p = x[i] - x0, y[i] - y0, w[i]
        a0, b0, c0, d0, e0 = a0 + p, b0 + p * u, c0 + p * v, d0 + p * u * u, e0 + p * u * v
    return ((a0 + a1) + (a2 + a3), (b0 + b1) + (b2 + b3), (c0 + c1) + (c2 + c3), (d0 + d1) + (d2 + d3),
            (e0 + e1) + (e2 + e3))


@kernel
def about_means(x: Floats, y: Floats, first: int, n: int) -> tuple[float, float, float, float, float]:
    """Means of n points from `first`, and the sums of (x - mean)^2, (x - mean)(y - mean) and (y - mean)^2; in four
    lanes as `total`, about a point of the data as `moments`."""
    x0, y0 = x[first + n // 2], y[first + n // 2]
    a0 = a1 = a2 = a3 = b0 = b1 = b2 = b3 = c0 = c1 = c2 = c3 = d0 = d1 = d2 = d3 = e0 = e1 = e2 = e3 = 0.0
    whole = first + n // 4 * 4
    for i in range(first, whole, 4):
        u, v = x[i] - x0, y[i] - y0
        a0, b0, c0, d0, e0 = a0 + u, b0 + v, c0 + u * u, d0 + u * v, e0 + v * v
        u, v = x[i + 1] - x0, y[i + 1] - y0
        a1, b1, c1, d1, e1 = a1 + u, b1 + v, c1 + u * u, d1 + u * v, e1 + v * v
        u, v = x[i + 2] - x0, y[i + 2] - y0
        a2, b2, c2, d2, e2 = a2 + u, b2 + v, c2 + u * u, d2 + u * v, e2 + v * v
        u, v = x[i + 3] - x0, y[i + 3] - y0
        a3, b3, c3, d3, e3 = a3 + u, b3 + v, c3 + u * u, d3 + u * v, e3 + v * v
    for i in range(whole, first + n):
        u, v = x[i] - x0, y[i] - y0
        a0, b0, c0, d0, e0 = a0 + u, b0 + v, c0 + u * u, d0 + u * v, e0 + v * v
    su, sv = (a0 + a1) + (a2 + a3), (b0 + b1) + (b2 + b3)
    return (x0 + su / n, y0 + sv / n, (c0 + c1) + (c2 + c3) - su * su / n, (d0 + d1) + (d2 + d3) - su * sv / n,
            (e0 + e1) + (e2 + e3) - sv * sv / n)


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
    x0, y0 = x[n // 2], y[n // 2]
    for _ in range(6):
        sw, sx, sy, sxx, sxy = moments(w, x, y, n, x0, y0)
        if sw <= 0:
            return nan, nan, nan, nan, nan
        centre, level = x0 + sx / sw, y0 + sy / sw
        sxx, sxy = sxx - sx * sx / sw, sxy - sx * sy / sw
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

"""Small robust statistics inside compiled code: median, spread, a line that single points cannot pull away.

What takes a `desk` takes at most `MOST` values, none of them nan, and changes nothing it is given but the rows of the
desk: room to work in, made once for many curves (`desk()`).
"""

from __future__ import annotations

import math

import numpy as np

from evenpull.curve.columns import Floats
from evenpull.curve.compiled import inlined, kernel
from evenpull.curve.lanes import WHOLE, WIDTH, sums, upper_middle

MOST = WHOLE  # points a robust line takes; a longer stretch is thinned evenly
_NORMAL = 1.4826  # sigma of a normal distribution over its median absolute deviation
_TUKEY = 4.685  # cut of the bisquare weights in sigma: 95 % efficient on normal scatter (Mosteller, Tukey; from memory)


@kernel
def desk() -> Floats:
    """Room for one thread: rows for x, y, weights, residuals, and one for the values of a median."""
    return np.empty((5, MOST))


@kernel
def middle(values: Floats, n: int, desk: Floats) -> float:
    """Median of the first n values; nan for none. The upper of both middle ones where n is even."""
    if n == 0:
        return math.nan
    own = desk[4]
    for i in range(n):
        own[i] = values[i]
    filled_up(own, n)
    return float(upper_middle(own) + 0.0)  # -0.0 and 0.0 are one value; which of them is met first is chance


@kernel
def filled_up(own: Floats, n: int) -> None:
    """Values below and above all others behind the first n, so many that the median of n is the 33rd of all 64."""
    below = n + MOST // 2 - n // 2
    for i in range(n, below):
        own[i] = -math.inf
    for i in range(below, MOST):
        own[i] = math.inf


@kernel
def spread(values: Floats, n: int, centre: float, desk: Floats) -> float:
    """1.4826 times the median absolute deviation from `centre`: sigma where the scatter is normal; nan for none."""
    if n == 0:
        return math.nan
    filled_up(desk[4], n)
    return again_spread(values, n, centre, desk)


@kernel
def again_spread(values: Floats, n: int, centre: float, desk: Floats) -> float:
    """`spread` of as many values as the time before: the desk is filled up already."""
    own = desk[4]
    for i in range(n):
        own[i] = abs(values[i] - centre)
    return float(_NORMAL * upper_middle(own))


@kernel
def thinned(x: Floats, y: Floats, first: int, last: int, out_x: Floats, out_y: Floats) -> int:
    """At most `MOST` points of first..last (both taken in), evenly by number; how many there are."""
    n = last - first + 1
    if n <= 0:
        return 0
    own_x, own_y = x[first:last + 1], y[first:last + 1]
    if n <= MOST:
        for i in range(n):
            out_x[i], out_y[i] = own_x[i], own_y[i]
        return n
    parts = MOST - 1
    by, more = (n - 1) // parts, (n - 1) % parts
    at = rest = 0
    for i in range(MOST):  # at = i (n - 1) // parts, without a division for each point
        out_x[i], out_y[i] = own_x[at], own_y[at]
        rest += more
        further = rest >= parts
        at, rest = at + by + further, rest - parts * further
    return MOST


@inlined
def moments(
    w: Floats | None, x: Floats, y: Floats, first: int, n: int, x0: float, y0: float
) -> tuple[float, float, float, float, float, float]:
    """Sums of w, w u, w v, w u u, w u v and w v v with u = x - x0, v = y - y0 over n points from `first`; w None: each
    1. In four lanes: the order is written down and not left to the compiler, so that it is the same to the bit on every
    machine."""
    fours = n // WIDTH
    sw, su, sv, suu, suv, svv = sums(w, x, y, first, fours, x0, y0)
    for i in range(first + fours * WIDTH, first + n):
        u, v = x[i] - x0, y[i] - y0
        p = 1.0
        if w is not None:
            p = w[i]
        sw, su, sv, suu, suv, svv = sw + p, su + p * u, sv + p * v, suu + p * u * u, suv + p * u * v, svv + p * v * v
    return sw, su, sv, suu, suv, svv


@kernel
def total(values: Floats, first: int, last: int) -> float:
    """Sum of first..last (both taken in)."""
    return moments(None, values, values, first, last - first + 1, 0.0, 0.0)[1]


@kernel
def sum_of_squares(values: Floats, n: int) -> float:
    """Sum of the squares of the first n values."""
    return moments(None, values, values, 0, n, 0.0, 0.0)[3]


@kernel
def about_means(
    w: Floats | None, x: Floats, y: Floats, first: int, n: int
) -> tuple[float, float, float, float, float, float]:
    """Sum of the weights (None: each 1) of n points from `first`, weighted means of x and y, and the weighted sums of
    (x - mean)^2, (x - mean)(y - mean) and (y - mean)^2. Summed about a point of the data, which keeps small what is
    then taken away from the squares. Means are nan where the weights are all 0."""
    x0, y0 = x[first + n // 2], y[first + n // 2]
    sw, su, sv, suu, suv, svv = moments(w, x, y, first, n, x0, y0)
    u, v = su / sw, sv / sw
    return sw, x0 + u, y0 + v, suu - su * u, suv - su * v, svv - sv * v


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
    filled_up(desk[4], n)
    w[:n] = 1.0
    slope = level = centre = sxx = s = 0.0
    for _ in range(6):
        sw, centre, level, sxx, sxy, _ = about_means(w, x, y, 0, n)
        if sw <= 0 or sxx <= 1e-12:
            return nan, nan, nan, nan, nan
        before, slope = slope, sxy / sxx
        if s > 0 and abs(slope - before) < 0.02 * s / math.sqrt(sxx):
            break  # settled within a fiftieth of its uncertainty
        for i in range(n):
            residual[i] = y[i] - level - slope * (x[i] - centre)
        s = again_spread(residual, n, 0.0, desk)
        if s <= 1e-12 * max(1e-30, abs(level)):
            break
        per = 1 / (_TUKEY * s)
        for i in range(n):
            share = min(abs(residual[i] * per), 1.0)
            rest = 1 - share * share
            w[i] = rest * rest
    _, _, _, below, top, _ = moments(None, residual, residual[1:], 0, n - 1, 0.0, 0.0)
    below += residual[n - 1] ** 2
    r = min(max(top / below, 0.0), 0.9) if below > 0 else 0.0
    return slope, level, centre, s / math.sqrt(sxx) * math.sqrt((1 + r) / (1 - r)), s

"""Run-down, seat, elastic line, end slope and wavering of one curve: compiled, over the points that go forward."""

from __future__ import annotations

import math

from evenpull.curve.columns import Floats
from evenpull.curve.compiled import kernel
from evenpull.curve.lanes import WIDTH, trapezia
from evenpull.curve.places import (
    ANGLE_OFF,
    ANGLE_ORIGIN,
    ANGLE_PEAK,
    ANGLE_RISE,
    ANGLE_THRESHOLD,
    BEND,
    BREAKAWAY,
    DROP,
    F_WAVER,
    K_EL,
    K_END,
    K_LOW,
    K_MAX,
    ORIGIN,
    ORIGIN_ZERO,
    RATE_10_100,
    RATE_50_100,
    RUN_NOISE,
    RUN_SLOPE,
    SEAT,
    T_FIRST,
    T_OFF,
    T_PEAK,
    T_RUN,
    T_RUN_2,
    T_RUN_MAX,
    T_WAVER,
    U_K_EL,
    U_ORIGIN,
    U_SEAT,
    U_T_RUN,
    U_YIELD_RATIO,
    W_CLAMP,
    W_RUN,
    W_TOTAL,
    YIELD_RATIO,
)  # fmt: skip
from evenpull.curve.robust import about_means, middle, robust_line, spread, sum_of_squares, thinned, total
from evenpull.curve.scans import extremes, first_at, from_level, highest, last_below

RAD = math.pi / 180
BINS = 32  # equal parts of the rise for the course of its slope
SHALLOW = 0.1  # share of the peak: a chord that the curve leaves by less shows no run-down
UNSURE = 0.25  # relative standard uncertainty of a slope from which no line is projected
SUREST = 0.2  # standard uncertainty of the yield ratio from which it is not stated


@kernel
def knee(a: Floats, T: Floats, peak: int, below: Floats) -> int:
    """Point farthest below the chord from the first point to the peak (idea of chord and area: US 4,894,767); 0 where
    the curve hardly leaves it. `below`: room for as many values as points."""
    slope = (T[peak] - T[0]) / (a[peak] - a[0]) if a[peak] > a[0] else 0.0
    for i in range(peak):
        below[i] = T[0] + slope * (a[i] - a[0]) - T[i]
    best = extremes(below, peak)[1]
    return from_level(below, 0, peak - 1, best) if best > SHALLOW * T[peak] else 0


@kernel
def crossing(a: Floats, T: Floats, peak: int, level: float) -> float:
    """Angle of the last upward crossing of the level before the peak, between points by a straight line; nan for
    none."""
    return between(a, T, peak, level, last_below(T, peak, level))


@kernel
def between(a: Floats, T: Floats, peak: int, level: float, i: int) -> float:
    """Angle at which the straight line from point i, the last at or below the level, to the next one crosses it."""
    if i < 0 or i >= peak:
        return math.nan
    return float(a[i] + (level - T[i]) / (T[i + 1] - T[i]) * (a[i + 1] - a[i]))


@kernel
def run_down(a: Floats, T: Floats, peak: int, desk: Floats, room: Floats, row: Floats) -> int:
    """Last point of the run-down, -1 where the record has none. Level, noise and slope of the run-down are written.

    The knee below the chord is a first guess; then twice: level and sigma of the last 30 % of the turn before it, and
    the last point not above level + 3 sigma (at least 3 % of the rise) is the new end.
    """
    x, y = desk[0], desk[1]
    end = knee(a, T, peak, room)
    level = sigma = math.nan
    points = 0
    for _ in range(3):
        if end < 5 or a[end] - a[0] < 5.0 or a[end] - a[0] < 0.02 * (a[peak] - a[0]):
            return -1
        first = min(first_at(a, a[0] + 0.7 * (a[end] - a[0]), end, False), end - 4)
        points = thinned(a, T, first, end, x, y)
        level = middle(y, points, desk)
        sigma = spread(y, points, level, desk)
        if level > 0.9 * T[peak]:
            return -1
        before, end = end, last_below(T, peak, level + max(3 * sigma, 0.03 * (T[peak] - level)))
        if end == before:
            break
    if end < 5:
        return -1
    row[T_RUN], row[RUN_NOISE], row[U_T_RUN] = level, sigma, 1.25 * sigma / math.sqrt(points)
    first = first_at(a, a[0] + 0.1 * (a[end] - a[0]), end, False)
    row[T_RUN_MAX] = extremes(T[first:end + 1], end + 1 - first)[1]
    row[RUN_SLOPE] = robust_line(x, y, thinned(a, T, first, end, x, y), desk)[0]
    quarters(a, T, end, row)
    return end


@kernel
def quarters(a: Floats, T: Floats, end: int, row: Floats) -> None:
    """Mean torque over the second, third and last quarter of the run-down (the first holds the start of the tool)."""
    width = (a[end] - a[0]) / 4
    first = first_at(a, a[0] + width, end, False)
    for part in range(1, 4):
        until = end + 1 if part == 3 else first_at(a, a[0] + (part + 1) * width, end, True)
        row[T_RUN_2 + part - 1] = total(T, first, until - 1) / (until - first) if until > first else math.nan
        first = until


@kernel
def window(a: Floats, T: Floats, peak: int, low: float, high: float, x: Floats, y: Floats) -> int:
    """Points between the last crossings of two levels before the peak into x, y; how many."""
    first = last_below(T, peak, low) + 1
    return thinned(a, T, first, from_level(T, first, peak, high), x, y)


@kernel
def elastic(a: Floats, T: Floats, peak: int, desk: Floats, row: Floats) -> None:
    """Elastic slope, elastic origin, seat: robust lines through two windows of the rise, projected."""
    x, y = desk[0], desk[1]
    base = row[T_RUN] if row[T_RUN] == row[T_RUN] else 0.0
    top = T[peak]
    u_base = row[U_T_RUN] if row[U_T_RUN] == row[U_T_RUN] else 0.0
    n = window(a, T, peak, base + 0.4 * (top - base), base + 0.8 * (top - base), x, y)
    k, level, centre, u_k, s = robust_line(x, y, n, desk)
    if k > 0 and u_k < UNSURE * k:
        row[K_EL], row[U_K_EL] = k, u_k
        row[ORIGIN_ZERO] = centre - level / k
        row[ORIGIN] = centre - (level - base) / k
        row[U_ORIGIN] = math.sqrt((s * s / n + u_base**2) / k**2 + ((level - base) * u_k / k**2) ** 2)
        row[ANGLE_ORIGIN] = row[ANGLE_OFF] - row[ORIGIN]
        line = (row[T_OFF] - base) / k
        if line > 0:
            row[BEND] = row[ANGLE_ORIGIN] / line - 1
    n = window(a, T, peak, base + 0.15 * (top - base), base + 0.4 * (top - base), x, y)
    k, level, centre, u_k, s = robust_line(x, y, n, desk)
    if k > 0 and u_k < UNSURE * k:
        row[K_LOW] = k
        if row[T_RUN] == row[T_RUN]:
            row[SEAT] = centre - (level - base) / k
            row[U_SEAT] = math.sqrt((s * s / n + u_base**2) / k**2 + ((level - base) * u_k / k**2) ** 2)


@kernel
def slopes(a: Floats, T: Floats, first: int, last: int, x: Floats, y: Floats, row: Floats) -> None:
    """Largest slope of the rise and that before shut-off: regression over a quarter of its (at most 32) equal parts,
    the last over an eighth (at least 4 points each)."""
    m = equal_parts(a[first:last + 1], T[first:last + 1], x, y)
    size = max(4, m // 4)
    if m < 2 * size:
        return
    best, best_u, scatter = steepest(x, y, m, size)
    short = max(4, m // 8)
    end, end_u = plain_slope(x, y, m - short, short)
    # few points may lie on a line by chance: no slope is surer than the scatter of the whole rise makes it
    best_u = max(best_u, scatter)
    end_u = max(end_u, scatter * math.sqrt(size * (size**2 - 1) / (short * (short**2 - 1))))
    if best <= 0:
        return
    row[K_MAX], row[K_END] = best, end
    ratio = end / best
    u_ratio = math.sqrt(end_u**2 + (ratio * best_u) ** 2) / best
    row[U_YIELD_RATIO] = u_ratio
    if u_ratio <= SUREST:
        row[YIELD_RATIO] = ratio


@kernel
def equal_parts(a: Floats, T: Floats, x: Floats, y: Floats) -> int:
    """Means of angle and torque over `BINS` equal parts of the turn, as many as there are points if those are fewer;
    parts without a point are left out. How many; 0 for fewer than 8 points or no turn."""
    n = len(a)
    bins = min(BINS, n)
    if bins < 8 or a[n - 1] <= a[0]:
        return 0
    width = (a[n - 1] - a[0]) / bins
    m = i = 0
    for part in range(1, bins + 1):
        until = a[0] + part * width if part < bins else math.inf
        sx = sy = 0.0
        begin = i
        while i < n:
            angle = a[i]
            if angle > until:
                break
            sx += angle
            sy += T[i]
            i += 1
        if i > begin:
            x[m], y[m] = sx / (i - begin), sy / (i - begin)
            m += 1
    return m


@kernel
def steepest(x: Floats, y: Floats, m: int, size: int) -> tuple[float, float, float]:
    """Largest slope of a regression over `size` of m neighbouring points, its standard uncertainty from the residuals,
    and the root mean square of that of all such regressions.

    From one regression to the next a point comes and one goes. What is left of a large value that went is rounding, so
    the sums tell only where it is steepest and how much all scatter; the slope itself is worked out anew.
    """
    x0, y0 = x[m // 2], y[m // 2]
    sx = sy = sxx = sxy = syy = 0.0
    for i in range(size):
        u, v = x[i] - x0, y[i] - y0
        sx, sy, sxx, sxy, syy = sx + u, sy + v, sxx + u * u, sxy + u * v, syy + v * v
    per, many = 1 / size, m - size + 1
    best, squares, begin = -math.inf, 0.0, 0
    for i in range(many):
        xx, xy, yy = sxx - sx * sx * per, sxy - sx * sy * per, syy - sy * sy * per
        k = xy / xx
        squares += max(yy - k * xy, 0.0) / ((size - 2) * xx)
        if k > best:
            best, begin = k, i
        if i + 1 < many:
            u, v, p, q = x[i] - x0, y[i] - y0, x[i + size] - x0, y[i + size] - y0
            sx, sy = sx + (p - u), sy + (q - v)
            sxx, sxy, syy = sxx + (p * p - u * u), sxy + (p * q - u * v), syy + (q * q - v * v)
    k, u_k = plain_slope(x, y, begin, size)
    return k, u_k, math.sqrt(squares / many)


@kernel
def plain_slope(x: Floats, y: Floats, begin: int, size: int) -> tuple[float, float]:
    """Slope of least squares over `size` points from `begin`, and its standard uncertainty from the residuals."""
    _, _, _, sxx, sxy, syy = about_means(None, x, y, begin, size)
    k = sxy / sxx
    return k, math.sqrt(max(syy - k * sxy, 0.0) / ((size - 2) * sxx))


@kernel
def waver(t: Floats, a: Floats, T: Floats, peak: int, room: Floats, row: Floats) -> None:
    """Amplitude about the elastic line, and its frequency where it is more than noise between neighbouring points.

    Noise: rms of second differences/sqrt(6); the median of three halves white noise about, which makes the test
    stricter. A slow bend of the rise is one or two crossings: fewer than 4 crossings give no frequency.
    """
    if not row[K_EL] > 0:
        return
    base = row[T_RUN] if row[T_RUN] == row[T_RUN] else 0.0
    first = last_below(T, peak, base + 0.3 * (T[peak] - base)) + 1
    last = from_level(T, first, peak, base + 0.9 * (T[peak] - base))
    n = last - first + 1
    if n < 12:
        return
    x, y = a[first:last + 1], T[first:last + 1]
    _, mx, my, sxx, sxy, _ = about_means(None, x, y, 0, n)
    k = sxy / sxx
    for i in range(n):
        room[i] = y[i] - my - k * (x[i] - mx)
    squares, crossings = sum_of_squares(room, n), sign_changes(room, n)
    for i in range(n - 2):
        room[i] = y[i + 2] - 2 * y[i + 1] + y[i]
    rms, noise = math.sqrt(squares / n), math.sqrt(sum_of_squares(room, n - 2) / (n - 2) / 6)
    row[T_WAVER] = math.sqrt(2) * rms
    seconds = t[last] - t[first]
    if rms > 2 * noise and crossings >= 4 and seconds > 0:
        row[F_WAVER] = crossings / 2 / seconds


@kernel
def sign_changes(values: Floats, n: int) -> int:
    """How often the sign changes from one value that is not 0 to the next such value."""
    many = zeros = 0
    for i in range(1, n):
        many += values[i - 1] * values[i] < 0
        zeros += values[i] == 0
    if zeros == 0:
        return many
    many, before = 0, 0.0
    for i in range(n):
        many += before * values[i] < 0
        before = values[i] if values[i] != 0 else before
    return many


@kernel
def fall(T: Floats, first: int, peak: int, row: Floats) -> None:
    """Largest fall of the torque between the seat and the peak, over the peak."""
    top = T[first]
    deepest = 0.0
    for i in range(first, peak + 1):
        top = max(top, T[i])
        deepest = max(deepest, top - T[i])
    row[DROP] = deepest / T[peak]


@kernel
def start(a: Floats, T: Floats, off: int, peak: float, row: Floats) -> None:
    """What the first degrees say: torque within 5 deg over the peak; first top over the dip after it within 10 deg."""
    top = dip = best = 0.0
    over = False
    for i in range(off + 1):
        turned = a[i] - a[0]
        if turned <= 5.0:
            best = max(best, T[i])
        if turned > 10.0:
            break
        if over:
            continue
        if T[i] > top:
            over = dip > 0 and T[i] > 1.05 * top
            top = top if dip > 0 else T[i]
        elif T[i] < 0.95 * top:
            dip = T[i] if dip == 0 else min(dip, T[i])
    row[T_FIRST] = best / peak if peak > 0 else math.nan
    if top > 0.3 * peak and dip > 0.3 * top:
        row[BREAKAWAY] = top / dip


@kernel
def turns(a: Floats, T: Floats, peak: int, target: float, threshold: float, row: Floats) -> None:
    """Turn from the threshold to shut-off, of the rise, and joint rates by both windows."""
    upper, lower = 0.7 * row[T_PEAK], 0.2 * row[T_PEAK]
    high = last_below(T, peak, upper)
    low = last_below(T, high, lower)  # all points after `high` lie above the higher level: none is looked at twice
    row[ANGLE_RISE] = between(a, T, peak, upper, high) - between(a, T, peak, lower, low)
    if threshold > 0:
        begin = last_below(T, low if threshold <= lower else peak, threshold)
        row[ANGLE_THRESHOLD] = row[ANGLE_OFF] - between(a, T, peak, threshold, begin)
    if target > 0 and row[T_PEAK] >= target:
        reached = crossing(a, T, peak, target) if T[peak] > target else row[ANGLE_PEAK]
        half = last_below(T, peak, 0.5 * target)
        tenth = last_below(T, half, 0.1 * target)
        row[RATE_10_100] = reached - between(a, T, peak, 0.1 * target, tenth)
        row[RATE_50_100] = reached - between(a, T, peak, 0.5 * target, half)


@kernel
def work(a: Floats, T: Floats, end: int, off: int, row: Floats) -> None:
    """Work in J: trapezia of torque over angle in rad, up to the seat (end of the run-down where the seat cannot
    be found), after it, and in all."""
    seat = row[SEAT] if row[SEAT] == row[SEAT] else a[max(end, 0)]
    split = 0  # trapezia go with the side their middle lies on
    if off > 0:
        split = min(max(first_at(a, seat, off, False) - 1, 0), off)
        while split < off and (a[split] + a[split + 1]) / 2 <= seat:
            split += 1
    before, after = area(a, T, 0, split), area(a, T, split, off)
    row[W_TOTAL] = before + after
    if end >= 0:
        row[W_RUN], row[W_CLAMP] = before, after


@kernel
def area(a: Floats, T: Floats, first: int, last: int) -> float:
    """Trapezia of the torque over the angle from point `first` to `last`, J; in four lanes."""
    fours = (last - first) // WIDTH
    double: float = trapezia(a, T, first, fours)
    for i in range(first + fours * WIDTH, last):
        double += (T[i + 1] + T[i]) * (a[i + 1] - a[i])
    return double / 2 * RAD


@kernel
def judge_rise(
    t: Floats, a: Floats, T: Floats, m: int, target: float, threshold: float, desk: Floats, room: Floats, row: Floats,
) -> None:
    """All features of the points that go forward; the last one is shut-off. `room`: as long as the curve."""
    if m < 2 or not row[T_PEAK] > 0:
        return
    peak = highest(T, 0, m - 1)
    start(a, T, m - 1, max(T[peak], 0.0), row)
    if m < 6:
        return
    end = run_down(a, T, peak, desk, room, row) if peak >= 6 else -1
    first = max(end, 0)
    elastic(a, T, peak, desk, row)
    slopes(a, T, first, m - 1, desk[0], desk[1], row)
    waver(t, a, T, peak, room, row)
    fall(T, first, peak, row)
    turns(a, T, peak, target, threshold, row)
    work(a, T, end, m - 1, row)

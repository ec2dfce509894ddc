"""From the points of one curve to what is judged: what is odd is counted, then only points that go forward are left.

Compiled; `row` is the row of the feature table that is written.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import Floats, Floats32
from evenpull.curve.compiled import kernel
from evenpull.curve.places import (
    ANGLE_OFF,
    ANGLE_PEAK,
    CLIP,
    DURATION,
    IN_ORDER,
    LAST_STEP,
    N_BAD,
    N_GAPS,
    N_LATE,
    N_PAUSES,
    N_POINTS,
    N_REPEAT,
    N_RESETS,
    N_SPIKES,
    N_STEPS,
    OFF_RATIO,
    STUCK,
    T_LOWEST,
    T_OFF,
    T_PEAK,
    T_ZERO,
)  # fmt: skip
from evenpull.curve.scans import changes, extremes, first_not_up, from_level, highest

LEAST = 8  # points of a curve from which anything is said of it
RESET = 30.0  # deg: no tool turns back that far between two points
END = 3.0  # deg before the highest angle in which the torque at shut-off is looked for
SPIKE = 0.15  # share of the peak
STOP = 0.3  # share of the peak from which a torque that halves is a stop
GAP = 10.0  # times the mean time step


@kernel
def prepare(
    time: Floats32, angle: Floats32, torque: Floats32, step: NDArray[np.int16], t: Floats, a: Floats, T: Floats,
    row: Floats,
) -> int:
    """Points that are finite and no repeats, as float64 into t (s), a (deg, from the first point, counted on over
    resets) and T (N.m); how many. Steps, bad points, resets and points late in time are counted."""
    n = len(torque)
    new = changes(step)
    row[N_POINTS], row[N_BAD], row[N_REPEAT], row[N_RESETS], row[N_LATE] = n, 0, 0, 0, 0
    row[LAST_STEP] = step[n - 1] if n else math.nan
    row[N_STEPS] = new + 1 if n else 0
    row[IN_ORDER] = 1.0 if n > 0 and step[0] == 1 and (new == 0 or by_one(step) == new) else 0.0
    usable, later = copied(time, angle, torque, t, a, T) if n else (False, 0)
    if not usable:
        return cleaned(time, angle, torque, t, a, T, row)
    left = without_repeats(t, a, T, n) if later < n - 1 else n
    row[N_REPEAT] = n - left
    return left


@kernel
def by_one(step: NDArray[np.int16]) -> int:
    """How many steps follow the one before by number."""
    many = 0
    for i in range(1, len(step)):
        many += step[i] == step[i - 1] + 1
    return many


@kernel
def copied(time: Floats32, angle: Floats32, torque: Floats32, t: Floats, a: Floats, T: Floats) -> tuple[bool, int]:
    """All points (at least one), and whether they may be used as they are: finite, none earlier than the one before, no
    fall of the angle by more than `RESET`. So for nearly every curve. A time or an angle that is not finite breaks a
    comparison, or is the last. And how many are later than the one before. Without branches, so that the processor
    takes several points at once."""
    n = len(torque)
    start = np.float64(angle[0])  # `float` of a float32 stays one in compiled code
    for i in range(n):
        t[i], a[i], T[i] = time[i], angle[i] - start, torque[i]
    good = later = 0
    for i in range(n):
        good += T[i] - T[i] == 0
    for i in range(1, n):
        good += (t[i] >= t[i - 1]) & (a[i] >= a[i - 1] - RESET)
        later += t[i] > t[i - 1]
    ends = math.isfinite(t[0]) and math.isfinite(t[n - 1]) and math.isfinite(a[n - 1])
    return ends and good == n + n - 1, later


@kernel
def without_repeats(t: Floats, a: Floats, T: Floats, n: int) -> int:
    """Moves the points that do not repeat the one before to the front; how many."""
    m = 1
    before_t, before_a, before_T = t[0], a[0], T[0]
    for i in range(1, n):
        one, two, three = t[i], a[i], T[i]
        at = max(m, 0)  # never below; said so that the compiler need not look for places counted from the end
        t[at], a[at], T[at] = one, two, three
        m += (one != before_t) | (two != before_a) | (three != before_T)
        before_t, before_a, before_T = one, two, three
    return m


@kernel
def cleaned(
    time: Floats32, angle: Floats32, torque: Floats32, t: Floats, a: Floats, T: Floats, row: Floats,
) -> int:
    """Points one by one: what is not finite or repeats the point before is left out, resets are counted on."""
    m = bad = repeat = resets = late = 0
    shift = start = 0.0
    for i in range(len(torque)):
        ti, ai, Ti = np.float64(time[i]), np.float64(angle[i]), np.float64(torque[i])
        if not (math.isfinite(ti) and math.isfinite(ai) and math.isfinite(Ti)):
            bad += 1
            continue
        if m == 0:
            start = ai
        ai += shift - start
        if m > 0:
            if ti == t[m - 1] and ai == a[m - 1] and Ti == T[m - 1]:
                repeat += 1
                continue
            if ti < t[m - 1]:
                late += 1
            if ai < a[m - 1] - RESET:
                resets += 1
                shift += a[m - 1] - ai
                ai = a[m - 1]
        t[m], a[m], T[m] = ti, ai, Ti
        m += 1
    row[N_BAD], row[N_REPEAT], row[N_RESETS], row[N_LATE] = bad, repeat, resets, late
    return m


@kernel
def smooth(T: Floats, m: int, M: Floats) -> int:
    """Median of three neighbouring torques into M (ends: as they are); place of its highest value."""
    M[0], M[m - 1] = T[0], T[m - 1]
    for i in range(1, m - 1):
        x, y, z = T[i - 1], T[i], T[i + 1]
        M[i] = max(min(x, y), min(max(x, y), z))
    peak = highest(M, 0, m - 2)
    M[0] = min(T[0], M[1]) if T[0] > M[peak] else T[0]
    M[m - 1] = min(T[m - 1], M[m - 2]) if T[m - 1] > M[peak] else T[m - 1]
    return m - 1 if M[m - 1] > M[peak] else peak


@kernel
def oddities(t: Floats, a: Floats, T: Floats, M: Floats, m: int, peak: int, row: Floats) -> None:
    """Gaps before the peak, spikes, turns on exactly the highest or exactly one torque, torque of the last point."""
    longest, far = GAP * ((t[m - 1] - t[0]) / (m - 1)), SPIKE * M[peak]
    gaps = spikes = standing = 0
    for i in range(1, peak + 1):
        gaps += t[i] - t[i - 1] > longest
    for i in range(1, m):
        spikes += abs(T[i] - M[i]) > far
    for i in range(1, m):
        standing += T[i] == T[i - 1]
    row[N_GAPS], row[N_SPIKES], row[STUCK], row[CLIP] = gaps, spikes, 0.0, 0.0
    if standing >= 4:  # else no five points in a row can lie on one torque
        row[STUCK], row[CLIP] = standstill(a, T, m, max(M[0], extremes(T, m)[1]))
    row[T_LOWEST], row[DURATION] = extremes(M, m)[0], t[m - 1] - t[0]
    after = m - 1 - peak
    # over five points the fall itself looks flat where a tool samples fast: ten, unless no torque was ever much lower
    back = m - 6 if row[T_LOWEST] > 0.5 * M[m - 1] else max(m - 11, peak + 3)
    settled = after >= 8 and abs(M[back] - M[m - 1]) < 0.02 * M[peak] and M[m - 1] < 0.5 * M[peak]
    row[T_ZERO] = M[m - 1] if settled else math.nan


@kernel
def standstill(a: Floats, T: Floats, m: int, top: float) -> tuple[float, float]:
    """Longest turn on exactly one torque, and on exactly the torque `top`; at least 5 points."""
    stuck = clip = 0.0
    begin = 0
    for i in range(1, m):
        if T[i] != T[begin]:
            begin = i
        elif i - begin >= 4:
            turned = a[i] - a[begin]
            stuck = max(stuck, turned)
            if T[i] == top:
                clip = max(clip, turned)
    return stuck, clip


@kernel
def shut_off(a: Floats, T: Floats, M: Floats, m: int, peak: int, row: Floats) -> int:
    """Place of shut-off: highest torque within `END` deg before the highest angle, spring-back left out.

    After it the torque falls without more turn. That the last sample is no result is left to nobody to remember.
    """
    farthest = extremes(a, m)[1]
    off = peak
    if farthest - a[peak] > END:
        off = from_level(a, 0, m - 1, farthest)
        for i in range(off, -1, -1):
            if a[i] < farthest - END:
                break
            if M[i] > M[off]:
                off = i
    at_peak, best = single(T, M, m, peak)
    at_off, last = single(T, M, m, off)
    row[T_PEAK], row[ANGLE_PEAK], row[T_OFF], row[ANGLE_OFF] = best, a[at_peak], last, a[at_off]
    row[OFF_RATIO] = last / best if best > 0 else math.nan
    M[at_peak], M[at_off] = best, last  # what goes on from here knows both tops
    return at_off


@kernel
def single(T: Floats, M: Floats, m: int, at: int) -> tuple[int, float]:
    """Place and torque of a top: the highest point within one of the place, which the median of three always loses,
    unless it stands out like a spike."""
    place, best = at, float(M[at])
    for i in range(max(at - 1, 0), min(at + 2, m)):
        if best < T[i] <= M[at] + SPIKE * abs(M[at]):
            place, best = i, float(T[i])
    return place, best


@kernel
def forward(t: Floats, a: Floats, M: Floats, off: int, row: Floats) -> int:
    """Moves the points up to shut-off that go forward (angle above all before; of several at one angle the last, but
    for a stop under a falling torque, which does not count) to the front of t, a and M, which are one longer than the
    curve; how many. Stops under half the torque are counted as pauses. Both are looked for only once the torque has
    come above `STOP` of the peak: below it noise about zero halves at will."""
    high = STOP * row[T_PEAK]
    row[N_PAUSES] = 0
    first = first_not_up(a, off)  # up to here all stand where they belong
    m, i, best = unbroken(t, a, M, first, off, high)
    return stopping(t, a, M, m, i, off, high, best, row) if i <= off else m


@kernel
def unbroken(t: Floats, a: Floats, M: Floats, first: int, off: int, high: float) -> tuple[int, int, float]:
    """`forward` from the point `first`, all before which go forward, to the first at which the torque, once above
    `high`, has halved while the angle stands or goes back, which hardly any curve has. How many points go forward, that
    point (`off` + 1 for none), and the highest torque of a point at which the angle was new.

    Without branches: whether an angle stands is what no processor can guess. A point that goes back is written to a
    place behind all others.
    """
    m, aside = first, len(a) - 1
    best, far = a[first - 1], extremes(M, first)[1]
    top = far
    for i in range(first, off + 1):
        value, angle = M[i], a[i]
        up, back = angle > best, angle < best
        if (not up) & (far > high) & (value <= 0.5 * far):
            return m, i, top
        best, far, top = max(best, angle), max(far, value), max(top, value if up else top)
        m += up
        at = max(aside if back else m - 1, 0)  # as in `without_repeats`
        t[at], a[at], M[at] = t[i], angle, value
    return m, off + 1, top


@kernel
def stopping(
    t: Floats, a: Floats, M: Floats, m: int, first: int, off: int, high: float, best: float, row: Floats
) -> int:
    """`forward` from the point `first` on, m points before which go forward and stand in front, with `best` the highest
    torque of a point at which the angle was new: point by point, whatever the curve."""
    pauses = 0
    stopped = False
    for i in range(first, off + 1):
        if m == 0 or a[i] > a[m - 1]:
            if stopped and m > 0 and M[i] > 0.7 * best:
                pauses += 1
                stopped = False
            t[m], a[m], M[m] = t[i], a[i], M[i]
            best = max(best, M[m])
            m += 1
        else:
            stopped = stopped or (M[i] < 0.5 * best and best > high)
            if a[i] == a[m - 1] and (best <= high or M[i] > 0.5 * M[m - 1]):
                t[m - 1], M[m - 1] = t[i], M[i]
    row[N_PAUSES] = pauses
    return m

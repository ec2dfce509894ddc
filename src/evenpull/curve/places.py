"""Places of the features in a row, as compiled code takes them: the order of `names.FEATURES`."""

from __future__ import annotations

from evenpull.curve.names import NAMES

(
    N_POINTS, N_BAD, N_REPEAT, N_GAPS, N_RESETS, N_SPIKES, N_LATE, N_PAUSES, CLIP, STUCK, T_ZERO, T_LOWEST, DURATION,
    T_PEAK, ANGLE_PEAK, T_OFF, ANGLE_OFF, OFF_RATIO,
    T_RUN, U_T_RUN, RUN_NOISE, RUN_SLOPE, T_RUN_MAX, W_RUN, T_RUN_2, T_RUN_3, T_RUN_4,
    SEAT, U_SEAT, K_LOW, K_EL, U_K_EL, ORIGIN_ZERO, ORIGIN, U_ORIGIN, ANGLE_THRESHOLD, ANGLE_ORIGIN, ANGLE_RISE,
    K_MAX, K_END, YIELD_RATIO, U_YIELD_RATIO, BEND, T_WAVER, F_WAVER, DROP, BREAKAWAY, T_FIRST, RATE_10_100,
    RATE_50_100, W_TOTAL, W_CLAMP, LAST_STEP, N_STEPS, IN_ORDER,
) = range(len(NAMES))  # fmt: skip

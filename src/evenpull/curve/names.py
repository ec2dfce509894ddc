"""The features of a curve: place in the table, unit, definition, source, and when a feature cannot be found.

One place for all that is said of a feature: page, report and docs/curves.md are written from here. A feature that
cannot be found is nan, never 0.
"""

from __future__ import annotations

from dataclasses import dataclass

OWN = "our definition"
COMMON = "common practice, no source"
GRADIENT = "idea: US 4,894,767 (abstract read)"


@dataclass(frozen=True, slots=True)
class Feature:
    """`missing` says when the feature cannot be found; empty: always there once a curve has enough points."""

    name: str
    unit: str
    definition: str
    source: str = OWN
    missing: str = ""


_RISE = "no rise with enough points (fewer than 4 in the window), or its slope is less sure than 25 %"
_RUN = "no run-down in the record: the torque rises from the start"
_TARGET = "no target given"

FEATURES: tuple[Feature, ...] = (
    Feature("n_points", "1", "points of the curve as recorded"),
    Feature("n_bad", "1", "points with a value that is not finite; they take part in nothing"),
    Feature("n_repeat", "1", "points that repeat time, angle and torque of the one before"),
    Feature("n_gaps", "1", "gaps before the peak: a time step more than 10 times the mean one"),
    Feature("n_resets", "1", "falls of the angle by more than 30 deg from one point to the next: the count began anew; "
            "the angle is counted on"),
    Feature("n_spikes", "1", "single points that leave the median of three by more than 15 % of the peak"),
    Feature("n_late", "1", "points earlier in time than the one before"),
    Feature("n_pauses", "1", "stops of the turning with the torque below half, from which it was driven on"),
    Feature("clip", "deg", "longest turn on exactly the highest torque of the curve, at least 5 points"),
    Feature("stuck", "deg", "longest turn on exactly one torque, at least 5 points"),
    Feature("T_zero", "N.m", "torque of the last point, where it changes by less than 2 % of the peak over the last "
            "10 points (5 where no torque of the curve is below half of it; all but 3 of 8 to 12 after the peak)",
            missing="the record ends before the torque has settled"),
    Feature("T_lowest", "N.m", "lowest median of three torques"),
    Feature("duration", "s", "time from the first to the last point"),
    Feature("T_peak", "N.m", "highest torque; a single point that stands 15 % above the median of three is none"),
    Feature("angle_peak", "deg", "angle at T_peak from the first point"),
    Feature("T_off", "N.m", "torque at shut-off: highest torque, found as T_peak is, within 3 deg before the "
            "highest angle"),
    Feature("angle_off", "deg", "angle at T_off from the first point"),
    Feature("off_ratio", "1", "T_off/T_peak"),
    Feature("T_run", "N.m", "run-down level: median torque of the last 30 % of the turn before the seat", COMMON, _RUN),
    Feature("u_T_run", "N.m", "standard uncertainty of T_run: 1.25 sigma/sqrt(points)", "textbook, from memory", _RUN),
    Feature("run_noise", "N.m", "sigma (median absolute deviation) in that part", missing=_RUN),
    Feature("run_slope", "N.m/deg", "robust slope of the run-down after its first tenth", missing=_RUN),
    Feature("T_run_max", "N.m", "highest median of three of the run-down after its first tenth", missing=_RUN),
    Feature("W_run", "J", "work of the run-down, integral of the torque over the angle (rad)", missing=_RUN),
    Feature("T_run_2", "N.m", "mean torque of the second quarter of the run-down", missing=_RUN),
    Feature("T_run_3", "N.m", "mean torque of the third quarter of the run-down", missing=_RUN),
    Feature("T_run_4", "N.m", "mean torque of the last quarter of the run-down", missing=_RUN),
    Feature("seat", "deg", "start of clamping: where the robust line through 15 to 40 % of the rise meets T_run; angle "
            "from the first point", "idea: US 9,482,588 (abstract read); this detector is ours", f"{_RUN}; {_RISE}"),
    Feature("u_seat", "deg", "standard uncertainty of seat from both lines", "GUM 5.1.2 (from memory)",
            f"{_RUN}; {_RISE}"),
    Feature("k_low", "N.m/deg", "robust slope through 15 to 40 % of the rise", missing=_RISE),
    Feature("k_el", "N.m/deg", "elastic slope: robust slope through 40 to 80 % of the rise", COMMON, _RISE),
    Feature("u_k_el", "N.m/deg", "standard uncertainty of k_el", "GUM 5.1.2 (from memory)", _RISE),
    Feature("origin_zero", "deg", "elastic line projected to zero torque; angle from the first point",
            "title read: Shoberg, Fundamentals (contents)", _RISE),
    Feature("origin", "deg", "elastic origin: elastic line projected to T_run (to zero torque without run-down)",
            "title read: Shoberg, Fundamentals (contents)", _RISE),
    Feature("u_origin", "deg", "standard uncertainty of origin", "GUM 5.1.2 (from memory)", _RISE),
    Feature("angle_threshold", "deg", "turn from the last crossing of the threshold torque to shut-off", COMMON,
            "threshold not given or never crossed in the record"),
    Feature("angle_origin", "deg", "turn from the elastic origin to shut-off", "Shoberg (contents)", _RISE),
    Feature("angle_rise", "deg", "turn from 20 to 70 % of T_peak", missing="the record begins above 20 %"),
    Feature("k_max", "N.m/deg", "largest slope of a regression over a quarter of the rise (at least 4 points)",
            GRADIENT, _RISE),
    Feature("k_end", "N.m/deg", "slope of regression over the last eighth of the rise before shut-off (at least 4 "
            "points)", GRADIENT, _RISE),
    Feature("yield_ratio", "1", "k_end/k_max", f"{GRADIENT}; half is the usual mark (from memory)",
            f"{_RISE}, or its standard uncertainty exceeds 0.2"),
    Feature("u_yield_ratio", "1", "standard uncertainty of yield_ratio", "GUM 5.1.2 (from memory)", _RISE),
    Feature("bend", "1", "turn at shut-off beyond the elastic line, over the turn of that line from the elastic origin "
            "to the same torque", "idea of the angle offset: US 4,894,767 (abstract read)", _RISE),
    Feature("T_waver", "N.m", "amplitude about the elastic line between 30 and 90 % of the rise: sqrt(2) rms; "
            "stick-slip where a frequency is found too", missing="fewer than 12 points there"),
    Feature("f_waver", "Hz", "its frequency: half the crossings of the line over the time", missing="fewer than 12 "
            "points there, or the wavering does not exceed 2 times the noise between neighbouring points"),
    Feature("drop", "1", "largest fall of the torque before the peak and after the seat, over T_peak", missing=_RISE),
    Feature("breakaway", "1", "first top of the torque over the lowest torque after it, within 10 deg from the start",
            "static friction 1.2 to 1.3: open data of anchor rods, see docs/curves.md", "no dip there"),
    Feature("T_first", "1", "highest torque within the first 5 deg of turn, over T_peak"),
    Feature("rate_10_100", "deg", "joint rate: turn from the last crossing of 10 % of the target to the target",
            "window quoted for ISO 5393:2017 (second hand)", f"{_TARGET}, not reached, or the record begins above"),
    Feature("rate_50_100", "deg", "joint rate: turn from the last crossing of 50 % of the target to the target",
            "window quoted for VDI/VDE 2647 (second hand)", f"{_TARGET}, not reached, or the record begins above"),
    Feature("W_total", "J", "work done up to shut-off"),
    Feature("W_clamp", "J", "work from the seat to shut-off", missing=_RUN),
    Feature("last_step", "1", "number of the last step"),
    Feature("n_steps", "1", "stretches of one step"),
    Feature("in_order", "1", "1 where steps begin with 1 and go up by one, else 0"),
)  # fmt: skip

NAMES = tuple(feature.name for feature in FEATURES)
AT = {name: place for place, name in enumerate(NAMES)}
